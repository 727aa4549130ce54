// What `verify` does: proves, or names each thing that breaks the proof.
#include <algorithm>

#include <fmt/format.h>

#include "cli/session.h"
#include "cli/signed_outputs.h"
#include "model/printable.h"
#include "record/signoff_log.h"
#include "record/ssh_signature.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

/// Whether each signature is that of the signer whom its record names, at the time that it names.
void judge_signatures(const fs::path& mission, record::SignOffLog& log) {
  const auto trust = record::read_trust_list(mission);
  const bool is_any_signed =
      std::any_of(log.records.begin(), log.records.end(), [](const auto& stored) { return !stored.signature.empty(); });
  if (is_any_signed && trust.allowed_signers.empty())
    return log.breaks.push_back({"allowed_signers", "is missing or empty, so that no signature can be judged", true});
  for (const auto& stored : log.records) {
    const auto& signoff = stored.signoff;
    if (stored.signature.empty()) continue;
    const auto fault = record::fault_of_signature(
        stored.bytes, stored.signature, {signoff.signer.principal, signoff.signer.key, signoff.signed_at}, trust);
    if (!fault.empty())
      log.breaks.push_back({record::place_of_record(signoff.number) + "/" + record::signature_file, fault});
  }
}

/// Whether what the sign-offs that stand cover is there.
void judge_subjects(const Command& command, record::SignOffLog& log) {
  const MissionFiles files = read_mission(command.folder);
  std::vector<model::SignOff> records;
  for (const auto& stored : log.records) records.push_back(stored.signoff);
  for (const auto* signoff : model::standing(records)) {
    for (const auto& other : other_files_since(*signoff, command, files))
      log.breaks.push_back({record::place_of_record(signoff->number),
                            fmt::format("covers bytes that are not there: '{}' is another", other), true});
  }
}

/// What the newest record was when somebody noted it, held against what it is.
ExitCode judge_anchor(const Anchor& anchor, record::SignOffLog& log) {
  if (anchor.count > static_cast<std::int64_t>(log.records.size())) {
    log.breaks.push_back({record::signoffs_folder,
                          fmt::format("holds {} records, expected at least {}", log.records.size(), anchor.count),
                          true});
    return ExitCode::incomplete;
  }
  const auto& noted = log.records[static_cast<std::size_t>(anchor.count - 1)];
  if (noted.digest != anchor.digest) {
    log.breaks.push_back({record::place_of_record(anchor.count), "has another SHA-256 than expected"});
    return ExitCode::invalid;
  }
  return anchor.count == static_cast<std::int64_t>(log.records.size()) ? ExitCode::done : ExitCode::not_anchored;
}

const char* words_of(ExitCode code) {
  switch (code) {
    case ExitCode::done: return "valid and anchored";
    case ExitCode::not_anchored: return "valid, not anchored";
    case ExitCode::incomplete: return "INCOMPLETE";
    default: return "INVALID";
  }
}

}  // namespace

ExitCode run_verify(const Command& command) {
  std::error_code error;
  if (!fs::is_regular_file(command.folder / "mission.toml", error)) {
    complain(fmt::format("daywright: '{}' is no mission folder: it has no mission.toml\n",
                         model::printable(command.folder.string())));
    return ExitCode::usage;
  }
  record::SignOffLog log = record::read_signoffs(command.folder);
  const bool is_whole = log.breaks.empty();
  judge_signatures(command.folder, log);
  judge_subjects(command, log);
  // A number means something only where there are no gaps.
  ExitCode code = command.anchor && is_whole ? judge_anchor(*command.anchor, log) : ExitCode::not_anchored;
  for (const auto& found : log.breaks) {
    if (!found.is_missing) code = ExitCode::invalid;
    if (found.is_missing && code != ExitCode::invalid) code = ExitCode::incomplete;
  }
  std::string text;
  for (const auto& found : log.breaks)
    text += fmt::format("{}: {}: {}\n", model::printable(found.where), found.is_missing ? "incomplete" : "invalid",
                        model::printable(found.what));
  for (const auto& stored : log.records) {
    const auto& signoff = stored.signoff;
    const std::string where = record::place_of_record(signoff.number);
    if (stored.signature.empty()) text += where + ": note: UNSIGNED, so nothing proves who made it\n";
    if (!signoff.is_after_previous) text += where + ": note: dated before the record that it follows\n";
  }
  text += fmt::format("{}: {} sign-offs{}\n", words_of(code), log.records.size(),
                      log.records.empty() ? ""
                                          : fmt::format("; the last is record {}:{}", log.records.back().signoff.number,
                                                        log.records.back().digest));
  print(text);
  return code;
}

}  // namespace daywright::cli
