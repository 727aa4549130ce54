#include "record/signoff_log.h"

#include <cerrno>
#include <filesystem>
#include <optional>
#include <set>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "catch_compat.h"
#include "file_size_limit.h"
#include "record/builders.h"
#include "temporary_folder.h"

using daywright::model::SignOff;
using daywright::record::append_signoff;
using daywright::record::read_signoffs;
using daywright::record::SignOffLog;
using daywright::record::StoredSignOff;
using daywright::test::bytes_of;
using daywright::test::error_of;
using daywright::test::go;
using daywright::test::names_in;
using daywright::test::put;
using daywright::test::TemporaryFolder;
using Names = std::vector<std::string>;
namespace fs = std::filesystem;

namespace {

const auto unsigned_record = [](const std::string&) { return std::string(); };

std::optional<StoredSignOff> add(const fs::path& mission, const std::string& principal = "mara") {
  return append_signoff(mission, [&](const SignOffLog&) { return go(principal); }, unsigned_record);
}

/// "place: what", as verify would say it.
Names breaks_of(const fs::path& mission) {
  Names breaks;
  for (const auto& found : read_signoffs(mission).breaks)
    breaks.push_back((found.is_missing ? "missing " : "") + found.where + ": " + found.what);
  return breaks;
}

}  // namespace

TEST_CASE("without a folder there are no sign-offs") {
  const TemporaryFolder work;
  CHECK(read_signoffs(work.path()).records.empty());
  CHECK(breaks_of(work.path()).empty());
  CHECK(error_of([&] { (void)read_signoffs(work.path() / "absent"); }) == ENOENT);
}

TEST_CASE("records are added one behind the other, each naming the digest of the one before") {
  const TemporaryFolder work;
  for (int number = 1; number <= 12; ++number) {
    const auto stored = add(work.path());
    REQUIRE(stored);
    CHECK(stored->signoff.number == number);
  }
  const auto log = read_signoffs(work.path());
  CHECK(log.breaks.empty());
  REQUIRE(log.records.size() == 12);
  for (std::size_t i = 1; i < 12; ++i) CHECK(log.records[i].signoff.previous == log.records[i - 1].digest);
  CHECK(names_in(work.path() / "signoffs").front() == "000001");
  CHECK(names_in(work.path() / "signoffs").back() == "000012");
  CHECK(names_in(work.path() / "signoffs" / "000001") == Names{"record.json"});
  CHECK(bytes_of(work.path() / "signoffs" / "000012" / "record.json") == log.records.back().bytes);
}

TEST_CASE("a signature lies beside its record and covers its bytes") {
  const TemporaryFolder work;
  std::string signed_bytes;
  const auto stored = append_signoff(
      work.path(),
      [](const SignOffLog&) {
        SignOff signoff = go();
        signoff.signer.key = "SHA256:" + std::string(43, 'k');
        return signoff;
      },
      [&](const std::string& bytes) {
        signed_bytes = bytes;
        return std::string("signature\n");
      });
  REQUIRE(stored);
  CHECK(signed_bytes == stored->bytes);
  CHECK(names_in(work.path() / "signoffs" / "000001") == Names{"record.json", "record.json.sig"});
  CHECK(read_signoffs(work.path()).records.at(0).signature == "signature\n");
  CHECK(breaks_of(work.path()).empty());
}

TEST_CASE("a clock that was set back is written down") {
  const TemporaryFolder work;
  (void)add(work.path());
  const auto earlier = append_signoff(
      work.path(),
      [](const SignOffLog&) {
        SignOff signoff = go();
        signoff.signed_at -= std::chrono::seconds{1};
        return signoff;
      },
      unsigned_record);
  CHECK_FALSE(earlier->signoff.is_after_previous);
  CHECK(add(work.path())->signoff.is_after_previous);
  CHECK(breaks_of(work.path()).empty());
}

TEST_CASE("where nothing is to be recorded, nothing changes") {
  const TemporaryFolder work;
  const auto none = append_signoff(work.path(), [](const SignOffLog&) { return std::nullopt; }, unsigned_record);
  CHECK_FALSE(none);
  CHECK(names_in(work.path()).empty());
}

TEST_CASE("when signing fails nothing is left, on first use and later") {
  const TemporaryFolder work;
  const auto fail = [](const std::string&) -> std::string { throw std::runtime_error("no key"); };
  const auto compose = [](const SignOffLog&) { return go(); };
  CHECK_THROWS_WITH(append_signoff(work.path(), compose, fail), "no key");
  CHECK(names_in(work.path()).empty());
  (void)add(work.path());
  CHECK_THROWS_WITH(append_signoff(work.path(), compose, fail), "no key");
  CHECK(names_in(work.path() / "signoffs") == Names{"000001"});
  {
    const daywright::test::FileSizeLimit full(10);
    CHECK(error_of([&] { (void)add(work.path()); }) == EFBIG);
  }
  CHECK(names_in(work.path() / "signoffs") == Names{"000001"});
  CHECK(breaks_of(work.path()).empty());
}

TEST_CASE("what can't be read again is not recorded") {
  const TemporaryFolder work;
  const auto compose = [](const SignOffLog&) {
    SignOff signoff = go();
    signoff.remark = "two\nlines";
    return signoff;
  };
  CHECK_THROWS_AS(append_signoff(work.path(), compose, unsigned_record), std::invalid_argument);
  CHECK(names_in(work.path()).empty());
}

TEST_CASE("who loses the number to another signs again on the new head") {
  const TemporaryFolder work;
  (void)add(work.path(), "first");
  int signatures = 0;
  const auto stored = append_signoff(
      work.path(), [](const SignOffLog&) { return go("slow"); },
      [&](const std::string& bytes) {
        // Somebody who does not wait, as on a file system without locks.
        if (++signatures == 1) {
          SignOff other = go("quick");
          other.number = 2;
          other.previous = read_signoffs(work.path()).records.back().digest;
          put(work.path() / "signoffs" / "000002" / "record.json", daywright::record::render_signoff(other));
        }
        CHECK(bytes.find(signatures == 1 ? "\"number\":2" : "\"number\":3") != std::string::npos);
        return std::string();
      });
  CHECK(signatures == 2);
  REQUIRE(stored);
  CHECK(stored->signoff.number == 3);
  CHECK(breaks_of(work.path()).empty());
  CHECK(names_in(work.path() / "signoffs") == Names{"000001", "000002", "000003"});
}

TEST_CASE("forty threads that sign at once make one chain") {
  const TemporaryFolder work;
  std::vector<std::thread> threads;
  for (int i = 0; i < 40; ++i) threads.emplace_back([&, i] { (void)add(work.path(), "signer" + std::to_string(i)); });
  for (auto& thread : threads) thread.join();
  const auto log = read_signoffs(work.path());
  CHECK(log.breaks.empty());
  CHECK(log.records.size() == 40);
  std::set<std::string> principals;
  for (const auto& stored : log.records) principals.insert(stored.signoff.signer.principal);
  CHECK(principals.size() == 40);
}

TEST_CASE("who reads while another signs sees whole records only") {
  const TemporaryFolder work;
  std::thread signer([&] {
    for (int i = 0; i < 100; ++i) (void)add(work.path());
  });
  std::size_t most = 0;
  std::string fault;
  while (most < 100 && fault.empty()) {
    try {
      const auto log = read_signoffs(work.path());
      if (!log.breaks.empty()) fault = log.breaks.front().where + " " + log.breaks.front().what;
      if (log.records.size() < most) fault = "fewer records than before";
      most = log.records.size();
    } catch (const std::exception& error) {
      fault = error.what();
    }
  }
  signer.join();
  CHECK(fault.empty());
  CHECK(most == 100);
}

TEST_CASE("leftovers of an interrupted try are passed over and cleared, but not what somebody still builds") {
  const TemporaryFolder work;
  (void)add(work.path());
  const fs::path signoffs = work.path() / "signoffs";
  put(signoffs / ".building-dead00" / "record.json", "{}");
  put(signoffs / ".building-alive0" / "record.json", "{}");
  const int alive = ::open((signoffs / ".building-alive0").c_str(), O_RDONLY | O_DIRECTORY);
  REQUIRE(::flock(alive, LOCK_EX) == 0);
  CHECK(breaks_of(work.path()).empty());
  (void)add(work.path());
  CHECK(names_in(signoffs) == Names{".building-alive0", "000001", "000002"});
  ::close(alive);
  (void)add(work.path());
  CHECK(names_in(signoffs) == Names{"000001", "000002", "000003"});
}

TEST_CASE("a record that is missing, changed, moved or put in is named") {
  const TemporaryFolder work;
  for (int i = 0; i < 4; ++i) (void)add(work.path(), "signer" + std::to_string(i));
  const fs::path signoffs = work.path() / "signoffs";
  const std::string chain = "does not follow the record before: the digest in 'previous' is another";

  SECTION("a folder is gone") {
    fs::remove_all(signoffs / "000002");
    CHECK(breaks_of(work.path()) == Names{"missing signoffs/000002: is missing"});
  }
  SECTION("a record is gone") {
    fs::remove(signoffs / "000004" / "record.json");
    CHECK(breaks_of(work.path()) == Names{"missing signoffs/000004/record.json: is missing"});
  }
  SECTION("a record is another, still a record") {
    std::string bytes = bytes_of(signoffs / "000002" / "record.json");
    bytes.replace(bytes.find("READY"), 5, "ready");
    put(signoffs / "000002" / "record.json", bytes);
    CHECK(breaks_of(work.path()) == Names{"signoffs/000003/record.json: " + chain});
  }
  SECTION("two records change places") {
    fs::rename(signoffs / "000002", signoffs / "x");
    fs::rename(signoffs / "000003", signoffs / "000002");
    fs::rename(signoffs / "x", signoffs / "000003");
    const auto breaks = breaks_of(work.path());
    REQUIRE(breaks.size() >= 2);
    CHECK(breaks.at(0) == "signoffs/000002/record.json: says that it is record 3");
  }
  SECTION("a record is copied to the end") {
    fs::copy(signoffs / "000004", signoffs / "000005");
    CHECK(breaks_of(work.path()) ==
          Names{"signoffs/000005/record.json: says that it is record 4", "signoffs/000005/record.json: " + chain});
  }
  SECTION("something lies beside a record or the records") {
    put(signoffs / "000001" / "note.txt", "x");
    put(signoffs / "000001" / "record.json.sig", "x");
    put(signoffs / "7" / "record.json", "x");
    CHECK(breaks_of(work.path()) ==
          Names{"signoffs/7: is no record", "signoffs/000001/note.txt: is more than a record has",
                "signoffs/000001/record.json.sig: is there, and the record says that it is not signed"});
  }
  SECTION("and nobody signs on top of it") {
    fs::remove_all(signoffs / "000002");
    CHECK_THROWS_WITH(add(work.path()), "the sign-offs are not sound: 'signoffs/000002' is missing");
    CHECK(names_in(signoffs) == Names{"000001", "000003", "000004"});
  }
}

TEST_CASE("nobody takes back what another has said") {
  const TemporaryFolder work;
  (void)add(work.path(), "mara");
  const auto taking_back = [](const std::string& principal) {
    SignOff signoff = go(principal);
    signoff.act = daywright::model::SignOffAct::withdrawal;
    signoff.call = std::nullopt;
    signoff.remark = "counted again";
    signoff.supersedes = 1;
    return signoff;
  };
  const auto take_back = [&](const std::string& principal) {
    (void)append_signoff(work.path(), [&](const SignOffLog&) { return taking_back(principal); }, unsigned_record);
  };
  take_back("mara");
  CHECK(breaks_of(work.path()).empty());
  CHECK_THROWS_WITH(take_back("other"), "record 1 is not there, is another's, or is signed where this one is not");
  CHECK(breaks_of(work.path()).empty());
  SignOff forged = taking_back("other");
  forged.number = 3;
  forged.previous = read_signoffs(work.path()).records.back().digest;
  put(work.path() / "signoffs" / "000003" / "record.json", daywright::record::render_signoff(forged));
  CHECK(
      breaks_of(work.path()) ==
      Names{"signoffs/000003/record.json: supersedes record 1, which is not there, another's, or signed where this one "
            "is not"});
}

TEST_CASE("pipes, links, folders and huge files in place of a record are refused at once") {
  const TemporaryFolder work;
  (void)add(work.path());
  const fs::path record = work.path() / "signoffs" / "000001" / "record.json";
  const std::string bytes = bytes_of(record);
  fs::remove(record);
  SECTION("a pipe") { REQUIRE(::mkfifo(record.c_str(), 0644) == 0); }
  SECTION("a link to the very record") {
    put(work.path() / "elsewhere", bytes);
    fs::create_symlink(work.path() / "elsewhere", record);
  }
  SECTION("a folder") { fs::create_directory(record); }
  SECTION("a huge file") { put(record, std::string(1'000'000, ' ')); }
  REQUIRE(breaks_of(work.path()).size() == 1);
  CHECK(breaks_of(work.path()).front().starts_with("signoffs/000001: "));
}

TEST_CASE("a link or a file in place of the folder of sign-offs is refused") {
  const TemporaryFolder work;
  fs::create_directory(work.path() / "elsewhere");
  SECTION("a link") { fs::create_directory_symlink(work.path() / "elsewhere", work.path() / "signoffs"); }
  SECTION("a file") { put(work.path() / "signoffs", ""); }
  CHECK(breaks_of(work.path()).size() == 1);
  CHECK(error_of([&] { (void)add(work.path()); }) != 0);
  CHECK(names_in(work.path() / "elsewhere").empty());
}
