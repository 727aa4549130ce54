// What `handover` does: the page for whoever takes over, or the record that somebody has.
#include <string>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>

#include "cli/recording.h"
#include "cli/session.h"
#include "cli/sign.h"
#include "cli/signed_outputs.h"
#include "model/printable.h"
#include "record/descriptor.h"
#include "record/digest.h"
#include "record/output_folder.h"
#include "write/handover.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

const std::string page_name(model::handover_file);

/// The page as the inputs give it now. It names the brief that is in place only where that is of just these inputs.
std::string make_page(const Command& command, const Session& session) {
  std::string digest;
  try {
    const BriefOutputs brief(day_folder(command, session.result.day));
    require_current(brief, session);
    digest = record::sha256_hex(brief.text("brief.md"));
  } catch (const Refusal& refusal) {
    complain(fmt::format("daywright: the page names no brief: {}\n", model::printable(refusal.what())));
  }
  return write::render_handover(*session.result.handover, digest);
}

ExitCode save(const Command& command, const Session& session) {
  const fs::path out = handover_folder(command, session.result.day);
  record::OutputFolder folder(out);
  folder.write(page_name, make_page(command, session));
  folder.publish();
  try {
    print((out / page_name).string() + "\n");
  } catch (const std::system_error& error) {
    throw record::InDoubt(fmt::format("the handover is in '{}', but {}", out.string(), error.what()));
  }
  if (!session.result.has_faults()) return ExitCode::done;
  complain(fmt::format("daywright: the inputs have faults ({}); the page says what rests on them\n",
                       count_of_faults(session.result.diagnostics)));
  return ExitCode::done_with_faults;
}

/// The page that is there and was read.
std::string read_page(const fs::path& path) {
  try {
    return record::Descriptor(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output);
  } catch (const std::system_error& error) {
    throw Refusal(fmt::format("there is no handover to accept: {}", error.what()));
  }
}

ExitCode accept(const Command& command, const Session& session) {
  const RunResult& result = session.result;
  const auto records = read_sound_records(command);
  const std::string page = read_page(handover_folder(command, result.day) / page_name);
  if (page != make_page(command, session))
    throw Refusal(
        "the handover that is there is not what the inputs give now: they or the brief have changed, it is of another "
        "cut-off or shift (then give --cutoff or --hours), or of another version; make it again and read it");
  auto signoff = composed(compose_acceptance(command.sign, result.inputs.mission, result.inputs.rules,
                                             {result.day, {describe_file(page_name, page)}, &*result.status}));
  return record_signoff(command, session, std::move(signoff), page, records);
}

}  // namespace

ExitCode run_handover(const Command& command) {
  const Session session = run_mission(command);
  if (!session.result.handover) {
    report_faults(command, session);
    return ExitCode::nothing_changed;
  }
  try {
    return command.accept ? accept(command, session) : save(command, session);
  } catch (const Refusal& refusal) {
    complain(fmt::format("daywright: {}\n", model::printable(refusal.what())));
    return ExitCode::nothing_changed;
  }
}

}  // namespace daywright::cli
