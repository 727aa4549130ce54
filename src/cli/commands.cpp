#include "cli/commands.h"

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <future>
#include <stdexcept>
#include <system_error>

#include <cmark.h>
#include <fmt/format.h>
#include <openssl/crypto.h>
#include <unistd.h>
#include <xlsxwriter.h>
#include <boost/version.hpp>

#include "cli/pipeline.h"
#include "cli/read_files.h"
#include "cli/report.h"
#include "cli/save_workbook.h"
#include "cli/templates.h"
#include "model/printable.h"
#include "model/suggest.h"
#include "record/digest.h"
#include "record/output_folder.h"
#include "write/explain.h"
#include "write/json.h"
#include "write/markdown.h"
#include "write/options.h"
#include "write/page.h"
#include "write/workbook.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

/// Results go to standard output; a write that fails counts, so that a full disk is not taken for a short answer.
void print(std::string_view text) {
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size() || std::fflush(stdout) != 0) {
    throw std::system_error(errno, std::generic_category(), "cannot write to standard output");
  }
}

void complain(std::string_view text) { std::fwrite(text.data(), 1, text.size(), stderr); }

bool wants_colour() { return ::isatty(STDERR_FILENO) != 0 && std::getenv("NO_COLOR") == nullptr; }

/// The mission folder as it stands before the names of files in messages.
std::string shown_folder(const Command& command) {
  const std::string folder = command.folder.lexically_normal().string();
  return folder == "." ? "" : folder.ends_with('/') ? folder.substr(0, folder.size() - 1) : folder;
}

/// A mission that has been read and run through the stages.
struct Session {
  MissionFiles files;
  RunResult result;
};

Session run(const Command& command) {
  Session session{read_mission(command.folder), {}};
  const bool is_options = command.name == "options";
  session.result = run_stages(session.files.files, {command.day, command.cutoff, command.name == "brief",
                                                    is_options ? &command.changes : nullptr});
  for (const auto& name : session.files.passed_over) {
    session.result.diagnostics.push_back(
        {model::Severity::warning,
         {},
         fmt::format("'{}' is not a file of a day folder such as days/008 and was passed over", name),
         "passed-over"});
  }
  return session;
}

void report_faults(const Command& command, const Session& session) {
  complain(format_report(session.result.diagnostics, session.files.files, shown_folder(command), wants_colour()));
  if (!session.result.refusal.empty())
    complain(fmt::format("daywright: {}\n", model::printable(session.result.refusal)));
}

std::string count_of_faults(const model::Diagnostics& diagnostics) {
  const auto count = [&](model::Severity severity) {
    return std::count_if(diagnostics.begin(), diagnostics.end(), [&](const auto& d) { return d.severity == severity; });
  };
  const auto plural = [](std::ptrdiff_t n, const char* word) {
    return fmt::format("{} {}{}", n, word, n == 1 ? "" : "s");
  };
  return plural(count(model::Severity::error), "error") + ", " + plural(count(model::Severity::warning), "warning");
}

write::Versions versions() {
  return {{"daywright", DAYWRIGHT_VERSION},
          {"boost", fmt::format("{}.{}.{}", BOOST_VERSION / 100000, BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100)},
          {"cmark", cmark_version_string()},
          {"fmt", fmt::format("{}.{}.{}", FMT_VERSION / 10000, FMT_VERSION / 100 % 100, FMT_VERSION % 100)},
          {"libxlsxwriter", lxw_version()},
          {"openssl", OpenSSL_version(OPENSSL_VERSION_STRING)}};
}

/// What the brief and its page are made with, each read once: the team's own where there is one.
struct Templates {
  std::string folder = "(built-in)";
  model::InputFile brief{std::string(brief_template_name), std::string(brief_template)};
  model::InputFile style{std::string(brief_style_name), std::string(brief_style)};
};

Templates read_templates(const Command& command) {
  Templates templates;
  if (!command.templates) return templates;
  templates.folder = command.templates->string();
  templates.brief.text = read_file(*command.templates / brief_template_name);
  // Who words the brief in another way need not draw the page in another way.
  const fs::path style = *command.templates / brief_style_name;
  if (fs::exists(style)) templates.style.text = read_file(style);
  return templates;
}

/// The brief, or nothing when the template is at fault, which is then said.
std::optional<write::Brief> make_brief(const Templates& templates, const model::DayStatus& status) {
  write::Brief brief = write::render_brief(templates.brief.text, status);
  if (brief.faults.empty()) return brief;
  complain(format_report(brief.faults, std::span(&templates.brief, 1), templates.folder, wants_colour()));
  return std::nullopt;
}

std::vector<write::InputRecord> list_inputs(const Templates& templates, const Session& session) {
  std::vector<write::InputRecord> records;
  for (const auto& file : session.files.files) {
    const auto day = load::day_of_path(file.name);
    if (day && *day > session.result.day) continue;
    records.push_back({file.name, file.text.size(), record::sha256_hex(file.text)});
  }
  for (const auto* used : {&templates.style, &templates.brief})
    records.push_back({"templates/" + used->name, used->text.size(), record::sha256_hex(used->text)});
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

ExitCode run_check(const Command& command) {
  const Session session = run(command);
  report_faults(command, session);
  if (!session.result.status) return ExitCode::nothing_changed;
  print(fmt::format("{}: {} {} at {}: {}\n", shown_folder(command).empty() ? "." : shown_folder(command),
                    session.result.inputs.mission.words.day, session.result.day,
                    model::format_utc(session.result.cutoff), count_of_faults(session.result.diagnostics)));
  return session.result.has_faults() ? ExitCode::done_with_faults : ExitCode::done;
}

ExitCode run_brief(const Command& command) {
  const Session session = run(command);
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
  const auto brief = make_brief(templates, *result.status);
  if (!brief) return ExitCode::nothing_changed;

  // From here on nothing is computed: the outputs are built aside and put in place as one folder.
  const fs::path out = command.out.value_or(command.folder / "out") / fmt::format("day-{:03}", result.day);
  record::OutputFolder folder(out);
  // The workbook takes as long as all the rest, so it is made beside it.
  auto workbook = std::async(std::launch::async, [&] {
    save_workbook(write::lay_out_workbook(*result.status, result.cutoff), folder.path_of("brief.xlsx"));
  });
  folder.write("brief.md", brief->text);
  folder.write("brief.html", write::render_page(*brief, templates.style.text, *result.status));
  folder.write("status.json", write::render_status(*result.status, versions()));
  folder.write("inputs.json", write::render_inputs(list_inputs(templates, session), versions()));
  workbook.get();
  folder.keep("brief.xlsx");
  folder.publish();
  std::string paths;
  for (const char* name : {"brief.md", "brief.html", "brief.xlsx", "status.json", "inputs.json"})
    paths += (out / name).string() + "\n";
  try {
    print(paths);
  } catch (const std::system_error& error) {
    throw record::InDoubt(fmt::format("the new outputs are in '{}', but {}", out.string(), error.what()));
  }
  if (!result.has_faults()) return ExitCode::done;
  complain(fmt::format("daywright: the inputs have faults ({}); the brief says what rests on them\n",
                       count_of_faults(result.diagnostics)));
  return ExitCode::done_with_faults;
}

ExitCode run_options(const Command& command) {
  const Session session = run(command);
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
  const Session session = run(command);
  if (!session.result.status) {
    report_faults(command, session);
    return ExitCode::nothing_changed;
  }
  const model::DayStatus& status = *session.result.status;
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
