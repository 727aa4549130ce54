#include "record/output_file.h"

#include <cerrno>
#include <filesystem>
#include <string>

#include <sys/stat.h>

#include "catch_compat.h"
#include "file_size_limit.h"
#include "temporary_folder.h"

using namespace daywright;
using test::bytes_of;
using test::error_of;
using test::names_in;
using test::put;
using Names = std::vector<std::string>;

TEST_CASE("a file is there whole, in place of what was there, and nothing beside it") {
  const test::TemporaryFolder work;
  const auto place = work.path() / "page.html";
  record::save_file(place, "one");
  CHECK(bytes_of(place) == "one");
  record::save_file(place, "two, longer");
  CHECK(bytes_of(place) == "two, longer");
  CHECK(names_in(work.path()) == Names{"page.html"});
  struct stat info{};
  REQUIRE(::stat(place.c_str(), &info) == 0);
  CHECK((info.st_mode & 0777U) == 0644U);
}

TEST_CASE("a file that does not fit leaves what was there") {
  const test::TemporaryFolder work;
  const auto place = work.path() / "page.html";
  put(place, "yesterday");
  {
    const test::FileSizeLimit limit(1000);
    CHECK(error_of([&] { record::save_file(place, std::string(2000, 'x')); }) == EFBIG);
  }
  CHECK(bytes_of(place) == "yesterday");
  CHECK(names_in(work.path()) == Names{"page.html"});
}

TEST_CASE("a folder is not replaced by a file") {
  const test::TemporaryFolder work;
  CHECK(error_of([&] { record::save_file(work.path() / "no" / "page.html", "x"); }) == ENOENT);
  std::filesystem::create_directory(work.path() / "folder");
  CHECK(error_of([&] { record::save_file(work.path() / "folder", "x"); }) == EISDIR);
  CHECK(names_in(work.path()) == Names{"folder"});
}
