// What the charts show: the path of the assured margin, counts as totals, redlines where levels stand, days of work.
#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "builders.h"
#include "rules/item_history.h"

using daywright::model::Facts;
using daywright::model::Instant;
using daywright::model::LedgerKind;
using daywright::model::LevelAhead;
using daywright::model::MarginRules;
using daywright::model::Merged;
using daywright::model::Mission;
using daywright::model::TaskState;
using daywright::rules::CountReading;
using daywright::rules::gather_history;
using daywright::rules::levels_ahead;
using daywright::rules::total_at_counts;
using daywright::test::add_cleared_nose;
using daywright::test::add_event;
using daywright::test::Balance;
using daywright::test::count_daily;
using daywright::test::day;
using daywright::test::EveningScene;
using daywright::test::launch;
using daywright::test::make_capacity;
using daywright::test::make_count;
using daywright::test::make_day_reserve;
using daywright::test::make_docked_drinkers;
using daywright::test::make_done_transfer;
using daywright::test::make_drinkers;
using daywright::test::make_item;
using daywright::test::make_mission;
using daywright::test::make_plan;
using daywright::test::make_reserve;
using daywright::test::make_return;
using daywright::test::make_task;
using namespace std::chrono_literals;

namespace {

std::vector<LevelAhead> ahead_of(const Mission& mission, const Facts& facts, const Balance& balance, Instant cutoff) {
  return levels_ahead(mission, MarginRules{}, facts, balance.margins().front(), cutoff);
}

/// The totals at the counts of the first item of a plan, in these places.
std::vector<double> totals(const Mission& mission, const Facts& facts, const std::vector<std::string>& places) {
  const auto counted = gather_history(mission, mission.items.front(), facts, day(5), {},
                                      [](const auto& count) { return CountReading{count.row.quantity, false}; });
  REQUIRE(counted);
  std::vector<double> levels;
  for (const auto& total : total_at_counts(*counted, places)) levels.push_back(total.level);
  return levels;
}

}  // namespace

// Levels ahead

TEST_CASE("the lower path comes as near to the reserve as the assured margin says, of room the upper one") {
  const bool fills_up = GENERATE(false, true);
  const bool leaks = GENERATE(false, true);
  CAPTURE(fills_up, leaks);
  Mission mission = make_mission();
  add_event(mission, "burn", day(6));
  auto item = fills_up ? make_capacity("water", 60, 1) : make_item("water", "kg", 1);
  item.sigma = {{"gauge", 0.6}};
  item.reserve = {make_reserve(4, "burn"), make_reserve(2)};
  item.residual = {{"tank", 1.5}};
  item.per_event = {{"burn", 2.5}};
  mission.items = {item};
  Facts facts;
  std::vector<double> counts;
  for (int i = 0; i <= 4; ++i) counts.push_back(fills_up ? 3.1 * i : 60 - 3.1 * i - (leaks && i > 1 ? 4 * (i - 1) : 0));
  count_daily(facts, "water", counts);
  const Balance balance(mission, facts, day(4), MarginRules{});
  const auto ahead = ahead_of(mission, facts, balance, day(4));
  REQUIRE(balance.of("water").assured);
  CHECK(balance.of("water").shows_leak == (leaks && !fills_up));
  double nearest = std::numeric_limits<double>::infinity();
  for (const auto& here : ahead) {
    nearest = std::min(nearest, fills_up ? here.limit - here.high : here.low - here.limit);
    CHECK(here.low <= here.middle);
    CHECK(here.middle <= here.high);
  }
  CHECK(nearest == Approx(balance.of("water").assured->units));
  CHECK(ahead.front().at == day(4));
  CHECK(ahead.back().at == mission.required_end());
}

TEST_CASE("what lies ahead begins with the level that is on board, residual and all") {
  Mission mission = make_drinkers(3);
  mission.items.front().residual = {{"tank", 2}};
  mission.items.front().sigma = {{"gauge", 0.5}};
  Facts facts;
  count_daily(facts, "water", {60, 57, 54});
  const Balance balance(mission, facts, day(2), MarginRules{});
  const auto ahead = ahead_of(mission, facts, balance, day(2));
  CHECK(ahead.front().middle == Approx(balance.levels().front().total()).epsilon(0.01));
  CHECK(ahead.front().limit == Approx(2));
  // Without much to say for a leak the band is as wide above the middle as below it.
  CHECK(ahead.front().high - ahead.front().middle == Approx(ahead.front().middle - ahead.front().low).epsilon(0.05));
}

TEST_CASE("a place that goes takes its level and its residual along, and a reserve that is released goes at once") {
  Mission mission = make_docked_drinkers(3);
  mission.items.front().places = {"tank", "shelf"};
  mission.items.front().residual = {{"shelf", 2}};
  mission.items.front().reserve = {make_reserve(5, "undock")};
  mission.items.front().sigma = {{"gauge", 0.1}};
  Facts facts;
  facts.counts = {make_count("water", 20, day(1), "shelf"), make_count("water", 40, day(1), "tank")};
  const Balance balance(mission, facts, day(1), MarginRules{});
  std::vector<LevelAhead> parting;
  for (const auto& here : ahead_of(mission, facts, balance, day(1))) {
    if (here.at == day(4)) parting.push_back(here);
  }
  REQUIRE(parting.size() == 2);
  CHECK(parting[0].middle == Approx(60 - 9).margin(0.5));
  CHECK(parting[1].middle == Approx(40 - 9).margin(0.5));
  CHECK(parting[0].limit == Approx(7));
  CHECK(parting[1].limit == Approx(0));
}

TEST_CASE("an item with a ledger goes as expected, without a band") {
  Mission mission = make_drinkers(3);
  mission.items.front().ledger = {{"loaded", LedgerKind::load, 60, {}}};
  Facts facts;
  count_daily(facts, "water", {60, 57, 54});
  const Balance balance(mission, facts, day(2), MarginRules{});
  for (const auto& here : ahead_of(mission, facts, balance, day(2))) {
    CHECK(here.low == here.middle);
    CHECK(here.high == here.middle);
  }
}

TEST_CASE("without a count, or past the last landing, nothing lies ahead") {
  const Mission mission = make_drinkers(3);
  Facts facts;
  CHECK(ahead_of(mission, facts, Balance(mission, facts, day(2), MarginRules{}), day(2)).empty());
  count_daily(facts, "water", {60, 57, 54});
  CHECK(ahead_of(mission, facts, Balance(mission, facts, day(11), MarginRules{}), day(11)).empty());
}

// Counts

TEST_CASE("a count is shown with the last counts of the other places, carried to its time at plan") {
  Mission mission = make_drinkers(2);
  mission.items.front().places = {"tank", "bag"};
  Facts facts;
  facts.counts = {make_count("water", 8, day(2), "bag"), make_count("water", 30, day(1), "tank"),
                  make_count("water", 25, day(3), "tank")};
  // Before day 2 nobody knows what is in the bag. Two persons drink 2 kg a day from the tank.
  CHECK(totals(mission, facts, {"tank", "bag"}) == std::vector<double>{28 + 8, 25 + 8});
  CHECK(totals(mission, facts, {"bag"}) == std::vector<double>{8});
  CHECK(totals(mission, facts, {"tank", "hold"}).empty());
}

TEST_CASE("what a transfer brought is in the total from its time on") {
  Mission mission = make_drinkers(2);
  mission.items.front().places = {"tank", "bag"};
  Facts facts;
  facts.counts = {make_count("water", 8, day(1), "bag"), make_count("water", 9, day(3), "bag"),
                  make_count("water", 30, day(1), "tank")};
  facts.transfers = {make_done_transfer("water", 5, day(2), "outside", "tank")};
  CHECK(totals(mission, facts, {"tank", "bag"}).back() == Approx(30 - 4 + 5 + 9));
}

// The charts of a status

TEST_CASE("panels and bars are those of the table of the brief, in its order") {
  EveningScene scene(day(1));
  for (int i = 0; i < 9; ++i) {
    const std::string id = "item" + std::to_string(i);
    scene.mission.items.push_back(make_item(id, "kg", 1));
    if (i != 4) scene.facts.counts.push_back(make_count(id, 90 - 5 * i, day(1)));
  }
  const auto status = scene.status();
  const auto& rows = status.find_table("consumables")->rows;
  const auto& levels = status.charts.levels;
  REQUIRE(levels.panels.size() == status.find_table("consumables")->brief_rows);
  REQUIRE(status.charts.margins.size() == levels.panels.size());
  for (std::size_t i = 0; i < levels.panels.size(); ++i) {
    CHECK(levels.panels[i].item == rows[i][0].figure);
    CHECK(status.charts.margins[i].item == rows[i][0].figure);
  }
  CHECK(levels.panels[0].item == "item.item4.title");  // nobody knows how tight it is
  CHECK(levels.panels[0].ahead.empty());
  CHECK(levels.panels[0].counts.empty());
  CHECK(levels.panels[1].item == "item.item8.title");
  CHECK(status.find(levels.now_label)->text == "FD 2");
  CHECK(status.find(levels.end_label)->text == "FD 11");
  CHECK(status.find(levels.band_low)->text == "5");
  CHECK(status.find(levels.band_high)->text == "95");
}

TEST_CASE("a redline stands as far below the level as the margin of the way home is wide, whatever stays behind") {
  EveningScene scene(day(2));
  scene.mission = make_docked_drinkers(3);
  scene.mission.gates = {};
  scene.mission.items.front().places = {"tank", "shelf"};
  scene.facts.counts = {make_count("water", 15, day(2), "shelf"), make_count("water", 20, day(2), "tank")};
  scene.rules.returns = {make_return({day(3)})};
  const auto status = scene.status();
  const auto& redlines = status.charts.levels.panels.front().redlines;
  REQUIRE(redlines.size() == 1);
  // Three persons drink for one day on the way, out of the tank alone.
  CHECK(status.find(redlines[0].figure)->text == "3.0");
  CHECK(redlines[0].level == Approx(35 - (20 - 3)));
  CHECK(status.find(redlines[0].way_home)->text == "Home at once");
}

TEST_CASE("a count that is likely a slip is told apart") {
  EveningScene scene(day(6));
  scene.rules.margins = {};
  scene.mission.items = {make_item("water", "kg", 1)};
  scene.mission.items.front().sigma = {{"gauge", 0.3}};
  count_daily(scene.facts, "water", {90, 87, 84, 61, 78, 75, 72});
  const auto status = scene.status();
  std::vector<bool> suspects;
  for (const auto& mark : status.charts.levels.panels.front().counts) suspects.push_back(mark.is_suspect);
  CHECK(suspects == std::vector{false, false, false, true, false, false, false});
}

TEST_CASE("only the last two weeks are shown, since the logs may hold years") {
  EveningScene scene(day(20), {.planned = 40 * daywright::model::day_length});
  scene.today.number = 21;
  scene.mission.items = {make_item("water", "kg", 1)};
  std::vector<double> counts;
  for (int i = 0; i <= 20; ++i) {
    counts.push_back(200 - 3 * i);
    scene.facts.plan.push_back(make_plan("t" + std::to_string(i), i + 1));
  }
  count_daily(scene.facts, "water", counts);
  const auto status = scene.status();
  const auto& charts = status.charts;
  CHECK(charts.levels.from == day(6));
  CHECK(charts.levels.panels.front().counts.front().at == day(6));
  CHECK(charts.levels.panels.front().counts.size() == 15);
  REQUIRE(charts.work.size() == 14);
  CHECK(charts.work.front().label == "day.8.label");
  CHECK(charts.work.back().label == "day.21.label");
}

TEST_CASE("work stands on the day on which it was done, and against what was planned for that day") {
  EveningScene scene(day(2));
  scene.mission.flight_days = daywright::model::FlightDays({launch, day(1)});
  scene.today.number = 2;
  scene.facts.plan = {make_plan("a", 1), make_plan("b", 1), make_plan("c", 2)};
  scene.facts.tasks = {make_task("a", TaskState::done, 100, launch + 1h),
                       make_task("b", TaskState::done, 100, day(1) + 1h)};
  const auto status = scene.status();
  std::vector<std::string> shown;
  for (const auto& bar : status.charts.work)
    shown.push_back(status.find(bar.label)->text + " " + status.find(bar.done)->text + "/" +
                    status.find(bar.planned)->text);
  CHECK(shown == std::vector<std::string>{"FD 1 30/60", "FD 2 30/30"});
}

TEST_CASE("every zone that a gate asks for is shown, cleared or not") {
  EveningScene scene(day(2));
  add_cleared_nose(scene.mission, scene.facts);
  scene.mission.zones.push_back({"tail", "Tail", "ship", {}, {}});
  auto& criterion = scene.rules.criteria.emplace_back();
  criterion.id = criterion.title = "skin";
  criterion.gate = "entry";
  daywright::model::ZonesCriterion demand;
  demand.zones = {"nose", "tail"};
  demand.authority = "board";
  demand.survey_kind = "wide";
  demand.coverage = 100;
  demand.max_age_hours = 1000;
  criterion.demand = demand;
  const auto status = scene.status();
  std::vector<std::string> shown;
  for (const auto& zone : status.charts.clearance)
    shown.push_back(status.find(zone.gate)->text + " " + status.find(zone.zone)->text + " " +
                    status.find(zone.verdict)->text);
  CHECK(shown == std::vector<std::string>{"Entry Nose READY", "Entry Tail NO DATA"});
}
