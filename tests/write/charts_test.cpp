// The charts as drawings: where things stand, what is printed beside them, and what a template may ask for.
#include "write/charts.h"

#include <regex>
#include <string>
#include <vector>

#include "builders.h"
#include "catch_compat.h"
#include "write/markdown.h"

using Catch::Matchers::ContainsSubstring;
using daywright::model::day_length;
using daywright::model::DayStatus;
using daywright::model::LevelPanel;
using daywright::model::Verdict;
using daywright::test::evening;
using daywright::test::make_no_data;
using daywright::test::make_number;
using daywright::test::make_status;
using daywright::test::make_table;
using daywright::test::make_verdict;
using daywright::test::make_words;
using daywright::write::render_brief;
using daywright::write::render_chart;

namespace {

/// Everything that a chart of one item may print, and no chart yet. It is 5 days after the first count and 5 before
/// the required end.
DayStatus base_status() {
  DayStatus status = make_status(
      {make_words("water.title", "Water <i>"), make_number("water.level", 50, "kg"),
       make_number("water.margin", 10, "kg"), make_words("water.note", "covered"), make_words("from", "FD 1"),
       make_words("now", "FD 6"), make_words("end", "FD 11"), make_number("low", 5, "%"), make_number("high", 95, "%"),
       make_words("home.title", "Home"), make_number("home.plan", 20, "kg"), make_number("days", 1.2, "d", 0.1),
       make_number("short", -0.6, "d", 0.1), make_no_data("unknown", "d"), make_number("planned", 100, "min"),
       make_number("done", 50, "min")});
  return status;
}

DayStatus with_levels() {
  DayStatus status = base_status();
  auto& chart = status.charts.levels;
  chart = {evening - 5 * day_length, evening, evening + 5 * day_length, "from", "now", "end", "low", "high", {}};
  LevelPanel panel{"water.title", "water.level", "water.margin", "water.note", {}, {}, {}};
  panel.counts = {{evening - 5 * day_length, 100, false}, {evening, 50, true}};
  panel.ahead = {{evening, 48, 50, 52, 10}, {evening + 5 * day_length, 5, 10, 15, 0}};
  panel.redlines = {{"home.title", "home.plan", 20}};
  chart.panels = {panel};
  return status;
}

/// The points of the element of this class: x and y of 1000 each.
std::vector<std::pair<double, double>> points_of(const std::string& html, const std::string& name) {
  std::smatch found;
  REQUIRE(std::regex_search(html, found, std::regex("class=\"" + name + "\" points=\"([^\"]*)\"")));
  const std::string text = found[1];
  std::vector<std::pair<double, double>> points;
  const std::regex point("([0-9.]+),([0-9.]+)");
  for (auto at = std::sregex_iterator(text.begin(), text.end(), point); at != std::sregex_iterator(); ++at)
    points.emplace_back(std::stod((*at)[1]), std::stod((*at)[2]));
  return points;
}

std::string without_attributes(const std::string& html) { return std::regex_replace(html, std::regex("<[^>]*>"), " "); }

}  // namespace

TEST_CASE("there are four charts, and one that has nothing to show is empty") {
  for (const char* name : {"levels", "margins", "work", "clearance"}) CHECK(render_chart(name, {}) == "");
  CHECK_FALSE(render_chart("pie", {}).has_value());
}

TEST_CASE("levels run from the first count over the cut-off to the required end, higher up the more there is") {
  const std::string html = *render_chart("levels", with_levels());
  const auto middle = points_of(html, "middle");
  REQUIRE(middle.size() == 2);
  CHECK(middle[0].first < middle[1].first);
  CHECK(std::abs(middle[0].first - middle[1].first / 2) < 0.2);  // the cut-off lies half way
  CHECK(middle[0].second < middle[1].second);
  const auto band = points_of(html, "band");  // along the upper path, and back along the lower one
  REQUIRE(band.size() == 4);
  CHECK(band[0].second < middle[0].second);
  CHECK(band[1].second < middle[1].second);
  CHECK(band[2].second > middle[1].second);
  CHECK(band[3].second > middle[0].second);
  CHECK_THAT(html, ContainsSubstring("<circle class=\"count\" cx=\"0%\""));
  CHECK_THAT(html, ContainsSubstring("<circle class=\"slip\" cx=\"49."));
  CHECK_THAT(html, ContainsSubstring("class=\"redline\" d=\"M0 "));
}

TEST_CASE("levels print figures and nothing else, also for those who do not see the drawing") {
  const std::string text = without_attributes(*render_chart("levels", with_levels()));
  CHECK_THAT(text, ContainsSubstring("Water &lt;i&gt;") && ContainsSubstring("50 kg"));
  CHECK_THAT(text, ContainsSubstring("On board 50 kg; margin 10 kg, covered. Redline of the way home Home: 20 kg."));
  CHECK_THAT(text, ContainsSubstring("5 % to 95 % chance of less"));
  const std::regex number("[0-9]+");
  for (auto at = std::sregex_iterator(text.begin(), text.end(), number); at != std::sregex_iterator(); ++at)
    CHECK_THAT("1 5 6 10 11 20 50 95", ContainsSubstring(at->str()));
}

TEST_CASE("a level that nobody can forecast is drawn as far as it was counted, and said so") {
  DayStatus status = with_levels();
  status.charts.levels.panels[0].ahead.clear();
  const std::string html = *render_chart("levels", status);
  CHECK_THAT(html, !ContainsSubstring("points=") && ContainsSubstring("There is no forecast."));
  CHECK_THAT(html, ContainsSubstring("<circle class=\"count\""));
}

TEST_CASE("a panel with nothing in it at all, and one at nought, are drawn without a division by nought") {
  DayStatus status = with_levels();
  auto& panel = status.charts.levels.panels[0];
  panel.counts = {{evening, 0, false}};
  panel.redlines.clear();
  panel.ahead = {{evening, 0, 0, 0, 0}};
  status.charts.levels.from = status.charts.levels.end = evening;
  const std::string html = *render_chart("levels", status);
  CHECK_THAT(html, !ContainsSubstring("nan") && !ContainsSubstring("inf"));
}

TEST_CASE("a shortage lies below the ground line") {
  DayStatus status = with_levels();
  status.charts.levels.panels[0].ahead[1] = {evening + 5 * day_length, -30, -20, -10, 0};
  const std::string html = *render_chart("levels", status);
  std::smatch ground;
  REQUIRE(std::regex_search(html, ground, std::regex("class=\"ground\" d=\"M0 ([0-9.]+)H")));
  CHECK(points_of(html, "middle")[1].second > std::stod(ground[1]));
}

TEST_CASE("a margin reaches to the right of the required end, a shortage to the left, and no data has no bar") {
  DayStatus status = base_status();
  status.charts.margins = {{"water.title", "days", "days", "days"},
                           {"water.title", "short", "days", "unknown"},
                           {"water.title", "unknown", "unknown", "unknown"},
                           {"water.title", "nowhere", "nowhere", "nowhere"}};
  const std::string html = *render_chart("margins", status);
  // From -0.6 d to 1.2 d, with a hundredth left at either side: nought is a third of the way.
  CHECK_THAT(html, ContainsSubstring("<rect class=\"over\" x=\"33.7%\" y=\"22%\" width=\"65.3%\""));
  CHECK_THAT(html, ContainsSubstring("<rect class=\"short\" x=\"1%\" y=\"22%\" width=\"32.7%\""));
  CHECK_THAT(html, ContainsSubstring("<line class=\"measured\" x1=\"99%\""));
  CHECK_THAT(html, ContainsSubstring("<span class=\"value\">1.2 d</span>"));
  CHECK_THAT(html, ContainsSubstring("<span class=\"value\">-0.6 d</span>"));
  CHECK_THAT(html, ContainsSubstring("<svg class=\"bar\" aria-hidden=\"true\"><line class=\"end\" x1=\"33.7%\" "
                                     "x2=\"33.7%\" y1=\"0\" y2=\"100%\"/></svg><span class=\"value\">NO DATA</span>"));
  CHECK_THAT(html, ContainsSubstring("<span class=\"value\">no days</span>"));
}

TEST_CASE("what no READY can rest on is called UNSOUND on its bar and its panel") {
  DayStatus status = with_levels();
  status.charts.margins = {{"water.title", "days", "days", "days"}};
  CHECK_THAT(*render_chart("margins", status), !ContainsSubstring("UNSOUND"));
  CHECK_THAT(*render_chart("levels", status), !ContainsSubstring("UNSOUND"));
  for (auto& figure : status.figures) figure.doubts = {"stale"};
  CHECK_THAT(*render_chart("margins", status), ContainsSubstring("1.2 d <strong class=\"doubt\">UNSOUND</strong>"));
  CHECK_THAT(*render_chart("levels", status), ContainsSubstring("50 kg <strong class=\"doubt\">UNSOUND</strong>"));
}

TEST_CASE("work done is half as high as work planned where half of it was done, and is told in words") {
  DayStatus status = base_status();
  status.charts.work = {{"now", "planned", "done"}};
  const std::string html = *render_chart("work", status);
  CHECK_THAT(html, ContainsSubstring("<rect class=\"planned\" x=\"10%\" y=\"2%\" width=\"80%\" height=\"80%\"/>"));
  CHECK_THAT(html, ContainsSubstring("<rect class=\"done\" x=\"20%\" y=\"42%\" width=\"60%\" height=\"40%\"/>"));
  CHECK_THAT(html, ContainsSubstring("FD 6: 50 min of 100 min."));
}

TEST_CASE("days that have no room for their labels name the first and the last") {
  DayStatus status = base_status();
  status.charts.work.assign(9, {"now", "planned", "done"});
  status.charts.work.front().label = "from";
  status.charts.work.back().label = "end";
  const std::string html = *render_chart("work", status);
  CHECK_THAT(html, ContainsSubstring(">FD 1</text>") && ContainsSubstring(">FD 11</text>"));
  CHECK_THAT(html, !ContainsSubstring(">FD 6</text>"));
}

TEST_CASE("clearance names each gate once, and each zone with mark and word") {
  DayStatus status =
      make_status({make_words("g1", "Entry"), make_words("g2", "EVA"), make_words("z1", "Nose"),
                   make_words("z2", "Tail"), make_verdict("v1", Verdict::ready), make_verdict("v2", Verdict::no_data)});
  status.charts.clearance = {{"g1", "z1", "v1"}, {"g1", "z2", "v2"}, {"g2", "z1", "v1"}};
  const std::string html = *render_chart("clearance", status);
  const std::string ready = "<svg class=\"mark ready\" aria-hidden=\"true\"><use href=\"#mark-ready\"/></svg>";
  const std::string no_data = "<svg class=\"mark no-data\" aria-hidden=\"true\"><use href=\"#mark-no-data\"/></svg>";
  CHECK_THAT(html, ContainsSubstring("<dl><div><dt>Entry</dt><dd>" + ready + "Nose <strong>READY</strong></dd><dd>" +
                                     no_data + "Tail <strong>NO DATA</strong></dd></div>\n<div><dt>EVA</dt><dd>" +
                                     ready + "Nose <strong>READY</strong></dd></div></dl>"));
}

TEST_CASE("a chart stands on the page where the template says so, and the Markdown goes on as if it were not there") {
  DayStatus status = with_levels();
  status.tables = {make_table("t", {{"x"}})};
  const auto with = render_brief("# A\n\n@chart levels\n\n@table t\n\nB.\n", status);
  const auto without = render_brief("# A\n\n@table t\n\nB.\n", status);
  CHECK(with.faults.empty());
  CHECK(with.text == without.text);
  CHECK_THAT(with.html, ContainsSubstring("</h1>\n<figure class=\"chart levels\">"));
}

TEST_CASE("a chart that does not exist or stands beside something else is a fault with its line, a log forges none") {
  const auto fault = [](const std::string& text) {
    const auto brief = render_brief(text, with_levels());
    REQUIRE(brief.faults.size() == 1);
    return brief.faults[0].rule + " " + std::to_string(brief.faults[0].source.line);
  };
  CHECK(fault("x\n\n@chart pie\n") == "template-chart 3");
  CHECK(fault("x\n@chart levels\n") == "template-chart 2");
  CHECK(fault("x\n\n- @chart levels\n") == "template-chart 3");
  DayStatus status = with_levels();
  status.figures = {make_words("x", "@chart levels")};
  for (const char* text : {"{{x}}\n", "a\n\n{{x}}\n\nb\n"}) {
    const auto brief = render_brief(text, status);
    CHECK(brief.faults.empty());
    CHECK_THAT(brief.html, ContainsSubstring("<p>@chart levels</p>") && !ContainsSubstring("<figure"));
  }
}
