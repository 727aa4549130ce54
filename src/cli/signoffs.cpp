// What `signoffs` does: the calls for the brief of a day, beside it.
#include <system_error>

#include <fmt/format.h>

#include "cli/outputs.h"
#include "cli/signed_outputs.h"
#include "model/printable.h"
#include "record/output_folder.h"
#include "record/signoff_log.h"
#include "record/ssh_signature.h"
#include "rules/calls.h"
#include "write/calls.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

std::string words_of(const OtherSince& others) {
  constexpr std::size_t most_figures = 20;
  std::string words;
  for (const auto& name : others.files) words += (words.empty() ? "other since: " : ", ") + name;
  if (!others.figures.empty()) words += "; " + write::sum_up(others.figures, most_figures);
  return words;
}

}  // namespace

ExitCode run_signoffs(const Command& command) {
  const Session session = run_as_brief(command).session;
  const RunResult& result = session.result;
  if (!result.status) {
    report_faults(command, session);
    return ExitCode::nothing_changed;
  }
  const record::SignOffLog log = record::read_sound_signoffs(command.folder);
  const auto trust = record::read_trust_list(command.folder);
  const auto inputs = list_mission_files(session.files, last_day);
  std::vector<rules::CheckedSignOff> records;
  for (const auto& stored : log.records) {
    const auto& signoff = stored.signoff;
    if (signoff.day != result.day) continue;
    const std::string fault = stored.signature.empty() ? "" : record::fault_of_signature(stored, trust);
    records.push_back({signoff, fault, words_of(others_since(signoff, command, session, inputs))});
  }
  const std::string head = log.records.empty()
                               ? "There are no records."
                               : fmt::format("{} record{} in all, the last with SHA-256 {}.", log.records.size(),
                                             log.records.size() == 1 ? "" : "s", log.records.back().digest);
  const auto sheet =
      rules::compute_calls({result.inputs.mission, result.inputs.rules, *result.status, result.cutoff, head}, records);

  // A folder of its own: what was signed stays as it is, and a new brief does not take it away.
  const fs::path out = day_folder(command, result.day).string() + "-signoffs";
  record::OutputFolder folder(out);
  folder.write("signoffs.md", write::render_calls(sheet));
  folder.write("signoffs.json", write::render_calls_json(sheet));
  folder.publish();
  std::string shown;
  for (const auto& gate : sheet.gates) {
    if (!gate.verdict.empty())
      shown += fmt::format("{}: computed {}; {}; {}\n", model::printable(gate.title), gate.verdict, gate.calls,
                           gate.release);
  }
  try {
    print(shown + (out / "signoffs.md").string() + "\n" + (out / "signoffs.json").string() + "\n");
  } catch (const std::system_error& error) {
    throw record::InDoubt(fmt::format("the calls are in '{}', but {}", out.string(), error.what()));
  }
  return end_of(result, "the brief says what rests on them");
}

}  // namespace daywright::cli
