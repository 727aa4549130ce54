// What `signoffs` does: the calls for the brief of a day, beside it.
#include <algorithm>
#include <cerrno>
#include <set>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>

#include "cli/session.h"
#include "model/printable.h"
#include "record/descriptor.h"
#include "record/digest.h"
#include "record/output_folder.h"
#include "record/signoff_log.h"
#include "record/ssh_signature.h"
#include "rules/calls.h"
#include "write/calls.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t largest_output = std::size_t{256} << 20U;

/// The bytes of an output; nothing where it is not there, or is no file.
std::optional<std::string> read_output(const fs::path& path) {
  try {
    return record::Descriptor(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output);
  } catch (const std::system_error&) {
    return std::nullopt;
  }
}

/// What is another since the record was signed: its outputs, or the inputs of its day. Empty: nothing.
std::string overtaken_by(const model::SignOff& signoff, const Command& command, const Session& session) {
  const fs::path place = day_folder(command, static_cast<int>(signoff.day));
  std::vector<std::string> other;
  for (const auto& subject : signoff.subjects) {
    const auto bytes = read_output(place / subject.path);
    if (!bytes || record::sha256_hex(*bytes) != subject.sha256) other.push_back("output " + subject.path);
  }
  const auto list = read_output(place / inputs_file_name());
  if (other.empty() && list)
    other = write::changed_inputs(*list, list_mission_files(session.files, static_cast<int>(signoff.day)));
  std::string words;
  for (const auto& name : other) words += (words.empty() ? "" : ", ") + name;
  return words.empty() ? "" : "other since: " + words;
}

}  // namespace

ExitCode run_signoffs(const Command& command) {
  const Session session = run_mission(command);
  const RunResult& result = session.result;
  if (!result.status) {
    report_faults(command, session);
    return ExitCode::nothing_changed;
  }
  const record::SignOffLog log = record::read_signoffs(command.folder);
  if (!log.breaks.empty()) {
    complain(fmt::format("daywright: the sign-offs are not sound, so nothing is made of them: '{}' {}\n",
                         model::printable(log.breaks.front().where), model::printable(log.breaks.front().what)));
    return ExitCode::nothing_changed;
  }
  const auto trust = record::read_trust_list(command.folder);
  std::vector<rules::CheckedSignOff> records;
  for (const auto& stored : log.records) {
    const auto& signoff = stored.signoff;
    if (signoff.day != result.day) continue;
    const std::string fault =
        stored.signature.empty()
            ? ""
            : record::fault_of_signature(stored.bytes, stored.signature,
                                         {signoff.signer.principal, signoff.signer.key, signoff.signed_at}, trust);
    records.push_back({signoff, fault, overtaken_by(signoff, command, session)});
  }
  const std::string head = log.records.empty() ? "There are no records."
                                               : fmt::format("{} records in all, the last with SHA-256 {}.",
                                                             log.records.size(), log.records.back().digest);
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
  if (!result.has_faults()) return ExitCode::done;
  complain(fmt::format("daywright: the inputs have faults ({}); the brief says what rests on them\n",
                       count_of_faults(result.diagnostics)));
  return ExitCode::done_with_faults;
}

}  // namespace daywright::cli
