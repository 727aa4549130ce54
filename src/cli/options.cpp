#include "cli/options.h"

#include <array>
#include <sstream>

#include <fmt/format.h>
#include <boost/program_options.hpp>

#include "model/instant.h"
#include "model/printable.h"
#include "model/suggest.h"

namespace daywright::cli {
namespace {

namespace po = boost::program_options;

constexpr const char* overview = R"(Usage: daywright COMMAND DIR [options]

Merges the logs of a crewed flight into one evening brief: is each coming event ready, how much margin
is left and in what, what has to be done, counted or answered next.

Commands:
  check DIR            every fault in the inputs, all in one go
  brief DIR            the brief of a day and its companions, in DIR/out/day-NNN
  explain DIR FIGURE   how one figure came about, down to file and line
  explain DIR --list   every figure with its value

'daywright COMMAND --help' shows the options of a command.
'daywright --version' shows the version.

Exit codes: 0 done; 1 done, but the inputs have faults; 2 usage; 3 nothing changed (inputs unusable,
refused, can't read or write); 4 in doubt.

Decision support only. The mission's own flight rules and certified authorities prevail.
)";

struct CommandHelp {
  const char* name;
  const char* usage;
  const char* examples;
};
constexpr std::array commands{
    CommandHelp{"check",
                "Usage: daywright check DIR [options]\n\nReads everything up to a day and says every fault, in the "
                "style of a compiler.\n",
                "Examples:\n  daywright check missions/petrel-3\n  daywright check missions/petrel-3 --day 6\n"},
    CommandHelp{"brief",
                "Usage: daywright brief DIR [options]\n\nWrites brief.md, brief.xlsx, status.json and inputs.json for "
                "one day, as one folder.\n",
                "Examples:\n  daywright brief missions/petrel-3\n  daywright brief missions/petrel-3 --day 7 --cutoff "
                "6/20:00 --out /tmp/briefs\n"},
    CommandHelp{"explain",
                "Usage: daywright explain DIR FIGURE [options]\n       daywright explain DIR --list [options]\n\nShows "
                "value, formula and inputs of one figure, and of the figures it rests on.\n",
                "Examples:\n  daywright explain missions/petrel-3 item.water.margin.days\n  daywright explain "
                "missions/petrel-3 --list | grep extension\n"},
};

po::options_description options_of(const std::string& command) {
  po::options_description options("Options");
  auto add = options.add_options();
  add("help,h", "show this text");
  add("day", po::value<int>()->value_name("N"), "flight day (default: the newest day folder)");
  add("cutoff", po::value<std::string>()->value_name("T"),
      "data cut-off, UTC or elapsed time (default: that of the day)");
  if (command == "brief") {
    add("out", po::value<std::string>()->value_name("DIR"),
        "folder for the outputs (default: out in the mission folder)");
    add("templates", po::value<std::string>()->value_name("DIR"),
        "folder with a brief.md.mustache of your own (default: built in)");
    add("strict", "write nothing when the inputs have any fault");
  }
  if (command == "explain") add("list", "list every figure instead");
  return options;
}

Answer usage_error(const std::string& text) {
  return {fmt::format("daywright: {}\n'daywright --help' shows what there is.\n", model::printable(text)), true};
}

std::string help_of(const CommandHelp& command) {
  std::ostringstream text;
  text << command.usage << "\n" << options_of(command.name) << "\n" << command.examples;
  return text.str();
}

}  // namespace

std::variant<Command, Answer> read_command_line(int argc, const char* const* argv) {
  const std::vector<std::string> arguments(argv + std::min(argc, 1), argv + argc);
  if (arguments.empty()) return Answer{overview, true};
  if (arguments.front() == "--help" || arguments.front() == "-h" || arguments.front() == "help")
    return Answer{overview, false};
  if (arguments.front() == "--version") return Answer{"daywright " DAYWRIGHT_VERSION "\n", false};

  std::vector<std::string> known;
  const CommandHelp* help = nullptr;
  for (const auto& command : commands) {
    known.emplace_back(command.name);
    if (arguments.front() == command.name) help = &command;
  }
  if (help == nullptr)
    return usage_error(
        fmt::format("unknown command '{}'{}", arguments.front(), model::did_you_mean(arguments.front(), known)));

  po::options_description all;
  all.add(options_of(help->name));
  all.add_options()("words", po::value<std::vector<std::string>>());
  po::positional_options_description words;
  words.add("words", -1);
  po::variables_map values;
  try {
    // Guessing would take --da for --day and change its mind when an option is added.
    const int style = po::command_line_style::default_style & ~po::command_line_style::allow_guessing;
    po::store(po::command_line_parser(std::vector<std::string>(arguments.begin() + 1, arguments.end()))
                  .options(all)
                  .positional(words)
                  .style(style)
                  .run(),
              values);
  } catch (const po::error& error) {
    return usage_error(error.what());
  }
  for (const char* option : {"out", "templates", "cutoff"}) {
    // "--out --strict" would otherwise write into a folder called --strict.
    if (!values.contains(option)) continue;
    const auto& value = values[option].as<std::string>();
    if (value.empty() || value.starts_with("--"))
      return usage_error(fmt::format("--{} needs a value, got '{}'", option, model::printable(value)));
  }
  if (values.contains("help")) return Answer{help_of(*help), false};

  Command command;
  command.name = help->name;
  const auto given =
      values.contains("words") ? values["words"].as<std::vector<std::string>>() : std::vector<std::string>{};
  command.list = values.contains("list");
  command.strict = values.contains("strict");
  const bool takes_figure = command.name == "explain" && !command.list;
  const std::size_t wanted = takes_figure ? 2 : 1;
  if (given.size() < wanted || given.front().empty())
    return usage_error(fmt::format("'{}' needs {}", command.name,
                                   takes_figure ? "a mission folder and a figure" : "a mission folder"));
  if (given.size() > wanted) return usage_error(fmt::format("'{}' has no use for '{}'", command.name, given[wanted]));
  command.folder = given.front();
  if (takes_figure) command.figure = given[1];
  if (values.contains("day")) {
    command.day = values["day"].as<int>();
    if (*command.day < 1 || *command.day > 999) return usage_error("--day is a flight day from 1 to 999");
  }
  if (values.contains("cutoff")) {
    command.cutoff = values["cutoff"].as<std::string>();
    const bool is_time = model::parse_utc(*command.cutoff).value || model::parse_elapsed(*command.cutoff).value;
    if (!is_time)
      return usage_error(
          fmt::format("--cutoff is '{}', expected a UTC time such as 2031-05-13T16:20Z or elapsed time such as 7/04:45",
                      model::printable(*command.cutoff)));
  }
  if (values.contains("out")) command.out = values["out"].as<std::string>();
  if (values.contains("templates")) command.templates = values["templates"].as<std::string>();
  return command;
}

}  // namespace daywright::cli
