#include "write/markdown.h"

#include <cstdlib>
#include <fstream>
#include <memory>
#include <random>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include <cmark.h>

#include "builders.h"
#include "catch_compat.h"
#include "model/printable.h"

using Catch::Matchers::ContainsSubstring;
using daywright::model::Cell;
using daywright::model::Column;
using daywright::model::DayStatus;
using daywright::model::display_width;
using daywright::model::printable;
using daywright::model::Severity;
using daywright::model::Table;
using daywright::test::make_no_data;
using daywright::test::make_number;
using daywright::test::make_status;
using daywright::test::make_table;
using daywright::test::make_words;
using daywright::write::Brief;
using daywright::write::escape_markdown;
using daywright::write::render_brief;
using namespace std::string_literals;

namespace {

/// What CommonMark makes of `text`, as XML, runs of text joined.
std::string parsed(const std::string& text) {
  const std::unique_ptr<cmark_node, decltype(&cmark_node_free)> document(
      cmark_parse_document(text.data(), text.size(), CMARK_OPT_DEFAULT), &cmark_node_free);
  cmark_consolidate_text_nodes(document.get());
  const std::unique_ptr<char, decltype(&free)> xml(cmark_render_xml(document.get(), CMARK_OPT_DEFAULT), &free);
  return xml.get();
}

std::string replace_all(std::string text, const std::string& old_part, const std::string& new_part) {
  for (auto at = text.find(old_part); at != std::string::npos; at = text.find(old_part, at + new_part.size()))
    text.replace(at, old_part.size(), new_part);
  return text;
}

std::string in_xml(std::string text) {
  for (const auto& [character, entity] :
       {std::pair{"&", "&amp;"}, std::pair{"<", "&lt;"}, std::pair{">", "&gt;"}, std::pair{"\"", "&quot;"}})
    text = replace_all(std::move(text), character, entity);
  return text;
}

/// What CommonMark makes of `frame` with the printable form of `value` as plain text where the frame says "WORD".
std::string parsed_with_words(const std::string& frame, const std::string& value) {
  return replace_all(parsed(frame), "WORD", in_xml(printable(value)));
}

std::string without_outer_blanks(const std::string& text) {
  const auto begin = text.find_first_not_of(' ');
  return begin == std::string::npos ? ""s : text.substr(begin, text.find_last_not_of(' ') - begin + 1);
}

/// Strings that break programs, without blanks around them. Source: tests/data/strings, with its README.
std::vector<std::string> naughty_strings() {
  std::vector<std::string> all{"a\0b"s,
                               "\xff\xfe z\xc3"s,
                               "line\nbreak",
                               "\r\n# x",
                               "{{x}}",
                               "{{{x}}}",
                               "{{#table.t}}",
                               "@table t",
                               "@table gates",
                               "|",
                               "\\|",
                               "\\\\|",
                               "a|b|c",
                               "| - |",
                               "--- | ---",
                               "1. x",
                               "1) x",
                               "- x",
                               "+ x",
                               "* x",
                               "# x",
                               "> x",
                               "```",
                               "`x`",
                               "[x](y)",
                               "![x](y)",
                               "<x@example.invalid>",
                               "<!-- x -->",
                               "&amp;",
                               "&#35;",
                               "**x**",
                               "_x_",
                               "===",
                               "---",
                               "***",
                               "\\",
                               "[x]: y",
                               "x\\"};
  std::ifstream file(TEST_DATA "/strings/blns.txt");
  for (std::string line; std::getline(file, line);) all.push_back(without_outer_blanks(line));
  std::erase_if(all, [](const auto& text) { return text.empty(); });
  REQUIRE(all.size() > 500);
  return all;
}

/// Random texts of blanks, letters and whatever CommonMark has a use for, the same in every run.
std::vector<std::string> random_markup(std::size_t how_many) {
  const std::string alphabet = "\\`*_{}[]()#+-.!|<>&~@^$\"'=:%; a1/";
  std::mt19937 random(1);  // NOLINT(cert-msc51-cpp): the same texts in every run
  std::vector<std::string> all;
  while (all.size() < how_many) {
    std::string text;
    for (auto left = 1 + random() % 12; left > 0; --left) text += alphabet[random() % alphabet.size()];
    text = without_outer_blanks(text);
    if (!text.empty()) all.push_back(std::move(text));
  }
  return all;
}

/// The brief of a template in which {{x}} stands for `value`.
Brief brief_with(const std::string& template_text, const std::string& value) {
  return render_brief(template_text, make_status({make_words("x", value)}));
}

Brief brief_of_table(Table table) {
  const std::string marker = "@table " + table.name + "\n";
  return render_brief(marker, make_status({}, {std::move(table)}));
}

/// The lines of `text`, without empty ones at its end: a custom block of cmark's closes with one.
std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  while (!lines.empty() && lines.back().empty()) lines.pop_back();
  return lines;
}

/// The cells of a row of a pipe table: split at every pipe without a backslash before it, which is then taken off
/// (GitHub Flavored Markdown, 4.10), and cleared of outer blanks.
std::vector<std::string> cells_of(const std::string& line) {
  std::vector<std::string> cells;
  std::string cell;
  for (std::size_t i = 0; i < line.size(); ++i) {
    if (line[i] == '|' && i > 0 && line[i - 1] == '\\') {
      cell.back() = '|';
    } else if (line[i] == '|') {
      cells.push_back(without_outer_blanks(cell));
      cell.clear();
    } else {
      cell += line[i];
    }
  }
  cells.erase(cells.begin());  // what stands before the first pipe
  return cells;
}

/// The first fault's rule and line: "template-name 3", or "none".
std::string first_fault(const Brief& brief) {
  if (brief.faults.empty()) return "none";
  const auto& fault = brief.faults.front();
  return fault.rule + " " + std::to_string(fault.source.line);
}

DayStatus some_status() {
  return make_status({make_words("mission.name", "Tern 4"), make_number("item.water.level", 12.5, "kg", 0.1)},
                     {make_table("gates", {{"Entry", "READY"}, {"EVA", "NO DATA"}}), make_table("empty", {})});
}

}  // namespace

TEST_CASE("an escaped text reads back as itself, whatever it holds, inside a line and at its beginning") {
  const std::string place =
      GENERATE("WORD", "before WORD after", "- WORD", "# WORD", "> WORD", "**x**WORD_", "1. WORD");
  std::vector<std::string> texts = naughty_strings();
  for (auto& text : random_markup(3000)) texts.push_back(std::move(text));
  for (const auto& text : texts) {
    CAPTURE(place, text);
    CHECK(parsed(replace_all(place, "WORD", escape_markdown(text))) == parsed_with_words(place, text));
  }
}

TEST_CASE("an escaped pair of any two ASCII characters reads back as itself") {
  for (int first = 0; first < 128; ++first) {
    for (int second = 0; second < 128; ++second) {
      const std::string text{static_cast<char>(first), static_cast<char>(second)};
      if (text.find(' ') != std::string::npos) continue;  // no format keeps blanks at the end of a line
      CAPTURE(first, second);
      CHECK(parsed(escape_markdown(text)) == parsed_with_words("WORD", text));
    }
  }
}

TEST_CASE("letters, digits and letters of other scripts are not escaped") {
  CHECK(escape_markdown("Filter 3 swapped, état nominal, 漢字") == "Filter 3 swapped, état nominal, 漢字");
  CHECK(escape_markdown("").empty());
}

TEST_CASE("what a reader of the brief sees of a figure is its text, whatever it holds") {
  const std::string frame = GENERATE("Note: WORD.\n", "1. **Bold**, WORD, after\n2. second\n", "## Gate WORD now\n");
  const std::string template_text = replace_all(frame, "WORD", "{{x}}");
  for (const auto& text : naughty_strings()) {
    CAPTURE(frame, text);
    const Brief brief = brief_with(template_text, text);
    REQUIRE(brief.faults.empty());
    CHECK(parsed(brief.text) == parsed_with_words(frame, text));
  }
}

TEST_CASE("a figure that holds a tag stays text and is not looked up") {
  const Brief brief = brief_with("Note: {{x}}.\n", "{{x}} {{no.such.figure}} {{#table.t}}");
  CHECK(brief.faults.empty());
  CHECK(parsed(brief.text) == parsed_with_words("Note: WORD.\n", "{{x}} {{no.such.figure}} {{#table.t}}"));
}

TEST_CASE("a figure that holds a table marker puts no table into the brief") {
  DayStatus status = some_status();
  for (const char* value : {"@table gates", "@table nowhere", "\n@table gates", "x\n\n@table gates\n\ny"}) {
    CAPTURE(value);
    status.figures = {make_words("x", value)};
    const Brief brief = render_brief("Above.\n\n{{x}}\n\nBelow.\n", status);
    CHECK(brief.faults.empty());
    CHECK(brief.text.find("NO DATA") == std::string::npos);
    CHECK(parsed(brief.text) == parsed_with_words("Above.\n\nWORD\n\nBelow.\n", value));
  }
}

TEST_CASE("a cell of a table that holds a table marker stays a cell") {
  DayStatus status = some_status();
  status.tables.push_back(make_table("log", {{"@table gates"}, {"x"}}));
  const Brief brief = render_brief("@table log\n", status);
  CHECK(brief.text.find("NO DATA") == std::string::npos);
  CHECK(lines_of(brief.text).size() == 4);
}

TEST_CASE("a cell reads back as its text, whatever it holds, and its row keeps its number of cells") {
  std::vector<std::string> texts = naughty_strings();
  for (auto& text : random_markup(3000)) texts.push_back(std::move(text));
  for (const auto& text : texts) {
    CAPTURE(text);
    const Brief brief = brief_of_table(make_table("t", {{"left", text, "right"}}));
    REQUIRE(brief.faults.empty());
    const auto lines = lines_of(brief.text);
    REQUIRE(lines.size() == 3);
    const auto cells = cells_of(lines[2]);
    REQUIRE(cells.size() == 3);
    CHECK(cells[0] == "left");
    CHECK(cells[2] == "right");
    // A long text is cut and marked, so what is left of it is compared.
    const bool is_cut = display_width(text) > 70 && cells[1].ends_with(" ...");
    std::string shown = printable(text);
    if (is_cut) {
      const std::string mark = " ...";
      std::size_t kept = 0;
      // The longest beginning of the text that the cell holds.
      for (std::size_t end = 0; end < text.size(); ++end) {
        if (text[end] == ' ' && parsed("x " + cells[1]) == parsed_with_words("x WORD", text.substr(0, end) + mark))
          kept = end;
      }
      REQUIRE(kept > 0);
      shown = printable(text.substr(0, kept)) + mark;
    }
    CHECK(parsed("x " + cells[1]) == replace_all(parsed("x WORD"), "WORD", in_xml(shown)));
  }
}

TEST_CASE("a reader that knows no tables sees one paragraph, whatever the cells hold") {
  for (const auto& text : naughty_strings()) {
    CAPTURE(text);
    DayStatus status = make_status({}, {make_table("t", {{text, "b"}, {"c", text}})});
    const Brief brief = render_brief("Above.\n\n@table t\n\nBelow.\n", status);
    const std::string xml = parsed(brief.text);
    CHECK(replace_all(xml, "<paragraph>", "").size() == xml.size() - 3 * "<paragraph>"s.size());
    for (const char* markup : {"<strong", "<emph", "<link", "<image", "<code", "<html", "<heading", "<list", "<block"})
      CHECK(xml.find(markup) == std::string::npos);
  }
}

TEST_CASE("the lines of a table are equally wide in the raw text, wide and combining characters included") {
  Table table = make_table("t", {{"漢字かな", "1"}, {"e\u0301tat", "10000"}, {"🙂", "x|y"}, {"", "*"}});
  table.columns[1].is_number = true;
  const auto lines = lines_of(brief_of_table(table).text);
  REQUIRE(lines.size() == 6);
  for (const auto& line : lines) {
    CAPTURE(line);
    CHECK(display_width(line) == display_width(lines[0]));
  }
}

TEST_CASE("a column is as wide as its widest cell and no wider") {
  CHECK(lines_of(brief_of_table(make_table("t", {{"漢字", "é"}, {"abcdef", "x|y"}})).text) == std::vector<std::string>{
                                                                                                  "| A      | B    |",
                                                                                                  "| ------ | ---- |",
                                                                                                  "| 漢字   | é    |",
                                                                                                  "| abcdef | x\\|y |",
                                                                                              });
  CHECK(lines_of(brief_of_table(make_table("t", {{"漢字かな"}})).text).at(2) == "| 漢字かな |");
}

TEST_CASE("numbers stand to the right under their head, words to the left") {
  Table table = make_table("t", {{"one", "5"}, {"sixteen", "12345"}});
  table.columns[1].is_number = true;
  CHECK(lines_of(brief_of_table(table).text) == std::vector<std::string>{
                                                    "| A       |     B |",
                                                    "| ------- | ----: |",
                                                    "| one     |     5 |",
                                                    "| sixteen | 12345 |",
                                                });
}

TEST_CASE("the unit stands in the head of a column of numbers, and in each cell of another column") {
  Table table = make_table("t", {{"", ""}});
  table.columns[0] = {"a", "Level", "kg", true, true};
  table.columns[1] = {"b", "Limit", "", false, true};
  table.rows[0] = {Cell::of("n"), Cell::of("n")};
  const Brief brief = render_brief("@table t\n", make_status({make_number("n", 12.5, "kg", 0.1)}, {table}));
  const auto lines = lines_of(brief.text);
  REQUIRE(lines.size() == 3);
  CHECK(cells_of(lines[0]) == std::vector<std::string>{"Level, kg", "Limit"});
  CHECK(cells_of(lines[2]) == std::vector<std::string>{"12.5", "12.5 kg"});
}

TEST_CASE("a column that is only for the workbook is not in the brief") {
  Table table = make_table("t", {{"shown", "hidden"}});
  table.columns[1].in_brief = false;
  const std::string text = brief_of_table(table).text;
  CHECK(text.find("hidden") == std::string::npos);
  CHECK(text.find("shown") != std::string::npos);
}

TEST_CASE("a table is cut after the rows it has room for, and says how many are left out") {
  Table table = make_table("t", {{"r1"}, {"r2"}, {"r3"}, {"r4"}});
  const auto render = [&](std::size_t brief_rows) {
    table.brief_rows = brief_rows;
    return render_brief("@table t\n", make_status({make_number("table.t.more", 2)}, {table})).text;
  };
  CHECK(render(2).find("r2") != std::string::npos);
  CHECK(render(2).find("r3") == std::string::npos);
  CHECK(lines_of(render(2)).at(4).empty());
  CHECK(lines_of(render(2)).at(5) == "And 2 more; all of them are in the workbook.");
  CHECK(render(3).find("r4") == std::string::npos);
  CHECK(render(3).find("more") != std::string::npos);
  for (const std::size_t enough : {0U, 4U, 5U}) {
    CAPTURE(enough);
    CHECK(render(enough).find("r4") != std::string::npos);
    CHECK(render(enough).find("more") == std::string::npos);
  }
}

TEST_CASE("a table without rows says that there are none") {
  CHECK(lines_of(render_brief("@table empty\n", some_status()).text) == std::vector<std::string>{"None."});
}

TEST_CASE("a cell keeps 70 columns and is cut between words beyond") {
  const std::string just_fits = std::string(60, 'a') + " " + std::string(9, 'b');
  const auto cell = [](const std::string& text) {
    return cells_of(lines_of(brief_of_table(make_table("t", {{text}})).text).at(2)).at(0);
  };
  CHECK(cell(just_fits) == just_fits);
  CHECK(cell(just_fits + "b") == std::string(60, 'a') + " ...");
  CHECK(cell(std::string(34, 'a') + " " + replace_all(std::string(18, 'w'), "w", "漢")) ==
        std::string(34, 'a') + " ...");
}

TEST_CASE("names stand for figures with their units, and for the cells of a row inside a section") {
  CHECK(render_brief("{{mission.name}} has {{item.water.level}}.\n", some_status()).text == "Tern 4 has 12.5 kg.\n");
  CHECK(render_brief("{{#table.gates}}{{a}} is {{b}}, {{/table.gates}}end.\n", some_status()).text ==
        "Entry is READY, EVA is NO DATA, end.\n");
  CHECK(render_brief("{{^table.gates}}no gate{{/table.gates}}{{^table.empty}}nothing{{/table.empty}}.\n", some_status())
            .text == "nothing.\n");
}

TEST_CASE("a figure without a value is printed without its unit") {
  CHECK(render_brief("{{x}}.\n", make_status({make_no_data("x", "kg")})).text == "NO DATA.\n");
}

TEST_CASE("what is wrong with a template is said with its line, and there is no brief") {
  const auto [template_text, fault] = GENERATE(table<std::string, std::string>({
      {"x\ny {{mission.nam}} z\n", "template-name 2"},
      {"{{mission.name}}\n{{mission.nam}}\n", "template-name 2"},
      {"nam is prose here\n\n{{nam}}\n", "template-name 3"},
      {"{{mission.name}}\n{{name}}\n", "template-name 2"},
      {"{{#table.gates}}\n{{a}}\n{{c}}\n{{/table.gates}}\n", "template-name 3"},
      {"\n{{#table.nowhere}}{{a}}{{/table.nowhere}}\n", "template-name 2"},
      {"\n\n{{^table.nowhere}}x{{/table.nowhere}}\n", "template-name 3"},
      {"{{mission.name}}\n{{& nam }}\n", "template-syntax 2"},
      {"x\n{{{mission.name}}}\n", "template-syntax 2"},
      {"x\n\n{{> footer}}\n", "template-syntax 3"},
      {"x\n{{table.gates}}\n", "template-name 2"},
      {"x\n\n  @table gates\n", "template-table 3"},
      {"text\n@table gates\n", "template-table 2"},
      {"@table gates\n\ntext\n\n@table gate\n", "template-table 5"},
      {"x\n\n@table nowhere\n", "template-table 3"},
      {"x\n\n@table gates \n", "template-table 3"},
      {"x\n{{#table.gates}}\ny\n", "template-syntax 2"},
      {"x\n{{#table.gates}}{{#table.empty}}\n{{/table.gates}}{{/table.empty}}\n", "template-syntax 2"},
      {"x\ny\n{{/table.gates}}\n", "template-syntax 3"},
      {"x\ny {{mission.name\nz\n", "template-syntax 2"},
  }));
  CAPTURE(template_text);
  const Brief brief = render_brief(template_text, some_status());
  CHECK(first_fault(brief) == fault);
  CHECK(brief.text.empty());
  for (const auto& f : brief.faults) {
    CHECK(f.severity == Severity::error);
    CHECK(f.source.file == 0);
  }
}

TEST_CASE("every wrong name and table of a template is said in one go, each once") {
  const Brief brief = render_brief("{{one}} {{two}} {{one}}\n\n@table three\n\n@table four\n", some_status());
  std::vector<std::string> texts;
  for (const auto& fault : brief.faults) texts.push_back(fault.text);
  CHECK(texts == std::vector<std::string>{"there is no figure, table or column 'one'",
                                          "there is no figure, table or column 'two'", "there is no table 'three'",
                                          "there is no table 'four'"});
}

TEST_CASE("an empty template is refused, since an empty brief looks like nothing to say") {
  for (const char* text : {"", "\n", " \n\t\n"})
    CHECK(first_fault(render_brief(text, some_status())) == "template-syntax 1");
}

TEST_CASE("a template may come with a byte order mark and with CRLF") {
  const std::string plain = "{{mission.name}}\n\n@table gates\n";
  const std::string other = "\xEF\xBB\xBF{{mission.name}}\r\n\r\n@table gates\r\n";
  CHECK(render_brief(other, some_status()).faults.empty());
  CHECK(render_brief(other, some_status()).text == render_brief(plain, some_status()).text);
}

TEST_CASE("the same template and status give the same brief twice") {
  const std::string template_text = "# {{mission.name}}\n\n@table gates\n\n{{#table.gates}}{{a}} {{/table.gates}}\n";
  CHECK(render_brief(template_text, some_status()).text == render_brief(template_text, some_status()).text);
}
