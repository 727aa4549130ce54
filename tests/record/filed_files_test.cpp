#include "record/filed_files.h"

#include <filesystem>
#include <string>

#include "catch_compat.h"
#include "record/archive.h"
#include "record/digest.h"
#include "temporary_folder.h"

using namespace daywright;
using Catch::Matchers::ContainsSubstring;
using record::FiledFiles;
using record::NotAsFiled;
using test::bytes_of;
using test::put;
namespace fs = std::filesystem;

namespace {

/// A filed day, and its bag.
struct OneBag {
  test::TemporaryFolder work;
  record::FiledDay filed;
  fs::path place;

  OneBag() {
    const record::DayToFile day{
        "Petrel 3",   1,  {{"inputs/x  data/outputs/status.json", "odd name"}, {"outputs/status.json", "status"}}, {},
        "2031-05-14", "t"};
    filed = record::file_day(work.path() / "archive", day, [](auto&&...) { return std::string("late"); }).day;
    place = work.path() / "archive" / "000001";
  }
  void change(const std::string& name, char to = '!') const {
    std::string bytes = bytes_of(place / name);
    bytes.front() = to;
    put(place / name, bytes);
  }
  [[nodiscard]] std::string read() const { return FiledFiles(place, filed.digest).read("outputs/status.json"); }
};

}  // namespace

TEST_CASE("a file is read as it was filed, with or without the chain's digest") {
  const OneBag bag;
  CHECK(bag.read() == "status");
  const FiledFiles alone(bag.place, "");
  CHECK(alone.read("outputs/status.json") == "status");
  CHECK(alone.digest_of("outputs/status.json") == record::sha256_hex("status"));
  CHECK(alone.digest_of("outputs/other").empty());
  CHECK(alone.digest_of("status.json").empty());
}

TEST_CASE("each link between the chain and the file is held") {
  const OneBag bag;
  CHECK_THROWS_AS(FiledFiles(bag.place, std::string(64, '0')), NotAsFiled);
  SECTION("the file") {
    bag.change("data/outputs/status.json");
    CHECK_THROWS_WITH(bag.read(), ContainsSubstring("has another SHA-256 than manifest-sha256.txt says"));
  }
  SECTION("the file and its list") {
    put(bag.place / "data/outputs/status.json", "statuz");
    std::string list = bytes_of(bag.place / "manifest-sha256.txt");
    list.replace(list.find(record::sha256_hex("status")), 64, record::sha256_hex("statuz"));
    put(bag.place / "manifest-sha256.txt", list);
    CHECK_THROWS_WITH(bag.read(), ContainsSubstring("manifest-sha256.txt has another SHA-512"));
  }
  SECTION("the list of lists") {
    bag.change("tagmanifest-sha512.txt");
    CHECK_THROWS_WITH(bag.read(), ContainsSubstring("has another digest than the chain says"));
  }
  SECTION("a file that is not listed") {
    put(bag.place / "data/outputs/more.json", "more");
    CHECK_THROWS_WITH(FiledFiles(bag.place, bag.filed.digest).read("outputs/more.json"),
                      ContainsSubstring("does not list"));
  }
  SECTION("a file that is gone") {
    fs::remove(bag.place / "data/outputs/status.json");
    CHECK_THROWS_AS(bag.read(), NotAsFiled);
  }
  SECTION("a link in place of the file, or of its folder") {
    fs::rename(bag.place / "data/outputs", bag.work.path() / "outputs");
    fs::create_directory_symlink(bag.work.path() / "outputs", bag.place / "data/outputs");
    CHECK_THROWS_AS(bag.read(), NotAsFiled);
  }
}
