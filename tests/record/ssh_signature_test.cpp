#include "record/ssh_signature.h"

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include <sys/stat.h>

#include "catch_compat.h"
#include "record/program.h"
#include "temporary_folder.h"

using Catch::Matchers::ContainsSubstring;
using daywright::record::Claim;
using daywright::record::fault_of_signature;
using daywright::record::find_program;
using daywright::record::read_fingerprint;
using daywright::record::read_ssh_signature;
using daywright::record::read_trust_list;
using daywright::record::run_program;
using daywright::record::sign_with_ssh;
using daywright::record::SshSignature;
using daywright::record::TrustList;
using daywright::test::bytes_of;
using daywright::test::error_of;
using daywright::test::put;
using daywright::test::TemporaryFolder;
namespace fs = std::filesystem;

namespace {

const auto when = std::chrono::sys_days{std::chrono::year{2031} / 5 / 13} + std::chrono::hours{22};
const std::string record = R"({"call":"GO"})";

/// A key of ed25519 without a passphrase, made by the stock tool.
fs::path make_key(const fs::path& folder, const std::string& name) {
  const fs::path key = folder / name;
  const auto end = run_program({.program = find_program("ssh-keygen"),
                                .arguments = {"-q", "-t", "ed25519", "-N", "", "-C", "", "-f", key.string()}});
  REQUIRE(end.exit_code == 0);
  return key;
}

std::string public_part(const fs::path& key) {
  std::string text = bytes_of(key.string() + ".pub");
  while (text.ends_with('\n') || text.ends_with(' ')) text.pop_back();
  return text;
}

std::string entry(const std::string& principal, const fs::path& key, const std::string& options = "") {
  return principal + " namespaces=\"signoff@daywright\"" + options + " " + public_part(key) + "\n";
}

/// Another ssh-keygen, found first as long as this lives.
class StandIn {
 public:
  explicit StandIn(fs::path folder)
      : folder_(std::move(folder)), path_(std::getenv("PATH")), real_(find_program("ssh-keygen")) {
    ::setenv("PATH", (folder_.string() + ":" + path_).c_str(), 1);
  }
  ~StandIn() { ::setenv("PATH", path_.c_str(), 1); }
  StandIn(const StandIn&) = delete;
  StandIn& operator=(const StandIn&) = delete;
  StandIn(StandIn&&) = delete;
  StandIn& operator=(StandIn&&) = delete;

  void does(const std::string& script) const {
    put(folder_ / "ssh-keygen", "#!/bin/sh\n" + script + "\n");
    fs::permissions(folder_ / "ssh-keygen", fs::perms::owner_all);
  }
  [[nodiscard]] std::string real() const { return real_.string(); }

 private:
  fs::path folder_;
  std::string path_;
  fs::path real_;
};

}  // namespace

TEST_CASE("what the stock tool signs for a signer who may is accepted, and its key is named") {
  const TemporaryFolder work;
  const fs::path key = make_key(work.path(), "key");
  const std::string armour = sign_with_ssh(key, record);
  const auto read = read_ssh_signature(armour);
  REQUIRE(std::holds_alternative<SshSignature>(read));
  CHECK(std::get<SshSignature>(read).fingerprint == read_fingerprint(key));
  CHECK(read_fingerprint(key.string() + ".pub") == read_fingerprint(key));
  const Claim claim{"mara", read_fingerprint(key), when};
  CHECK(fault_of_signature(record, armour, claim, {entry("mara", key), ""}).empty());
  CHECK(fault_of_signature(record, armour, claim, {entry("other", key) + entry("mara", key), ""}).empty());
}

TEST_CASE("a signature that must not count is refused, and why is named") {
  const TemporaryFolder work;
  const fs::path key = make_key(work.path(), "key");
  const fs::path other = make_key(work.path(), "other");
  const std::string armour = sign_with_ssh(key, record);
  const Claim claim{"mara", read_fingerprint(key), when};
  const TrustList trust{entry("mara", key), ""};
  const auto refusal = [&](const TrustList& list) { return fault_of_signature(record, armour, claim, list); };

  CHECK(fault_of_signature(record + " ", armour, claim, trust) == "does not fit the bytes that it lies beside");
  CHECK_THAT(refusal({entry("mara", other), ""}), ContainsSubstring("allowed_signers does not let sign as 'mara'"));
  CHECK_THAT(refusal({"", ""}), ContainsSubstring("allowed_signers does not let sign as 'mara'"));
  CHECK_THAT(refusal({entry("mara", key, ",valid-before=\"20310513Z\""), ""}), ContainsSubstring("has expired"));
  CHECK_THAT(refusal({entry("mara", key, ",valid-after=\"20310514Z\""), ""}), ContainsSubstring("not yet valid"));
  CHECK(refusal({entry("mara", key, ",valid-before=\"20310514Z\",valid-after=\"20310513Z\""), ""}).empty());
  CHECK_THAT(refusal({"mara namespaces=\"file\" " + public_part(key) + "\n", ""}),
             ContainsSubstring("does not let sign"));
  CHECK_THAT(refusal({entry("mara", key), public_part(key) + "\n"}), ContainsSubstring("which is revoked"));
  CHECK(refusal({entry("mara", key), public_part(other) + "\n"}).empty());
  CHECK_THAT(fault_of_signature(record, armour, {"nobody", claim.fingerprint, when}, trust),
             ContainsSubstring("does not let sign as 'nobody'"));
  CHECK_THAT(fault_of_signature(record, armour, {"mara", read_fingerprint(other), when}, trust),
             ContainsSubstring("and the record names " + read_fingerprint(other)));
  const auto elsewhere = run_program({.program = find_program("ssh-keygen"),
                                      .arguments = {"-Y", "sign", "-q", "-n", "file", "-f", key.string()},
                                      .input = record});
  REQUIRE(elsewhere.exit_code == 0);
  CHECK(fault_of_signature(record, elsewhere.output, claim, trust) ==
        "is made for 'file', expected 'signoff@daywright'");
}

TEST_CASE("a signature is not taken for void because the tool that judges it fails") {
  const TemporaryFolder work;
  const fs::path key = make_key(work.path(), "key");
  const std::string armour = sign_with_ssh(key, record);
  const Claim claim{"mara", read_fingerprint(key), when};
  const TrustList trust{entry("mara", key), ""};
  const StandIn tool(work.path() / "bin");
  SECTION("it is killed") {
    tool.does("kill -9 $$");
    CHECK_THROWS_WITH(fault_of_signature(record, armour, claim, trust), "ssh-keygen gave no answer about a signature");
  }
  SECTION("it can't begin") {
    tool.does("echo 'no such library' >&2; exit 127");
    CHECK_THROWS_WITH(fault_of_signature(record, armour, claim, trust),
                      "ssh-keygen gave no answer about a signature (no such library)");
  }
  SECTION("once it can't open a file, and says no") {
    tool.does("mkdir " + (work.path() / "asked").string() +
              " 2>/dev/null && echo 'Could not verify signature.' && exit 255; exec " + tool.real() + " \"$@\"");
    CHECK(fault_of_signature(record, armour, claim, trust).empty());
    CHECK_FALSE(fault_of_signature(record + " ", armour, claim, trust).empty());
  }
}

TEST_CASE("no changed bit of a signature is accepted, not even where the stock tool would") {
  const TemporaryFolder work;
  const fs::path key = make_key(work.path(), "key");
  const std::string armour = sign_with_ssh(key, record);
  const Claim claim{"mara", read_fingerprint(key), when};
  const TrustList trust{entry("mara", key), ""};
  // The stock tool is asked only about what has the form of a signature, so that most of these take no time.
  int asked = 0;
  for (std::size_t bit = 0; bit < armour.size() * 8; ++bit) {
    std::string changed = armour;
    changed[bit / 8] = static_cast<char>(changed[bit / 8] ^ (1 << (bit % 8)));
    const auto read = read_ssh_signature(changed);
    const auto* signature = std::get_if<SshSignature>(&read);
    if (signature == nullptr || signature->fingerprint != claim.fingerprint) continue;
    if (++asked % 40 != 0) continue;
    CAPTURE(bit);
    CHECK_FALSE(fault_of_signature(record, changed, claim, trust).empty());
  }
  CHECK(asked > 200);
}

TEST_CASE("an armour of another form is refused, though it holds the same bytes") {
  const TemporaryFolder work;
  const std::string armour = sign_with_ssh(make_key(work.path(), "key"), record);
  const auto refused = [](const std::string& text) {
    return std::holds_alternative<std::string>(read_ssh_signature(text));
  };
  CHECK_FALSE(refused(armour));
  const auto first_end = armour.find('\n', 40);
  CHECK(refused(""));
  CHECK(refused("-----BEGIN SSH SIGNATURE-----\n-----END SSH SIGNATURE-----\n"));
  CHECK(refused(armour + "\n"));
  CHECK(refused("\n" + armour));
  CHECK(refused(armour.substr(0, armour.size() - 1)));
  CHECK(refused(std::string(armour).insert(first_end, "\r")));
  CHECK(refused(std::string(armour).insert(first_end, " ")));
  CHECK(refused(std::string(armour).erase(first_end, 1)));
  CHECK(refused(std::string(armour).insert(first_end - 4, "\n")));
  CHECK(refused(std::string(armour).insert(first_end, std::string(1, '\0'))));
  CHECK(refused(std::string(armour).replace(30, 4, "====")));
  CHECK(refused(std::string(1000, '=')));
}

TEST_CASE("a key that is not there or no key does not sign, and it is said why") {
  const TemporaryFolder work;
  put(work.path() / "nonsense", "no key");
  CHECK_THROWS_WITH(read_fingerprint(work.path() / "absent"), ContainsSubstring("No such file"));
  CHECK_THROWS_WITH(read_fingerprint(work.path() / "nonsense"), ContainsSubstring("can't use the key"));
  CHECK_THROWS_WITH(sign_with_ssh(work.path() / "nonsense", record), ContainsSubstring("did not sign"));
}

TEST_CASE("lists of a mission are read where they are there, and from files only") {
  const TemporaryFolder work;
  CHECK(read_trust_list(work.path()).allowed_signers.empty());
  put(work.path() / "allowed_signers", "a");
  put(work.path() / "revoked_keys", "b");
  CHECK(read_trust_list(work.path()).allowed_signers == "a");
  CHECK(read_trust_list(work.path()).revoked_keys == "b");
  fs::remove(work.path() / "revoked_keys");
  REQUIRE(::mkfifo((work.path() / "revoked_keys").c_str(), 0644) == 0);
  CHECK(error_of([&] { (void)read_trust_list(work.path()); }) == EINVAL);
}
