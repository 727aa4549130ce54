#include "cli/read_files.h"

#include <algorithm>
#include <cerrno>
#include <system_error>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

bool belongs_to_an_editor(const fs::path& path) {
  const std::string name = path.filename().string();
  return name.starts_with('.') || name.ends_with('~');
}

std::vector<fs::path> sorted_entries(const fs::path& folder) {
  std::vector<fs::path> entries;
  for (const auto& entry : fs::directory_iterator(folder)) {
    if (!belongs_to_an_editor(entry.path())) entries.push_back(entry.path());
  }
  std::sort(entries.begin(), entries.end());
  return entries;
}

/// "008": the number of a flight day in three digits, as 001 is the first.
bool is_name_of_a_day(const std::string& name) {
  constexpr std::size_t digits = 3;
  return name.size() == digits && name.find_first_not_of("0123456789") == std::string::npos && name != "000";
}

}  // namespace

std::string read_file(const fs::path& path) {
  const auto fail = [&](int error) {
    throw std::system_error(error, std::generic_category(), "cannot read '" + path.string() + "'");
  };
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (file < 0) fail(errno);
  struct stat info{};
  if (::fstat(file, &info) != 0) {
    const int error = errno;
    ::close(file);
    fail(error);
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
  const fs::path days = folder / "days";
  if (fs::is_directory(days)) {
    for (const auto& day : sorted_entries(days)) {
      const std::string name = "days/" + day.filename().string();
      const auto entries = fs::is_directory(day) ? sorted_entries(day) : std::vector<fs::path>{};
      if (!is_name_of_a_day(day.filename().string()) || entries.empty()) {
        mission.passed_over.push_back(name);
        continue;
      }
      for (const auto& file : entries) {
        if (std::error_code error; fs::is_regular_file(file, error)) {
          mission.files.push_back({name + "/" + file.filename().string(), read_file(file)});
        } else {
          mission.passed_over.push_back(name + "/" + file.filename().string());
        }
      }
    }
  }
  for (const char* name : {"mission.toml", "rules.toml"}) {
    if (fs::is_regular_file(folder / name)) mission.files.push_back({name, read_file(folder / name)});
  }
  std::sort(mission.files.begin(), mission.files.end(), [](const auto& a, const auto& b) { return a.name < b.name; });
  return mission;
}

}  // namespace daywright::cli
