#include "cli/signed_outputs.h"

#include <optional>
#include <system_error>

#include <fcntl.h>

#include "cli/session.h"
#include "record/descriptor.h"
#include "record/digest.h"
#include "write/json.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

/// The bytes of an output; nothing where it is not there, or is no file.
std::optional<std::string> read_output(const fs::path& path) {
  try {
    return record::Descriptor(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output);
  } catch (const std::system_error&) {
    return std::nullopt;
  }
}

}  // namespace

std::vector<std::string> others_since(const model::SignOff& signoff, const Command& command,
                                      const MissionFiles& files) {
  const int day = static_cast<int>(signoff.day);
  const fs::path place = day_folder(command, day);
  std::vector<std::string> others;
  for (const auto& subject : signoff.subjects) {
    const auto bytes = read_output(place / subject.path);
    if (!bytes || record::sha256_hex(*bytes) != subject.sha256) others.push_back("output " + subject.path);
  }
  const auto list = read_output(place / inputs_file_name());
  if (others.empty() && list) return write::changed_inputs(*list, list_mission_files(files, day));
  return others;
}

}  // namespace daywright::cli
