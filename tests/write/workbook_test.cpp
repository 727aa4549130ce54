#include "write/workbook.h"

#include <algorithm>
#include <string>
#include <variant>
#include <vector>

#include "builders.h"
#include "catch_compat.h"
#include "model/printable.h"

using daywright::model::Cell;
using daywright::model::Column;
using daywright::model::DayStatus;
using daywright::model::Instant;
using daywright::model::Table;
using daywright::model::Verdict;
using daywright::test::evening;
using daywright::test::make_instant;
using daywright::test::make_no_data;
using daywright::test::make_number;
using daywright::test::make_status;
using daywright::test::make_table;
using daywright::test::make_verdict;
using daywright::test::make_words;
using daywright::write::lay_out_workbook;
using daywright::write::Sheet;
using daywright::write::SheetCell;
using daywright::write::SheetNumber;
using daywright::write::Workbook;
using namespace std::string_literals;

namespace {

/// A table with one row of the figures `ids`, under columns titled 'A', 'B' ...
Table make_row_of(const std::vector<std::string>& ids) {
  Table table = make_table("gates", {std::vector<std::string>(ids.size())});
  for (std::size_t c = 0; c < ids.size(); ++c) table.rows[0][c] = Cell::of(ids[c]);
  return table;
}

/// The one sheet of a status with one table.
Sheet sheet_of(const DayStatus& status) {
  const Workbook book = lay_out_workbook(status, evening);
  REQUIRE(book.sheets.size() == 1);
  return book.sheets.front();
}

/// The cell that the figure gets.
SheetCell cell_of(const daywright::model::Figure& figure) {
  return sheet_of(make_status({figure}, {make_row_of({figure.id})})).rows.at(0).at(0);
}

std::string header_of(const Column& column, const daywright::model::Figure& figure) {
  Table table = make_row_of({figure.id});
  table.columns[0] = column;
  return sheet_of(make_status({figure}, {table})).columns.at(0).header;
}

std::vector<std::string> sheet_names(const DayStatus& status) {
  std::vector<std::string> names;
  for (const auto& sheet : lay_out_workbook(status, evening).sheets) names.push_back(sheet.name);
  return names;
}

}  // namespace

TEST_CASE("a number is a number with the decimals of its step, a time is a time, and the rest is text") {
  const auto number = std::get<SheetNumber>(cell_of(make_number("n", 12.25, "kg", 0.25)));
  CHECK(number.value == 12.25);
  CHECK(number.decimals == 2);
  CHECK(std::get<SheetNumber>(cell_of(make_number("n", 40, "kg", 5))).decimals == 0);
  CHECK(std::get<Instant>(cell_of(make_instant("t", evening))) == evening);
  CHECK(std::get<std::string>(cell_of(make_verdict("v", Verdict::not_ready))) == "NOT READY");
  CHECK(std::get<std::string>(cell_of(make_words("w", "12.5"))) == "12.5");
  CHECK(std::get<std::string>(cell_of(make_no_data("d", "kg"))) == "NO DATA");
}

TEST_CASE("a cell of plain words is text, and so is one that names no figure there is") {
  Table table = make_table("gates", {{"plain", ""}});
  table.rows[0][1] = {"no.such.figure", "fallback"};
  const Sheet sheet = sheet_of(make_status({}, {table}));
  CHECK(std::get<std::string>(sheet.rows[0][0]) == "plain");
  CHECK(std::get<std::string>(sheet.rows[0][1]) == "fallback");
}

TEST_CASE("the unit stands in the header and never in a cell") {
  const auto water = make_number("n", 12.5, "kg", 0.1);
  CHECK(header_of({"a", "Level", "kg"}, water) == "Level, kg");
  CHECK(header_of({"a", "Level", ""}, water) == "Level");
  CHECK(std::holds_alternative<SheetNumber>(cell_of(water)));
}

TEST_CASE("a column with a time in any row says UTC, and one without does not") {
  Table table = make_table("gates", {{"", ""}, {"", ""}});
  table.columns[0].title = "Poll";
  table.columns[1].title = "Words";
  table.rows[0] = {Cell::of("none"), Cell::of("words")};
  table.rows[1] = {Cell::of("poll"), Cell::of("words")};
  const Sheet sheet =
      sheet_of(make_status({make_instant("poll", evening), make_no_data("none"), make_words("words", "x")}, {table}));
  CHECK(sheet.columns[0].header == "Poll, UTC");
  CHECK(sheet.columns[1].header == "Words");
}

TEST_CASE("a column is wide enough for its header and its cells, and at most 60 characters") {
  const auto width_of = [](const std::string& header, const std::vector<std::string>& cells) {
    Table table = make_table("gates", {});
    table.columns[0].title = header;
    for (const auto& cell : cells) table.rows.push_back({Cell::say(cell)});
    return sheet_of(make_status({}, {table})).columns[0].width;
  };
  CHECK(width_of("A heading of 20 char", {"short"}) >= 20);
  CHECK(width_of("A", {"short", "a longer one", "x"}) >= 12);
  CHECK(width_of("A", {"漢字漢字漢字漢字漢字"}) >= 20);
  std::size_t last = 0;
  for (std::size_t length = 1; length < 100; ++length) {
    const std::size_t width = width_of("A", {std::string(length, 'x')});
    CAPTURE(length);
    CHECK(width >= std::min<std::size_t>(60, length));
    CHECK(width <= 60);
    CHECK(width >= last);
    last = width;
  }
}

TEST_CASE("a column is wide enough for a number with all its decimals, which else would show as hashes") {
  for (const double step : {100.0, 1.0, 0.1, 0.25, 0.001, 0.0001}) {
    for (const double value : {0.0, step, -step, 123456 * step, -987654 * step}) {
      auto figure = make_number("n", value, "", step);
      Table table = make_row_of({"n"});
      table.columns[0].title = "";
      CAPTURE(figure.text);
      CHECK(sheet_of(make_status({figure}, {table})).columns[0].width >= figure.text.size());
    }
  }
}

TEST_CASE("a column is wide enough for a time to the minute") {
  Table table = make_row_of({"t"});
  table.columns[0].title = "";
  CHECK(sheet_of(make_status({make_instant("t", evening)}, {table})).columns[0].width >= "2031-05-13 16:20"s.size());
}

TEST_CASE("sheets come in the order of a meeting, whatever the order of the tables") {
  std::vector<Table> tables{make_table("changes", {{"x"}}), make_table("counts", {{"x"}}),
                            make_table("gates", {{"x"}})};
  const std::vector<std::string> wanted{"Readiness", "Counts", "Changes"};
  CHECK(sheet_names(make_status({}, tables)) == wanted);
  std::reverse(tables.begin(), tables.end());
  CHECK(sheet_names(make_status({}, tables)) == wanted);
}

TEST_CASE("a table that has no sheet is left out, and a sheet whose table is missing is too") {
  CHECK(sheet_names(make_status({}, {make_table("next_gate", {{"x"}}), make_table("worse", {{"x"}})})).empty());
  CHECK(sheet_names(make_status({})).empty());
}

TEST_CASE("a sheet has every row and every column, also those that the brief leaves out") {
  Table table = make_table("gates", {{"r1", "x"}, {"r2", "x"}, {"r3", "x"}});
  table.brief_rows = 1;
  table.columns[1].in_brief = false;
  const Sheet sheet = sheet_of(make_status({}, {table}));
  CHECK(sheet.rows.size() == 3);
  CHECK(sheet.columns.size() == 2);
  CHECK(sheet.title == table.title);
}

TEST_CASE("a table without rows still has its sheet and its headers") {
  const Sheet sheet = sheet_of(make_status({}, {make_table("gates", {})}));
  CHECK(sheet.rows.empty());
  REQUIRE(sheet.columns.size() == 1);
  CHECK(sheet.columns[0].header == "A");
}

TEST_CASE("no control character and no character that turns the reading direction gets from a figure into a cell") {
  for (const std::string& hidden : {"\x1b[31m"s, "\x07"s, "\r\n"s, "\0"s, "\u202e"s, "\u200b"s, "\xff"s}) {
    const auto shown = std::get<std::string>(cell_of(make_words("w", "a" + hidden + "z")));
    CAPTURE(shown);
    CHECK(shown == daywright::model::printable("a" + hidden + "z"));
    CHECK(shown.find(hidden) == std::string::npos);
  }
}

TEST_CASE("text that looks like a formula or a number is laid out as text and unchanged") {
  for (const char* text : {"=1+1", "+1", "-1", "@SUM(A1)", "12.5", "TRUE", "2031-05-13"}) {
    CAPTURE(text);
    CHECK(std::get<std::string>(cell_of(make_words("w", text))) == text);
  }
}

TEST_CASE("the title says mission and cut-off, made printable, and the workbook is dated by the cut-off") {
  const DayStatus status =
      make_status({make_words("mission.name", "Tern\x1b 4"), make_words("now.utc", "2031-05-13T16:20Z")});
  const Workbook book = lay_out_workbook(status, evening);
  CHECK(book.title == "Tern\\x1B 4, cut-off 2031-05-13T16:20Z");
  CHECK(book.created == evening);
  CHECK(book.caution.find("Decision support only.") != std::string::npos);
  CHECK(lay_out_workbook(make_status({}), evening).title.empty());
}
