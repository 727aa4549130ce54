#include "cli/read_files.h"

#include <algorithm>
#include <cerrno>
#include <optional>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include "record/descriptor.h"
#include "record/series.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

bool belongs_to_an_editor(const std::string& name) { return name.starts_with('.') || name.ends_with('~'); }

/// "008": the number of a flight day in three digits, as 001 is the first.
bool is_name_of_a_day(const std::string& name) {
  constexpr std::size_t digits = 3;
  return name.size() == digits && name.find_first_not_of("0123456789") == std::string::npos && name != "000";
}

/// The names in a folder that are the mission's, in order.
std::vector<std::string> names_in(const record::Descriptor& folder) {
  auto names = folder.names();
  std::erase_if(names, belongs_to_an_editor);
  return names;
}

/// A folder within a folder; nothing where that name is something else, a link to a folder included.
std::optional<record::Descriptor> open_inner(const record::Descriptor& folder, const std::string& name) {
  struct stat info{};
  if (::fstatat(folder.number(), name.c_str(), &info, AT_SYMLINK_NOFOLLOW) != 0 || !S_ISDIR(info.st_mode))
    return std::nullopt;
  return record::Descriptor(folder, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW);
}

/// Adds the file, or its name to those passed over where it is no regular file: then it is not even opened.
void read_into(MissionFiles& mission, const record::Descriptor& folder, const std::string& name,
               const std::string& shown) {
  struct stat info{};
  if (::fstatat(folder.number(), name.c_str(), &info, AT_SYMLINK_NOFOLLOW) != 0)
    record::fail(errno, "cannot look at", folder.path() / name);
  if (!S_ISREG(info.st_mode)) return mission.passed_over.push_back(shown);
  constexpr std::size_t largest_input = std::size_t{4} << 30U;
  mission.files.push_back(
      {shown, record::Descriptor(folder, name, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_input)});
}

}  // namespace

std::string read_file(const fs::path& path) {
  const auto fail = [&](int error) {
    throw std::system_error(error, std::generic_category(), "cannot read '" + path.string() + "'");
  };
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (file < 0) fail(errno);
  struct stat info{};
  if (::fstat(file, &info) != 0) {
    const int error = errno;
    ::close(file);
    fail(error);
  }
  if (!S_ISREG(info.st_mode)) {  // a pipe that nobody writes to would be waited for
    ::close(file);
    fail(S_ISDIR(info.st_mode) ? EISDIR : EINVAL);
  }
  std::string bytes(static_cast<std::size_t>(std::max<off_t>(info.st_size, 0)), '\0');
  std::size_t have = 0;
  while (true) {
    if (have == bytes.size()) bytes.resize(bytes.size() + 4096);  // the file may have grown, or not say its size
    const ssize_t got = ::read(file, bytes.data() + have, bytes.size() - have);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) {
      const int error = errno;
      ::close(file);
      fail(error);
    }
    if (got == 0) break;
    have += static_cast<std::size_t>(got);
  }
  ::close(file);
  bytes.resize(have);
  return bytes;
}

MissionFiles read_mission(const fs::path& folder) {
  MissionFiles mission;
  if (!fs::is_directory(folder)) {
    throw std::system_error(fs::exists(folder) ? ENOTDIR : ENOENT, std::generic_category(),
                            "cannot read the mission folder '" + folder.string() + "'");
  }
  const record::Descriptor root(folder, O_RDONLY | O_DIRECTORY);
  if (const auto days = open_inner(root, "days")) {
    for (const auto& day : names_in(*days)) {
      const std::string shown = "days/" + day;
      const auto inner = open_inner(*days, day);
      const auto names = inner ? names_in(*inner) : std::vector<std::string>{};
      if (!is_name_of_a_day(day) || names.empty()) {
        mission.passed_over.push_back(shown);
        continue;
      }
      for (const auto& name : names) read_into(mission, *inner, name, fmt::format("{}/{}", shown, name));
    }
  } else if (record::is_there(root, "days")) {
    mission.passed_over.emplace_back("days");
  }
  for (const char* name : {"mission.toml", "rules.toml"}) {
    if (record::is_there(root, name)) read_into(mission, root, name, name);
  }
  std::sort(mission.files.begin(), mission.files.end(), [](const auto& a, const auto& b) { return a.name < b.name; });
  return mission;
}

}  // namespace daywright::cli
