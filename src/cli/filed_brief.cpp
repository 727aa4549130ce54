#include "cli/filed_brief.h"

#include <algorithm>
#include <charconv>
#include <stdexcept>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>

#include "cli/outputs.h"
#include "cli/read_files.h"
#include "cli/session.h"
#include "model/printable.h"
#include "record/descriptor.h"
#include "record/filed_files.h"
#include "record/series.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

struct DayAsked {
  std::int64_t day = 0;
  std::int64_t revision = 0;  ///< 0: the newest
};

/// "8" or "8.2".
std::optional<DayAsked> read_day(const std::string& text) {
  DayAsked asked;
  const char* const end = text.data() + text.size();
  auto read = std::from_chars(text.data(), end, asked.day);
  if (read.ec != std::errc{} || asked.day < 1) return std::nullopt;
  if (read.ptr != end) {
    if (*read.ptr != '.') return std::nullopt;
    read = std::from_chars(read.ptr + 1, end, asked.revision);
    if (read.ec != std::errc{} || read.ptr != end || asked.revision < 1) return std::nullopt;
  }
  return asked;
}

write::ComparedBrief read_bag(const std::string& given, const fs::path& place, std::string_view digest) {
  try {
    const record::FiledFiles files(place, digest);
    return {given, files.read(fmt::format("outputs/{}", status_file)),
            files.read(fmt::format("outputs/{}", inputs_file))};
  } catch (const record::NotAsFiled& fault) {
    throw std::runtime_error(fmt::format("'{}' is NOT AS FILED: {}", given, fault.what()));
  }
}

std::string read_output(const fs::path& path) {
  return record::Descriptor(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output);
}

}  // namespace

fs::path archive_of(const fs::path& given) {
  std::error_code error;
  const fs::path place = fs::is_regular_file(given / "mission.toml", error) ? given / record::archive_folder : given;
  if (fs::is_directory(place, error)) {
    const record::Descriptor folder(place, O_RDONLY | O_DIRECTORY);
    if (!record::list_series(folder).numbers.empty()) return place;
  }
  throw std::runtime_error(fmt::format("nothing is filed in '{}'", place.string()));
}

std::vector<std::string> faults_of(const record::Archive& archive) {
  std::vector<std::string> faults;
  for (const auto& found : archive.breaks) faults.push_back(fmt::format("'{}' {}", found.where, found.what));
  return faults;
}

void warn_of_faults(const fs::path& place, const std::vector<std::string>& faults) {
  if (faults.empty()) return;
  for (const auto& fault : faults) complain(fmt::format("daywright: NOT SOUND: {}\n", model::printable(fault)));
  complain(fmt::format("daywright: the archive is not as it was written; 'daywright verify {}' says all\n",
                       model::printable(place.string())));
}

FoundBrief find_brief(const std::string& given) {
  std::error_code error;
  const fs::path path(given);
  if (fs::is_regular_file(path / "bagit.txt", error)) return {read_bag(given, path, ""), true};
  if (fs::is_regular_file(path / status_file, error))
    return {{given, read_output(path / status_file), read_output(path / inputs_file)}, true};
  const auto at = given.rfind('@');
  const auto asked = at == std::string::npos ? std::nullopt : read_day(given.substr(at + 1));
  if (!asked)
    throw std::runtime_error(fmt::format(
        "'{}' is no bag, no folder with a {}, and no day of an archive such as DIR@8 or DIR@8.2", given, status_file));
  const fs::path place = archive_of(given.substr(0, at));
  const auto archive = record::read_archive(place);
  const auto faults = faults_of(archive);
  warn_of_faults(place, faults);
  const auto is_it = [&](const record::FiledDay& filed) {
    return filed.day == asked->day && (asked->revision == 0 || filed.revision == asked->revision);
  };
  const auto filed = std::find_if(archive.days.rbegin(), archive.days.rend(), is_it);
  if (filed == archive.days.rend())
    throw std::runtime_error(fmt::format("'{}' is not filed: the archive holds no such day or revision", given));
  return {read_bag(given, place / record::name_of_member(filed->number), filed->digest), faults.empty()};
}

}  // namespace daywright::cli
