#include "record/bag.h"

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <string>
#include <utility>
#include <vector>

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "catch_compat.h"
#include "record/bag_builder.h"

using namespace daywright::test;
using daywright::record::Bag;
using daywright::record::BagFault;
using daywright::record::BaggedFile;
using daywright::record::BagLabel;
using daywright::record::Descriptor;
using daywright::record::read_bag;
namespace fs = std::filesystem;

namespace {

using Lines = std::vector<std::string>;

/// A bag as it was before 1.0: one manifest, or more that need not list everything.
void make_old_bag(const fs::path& bag, const std::string& version) {
  put(bag / "data/log.txt", "water 90\n");
  put(bag / "bagit.txt", declaration(version));
  list_and_seal(bag, {"md5"});
}

/// Lets files be opened only with numbers below `most`, until the end of the scope.
class OpenFileLimit {
 public:
  explicit OpenFileLimit(rlim_t most) {
    ::getrlimit(RLIMIT_NOFILE, &before_);
    const rlimit limit{most, before_.rlim_max};
    ::setrlimit(RLIMIT_NOFILE, &limit);
  }
  ~OpenFileLimit() { ::setrlimit(RLIMIT_NOFILE, &before_); }
  OpenFileLimit(const OpenFileLimit&) = delete;
  OpenFileLimit& operator=(const OpenFileLimit&) = delete;
  OpenFileLimit(OpenFileLimit&&) = delete;
  OpenFileLimit& operator=(OpenFileLimit&&) = delete;

 private:
  rlimit before_{};
};

}  // namespace

TEST_CASE("a bag says what is in it") {
  const TemporaryFolder work;
  const fs::path folder = work.path() / "bag";
  make_bag(folder);
  put(folder / "bag-info.txt", "External-Description: logs of the day,\n\t as received\nX: a: b\nX:   c \n");
  seal(folder);
  const Bag bag = read_bag(folder);
  CHECK(findings_of(bag).empty());
  CHECK(bag.is_valid());
  CHECK(bag.version == "1.0");
  CHECK(bag.info ==
        std::vector<BagLabel>{{"External-Description", "logs of the day, as received"}, {"X", "a: b"}, {"X", "  c "}});
  REQUIRE(bag.find("external-DESCRIPTION") != nullptr);
  CHECK(*bag.find("x") == "a: b");
  CHECK(bag.find("Payload-Oxum") == nullptr);
  CHECK(bag.payload ==
        std::vector<BaggedFile>{{"data/inputs/mission.toml", 18, digest_of("sha256", "name = 'Petrel 3'\n")},
                                {"data/outputs/brief.md", 15, digest_of("sha256", "# Day 8\n\nREADY\n")}});
  CHECK(bag.unlisted_tag_files.empty());
  CHECK(bag.digest == digest_of("sha256", bytes_of(folder / "tagmanifest-sha512.txt")));
  std::uint64_t bytes = 0;
  for (const auto& [path, content] : files_in(folder)) bytes += content.size();
  CHECK(bag.bytes_read == bytes);
}

TEST_CASE("a bag is read the same from an open folder, and says how far it has come") {
  const TemporaryFolder work;
  make_bag(work.path());
  std::vector<std::uint64_t> steps;
  const Descriptor folder(work.path(), O_RDONLY | O_DIRECTORY);
  const Bag bag = read_bag(folder, [&](std::uint64_t bytes) { steps.push_back(bytes); });
  CHECK(bag.is_valid());
  CHECK(steps.size() == files_in(work.path()).size());
  CHECK(std::is_sorted(steps.begin(), steps.end()));
  CHECK(steps.back() == bag.bytes_read);
}

TEST_CASE("payload is in the order of its paths, not of its folders") {
  const TemporaryFolder work;
  make_bag(work.path());
  put(work.path() / "data/a/b", "");
  put(work.path() / "data/a.txt", "");
  const Bag bag = read_bag(work.path());
  CHECK(std::is_sorted(bag.payload.begin(), bag.payload.end(),
                       [](const auto& one, const auto& other) { return one.path < other.path; }));
}

TEST_CASE("tag files are given that not every tag manifest lists") {
  const TemporaryFolder work;
  make_bag(work.path());
  put(work.path() / "a.txt", "");
  list(work.path(), "sha256", true);
  put(work.path() / "b.txt", "");
  CHECK(read_bag(work.path()).unlisted_tag_files == Lines{"a.txt", "b.txt"});
  fs::remove(work.path() / "tagmanifest-sha512.txt");
  CHECK(read_bag(work.path()).unlisted_tag_files == Lines{"b.txt"});
  CHECK(read_bag(work.path()).digest.empty());
  fs::remove(work.path() / "tagmanifest-sha256.txt");
  CHECK(read_bag(work.path()).unlisted_tag_files.size() == 7);
}

TEST_CASE("what can't be read is an error and no finding") {
  const TemporaryFolder work;
  make_bag(work.path() / "bag");
  put(work.path() / "file", "");
  CHECK(error_of([&] { (void)read_bag(work.path() / "absent"); }) == ENOENT);
  CHECK(error_of([&] { (void)read_bag(work.path() / "file"); }) == ENOTDIR);
  // Files are opened within folders: with each number that may not be given out, another opening fails.
  const int next = ::dup(0);
  ::close(next);
  int refused = 0;
  for (int most = next; most < next + 100; ++most) {
    const OpenFileLimit limit(static_cast<rlim_t>(most));
    Bag bag;
    const int error = error_of([&] { bag = read_bag(work.path() / "bag"); });
    if (error == 0) {
      CHECK(bag.is_valid());
      CHECK(refused == 4);  // the bag, data, a folder in it, and a file or the list of that folder
      return;
    }
    CHECK(error == EMFILE);
    ++refused;
  }
  FAIL("reads never succeed");
}

TEST_CASE("a file that changes while it is read is an error") {
  const TemporaryFolder work;
  make_bag(work.path());
  const fs::path file = work.path() / "data/outputs/brief.md";
  const fs::path manifest = work.path() / "manifest-sha256.txt";
  for (const auto& path : {file, manifest}) {
    const std::string bytes = bytes_of(path);
    const auto long_ago = fs::last_write_time(path) - std::chrono::hours{1};
    const auto during = [&](const auto& act) {
      put(path, bytes);
      fs::last_write_time(path, long_ago);
      // After whichever block comes last; others act in vain, since it has not been opened or has been closed.
      const auto size = static_cast<std::uint64_t>(fs::file_size(path));
      std::uint64_t before = 0;
      return error_of([&] {
        (void)read_bag(work.path(), [&](std::uint64_t read) {
          if (read - std::exchange(before, read) == size) act();
        });
      });
    };
    CHECK(during([] {}) == 0);
    CHECK(during([&] { std::ofstream(path, std::ios::app) << "x"; }) == EAGAIN);
    CHECK(during([&] { fs::resize_file(path, 1); }) == EAGAIN);
    CHECK(during([&] { put(path, bytes); }) == EAGAIN);
  }
}

TEST_CASE("earlier versions have other rules") {
  const TemporaryFolder work;
  for (const std::string version : {"0.93", "0.94", "0.95", "0.96", "0.97"}) {
    INFO(version);
    const fs::path bag = work.path() / version;
    make_old_bag(bag, version);
    const std::string info = version < "0.96" ? "package-info.txt" : "bag-info.txt";
    put(bag / "bag-info.txt", "X: 1");
    put(bag / "package-info.txt", "X: 1");
    put(bag / info, "X :  2 \r\n\r\nPayload-Oxum: 10.1");
    put(bag / "bagit.txt", "BagIt-Version : " + version + "\r\nTag-File-Character-Encoding:  UTF-8");
    seal(bag, {"md5"});
    CHECK(findings_in(bag) == Lines{"invalid " + info + ": gives the Payload-Oxum '10.1', and it is 9.1"});
    CHECK(*read_bag(bag).find("X") == "2");
    CHECK(read_bag(bag).version == version);

    // Each payload file in one of the manifests is enough, and tag manifests may leave out what they like.
    put(bag / info, "");
    put(bag / "data/more", "");
    put(bag / "manifest-sha1.txt", digest_of("sha1", "") + "\tdata/more\r\n");
    seal(bag, {"md5"});
    fs::remove(bag / "tagmanifest-md5.txt");
    put(bag / "tagmanifest-sha1.txt", digest_of("sha1", bytes_of(bag / "bagit.txt")) + " bagit.txt\n\n");
    CHECK(findings_in(bag).empty());
    put(bag / "data/most", "");
    CHECK(findings_in(bag) == Lines{"invalid data/most: is in no manifest"});
  }
}

TEST_CASE("before 1.0 only line ends are put back in names, and only where the name as written is not there") {
  const TemporaryFolder work;
  put(work.path() / "data/a\nb", "");
  put(work.path() / "data/a%0Ab", "x");
  put(work.path() / "data/a\rb", "");
  put(work.path() / "data/100%25", "");
  put(work.path() / "bagit.txt", declaration("0.97"));
  const std::string empty = digest_of("md5", "");
  put(work.path() / "manifest-md5.txt",
      digest_of("md5", "x") + "  data/a%0Ab\n" + empty + "  data/a%0db\n" + empty + "  data/100%25\n");
  CHECK(findings_in(work.path()) == Lines{"invalid data/a\nb: is in no manifest"});
}

TEST_CASE("texts are read in the encoding that is declared") {
  const TemporaryFolder work;
  const std::string digest = digest_of("md5", "water 90\n");
  const auto wide = [](const std::string& text, bool is_little) {
    std::string bytes;
    for (const char c : text) bytes += is_little ? std::string{c, '\0'} : std::string{'\0', c};
    return bytes;
  };
  const std::string line = digest + "  data/log.txt\n";
  const auto judged = [&](const std::string& encoding, const std::string& info, const std::string& manifest) {
    fs::remove_all(work.path() / "bag");
    make_old_bag(work.path() / "bag", "1.0");
    put(work.path() / "bag/bagit.txt", declaration("1.0", encoding));
    put(work.path() / "bag/bag-info.txt", info);
    put(work.path() / "bag/manifest-md5.txt", manifest);
    fs::remove(work.path() / "bag/tagmanifest-md5.txt");
    return read_bag(work.path() / "bag");
  };
  CHECK(judged("ISO-8859-1", "X: \xFC\n", line).info == std::vector<BagLabel>{{"X", "\xC3\xBC"}});
  CHECK(judged("utf-16", "\xFF\xFE" + wide("X: u\n", true), wide(line, false)).info ==
        std::vector<BagLabel>{{"X", "u"}});
  CHECK(judged("UTF-16LE", wide("X: u\n", true), wide(line, true)).is_valid());
  CHECK(judged("UTF-16BE", wide("X: u\n", false), wide(line, false)).is_valid());
  CHECK(judged("UTF-16BE", "", wide(line, true)).worst() == BagFault::invalid);
  CHECK(findings_of(judged("UTF-16", "odd", wide(line, false))) ==
        Lines{"invalid bag-info.txt: is not UTF-16, as bagit.txt says it is"});
  CHECK(findings_of(judged("UTF-16BE", std::string("\xD8\0\0X", 4), wide(line, false))) ==
        Lines{"invalid bag-info.txt: is not UTF-16, as bagit.txt says it is"});
}

TEST_CASE("each algorithm that the library has is checked") {
  for (const std::string algorithm : {"md5", "sha1", "sha224", "sha256", "sha384", "sha512", "sha512224", "sha512256",
                                      "sha3224", "sha3256", "sha3384", "sha3512", "blake2b512", "blake2s256"}) {
    INFO(algorithm);
    const TemporaryFolder work;
    put(work.path() / "data/log.txt", "water 90\n");
    put(work.path() / "bagit.txt", declaration());
    list_and_seal(work.path(), {algorithm});
    CHECK(findings_in(work.path()).empty());
    put(work.path() / "data/log.txt", "water 91\n");
    const auto* known = daywright::record::find_digest_algorithm(algorithm);
    CHECK(findings_in(work.path()) ==
          Lines{"invalid data/log.txt: has another " + known->label + " than manifest-" + algorithm + ".txt says"});
  }
}

TEST_CASE("what is larger than a bag may be is refused, quickly and in little memory") {
  const TemporaryFolder work;
  const fs::path& bag = work.path();
  make_bag(bag);
  SECTION("a manifest") {
    fs::resize_file(bag / "manifest-sha256.txt", 64 * 1024 * 1024 + 1);
    CHECK(findings_in(bag).front() ==
          "invalid manifest-sha256.txt: has another SHA-256 than tagmanifest-sha256.txt says");
    CHECK(findings_in(bag).at(2) ==
          "invalid manifest-sha256.txt: is larger than the 67108864 bytes that are read of it");
  }
  SECTION("labels") {
    put(bag / "bag-info.txt", std::string(1024 * 1024 + 1, 'x'));
    seal(bag);
    CHECK(findings_in(bag) == Lines{"invalid bag-info.txt: is larger than the 1048576 bytes that are read of it"});
  }
  SECTION("a manifest of nothing but line ends") {
    put(bag / "manifest-sha256.txt", std::string(std::size_t{4} * 1024 * 1024, '\n'));
    seal(bag);
    CHECK(findings_in(bag).size() == 1000);
  }
  SECTION("more folders than can be gone down") {
    fs::path deep = bag / "data";
    for (int i = 0; i < 63; ++i) deep /= "d";
    put(deep / "file", "");
    put(bag / "bag-info.txt", "");
    list_and_seal(bag);
    CHECK(findings_in(bag).empty());
    fs::create_directories(deep / "e");
    const std::string path = (deep / "e").lexically_relative(bag);
    CHECK(findings_in(bag) == Lines{"invalid " + path + ": is more than 64 folders deep"});
  }
  SECTION("a path longer than any list may have") {
    std::vector<Descriptor> folders;
    folders.reserve(20);
    folders.emplace_back(bag / "data", O_RDONLY | O_DIRECTORY);
    std::string path = "data";
    const std::string name(250, 'x');
    while (path.size() + 1 + name.size() <= 4096) {
      REQUIRE(::mkdirat(folders.back().number(), name.c_str(), 0700) == 0);
      folders.emplace_back(folders.back(), name, O_RDONLY | O_DIRECTORY);
      path += "/" + name;
    }
    {
      const Descriptor file(folders.back(), name, O_WRONLY | O_CREAT);
    }
    path = (path + "/" + name).substr(0, 4096);
    CHECK(findings_in(bag) == Lines{"invalid " + path + ": has a path of more than 4096 bytes"});
  }
}

TEST_CASE("a bag with thousands of faults keeps the worst and counts the rest") {
  const TemporaryFolder work;
  make_bag(work.path());
  put(work.path() / "bag-info.txt", "");
  for (int i = 0; i < 600; ++i) fs::create_directories(work.path() / "data/empty" / std::to_string(i));
  seal(work.path());
  const auto some = findings_in(work.path());
  CHECK(some.size() == 600);
  for (int i = 0; i < 600; ++i) put(work.path() / "data/extra" / std::to_string(i), "");
  const auto more = findings_in(work.path());
  REQUIRE(more.size() == 1000);
  CHECK(more.at(599).starts_with("invalid data/extra/"));
  CHECK(more.at(600).starts_with("note data/empty/"));
  CHECK(more.back() == "note the bag: 201 more findings are left out here");
  for (int i = 600; i < 1600; ++i) put(work.path() / "data/extra" / std::to_string(i), "");
  CHECK(findings_in(work.path()).back() == "invalid the bag: 1201 more findings are left out here");
}
