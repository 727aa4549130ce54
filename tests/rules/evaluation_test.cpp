// One evening worked out: the figures of items, the gates that rest on them, and the flight with days added.
#include "rules/evaluation.h"

#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"
#include "rules/timeline.h"

using Catch::Matchers::ContainsSubstring;
using daywright::model::Criterion;
using daywright::model::Figure;
using daywright::model::find_by_id;
using daywright::model::Instant;
using daywright::model::Item;
using daywright::model::ItemSort;
using daywright::model::Log;
using daywright::model::round_to;
using daywright::model::Rounding;
using daywright::model::Verdict;
using daywright::rules::daily_draw;
using daywright::rules::evaluate;
using daywright::rules::Evaluation;
using daywright::rules::ExtensionCase;
using daywright::rules::judge_extensions;
using daywright::test::add_cleared_nose;
using daywright::test::add_day_kind;
using daywright::test::add_event;
using daywright::test::count_daily;
using daywright::test::day;
using daywright::test::EveningScene;
using daywright::test::make_capacity;
using daywright::test::make_count;
using daywright::test::make_item;
using daywright::test::make_limit;
using daywright::test::make_mission;
using namespace std::chrono_literals;
using namespace std::string_literals;

namespace {

/// Ten planned days of three persons who drink 1 kg a day each; days are added before landing, and on an added day
/// everybody drinks as on any other. It is day 2, and on each day everything was counted and used as planned.
struct Scene : EveningScene {
  Scene() : EveningScene(day(2)) {
    mission.items = {make_item("water", "kg", 1)};
    hold(30);
  }

  /// So much was aboard at launch.
  void hold(const std::map<std::string, double>& at_launch) {
    facts.counts.clear();
    for (const auto& [id, quantity] : at_launch) {
      const Item& item = *find_by_id(mission.items, id);
      const double daily = daily_draw(item, mission.day_kinds[0], 3) * (item.sort == ItemSort::capacity ? -1 : 1);
      for (int number = 0; number <= 2; ++number)
        facts.counts.push_back(make_count(id, quantity - daily * number, day(number)));
    }
  }
  void hold(double water) { hold({{"water", water}}); }

  /// Holds a figure of the items to at least `limit`.
  Criterion& demand(const std::string& figure, double limit, std::string_view unit) {
    return rules.criteria.emplace_back(make_limit(figure, limit, unit));
  }
  /// Holds an extension to a survey that is fresh for nine days from day 1 on: on day 10, when the planned flight with
  /// a day more is polled, but not on day 11.
  void demand_fresh_nose() {
    add_cleared_nose(mission, facts);
    auto& criterion = rules.criteria.emplace_back();
    criterion.gate = "entry";
    criterion.limits_extension = true;
    criterion.demand = daywright::model::ZonesCriterion{{"nose"}, "board", "wide", 95, 9 * 24.0, "", {}};
  }

  [[nodiscard]] Evaluation evaluated() const { return evaluate(evening()); }
  [[nodiscard]] std::vector<ExtensionCase> extensions() const {
    const auto now = evaluated();
    return judge_extensions(evening(), now);
  }
  /// The largest number of days such that it and every smaller one is READY; -1: not even the planned flight is.
  [[nodiscard]] int supported() const {
    const auto cases = extensions();
    const auto first_bad =
        std::find_if(cases.begin(), cases.end(), [](const auto& c) { return c.verdict != Verdict::ready; });
    return static_cast<int>(first_bad - cases.begin()) - 1;
  }
};

const Figure& figure(const Evaluation& evaluation, const std::string& id) {
  CAPTURE(id);
  REQUIRE(evaluation.figures.has(id));
  return evaluation.figures.at(id);
}

std::string text_of(const Evaluation& evaluation, const std::string& id) { return with_unit(figure(evaluation, id)); }

}  // namespace

// Figures of items

TEST_CASE("the figures of an item are its margins rounded down, its use rounded up and its level to the nearest") {
  Scene scene;
  scene.mission.items = {make_item("water", "kg", 1.01)};
  scene.hold(33.37);
  const Evaluation evaluation = scene.evaluated();
  CHECK(text_of(evaluation, "item.water.level") == "27.3 kg");  // 33.37 - 2 x 3.03 = 27.31
  CHECK(text_of(evaluation, "item.water.place.tank.level") == "27.3 kg");
  CHECK(text_of(evaluation, "item.water.rate.daily") == "3.1 kg");    // 3 x 1.01 = 3.03
  CHECK(text_of(evaluation, "item.water.margin.units") == "3.0 kg");  // 33.37 - 30.3 = 3.07
  CHECK(text_of(evaluation, "item.water.margin.days") == "1.0 d");    // 3.07 / 3.03 = 1.013
  CHECK(text_of(evaluation, "item.water.margin.words") == "1.0 d over");
  CHECK(text_of(evaluation, "item.water.margin.basis") == "at plan");
}

TEST_CASE("a shortfall is rounded up in words and down as a margin, and names its flight day") {
  Scene scene;
  scene.hold(28.9);  // short by 1.1 kg, which is 0.37 of a day
  const Evaluation evaluation = scene.evaluated();
  CHECK(text_of(evaluation, "item.water.margin.units") == "-1.1 kg");
  CHECK(text_of(evaluation, "item.water.margin.days") == "-0.4 d");
  // The tenth day from launch is FD 10.
  CHECK(text_of(evaluation, "item.water.margin.words") == "not covered, short by 0.4 d, first on FD 10");
}

TEST_CASE("times that follow from a margin are cut to the hour that is covered") {
  Scene scene;
  scene.hold(32);  // 2 kg over, at 3 kg a day 16 h past day 10
  CHECK(std::get<Instant>(figure(scene.evaluated(), "item.water.through").value) == day(10) + 16h);
  scene.hold(31.9);  // 15.2 h
  CHECK(std::get<Instant>(figure(scene.evaluated(), "item.water.through").value) == day(10) + 15h);
}

TEST_CASE("an item that was never counted has NO DATA everywhere and zero nowhere") {
  Scene scene;
  scene.facts.counts.clear();
  const Evaluation evaluation = scene.evaluated();
  for (const auto id : {"level", "place.tank.level", "margin.plan.units", "margin.plan.days", "margin.measured.units",
                        "margin.units", "margin.days", "margin.at", "through", "margin.with_transfers"}) {
    const Figure f = figure(evaluation, "item.water."s + id);
    CAPTURE(id);
    CHECK(std::holds_alternative<std::monostate>(f.value));
    CHECK(f.text == "NO DATA");
  }
  CHECK(text_of(evaluation, "item.water.margin.words") == "NO DATA: never counted in Tank");
}

TEST_CASE("whatever speaks against the level speaks against every margin") {
  Scene scene;
  scene.facts.gaps = {{Log::counts, "FD 1", {}, "nobody closed it"}};
  const Evaluation evaluation = scene.evaluated();
  for (const auto id : {"level", "margin.plan.units", "margin.plan.days", "margin.units", "margin.days", "through"}) {
    CAPTURE(id);
    CHECK_FALSE(figure(evaluation, "item.water."s + id).doubts.empty());
  }
  CHECK_THAT(text_of(evaluation, "item.water.margin.note"), ContainsSubstring("UNSOUND: "));
}

TEST_CASE("every figure of an item leads back to the row it rests on") {
  Scene scene;
  scene.facts.counts.back().row.from.source = {3, 14, 1};
  const Evaluation evaluation = scene.evaluated();
  const auto& inputs = figure(evaluation, "item.water.place.tank.level").trace.inputs;
  CHECK(std::any_of(inputs.begin(), inputs.end(),
                    [](const auto& input) { return input.source == daywright::model::Source{3, 14, 1}; }));
  const auto& margin = figure(evaluation, "item.water.margin.plan.units").trace.inputs;
  CHECK(
      std::any_of(margin.begin(), margin.end(), [](const auto& input) { return input.figure == "item.water.level"; }));
}

TEST_CASE("an item that only events use has its margin in events") {
  Scene scene;
  scene.mission.items = {make_item("suits", "each")};
  scene.mission.items[0].step = 1;
  scene.mission.items[0].per_event["landing"] = 2;
  scene.hold({{"suits", 5}});
  const Evaluation evaluation = scene.evaluated();
  CHECK(text_of(evaluation, "item.suits.margin.units") == "3 each");
  CHECK(text_of(evaluation, "item.suits.margin.events") == "1");  // 1.5, down
  CHECK_FALSE(evaluation.figures.has("item.suits.margin.days"));
  CHECK(text_of(evaluation, "item.suits.margin.words") == "3 each over, no daily use");
}

// Gates that rest on figures

TEST_CASE("a gate is judged on the figure that is shown") {
  Scene scene;
  scene.demand("item.water.margin.days", 1, "d");
  scene.hold(33);
  CHECK(scene.evaluated().gates.at(0).verdict == Verdict::ready);
  scene.hold(32.99);  // 0.99 of a day, shown as 0.9
  CHECK(scene.evaluated().gates.at(0).verdict == Verdict::not_ready);
}

TEST_CASE("a gate can rest on any figure of work, of a ledger, or of all supplies together") {
  Scene scene;
  scene.facts.plan = {daywright::test::make_plan("a", 1)};
  scene.mission.items[0].ledger = {{"loaded", daywright::model::LedgerKind::load, 30, {}}};
  scene.today.number = 2;
  for (const auto& [name, limit, unit] :
       {std::tuple{"work.carried_over", 1.0, ""}, std::tuple{"work.today.planned.tasks", 0.0, ""},
        std::tuple{"item.water.ledger.remainder", 30.0, "kg"}, std::tuple{"supplies.chance", 100.0, "%"}}) {
    CAPTURE(name);
    scene.rules.criteria.clear();
    auto& criterion = scene.demand(name, limit, unit);
    criterion.limits_extension = true;
    CHECK(scene.evaluated().gates.at(0).verdict == Verdict::ready);
    CHECK(scene.extensions().at(0).verdict == Verdict::ready);
    std::get<daywright::model::FigureCriterion>(criterion.demand).limit += 1;
    CHECK(scene.evaluated().gates.at(0).verdict == Verdict::not_ready);
    CHECK(scene.extensions().at(0).verdict == Verdict::not_ready);
  }
}

TEST_CASE("a figure of work is in doubt where a task is told in two ways") {
  Scene scene;
  scene.today.number = 2;
  for (auto& kind : scene.mission.day_kinds) kind.work_hours = 6;
  scene.facts.plan = {daywright::test::make_plan("a", 1)};
  REQUIRE(figure(scene.evaluated(), "work.unfit.tasks").doubts.empty());
  scene.facts.plan[0].rivals = {scene.facts.plan[0].row};
  for (const char* id :
       {"work.unfit.tasks", "work.unfit.entry.minutes", "work.carried_over", "work.today.done.minutes"})
    CHECK_FALSE(figure(scene.evaluated(), id).doubts.empty());
}

TEST_CASE("a gate on a figure of an item that is stale, or was never counted, has NO DATA") {
  Scene scene;
  scene.demand("item.water.margin.days", 0, "d");
  scene.hold(60);
  CHECK(scene.evaluated().gates.at(0).verdict == Verdict::ready);
  scene.cutoff = day(2) + 36h + 1min;
  CHECK(scene.evaluated().gates.at(0).verdict == Verdict::no_data);
  scene.facts.counts.clear();
  CHECK(scene.evaluated().gates.at(0).verdict == Verdict::no_data);
}

// Extensions

TEST_CASE("so many days are supported as there is water for, not one more, and a gram less is one fewer") {
  for (int days = 0; days <= 9; ++days) {
    Scene scene;
    scene.hold(3.0 * (10 + days));
    CAPTURE(days);
    CHECK(scene.supported() == days);
    scene.hold(3.0 * (10 + days) - 0.001);
    CHECK(scene.supported() == days - 1);
  }
}

TEST_CASE("cases go up by one day to the first that is not supported, and to ten at most") {
  Scene scene;
  scene.hold(36.5);
  const auto cases = scene.extensions();
  REQUIRE(cases.size() == 4);
  for (std::size_t i = 0; i < cases.size(); ++i) {
    CHECK(cases[i].days == static_cast<int>(i));
    CHECK(cases[i].landing == day(10 + static_cast<int>(i)));
    CHECK(cases[i].required_end == day(10 + static_cast<int>(i)));
    CHECK((cases[i].verdict == Verdict::ready) == (i < 3));
  }
  CHECK(cases[3].verdict == Verdict::not_ready);
  CHECK_THAT(cases[3].reason, ContainsSubstring("water: not covered, short by"));
  scene.hold(1000);
  CHECK(scene.extensions().size() == 11);
  CHECK(scene.supported() == 10);
}

TEST_CASE("contingency days are still there after an extension") {
  Scene scene;
  scene.mission = make_mission({.waiting_days = 2});
  scene.mission.items = {make_item("water", "kg", 1)};
  scene.hold(3.0 * (10 + 2 + 1));
  CHECK(scene.supported() == 1);
  CHECK(scene.extensions().at(1).required_end == day(13));
}

TEST_CASE("an added day uses what its own kind uses") {
  Scene scene;
  auto& extra = add_day_kind(scene.mission, "extra");
  extra.per_crew_day["water"] = 2;
  scene.mission.extension_kind = "extra";
  scene.hold(30 + 6 * 3);
  CHECK(scene.supported() == 3);
  scene.hold(30 + 6 * 3 - 0.1);
  CHECK(scene.supported() == 2);
}

TEST_CASE("the hours gained are the whole hours that what is left would last on an added day") {
  Scene scene;
  for (const auto& [left, hours] : {std::pair{0.0, 0.0}, std::pair{0.124, 0.0}, std::pair{0.125, 1.0},
                                    std::pair{2.125, 17.0}, std::pair{2.999, 23.0}}) {
    scene.hold(30 + left);  // 3 kg in 24 h: 0.125 kg an hour
    CAPTURE(left);
    CHECK(scene.extensions().at(0).hours_gained == hours);
  }
}

TEST_CASE("an added day is flown by the crew of that time, not by the one that lands") {
  Scene scene;
  add_event(scene.mission, "undock", day(4));
  scene.mission.extension_before = "undock";
  scene.mission.vehicles.push_back({"depot", "Depot", {}});
  scene.mission.persons[2].stays.push_back({day(5), "depot"});
  // Three for five days and two for five: 25 kg. Of the 2 kg over, three persons have 16 h.
  scene.hold(27);
  CHECK(scene.supported() == 0);
  CHECK(scene.extensions().at(0).hours_gained == 16);
}

TEST_CASE("of several items the one with the fewest hours says how many are gained") {
  Scene scene;
  scene.mission.items = {make_item("water", "kg", 1), make_item("food", "kg", 2), make_capacity("waste", 100, 1)};
  scene.hold({{"food", 61}, {"waste", 69}, {"water", 32}});
  // Water 2 of 3 kg: 16 h. Food 1 of 6 kg: 4 h. Room for 100 - 69 - 30 = 1 of 3 kg: 8 h.
  CHECK(scene.extensions().at(0).hours_gained == 4);
  scene.hold({{"food", 65}, {"waste", 69}, {"water", 32}});
  CHECK(scene.extensions().at(0).hours_gained == 8);
}

TEST_CASE("where the next day can't be had for something without daily use, less than a whole day is gained") {
  Scene scene;
  scene.mission.items = {make_item("suits", "each")};
  scene.mission.items[0].per_event["landing"] = 2;
  scene.hold({{"suits", 2}});
  scene.demand_fresh_nose();
  const auto cases = scene.extensions();
  REQUIRE(cases.size() == 3);
  CHECK(cases[1].verdict == Verdict::ready);
  CHECK(cases[2].verdict == Verdict::no_data);
  for (const auto& with : cases) CHECK(with.hours_gained == 23);
}

TEST_CASE("a flight that is short as planned supports no extension, and says so before any day is added") {
  Scene scene;
  scene.hold(29);
  const auto cases = scene.extensions();
  REQUIRE(cases.size() == 2);
  CHECK(cases[0].verdict == Verdict::not_ready);
  CHECK(cases[1].verdict == Verdict::not_ready);
  CHECK(cases[0].hours_gained == 0);
  CHECK(scene.supported() == -1);
}

TEST_CASE("a criterion that limits an extension does, and one that does not leaves it alone") {
  Scene scene;
  scene.hold(36);  // enough for two days more
  auto& criterion = scene.demand("item.water.margin.days", 1, "d");
  CHECK(scene.supported() == 2);
  criterion.limits_extension = true;
  CHECK(scene.supported() == 1);
  const auto cases = scene.extensions();
  REQUIRE(cases.size() == 3);
  CHECK(cases[2].verdict == Verdict::not_ready);
  CHECK(cases[2].reason == "limit: water, margin in days is 0.0 d, at least 1 d wanted");
}

TEST_CASE("a criterion that names no figure makes every extension NO DATA") {
  Scene scene;
  scene.hold(60);
  scene.demand("item.water.margins.days", 1, "d").limits_extension = true;
  CHECK(scene.extensions().at(0).verdict == Verdict::no_data);
  CHECK(scene.supported() == -1);
}

TEST_CASE("an item with doubts or without a count supports no extension, and one that is short is named first") {
  Scene stale;
  stale.hold(60);
  stale.cutoff = day(2) + 36h + 1min;
  CHECK(stale.extensions().at(0).verdict == Verdict::no_data);
  CHECK_THAT(stale.extensions().at(0).reason, ContainsSubstring("36 h old"));
  Scene uncounted;
  uncounted.hold(60);
  uncounted.mission.items.push_back(make_item("food", "kg", 1));
  CHECK(uncounted.extensions().at(0).verdict == Verdict::no_data);
  CHECK_THAT(uncounted.extensions().at(0).reason, ContainsSubstring("never counted"));
  uncounted.hold(29);
  CHECK(uncounted.extensions().at(0).verdict == Verdict::not_ready);
  CHECK_THAT(uncounted.extensions().at(0).reason, ContainsSubstring("water: not covered"));
}

TEST_CASE("the limiting item of a longer flight is the one with the fewest days then") {
  Scene scene;
  // At work food goes faster than water; on an added day nobody eats.
  auto& fast = add_day_kind(scene.mission, "fast");
  fast.per_crew_day["food"] = 0;
  scene.mission.extension_kind = "fast";
  scene.mission.items = {make_item("water", "kg", 1), make_item("food", "kg", 1)};
  scene.hold({{"food", 36}, {"water", 39}});
  const auto cases = scene.extensions();
  REQUIRE(cases.size() == 5);
  CHECK(cases[0].limiting == "food");  // two days to three
  CHECK(*cases[0].margin_days == Approx(2));
  CHECK(cases[2].limiting == "water");  // one day to two
  CHECK(*cases[2].margin_days == Approx(1));
  CHECK(cases[4].verdict == Verdict::not_ready);
}

TEST_CASE("days can be added until the event before which they would come, and not with it") {
  Scene scene;
  add_event(scene.mission, "undock", day(8));
  scene.mission.extension_before = "undock";
  scene.facts.counts = {make_count("water", 33, day(7))};
  scene.cutoff = day(8) - 1us;
  CHECK_FALSE(scene.extensions().empty());
  scene.cutoff = day(8);
  CHECK(scene.extensions().empty());
}

TEST_CASE("the flight with no day added is the flight as planned") {
  Scene scene;
  scene.mission = make_mission({.waiting_days = 1});
  scene.mission.items = {make_item("water", "kg", 1)};
  for (const double aboard : {30.0, 33.0, 40.0}) {
    scene.hold(aboard);
    const Evaluation evaluation = scene.evaluated();
    const ExtensionCase as_planned = scene.extensions().at(0);
    CHECK(as_planned.landing == scene.mission.landing());
    REQUIRE(as_planned.margin_days.has_value());
    CHECK(round_to(*as_planned.margin_days, 0.1, Rounding::down) ==
          std::get<double>(figure(evaluation, "item.water.margin.days").value));
  }
}

TEST_CASE("a rate that can't be measured yet is no doubt where only the plan governs") {
  Scene scene;
  scene.facts.counts = {make_count("water", 40, day(2))};
  CHECK(scene.evaluated().figures.at("item.water.margin.days").doubts.empty());
  scene.rules.margins = {};
  CHECK(scene.evaluated().figures.at("item.water.margin.days").doubts ==
        std::vector{"too few counts for a measured rate"s});
}

TEST_CASE("a criterion of any kind can limit an extension, judged at the poll of the longer flight") {
  Scene scene;
  scene.hold(90);
  scene.demand_fresh_nose();
  CHECK(scene.supported() == 1);
  scene.facts.clearances[0].row.state = daywright::model::ClearanceState::not_cleared;
  CHECK(scene.supported() == -1);
}

TEST_CASE("no hours are gained towards the next day where an item has no margin") {
  Scene scene;
  scene.mission.items.push_back(make_item("food", "kg", 1));
  scene.facts.counts.erase(scene.facts.counts.begin());
  CHECK_FALSE(scene.extensions().at(0).hours_gained.has_value());
}

// As estimated from all counts

namespace {

/// The same flight judged by the defaults: the gauge is off by 0.3 kg, and the last count says what it says.
Scene estimated(double last_count) {
  Scene scene;
  scene.mission.items[0].sigma = {{"gauge", 0.3}};
  scene.rules.margins = {};
  scene.cutoff = day(5);
  scene.facts.counts.clear();
  count_daily(scene.facts, "water", {45, 42, 39, 36, 33, last_count});
  return scene;
}

std::string sentence_of(const Scene& scene) { return text_of(scene.evaluated(), "item.water.sentence"); }

}  // namespace

TEST_CASE("the basis that governs is told with its assurance, and every basis has its figures") {
  Scene scene = estimated(30);
  const Evaluation evaluation = scene.evaluated();
  CHECK(text_of(evaluation, "item.water.margin.basis") == "with 95 % assurance");
  CHECK(text_of(evaluation, "item.water.margin.units") == text_of(evaluation, "item.water.margin.assured.units"));
  for (const auto id : {"plan", "measured", "assured"}) {
    CHECK(evaluation.figures.has("item.water.margin."s + id + ".units"));
    CHECK(evaluation.figures.has("item.water.margin."s + id + ".days"));
  }
  scene.rules.margins.assurance = 99.5;
  CHECK(text_of(scene.evaluated(), "item.water.margin.basis") == "with 99.5 % assurance");
}

TEST_CASE("the sentence of an item tells what is on board, how it was counted, how it goes and what that means") {
  const std::string sentence = sentence_of(estimated(30));
  for (const auto part : {"water: 30.0 kg on board", "last count by gauge in Tank at 2031-05-11T12:00Z",
                          "goes as planned", " d over with 95 % assurance"}) {
    CHECK_THAT(sentence, ContainsSubstring(part));
  }
  CHECK_THAT(sentence, !ContainsSubstring("leak"));
  CHECK_THAT(sentence, !ContainsSubstring("suspect"));
}

TEST_CASE("a suspect count is told with the advice to count again, and no longer once that was done") {
  Scene scene = estimated(25);
  CHECK_THAT(sentence_of(scene), ContainsSubstring("the count of 25.0 kg at 2031-05-11T12:00Z is suspect"));
  CHECK_THAT(sentence_of(scene), ContainsSubstring(", with the suspect count as it stands"));
  CHECK_THAT(sentence_of(scene), ContainsSubstring("a count by gauge in Tank narrows the margin most"));
  scene.facts.counts.push_back(make_count("water", 30, day(5) + 1h));
  scene.cutoff = day(5) + 1h;
  CHECK_THAT(sentence_of(scene), !ContainsSubstring("suspect"));
}

TEST_CASE("a count that gains nothing that could be seen is no advice") {
  Scene scene = estimated(30);
  REQUIRE_THAT(sentence_of(scene), ContainsSubstring("narrows the margin most"));
  scene.mission.items[0].step = 100;  // nothing is told more finely than that
  CHECK_THAT(sentence_of(scene), !ContainsSubstring("narrows the margin most"));
}

TEST_CASE("a leak has a chance at any time, and a rate, a beginning and a margin without it once it is shown") {
  Scene tight = estimated(30);
  CHECK(tight.evaluated().figures.has("item.water.leak.chance"));
  Scene leaky = estimated(24);
  for (int number = 3; number < 5; ++number)
    leaky.facts.counts[static_cast<std::size_t>(number)].row.quantity -= 2 * (number - 2);
  const Evaluation evaluation = leaky.evaluated();
  for (const auto id : {"leak.rate", "leak.since", "margin.without_leak"}) {
    CAPTURE(id);
    CHECK_FALSE(tight.evaluated().figures.has("item.water."s + id));
    CHECK(evaluation.figures.has("item.water."s + id));
  }
  CHECK_THAT(text_of(evaluation, "item.water.margin.note"), ContainsSubstring("; leak likely, "));
  CHECK(std::get<double>(figure(evaluation, "item.water.margin.without_leak").value) >
        std::get<double>(figure(evaluation, "item.water.margin.days").value));
}

TEST_CASE("what adds up to a margin is told with what is taken off for what is not sure") {
  const Evaluation evaluation = estimated(30).evaluated();
  const auto has = [&](const std::string& id, std::string_view name) {
    const auto& inputs = figure(evaluation, id).trace.inputs;
    return std::any_of(inputs.begin(), inputs.end(), [&](const auto& input) { return input.name == name; });
  };
  CHECK(has("item.water.margin.assured.units", "less what is not sure by then"));
  CHECK_FALSE(has("item.water.margin.plan.units", "less what is not sure by then"));
}

TEST_CASE("a flight with days added is judged on every basis that governs") {
  Scene scene = estimated(30);
  const double sure = *scene.evaluated().margins.at(0).assured->days;
  REQUIRE(sure < 4.5);
  CHECK(scene.supported() == static_cast<int>(sure));
  scene.rules.margins.bases = {daywright::model::Basis::plan};
  CHECK(scene.supported() >= 4);
}
