#include "cli/commands.h"

#include <algorithm>
#include <optional>
#include <stdexcept>
#include <system_error>

#include <fmt/format.h>

#include "cli/outputs.h"
#include "cli/session.h"
#include "cli/signed_outputs.h"
#include "cli/templates.h"
#include "cli/terminal.h"
#include "model/printable.h"
#include "model/suggest.h"
#include "record/output_folder.h"
#include "write/explain.h"
#include "write/options.h"
#include "write/summary.h"

namespace daywright::cli {

namespace fs = std::filesystem;

ExitCode run_check(const Command& command) {
  const Session session = run_mission(command);
  report_faults(command, session);
  if (!session.result.status) return ExitCode::nothing_changed;
  print(fmt::format("{}: {} {} at {}: {}\n", shown_folder(command).empty() ? "." : shown_folder(command),
                    session.result.inputs.mission.words.day, session.result.day,
                    model::format_utc(session.result.cutoff), count_of_faults(session.result.diagnostics)));
  return session.result.has_faults() ? ExitCode::done_with_faults : ExitCode::done;
}

ExitCode run_brief(const Command& command) {
  const Session session = run_mission(command, makes_output(command.only, "xlsx"));
  report_faults(command, session);
  const RunResult& result = session.result;
  if (!result.status) {
    complain(fmt::format("daywright: {}there is no brief; whatever was there before is unchanged\n",
                         result.refusal.empty() ? "the inputs can't be used, so " : ""));
    return ExitCode::nothing_changed;
  }
  if (command.strict && result.has_faults()) {
    complain("daywright: the inputs have faults and --strict is set, so there is no brief\n");
    return ExitCode::nothing_changed;
  }
  const Templates templates = read_templates(command.templates);
  if (!templates.is_any_found) {
    complain(fmt::format("daywright: there is no template in '{}', expected {}, {} or {}\n",
                         model::printable(command.templates->string()), brief_template_name, note_template_name,
                         brief_style_name));
    return ExitCode::nothing_changed;
  }
  const auto worded = word(templates, *result.status);
  if (!worded) return ExitCode::nothing_changed;
  // While the outputs that were signed are still there, they tell which inputs have changed.
  for (const auto& sentence : say_what_is_overtaken(command, session))
    complain(fmt::format("daywright: {}\n", model::printable(sentence)));
  if (session.filed.revisions > 0)
    complain(fmt::format("daywright: day {} is filed already; this is revision {}\n", result.day,
                         session.filed.revisions + 1));
  const Evening evening{templates, *worded, *result.status, result.cutoff};

  // From here on nothing is computed: the outputs are built aside and put in place as one folder. A part has a place of
  // its own, so that it never takes that of a whole brief.
  const bool is_part = !command.only.empty();
  const fs::path out =
      command.out.value_or(command.folder / "out") / fmt::format("day-{:03}{}", result.day, is_part ? "-part" : "");
  record::OutputFolder folder(out);
  const auto written =
      write_outputs(evening, command.only,
                    make_inputs_list(templates, session.files, result.day, session.filed, command.only), folder);
  std::string shown = command.summary ? write::render_summary(worded->brief.text, *result.status, read_terminal()) : "";
  for (const auto& name : written) shown += (out / name).string() + "\n";
  folder.publish();
  try {
    print(shown);
  } catch (const std::system_error& error) {
    throw record::InDoubt(fmt::format("the new outputs are in '{}', but {}", out.string(), error.what()));
  }
  if (is_part) complain("daywright: this is a part of a brief, which can't be signed or archived\n");
  if (command.open) {
    const fs::path page = out / page_file;
    if (const std::string why = open_page(page); !why.empty())
      complain(fmt::format("daywright: {}; the page is {}\n", why, model::printable(page.string())));
  }
  return end_of(result, "the brief says what rests on them");
}

ExitCode run_options(const Command& command) {
  const Session session = run_mission(command);
  if (!session.result.status) {
    // What can't be done with sound inputs is no reason to show what is wrong in the logs.
    if (session.result.refusal.empty())
      report_faults(command, session);
    else
      complain(fmt::format("daywright: {}\n", model::printable(session.result.refusal)));
    return ExitCode::nothing_changed;
  }
  print(write::render_options(*session.result.status));
  return end_of(session.result, "'daywright check' shows them");
}

ExitCode run_explain(const Command& command) {
  const Session session = run_mission(command);
  if (!session.result.status) {
    report_faults(command, session);
    return ExitCode::nothing_changed;
  }
  const auto& handover = session.result.handover;
  const model::DayStatus& status = handover ? *handover : *session.result.status;
  if (command.list) {
    print(write::render_figure_list(status));
    return end_of(session.result, "'daywright check' shows them");
  }
  const model::Figure* figure = status.find(command.figure);
  if (figure == nullptr) {
    std::vector<std::string> known;
    for (const auto& f : status.figures) known.push_back(f.id);
    complain(fmt::format("daywright: there is no figure '{}'{} ('explain DIR --list' shows all)\n",
                         model::printable(command.figure), model::did_you_mean(command.figure, known)));
    return ExitCode::nothing_changed;
  }
  print(write::render_explanation(*figure, status));
  return end_of(session.result, "'daywright check' shows them");
}

}  // namespace daywright::cli
