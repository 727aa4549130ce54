#include "record/output_folder.h"

#include <cerrno>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <system_error>
#include <vector>

#include <sys/stat.h>
#include <unistd.h>

#include "catch_compat.h"
#include "file_size_limit.h"
#include "temporary_folder.h"

using Catch::Matchers::ContainsSubstring;
using daywright::record::OutputFolder;
using daywright::test::bytes_of;
using daywright::test::error_of;
using daywright::test::FileSizeLimit;
using daywright::test::names_in;
using daywright::test::put;
using daywright::test::TemporaryFolder;
using Names = std::vector<std::string>;
namespace fs = std::filesystem;
using namespace std::string_literals;

namespace {

/// What stands in the day folder before a run.
void put_old_outputs(const fs::path& place) {
  put(place / "brief.md", "yesterday");
  put(place / "only-old.txt", "yesterday");
  put(place / "deep.txt", "yesterday");
}

bool holds_old_outputs(const fs::path& place) {
  return names_in(place) == Names{"brief.md", "deep.txt", "only-old.txt"} &&
         bytes_of(place / "brief.md") == "yesterday" && bytes_of(place / "deep.txt") == "yesterday";
}

}  // namespace

TEST_CASE("the first publish puts the files in place, byte by byte, and nothing beside them") {
  const TemporaryFolder work;
  const fs::path place = work.path() / "out" / "day-008";
  const std::string bytes = "line\r\n\0\xff end"s;
  OutputFolder folder(place);
  folder.write("brief.md", bytes);
  folder.write("empty.txt", "");
  CHECK_FALSE(fs::exists(place));
  folder.publish();
  CHECK(names_in(place) == Names{"brief.md", "empty.txt"});
  CHECK(bytes_of(place / "brief.md") == bytes);
  CHECK(bytes_of(place / "empty.txt").empty());
  CHECK(names_in(place.parent_path()) == Names{"day-008"});
}

TEST_CASE("missing folders above the final place are made, however many") {
  const TemporaryFolder work;
  const fs::path place = work.path() / "a" / "b" / "c" / "day-001";
  OutputFolder folder(place);
  folder.publish();
  CHECK(fs::is_directory(place));
}

TEST_CASE("publishing over an old folder leaves only what is new") {
  const TemporaryFolder work;
  const fs::path place = work.path() / "day-008";
  put_old_outputs(place);
  {
    OutputFolder folder(place);
    folder.write("brief.md", "today");
    folder.publish();
    CHECK(names_in(place) == Names{"brief.md"});
    CHECK(bytes_of(place / "brief.md") == "today");
    CHECK(names_in(work.path()) == Names{"day-008"});
  }
  CHECK(names_in(place) == Names{"brief.md"});
}

TEST_CASE("publishing twenty times over leaves one folder with the last files") {
  const TemporaryFolder work;
  const fs::path place = work.path() / "day-008";
  for (int i = 0; i < 20; ++i) {
    OutputFolder folder(place);
    folder.write("brief.md", std::to_string(i));
    folder.publish();
  }
  CHECK(bytes_of(place / "brief.md") == "19");
  CHECK(names_in(work.path()) == Names{"day-008"});
}

TEST_CASE("until it is published, the final place is untouched at every step") {
  const TemporaryFolder work;
  const fs::path place = work.path() / "day-008";
  put_old_outputs(place);
  OutputFolder folder(place);
  CHECK(holds_old_outputs(place));
  folder.write("brief.md", "today");
  CHECK(holds_old_outputs(place));
  put(folder.path_of("brief.xlsx"), "cells");
  folder.keep("brief.xlsx");
  CHECK(holds_old_outputs(place));
  folder.publish();
  CHECK(names_in(place) == Names{"brief.md", "brief.xlsx"});
  CHECK(bytes_of(place / "brief.xlsx") == "cells");
}

TEST_CASE("after an exception nothing is left behind, whether or not there were old outputs") {
  const bool has_old = GENERATE(false, true);
  const TemporaryFolder work;
  const fs::path place = work.path() / "day-008";
  if (has_old) put_old_outputs(place);
  try {
    OutputFolder folder(place);
    folder.write("brief.md", "today");
    put(folder.path_of("below") / "scratch", "left by a library");
    throw std::runtime_error("the workbook can't be saved");
  } catch (const std::runtime_error&) {
    CHECK(names_in(work.path()) == (has_old ? Names{"day-008"} : Names{}));
  }
  if (has_old) CHECK(holds_old_outputs(place));
}

TEST_CASE("a file that does not fit on the disk is an error, and the old outputs stay whole") {
  const TemporaryFolder work;
  const fs::path place = work.path() / "day-008";
  put_old_outputs(place);
  constexpr std::size_t room = 5000;
  for (const std::size_t size : {room, room + 1}) {
    CAPTURE(size);
    int error = 0;
    {
      const FileSizeLimit limit(room);
      error = error_of([&] { OutputFolder(place).write("brief.md", std::string(size, 'x')); });
    }
    CHECK(error == (size > room ? EFBIG : 0));
    CHECK(holds_old_outputs(place));
    CHECK(names_in(work.path()) == Names{"day-008"});
  }
}

TEST_CASE("an error says what could not be done and to which file") {
  const TemporaryFolder work;
  OutputFolder folder(work.path() / "day-008");
  CHECK_THROWS_WITH(folder.keep("absent.xlsx"), ContainsSubstring("cannot open") && ContainsSubstring("absent.xlsx"));
  CHECK(error_of([&] { folder.keep("absent.xlsx"); }) == ENOENT);
}

TEST_CASE("a name that is taken is not written over") {
  const TemporaryFolder work;
  OutputFolder folder(work.path() / "day-008");
  folder.write("brief.md", "first");
  CHECK(error_of([&] { folder.write("brief.md", "second"); }) == EEXIST);
  CHECK(bytes_of(folder.path_of("brief.md")) == "first");
}

TEST_CASE("two runs at once do not write into each other's files, and the later publish counts") {
  const TemporaryFolder work;
  const fs::path place = work.path() / "day-008";
  OutputFolder one(place);
  OutputFolder other(place);
  one.write("brief.md", "one");
  other.write("brief.md", "other");
  other.publish();
  CHECK(bytes_of(place / "brief.md") == "other");
  one.publish();
  CHECK(bytes_of(place / "brief.md") == "one");
  CHECK(names_in(work.path()) == Names{"day-008"});
}

TEST_CASE("an out folder whose parent is a file is refused") {
  const TemporaryFolder work;
  put(work.path() / "out", "not a folder");
  CHECK(error_of([&] { OutputFolder(work.path() / "out" / "day-008"); }) == ENOTDIR);
  CHECK(bytes_of(work.path() / "out") == "not a folder");
}

TEST_CASE("an out folder where nothing can be made is refused") {
  // The kernel makes no folder in /proc for anybody, root included.
  CHECK(error_of([] { OutputFolder("/proc/daywright-test/day-008"); }) != 0);
  CHECK(error_of([] { OutputFolder("/proc/daywright-test"); }) != 0);
}

TEST_CASE("an out folder that may not be written to is refused and stays as it is") {
  if (::geteuid() == 0) return;  // root may write everywhere
  const TemporaryFolder work;
  const fs::path out = work.path() / "out";
  fs::create_directory(out);
  ::chmod(out.c_str(), 0555);
  const int error = error_of([&] { OutputFolder(out / "day-008"); });
  ::chmod(out.c_str(), 0755);
  CHECK(error == EACCES);
  CHECK(names_in(out).empty());
}

TEST_CASE("a folder that holds folders is nobody's outputs, and is left as it is") {
  const TemporaryFolder work;
  const fs::path place = work.path() / "day-008";
  put(place / "mine" / "letter.txt", "dear");
  OutputFolder folder(place);
  folder.write("brief.md", "today");
  CHECK_THROWS_WITH(folder.publish(), ContainsSubstring("holds a folder, which outputs never do"));
  CHECK(bytes_of(place / "mine" / "letter.txt") == "dear");
  CHECK(names_in(place) == Names{"mine"});
}

TEST_CASE("a link in the final place is replaced, and what it points to stays") {
  const TemporaryFolder work;
  const fs::path elsewhere = work.path() / "elsewhere";
  put_old_outputs(elsewhere);
  fs::create_directory_symlink(elsewhere, work.path() / "day-008");
  OutputFolder folder(work.path() / "day-008");
  folder.write("brief.md", "today");
  folder.publish();
  CHECK(fs::is_directory(fs::symlink_status(work.path() / "day-008")));
  CHECK(bytes_of(work.path() / "day-008" / "brief.md") == "today");
  CHECK(holds_old_outputs(elsewhere));
}

TEST_CASE("others may read the outputs as the mask of new files allows") {
  const TemporaryFolder work;
  const fs::path place = work.path() / "day-008";
  const mode_t old_mask = ::umask(022);
  OutputFolder folder(place);
  folder.write("brief.md", "today");
  folder.publish();
  ::umask(old_mask);
  struct stat info{};
  REQUIRE(::stat(place.c_str(), &info) == 0);
  CHECK((info.st_mode & 07777) == 0755);
  REQUIRE(::stat((place / "brief.md").c_str(), &info) == 0);
  CHECK((info.st_mode & 07777) == 0644);
}
