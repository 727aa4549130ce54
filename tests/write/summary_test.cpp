#include "write/summary.h"

#include <sstream>
#include <string>
#include <vector>

#include "builders.h"
#include "catch_compat.h"
#include "model/printable.h"

using namespace daywright;
using namespace daywright::test;
using Catch::Matchers::ContainsSubstring;
using model::Cell;
using write::render_summary;
using write::Terminal;

namespace {

struct Row {
  std::string title;
  model::Figure margin;
};

/// A status with these items; margins in 'd' are in days, others are of items without daily use.
model::DayStatus status_of(const std::vector<Row>& rows) {
  std::vector<model::Figure> figures;
  model::Table table = make_table("consumables", {{"", "", ""}});
  table.columns[0].key = "item";
  table.columns[1].key = "margin";
  table.columns[2].key = "units";
  table.rows.clear();
  for (const auto& row : rows) {
    const std::string id = "item." + std::to_string(table.rows.size());
    figures.push_back(make_words(id + ".title", row.title));
    figures.push_back(row.margin);
    figures.back().id = id + ".margin";
    const bool in_days = row.margin.unit == "d";
    table.rows.push_back({Cell::of(id + ".title"), in_days ? Cell::of(id + ".margin") : Cell::say("-"),
                          in_days ? Cell::say("-") : Cell::of(id + ".margin")});
  }
  return make_status(figures, {table});
}

/// The line of the only item.
std::string bar_of(const model::Figure& margin, const Terminal& terminal = {}) {
  std::istringstream text(render_summary("1. x\n", status_of({{"Water", margin}}), terminal));
  for (std::string line; std::getline(text, line);) {
    if (line.starts_with("Water")) return line;
  }
  return {};
}

model::Figure days(double value) { return make_number("", value, "d", 0.1); }

model::Figure in_doubt(model::Figure figure) {
  figure.doubts = {"too old"};
  return figure;
}

}  // namespace

TEST_CASE("the items of the first numbered list are shown in their words, without markup") {
  const std::string brief =
      "# Brief\n\nText.\n\n- no\n\n1.  **Tern\\_4**, a \\| b\\.\n2.  second\n    line `x`\n\nText\n\n1. other list\n";
  const std::string text = render_summary(brief, make_status({}), {});
  CHECK(text ==
        "1. Tern_4, a | b.\n2. second line x\n\nDecision support only. The mission's own flight rules and "
        "certified authorities\nprevail.\n\n");
}

TEST_CASE("lines are as wide as the terminal at most, whatever the items are called") {
  const std::string name = "Filters of the second air loop behind the galley \xe6\xbc\xa2\xe5\xad\x97";
  for (const std::size_t width : {40U, 60U, 80U, 200U}) {
    CAPTURE(width);
    std::istringstream text(render_summary("1. one two three four five six seven eight nine ten eleven twelve\n",
                                           status_of({{name, days(12.3)}, {"Air", days(-1)}}), {width, true, false}));
    for (std::string line; std::getline(text, line);) CHECK(model::display_width(line) <= width);
  }
}

TEST_CASE("a bar is as long as its margin and says in a word how the item stands") {
  CHECK(bar_of(days(2.5)) == "Water  2.5 d  |############            | covered");
  CHECK(bar_of(days(0.0)) == "Water  0.0 d  |                        | covered");
  CHECK(bar_of(days(0.1)) == "Water  0.1 d  |#                       | covered");
  CHECK(bar_of(days(-0.1)) == "Water  -0.1 d  |-                       | short");
  CHECK(bar_of(days(5.0)) == "Water  5.0 d  |########################| covered");
  CHECK(bar_of(days(5.1)) == "Water  5.1 d  |#######################>| covered");
  CHECK(bar_of(in_doubt(days(2.5))) == "Water  2.5 d  |????????????            | UNSOUND");
  CHECK(bar_of(in_doubt(days(-2.5))) == "Water  -2.5 d  |????????????            | UNSOUND");
  CHECK(bar_of(make_no_data("", "d")) == "Water  -  |                        | NO DATA");
}

TEST_CASE("an item without daily use has its margin in its unit and no bar") {
  CHECK(bar_of(make_number("", 2, "cartridge")) == "Water  2 cartridge  |                        | covered");
  CHECK(bar_of(make_number("", -1, "cartridge")) == "Water  -1 cartridge  |                        | short");
}

TEST_CASE("bars are of ASCII unless the terminal has more, and coloured only where it can") {
  CHECK_THAT(bar_of(days(2.5), {80, true, false}), ContainsSubstring("\u2588"));
  CHECK_THAT(bar_of(days(-2.5), {80, true, false}), ContainsSubstring("\u2591") && ContainsSubstring("short"));
  CHECK_THAT(bar_of(days(2.5), {80, false, true}),
             ContainsSubstring("\x1b[32m|") && ContainsSubstring("covered\x1b[0m"));
  for (const auto& margin : {days(2.5), days(-2.5), in_doubt(days(1)), make_no_data("", "d")}) {
    for (const char c : bar_of(margin)) CHECK((c >= ' ' && c <= '~'));
  }
}

TEST_CASE("what a log calls an item can't move the cursor") {
  const std::string text = render_summary("1. x\n", status_of({{"a\x1b[2J\nb", days(1)}}), {});
  CHECK(text.find('\x1b') == std::string::npos);
  CHECK_THAT(text, ContainsSubstring("a\\x1B[2J\\x0Ab"));
}
