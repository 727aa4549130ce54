#include "cli/read_files.h"

#include <cerrno>
#include <filesystem>
#include <string>
#include <system_error>
#include <vector>

#include <sys/stat.h>
#include <unistd.h>

#include "catch_compat.h"
#include "temporary_folder.h"

using Catch::Matchers::ContainsSubstring;
using daywright::cli::MissionFiles;
using daywright::cli::read_file;
using daywright::cli::read_mission;
using daywright::test::error_of;
using daywright::test::put;
using daywright::test::TemporaryFolder;
using Names = std::vector<std::string>;
namespace fs = std::filesystem;
using namespace std::string_literals;

namespace {

Names names_of(const MissionFiles& mission) {
  Names names;
  for (const auto& file : mission.files) names.push_back(file.name);
  return names;
}

}  // namespace

TEST_CASE("a mission is its two plans and all files of its day folders, in order of the bytes of their names") {
  const TemporaryFolder work;
  for (const char* name : {"rules.toml", "days/010/plan.csv", "mission.toml", "days/008/tasks.csv", "days/008/day.toml",
                           "days/008/tasks-depot.csv", "days/008/Tasks.csv", "days/009/day.toml"})
    put(work.path() / name, "bytes of "s + name);
  const MissionFiles mission = read_mission(work.path());
  CHECK(names_of(mission) == Names{"days/008/Tasks.csv", "days/008/day.toml", "days/008/tasks-depot.csv",
                                   "days/008/tasks.csv", "days/009/day.toml", "days/010/plan.csv", "mission.toml",
                                   "rules.toml"});
  for (const auto& file : mission.files) CHECK(file.text == "bytes of " + file.name);
  CHECK(mission.passed_over.empty());
}

TEST_CASE("a folder that is not named as a day, or that is empty, is passed over and named") {
  const TemporaryFolder work;
  for (const char* name :
       {"days/8/x.csv", "days/0008/x.csv", "days/008-b/x.csv", "days/000/x.csv", "days/007/day.toml"})
    put(work.path() / name, "x");
  fs::create_directory(work.path() / "days" / "009");
  const MissionFiles mission = read_mission(work.path());
  CHECK(names_of(mission) == Names{"days/007/day.toml"});
  CHECK(mission.passed_over == Names{"days/000", "days/0008", "days/008-b", "days/009", "days/8"});
}

TEST_CASE("names are relative to the mission, however its folder is written") {
  const TemporaryFolder work;
  put(work.path() / "days" / "001" / "day.toml", "x");
  fs::create_directory_symlink(work.path(), work.path() / "link");
  for (const fs::path& folder :
       {work.path(), work.path() / "", work.path() / "." / "days" / "..", work.path() / "link"})
    CHECK(names_of(read_mission(folder)) == Names{"days/001/day.toml"});
}

TEST_CASE("what editors leave behind is not read and not spoken of") {
  const TemporaryFolder work;
  for (const char* name : {"days/001/.counts.csv.swp", "days/001/counts.csv~", "days/001/.hidden/x", "days/.trash/x",
                           "days/001~/x", "days/.lock", "mission.toml~"})
    put(work.path() / name, "x");
  put(work.path() / "days" / "001" / "day.toml", "x");
  fs::create_symlink("nowhere", work.path() / "days" / "001" / ".#counts.csv");
  const MissionFiles mission = read_mission(work.path());
  CHECK(names_of(mission) == Names{"days/001/day.toml"});
  CHECK(mission.passed_over.empty());
}

TEST_CASE("what is no file of a day folder is passed over and named, and never opened") {
  const TemporaryFolder work;
  put(work.path() / "days" / "001" / "folder" / "counts.csv", "x");
  put(work.path() / "days" / "notes.txt", "x");
  put(work.path() / "days" / "001" / "day.toml", "x");
  fs::create_symlink("nowhere.csv", work.path() / "days" / "001" / "dangling.csv");
  // Opening a pipe that nobody writes to would wait for ever.
  REQUIRE(::mkfifo((work.path() / "days" / "001" / "pipe.csv").c_str(), 0600) == 0);
  const MissionFiles mission = read_mission(work.path());
  CHECK(names_of(mission) == Names{"days/001/day.toml"});
  CHECK(mission.passed_over ==
        Names{"days/001/dangling.csv", "days/001/folder", "days/001/pipe.csv", "days/notes.txt"});
}

TEST_CASE("a link is passed over and named, wherever it leads, so that nothing outside the folder is read") {
  const TemporaryFolder work;
  put(work.path() / "shared" / "counts.csv", "counted");
  fs::create_directories(work.path() / "days" / "001");
  fs::create_symlink("../../shared/counts.csv", work.path() / "days" / "001" / "counts.csv");
  fs::create_directory_symlink("../shared", work.path() / "days" / "002");
  fs::create_symlink("shared/counts.csv", work.path() / "mission.toml");
  const MissionFiles mission = read_mission(work.path());
  CHECK(names_of(mission).empty());
  CHECK(mission.passed_over == Names{"days/001/counts.csv", "days/002", "mission.toml"});
}

TEST_CASE("links that lead back to themselves are passed over, never followed in a loop") {
  const TemporaryFolder work;
  put(work.path() / "days" / "001" / "day.toml", "x");
  SECTION("a link to the folder it lies in is a folder inside a day") {
    fs::create_directory_symlink(".", work.path() / "days" / "001" / "again");
    const MissionFiles mission = read_mission(work.path());
    CHECK(names_of(mission) == Names{"days/001/day.toml"});
    CHECK(mission.passed_over == Names{"days/001/again"});
  }
  SECTION("a link to itself is passed over") {
    fs::create_symlink("self.csv", work.path() / "days" / "001" / "self.csv");
    CHECK(read_mission(work.path()).passed_over == Names{"days/001/self.csv"});
  }
  SECTION("so is a day") {
    fs::create_symlink("002", work.path() / "days" / "002");
    CHECK(read_mission(work.path()).passed_over == Names{"days/002"});
  }
}

TEST_CASE("a mission folder that is not there, or is a file, is an error that names it") {
  const TemporaryFolder work;
  put(work.path() / "file", "x");
  CHECK(error_of([&] { static_cast<void>(read_mission(work.path() / "absent")); }) == ENOENT);
  CHECK(error_of([&] { static_cast<void>(read_mission(work.path() / "file")); }) == ENOTDIR);
  CHECK_THROWS_WITH(read_mission(work.path() / "absent"), ContainsSubstring("absent"));
}

TEST_CASE("an empty mission folder has no files, and that is for others to complain of") {
  const TemporaryFolder work;
  CHECK(names_of(read_mission(work.path())).empty());
  put(work.path() / "days", "not a folder");
  CHECK(names_of(read_mission(work.path())).empty());
  CHECK(read_mission(work.path()).passed_over == Names{"days"});
}

TEST_CASE("only the two plans are read beside the day folders") {
  const TemporaryFolder work;
  for (const char* name : {"mission.toml", "Mission.toml", "notes.toml", "out/day-001/brief.md", "rules.toml/x"})
    put(work.path() / name, "x");
  CHECK(names_of(read_mission(work.path())) == Names{"mission.toml"});
}

TEST_CASE("a file that may not be read is an error that names it") {
  if (::geteuid() == 0) return;  // root may read everything
  const TemporaryFolder work;
  const fs::path path = work.path() / "days" / "001" / "counts.csv";
  put(path, "x");
  ::chmod(path.c_str(), 0);
  CHECK(error_of([&] { static_cast<void>(read_mission(work.path())); }) == EACCES);
  CHECK_THROWS_WITH(read_mission(work.path()), ContainsSubstring("counts.csv"));
}

TEST_CASE("a folder is no file, and a file that is not there can't be read") {
  const TemporaryFolder work;
  CHECK(error_of([&] { static_cast<void>(read_file(work.path())); }) == EISDIR);
  CHECK(error_of([&] { static_cast<void>(read_file(work.path() / "absent")); }) == ENOENT);
  CHECK_THROWS_WITH(read_file(work.path() / "absent"), ContainsSubstring("cannot read") && ContainsSubstring("absent"));
}

TEST_CASE("a pipe is no file, and is not waited for") {
  const TemporaryFolder work;
  REQUIRE(::mkfifo((work.path() / "pipe").c_str(), 0600) == 0);
  CHECK(error_of([&] { static_cast<void>(read_file(work.path() / "pipe")); }) == EINVAL);
}

TEST_CASE("every byte of a file is read, whatever it is and however many there are") {
  const TemporaryFolder work;
  std::string bytes;
  for (int i = 0; i < 256; ++i) bytes += static_cast<char>(i);
  for (const std::size_t size : {0U, 1U, 256U, 4095U, 4096U, 4097U, 100'000U}) {
    std::string text;
    while (text.size() < size) text += bytes;
    text.resize(size);
    put(work.path() / "file", text);
    CAPTURE(size);
    CHECK(read_file(work.path() / "file") == text);
  }
}

TEST_CASE("a file that does not say its size is read to its end") {
  CHECK_THAT(read_file("/proc/self/status"), ContainsSubstring("Pid:"));
}

TEST_CASE("names that are not UTF-8 are kept byte by byte") {
  const TemporaryFolder work;
  const std::string name = "counts-\xff\xfe.csv";
  put(work.path() / "days" / "001" / name, "x");
  if (!fs::exists(work.path() / "days" / "001" / name)) return;  // some file systems take no such names
  CHECK(names_of(read_mission(work.path())) == Names{"days/001/" + name});
}
