#include "cli/options.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <optional>
#include <set>
#include <sstream>
#include <utility>

#include <fmt/format.h>
#include <boost/program_options.hpp>

#include "cli/outputs.h"
#include "model/instant.h"
#include "model/mission.h"
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
  options DIR          how long the flight can be, the ways home, and what if
  explain DIR FIGURE   how one figure came about, down to file and line
  explain DIR --list   every figure with its value
  sign DIR             a call, or the decision of the chair, on the brief of a day
  signoffs DIR         who has said what about that brief, in DIR/out/day-NNN-signoffs
  archive DIR          files what stands there for a day, for good, in DIR/archive
  handover DIR         the page for the next lead, in DIR/out/day-NNN-handover, and taking over on it
  verify PATH          proof that nothing signed or filed has changed since, or each thing that has
  history PATH         figures over the filed days, verdict changes, forecasts against what came
  compare A B          two briefs, only what differs

'daywright COMMAND --help' shows the options of a command.
'daywright --version' shows the version.

Exit codes: 0 done; 1 done, but the inputs have faults; 2 usage; 3 nothing changed (inputs unusable,
refused, can't read or write); 4 in doubt. verify: 0 valid and anchored; 5 valid, not anchored;
6 incomplete; 7 invalid.

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
    CommandHelp{
        "brief",
        "Usage: daywright brief DIR [options]\n\nWrites brief.md, brief.html, brief.xlsx, note.txt, status.json and "
        "inputs.json for one day, as one folder.\n",
        "Examples:\n  daywright brief missions/petrel-3\n  daywright brief missions/petrel-3 --day 7 --cutoff "
        "6/20:00 --out /tmp/briefs\n  daywright brief missions/petrel-3 --summary\n  daywright brief "
        "missions/petrel-3 --summary --only note,md\n"},
    CommandHelp{"options",
                "Usage: daywright options DIR [options]\n\nShows how long the flight can be and the ways home. With "
                "any of the changes below it shows the changed\nflight beside the planned one: a what-if, never part "
                "of the brief of record.\n",
                "Examples:\n  daywright options missions/petrel-3\n  daywright options missions/petrel-3 --extra-days "
                "1 --with-transfer X-9\n  daywright options missions/petrel-3 --rate water=1.1 --crew 4 --from "
                "9/12:00\n  daywright options missions/petrel-3 --return next_day --at 8/02:00\n"},
    CommandHelp{"explain",
                "Usage: daywright explain DIR FIGURE [options]\n       daywright explain DIR --list [options]\n\nShows "
                "value, formula and inputs of one figure, and of the figures it rests on.\n",
                "Examples:\n  daywright explain missions/petrel-3 item.water.margin.days\n  daywright explain "
                "missions/petrel-3 --list | grep extension\n"},
    CommandHelp{
        "sign",
        "Usage: daywright sign DIR --role ROLE --name NAME --as PRINCIPAL --call CALL (--key FILE | --unsigned) "
        "[options]\n       daywright sign DIR --role ROLE --name NAME --as PRINCIPAL --withdraws NUMBER "
        "--remark TEXT (--key FILE | --unsigned)\n\nShows what is about to be signed, asks, and records it in "
        "DIR/signoffs. Nothing there is ever changed: who\nchanges their mind signs again or withdraws.\n",
        "Examples:\n  daywright sign missions/petrel-3 --role eva_lead --name 'Mara Velden' --as "
        "eva-1@petrel.example --gate eva_3 --call go --key ~/.ssh/id_ed25519\n  daywright sign "
        "missions/petrel-3 --role systems --name 'Jon Aster' --as systems-1@petrel.example --gate eva_3 --call "
        "conditions --condition 'recount the water' --owner stowage --key ~/.ssh/id_ed25519\n"},
    CommandHelp{"signoffs",
                "Usage: daywright signoffs DIR [options]\n\nWrites signoffs.md and signoffs.json for one day: what was "
                "computed, who has called what, who has not, what is\novertaken, and whether the chair has released "
                "it.\n",
                "Examples:\n  daywright signoffs missions/petrel-3\n  daywright signoffs missions/petrel-3 --day 7\n"},
    CommandHelp{
        "archive",
        "Usage: daywright archive DIR [options]\n\nFiles inputs, outputs, sign-offs, list of signers and templates of "
        "one day as a bag of BagIt 1.0 (RFC 8493), in a\nchain. It files the brief that stands there and makes none; "
        "it "
        "refuses when the inputs are others by now. What is\nfiled is never changed: the same again is \"already "
        "filed\", and something else becomes a new revision.\n",
        "Examples:\n  daywright archive missions/petrel-3\n  daywright archive missions/petrel-3 --day 7 --reason "
        "'late "
        "count of the hygiene packs'\n  daywright archive missions/petrel-3 --to /media/second/petrel-3\n"},
    CommandHelp{
        "handover",
        "Usage: daywright handover DIR [options]\n       daywright handover DIR --accept --role ROLE --name NAME --as "
        "PRINCIPAL (--key FILE | --unsigned) [options]\n\nWrites handover.md for one day: what falls due in the "
        "coming shift, what is open, what it rests on. With --accept it\nshows the page that is there in a few lines, "
        "asks, and records in DIR/signoffs that the lead takes over on it.\n",
        "Examples:\n  daywright handover missions/petrel-3\n  daywright handover missions/petrel-3 --accept --role "
        "flight_lead --name 'Teo Lund' --as lead-3@petrel.example --key ~/.ssh/id_ed25519\n"},
    CommandHelp{
        "verify",
        "Usage: daywright verify PATH [options]\n\nOf a mission folder: numbers, chain and signatures of all "
        "sign-offs, each signature at its own time, and whether\nwhat they cover is there. Of an archive, or of one "
        "bag "
        "of it: every byte, the chain of days, and the sign-offs of\neach day by the list of signers filed with it. "
        "Says each thing that is wrong, and where.\n",
        "Examples:\n  daywright verify missions/petrel-3\n  daywright verify missions/petrel-3/archive --expect "
        "12:0369ca9568c59355\n  daywright verify missions/petrel-3/archive/000012 --remake\n"},
    CommandHelp{
        "history",
        "Usage: daywright history PATH [FIGURE...] [options]\n\nOf an archive, or of a mission folder with one: "
        "figures over all filed days, each as it was filed. Without a figure:\nhow the verdict of each gate has "
        "changed, and how the levels that were forecast agree with those that came.\n",
        "Examples:\n  daywright history missions/petrel-3\n  daywright history missions/petrel-3 "
        "item.water.margin.days\n  daywright history missions/petrel-3/archive item.water.level supplies.through "
        "--csv\n  daywright history missions/petrel-3 item.water.level --html water.html\n"},
    CommandHelp{
        "compare",
        "Usage: daywright compare A B [options]\n\nA and B are each a bag, a folder of outputs, or a filed day: DIR@8 "
        "or ARCHIVE@8 is its newest revision, DIR@8.2 its\nrevision 2. Shows the figures and inputs that differ, "
        "verdicts first.\n",
        "Examples:\n  daywright compare missions/petrel-3@7 missions/petrel-3@8\n  daywright compare "
        "missions/petrel-3@8.1 missions/petrel-3@8.2\n  daywright compare missions/petrel-3@8 "
        "missions/petrel-3/out/day-008\n"},
};

std::string listed(const std::vector<std::string>& names) {
  std::string text;
  for (const auto& name : names) text += (text.empty() ? "" : ", ") + name;
  return text;
}

po::options_description options_of(const std::string& command) {
  po::options_description options("Options");
  auto add = options.add_options();
  add("help,h", "show this text");
  if (command == "verify") {
    add("out", po::value<std::string>()->value_name("DIR"),
        "folder of the outputs (default: out in the mission folder)");
    add("expect", po::value<std::string>()->value_name("COUNT:DIGEST"),
        "what 'sign', 'archive', 'verify' or a brief has said and somebody has noted elsewhere; at least 16 digits");
    add("remake", "of an archive or a bag: make the outputs again from the inputs filed with them, and compare");
    return options;
  }
  if (command == "history" || command == "compare") add("json", "print JSON");
  if (command == "history") {
    add("csv", "print CSV");
    add("html", po::value<std::string>()->value_name("FILE"), "write a page instead, which needs no other file");
    add("all", "all revisions, not only the newest of each day");
  }
  if (command == "history" || command == "compare") return options;
  add("day", po::value<int>()->value_name("N"), "flight day (default: the newest day folder)");
  if (command != "archive")
    add("cutoff", po::value<std::string>()->value_name("T"),
        "data cut-off, UTC or elapsed time (default: that of the day)");
  if (command == "brief") {
    add("out", po::value<std::string>()->value_name("DIR"),
        "folder for the outputs (default: out in the mission folder)");
    add("templates", po::value<std::string>()->value_name("DIR"),
        "folder with a brief.md.mustache, a note.txt.mustache or a brief.css of your own (default: built in)");
    add("strict", "write nothing when the inputs have any fault");
    add("summary", "show the five lines of the brief and the margins too");
    add("open", "open the page, or say where it is when there is no display");
    add("only", po::value<std::string>()->value_name("NAMES"),
        ("a part, in a folder of its own, that can't be signed or archived; names with commas between: " +
         listed(output_names()))
            .c_str());
  }
  if (command == "options") {
    const auto names = [](const char* shown) { return po::value<std::vector<std::string>>()->value_name(shown); };
    add("extra-days", po::value<int>()->value_name("N"), "days added before the event that the plan names");
    add("with-transfer", names("ID"), "a planned transfer in is counted; may be given several times");
    add("without-transfer-out", names("ID"), "a planned transfer out is not made; may be given several times");
    add("crew", po::value<int>()->value_name("N"), "so many persons aboard ...");
    add("from", po::value<std::string>()->value_name("T"), "... from this time on");
    add("rate", names("ITEM=FACTOR"), "so many times the planned use from the cut-off on");
    add("return", po::value<std::string>()->value_name("NAME"), "a return option of rules.toml ...");
    add("at", po::value<std::string>()->value_name("T"), "... decided at this time (default: the cut-off)");
  }
  if (command == "handover") {
    add("hours", po::value<double>()->value_name("H"),
        "length of the shift from the cut-off on (default: shift_hours of mission.toml, else 12)");
    add("accept", "take over on the page that is there");
  }
  if (command == "signoffs" || command == "handover")
    add("out", po::value<std::string>()->value_name("DIR"),
        "folder of the outputs (default: out in the mission folder)");
  if (command == "archive") {
    const auto text = [](const char* shown) { return po::value<std::string>()->value_name(shown); };
    add("out", text("DIR"), "folder of the outputs (default: out in the mission folder)");
    add("to", text("DIR"), "the archive (default: archive in the mission folder)");
    add("reason", text("TEXT"), "why a day that is filed is filed again, one line");
  }
  if (command == "explain") add("list", "list every figure instead");
  const auto text = [](const char* shown) { return po::value<std::string>()->value_name(shown); };
  if (command == "sign" || command == "handover" || command == "archive")
    add("templates", text("DIR"), "templates that the brief was made with (default: built in)");
  if (command == "sign") {
    const auto texts = [](const char* shown) { return po::value<std::vector<std::string>>()->value_name(shown); };
    add("out", text("DIR"), "folder of the outputs (default: out in the mission folder)");
    add("call", text("CALL"), "go, conditions, no-go (with --remark) or abstain");
    add("decide", "this is the decision of the chair, after the calls");
    add("gate", text("GATE"), "gate that it is about (default: the brief as a whole)");
    add("condition", texts("TEXT"), "what has to be done; may be given several times, each with ...");
    add("owner", texts("ROLE"), "... the role that sees to it");
    add("withdraws", po::value<int>()->value_name("NUMBER"), "take back an own record (with --remark)");
  }
  if (command == "sign" || command == "handover") {
    add("role", text("ROLE"), "role that signs, an id of rules.toml");
    add("name", text("NAME"), "name as it is printed");
    add("as", text("PRINCIPAL"), "who that is in rules.toml and in allowed_signers");
    add("remark", text("TEXT"), "reason or remark, one line");
    add("key", text("FILE"), "private key, or public key of one that an agent holds");
    add("unsigned", "record without a signature");
    add("yes", "do not ask: what is shown was read");
  }
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

bool is_time(const std::string& text) { return model::parse_utc(text).value || model::parse_elapsed(text).value; }

/// "water=1.1" as item and factor; nothing where it is something else.
std::optional<std::pair<std::string, double>> read_rate(const std::string& text) {
  const auto equals = text.find('=');
  if (equals == 0 || equals == std::string::npos) return std::nullopt;
  double factor = 0;
  const char* const end = text.data() + text.size();
  const auto read = std::from_chars(text.data() + equals + 1, end, factor);
  constexpr double most = 1000;  // beyond that somebody has mistaken the factor for a rate
  if (read.ec != std::errc{} || read.ptr != end || !(factor >= 0 && factor <= most)) return std::nullopt;
  return std::pair{text.substr(0, equals), factor};
}

/// "12:0369..." as a count and a digest; nothing where it is something else.
std::optional<Anchor> read_anchor(const std::string& text) {
  Anchor anchor;
  const char* const end = text.data() + text.size();
  const auto read = std::from_chars(text.data(), end, anchor.count);
  if (read.ec != std::errc{} || anchor.count < 1 || read.ptr == end || *read.ptr != ':') return std::nullopt;
  anchor.digest.assign(read.ptr + 1, end);
  constexpr std::size_t fewest_digits = 16;
  constexpr std::size_t most_digits = 64;
  const bool is_digest = anchor.digest.size() >= fewest_digits && anchor.digest.size() <= most_digits &&
                         anchor.digest.find_first_not_of("0123456789abcdef") == std::string::npos;
  return is_digest ? std::optional(anchor) : std::nullopt;
}

/// What `options` is asked to change. Returns what is wrong with it, or an empty text.
std::string read_changes(const po::variables_map& values, Changes& changes) {
  const auto text = [&](const char* name) {
    return values.contains(name) ? std::optional(values[name].as<std::string>()) : std::nullopt;
  };
  const auto texts = [&](const char* name) {
    return values.contains(name) ? values[name].as<std::vector<std::string>>() : std::vector<std::string>{};
  };
  constexpr int most_days = 10;
  constexpr int most_persons = 99;
  if (values.contains("extra-days")) changes.extra_days = values["extra-days"].as<int>();
  if (changes.extra_days < 0 || changes.extra_days > most_days)
    return fmt::format("--extra-days is a number from 0 to {}", most_days);
  changes.transfers_in = texts("with-transfer");
  changes.transfers_not_out = texts("without-transfer-out");
  if (values.contains("crew")) changes.crew = values["crew"].as<int>();
  if (changes.crew && (*changes.crew < 0 || *changes.crew > most_persons))
    return fmt::format("--crew is a number from 0 to {}", most_persons);
  changes.crew_from = text("from");
  if (changes.crew.has_value() != changes.crew_from.has_value())
    return "--crew and --from go together: how many, and from when on";
  for (const auto& rate : texts("rate")) {
    const auto read = read_rate(rate);
    if (!read) return fmt::format("--rate is '{}', expected an item and a factor such as water=1.1", rate);
    if (std::any_of(changes.rates.begin(), changes.rates.end(), [&](const auto& r) { return r.first == read->first; }))
      return fmt::format("--rate names '{}' twice", read->first);
    changes.rates.push_back(*read);
  }
  changes.return_option = text("return");
  changes.return_at = text("at");
  if (changes.return_at && !changes.return_option) return "--at needs --return: which way home is decided then";
  for (const auto& [name, time] : {std::pair{"from", changes.crew_from}, std::pair{"at", changes.return_at}}) {
    if (time && !is_time(*time))
      return fmt::format("--{} is '{}', expected a UTC time such as 2031-05-13T16:20Z or elapsed time such as 7/04:45",
                         name, *time);
  }
  return {};
}

/// Which outputs `brief` is to make, and whether the page that is to be opened is among them. Returns what is wrong
/// with it, or an empty text.
std::string read_outputs(const po::variables_map& values, Command& command) {
  const std::vector<std::string> known = output_names();
  command.summary = values.contains("summary");
  command.open = values.contains("open");
  if (values.contains("only")) {
    std::set<std::string> named;
    const auto& text = values["only"].as<std::string>();
    for (std::size_t begin = 0; begin <= text.size();) {
      const std::size_t end = std::min(text.find(',', begin), text.size());
      const std::string name = text.substr(begin, end - begin);
      if (std::find(known.begin(), known.end(), name) == known.end())
        return fmt::format("--only names '{}', expected some of {}, with commas between{}", name, listed(known),
                           model::did_you_mean(name, known));
      named.insert(name);
      begin = end + 1;
    }
    for (const auto& name : known) {
      if (named.contains(name)) command.only.push_back(name);
    }
  }
  const auto& made = command.only.empty() ? known : command.only;
  if (command.open && std::find(made.begin(), made.end(), "html") == made.end())
    return "--open shows the page, which is not made: name html in --only too, or leave --only out";
  return {};
}

constexpr std::size_t longest_name = 200;

/// Who signs, with which key and remark. Returns what is wrong with it, or an empty text.
std::string read_signer(const po::variables_map& values, const std::string& command, SignRequest& request) {
  const auto text = [&](const char* name) { return values.contains(name) ? values[name].as<std::string>() : ""; };
  constexpr std::size_t longest_remark = 1000;
  for (const char* name : {"role", "name", "as"}) {
    if (text(name).empty()) return fmt::format("'{}' needs --{}", command, name);
  }
  request.role = text("role");
  request.name = text("name");
  request.principal = text("as");
  request.remark = text("remark");
  request.is_confirmed = values.contains("yes");
  if (!model::is_principal(request.principal))
    return "--as is a name in plain ASCII: letters, digits and . _ @ + - after a letter or a digit";
  if (const auto wrong = model::fault_of_line(request.name, longest_name); !wrong.empty()) return "--name " + wrong;
  if (const auto wrong = model::fault_of_line(request.remark, longest_remark); !wrong.empty())
    return "--remark " + wrong;
  if (values.contains("key") == values.contains("unsigned"))
    return "give --key FILE, or --unsigned to record without a signature";
  if (values.contains("key")) request.key = text("key");
  return {};
}

/// What `history` and `compare` are asked to show. Returns what is wrong with it, or an empty text.
std::string read_showing(const po::variables_map& values, const std::vector<std::string>& words, Command& command) {
  const auto is_given = [&](const char* name) { return values.contains(name) ? 1 : 0; };
  if (is_given("csv") + is_given("json") + is_given("html") > 1) return "--csv, --json and --html exclude each other";
  if (is_given("csv") == 1) command.form = OutputForm::csv;
  if (is_given("json") == 1) command.form = OutputForm::json;
  if (is_given("html") == 1) command.page = values["html"].as<std::string>();
  command.all_revisions = is_given("all") == 1;
  if (command.name == "compare") command.other = words.at(1);
  if (command.name != "history") return {};
  command.figures.assign(words.begin() + 1, words.end());
  return command.form == OutputForm::csv && command.figures.empty() ? "--csv needs a figure" : "";
}

/// What `sign` is asked to record. Returns what is wrong with it, or an empty text.
std::string read_sign_request(const po::variables_map& values, SignRequest& request) {
  const auto text = [&](const char* name) { return values.contains(name) ? values[name].as<std::string>() : ""; };
  const auto texts = [&](const char* name) {
    return values.contains(name) ? values[name].as<std::vector<std::string>>() : std::vector<std::string>{};
  };
  if (auto wrong = read_signer(values, "sign", request); !wrong.empty()) return wrong;
  request.gate = text("gate");
  const auto conditions = texts("condition");
  const auto owners = texts("owner");
  if (conditions.size() != owners.size()) return "each --condition has its --owner";
  for (std::size_t i = 0; i < conditions.size(); ++i) {
    const auto wrong = conditions[i].empty() ? "is empty" : model::fault_of_line(conditions[i], longest_name);
    if (!wrong.empty()) return "--condition " + wrong;
    request.conditions.push_back({conditions[i], owners[i]});
  }
  request.is_decision = values.contains("decide");
  if (values.contains("withdraws")) {
    request.withdraws = values["withdraws"].as<int>();
    if (*request.withdraws < 1) return "--withdraws is the number of a record";
    for (const char* other : {"call", "decide", "gate", "condition"}) {
      if (values.contains(other)) return fmt::format("--withdraws has no use for --{}", other);
    }
    return request.remark.empty() ? "--withdraws needs --remark: why" : "";
  }
  constexpr std::array<std::pair<std::string_view, model::Call>, 4> calls{
      {{"go", model::Call::go},
       {"conditions", model::Call::go_with_conditions},
       {"no-go", model::Call::no_go},
       {"abstain", model::Call::abstain}}};
  for (const auto& [word, call] : calls) {
    if (word == text("call")) request.call = call;
  }
  if (!request.call) return fmt::format("--call is '{}', expected go, conditions, no-go or abstain", text("call"));
  if (request.is_decision && request.gate.empty()) return "--decide needs --gate: what is decided";
  if (request.is_decision && request.call == model::Call::abstain) return "a decision is go, conditions or no-go";
  if (request.call == model::Call::no_go && request.remark.empty()) return "a no-go needs --remark: why";
  if ((request.call == model::Call::go_with_conditions) == request.conditions.empty())
    return "conditions, and only they, need --condition and --owner: what has to be done, and who sees to it";
  return {};
}

/// How long the shift is, and who takes over, if anybody does. Returns what is wrong with it, or an empty text.
std::string read_handover(const po::variables_map& values, Command& command) {
  if (values.contains("hours")) command.shift_hours = values["hours"].as<double>();
  if (command.shift_hours && !model::is_shift_length(*command.shift_hours))
    return fmt::format("--hours is a number above 0, at most {}", model::longest_shift_hours);
  command.accept = values.contains("accept");
  if (command.accept) return read_signer(values, "handover --accept", command.sign);
  for (const char* name : {"role", "name", "as", "remark", "key", "unsigned", "yes"}) {
    if (values.contains(name)) return fmt::format("--{} needs --accept: who takes over", name);
  }
  return {};
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
  for (const char* option : {"out", "templates", "cutoff", "only", "role", "name", "as", "call", "gate", "remark",
                             "key", "to", "reason", "html"}) {
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
  const bool compares = command.name == "compare";
  const std::size_t wanted = takes_figure || compares ? 2 : 1;
  if (given.size() < wanted || given.front().empty())
    return usage_error(fmt::format("'{}' needs {}", command.name,
                                   takes_figure ? "a mission folder and a figure"
                                   : compares   ? "two briefs"
                                                : "a mission folder"));
  if (given.size() > wanted && command.name != "history")
    return usage_error(fmt::format("'{}' has no use for '{}'", command.name, given[wanted]));
  command.folder = given.front();
  if (const auto wrong = read_showing(values, given, command); !wrong.empty()) return usage_error(wrong);
  if (takes_figure) command.figure = given[1];
  if (values.contains("day")) {
    command.day = values["day"].as<int>();
    if (*command.day < 1 || *command.day > 999) return usage_error("--day is a flight day from 1 to 999");
  }
  if (values.contains("cutoff")) {
    command.cutoff = values["cutoff"].as<std::string>();
    if (!is_time(*command.cutoff))
      return usage_error(
          fmt::format("--cutoff is '{}', expected a UTC time such as 2031-05-13T16:20Z or elapsed time such as 7/04:45",
                      model::printable(*command.cutoff)));
  }
  if (const auto wrong = read_changes(values, command.changes); !wrong.empty()) return usage_error(wrong);
  if (const auto wrong = read_outputs(values, command); !wrong.empty()) return usage_error(wrong);
  if (values.contains("expect")) {
    command.anchor = read_anchor(values["expect"].as<std::string>());
    if (!command.anchor)
      return usage_error(
          "--expect is a number, a colon and a SHA-256 or its first 16 digits or more, as 'verify' says it");
  }
  if (values.contains("to")) command.archive = values["to"].as<std::string>();
  if (values.contains("reason")) command.reason = values["reason"].as<std::string>();
  constexpr std::size_t longest_reason = 1000;
  if (const auto wrong = model::fault_of_line(command.reason, longest_reason); !wrong.empty())
    return usage_error("--reason " + wrong);
  command.remakes = values.contains("remake");
  if (command.name == "sign") {
    if (const auto wrong = read_sign_request(values, command.sign); !wrong.empty()) return usage_error(wrong);
  }
  if (command.name == "handover") {
    if (const auto wrong = read_handover(values, command); !wrong.empty()) return usage_error(wrong);
  }
  if (values.contains("out")) command.out = values["out"].as<std::string>();
  if (values.contains("templates")) command.templates = values["templates"].as<std::string>();
  return command;
}

}  // namespace daywright::cli
