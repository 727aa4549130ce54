#include "write/explain.h"

#include <algorithm>
#include <sstream>
#include <string>
#include <vector>

#include "builders.h"
#include "catch_compat.h"

using Catch::Matchers::ContainsSubstring;
using daywright::model::DayStatus;
using daywright::model::Figure;
using daywright::model::Source;
using daywright::model::TraceInput;
using daywright::test::make_no_data;
using daywright::test::make_number;
using daywright::test::make_status;
using daywright::test::make_words;
using daywright::write::render_explanation;
using daywright::write::render_figure_list;
using namespace std::string_literals;

namespace {

/// `figure`, computed by `formula` from `inputs`.
Figure made_by(Figure figure, std::string formula, std::vector<TraceInput> inputs) {
  figure.trace = {std::move(formula), std::move(inputs)};
  return figure;
}

TraceInput from_figure(const std::string& id) { return {"input " + id, "text of " + id, id, {}}; }

TraceInput from_file(std::string name, std::string text, Source source) {
  return {std::move(name), std::move(text), "", source};
}

std::string explain(const DayStatus& status, const std::string& id) {
  const Figure* figure = status.find(id);
  REQUIRE(figure != nullptr);
  return render_explanation(*figure, status);
}

std::size_t how_often(const std::string& text, const std::string& part) {
  std::size_t count = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++count;
  return count;
}

}  // namespace

TEST_CASE("an explanation goes from the figure through the figures it rests on down to file and line") {
  Figure level =
      made_by(make_number("item.water.level", 40, "kg"), "the last count", {from_file("gauge", "40 kg", {1, 12, 7})});
  level.title = "level of water";
  Figure margin = made_by(make_number("item.water.margin", 12.5, "kg", 0.1), "level less reserve",
                          {from_figure("item.water.level"), from_file("reserve", "27.5 kg", {0, 88, 1})});
  margin.title = "margin of water";
  margin.doubts = {"the last count is older than a day"};
  DayStatus status = make_status({level, margin});
  status.files = {"mission.toml", "days/008/counts.csv"};
  CHECK(explain(status, "item.water.margin") ==
        "margin of water = 12.5 kg   [item.water.margin]\n"
        "  how: level less reserve\n"
        "  doubt: the last count is older than a day\n"
        "  level of water = 40 kg   [item.water.level]\n"
        "    how: the last count\n"
        "    gauge: 40 kg   (days/008/counts.csv:12)\n"
        "  reserve: 27.5 kg   (mission.toml:88)\n");
}

TEST_CASE("a figure that several others rest on is opened once and named every time") {
  const DayStatus status =
      make_status({made_by(make_words("base", "b"), "base formula", {from_file("x", "1", {})}),
                   made_by(make_words("left", "l"), "l", {from_figure("base")}),
                   made_by(make_words("right", "r"), "r", {from_figure("base")}),
                   made_by(make_words("top", "t"), "t", {from_figure("left"), from_figure("right")})});
  const std::string text = explain(status, "top");
  CHECK(how_often(text, "[base]") == 2);
  CHECK(how_often(text, "base formula") == 1);
  CHECK(how_often(text, "(explained above)") == 1);
  CHECK(text.find("base formula") < text.find("(explained above)"));
}

TEST_CASE("figures that rest on each other in a circle come to an end") {
  const DayStatus status = make_status({made_by(make_words("a", "x"), "from b", {from_figure("b")}),
                                        made_by(make_words("b", "y"), "from a", {from_figure("a")})});
  const std::string text = explain(status, "a");
  CHECK(how_often(text, "from a") == 1);
  CHECK(how_often(text, "[a]") == 2);
}

TEST_CASE("an input that names no figure there is shows its own text") {
  const DayStatus status = make_status({made_by(make_words("a", "x"), "f", {from_figure("gone")})});
  CHECK_THAT(explain(status, "a"), ContainsSubstring("\n  input gone: text of gone\n"));
}

TEST_CASE("an input without a file shows no place") {
  const DayStatus status = make_status({made_by(make_words("a", "x"), "f", {from_file("days", "3", {})})});
  CHECK(explain(status, "a").ends_with("\n  days: 3\n"));
}

TEST_CASE("each level of an explanation is indented by two blanks more, twenty levels down") {
  std::vector<Figure> figures;
  for (char c = 'a'; c < 'u'; ++c) {
    figures.push_back(
        made_by(make_words(std::string(1, c), "x"), "f",
                {c == 't' ? from_file("end", "1", {}) : from_figure(std::string(1, static_cast<char>(c + 1)))}));
  }
  std::istringstream lines(explain(make_status(figures), "a"));
  std::size_t depth = 0;
  for (std::string line; std::getline(lines, line);) {
    CAPTURE(line);
    CHECK(line.find_first_not_of(' ') == 2 * depth);  // a figure opens a level, what is said of it lies in that level
    if (line.find('[') != std::string::npos) ++depth;
  }
  CHECK(depth == 20);
}

TEST_CASE("text from a log can neither break a line of an explanation nor act on the terminal") {
  Figure figure = made_by(make_words("a", "x\ny"), "f\x1b[2J", {from_file("na\rme", "1\u202e", {0, 1, 1})});
  figure.title = "ti\ntle";
  figure.doubts = {"do\nubt"};
  DayStatus status = make_status({figure});
  status.files = {"days/008/\n.csv"};
  const std::string text = explain(status, "a");
  CHECK(std::count(text.begin(), text.end(), '\n') == 4);
  CHECK(text.find_first_of("\x1b\r") == std::string::npos);
  CHECK(text.find("\u202e") == std::string::npos);
  const std::string list = render_figure_list(status);
  CHECK(std::count(list.begin(), list.end(), '\n') == 1);
}

TEST_CASE("the list has one line a figure in order of id, values under each other") {
  const DayStatus status = make_status(
      {make_number("now.flight_day", 8), make_number("item.o2.level", 40, "kg"), make_no_data("zone.nose", "d")});
  CHECK(render_figure_list(status) ==
        "item.o2.level   40 kg  (title of item.o2.level)\n"
        "now.flight_day  8  (title of now.flight_day)\n"
        "zone.nose       NO DATA  (title of zone.nose)\n");
}

TEST_CASE("the list of no figures is empty") { CHECK(render_figure_list(make_status({})).empty()); }
