#include "rules/trial.h"

#include <string>
#include <vector>

#include "builders.h"
#include "rules/timeline.h"

using daywright::model::Basis;
using daywright::model::Instant;
using daywright::model::TrialPlan;
using daywright::model::Verdict;
using daywright::rules::evaluate;
using daywright::rules::extend;
using daywright::rules::lay_out_trial;
using daywright::rules::most_switches_of_item;
using daywright::test::add_event;
using daywright::test::add_place;
using daywright::test::Balance;
using daywright::test::count_daily;
using daywright::test::day;
using daywright::test::EveningScene;
using daywright::test::make_day_reserve;
using daywright::test::make_item;
using daywright::test::make_limit;
using daywright::test::make_transfer;
using namespace std::chrono_literals;

namespace {

/// Three persons who drink 1 kg a day each. It is noon of day 3 of ten planned; on day 6 they undock from a depot with
/// a shelf that they draw from too. Days are added before undocking.
struct Scene : EveningScene {
  Scene() : EveningScene(day(3) + 12h, {.waiting_days = 2}) {
    mission.extension_before = "undock";
    add_event(mission, "undock", day(6));
    add_place(mission, "shelf", "undock", "depot");
    mission.vehicles.push_back({"depot", "Depot", {}});
    mission.items = {make_item("water", "kg", 1), make_item("food", "meal", 3)};
    mission.items[0].places = {"tank", "shelf"};
    mission.items[0].reserve = {make_day_reserve(1)};
    mission.items[0].sigma["gauge"] = 0.5;
    rules.margins = {};
    count_daily(facts, "food", {150, 141, 132, 124});
    count_daily(facts, "water", {60, 57.1, 53.9, 51});
    count_daily(facts, "water", {8, 8, 8, 8}, "shelf");
  }

  void plan_transfer(const std::string& id, double quantity, Instant when, const std::string& from,
                     const std::string& to) {
    auto transfer = make_transfer("water", quantity, when, from, to);
    transfer.row.transfer = id;
    facts.transfers.push_back(transfer);
  }
  [[nodiscard]] TrialPlan trial() const {
    const auto now = evaluate(evening());
    return lay_out_trial(evening(), now);
  }
};

}  // namespace

TEST_CASE("the stretches follow each other from the cut-off to the required end, with no added day among them") {
  Scene scene;
  scene.plan_transfer("t", 2, day(5), "tank", "");
  const TrialPlan trial = scene.trial();
  REQUIRE(!trial.stretches.empty());
  Instant end = scene.cutoff;
  int added = 0;
  for (const auto& stretch : trial.stretches) {
    CHECK(stretch.begin == end);
    CHECK(stretch.end >= stretch.begin);
    CHECK(stretch.ends_later == (stretch.end > day(6) || stretch.is_added));
    if (stretch.is_added) {
      ++added;
      CHECK(stretch.begin == day(6));
      CHECK(stretch.end == day(6));
      CHECK(stretch.ends_with == "undock");
    }
    end = stretch.end;
  }
  CHECK(added == 1);
  CHECK(end == scene.mission.required_end());
}

TEST_CASE("as planned the trial has the margins of the brief, on every basis") {
  Scene scene;
  scene.plan_transfer("t", 2, day(5), "shelf", "tank");
  const auto now = evaluate(scene.evening());
  const TrialPlan trial = lay_out_trial(scene.evening(), now);
  REQUIRE(trial.items.size() == 2);
  for (std::size_t i = 0; i < trial.items.size(); ++i) {
    const auto& item = trial.items[i];
    const auto& margins = now.margins[i];
    REQUIRE(item.readings.size() == 1);
    CHECK(item.readings[0].plan.units == Approx(margins.plan->units));
    CHECK(*item.readings[0].plan.days == Approx(*margins.plan->days));
    REQUIRE(item.readings[0].measured.has_value());
    CHECK(item.readings[0].measured->units == Approx(margins.measured->units));
    REQUIRE(!item.assured.empty());
    REQUIRE(item.assured.front().size() == TrialPlan::most_days + 1);
    CHECK(item.assured.front().front().units == Approx(margins.assured->units));
    CHECK(item.governing->units == Approx(margins.governing->units));
    for (const auto* turns : {&item.readings[0].plan.at_end, &item.readings[0].plan.after})
      CHECK(turns->size() == item.legs.size());
    std::size_t next = 0;
    for (const auto& leg : item.legs) {
      CHECK(leg.first == next);
      CHECK(leg.last >= leg.first);
      next = leg.last + 1;
    }
    CHECK(next == trial.stretches.size());
  }
}

TEST_CASE("stretches between which nothing happens to an item are one leg of it") {
  Scene scene;
  scene.plan_transfer("t", 2, day(5), "tank", "");
  const TrialPlan trial = scene.trial();
  const auto& water = trial.items[0];
  const auto& food = trial.items[1];
  // The transfer on day 5 cuts water and not food; undocking, the added days and the landing days cut both.
  CHECK(water.legs.size() == food.legs.size() + 1);
  CHECK(food.legs.size() < trial.stretches.size());
  double used = 0;
  for (const auto& leg : food.legs) used += leg.used;
  CHECK(used == Approx(3 * 3 * 8.5));  // from noon of day 3 to the last opportunity on day 12
}

TEST_CASE("assured margins are given for each number of days more and each state of the item's transfers") {
  Scene scene;
  scene.plan_transfer("in", 4, day(5), "", "tank");
  scene.plan_transfer("out", 2, day(5), "tank", "");
  const TrialPlan trial = scene.trial();
  const auto& water = trial.items.front();
  REQUIRE(water.switches.size() == 2);
  REQUIRE(water.assured.size() == 4);
  CHECK(trial.items.back().assured.size() == 1);  // no transfer is its own
  CHECK_FALSE(trial.switches[water.switches[0]].is_on);
  CHECK(trial.switches[water.switches[1]].is_on);
  Scene other;  // where 'in' is there already and 'out' is not planned
  other.plan_transfer("in", -4, day(5), "tank", "");
  for (const int days : {0, 1, 5}) {
    Scene longer = other;
    longer.mission = extend(other.mission, days);
    const Balance balance(longer.mission, longer.facts, longer.cutoff, longer.rules.margins);
    CAPTURE(days);
    CHECK(water.assured[3][static_cast<std::size_t>(days)].units == Approx(balance.of("water").assured->units));
  }
}

TEST_CASE("what can't be turned has no switch, and of many transfers of an item the first four have one") {
  Scene scene;
  add_place(scene.mission, "bag");
  scene.mission.items[0].places = {"tank", "bag"};
  count_daily(scene.facts, "water", {5, 5, 5, 5}, "bag");
  scene.plan_transfer("inside", 2, day(4), "bag", "tank");
  CHECK(scene.trial().switches.empty());
  for (int i = 0; i < 6; ++i) scene.plan_transfer("in" + std::to_string(i), 1, day(5), "", "tank");
  const TrialPlan trial = scene.trial();
  CHECK(trial.switches.size() == most_switches_of_item);
  CHECK(trial.items.front().assured.size() == 16);
}

TEST_CASE("where it is too late for adding days none can be, and after the required end there is nothing to try") {
  Scene scene;
  scene.cutoff = day(6) + 1h;
  const TrialPlan late = scene.trial();
  CHECK(late.days_possible == 0);
  CHECK(late.items.front().assured.front().size() == 1);
  for (const auto& stretch : late.stretches) CHECK_FALSE(stretch.is_added);
  scene.cutoff = scene.mission.required_end();
  CHECK(scene.trial().items.empty());
}

TEST_CASE("a criterion on a margin is worked out live, any other is looked up by days more") {
  Scene scene;
  scene.rules.criteria = {make_limit("item.water.margin.days", 24, "h"), make_limit("item.water.level", 30, "kg"),
                          make_limit("item.food.margin.plan.units", 3, "meal")};
  scene.rules.criteria[2].limits_extension = scene.rules.criteria[1].limits_extension = true;
  scene.rules.criteria[0].limits_extension = true;
  const TrialPlan trial = scene.trial();
  REQUIRE(trial.criteria.size() == 3);
  REQUIRE(trial.criteria[0].margin.has_value());
  CHECK(trial.criteria[0].margin->limit == Approx(1));  // in days, as the figure
  CHECK(trial.criteria[0].margin->in_days);
  CHECK_FALSE(trial.criteria[0].margin->basis.has_value());
  CHECK_FALSE(trial.criteria[1].margin.has_value());
  CHECK(trial.criteria[1].depends_on_changes);
  REQUIRE(trial.criteria[2].margin.has_value());
  CHECK(trial.criteria[2].margin->basis == Basis::plan);
  for (const auto& criterion : trial.criteria)
    CHECK(criterion.verdicts.size() == (criterion.margin ? 1 : TrialPlan::most_days + 1));
}

TEST_CASE("an item that was never counted has no course and reads NO DATA") {
  Scene scene;
  scene.facts.counts.clear();
  for (const auto& item : scene.trial().items) {
    CHECK(item.readings.empty());
    CHECK(item.assured.empty());
    CHECK(item.verdict == Verdict::no_data);
    CHECK_FALSE(item.doubt.empty());
  }
}
