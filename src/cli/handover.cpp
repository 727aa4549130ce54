// What `handover` does: the page for whoever takes over, or the record that somebody has.
#include <stdexcept>
#include <string>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>

#include "cli/outputs.h"
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
struct Page {
  std::string text;
  std::string why_no_brief;  ///< empty: it names one
};

Page make_page(const Command& command, const BriefSession& handover) {
  const auto& [session, brief, why_none] = handover;
  Page page{"", why_none};
  std::string digest;
  if (brief) {
    try {
      (void)require_current(*brief, session, command);
      digest = record::sha256_hex(brief->text(brief_file));
    } catch (const std::runtime_error& error) {
      page.why_no_brief = error.what();
    }
  }
  page.text = write::render_handover(*session.result.handover, digest);
  return page;
}

ExitCode save(const Command& command, const BriefSession& handover) {
  const Session& session = handover.session;
  const fs::path out = handover_folder(command, session.result.day);
  const Page page = make_page(command, handover);
  if (!page.why_no_brief.empty())
    complain(fmt::format("daywright: the page names no brief: {}\n", model::printable(page.why_no_brief)));
  record::OutputFolder folder(out);
  folder.write(page_name, page.text);
  folder.publish();
  try {
    print((out / page_name).string() + "\n");
  } catch (const std::system_error& error) {
    throw record::InDoubt(fmt::format("the handover is in '{}', but {}", out.string(), error.what()));
  }
  return end_of(session.result, "the page says what rests on them");
}

/// The page that is there and was read.
std::string read_page(const fs::path& path) {
  try {
    return record::Descriptor(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output);
  } catch (const std::system_error& error) {
    throw std::runtime_error(fmt::format("there is no handover to accept: {}", error.what()));
  }
}

ExitCode accept(const Command& command, const BriefSession& handover) {
  const Session& session = handover.session;
  const RunResult& result = session.result;
  const auto records = read_sound_records(command);
  const std::string page = read_page(handover_folder(command, result.day) / page_name);
  const Page now = make_page(command, handover);
  if (!now.why_no_brief.empty())
    throw std::runtime_error(fmt::format("there is no brief to take over on: {}", now.why_no_brief));
  if (page != now.text)
    throw std::runtime_error(
        "the handover that is there is not what the inputs give now: they or the brief have changed, it is of another "
        "cut-off or shift (then give --cutoff or --hours), or of another version; make it again and read it");
  auto signoff = composed(compose_acceptance(
      command.sign, result.inputs.mission, result.inputs.rules,
      {result.day, {{page_name, static_cast<std::int64_t>(page.size()), record::sha256_hex(page)}}, &*result.status}));
  return record_signoff(command, session, std::move(signoff), page, records);
}

}  // namespace

ExitCode run_handover(const Command& command) {
  const BriefSession handover = run_as_brief(command);
  if (!handover.session.result.handover) {
    report_faults(command, handover.session);
    return ExitCode::nothing_changed;
  }
  return command.accept ? accept(command, handover) : save(command, handover);
}

}  // namespace daywright::cli
