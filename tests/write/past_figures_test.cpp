#include "write/past_figures.h"

#include <string>

#include "catch_compat.h"
#include "model/status.h"
#include "write/json.h"

using namespace daywright;
using write::FigureChange;

namespace {

model::Figure words(const std::string& id, const std::string& text) {
  model::Figure figure;
  figure.id = id;
  figure.value = text;
  figure.text = text;
  figure.trace.formula = "as it stands in the file";
  return figure;
}

model::Figure kilograms(const std::string& id, double value, const std::string& text) {
  model::Figure figure = words(id, text);
  figure.title = "level";
  figure.value = value;
  figure.unit = "kg";
  return figure;
}

std::string status_of(std::vector<model::Figure> figures) {
  model::DayStatus status;
  status.figures = std::move(figures);
  return write::render_status(status, {{"daywright", "0"}});
}

}  // namespace

TEST_CASE("a figure of an earlier status is read as it was shown") {
  model::Figure missing = words("c", "NO DATA");
  missing.value = std::monostate{};
  missing.unit = "kg";
  const auto status = status_of({kilograms("a.b", 12.5, "12.5"), words("a.bc", "\"},\"trace\":{\n| \u00e9"), missing});
  const auto level = write::find_past_figure(status, "a.b");
  REQUIRE(level);
  CHECK(*level == write::PastFigure{"a.b", "level", "number", "12.5", "kg", "12.5", {}});
  CHECK(shown(*level) == "12.5 kg");
  CHECK(write::find_past_figure(status, "a.bc")->text == "\"},\"trace\":{\n| \u00e9");
  CHECK(shown(*write::find_past_figure(status, "c")) == "NO DATA");
  CHECK_FALSE(write::find_past_figure(status, "a"));
  CHECK_FALSE(write::find_past_figure("", "a.b"));
  CHECK_FALSE(write::find_past_figure("{\"figures\":[\n{\"id\":\"a.b\",\"tit", "a.b"));
  const auto all = write::read_past_figures(status);
  REQUIRE(all.size() == 3);
  CHECK(all[1].id == "a.bc");
}

TEST_CASE("two statuses differ in what they show, verdicts of gates first") {
  model::Figure traced = kilograms("item.x.level", 1, "1");
  const auto before = status_of({words("a", "one"), words("chart.p", "1"), words("gate.e.verdict", "READY"), traced,
                                 kilograms("item.x.margin.plan.units", 2, "2"), words("z", "gone")});
  traced.trace.formula = "another way to the same";
  const auto after = status_of({words("b", "new"), words("chart.p", "2"), words("gate.e.verdict", "NOT READY"), traced,
                                kilograms("item.x.margin.plan.units", 1, "1"), words("supplies.limit", "x")});
  const std::vector<FigureChange> expected{{"gate.e.verdict", "READY", "NOT READY"},
                                           {"supplies.limit", "", "x"},
                                           {"item.x.margin.plan.units", "2 kg", "1 kg"},
                                           {"a", "one", ""},
                                           {"b", "", "new"},
                                           {"z", "gone", ""}};
  const auto changes = write::find_figure_changes(before, after);
  CHECK(changes == expected);
  CHECK(write::find_figure_changes(before, before).empty());
  CHECK(write::find_figure_changes("", "").empty());
  CHECK(write::sum_up(changes, 2) ==
        "gate.e.verdict was 'READY' and is 'NOT READY'; supplies.limit was not there and is 'x'; and 4 more");
  CHECK(write::sum_up({}, 2).empty());
}
