#include "record/archive.h"

#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include <sys/stat.h>

#include "catch_compat.h"
#include "record/digest.h"
#include "record/signoff.h"
#include "temporary_folder.h"

using namespace daywright;
using Catch::Matchers::ContainsSubstring;
using record::Archive;
using record::ArchiveHead;
using record::FiledDay;
using test::put;
using test::TemporaryFolder;
namespace fs = std::filesystem;
using namespace std::string_literals;

namespace {

/// Nobody is asked: a second revision is a failure of the test.
std::string no_reason(const FiledDay& newest, const std::vector<std::string>& /*changed*/) {
  throw std::runtime_error("day " + std::to_string(newest.day) + " is filed again");
}

record::DayToFile a_day(int day, std::string_view bytes = "one") {
  return {"Petrel 3", day,          {{"inputs/days/001/counts.csv", bytes}, {"outputs/brief.md", "brief"}},
          {},         "2031-05-14", "t"};
}

/// An archive with a bag for each of `days`.
class Filed {
 public:
  explicit Filed(const std::vector<int>& days) {
    for (const int day : days) {
      const std::string bytes = "bytes " + std::to_string(++count_);
      filings_.push_back(record::file_day(path(), a_day(day, bytes), [](auto&&...) { return "late count"s; }).day);
    }
  }
  [[nodiscard]] fs::path path() const { return work_.path() / "archive"; }
  [[nodiscard]] const std::vector<FiledDay>& filings() const { return filings_; }
  [[nodiscard]] Archive read() const { return record::read_archive(path()); }

 private:
  TemporaryFolder work_;
  int count_ = 0;
  std::vector<FiledDay> filings_;
};

std::string first_break(const Archive& archive) {
  if (archive.breaks.empty()) return "";
  const auto& found = archive.breaks.front();
  return found.where + (found.is_missing ? " (missing) " : " ") + found.what;
}

}  // namespace

TEST_CASE("a filed day is a bag that says what it is, in a chain by the digest of its last list") {
  const Filed filed({7, 8});
  const Archive archive = filed.read();
  CHECK(first_break(archive).empty());
  REQUIRE(archive.days.size() == 2);
  CHECK(archive.days == filed.filings());
  CHECK(archive.days[0].previous == record::no_record);
  CHECK(archive.days[1].previous == archive.days[0].digest);
  CHECK(archive.days[1].day == 8);
  CHECK(archive.days[1].revision == 1);
  const auto list = test::bytes_of(filed.path() / "000001" / "tagmanifest-sha512.txt");
  CHECK(archive.days[0].digest == record::sha256_hex(list));
  const auto bag = record::read_bag(filed.path() / "000002");
  CHECK(bag.findings.empty());
  CHECK(bag.unlisted_tag_files.empty());
  REQUIRE(bag.find("Payload-Oxum") != nullptr);
  CHECK(*bag.find("Payload-Oxum") == "12.2");
  CHECK(std::get<FiledDay>(record::read_filed_day(bag)) == archive.days[1]);
}

TEST_CASE("the same payload again files nothing") {
  const TemporaryFolder work;
  const fs::path archive = work.path() / "archive";
  CHECK(record::file_day(archive, a_day(8), no_reason).is_new);
  const auto again = record::file_day(archive, a_day(8), no_reason);
  CHECK_FALSE(again.is_new);
  CHECK(again.day.number == 1);
  CHECK(record::read_archive(archive).days.size() == 1);
}

TEST_CASE("another payload of a day is a revision that names the one it replaces, what is another, and why") {
  const TemporaryFolder work;
  const fs::path archive = work.path() / "archive";
  (void)record::file_day(archive, a_day(7), no_reason);
  (void)record::file_day(archive, a_day(8), no_reason);
  auto later = a_day(7, "two");
  later.files.push_back({"signoffs/000001/record.json", "{}"});
  std::vector<std::string> said;
  const auto filing = record::file_day(archive, later, [&](const FiledDay& newest, const auto& changed) {
    CHECK(newest.number == 1);
    said = changed;
    return "late count"s;
  });
  CHECK(said == std::vector<std::string>{"data/inputs/days/001/counts.csv", "data/signoffs/000001/record.json"});
  CHECK(filing.day.number == 3);
  CHECK(filing.day.revision == 2);
  CHECK(filing.day.replaces == 1);
  CHECK(filing.day.reason == "late count");
  const auto read = record::read_archive(archive);
  CHECK(first_break(read).empty());
  CHECK(read.days.at(2) == filing.day);
  CHECK_THROWS_WITH(record::file_day(archive, a_day(8, "x"), no_reason), "day 8 is filed again");
  CHECK(record::read_archive(archive).days.size() == 3);
}

TEST_CASE("what a brief may rely on is the longest beginning of earlier days") {
  const Filed filed({6, 7, 8, 7, 9});
  const auto days = filed.read().days;
  CHECK(record::head_before(days, 6) == ArchiveHead{0, std::string(record::no_record)});
  CHECK(record::head_before(days, 8) == ArchiveHead{2, days[1].digest});
  CHECK(record::head_before(days, 9) == ArchiveHead{4, days[3].digest});
  CHECK(record::head_before(days, 10) == ArchiveHead{5, days[4].digest});
  CHECK(record::revisions_of(days, 7) == 2);
  CHECK(record::newest_of(days, 7)->number == 4);
  CHECK(record::newest_of(days, 5) == nullptr);
}

TEST_CASE("every break of numbers and chain is named") {
  const Filed filed({6, 7, 8});
  const fs::path place = filed.path();
  const auto rebag = [&](const fs::path& bag) {
    // As a forger would: the lists are made to fit again.
    const auto info = test::bytes_of(bag / "bag-info.txt");
    record::Digester digester({"sha512"});
    digester.add(info);
    auto list = test::bytes_of(bag / "tagmanifest-sha512.txt");
    list.replace(0, 128, digester.finish().front());
    put(bag / "tagmanifest-sha512.txt", list);
  };
  SECTION("a day that is gone") {
    fs::remove_all(place / "000002");
    CHECK(first_break(filed.read()) == "000002 (missing) is missing");
  }
  SECTION("the first day that is gone") {
    fs::remove_all(place / "000001");
    CHECK(first_break(filed.read()) == "000001 (missing) is missing");
  }
  SECTION("two days in each other's place") {
    fs::rename(place / "000002", place / "x");
    fs::rename(place / "000003", place / "000002");
    fs::rename(place / "x", place / "000003");
    CHECK_THAT(first_break(filed.read()), ContainsSubstring("000002/bag-info.txt says that it is number 3"));
  }
  SECTION("an older copy of a day") {
    const Filed other({6, 7});
    fs::remove_all(place / "000002");
    fs::copy(other.path() / "000001", place / "000002", fs::copy_options::recursive);
    CHECK_FALSE(filed.read().breaks.empty());
  }
  SECTION("a day that was made again, lists and all") {
    auto info = test::bytes_of(place / "000002" / "bag-info.txt");
    info.replace(info.find("2031-05-14"), 10, "2031-05-15");
    put(place / "000002" / "bag-info.txt", info);
    rebag(place / "000002");
    CHECK(first_break(filed.read()) ==
          "000003/bag-info.txt does not follow the day before: the digest in Previous-Digest is another");
  }
  SECTION("a label that lies") {
    put(place / "000003" / "bag-info.txt", "Archive-Number: 3\n");
    CHECK(first_break(filed.read()) == "000003/bag-info.txt has another SHA-512 than tagmanifest-sha512.txt says");
    rebag(place / "000003");
    CHECK(first_break(filed.read()) == "000003/bag-info.txt has no whole number as Mission-Day");
  }
  SECTION("something else in the archive") {
    put(place / "notes.txt", "x");
    CHECK(first_break(filed.read()) == "notes.txt is no filed day");
  }
  SECTION("a day that is a file, a link or a pipe") {
    fs::remove_all(place / "000003");
    SECTION("file") { put(place / "000003", "x"); }
    SECTION("link") { fs::create_directory_symlink("000002", place / "000003"); }
    SECTION("pipe") { REQUIRE(::mkfifo((place / "000003").c_str(), 0600) == 0); }
    CHECK_THAT(first_break(filed.read()), ContainsSubstring("000003"));
  }
  SECTION("a day without a list that no digest rests on") {
    fs::remove(place / "000003" / "tagmanifest-sha256.txt");
    CHECK(first_break(filed.read()) == "000003/tagmanifest-sha256.txt (missing) is missing");
  }
  SECTION("a day without its lists") {
    fs::remove(place / "000003" / "tagmanifest-sha512.txt");
    CHECK_THAT(first_break(filed.read()), ContainsSubstring("000003 (missing) is not whole"));
  }
  CHECK_THROWS_WITH(record::file_day(place, a_day(9), no_reason), ContainsSubstring("the archive is not sound"));
}

TEST_CASE("an archive that is not there holds nothing, and one that is no folder is an error") {
  const TemporaryFolder work;
  CHECK(record::read_archive(work.path() / "archive").days.empty());
  put(work.path() / "file", "x");
  CHECK(test::error_of([&] { (void)record::read_archive(work.path() / "file"); }) == ENOTDIR);
}

TEST_CASE("an archive takes the days of one mission") {
  const TemporaryFolder work;
  (void)record::file_day(work.path() / "archive", a_day(8), no_reason);
  auto other = a_day(9);
  other.mission = "Petrel 4";
  CHECK_THROWS_WITH(record::file_day(work.path() / "archive", other, no_reason),
                    "this archive is that of 'Petrel 3', not of 'Petrel 4'");
}

TEST_CASE("what an interrupted try has left is no day, and the next filing clears it") {
  const TemporaryFolder work;
  const fs::path archive = work.path() / "archive";
  put(archive / ".building-Ab12Cd" / "data" / "x", "half");
  CHECK(record::read_archive(archive).breaks.empty());
  (void)record::file_day(archive, a_day(8), no_reason);
  CHECK_FALSE(fs::exists(archive / ".building-Ab12Cd"));
}

TEST_CASE("only paths that the stock tools read back as they are can be filed") {
  for (const char* good : {"inputs/mission.toml", "inputs/days/001/counts \u00e9 (2).csv", "a*b", "~x", "a'b\"c"})
    CHECK(record::fault_of_payload_path(good).empty());
  for (const auto& bad : {"a\nb"s, "a\rb"s, "a%b"s, "a\\b"s, "a\tb"s, "a\x7f"s})
    CHECK_THAT(record::fault_of_payload_path(bad), ContainsSubstring("the stock tools"));
  CHECK_THAT(record::fault_of_payload_path(std::string(1001, 'x')), ContainsSubstring("longer than 1000 bytes"));
  CHECK_THAT(record::fault_of_payload_path("x\xff.csv"), ContainsSubstring("not UTF-8"));
}
