#include "write/comparison.h"

#include "catch_compat.h"
#include "model/status.h"

using namespace daywright;

namespace {

model::Figure words(const std::string& id, const std::string& text) {
  model::Figure figure;
  figure.id = id;
  figure.value = text;
  figure.text = text;
  return figure;
}

write::ComparedBrief brief(const std::string& name, std::vector<model::Figure> figures,
                           const std::vector<write::InputRecord>& inputs) {
  model::DayStatus status;
  status.figures = std::move(figures);
  return {name, write::render_status(status, {}), write::render_inputs(inputs, {}, {})};
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("two briefs are told by what differs, verdicts first, then their inputs") {
  const auto one = brief("m@7", {words("a", "x"), words("gate.e.verdict", "READY"), words("same", "s")},
                         {{"days/007/counts.csv", 1, "aa"}, {"mission.toml", 1, "bb"}});
  const auto other = brief("m@8", {words("a", "y\x1b"), words("gate.e.verdict", "NOT READY"), words("same", "s")},
                           {{"days/008/counts.csv", 1, "aa"}, {"mission.toml", 1, "cc"}});
  const auto text = write::render_comparison(one, other);
  CHECK(has(text,
            "Verdicts of gates  A      B\n"
            "gate.e.verdict     READY  NOT READY\n"
            "\n"
            "Rest  A  B\n"
            "a     x  y\\x1B\n"));
  CHECK(has(text,
            "Inputs               in B\n"
            "days/007/counts.csv  gone\n"
            "days/008/counts.csv  added\n"
            "mission.toml         changed\n"));
  CHECK_FALSE(has(text, "same"));
  const auto json = write::render_comparison_json(one, other);
  CHECK(has(json, R"({"id":"gate.e.verdict","a":"READY","b":"NOT READY"})"));
  CHECK(has(json, R"({"path":"mission.toml","in_b":"changed"})"));
}

TEST_CASE("a figure that no READY can rest on any more differs, though its value is the same") {
  auto unsound = words("item.w.level", "10");
  const auto one = brief("a", {unsound}, {});
  unsound.doubts = {"count too old"};
  CHECK(has(write::render_comparison(one, brief("b", {unsound}, {})), "item.w.level  10  10 UNSOUND"));
}

TEST_CASE("where nothing differs it says so") {
  const auto one = brief("a", {words("x", "1")}, {{"mission.toml", 1, "bb"}});
  const auto text = write::render_comparison(one, one);
  CHECK(has(text, "no figure differs"));
  CHECK(has(text, "no input differs"));
}
