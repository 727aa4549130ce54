#include "cli/commands.h"

#include <algorithm>
#include <array>
#include <functional>
#include <future>
#include <optional>
#include <stdexcept>
#include <system_error>

#include <fmt/format.h>

#include "cli/report.h"
#include "cli/save_workbook.h"
#include "cli/session.h"
#include "cli/signed_outputs.h"
#include "cli/templates.h"
#include "cli/terminal.h"
#include "model/printable.h"
#include "model/suggest.h"
#include "record/digest.h"
#include "record/output_folder.h"
#include "write/explain.h"
#include "write/json.h"
#include "write/markdown.h"
#include "write/note.h"
#include "write/options.h"
#include "write/page.h"
#include "write/summary.h"
#include "write/workbook.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

/// Whether `brief` writes the output that --only calls so.
bool makes(const Command& command, std::string_view output) {
  return command.only.empty() || std::find(command.only.begin(), command.only.end(), output) != command.only.end();
}

/// A template as it is used: that of the folder given, where it is there, else the one that is built in.
struct Template {
  model::InputFile file;
  std::string folder;  ///< as it stands before its name in messages
};

/// What the outputs are worded and drawn with, each read once.
struct Templates {
  Template brief;
  Template style;
  Template note;

  /// Whether the folder given has any of them; true where none is given.
  bool is_any_found = true;
};

Templates read_templates(const Command& command) {
  bool is_any_found = !command.templates;
  const auto read = [&](std::string_view name, std::string_view built_in) -> Template {
    if (!command.templates || !fs::exists(*command.templates / name))
      return {{std::string(name), std::string(built_in)}, "(built-in)"};
    is_any_found = true;
    return {{std::string(name), read_file(*command.templates / name)}, command.templates->string()};
  };
  Templates templates{read(brief_template_name, brief_template), read(brief_style_name, brief_style),
                      read(note_template_name, note_template)};
  templates.is_any_found = is_any_found;
  return templates;
}

/// What is rendered from a template, or nothing when the template is at fault, which is then said.
template <class Rendered>
std::optional<Rendered> take_sound(Rendered rendered, const Template& used) {
  if (rendered.faults.empty()) return rendered;
  complain(format_report(rendered.faults, std::span(&used.file, 1), used.folder, wants_colour()));
  return std::nullopt;
}

/// What the outputs of one evening are made from.
struct Evening {
  const Templates& templates;
  const write::Brief& brief;
  const write::Note& note;
  const model::DayStatus& status;
  model::Instant cutoff;
};

std::string make_brief(const Evening& evening) { return evening.brief.text; }

std::string make_page(const Evening& evening) {
  return write::render_page(evening.brief, evening.templates.style.file.text, evening.status);
}

std::string make_note(const Evening& evening) { return evening.note.text; }

std::string make_status(const Evening& evening) { return write::render_status(evening.status, versions()); }

void make_workbook(const Evening& evening, const fs::path& path) {
  save_workbook(write::lay_out_workbook(evening.status, evening.cutoff, write::five_lines_of(evening.brief.text)),
                path);
}

/// One output of `brief`: what --only calls it, its file, and how it is made: as a text, or saved by a library that
/// writes files by itself.
struct Output {
  std::string_view name;
  std::string_view file;
  std::string (*text)(const Evening&) = nullptr;
  void (*saved)(const Evening&, const fs::path&) = nullptr;
};
constexpr std::array outputs{
    Output{.name = "md", .file = "brief.md", .text = make_brief},
    Output{.name = "html", .file = "brief.html", .text = make_page},
    Output{.name = "xlsx", .file = "brief.xlsx", .saved = make_workbook},
    Output{.name = "note", .file = "note.txt", .text = make_note},
    Output{.name = "json", .file = "status.json", .text = make_status},
};
constexpr const char* inputs_file = "inputs.json";

const Output* find_output(std::string_view name) {
  const auto* found = std::find_if(outputs.begin(), outputs.end(), [&](const Output& o) { return o.name == name; });
  return found == outputs.end() ? nullptr : found;
}

/// The outputs that are wanted, in the order of the table.
std::vector<const Output*> outputs_of(const Command& command) {
  std::vector<const Output*> wanted;
  for (const auto& output : outputs) {
    if (makes(command, output.name)) wanted.push_back(&output);
  }
  return wanted;
}

std::vector<write::InputRecord> list_inputs(const Templates& templates, const Session& session) {
  auto records = list_mission_files(session.files, session.result.day);
  for (const auto* used : {&templates.style, &templates.brief, &templates.note}) {
    const auto& [name, text] = used->file;
    records.push_back({"templates/" + name, text.size(), record::sha256_hex(text)});
  }
  return records;
}

/// Exit code of a command that shows something, with a word about the faults, which are not shown.
ExitCode end_of_showing(const RunResult& result) {
  if (!result.has_faults()) return ExitCode::done;
  complain(fmt::format("daywright: the inputs have faults ({}); 'daywright check' shows them\n",
                       count_of_faults(result.diagnostics)));
  return ExitCode::done_with_faults;
}

}  // namespace

std::vector<std::string> output_names() {
  std::vector<std::string> names;
  for (const auto& output : outputs) names.emplace_back(output.name);
  return names;
}

std::vector<std::string> output_files() {
  std::vector<std::string> files{inputs_file};
  for (const auto& output : outputs) files.emplace_back(output.file);
  return files;
}

std::string inputs_file_name() { return inputs_file; }

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
  const Session session = run_mission(command, makes(command, "xlsx"));
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
  const Templates templates = read_templates(command);
  if (!templates.is_any_found) {
    complain(fmt::format("daywright: there is no template in '{}', expected {}, {} or {}\n",
                         model::printable(command.templates->string()), brief_template_name, note_template_name,
                         brief_style_name));
    return ExitCode::nothing_changed;
  }
  const auto brief = take_sound(write::render_brief(templates.brief.file.text, *result.status), templates.brief);
  const auto note = take_sound(write::render_note(templates.note.file.text, *result.status), templates.note);
  if (!brief || !note) return ExitCode::nothing_changed;
  // While the outputs that were signed are still there, they tell which inputs have changed.
  for (const auto& sentence : say_what_is_overtaken(command, session))
    complain(fmt::format("daywright: {}\n", model::printable(sentence)));
  const Evening evening{templates, *brief, *note, *result.status, result.cutoff};
  const auto wanted = outputs_of(command);

  // From here on nothing is computed: the outputs are built aside and put in place as one folder. A part has a place of
  // its own, so that it never takes that of a whole brief.
  const bool is_part = !command.only.empty();
  const fs::path out =
      command.out.value_or(command.folder / "out") / fmt::format("day-{:03}{}", result.day, is_part ? "-part" : "");
  record::OutputFolder folder(out);
  // The workbook takes as long as all the rest, so it is made beside it.
  std::vector<std::future<void>> saving;
  for (const Output* output : wanted) {
    if (output->saved != nullptr)
      saving.push_back(std::async(std::launch::async, output->saved, std::cref(evening), folder.path_of(output->file)));
  }
  for (const Output* output : wanted) {
    if (output->text != nullptr) folder.write(output->file, output->text(evening));
  }
  folder.write(inputs_file, write::render_inputs(list_inputs(templates, session), versions(), command.only));
  for (auto& saved : saving) saved.get();
  std::string shown = command.summary ? write::render_summary(brief->text, *result.status, read_terminal()) : "";
  for (const Output* output : wanted) {
    if (output->saved != nullptr) folder.keep(output->file);
    shown += (out / output->file).string() + "\n";
  }
  shown += (out / inputs_file).string() + "\n";
  folder.publish();
  try {
    print(shown);
  } catch (const std::system_error& error) {
    throw record::InDoubt(fmt::format("the new outputs are in '{}', but {}", out.string(), error.what()));
  }
  if (is_part) complain("daywright: this is a part of a brief, which can't be signed or archived\n");
  if (command.open) {
    const fs::path page = out / find_output("html")->file;
    if (const std::string why = open_page(page); !why.empty())
      complain(fmt::format("daywright: {}; the page is {}\n", why, model::printable(page.string())));
  }
  if (!result.has_faults()) return ExitCode::done;
  complain(fmt::format("daywright: the inputs have faults ({}); the brief says what rests on them\n",
                       count_of_faults(result.diagnostics)));
  return ExitCode::done_with_faults;
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
  return end_of_showing(session.result);
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
    return end_of_showing(session.result);
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
  return end_of_showing(session.result);
}

}  // namespace daywright::cli
