#include "record/series.h"

#include <cerrno>
#include <charconv>
#include <system_error>

#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "record/output_folder.h"

namespace daywright::record {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view building_prefix = ".building-";
constexpr mode_t open_to_all = 0755;

fs::path parent_of(const fs::path& place) {
  const auto parent = place.parent_path();
  return parent.empty() ? "." : parent;
}

/// "a/b/" as "a/b".
fs::path without_slash(const fs::path& place) { return place.has_filename() ? place : place.parent_path(); }

}  // namespace

std::string name_of_member(std::int64_t number) { return fmt::format("{:06}", number); }

std::optional<std::int64_t> number_of_member(std::string_view name) {
  std::int64_t number = 0;
  const auto read = std::from_chars(name.data(), name.data() + name.size(), number);
  const bool is_number = read.ec == std::errc{} && number > 0 && name_of_member(number) == name;
  return is_number ? std::optional(number) : std::nullopt;
}

bool is_there(const Descriptor& folder, const std::string& name) {
  struct stat info{};
  if (::fstatat(folder.number(), name.c_str(), &info, AT_SYMLINK_NOFOLLOW) == 0) return true;
  if (errno != ENOENT) fail(errno, "cannot look at", folder.path() / name);
  return false;
}

bool is_of_the_thing(const std::system_error& error) {
  const int code = error.code().value();
  return code == EINVAL || code == EFBIG || code == ELOOP || code == ENOTDIR || code == EAGAIN || code == ENXIO;
}

SeriesList list_series(const Descriptor& series) {
  // The number after the last may be there when somebody adds to it just now: then the list is made again.
  constexpr int tries = 100;
  for (int i = 0; i < tries; ++i) {
    SeriesList list;
    for (const auto& name : series.names()) {
      if (name.starts_with(building_prefix)) continue;  // being built, or left by a try that was interrupted
      if (const auto number = number_of_member(name)) {
        list.numbers.insert(*number);
      } else {
        list.strangers.push_back(name);
      }
    }
    const std::int64_t last = list.numbers.empty() ? 0 : *list.numbers.rbegin();
    if (!is_there(series, name_of_member(last + 1))) return list;
  }
  fail(EAGAIN, "can't be listed whole:", series.path());
}

Series::Series(const fs::path& place)
    : name_(without_slash(place).filename()),
      parent_(parent_of(without_slash(place)), O_RDONLY | O_DIRECTORY),
      is_new_(make()),
      folder_(parent_, name_, open_folder) {
  // Each time: whoever made the folder may not have come this far.
  parent_.sync();
}

Series::~Series() {
  if (is_new_) ::unlinkat(parent_.number(), name_.c_str(), AT_REMOVEDIR);  // only while it is empty
}

bool Series::make() const {
  if (::mkdirat(parent_.number(), name_.c_str(), open_to_all) == 0) return true;
  if (errno != EEXIST) fail(errno, "cannot make the folder", parent_.path() / name_);
  return false;
}

void Series::wait_for_others() const {
  constexpr int tries = 3000;
  constexpr useconds_t pause = 10'000;
  for (int i = 0; i < tries && ::flock(folder_.number(), LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK; ++i)
    ::usleep(pause);
}

void Series::clear_leftovers() const {
  for (const auto& name : folder_.names()) {
    if (!name.starts_with(building_prefix)) continue;
    const int number = ::openat(folder_.number(), name.c_str(), open_folder | O_CLOEXEC);
    if (number < 0) continue;
    const Descriptor leftover(number, folder_.path() / name);
    std::error_code ignored;
    if (::flock(number, LOCK_EX | LOCK_NB) == 0) fs::remove_all(leftover.path(), ignored);
  }
}

NewMember::NewMember(const Descriptor& series) : series_(series), folder_(make(series)) {}

NewMember::~NewMember() {
  std::error_code ignored;
  if (!is_placed_) fs::remove_all(folder_.path(), ignored);
}

Descriptor NewMember::make(const Descriptor& series) {
  while (true) {
    std::string pattern = (series.path() / fmt::format("{}XXXXXX", building_prefix)).string();
    if (::mkdtemp(pattern.data()) == nullptr) fail(errno, "cannot make a folder in", series.path());
    Descriptor folder(fs::path(pattern), open_folder);
    if (::fchmod(folder.number(), open_to_all) != 0) fail(errno, "cannot open up", folder.path());
    ::flock(folder.number(), LOCK_EX | LOCK_NB);
    // Between the two somebody may have taken it for a leftover.
    if (folder.info().st_nlink > 0) return folder;
  }
}

void NewMember::make_folders_of(const std::string& name) {
  for (auto slash = name.find('/'); slash != std::string::npos; slash = name.find('/', slash + 1)) {
    const std::string inner = name.substr(0, slash);
    if (!inner_.insert(inner).second) continue;
    if (::mkdirat(folder_.number(), inner.c_str(), open_to_all) != 0)
      fail(errno, "cannot make the folder", folder_.path() / inner);
  }
}

void NewMember::write(const std::string& name, std::string_view bytes) {
  make_folders_of(name);
  Descriptor file(folder_, name, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW);
  file.write_all(bytes);
  file.sync();
  file.close();
}

bool NewMember::place(std::int64_t number) {
  for (auto inner = inner_.rbegin(); inner != inner_.rend(); ++inner) Descriptor(folder_, *inner, open_folder).sync();
  folder_.sync();
  const std::string building = folder_.path().filename();
  const std::string final = name_of_member(number);
  if (::renameat2(series_.number(), building.c_str(), series_.number(), final.c_str(), RENAME_NOREPLACE) != 0) {
    if (errno == EEXIST) return false;
    fail(errno, "cannot put in place", series_.path() / final);
  }
  is_placed_ = true;
  try {
    series_.sync();
  } catch (const std::system_error& error) {
    throw InDoubt(fmt::format("'{}' is in place, but {}", (series_.path() / final).string(), error.what()));
  }
  return true;
}

}  // namespace daywright::record
