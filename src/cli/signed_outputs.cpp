#include "cli/signed_outputs.h"

#include <optional>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>

#include "cli/session.h"
#include "record/descriptor.h"
#include "record/digest.h"
#include "record/signoff_log.h"
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

std::vector<std::string> say_what_is_overtaken(const Command& command, const MissionFiles& files) {
  std::vector<std::string> said;
  const record::SignOffLog log = record::read_signoffs(command.folder);
  if (!log.breaks.empty())
    said.push_back(fmt::format("the sign-offs are not sound ('{}' {}); 'daywright verify' says all",
                               log.breaks.front().where, log.breaks.front().what));
  std::vector<model::SignOff> records;
  for (const auto& stored : log.records) records.push_back(stored.signoff);
  for (const auto* signoff : model::standing(records)) {
    const auto others = others_since(*signoff, command, files);
    if (others.empty()) continue;
    said.push_back(fmt::format("sign-off {} of {} on day {} is overtaken: '{}'{} changed since", signoff->number,
                               signoff->signer.principal, signoff->day, others.front(),
                               others.size() == 1 ? "" : fmt::format(" and {} more", others.size() - 1)));
  }
  return said;
}

}  // namespace daywright::cli
