// What is left at the worst moment: places that vanish, reserves that are released, transfers, conflicts and bases.
// Published budgets are in balance_test.cpp.
#include "rules/margins.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"
#include "rules/timeline.h"

using daywright::model::Basis;
using daywright::model::CountKind;
using daywright::model::DecisionState;
using daywright::model::Facts;
using daywright::model::Instant;
using daywright::model::Item;
using daywright::model::MarginRules;
using daywright::model::Mission;
using daywright::model::PlaceState;
using daywright::rules::compute_margins;
using daywright::rules::extend;
using daywright::rules::find_levels;
using daywright::rules::find_limiting;
using daywright::rules::is_tighter;
using daywright::rules::ItemMargins;
using daywright::rules::Margin;
using daywright::test::add_cells;
using daywright::test::add_event;
using daywright::test::add_phase;
using daywright::test::at_plan_only;
using daywright::test::Balance;
using daywright::test::count_daily;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_capacity;
using daywright::test::make_count;
using daywright::test::make_day_reserve;
using daywright::test::make_docked_drinkers;
using daywright::test::make_event_reserve;
using daywright::test::make_item;
using daywright::test::make_mission;
using daywright::test::make_repair;
using daywright::test::make_reserve;
using daywright::test::make_transfer;
using namespace std::chrono_literals;

namespace {

/// Counts of water at launch; facts come in order of place.
Facts counted(std::vector<std::pair<std::string, double>> places) {
  std::sort(places.begin(), places.end());
  Facts facts;
  for (auto& [place, quantity] : places) facts.counts.push_back(make_count("water", quantity, launch, place));
  return facts;
}

/// The margin of water at plan.
Margin margin_of(const Mission& mission, const Facts& facts, Instant cutoff = launch) {
  return Balance(mission, facts, cutoff).at_plan("water");
}

}  // namespace

// Places

TEST_CASE("what is left in a place when it vanishes is lost, so drawing from it first is worth as much") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"shelf", "tank"};
  const Facts facts = counted({{"shelf", 6}, {"tank", 7}});
  // From the shelf for four days leaves 2 on it; the tank's 7 last for the six days left, with 1 over.
  CHECK(margin_of(mission, facts).units == Approx(1));
  mission.items[0].places = {"tank", "shelf"};
  // From the tank for four days leaves 3 in it, and 6 are lost with the shelf: 3 - 6 = -3, first on day 7.
  CHECK(margin_of(mission, facts).units == Approx(-3));
  CHECK(margin_of(mission, facts).first_short == day(7));
}

TEST_CASE("when the first place is empty the next one is drawn from") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"bag", "tank"};
  for (const double in_bag : {0.0, 2.5, 9.0, 10.0, 12.0}) {
    const Margin margin = margin_of(mission, counted({{"bag", in_bag}, {"tank", 12 - in_bag}}));
    CAPTURE(in_bag);
    CHECK(margin.units == Approx(2));
    CHECK_FALSE(margin.first_short.has_value());
  }
}

TEST_CASE("the order of drawing of a phase decides what is lost when a place vanishes") {
  Mission mission = make_docked_drinkers(1);
  add_phase(mission, "late", day(2));
  mission.items[0].places = {"tank", "shelf"};
  mission.items[0].draw = {{"late", {"shelf", "tank"}}};
  // Two days from the tank, two from the shelf, of whose 6 kg 4 are lost, and six more from the tank: 9 - 2 - 6 = 1.
  CHECK(margin_of(mission, counted({{"shelf", 6}, {"tank", 9}})).units == Approx(1));
}

TEST_CASE("an event takes its own draw before the place that vanishes with it is gone") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"shelf", "tank"};
  mission.items[0].per_event["undock"] = 2;
  // Four days and the undocking take 6 from the shelf; the tank has to last for six days.
  CHECK(margin_of(mission, counted({{"shelf", 6}, {"tank", 6}})).units == Approx(0).margin(1e-9));
  CHECK(margin_of(mission, counted({{"shelf", 5.9}, {"tank", 6}})).units == Approx(-0.1));
}

TEST_CASE("a place that is not usable at the cut-off counts for nothing, and neither does its want of a count") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"tank", "bag"};
  for (const auto state : {PlaceState::isolated, PlaceState::expired, PlaceState::reserved}) {
    mission.places[1].state = state;
    CHECK(margin_of(mission, counted({{"bag", 50}, {"tank", 12}})).units == Approx(2));
    CHECK(margin_of(mission, counted({{"tank", 12}})).units == Approx(2));
  }
}

TEST_CASE("what can't be drawn is taken off place by place") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"bag", "tank"};
  mission.items[0].residual = {{"bag", 0.5}, {"tank", 1.5}};
  CHECK(margin_of(mission, counted({{"bag", 4}, {"tank", 10}})).units == Approx(14 - 2 - 10));
}

TEST_CASE("a crew that grows or shrinks on the way changes the use from then on") {
  Mission mission = make_mission({.crew = 2});
  mission.vehicles.push_back({"depot", "Depot", {}});
  mission.items = {make_item("water", "kg", 1)};
  mission.persons[1].stays.push_back({day(4), "depot"});
  // Two persons for four days and one for six: 14 kg; a day of waiting then takes 1 kg.
  const Margin margin = margin_of(mission, counted({{"tank", 16}}));
  CHECK(margin.units == Approx(2));
  REQUIRE(margin.days.has_value());
  CHECK(*margin.days == Approx(2));
}

// Reserve

TEST_CASE("a reserve is held until its event and free from then on") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].reserve = {make_reserve(5, "undock")};
  // Just before day 4: 12 - 4 - 5 = 3; at the end: 12 - 10 = 2.
  CHECK(margin_of(mission, counted({{"tank", 12}})).units == Approx(2));
  CHECK(margin_of(mission, counted({{"tank", 12}})).at == day(10));
  mission.items[0].reserve = {make_reserve(7, "undock")};
  // Just before day 4: 12 - 4 - 7 = 1, which is less than the 2 at the end.
  const Margin margin = margin_of(mission, counted({{"tank", 12}}));
  CHECK(margin.units == Approx(1));
  CHECK(margin.at == day(4));
  // After its event it is not held, whatever its size.
  mission.items[0].reserve = {make_reserve(1000, "undock")};
  CHECK(margin_of(mission, counted({{"tank", 12}}), day(4)).units == Approx(2));
}

TEST_CASE("before and after a parting the margin is told apart, and the smaller of the two is the margin") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"tank", "shelf"};
  mission.items[0].reserve = {make_reserve(3, "undock")};
  const auto facts = counted({{"shelf", 6}, {"tank", 12}});
  const Balance balance(mission, facts);
  const auto& parts = balance.of("water").by_configuration;
  REQUIRE(parts.size() == 2);
  // Just before day 4: 18 - 4 - 3 = 11, the shelf still there; at the end 12 - 10 = 2, the shelf gone.
  CHECK(parts[0].from == nullptr);
  CHECK(parts[0].units == Approx(11));
  CHECK(parts[0].at == day(4));
  CHECK(parts[1].from->id == "undock");
  CHECK(parts[1].units == Approx(12 - 4 - 6));
  CHECK(parts[1].at == day(10));
  CHECK(balance.at_plan("water").units == Approx(2));
  // Once parted there is one configuration.
  CHECK(Balance(mission, facts, day(4)).of("water").by_configuration.size() == 1);
}

TEST_CASE("a reserve without an event that releases it is held to the end") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].reserve = {make_reserve(2), make_reserve(0.5)};
  CHECK(margin_of(mission, counted({{"tank", 12.5}})).units == Approx(0).margin(1e-9));
}

TEST_CASE("a reserve of days is as many days of its kind with the crew that is aboard, less what is made") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].reserve = {make_day_reserve(1.5)};
  mission.day_kinds[1].per_crew_day["water"] = 2;
  CHECK(margin_of(mission, counted({{"tank", 20}})).units == Approx(20 - 10 - 1.5 * 2));
}

TEST_CASE("a reserve of an event is what one such event draws") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].per_event["undock"] = 3;
  mission.items[0].reserve = {make_event_reserve("undock")};
  CHECK(margin_of(mission, counted({{"tank", 20}})).units == Approx(20 - 10 - 3 - 3));
  mission.items[0].reserve[0].released_by = "undock";
  CHECK(margin_of(mission, counted({{"tank", 20}})).units == Approx(20 - 10 - 3));
}

TEST_CASE("a margin that is below zero at the cut-off is short from then on") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].reserve = {make_reserve(15)};
  const Margin margin = margin_of(mission, counted({{"tank", 12}}));
  CHECK_FALSE(margin.is_covered());
  CHECK(margin.first_short == launch);
  CHECK(margin.through == launch);
}

// Transfers

TEST_CASE("a planned transfer out that is overdue counts at once, one in does not count at all") {
  const Mission mission = make_docked_drinkers(1);
  Facts facts = counted({{"tank", 12}});
  facts.transfers = {make_transfer("water", 5, day(1), "tank", "")};
  const Margin out = margin_of(mission, facts, day(2));
  CHECK(out.units == Approx(-3));
  CHECK(out.first_short == day(7));  // 12 - 2 - 5 = 5 are left on day 2
  facts.transfers = {make_transfer("water", 5, day(1), "", "tank")};
  const Balance in(mission, facts, day(2));
  CHECK(in.at_plan("water").units == Approx(2));
  CHECK(in.of("water").with_transfers->units == Approx(7));
}

TEST_CASE("a planned transfer between two places of the vehicle is carried out and changes no sum") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"tank", "bag"};
  Facts facts = counted({{"bag", 6}, {"tank", 6}});
  facts.transfers = {make_transfer("water", 5, day(1), "bag", "tank")};
  CHECK(margin_of(mission, facts).units == Approx(2));
  facts.transfers = {make_transfer("water", 5, day(1), "tank", "bag")};
  CHECK(margin_of(mission, facts).units == Approx(2));
}

TEST_CASE("what is to be fetched out of the other vehicle is not counted on, what is to be left there is gone") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"tank", "shelf"};
  Facts facts = counted({{"shelf", 5}, {"tank", 11}});
  // Neither: four days from the tank, 5 lost with the shelf: 11 - 10 = 1.
  CHECK(margin_of(mission, facts).units == Approx(1));
  facts.transfers = {make_transfer("water", 3, day(2), "shelf", "tank")};
  CHECK(margin_of(mission, facts).units == Approx(1));
  CHECK(Balance(mission, facts).of("water").with_transfers->units == Approx(4));
  facts.transfers = {make_transfer("water", 3, day(2), "tank", "shelf")};
  CHECK(margin_of(mission, facts).units == Approx(-2));
  CHECK(Balance(mission, facts).of("water").with_transfers->units == Approx(-2));
}

TEST_CASE("the second column counts a transfer in from its day on, and the first never does") {
  const Mission mission = make_docked_drinkers(1);
  for (int number = 0; number <= 10; ++number) {
    Facts facts = counted({{"tank", 8}});
    facts.transfers = {make_transfer("water", 3, day(number), "", "tank")};
    const Balance balance(mission, facts);
    CAPTURE(number);
    CHECK(balance.of("water").governing->units == Approx(-2));
    // What is left just before it comes, or at the end: 8 + 3 - 10.
    CHECK(balance.of("water").with_transfers->units == Approx(std::min(8 - number, 1)).margin(1e-9));
  }
}

TEST_CASE("a transfer planned for after the added days comes as much later, one planned for before them does not") {
  Mission mission = make_docked_drinkers(1);
  mission.extension_before = "undock";  // on day 4
  const auto with_transfer = [&](int number, int days_more) {
    Facts facts = counted({{"tank", 8}});
    facts.transfers = {make_transfer("water", 6, day(number), "", "tank")};
    const Mission longer = extend(mission, days_more);
    return Balance(longer, facts).of("water").with_transfers->units;
  };
  // What is left just before it comes: 8 less a kilogram a day.
  CHECK(with_transfer(6, 0) == Approx(2));
  CHECK(with_transfer(6, 1) == Approx(1));
  CHECK(with_transfer(6, 2) == Approx(0).margin(1e-9));
  CHECK(with_transfer(2, 0) == Approx(4));
  CHECK(with_transfer(2, 1) == Approx(3));  // at the end: 8 + 6 - 11
}

TEST_CASE("transfers at one instant come and go together, in whichever order they are named") {
  const Mission mission = make_docked_drinkers(1);
  for (const bool out_first : {true, false}) {
    Facts facts = counted({{"tank", 5}});
    auto out = make_transfer("water", 6, day(2), "tank", "");
    auto in = make_transfer("water", 8, day(2), "", "tank");
    out.row.transfer = out_first ? "a" : "b";
    in.row.transfer = out_first ? "b" : "a";
    facts.transfers = out_first ? std::vector{out, in} : std::vector{in, out};
    // 5 - 2 - 6 + 8 - 8 at the end; never short of the 6 in between.
    CHECK(Balance(mission, facts).of("water").with_transfers->units == Approx(-3));
    CHECK(Balance(mission, facts).of("water").with_transfers->first_short == day(7));
  }
}

TEST_CASE("a transfer of another item moves nothing") {
  const Mission mission = make_docked_drinkers(1);
  Facts facts = counted({{"tank", 12}});
  facts.transfers = {make_transfer("food", 5, day(1), "tank", "")};
  CHECK(margin_of(mission, facts).units == Approx(2));
}

// Items that fill up

TEST_CASE("room that lasts exactly to the required end is covered, and a tenth less is not") {
  Mission mission = make_mission({.crew = 3});
  for (const auto& [room, margin] : {std::pair{31.0, 1.0}, std::pair{30.0, 0.0}, std::pair{29.9, -0.1}}) {
    mission.items = {make_capacity("waste", room, 1)};
    Facts facts;
    facts.counts = {make_count("waste", 0)};
    const Balance balance(mission, facts);
    CAPTURE(room);
    CHECK(balance.shown("waste") == margin);
    CHECK(balance.at_plan("waste").is_covered() == (margin >= 0));
    CHECK(balance.at_plan("waste").first_short.has_value() == (margin < 0));
  }
}

TEST_CASE("what can't be filled is taken off the room") {
  Mission mission = make_mission({.crew = 3});
  mission.items = {make_capacity("waste", 40, 1)};
  mission.items[0].residual["tank"] = 4;
  Facts facts;
  facts.counts = {make_count("waste", 2)};
  CHECK(Balance(mission, facts).at_plan("waste").units == Approx(40 - 2 - 4 - 30));
}

TEST_CASE("for room it is the other way round: what is to come in counts, what is to go out does not") {
  Mission mission = make_mission({.crew = 3});
  mission.items = {make_capacity("waste", 40, 1)};
  Facts facts;
  facts.counts = {make_count("waste", 0)};
  facts.transfers = {make_transfer("waste", 15, day(3), "tank", "")};
  {
    const Balance balance(mission, facts);
    CHECK(balance.at_plan("waste").units == Approx(10));
    CHECK(balance.of("waste").with_transfers->units == Approx(25));
  }
  facts.transfers = {make_transfer("waste", 15, day(3), "", "tank")};
  {
    const Balance balance(mission, facts);
    CHECK(balance.at_plan("waste").units == Approx(-5));
    CHECK(balance.of("waste").with_transfers->units == Approx(-5));
  }
}

TEST_CASE("a stock and room of the same size have the same margin") {
  for (const double size : {25.0, 30.0, 37.5}) {
    Mission mission = make_mission({.crew = 3, .waiting_days = 1});
    mission.items = {make_item("food", "kg", 1), make_capacity("waste", size, 1)};
    Facts facts;
    facts.counts = {make_count("food", size), make_count("waste", 0)};
    const Balance balance(mission, facts);
    CHECK(balance.at_plan("food").units == Approx(balance.at_plan("waste").units));
    CHECK(*balance.at_plan("food").days == Approx(*balance.at_plan("waste").days));
    CHECK(balance.at_plan("food").through == balance.at_plan("waste").through);
  }
}

// Items that only events use

TEST_CASE("an item that only events use has its margin in events and none in days") {
  Mission mission = make_docked_drinkers(1);
  mission.items = {make_item("water", "each")};
  mission.items[0].per_event["undock"] = 2;
  for (const auto& [aboard, events] : {std::pair{7.0, 2.5}, std::pair{2.0, 0.0}, std::pair{1.0, -0.5}}) {
    const Margin margin = margin_of(mission, counted({{"tank", aboard}}));
    CAPTURE(aboard);
    CHECK_FALSE(margin.days.has_value());
    REQUIRE(margin.events.has_value());
    CHECK(*margin.events == Approx(events));
    CHECK(margin.first_short.has_value() == (events < 0));
    if (events < 0) CHECK(margin.first_short == day(4));
    if (events >= 0) CHECK(margin.through > day(10000));
  }
}

TEST_CASE("an item that two kinds of event use has no margin in events, for it would be in which") {
  Mission mission = make_docked_drinkers(1);
  mission.items = {make_item("water", "each")};
  mission.items[0].per_event = {{"undock", 2}, {"landing", 1}};
  const Margin margin = margin_of(mission, counted({{"tank", 7}}));
  CHECK(margin.units == Approx(4));
  CHECK_FALSE(margin.events.has_value());
}

TEST_CASE("an event at the cut-off has happened, one a microsecond later has not") {
  Mission mission = make_docked_drinkers(1);
  mission.items = {make_item("water", "each")};
  mission.items[0].per_event["undock"] = 2;
  Facts facts;
  facts.counts = {make_count("water", 3, day(4))};
  CHECK(margin_of(mission, facts, day(4)).units == Approx(3));
  mission.events[1].at = day(4) + 1us;
  CHECK(margin_of(mission, facts, day(4)).units == Approx(1));
}

TEST_CASE("an event at the required end is still to be covered") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].per_event["landing"] = 2;  // on day 10, the required end
  CHECK(margin_of(mission, counted({{"tank", 12}})).units == Approx(0).margin(1e-9));
  CHECK(margin_of(mission, counted({{"tank", 11.9}})).first_short == day(10));
}

// Where and how long

TEST_CASE("the phase of a margin is the one in which it is smallest") {
  Mission mission = make_docked_drinkers(1);
  add_phase(mission, "late", day(6));
  CHECK(margin_of(mission, counted({{"tank", 12}})).phase == "late");
  mission.items[0].reserve = {make_reserve(9, "undock")};
  CHECK(margin_of(mission, counted({{"tank", 12}})).phase == "Flight");
}

TEST_CASE("what lasts past the required end lasts on at the rates of the day kind that margins are counted in") {
  Mission mission = make_docked_drinkers(1);
  mission.day_kinds[1].per_crew_day["water"] = 0.5;  // wave_off
  const Margin margin = margin_of(mission, counted({{"tank", 12}}));
  CHECK(*margin.days == Approx(4));
  CHECK(margin.through == day(14));
  CHECK(Balance(mission, counted({{"tank", 12}})).of("water").daily == Approx(0.5));
}

TEST_CASE("more aboard never makes a margin smaller, and each kilogram counts in full") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"shelf", "tank"};
  mission.items[0].reserve = {make_reserve(3, "undock")};
  double last = -1e9;
  for (double aboard = 0; aboard <= 20; aboard += 0.5) {
    const double units = margin_of(mission, counted({{"shelf", 4}, {"tank", aboard}})).units;
    CAPTURE(aboard);
    if (aboard > 0) CHECK(units == Approx(last + 0.5));
    last = units;
  }
}

// Conflicts

TEST_CASE("where two sources disagree the worse value makes the margin, of a stock and of room alike") {
  Mission mission = make_docked_drinkers(1);
  Facts facts = counted({{"tank", 15}});
  for (const auto& [other, margin] : {std::pair{11.0, 1.0}, std::pair{19.0, 5.0}}) {
    facts.counts[0].rivals = {make_count("water", other).row};
    CHECK(margin_of(mission, facts).units == Approx(margin));
  }
  mission.items = {make_capacity("water", 30, 1)};
  for (const auto& [other, margin] : {std::pair{11.0, 5.0}, std::pair{19.0, 1.0}}) {
    facts.counts[0].rivals = {make_count("water", other).row};
    CHECK(margin_of(mission, facts).units == Approx(margin));
  }
}

// Bases

namespace {

/// Counts on four days, used up at `factor` times the plan; on day 3 there are `left` kg.
Facts used_at(double factor, double left) {
  Facts facts;
  for (int number = 0; number <= 3; ++number)
    facts.counts.push_back(make_count("water", left + factor * (3 - number), day(number)));
  return facts;
}

MarginRules governed_by(std::vector<Basis> bases) {
  MarginRules rules = at_plan_only();
  rules.bases = std::move(bases);
  return rules;
}

}  // namespace

TEST_CASE("the measured rate governs where use runs ahead of the plan, and the plan where it runs behind") {
  const Mission mission = make_docked_drinkers(1);
  for (const double factor : {0.5, 2.0}) {
    const Facts facts = used_at(factor, 10);
    const Balance balance(mission, facts, day(3), governed_by({Basis::plan, Basis::measured}));
    const ItemMargins& water = balance.of("water");
    CAPTURE(factor);
    REQUIRE(water.measured.has_value());
    REQUIRE(water.governing.has_value());
    CHECK(water.plan->units == Approx(10 - 7));  // seven days are left
    CHECK(water.measured->units == Approx(10 - 7 * factor));
    CHECK(*water.measured->days == Approx((10 - 7 * factor) / factor));
    // At half the plan: 3 days at plan against 13; at twice the plan: 3 days against -2.
    CHECK(water.governing_basis == (factor > 1 ? Basis::measured : Basis::plan));
    CHECK(*water.governing->days == Approx(factor > 1 ? -2 : 3));
  }
}

TEST_CASE("only the bases that the rules name govern") {
  const Mission mission = make_docked_drinkers(1);
  const Facts facts = used_at(2, 10);
  CHECK(Balance(mission, facts, day(3), governed_by({Basis::plan})).of("water").governing->units == Approx(3));
  CHECK(Balance(mission, facts, day(3), governed_by({Basis::measured})).of("water").governing->units == Approx(-4));
}

TEST_CASE("without a measured rate nothing governs where the rules ask for one") {
  const Mission mission = make_docked_drinkers(1);
  const Facts facts = counted({{"tank", 12}});
  const Balance both(mission, facts, launch, governed_by({Basis::plan, Basis::measured}));
  CHECK(both.of("water").plan.has_value());
  CHECK_FALSE(both.of("water").measured.has_value());
  CHECK_FALSE(both.of("water").governing.has_value());
  CHECK_FALSE(both.of("water").with_transfers.has_value());
  CHECK(Balance(mission, facts, launch, governed_by({Basis::plan})).of("water").governing.has_value());
}

TEST_CASE("an item that only events use needs no measured rate") {
  Mission mission = make_docked_drinkers(1);
  mission.items = {make_item("water", "each")};
  mission.items[0].per_event["undock"] = 2;
  const Facts facts = counted({{"tank", 3}});
  const Balance balance(mission, facts, launch, governed_by({Basis::plan, Basis::measured}));
  REQUIRE(balance.of("water").governing.has_value());
  CHECK(balance.of("water").governing->units == Approx(1));
}

TEST_CASE("the measured rate multiplies what is drawn and not what is made") {
  Mission mission = make_docked_drinkers(1);
  add_cells(mission, 0.25, 1);
  Facts facts;
  // Drawn at twice the plan: 2 - 0.25 = 1.75 kg a day less.
  for (int number = 0; number <= 3; ++number)
    facts.counts.push_back(make_count("water", 20 - 1.75 * number, day(number)));
  const Balance balance(mission, facts, day(3), governed_by({Basis::measured}));
  CHECK(balance.of("water").governing->units == Approx(20 - 1.75 * 10));
}

// Which is tighter

namespace {

/// A margin by what makes it tighter or not.
Margin margin(double units, std::optional<double> days) {
  Margin made;
  made.units = units;
  made.days = days;
  return made;
}

}  // namespace

TEST_CASE("fewer days are tighter, and one that is short is tighter than one that is covered") {
  CHECK(is_tighter(margin(9, 1.9), margin(1, 2.0)));
  CHECK_FALSE(is_tighter(margin(1, 2.0), margin(9, 1.9)));
  CHECK(is_tighter(margin(-0.1, {}), margin(1, 0.1)));
  CHECK(is_tighter(margin(-5, -2.0), margin(1, {})));
  CHECK(is_tighter(margin(1, 30.0), margin(1, {})));
  CHECK(is_tighter(margin(1, {}), margin(2, {})));
}

TEST_CASE("tighter is an order: no margin is tighter than itself, and of three the order holds round the corner") {
  int in_order = 0;
  std::vector<Margin> all;
  for (const double units : {-2.0, -1.0, 0.0, 1.0, 2.0}) {
    all.push_back(margin(units, {}));
    for (const double daily : {0.5, 1.0, 3.0}) all.push_back(margin(units, units / daily));
  }
  const auto as_tight = [](const Margin& a, const Margin& b) { return !is_tighter(a, b) && !is_tighter(b, a); };
  for (const Margin& a : all) {
    CHECK_FALSE(is_tighter(a, a));
    for (const Margin& b : all) {
      CHECK_FALSE((is_tighter(a, b) && is_tighter(b, a)));
      for (const Margin& c : all) {
        if (is_tighter(a, b) && is_tighter(b, c)) {
          CHECK(is_tighter(a, c));
          ++in_order;
        }
        if (as_tight(a, b) && as_tight(b, c)) CHECK(as_tight(a, c));
      }
    }
  }
  CHECK(in_order > 0);
}

TEST_CASE("the limiting item is the tightest, the first of two that are as tight, and none where none has days") {
  Mission mission = make_docked_drinkers(1);
  mission.items = {make_item("air", "kg", 1), make_item("food", "kg", 1), make_item("suits", "each")};
  mission.items[2].per_event["undock"] = 2;
  const auto limiting = [&](double air, double food, double suits) {
    Facts facts;
    facts.counts = {make_count("air", air), make_count("food", food), make_count("suits", suits)};
    return Balance(mission, facts).limiting();
  };
  CHECK(limiting(12, 11, 2) == "food");
  CHECK(limiting(11, 12, 2) == "air");
  CHECK(limiting(12, 12, 2) == "air");
  CHECK(limiting(12, 11, 1) == "suits");  // short, so it limits without days
  CHECK(limiting(9, 11, 1) == "air");     // short by a day
  mission.items.erase(mission.items.begin(), mission.items.begin() + 2);
  Facts facts;
  facts.counts = {make_count("suits", 5)};
  CHECK(Balance(mission, facts).limiting().empty());
  CHECK(find_limiting({}) == nullptr);
}

TEST_CASE("after the last landing opportunity there is no margin to speak of, at it there still is") {
  const Mission mission = make_docked_drinkers(1);
  Facts facts;
  facts.counts = {make_count("water", 12, day(10))};
  CHECK(Balance(mission, facts, day(10)).of("water").governing.has_value());
  const Balance after(mission, facts, day(10) + 1min);
  CHECK_FALSE(after.of("water").governing.has_value());
  CHECK(after.of("water").level->doubts.size() == 1);
}

TEST_CASE("use that only a kind of day brings is measured, and nothing governs before it can be") {
  for (const bool as_event : {false, true}) {
    CAPTURE(as_event);
    Mission mission = make_docked_drinkers(1);
    mission.items = {make_item("water", "kg")};
    if (as_event) mission.items[0].per_event["wash"] = 1;
    for (auto& kind : mission.day_kinds) (as_event ? kind.events_per_day["wash"] : kind.per_day["water"]) = 1;
    CHECK_FALSE(Balance(mission, counted({{"tank", 16}}), launch, governed_by({Basis::measured}))
                    .of("water")
                    .governing.has_value());
    Facts facts;
    for (int number = 0; number <= 3; ++number)
      facts.counts.push_back(make_count("water", 16 - 2.0 * number, day(number)));
    const Balance balance(mission, facts, day(3), governed_by({Basis::measured}));
    // Twice as fast as planned: 10 are left for the 7 days that need 14.
    CHECK(balance.of("water").measured->units == Approx(10 - 14));
  }
}

TEST_CASE("a transfer out of a place that has gone by then brings nothing") {
  Mission mission = make_docked_drinkers(1);
  mission.places[1].until = "undock";  // the bag, day 4
  mission.items[0].places = {"tank", "bag"};
  Facts facts = counted({{"bag", 5}, {"tank", 12}});
  const auto with_transfer_on = [&](Instant when) {
    facts.transfers = {make_transfer("water", 5, when, "bag", "tank")};
    return Balance(mission, facts).at_plan("water").units;
  };
  CHECK(with_transfer_on(day(5)) == Approx(12 - 10));
  CHECK(with_transfer_on(day(3)) == Approx(12 + 5 - 10));
  mission.places[1].state = PlaceState::reserved;  // not to be drawn from, but there
  CHECK(with_transfer_on(day(3)) == Approx(12 + 5 - 10));
}

TEST_CASE("a place that was counted below its residual gives nothing and takes nothing") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"tank", "bag"};
  mission.items[0].residual = {{"bag", 3}};
  CHECK(Balance(mission, counted({{"bag", 1}, {"tank", 12}})).at_plan("water").units == Approx(12 - 10));
  CHECK(Balance(mission, counted({{"bag", 4}, {"tank", 12}})).at_plan("water").units == Approx(1 + 12 - 10));
}

TEST_CASE("what a place was taken to have given below its residual came from elsewhere") {
  Mission mission = make_docked_drinkers(1);
  mission.items[0].places = {"bag", "tank"};
  mission.items[0].residual = {{"bag", 3}};
  // Since launch 4 were drawn, by plan all from the bag, which could give 1 of its 4: 3 of the tank's 12 are gone.
  CHECK(Balance(mission, counted({{"bag", 4}, {"tank", 12}}), day(4)).at_plan("water").units == Approx(12 - 3 - 6));
  // Counted below its residual it gave nothing at all: the tank gave it, and there is nothing to make good.
  CHECK(Balance(mission, counted({{"bag", 1}, {"tank", 12}}), day(4)).at_plan("water").units == Approx(12 - 4 - 6));
}

// As estimated from all counts

namespace {

/// One person who drinks 2 kg a day out of the tank was watched for five of ten days; a gauge told of it every day, and
/// use was as planned. Everything is judged by the defaults.
struct Watched {
  Mission mission = make_docked_drinkers(1);
  Facts facts;
  MarginRules rules;
  Instant cutoff = day(5);

  Watched() {
    mission.items[0].per_crew_day = 2;
    mission.items[0].sigma = {{"gauge", 0.4}};
    count({40, 38.2, 35.9, 34.1, 31.8, 30});
  }

  /// One count a day from launch on, in place of those before.
  void count(const std::vector<double>& values, const std::string& place = "tank") {
    std::erase_if(facts.counts, [&](const auto& c) { return c.row.place == place && c.row.item == item().id; });
    count_daily(facts, item().id, values, place);
  }

  [[nodiscard]] Item& item() { return mission.items[0]; }
  /// Its last count, of the place that comes last in the order of facts.
  [[nodiscard]] auto& last() { return facts.counts.back(); }
  [[nodiscard]] Balance balance() const { return Balance(mission, facts, cutoff, rules); }
  [[nodiscard]] Margin on(Basis basis) const {
    const Balance all = balance();
    const auto& margin = all.margins().front().on(basis);
    REQUIRE(margin.has_value());
    return *margin;
  }
  [[nodiscard]] Margin governing() const {
    const Balance all = balance();
    REQUIRE(all.margins().front().governing.has_value());
    return *all.margins().front().governing;
  }
  [[nodiscard]] std::string reading() const { return balance().margins().front().reading; }
};

void add_bag(Watched& watched) {
  watched.item().places = {"bag", "tank"};
  watched.item().residual = {{"bag", 1}};
  watched.count({14, 12.1, 10, 8.2, 5.9, 4}, "bag");
  watched.count({28, 28.1, 28, 27.8, 28, 28}, "tank");
}

/// A kilogram a day is made by cells that use more than planned.
void add_fast_cells(Watched& watched) {
  add_cells(watched.mission, 2, 0.5);
  watched.mission.items[1].sigma = {{"gauge", 0.4}};
  watched.count({40, 39.2, 38, 37.1, 36, 35});
  count_daily(watched.facts, "cells", {50, 47.6, 45.2, 42.8, 40.4, 38});
}

void add_leak(Watched& watched) { watched.count({40, 38.2, 35.9, 33.1, 29.8, 27}); }

/// Flights that differ in what a margin has to cope with.
struct Variant {
  const char* name;
  std::function<void(Watched&)> add;
};
const Variant variants[] = {
    {"plain", [](Watched&) {}},
    {"a bag that goes",
     [](Watched& w) {
       add_bag(w);
       add_event(w.mission, "leave", day(6));
       w.mission.places[1].until = "leave";
     }},
    {"a bag that is emptied",
     [](Watched& w) {
       add_bag(w);
       add_event(w.mission, "leave", day(9));
       w.mission.places[1].until = "leave";
     }},
    {"cells", add_fast_cells},
    {"a leak", add_leak},
    {"events and transfers",
     [](Watched& w) {
       add_event(w.mission, "burn", day(8));
       w.item().per_event = {{"burn", 1.5}};
       w.item().event_sigma = 0.5;
       w.item().transfer_sigma = 0.3;
       w.item().bias = {{"gauge", 0.3}};
       w.facts.transfers = {make_transfer("water", 2, day(7), "tank", "")};
     }},
    {"a reserve that is released",
     [](Watched& w) {
       add_event(w.mission, "burn", day(8));
       w.item().reserve = {make_reserve(4, "burn"), make_reserve(1)};
     }},
    {"a low count", [](Watched& w) { w.last().row.quantity = 24; }},
};

/// Calls check(name, watched) for each variant.
template <typename Check>
void for_each_variant(const Check& check) {
  for (const Variant& variant : variants) {
    CAPTURE(variant.name);
    Watched watched;
    variant.add(watched);
    check(watched);
  }
}

constexpr Basis all_bases[] = {Basis::plan, Basis::measured, Basis::assured};
constexpr double few_last_digits = 1e-9;

/// Units times `scale` and days are the same on every basis.
void check_same(const Watched& a, const Watched& b, double scale = 1) {
  for (const Basis basis : all_bases) {
    CAPTURE(static_cast<int>(basis));
    const Margin before = a.on(basis);
    const Margin after = b.on(basis);
    CHECK(after.units == Approx(before.units * scale).epsilon(few_last_digits));
    REQUIRE(after.days.has_value() == before.days.has_value());
    if (after.days) CHECK(*after.days == Approx(*before.days).epsilon(few_last_digits));
  }
}

}  // namespace

TEST_CASE("what is sure is less than what is measured, where use is as planned") {
  for_each_variant([](Watched& watched) {
    for (const double assurance : {60.0, 75.0, 99.0}) {  // the middle of a lopsided leak is not its mean
      CAPTURE(assurance);
      watched.rules.assurance = assurance;
      CHECK(watched.on(Basis::assured).units <= watched.on(Basis::measured).units + few_last_digits);
    }
  });
}

TEST_CASE("more assurance never raises a margin, neither in units nor in days") {
  for_each_variant([](Watched& watched) {
    for (const double held : {0.0, 6.0, 6.5, 7.0, 7.5, 8.0}) {
      watched.item().reserve.push_back(make_reserve(held, "landing"));
      CAPTURE(held);
      std::optional<Margin> least_sure;
      Margin last;
      last.units = std::numeric_limits<double>::infinity();
      last.days = last.units;
      for (const double assurance : {50.0, 60.0, 75.0, 90.0, 95.0, 99.0, 99.9}) {
        CAPTURE(assurance);
        watched.rules.assurance = assurance;
        const Margin now = watched.on(Basis::assured);
        CHECK(now.units <= last.units);
        CHECK(*now.days <= *last.days);
        last = now;
        if (!least_sure) least_sure = now;
      }
      CHECK(last.units < least_sure->units);
      CHECK(*last.days < *least_sure->days);
      watched.item().reserve.pop_back();
    }
  });
}

TEST_CASE("a greater reserve never gives more days, whether it bites at the end or before it") {
  Watched watched;
  add_event(watched.mission, "burn", day(6));
  for (const Basis basis : all_bases) {
    CAPTURE(static_cast<int>(basis));
    double last = std::numeric_limits<double>::infinity();
    for (double held = 0; held <= 20; held += 0.25) {
      CAPTURE(held);
      watched.item().reserve = {make_reserve(held, "burn")};
      const double days = *watched.on(basis).days;
      CHECK(days <= last);
      last = days;
    }
    // Of the 28 kg before the burn 20 are held: four days, and ten where nothing is.
    watched.item().reserve.clear();
    CHECK(last < *watched.on(basis).days - 4);
  }
}

TEST_CASE("more in every count never lowers a margin") {
  for_each_variant([](Watched& watched) {
    for (const Basis basis : all_bases) {
      CAPTURE(static_cast<int>(basis));
      Margin last = watched.on(basis);
      Watched more = watched;
      for (int i = 0; i < 8; ++i) {
        for (auto& count : more.facts.counts) count.row.quantity += count.row.item == "water" ? 0.5 : 0;
        const Margin now = more.on(basis);
        CHECK(now.units >= last.units - few_last_digits);
        CHECK(*now.days >= *last.days - few_last_digits);
        last = now;
      }
      CHECK(last.units > watched.on(basis).units + 3);  // of the 4 that were added
    }
  });
}

TEST_CASE("a day more never raises a margin where no more is made than drawn") {
  for_each_variant([](Watched& watched) {
    const auto levels = find_levels(watched.mission, watched.rules, watched.facts, watched.cutoff);
    for (const Basis basis : all_bases) {
      CAPTURE(static_cast<int>(basis));
      std::optional<Margin> last;
      for (int days = 0; days <= 6; ++days) {
        CAPTURE(days);
        const Mission longer = extend(watched.mission, days);
        const auto margins = compute_margins(longer, watched.rules, watched.facts, levels, watched.cutoff);
        const Margin now = *margins.front().on(basis);
        if (last) {
          CHECK(now.units <= last->units + few_last_digits);
          CHECK(*now.days <= *last->days + few_last_digits);
        }
        last = now;
      }
      CHECK(last->units < watched.on(basis).units - 1);
    }
  });
}

TEST_CASE("pounds or kilograms, the margin is the same") {
  constexpr double scale = 2.2;
  for_each_variant([](Watched& watched) {
    Watched pounds = watched;
    Item& item = pounds.item();
    for (double* value : {&item.step, &item.per_crew_day, &item.made_ratio, &item.transfer_sigma, &item.event_sigma})
      *value *= scale;
    for (auto* values : {&item.per_event, &item.residual, &item.sigma, &item.bias}) {
      for (auto& [key, value] : *values) value *= scale;
    }
    for (auto& line : item.reserve) line.quantity *= scale;
    for (auto& count : pounds.facts.counts) count.row.quantity *= count.row.item == "water" ? scale : 1;
    for (auto& transfer : pounds.facts.transfers) transfer.row.quantity *= scale;
    check_same(watched, pounds, scale);
  });
}

TEST_CASE("by another clock, the margin is the same") {
  for_each_variant([](Watched& watched) {
    Watched moved = watched;
    const auto shift = [](Instant& when) { when += 5h + 37min; };
    Mission& mission = moved.mission;
    shift(mission.launch);
    shift(moved.cutoff);
    mission.flight_days = daywright::model::FlightDays({mission.launch});
    for (auto& phase : mission.phases) shift(phase.start);
    for (auto& event : mission.events) shift(event.at);
    for (auto& person : mission.persons) shift(person.stays.front().from);
    for (auto& landing : mission.landing_days) shift(landing.opportunities.front());
    for (auto& count : moved.facts.counts) shift(count.row.when);
    for (auto& transfer : moved.facts.transfers) shift(transfer.row.when);
    check_same(watched, moved);
  });
}

TEST_CASE("a phase told in two parts is the same phase, before the cut-off and after it") {
  for_each_variant([](Watched& watched) {
    Watched split = watched;
    add_phase(split.mission, "second", day(2) + 7h);
    add_phase(split.mission, "third", day(7) + 1h);
    check_same(watched, split);
  });
}

// Leaks

TEST_CASE("a leak is shown from its chance on, then the margin with it governs and stands beside the one without") {
  Watched watched;
  add_leak(watched);
  const double chance = *watched.balance().of("water").leak_chance * 100;
  REQUIRE(chance > 10);
  watched.rules.leak_shown_from = chance;
  const Balance shown = watched.balance();
  watched.rules.leak_shown_from = std::nextafter(chance, 100);
  const Balance hidden = watched.balance();
  const ItemMargins& with = shown.of("water");
  const ItemMargins& not_yet = hidden.of("water");
  CHECK(with.shows_leak);
  CHECK_FALSE(not_yet.shows_leak);
  CHECK_FALSE(not_yet.without_leak.has_value());
  CHECK(not_yet.plan->leaked == 0);
  REQUIRE(with.without_leak.has_value());
  CHECK(with.without_leak->units > with.governing->units + 1);
  CHECK(*with.without_leak->days > *with.governing->days);
  for (const Basis basis : all_bases) CHECK(with.on(basis)->units < not_yet.on(basis)->units);
  // As seen: a kilogram a day from day 2 on, five days of it still to come.
  CHECK(with.leak_rate == Approx(1).margin(0.2));
  CHECK(with.plan->leaked == Approx(5 * with.leak_rate));
  CHECK(*with.leak_since >= day(1));
  CHECK(*with.leak_since <= day(3));
}

TEST_CASE("a stock that rises, with a leak that is shown, lasts far and takes no time to tell") {
  Watched watched;
  watched.count({30, 31.5, 33, 34.5, 36, 37.5});
  watched.rules.estimate.factor_sd = 3;
  watched.rules.estimate.factor_drift = 0;
  watched.rules.estimate.leak_chance = 0.5;
  watched.rules.leak_shown_from = 1;
  REQUIRE(watched.balance().of("water").shows_leak);
  CHECK(*watched.on(Basis::assured).days > 10);
}

TEST_CASE("a place that has run empty is drawn from no more, and the next one that is has no leak") {
  for (const double daily : {1.8, 2.0, 2.2}) {
    for (int days = 2; days <= 8; ++days) {
      CAPTURE(daily, days);
      Watched watched;
      add_bag(watched);
      std::vector<double> bag;
      std::vector<double> tank;
      for (int number = 0; number <= days; ++number) {
        // The bag's 5 kg above its residual last into the third day.
        bag.push_back(1 + std::max(0.0, 5 - daily * number));
        tank.push_back(28 - std::max(0.0, daily * number - 5));
      }
      watched.count(bag, "bag");
      watched.count(tank, "tank");
      watched.cutoff = day(days);
      const Balance balance = watched.balance();
      const ItemMargins& water = balance.of("water");
      CHECK(*water.leak_chance < 0.05);
      CHECK(water.level->suspects.empty());
      CHECK(water.plan->units == Approx(33 - daily * days - 2 * (10 - days)).margin(0.3));
      CHECK(*water.level->factor == Approx(daily / 2).margin(0.1));
    }
  }
}

TEST_CASE("a repair that somebody answers for ends a leak, and one that nobody does leaves it") {
  Watched watched;
  watched.count({40, 37, 34, 31, 28, 25, 23, 21, 19});
  watched.cutoff = day(8);
  const auto chance = [&] { return *watched.balance().of("water").leak_chance; };
  const double leaking = chance();
  const double short_of_water = watched.governing().units;
  watched.facts.decisions = {make_repair(day(5), "")};
  CHECK(chance() == leaking);
  watched.facts.decisions[0].row.authority = "board";
  CHECK(chance() < 0.05);
  CHECK_FALSE(watched.balance().of("water").shows_leak);
  CHECK(watched.on(Basis::plan).leaked == 0);
  CHECK(watched.governing().units > short_of_water);
  watched.facts.decisions[0].row.state = DecisionState::proposed;
  CHECK(chance() == leaking);
}

// Counts that nobody trusts

TEST_CASE("a suspect count that takes something away governs until it is counted again") {
  Watched watched;
  const double before = watched.governing().units;
  watched.last().row.quantity = 24;
  CHECK(watched.reading() == "with the suspect count as it stands");
  CHECK(watched.governing().units < before - 5);
  CHECK(watched.on(Basis::plan).units == Approx(24 - 10).margin(0.1));
  // Counted again an hour later, and it was a slip.
  watched.facts.counts.push_back(make_count("water", 29.9, day(5) + 1h));
  watched.cutoff = day(5) + 1h;
  CHECK(watched.reading().empty());
  CHECK(watched.governing().units == Approx(before).margin(0.5));
  CHECK(watched.balance().of("water").level->suspects.at(0).is_counted_again);
}

TEST_CASE("a suspect count that would add something never governs") {
  Watched watched;
  const double before = watched.governing().units;
  watched.last().row.quantity = 36;
  const Balance balance = watched.balance();
  CHECK(balance.of("water").level->suspects.size() == 1);
  CHECK(balance.of("water").reading.empty());
  CHECK(balance.of("water").governing->units == Approx(before).margin(1));
}

TEST_CASE("what fills up is taken as full as a suspect count says, and not as empty") {
  for (const auto& [counted, governs] : {std::pair{26.0, true}, std::pair{14.0, false}}) {
    CAPTURE(counted);
    Watched watched;
    watched.mission.items = {make_capacity("water", 40, 2)};
    watched.item().sigma = {{"gauge", 0.4}};
    watched.count({10, 12.1, 13.9, 16, 18.2, counted});
    CHECK(watched.reading().empty() != governs);
    CHECK(watched.on(Basis::plan).units == Approx(40 - (governs ? 26 : 20) - 10).margin(0.2));
  }
}

TEST_CASE("a suspect count that adds something hides none that takes something away") {
  Watched watched;
  add_bag(watched);
  watched.count({14, 12.1, 10, 8.2, 5.9, 1}, "bag");
  const double low = watched.on(Basis::plan).units;
  watched.count({28, 28.1, 28, 27.8, 28, 38}, "tank");
  CHECK(watched.balance().of("water").level->suspects.size() == 2);
  CHECK(watched.on(Basis::plan).units == Approx(low).margin(0.3));
}

TEST_CASE("what another source says governs where it is worse, of a stock and of room, on every basis") {
  for (const bool fills_up : {false, true}) {
    for (const double other : {25.0, 35.0}) {
      CAPTURE(fills_up, other);
      Watched watched;
      if (fills_up) {
        watched.mission.items = {make_capacity("water", 60, 2)};
        watched.item().sigma = {{"gauge", 0.4}};
        watched.count({20, 22.1, 24, 25.9, 28, 30});
      }
      const Watched alone = watched;
      watched.last().rivals = {make_count("water", other, day(5)).row};
      const bool is_worse = (other > 30) == fills_up;
      CHECK(watched.reading() == (is_worse ? "with the count that another source gives" : ""));
      for (const Basis basis : all_bases) {
        const double lost = alone.on(basis).units - watched.on(basis).units;
        if (is_worse)
          CHECK(lost == Approx(5).margin(1));
        else
          CHECK(lost == 0);
      }
    }
  }
}

TEST_CASE("a suspect count and another source that both take something away are taken together") {
  Watched watched;
  add_bag(watched);
  watched.count({14, 12.1, 10, 8.2, 5.9, 1}, "bag");
  const double low = watched.on(Basis::plan).units;
  watched.last().rivals = {make_count("water", 23, day(5)).row};
  CHECK(watched.on(Basis::plan).units == Approx(low - 5).margin(0.2));
}

// Counts that are no evidence

TEST_CASE("derived counts, counts in phases in which they are not valid and counts to come change no margin") {
  const Watched watched;
  const auto with_count = [&](const std::string& method, Instant when) {
    Watched more = watched;
    more.mission.methods.push_back({"sums", CountKind::derived, {}});
    more.mission.methods.push_back({"lever", CountKind::gauge, {}, {"burns"}});
    add_phase(more.mission, "burns", day(9));
    more.facts.counts.push_back(make_count("water", 3, when));
    more.facts.counts.back().row.method = method;
    return more;
  };
  check_same(watched, with_count("sums", day(4) + 12h));
  check_same(watched, with_count("lever", day(4) + 12h));
  check_same(watched, with_count("gauge", day(5) + 1us));
  CHECK(with_count("gauge", day(4) + 12h).governing().units < watched.governing().units);
}

TEST_CASE("an item that was never counted has no margin on any basis and no chance to tell") {
  Watched watched;
  watched.facts.counts.clear();
  const Balance balance = watched.balance();
  for (const Basis basis : all_bases) CHECK_FALSE(balance.of("water").on(basis).has_value());
  CHECK_FALSE(balance.of("water").governing.has_value());
  CHECK_FALSE(balance.of("water").leak_chance.has_value());
  CHECK_FALSE(balance.of("water").lasts_chance.has_value());
}

// Errors

TEST_CASE("an error that all counts of a gauge share does not average away, however many there are") {
  constexpr double bias = 0.6;
  const auto width = [&](int counts_a_day, bool is_biased) {
    Watched watched;
    watched.rules.estimate = daywright::test::counts_alone();
    watched.rules.estimate.factor_sd = 0;
    if (is_biased) watched.item().bias = {{"gauge", bias}};
    watched.facts.counts.clear();
    for (int i = 0; i <= 5 * counts_a_day; ++i) {
      const Instant when = launch + i * daywright::model::day_length / counts_a_day;
      watched.facts.counts.push_back(make_count("water", 40 - 2 * daywright::model::in_days(when - launch), when));
    }
    return watched.on(Basis::assured).width;
  };
  constexpr double one_sided = 1.6449;  // deviations that hold 95 %
  CHECK(width(24, false) < 0.1);
  CHECK(width(24, true) > one_sided * bias);
  CHECK(width(24, true) < one_sided * bias * 1.05);
  CHECK(width(1, true) > width(24, true));
}

TEST_CASE("what events alone use, told piece by piece, is assured in whole pieces") {
  for (const double sigma : {0.0, 0.2, 0.5, 0.9}) {
    for (const double event_sigma : {0.0, 0.4}) {
      CAPTURE(sigma, event_sigma);
      Watched watched;
      watched.mission.items = {make_item("water", "each")};
      watched.item().step = 1;
      watched.item().per_event = {{"landing", 2}};
      watched.item().sigma = {{"tally", sigma}};
      watched.item().event_sigma = event_sigma;
      watched.facts.counts = {make_count("water", 9, day(1))};
      watched.last().row.method = "tally";
      const double units = watched.on(Basis::assured).units;
      CHECK(units == std::floor(units));
      CHECK(units <= 7);
      if (sigma == 0.0 && event_sigma == 0.0) CHECK(units == 7);
      if (sigma == 0.9) CHECK(units < 7);
    }
  }
}

TEST_CASE("what events alone use is not taken for whole pieces when anything about it is not") {
  Watched watched;
  watched.mission.items = {make_item("water", "each")};
  watched.item().step = 1;
  watched.item().per_event = {{"landing", 2}};
  watched.item().sigma = {{"tally", 0.2}, {"gauge", 0.2}};
  watched.facts.counts = {make_count("water", 9, day(1))};
  watched.last().row.method = "tally";
  const double whole = watched.on(Basis::assured).units;
  REQUIRE(whole == std::floor(whole));
  SECTION("a gauge does not count pieces") { watched.last().row.method = "gauge"; }
  SECTION("a count in parts of a piece") { watched.last().row.quantity = 8.9; }
  SECTION("an event that uses parts of a piece") { watched.item().per_event = {{"landing", 1.9}}; }
  SECTION("a residual of parts of a piece") { watched.item().residual = {{"tank", 0.1}}; }
  SECTION("a reserve of parts of a piece") { watched.item().reserve = {make_reserve(0.1)}; }
  SECTION("a step that is not one piece") { watched.item().step = 2; }
  const double units = watched.on(Basis::assured).units;
  CHECK(units != std::floor(units));
  CHECK(units < watched.on(Basis::plan).units - 0.2);
}

TEST_CASE("what is made goes at the measured rate of what it is made from, and at plan on the basis of the plan") {
  Watched watched;
  watched.rules.estimate = daywright::test::counts_alone();
  add_fast_cells(watched);
  const Balance balance = watched.balance();
  CHECK(balance.of("water").level->made.mean == Approx(1.2));
  CHECK(balance.of("water").plan->made == Approx(5 * 1));
  CHECK(balance.of("water").measured->made == Approx(5 * 1.2));
  CHECK(balance.of("water").assured->made == Approx(5 * 1.2));
}

// Places that go

TEST_CASE("what is carried into a place that has gone is lost on every basis") {
  for (const int when : {8, 9}) {
    CAPTURE(when);
    Watched watched;
    add_bag(watched);
    add_event(watched.mission, "leave", day(8));
    watched.mission.places[1].until = "leave";  // emptied on day 7
    const Watched before = watched;
    watched.facts.transfers = {make_transfer("water", 5, day(when), "tank", "bag")};
    for (const Basis basis : all_bases) CHECK(before.on(basis).units - watched.on(basis).units == Approx(5));
  }
}

TEST_CASE("into a place that has gone nothing is made") {
  Watched watched;
  watched.rules.estimate = daywright::test::counts_alone();
  add_bag(watched);
  add_cells(watched.mission, 2, 0.5, "bag");
  watched.item().reserve = {make_day_reserve(1)};
  watched.facts.counts = {make_count("water", 4, day(5), "bag"), make_count("water", 28, day(5), "tank")};
  add_event(watched.mission, "leave", day(9));
  watched.mission.places[1].until = "leave";
  // Until day 9 four days of 2 - 1, which leave nothing in the bag but its residual; then a day of 2, and 2 in reserve.
  CHECK(watched.on(Basis::plan).made == Approx(4));
  CHECK(watched.on(Basis::plan).units == Approx(28 - 1 - 2 - 2));
  CHECK(watched.balance().of("water").daily == Approx(1));
}

TEST_CASE("the margin is the smallest of all configurations, whatever governs") {
  for_each_variant([](Watched& watched) {
    add_event(watched.mission, "part", day(7));
    watched.mission.places[2].until = "part";
    for (const Basis basis : all_bases) {
      CAPTURE(static_cast<int>(basis));
      watched.rules.bases = {basis};
      const Balance balance = watched.balance();
      const ItemMargins& water = balance.of("water");
      const auto& parts = water.by_configuration;
      REQUIRE(parts.size() >= 2);
      const auto smallest =
          std::min_element(parts.begin(), parts.end(), [](const auto& a, const auto& b) { return a.units < b.units; });
      CHECK(smallest->units == Approx(water.governing->units).margin(few_last_digits));
    }
  });
}
