#include "write/history.h"

#include "catch_compat.h"
#include "write/history_page.h"
#include "write/overview.h"
#include "write/text_table.h"

using namespace daywright;
using write::PastDay;
using write::PastFigure;

namespace {

PastFigure number(const std::string& value, std::vector<std::string> doubts = {}) {
  return {"x.level", "X, on board", "number", value, "kg", value, std::move(doubts)};
}

PastFigure words(const std::string& id, const std::string& text) { return {id, "title", "words", text, "", text, {}}; }

PastDay day(std::int64_t number, std::vector<PastFigure> figures) {
  return {number, number + 2, 1, "2031-05-0" + std::to_string(number) + "T12:00Z", "", std::move(figures)};
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("a figure over the days is a table, and a plot that is labelled with figures alone") {
  const std::vector<PastDay> days{day(1, {number("20")}), day(2, {}), day(3, {number("12.5", {"stale"})}),
                                  day(4, {number("-0.6")})};
  CHECK(write::render_history(days, "x.level", {30, false, false}) ==
        "x.level: X, on board\n"
        "\n"
        "No.  Day  Rev.  Cut-off            Value\n"
        "  1    3     1  2031-05-01T12:00Z  20 kg\n"
        "  2    4     1  2031-05-02T12:00Z  not there\n"
        "  3    5     1  2031-05-03T12:00Z  12.5 kg UNSOUND\n"
        "  4    6     1  2031-05-04T12:00Z  -0.6 kg\n"
        "\n"
        "  20 kg |*\n"
        "        |\n"
        "        |\n"
        "        |             ?\n"
        "        |\n"
        "        |\n"
        "        |\n"
        "        |\n"
        "-0.6 kg |                   *\n"
        "        +--------------------\n"
        "         day 3          day 6\n"
        "?: UNSOUND, no READY verdict could rest on it\n");
  CHECK(has(write::render_history(days, "x.level", {30, true, false}), "\u25CF"));
}

TEST_CASE("words and single numbers have no plot") {
  const std::vector<PastDay> days{day(1, {words("a", "one")}), day(2, {words("a", "two"), number("1")})};
  CHECK_FALSE(has(write::render_history(days, "a", {80, false, false}), "|"));
  CHECK_FALSE(has(write::render_history(days, "x.level", {80, false, false}), "|"));
}

TEST_CASE("days at one instant, and numbers that are all the same, are plotted all the same") {
  auto same = day(1, {number("7")});
  const auto plot = write::plot_of({same, same}, "x.level");
  REQUIRE(plot.points.size() == 2);
  CHECK(plot.points[0].across == 0.5);
  CHECK(plot.points[1].up == 1);
  CHECK(plot.low == plot.high);
}

TEST_CASE("of a day that is not as it was filed nothing is shown") {
  auto changed = day(1, {number("20")});
  changed.fault = "status.json is another";
  const std::vector<PastDay> days{changed, day(2, {number("10")})};
  CHECK(write::standing_of(changed, "x.level") == "NOT AS FILED");
  CHECK(write::plot_of(days, "x.level").points.size() == 1);
  for (const auto& text :
       {write::render_history(days, "x.level", {80, true, false}), write::render_history_csv(days, {"x.level"}),
        write::render_history_json(days, {"x.level"})}) {
    CHECK(has(text, "NOT AS FILED"));
    CHECK_FALSE(has(text, "20 kg"));
    CHECK_FALSE(has(text, "20,"));
  }
}

TEST_CASE("no text of the CSV is a formula, and every number stays one") {
  for (const std::string sign : {"=", "+", "-", "@", "\t", "\r", "\uFF1D"}) {
    CAPTURE(sign);
    const auto csv = write::render_history_csv({day(1, {words("a", sign + "cmd|' /C calc'!A0")})}, {"a"});
    CHECK(has(csv, ",'" + (sign == "\t" ? "\\x09" : sign == "\r" ? "\\x0D" : sign) + "cmd"));
  }
  CHECK(write::render_history_csv({day(1, {number("-0.6")})}, {"x.level"}) ==
        "figure,number,day,revision,cutoff,value,unit,text,doubts\n"
        "x.level,1,3,1,2031-05-01T12:00Z,-0.6,kg,-0.6,\n");
  auto forged = number("1");
  forged.text = "=1+1";
  CHECK(has(write::render_history_csv({day(1, {forged})}, {"x.level"}), ",'=1+1,"));
}

TEST_CASE("cells of the CSV are quoted where they have to be") {
  const auto csv = write::render_history_csv({day(1, {words("a", "say \"no\", then\nstop")})}, {"a"});
  CHECK(has(csv, ",\"say \"\"no\"\", then\\x0Astop\","));
}

TEST_CASE("hostile texts are shown and do nothing") {
  const std::string hostile = "<script>alert(1)</script>\x1b[31m\u202Eevil";
  const std::vector<PastDay> days{day(1, {words("a", hostile)})};
  const auto text = write::render_history(days, "a", {80, true, false});
  CHECK_FALSE(has(text, "\x1b"));
  CHECK_FALSE(has(text, "\u202E"));
  const auto page = write::render_history_page({hostile, days, {"a"}, std::nullopt, {hostile}}, "");
  CHECK_FALSE(has(page, "<script"));
  CHECK_FALSE(has(page, "\u202E"));
  CHECK(has(page, "&lt;script&gt;"));
  CHECK(has(page, "Decision support only."));
}

TEST_CASE("a gate's history names each change of its verdict with its day") {
  const auto verdict = [](const std::string& is) {
    return PastFigure{"gate.e.verdict", "E", "verdict", is, "", is, {}};
  };
  const auto with = [&](std::int64_t number, const std::string& is) {
    return day(number, {words("gate.e.title", "EVA 3"), verdict(is), words("words.day", "FD")});
  };
  auto changed = with(4, "READY");
  changed.fault = "another";
  changed.figures.clear();
  const auto gates =
      write::gate_histories({day(1, {}), with(2, "NOT READY"), with(3, "NOT READY"), changed, with(5, "READY")});
  REQUIRE(gates.size() == 1);
  CHECK(gates[0].title == "EVA 3");
  REQUIRE(gates[0].changes.size() == 3);
  CHECK(gates[0].changes[0].day == "FD 4");
  CHECK(gates[0].changes[0].verdict == "NOT READY");
  CHECK(gates[0].changes[1].verdict == "NOT AS FILED");
  CHECK(gates[0].changes[2].verdict == "READY");
}

TEST_CASE("the levels of an item are read with what was expected of them, unsound ones as unknown") {
  const auto of = [](const std::string& id, const std::string& value, std::vector<std::string> doubts = {}) {
    return PastFigure{id, "t", "number", value, "kg", value, std::move(doubts)};
  };
  const PastFigure at{"forecast.0.at", "t", "instant", "2031-05-01T12:00Z", "", "2031-05-01T12:00Z (FD 3)", {}};
  const PastFigure later{"forecast.1.at", "t", "instant", "2031-05-02T12:00Z", "", "", {}};
  std::vector<PastFigure> figures{at,
                                  later,
                                  of("item.w.forecast.0.high", "11"),
                                  of("item.w.forecast.0.level", "10"),
                                  of("item.w.forecast.0.low", "9"),
                                  of("item.w.forecast.1.high", "6"),
                                  of("item.w.forecast.1.level", "5"),
                                  of("item.w.level", "10"),
                                  of("item.w.rate.daily", "5")};
  auto unsound = figures;
  unsound[7].doubts = {"count too old"};
  const auto items = write::item_levels({day(1, figures), day(2, unsound)}, {"p", "q"});
  REQUIRE(items.size() == 1);
  CHECK(items[0].id == "w");
  CHECK(items[0].daily == 5.0);
  REQUIRE(items[0].days.size() == 2);
  CHECK(items[0].days[0].level == 10.0);
  CHECK(items[0].days[0].expected.size() == 1);  // without its lower end nothing is known of the second
  CHECK_FALSE(items[0].days[1].level);
  CHECK(items[0].days[1].plan == "q");
  for (const auto& figure : figures) CHECK(write::is_of_overview(figure.id));
  CHECK_FALSE(write::is_of_overview("item.w.sentence"));
  CHECK_FALSE(write::is_of_overview("gate.e.crit.verdict"));
}

TEST_CASE("a text table breaks what is too wide for its column and hides nothing") {
  CHECK(write::render_text_table({{"a", true}, {"b", false, 5}, {"c"}},
                                 {{"1", "one two three", "x"}, {"20", "", "\x1b"}}) ==
        " a  b      c\n"
        " 1  one    x\n"
        "    two\n"
        "    three\n"
        "20         \\x1B\n");
}
