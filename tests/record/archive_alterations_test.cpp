// Whatever is done to an archive, to any byte, file or day of it, is reported to whoever noted its count and digest;
// and to nobody else only what the README says can't be found without them.
#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <iostream>
#include <iterator>
#include <map>
#include <set>
#include <string>
#include <vector>

#include <fcntl.h>
#include <unistd.h>

#include "catch_compat.h"
#include "record/archive.h"
#include "record/bag_builder.h"

using namespace daywright;
using record::Archive;
using record::ArchiveHead;
using record::Descriptor;
using test::TemporaryFolder;
namespace fs = std::filesystem;

namespace {

bool is_full() { return std::getenv("DAYWRIGHT_FULL") != nullptr; }

#ifdef NDEBUG
constexpr std::size_t sampled_step = 7;
#else
constexpr std::size_t sampled_step = 67;  // sanitizers take ten times as long
#endif

void file(const fs::path& archive, int day, const std::string& bytes) {
  const record::DayToFile to_file{
      "Petrel 3", day, {{"inputs/counts.csv", bytes}, {"outputs/brief.md", "READY\n"}}, {}, "2031-05-14", "t"};
  (void)record::file_day(archive, to_file, [](auto&&...) { return std::string("late count"); });
}

/// Two days, and a later revision of the first.
void file_three(const fs::path& archive, const std::string& last = "3") {
  file(archive, 7, "1");
  file(archive, 8, "2");
  file(archive, 7, last);
}

/// An archive to be altered, and what is found then.
class Altered {
 public:
  Altered() {
    file_three(path());
    const auto days = record::read_archive(path()).days;
    head_ = {static_cast<std::int64_t>(days.size()), days.back().digest};
    files_ = test::files_in(path());
  }

  [[nodiscard]] fs::path path() const { return work_.path() / "archive"; }
  [[nodiscard]] const std::map<std::string, std::string>& files() const { return files_; }

  /// Judges what is there now.
  void judge(const std::string& what) {
    ++tried;
    if (is_found()) return;
    const auto days = record::read_archive(path()).days;
    const bool is_head = days.size() == static_cast<std::size_t>(head_.count) && days.back().digest == head_.digest;
    (is_head ? unseen : seen_by_head).insert(what);
  }

  void overwrite(const std::string& name, const std::string& bytes) const {
    // Without emptying the file first, for which some file systems wait for the disk.
    const Descriptor open(path() / name, O_WRONLY);
    open.write_all(bytes);
    REQUIRE(::ftruncate(open.number(), static_cast<off_t>(bytes.size())) == 0);
  }

  /// Has it altered, judges it, and puts it back as it was.
  void alter(const std::string& what, const std::function<void()>& act) {
    const fs::path kept = work_.path() / "kept";
    fs::copy(path(), kept, fs::copy_options::recursive);
    act();
    judge(what);
    fs::remove_all(path());
    fs::rename(kept, path());
  }

  void swap(const std::string& one, const std::string& other) const {
    fs::rename(path() / one, work_.path() / "aside");
    fs::rename(path() / other, path() / one);
    fs::rename(work_.path() / "aside", path() / other);
  }

  std::size_t tried = 0;
  std::set<std::string> unseen;
  std::set<std::string> seen_by_head;  ///< and by nothing else

 private:
  /// Without what was noted.
  [[nodiscard]] bool is_found() const {
    const Archive archive = record::read_archive(path());
    return !archive.breaks.empty() || std::any_of(archive.days.begin(), archive.days.end(), [&](const auto& day) {
      const auto bag = record::read_bag(path() / record::name_of_member(day.number));
      return !bag.is_valid() || !bag.unlisted_tag_files.empty();
    });
  }

  TemporaryFolder work_;
  ArchiveHead head_;
  std::map<std::string, std::string> files_;
};

}  // namespace

TEST_CASE("every altered byte of an archive is reported without any help", "[sweep]") {
  Altered archive;
  const std::size_t step = is_full() ? 1 : sampled_step;
  std::size_t turn = 0;
  for (const auto& [name, bytes] : archive.files()) {
    for (std::size_t at = turn++ % step; at < bytes.size(); at += step) {
      const auto judge = [&](const std::string& what, const std::string& altered) {
        archive.overwrite(name, altered);
        archive.judge(name + ": " + what + " at " + std::to_string(at));
      };
      for (std::size_t bit = 0; bit < 8; ++bit) {
        if (!is_full() && bit != at % 8) continue;
        std::string flipped = bytes;
        flipped[at] = static_cast<char>(static_cast<unsigned char>(bytes[at]) ^ (1U << bit));
        judge("bit " + std::to_string(bit) + " flipped", flipped);
      }
      judge("byte taken out", std::string(bytes).erase(at, 1));
      judge("byte put in", std::string(bytes).insert(at, 1, 'x'));
      judge("byte doubled", std::string(bytes).insert(at, 1, bytes[at]));
      judge("cut off", bytes.substr(0, at));
    }
    for (const char c : {'\n', '\r', ' ', '\0', 'x'}) {
      archive.overwrite(name, bytes + c);
      archive.judge(name + ": byte added");
    }
    archive.overwrite(name, bytes);
  }
  CHECK(archive.unseen == std::set<std::string>{});
  CHECK(archive.seen_by_head == std::set<std::string>{});
  std::cerr << archive.tried << " altered bytes of an archive, all reported\n";
}

TEST_CASE("every file of an archive that is removed, renamed, added or in another's place is reported", "[sweep]") {
  Altered archive;
  const auto& files = archive.files();
  const std::size_t step = is_full() ? 1 : sampled_step;
  std::size_t turn = 0;
  for (auto one = files.begin(); one != files.end(); ++one) {
    const fs::path path = archive.path() / one->first;
    archive.alter("removed " + one->first, [&] { fs::remove(path); });
    archive.alter("renamed " + one->first, [&] { fs::rename(path, path.string() + "x"); });
    archive.alter("added beside " + one->first, [&] { test::put(path.string() + "x", one->second); });
    archive.alter("made a folder " + one->first, [&] {
      fs::remove(path);
      fs::create_directory(path);
    });
    archive.alter("made a link " + one->first, [&] {
      fs::rename(path, archive.path().parent_path() / "elsewhere");
      fs::create_symlink(archive.path().parent_path() / "elsewhere", path);
    });
    for (auto other = std::next(one); other != files.end(); ++other) {
      if (one->second == other->second || turn++ % step != 0) continue;
      archive.alter("swapped " + one->first + " and " + other->first, [&] { archive.swap(one->first, other->first); });
    }
  }
  CHECK(archive.unseen == std::set<std::string>{});
  CHECK(archive.seen_by_head == std::set<std::string>{});
  std::cerr << archive.tried << " altered files of an archive, all reported\n";
}

TEST_CASE("days that are gone or other days are reported; those at the end, and a whole other archive, by the anchor") {
  Altered archive;
  const TemporaryFolder work;
  const fs::path other = work.path() / "other";
  file_three(other, "made up");
  const fs::path stranger = work.path() / "stranger";
  file(stranger, 7, "another");
  file(stranger, 8, "2");
  file(stranger, 7, "3");
  const std::vector<std::string> days{"000001", "000002", "000003"};
  const auto copy = [](const fs::path& from, const fs::path& to) {
    fs::remove_all(to);
    fs::copy(from, to, fs::copy_options::recursive);
  };
  for (const auto& day : days) {
    const fs::path place = archive.path() / day;
    archive.alter(day + " is gone", [&] { fs::remove_all(place); });
    archive.alter(day + " is left as if still being built",
                  [&] { fs::rename(place, archive.path() / ".building-Ab12Cd"); });
    archive.alter(day + " has another number", [&] { fs::rename(place, archive.path() / "000004"); });
    archive.alter(day + " is there twice", [&] { copy(place, archive.path() / "000004"); });
    archive.alter(day + " is that of another archive", [&] { copy(stranger / day, place); });
    for (const auto& older : days) {
      if (older == day) continue;
      archive.alter(day + " is a copy of " + older, [&] { copy(archive.path() / older, place); });
      if (older < day) archive.alter(day + " and " + older + " are swapped", [&] { archive.swap(day, older); });
    }
  }
  archive.alter("the last two are gone", [&] {
    fs::remove_all(archive.path() / "000003");
    fs::remove_all(archive.path() / "000002");
  });
  archive.alter("all are gone", [&] {
    for (const auto& day : days) fs::remove_all(archive.path() / day);
  });
  archive.alter("the archive is gone", [&] { fs::remove_all(archive.path()); });
  archive.alter("the last is made up, lists and all", [&] { copy(other / "000003", archive.path() / "000003"); });
  archive.alter("another archive of as many days", [&] { copy(stranger, archive.path()); });
  CHECK(archive.unseen == std::set<std::string>{});
  // What the README says under "What can't be found without --expect".
  CHECK(archive.seen_by_head == std::set<std::string>{"000003 is gone", "000003 is left as if still being built",
                                                      "the last two are gone", "all are gone", "the archive is gone",
                                                      "the last is made up, lists and all",
                                                      "another archive of as many days"});
  std::cerr << archive.tried << " altered days of an archive, all reported\n";
}
