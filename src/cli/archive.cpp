// What `archive` does: files what stands there for a day, and never makes any of it.
#include <algorithm>
#include <optional>
#include <stdexcept>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>

#include "cli/clock.h"
#include "cli/outputs.h"
#include "cli/session.h"
#include "cli/signed_outputs.h"
#include "model/printable.h"
#include "record/archive.h"
#include "record/descriptor.h"
#include "record/output_folder.h"
#include "record/signoff_log.h"
#include "record/ssh_signature.h"
#include "write/json.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

/// The records of a day whose signature does not hold by the trust list of today.
std::vector<std::int64_t> find_void(const record::SignOffLog& log, const record::TrustList& trust, int day) {
  std::vector<std::int64_t> numbers;
  for (const auto& stored : log.records) {
    const auto& signoff = stored.signoff;
    if (signoff.day != day || stored.signature.empty()) continue;
    const auto fault = record::fault_of_signature(stored, trust);
    if (fault.empty()) continue;
    numbers.push_back(signoff.number);
    complain(fmt::format("daywright: record {} is filed as VOID: the signature {}\n", signoff.number, fault));
  }
  return numbers;
}

/// The page of the handover, where there is one.
std::optional<std::string> read_handover_page(const Command& command, int day) {
  const fs::path page = handover_folder(command, day) / model::handover_file;
  if (fs::symlink_status(page).type() == fs::file_type::not_found) return std::nullopt;
  return record::Descriptor(page, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output);
}

/// What is filed of a day.
struct Belongings {
  const Session& session;
  const BriefOnDisk& brief;
  const Templates& templates;
  const record::SignOffLog& log;
  const record::TrustList& trust;
  const std::optional<std::string>& handover;
};

/// Everything that is filed, under its path below data/. The bytes stay where they are.
std::vector<record::PayloadFile> gather(const Belongings& belongings) {
  const auto& [session, brief, templates, log, trust, handover] = belongings;
  std::vector<record::PayloadFile> files;
  if (handover) files.push_back({fmt::format("handover/{}", model::handover_file), *handover});
  for (const auto& file : session.files.files) {
    if (is_of_day(file.name, session.result.day)) files.push_back({"inputs/" + file.name, file.text});
  }
  for (const auto& file : brief.files()) files.push_back({"outputs/" + file.name, file.text});
  for (const auto* file : templates.files()) files.push_back({"templates/" + file->name, file->text});
  for (const auto& stored : log.records) {
    const std::string place = record::place_of_record(stored.signoff.number) + "/";
    files.push_back({place + record::record_file, stored.bytes});
    if (!stored.signature.empty()) files.push_back({place + record::signature_file, stored.signature});
  }
  if (!trust.allowed_signers.empty()) files.push_back({record::allowed_signers_file, trust.allowed_signers});
  if (!trust.revoked_keys.empty()) files.push_back({record::revoked_keys_file, trust.revoked_keys});
  for (const auto& file : files) {
    const auto fault = record::fault_of_payload_path(file.path);
    if (!fault.empty()) throw std::runtime_error(fmt::format("'{}' {}", file.path, fault));
  }
  return files;
}

/// Later sign-offs explain themselves; whatever else is another needs somebody's word.
std::string reason_for(const Command& command, const record::FiledDay& newest,
                       const std::vector<std::string>& changed) {
  if (!command.reason.empty()) return command.reason;
  const bool are_signoffs = std::all_of(changed.begin(), changed.end(), [](const std::string& path) {
    return path.starts_with(fmt::format("data/{}/", record::signoffs_folder)) || path.starts_with("data/handover/") ||
           path == fmt::format("data/{}", record::allowed_signers_file) ||
           path == fmt::format("data/{}", record::revoked_keys_file);
  });
  if (are_signoffs) return "sign-offs, the list of signers or the handover have changed since";
  throw std::runtime_error(fmt::format(
      "day {} is filed already, as {:06} (revision {}), and '{}'{} is another now: --reason says why it is filed again",
      newest.day, newest.number, newest.revision, changed.front(),
      changed.size() == 1 ? "" : fmt::format(" and {} more", changed.size() - 1)));
}

/// What lies between a folder and a place within it; nothing where the place is elsewhere. "." is the folder itself.
std::optional<fs::path> way_from(const fs::path& folder, const fs::path& place) {
  const fs::path way = fs::weakly_canonical(place).lexically_relative(fs::weakly_canonical(folder));
  return way.empty() || *way.begin() == ".." ? std::nullopt : std::optional(way);
}

/// Throws std::runtime_error where an archive would lie among the logs or the sign-offs, which would not be sound any
/// more, or among the outputs of a day, which are swapped as one folder: it would be gone with the next.
void require_own_place(const Command& command, const fs::path& archive) {
  const auto out = way_from(command.out.value_or(command.folder / "out"), archive);
  const bool is_of_outputs = out && out->begin()->string().starts_with("day-");
  if (is_of_outputs || way_from(command.folder / "days", archive) ||
      way_from(command.folder / record::signoffs_folder, archive))
    throw std::runtime_error(
        fmt::format("'{}' lies among the logs, sign-offs or outputs of the mission: give --to a folder of its own",
                    archive.string()));
}

/// "2031-05-14".
std::string date_of(model::Instant when) {
  return model::format_utc(when).substr(0, std::string_view("2031-05-14").size());
}

}  // namespace

ExitCode run_archive(const Command& command) {
  const auto [session, brief, why_none] = run_as_brief(command, true);
  if (!brief) throw std::runtime_error(why_none);
  if (!session.result.status) {
    report_faults(command, session);
    return ExitCode::nothing_changed;
  }
  const int day = session.result.day;
  if (!session.files.passed_over.empty())
    throw std::runtime_error(
        fmt::format("'{}' is a link, or no file of a day folder, and can't be filed; take it out of the mission",
                    session.files.passed_over.front()));
  const Templates templates = require_current(*brief, session, command);
  require_same_workbook(*brief, session, templates);
  const record::SignOffLog log = record::read_sound_signoffs(command.folder);
  const auto trust = record::read_trust_list(command.folder);
  const auto handover = read_handover_page(command, day);

  const fs::path archive = command.archive.value_or(command.folder / record::archive_folder);
  require_own_place(command, archive);
  const std::string& mission = session.result.inputs.mission.name;
  constexpr std::size_t longest_mission = 200;
  if (const auto fault = model::fault_of_line(mission, longest_mission); !fault.empty())
    throw std::runtime_error(
        fmt::format("the name of the mission {}, so that no bag can carry it: change it in mission.toml", fault));
  record::DayToFile to_file{mission,
                            day,
                            gather({session, *brief, templates, log, trust, handover}),
                            find_void(log, trust, day),
                            date_of(read_clock()),
                            "daywright " DAYWRIGHT_VERSION};
  const auto filing = record::file_day(
      archive, to_file, [&](const auto& newest, const auto& changed) { return reason_for(command, newest, changed); });
  const auto& filed = filing.day;
  const std::string where = (archive / record::name_of_member(filed.number)).string();
  std::string text = filing.is_new ? fmt::format("filed day {}, revision {}: {}\n", filed.day, filed.revision, where)
                                   : fmt::format("already filed: {} holds just this\n", where);
  text += fmt::format("note elsewhere, to prove later that nothing has changed: {}:{}\n", filed.number, filed.digest);
  try {
    print(text);
  } catch (const std::system_error& error) {
    if (!filing.is_new) throw;
    throw record::InDoubt(fmt::format("day {} is filed as '{}', but {}", filed.day, where, error.what()));
  }
  return end_of(session.result, "the brief says what rests on them");
}

}  // namespace daywright::cli
