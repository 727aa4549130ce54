#include "cli/report.h"

#include <algorithm>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "catch_compat.h"
#include "model/printable.h"

using Catch::Matchers::ContainsSubstring;
using daywright::cli::format_diagnostic;
using daywright::cli::format_report;
using daywright::model::Diagnostic;
using daywright::model::Diagnostics;
using daywright::model::display_width;
using daywright::model::InputFile;
using daywright::model::Severity;
using daywright::model::Source;
using namespace std::string_literals;

namespace {

Diagnostic make_error(Source source, std::string text = "wrong") {
  return {Severity::error, source, std::move(text), "rule-name"};
}

/// The lines said of place `line`:`column` of a file with these bytes.
std::vector<std::string> said_of(const std::string& bytes, int line, int column) {
  const std::vector<InputFile> files{{"counts.csv", bytes}};
  std::istringstream text(format_diagnostic(make_error({0, line, column}), files, "", false));
  std::vector<std::string> lines;
  for (std::string one; std::getline(text, one);) lines.push_back(one);
  return lines;
}

/// The column on a terminal at which the caret stands, counted from 0 within the shown line.
std::size_t caret_of(const std::string& line, int column) {
  const auto lines = said_of(line + "\n", 1, column);
  REQUIRE(lines.size() == 3);
  REQUIRE(lines[2].ends_with('^'));
  return lines[2].size() - 1 - 2;
}

/// The texts of the diagnostics in the order in which they are reported.
std::vector<std::string> order_of(const Diagnostics& diagnostics) {
  const std::vector<InputFile> files{{"a.csv", "x\ny\nz\n"}, {"b.csv", "x\ny\nz\n"}};
  std::istringstream report(format_report(diagnostics, files, "", false));
  std::vector<std::string> texts;
  for (std::string line; std::getline(report, line);) {
    const auto end = line.find(" [");
    if (end != std::string::npos) texts.push_back(line.substr(0, end).substr(line.rfind(": ", end) + 2));
  }
  return texts;
}

}  // namespace

TEST_CASE("a diagnostic is place, severity, text and rule, then the line and a caret under the place") {
  const std::vector<InputFile> files{{"mission.toml", ""}, {"days/008/counts.csv", "item,quantity\nbags,1O\n"}};
  const Diagnostic diagnostic{Severity::error, {1, 2, 6}, "expected a number, got '1O'", "number"};
  CHECK(format_diagnostic(diagnostic, files, "petrel", false) ==
        "petrel/days/008/counts.csv:2:6: error: expected a number, got '1O' [number]\n"
        "  bags,1O\n"
        "       ^\n");
  CHECK(format_diagnostic(diagnostic, files, "", false).starts_with("days/008/counts.csv:2:6: error: "));
}

TEST_CASE("the severity is a word with and without colour, and colour adds nothing but escapes around it") {
  const std::vector<InputFile> files{{"a.csv", "x\n"}};
  for (const auto& [severity, word] : {std::pair{Severity::note, "note"}, std::pair{Severity::warning, "warning"},
                                       std::pair{Severity::error, "error"}}) {
    const Diagnostic diagnostic{severity, {0, 1, 1}, "text", "rule"};
    const std::string plain = format_diagnostic(diagnostic, files, "", false);
    std::string coloured = format_diagnostic(diagnostic, files, "", true);
    CHECK_THAT(plain, ContainsSubstring(": "s + word + ": text"));
    CHECK(plain.find('\x1b') == std::string::npos);
    CHECK_THAT(coloured, ContainsSubstring("m"s + word + "\x1b[0m"));
    for (auto at = coloured.find('\x1b'); at != std::string::npos; at = coloured.find('\x1b'))
      coloured.erase(at, coloured.find('m', at) - at + 1);
    CHECK(coloured == plain);
  }
}

TEST_CASE("the caret stands under the character it speaks of, counted in characters and not in bytes") {
  CHECK(caret_of("abc", 1) == 0);
  CHECK(caret_of("abc", 3) == 2);
  CHECK(caret_of("\tab", 2) == 1);  // a tab is one character and is shown as one blank
  CHECK(caret_of("a\t\tb", 4) == 3);
  CHECK(caret_of("éé,x", 4) == 3);
  CHECK(caret_of("漢字,x", 4) == 5);  // wide characters take two columns
  CHECK(caret_of("🙂x", 2) == 2);
  CHECK(caret_of("e\u0301x", 3) == 1);  // a combining one takes none
}

TEST_CASE("at every place of a line, the caret stands below the end of what is before it") {
  const std::string line = "a\t漢e\u0301🙂\u202e\x1b,é x";
  std::vector<std::size_t> starts;
  for (std::size_t i = 0; i < line.size(); ++i) {
    if ((static_cast<unsigned char>(line[i]) & 0xC0U) != 0x80U) starts.push_back(i);
  }
  const std::string shown = said_of(line + "\n", 1, 1).at(1).substr(2);
  for (std::size_t i = 0; i < starts.size(); ++i) {
    CAPTURE(i);
    std::string before = line.substr(0, starts[i]);
    if (i > 1) before[1] = ' ';  // the tab
    before = daywright::model::printable(before);
    CHECK(shown.starts_with(before));
    CHECK(caret_of(line, static_cast<int>(i + 1)) == display_width(before));
  }
}

TEST_CASE("a place behind the end of its line has its caret behind the last character") {
  CHECK(caret_of("abc", 4) == 3);
  CHECK(caret_of("abc", 400) == 3);
}

TEST_CASE("a place in a line that is empty or not there is said without an excerpt") {
  CHECK(said_of("a\n\nb\n", 2, 1).size() == 1);
  CHECK(said_of("a\n", 2, 1).size() == 1);
  CHECK(said_of("a\n", 9, 1).size() == 1);
  CHECK(said_of("", 1, 1).size() == 1);
  CHECK(said_of("a\nb", 2, 1) == std::vector<std::string>{"counts.csv:2:1: error: wrong [rule-name]", "  b", "  ^"});
}

TEST_CASE("the line end and the byte order mark belong to no line that is shown") {
  CHECK(said_of("a\r\nb\r\n", 2, 1).at(1) == "  b");
  CHECK(said_of("\xEF\xBB\xBF"
                "a,b\n",
                1, 3)
            .at(1) == "  a,b");
  CHECK(said_of("\xEF\xBB\xBF"
                "a,b\n",
                1, 3)
            .at(2) == "    ^");
}

TEST_CASE("a line of more than 160 bytes is not shown, its place still is") {
  CHECK(said_of(std::string(160, 'x') + "\n", 1, 160).size() == 3);
  const auto lines = said_of(std::string(161, 'x') + "\n", 1, 161);
  REQUIRE(lines.size() == 1);
  CHECK(lines[0] == "counts.csv:1:161: error: wrong [rule-name]");
}

TEST_CASE("nothing in a line, a name or a text acts on the terminal") {
  const std::vector<InputFile> files{{"days/\x1b]0;x\x07.csv", "a\x1b[2J\u202e\x07\xff\n"}};
  const std::string text = format_diagnostic(make_error({0, 1, 2}, "bad '\x1b[31m\r\n'"), files, "fol\nder", false);
  for (const char c : text) CHECK((c == '\n' || (c >= 0x20 && c != 0x7F)));
  CHECK(std::count(text.begin(), text.end(), '\n') == 3);
}

TEST_CASE("a diagnostic without a place names the mission folder and has no excerpt") {
  CHECK(format_diagnostic(make_error({}), {}, "petrel", false) == "petrel: error: wrong [rule-name]\n");
}

TEST_CASE("diagnostics come in order of file, line and column, those without a place first") {
  CHECK(order_of({make_error({1, 1, 1}, "t5"), make_error({0, 2, 1}, "t3"), make_error({0, 1, 2}, "t2"),
                  make_error({0, 3, 1}, "t4"), make_error({0, 1, 1}, "t1"), make_error({}, "t0")}) ==
        std::vector<std::string>{"t0", "t1", "t2", "t3", "t4", "t5"});
}

TEST_CASE("diagnostics of one place keep the order in which they were found") {
  Diagnostics diagnostics;
  std::vector<std::string> wanted;
  for (int i = 0; i < 50; ++i) {
    wanted.push_back("t" + std::to_string(i * 7 % 50));
    diagnostics.push_back(make_error({0, 1, 1}, wanted.back()));
  }
  CHECK(order_of(diagnostics) == wanted);
}

TEST_CASE("a note stays behind the diagnostic it belongs to, wherever it points") {
  const Diagnostic note{Severity::note, {0, 1, 1}, "it started here", "rule-name"};
  CHECK(order_of({make_error({1, 1, 1}, "later"), note, make_error({0, 3, 1}, "earlier")}) ==
        std::vector<std::string>{"earlier", "later", "it started here"});
}

TEST_CASE("the same fault said twice is printed once, with its notes") {
  const Diagnostic note{Severity::note, {0, 1, 1}, "see", "rule-name"};
  CHECK(order_of({make_error({0, 2, 1}, "t"), note, make_error({0, 2, 1}, "t"), note}) ==
        std::vector<std::string>{"t", "see"});
}

TEST_CASE("faults that differ in place, text, severity or note are each printed") {
  const Diagnostic note{Severity::note, {0, 1, 1}, "see", "rule-name"};
  const Diagnostic warning{Severity::warning, {0, 1, 1}, "t", "rule-name"};
  CHECK(order_of({make_error({0, 1, 1}, "t"), make_error({0, 1, 2}, "t"), make_error({0, 1, 1}, "u")}).size() == 3);
  CHECK(order_of({make_error({0, 1, 1}, "t"), warning}).size() == 2);
  CHECK(order_of({make_error({0, 1, 1}, "t"), make_error({0, 1, 1}, "t"), note}).size() == 3);
}

TEST_CASE("a report without diagnostics is empty, and one that begins with a note has it") {
  CHECK(format_report({}, {}, "petrel", false).empty());
  CHECK(order_of({{Severity::note, {0, 1, 1}, "alone", "rule-name"}}) == std::vector<std::string>{"alone"});
}
