#include "cli/options.h"

#include <iterator>
#include <sstream>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "catch_compat.h"
#include "cli/outputs.h"

using Catch::Matchers::ContainsSubstring;
using daywright::cli::Answer;
using daywright::cli::Command;
using daywright::cli::output_names;
using daywright::cli::read_command_line;
using namespace std::string_literals;

namespace {

using Words = std::vector<std::string>;

/// What the words after the program's name ask for.
std::variant<Command, Answer> read(const Words& words) {
  std::vector<const char*> arguments{"daywright"};
  for (const auto& word : words) arguments.push_back(word.c_str());
  return read_command_line(static_cast<int>(arguments.size()), arguments.data());
}

Command command_of(const Words& words) {
  const auto asked = read(words);
  if (const auto* answer = std::get_if<Answer>(&asked)) FAIL(answer->text);
  return std::get<Command>(asked);
}

/// The first line of the usage error, without the program's name; fails when there is none.
std::string error_of(const Words& words) {
  const auto asked = read(words);
  const auto* answer = std::get_if<Answer>(&asked);
  REQUIRE(answer != nullptr);
  CHECK(answer->is_error);
  CHECK(answer->text.starts_with("daywright: "));
  CHECK_THAT(answer->text, ContainsSubstring("--help"));
  return answer->text.substr(11, answer->text.find('\n') - 11);
}

std::string help_of(const Words& words) {
  const auto asked = read(words);
  const auto* answer = std::get_if<Answer>(&asked);
  REQUIRE(answer != nullptr);
  CHECK_FALSE(answer->is_error);
  return answer->text;
}

}  // namespace

TEST_CASE("a command with nothing but its folder has every default") {
  for (const char* name : {"check", "brief", "options"}) {
    const Command command = command_of({name, "missions/tern"});
    CHECK(command.name == name);
    CHECK(command.folder == "missions/tern");
    CHECK(command.figure.empty());
    CHECK_FALSE(command.list);
    CHECK_FALSE(command.strict);
    CHECK_FALSE(command.day);
    CHECK_FALSE(command.cutoff);
    CHECK_FALSE(command.out);
    CHECK_FALSE(command.templates);
  }
}

TEST_CASE("brief takes all its options, before and behind its folder and with an equals sign") {
  const Words options{"--day", "7", "--cutoff", "6/20:00", "--out", "o", "--templates", "t", "--strict"};
  Words before{"brief"};
  before.insert(before.end(), options.begin(), options.end());
  before.emplace_back("dir");
  Words behind{"brief", "dir"};
  behind.insert(behind.end(), options.begin(), options.end());
  for (const auto& words :
       {before, behind, Words{"brief", "--day=7", "--cutoff=6/20:00", "dir", "--out=o", "--templates=t", "--strict"}}) {
    const Command command = command_of(words);
    CHECK(command.folder == "dir");
    CHECK(command.day == 7);
    CHECK(command.cutoff == "6/20:00");
    CHECK(command.out == "o");
    CHECK(command.templates == "t");
    CHECK(command.strict);
  }
}

TEST_CASE("handover takes the length of the shift, and who takes over only with --accept") {
  CHECK_FALSE(command_of({"handover", "dir"}).shift_hours);
  CHECK_FALSE(command_of({"handover", "dir"}).accept);
  CHECK(command_of({"handover", "dir", "--hours", "8.5"}).shift_hours == 8.5);
  const Words who{"handover", "dir", "--role", "lead", "--name", "Teo Lund", "--as", "lead@x", "--unsigned"};
  CHECK(error_of(who) == "--role needs --accept: who takes over");
  Words accepting = who;
  accepting.insert(accepting.end(), {"--accept", "--remark", "read", "--yes"});
  const Command command = command_of(accepting);
  CHECK(command.accept);
  CHECK(command.sign.role == "lead");
  CHECK(command.sign.name == "Teo Lund");
  CHECK(command.sign.principal == "lead@x");
  CHECK(command.sign.remark == "read");
  CHECK(command.sign.is_confirmed);
  CHECK_FALSE(command.sign.key);
  CHECK(error_of({"handover", "dir", "--accept"}) == "'handover --accept' needs --role");
  for (const char* hours : {"0", "-1", "72.5", "nan"})
    CHECK(error_of({"handover", "dir", "--hours", hours}) == "--hours is a number above 0, at most 72");
}

TEST_CASE("brief shows its summary and makes a part of its outputs, in the order in which they are listed") {
  CHECK_FALSE(command_of({"brief", "dir"}).summary);
  CHECK(command_of({"brief", "dir"}).only.empty());
  CHECK(command_of({"brief", "dir", "--summary", "--only", "md"}).summary);
  CHECK(command_of({"brief", "dir", "--only", "note,md,note"}).only == Words{"md", "note"});
  CHECK(command_of({"brief", "dir", "--only=json,xlsx"}).only == Words{"xlsx", "json"});
}

TEST_CASE("an output that does not exist is refused with those that do") {
  for (const auto& name : output_names())
    CHECK_THAT(error_of({"brief", "dir", "--only", "x"}), ContainsSubstring(name));
  CHECK_THAT(error_of({"brief", "dir", "--only", "md,nte"}), ContainsSubstring("did you mean 'note'?"));
  for (const char* empty : {"md,", ",md", "md,,note", "md, note"})
    CHECK_THAT(error_of({"brief", "dir", "--only", empty}), ContainsSubstring("--only names '"));
  CHECK_THAT(error_of({"check", "dir", "--only", "md"}), ContainsSubstring("--only"));
}

TEST_CASE("a page that is not made can't be opened") {
  CHECK_THAT(error_of({"brief", "dir", "--open", "--only", "md,note"}),
             ContainsSubstring("name html in --only too, or leave --only out"));
}

TEST_CASE("explain takes a folder and a figure, or a folder and --list") {
  const Command one = command_of({"explain", "dir", "item.water.level"});
  CHECK(one.folder == "dir");
  CHECK(one.figure == "item.water.level");
  CHECK_FALSE(one.list);
  CHECK(command_of({"explain", "dir", "--list"}).list);
  CHECK(command_of({"explain", "--list", "dir"}).folder == "dir");
  CHECK(error_of({"explain", "dir"}) == "'explain' needs a mission folder and a figure");
  CHECK(error_of({"explain", "--list"}) == "'explain' needs a mission folder");
  CHECK(error_of({"explain", "dir", "item.water.level", "--list"}) == "'explain' has no use for 'item.water.level'");
}

TEST_CASE("without a command the overview is a usage error, and asked for it is none") {
  const auto asked = read({});
  CHECK(std::get<Answer>(asked).is_error);
  for (const char* word : {"--help", "-h", "help"}) CHECK(help_of({word}) == std::get<Answer>(asked).text);
  CHECK(std::get<Answer>(read_command_line(0, nullptr)).is_error);
}

TEST_CASE("the overview names every command and every exit code") {
  const std::string overview = help_of({"--help"});
  for (const char* part :
       {"check DIR", "brief DIR", "options DIR", "explain DIR FIGURE", "explain DIR --list", "0 done", "1 done",
        "2 usage", "3 nothing changed", "4 in doubt", "Decision support only."}) {
    CAPTURE(part);
    CHECK_THAT(overview, ContainsSubstring(part));
  }
}

TEST_CASE("the help of a command shows its own options and no other's") {
  CHECK_THAT(help_of({"brief", "--help"}), ContainsSubstring("--out") && ContainsSubstring("--strict"));
  CHECK_THAT(help_of({"check", "-h"}), !ContainsSubstring("--out") && ContainsSubstring("--cutoff"));
  CHECK_THAT(help_of({"explain", "--help"}), ContainsSubstring("--list") && !ContainsSubstring("--strict"));
  for (const char* name : {"check", "brief", "options", "explain"})
    CHECK_THAT(help_of({name, "--help"}),
               ContainsSubstring("Usage: daywright "s + name) && !ContainsSubstring("words"));
}

TEST_CASE("help is given even where the folder is missing") { CHECK_FALSE(help_of({"brief", "--help"}).empty()); }

TEST_CASE("the version is one line with a number") {
  const std::string version = help_of({"--version"});
  CHECK(version.starts_with("daywright "));
  CHECK(version.find_first_of("0123456789") != std::string::npos);
  CHECK(version.find('\n') == version.size() - 1);
}

TEST_CASE("a misspelt command is told the nearest one, and a strange one is told none") {
  CHECK(error_of({"breif", "dir"}) == "unknown command 'breif'; did you mean 'brief'?");
  CHECK(error_of({"Check", "dir"}) == "unknown command 'Check'; did you mean 'check'?");
  CHECK(error_of({"explian", "dir"}) == "unknown command 'explian'; did you mean 'explain'?");
  CHECK(error_of({"publish", "dir"}) == "unknown command 'publish'");
  CHECK(error_of({""}) == "unknown command ''");
}

TEST_CASE("an option stands behind its command, never in its place") {
  CHECK_THAT(error_of({"--day", "8", "brief", "dir"}), ContainsSubstring("unknown command '--day'"));
}

TEST_CASE("a command without its folder is refused, an empty name counting as none") {
  for (const char* name : {"check", "brief"}) {
    CHECK(error_of({name}) == "'"s + name + "' needs a mission folder");
    CHECK(error_of({name, ""}) == "'"s + name + "' needs a mission folder");
    CHECK(error_of({name, "--day", "8"}) == "'"s + name + "' needs a mission folder");
  }
}

TEST_CASE("a second folder is refused and named") {
  CHECK(error_of({"brief", "one", "two"}) == "'brief' has no use for 'two'");
  CHECK(error_of({"check", "one", "two", "three"}) == "'check' has no use for 'two'");
  CHECK(error_of({"explain", "dir", "a", "b"}) == "'explain' has no use for 'b'");
}

TEST_CASE("an option that the command does not have is refused and named") {
  CHECK_THAT(error_of({"check", "dir", "--bogus"}), ContainsSubstring("--bogus"));
  CHECK_THAT(error_of({"check", "dir", "--out", "o"}), ContainsSubstring("--out"));
  CHECK_THAT(error_of({"check", "dir", "--strict"}), ContainsSubstring("--strict"));
  CHECK_THAT(error_of({"brief", "dir", "--list"}), ContainsSubstring("--list"));
  CHECK_THAT(error_of({"explain", "dir", "x", "--templates", "t"}), ContainsSubstring("--templates"));
}

TEST_CASE("an option is never guessed from its beginning, nor taken in other letters") {
  for (const char* option : {"--da", "--cut", "--DAY", "-d"}) {
    CAPTURE(option);
    CHECK_THAT(error_of({"brief", "dir", option, "8"}), ContainsSubstring(option));
  }
}

TEST_CASE("a day is a whole number from 1 to 999") {
  CHECK(command_of({"brief", "dir", "--day", "1"}).day == 1);
  CHECK(command_of({"brief", "dir", "--day", "999"}).day == 999);
  CHECK(command_of({"brief", "dir", "--day", "008"}).day == 8);
  for (const char* day : {"0", "-1", "1000", "-999999"}) {
    CAPTURE(day);
    CHECK(error_of({"brief", "dir", "--day", day}) == "--day is a flight day from 1 to 999");
  }
  for (const char* day : {"x", "8x", "8.5", "1e2", "0x8", " 8", "8 ", "99999999999999999999"}) {
    CAPTURE(day);
    CHECK_THAT(error_of({"brief", "dir", "--day", day}), ContainsSubstring("--day") && ContainsSubstring(day));
  }
}

TEST_CASE("an option that needs a value is refused without one") {
  for (const char* option : {"--day", "--cutoff", "--out", "--templates", "--only"}) {
    CAPTURE(option);
    CHECK_THAT(error_of({"brief", "dir", option}), ContainsSubstring(option));
    CHECK_THAT(error_of({"brief", "dir", option + "="s}), ContainsSubstring(option));
  }
}

TEST_CASE("an option that takes no value is refused with one") {
  CHECK_THAT(error_of({"brief", "dir", "--strict=yes"}), ContainsSubstring("--strict"));
  CHECK_THAT(error_of({"explain", "dir", "--list=yes"}), ContainsSubstring("--list"));
}

TEST_CASE("an option given twice is refused") {
  for (const char* option : {"--day", "--out"}) {
    CAPTURE(option);
    CHECK_THAT(error_of({"brief", "dir", option, "7", option, "8"}), ContainsSubstring(option));
  }
}

TEST_CASE("behind two dashes every word is a word, so that a folder may begin with a dash") {
  CHECK(command_of({"brief", "--", "-dir"}).folder == "-dir");
  CHECK(error_of({"brief", "--", "dir", "--strict"}) == "'brief' has no use for '--strict'");
}

TEST_CASE("what a usage error quotes can't act on the terminal") {
  for (const auto& words : {Words{"\x1b[2J"}, Words{"brief", "one", "\x1b]0;x\x07"}, Words{"brief", "dir", "--\x1b[2J"},
                            Words{"brief", "dir", "--day", "\x1b[2J"}}) {
    CHECK(error_of(words).find('\x1b') == std::string::npos);
  }
}

TEST_CASE("a folder name is taken byte by byte") {
  for (const char* name : {"dir with blanks", "dír", "\xff\xfe", "a\nb"})
    CHECK(command_of({"check", name}).folder.string() == name);
}

// What `options` is asked to change

TEST_CASE("options without a change has none, and takes every change, those of several more than once") {
  const auto& none = command_of({"options", "dir"}).changes;
  CHECK(none.extra_days == 0);
  CHECK((none.transfers_in.empty() && none.transfers_not_out.empty() && none.rates.empty()));
  CHECK_FALSE((none.crew || none.crew_from || none.return_option || none.return_at));
  const Command command = command_of({"options",
                                      "--extra-days=2",
                                      "--with-transfer",
                                      "X-1",
                                      "--with-transfer",
                                      "X-2",
                                      "--without-transfer-out",
                                      "X-3",
                                      "dir",
                                      "--crew",
                                      "4",
                                      "--from",
                                      "9/12:00",
                                      "--rate",
                                      "water=1.1",
                                      "--rate",
                                      "food=0",
                                      "--return",
                                      "soon",
                                      "--at",
                                      "2031-05-14T00:00Z",
                                      "--day",
                                      "7"});
  CHECK(command.folder == "dir");
  CHECK(command.day == 7);
  const auto& changes = command.changes;
  CHECK(changes.extra_days == 2);
  CHECK(changes.transfers_in == Words{"X-1", "X-2"});
  CHECK(changes.transfers_not_out == Words{"X-3"});
  CHECK(changes.crew == 4);
  CHECK(changes.crew_from == "9/12:00");
  CHECK(changes.rates == std::vector{std::pair{"water"s, 1.1}, std::pair{"food"s, 0.0}});
  CHECK(changes.return_option == "soon");
  CHECK(changes.return_at == "2031-05-14T00:00Z");
  CHECK_FALSE(command_of({"options", "dir", "--return", "soon"}).changes.return_at);
}

TEST_CASE("days and persons have their ranges") {
  CHECK(command_of({"options", "dir", "--extra-days", "0"}).changes.extra_days == 0);
  CHECK(command_of({"options", "dir", "--extra-days", "10"}).changes.extra_days == 10);
  for (const char* days : {"-1", "11"})
    CHECK(error_of({"options", "dir", "--extra-days", days}) == "--extra-days is a number from 0 to 10");
  CHECK_THAT(error_of({"options", "dir", "--extra-days", "1.5"}), ContainsSubstring("--extra-days"));
  CHECK(command_of({"options", "dir", "--crew", "0", "--from", "9/12:00"}).changes.crew == 0);
  CHECK(command_of({"options", "dir", "--crew", "99", "--from", "9/12:00"}).changes.crew == 99);
  for (const char* persons : {"-1", "100"})
    CHECK(error_of({"options", "dir", "--crew", persons, "--from", "9/12:00"}) == "--crew is a number from 0 to 99");
}

TEST_CASE("what goes together is not taken alone") {
  CHECK_THAT(error_of({"options", "dir", "--crew", "4"}), ContainsSubstring("--crew and --from go together"));
  CHECK_THAT(error_of({"options", "dir", "--from", "9/12:00"}), ContainsSubstring("--crew and --from go together"));
  CHECK_THAT(error_of({"options", "dir", "--at", "9/12:00"}), ContainsSubstring("--at needs --return"));
}

TEST_CASE("a rate is an item and a factor from 0 to 1000, once for each item") {
  CHECK(command_of({"options", "dir", "--rate", "water=1000"}).changes.rates.at(0).second == 1000);
  for (const char* rate : {"water", "=1", "water=", "water=x", "water=1.1x", "water=-0.1", "water=1000.1", "water=nan",
                           "water=inf", "water=1,1", "water= 1", "water=+1", "a=b=1"}) {
    CAPTURE(rate);
    CHECK_THAT(error_of({"options", "dir", "--rate", rate}),
               ContainsSubstring("--rate is '"s + rate + "', expected an item and a factor"));
  }
  CHECK(error_of({"options", "dir", "--rate", "water=1", "--rate", "food=2", "--rate", "water=2"}) ==
        "--rate names 'water' twice");
}

TEST_CASE("a time that is none is refused and named") {
  for (const char* time : {"tomorrow", "9/25:00", "2031-05-14", "", "--return"}) {
    CAPTURE(time);
    CHECK_THAT(error_of({"options", "dir", "--crew", "4", "--from="s + time}), ContainsSubstring("--from"));
    CHECK_THAT(error_of({"options", "dir", "--return", "soon", "--at="s + time}), ContainsSubstring("--at"));
  }
}

TEST_CASE("no other command takes a change, and options writes nothing that could be put elsewhere") {
  for (const char* name : {"check", "brief"})
    CHECK_THAT(error_of({name, "dir", "--extra-days", "1"}), ContainsSubstring("--extra-days"));
  for (const char* option : {"--out", "--templates", "--strict"})
    CHECK_THAT(error_of({"options", "dir", option, "x"}), ContainsSubstring(option));
}

TEST_CASE("the help of a command has examples that the command line takes") {
  for (const char* name : {"check", "brief", "options", "explain"}) {
    const std::string help = help_of({name, "--help"});
    std::size_t examples = 0;
    std::istringstream lines(help.substr(help.find("Examples:\n")));
    for (std::string line; std::getline(lines, line);) {
      if (!line.starts_with("  daywright ")) continue;
      std::istringstream words(line.substr(12, line.find(" | ") - 12));
      CAPTURE(line);
      CHECK(command_of(Words(std::istream_iterator<std::string>(words), {})).name == name);
      ++examples;
    }
    CHECK(examples >= 2);
  }
}
