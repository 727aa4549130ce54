// What is left at the worst moment: places that vanish, reserves that are released, transfers, conflicts and bases.
// Published budgets are in balance_test.cpp.
#include "rules/margins.h"

#include <algorithm>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"

using daywright::model::Basis;
using daywright::model::Facts;
using daywright::model::Instant;
using daywright::model::Item;
using daywright::model::MarginRules;
using daywright::model::Mission;
using daywright::model::PlaceState;
using daywright::model::ReserveLine;
using daywright::rules::find_limiting;
using daywright::rules::is_tighter;
using daywright::rules::ItemMargins;
using daywright::rules::Margin;
using daywright::test::add_event;
using daywright::test::add_phase;
using daywright::test::add_place;
using daywright::test::at_plan_only;
using daywright::test::Balance;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_capacity;
using daywright::test::make_count;
using daywright::test::make_item;
using daywright::test::make_mission;
using daywright::test::make_transfer;
using namespace std::chrono_literals;

namespace {

/// One person who drinks 1 kg a day for ten days from the tank, the only place of the item; a bag stands beside it
/// and a shelf in the depot, which is out of reach after undocking on day 4.
Mission one_drinker() {
  Mission mission = make_mission({.crew = 1});
  mission.vehicles.push_back({"depot", "Depot", {}});
  add_event(mission, "undock", day(4));
  add_place(mission, "bag");
  add_place(mission, "shelf", "undock", "depot");
  mission.items = {make_item("water", "kg", 1)};
  return mission;
}

/// Counts of water at launch; facts come in order of place.
Facts counted(std::vector<std::pair<std::string, double>> places) {
  std::sort(places.begin(), places.end());
  Facts facts;
  for (auto& [place, quantity] : places) facts.counts.push_back(make_count("water", quantity, launch, place));
  return facts;
}

ReserveLine reserve(double quantity, std::string released_by = "") {
  ReserveLine line;
  line.quantity = quantity;
  line.released_by = std::move(released_by);
  return line;
}

/// The margin of water at plan.
Margin margin_of(const Mission& mission, const Facts& facts, Instant cutoff = launch) {
  return Balance(mission, facts, cutoff).at_plan("water");
}

}  // namespace

// Places

TEST_CASE("what is left in a place when it vanishes is lost, so drawing from it first is worth as much") {
  Mission mission = one_drinker();
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
  Mission mission = one_drinker();
  mission.items[0].places = {"bag", "tank"};
  for (const double in_bag : {0.0, 2.5, 9.0, 10.0, 12.0}) {
    const Margin margin = margin_of(mission, counted({{"bag", in_bag}, {"tank", 12 - in_bag}}));
    CAPTURE(in_bag);
    CHECK(margin.units == Approx(2));
    CHECK_FALSE(margin.first_short.has_value());
  }
}

TEST_CASE("the order of drawing of a phase decides what is lost when a place vanishes") {
  Mission mission = one_drinker();
  add_phase(mission, "late", day(2));
  mission.items[0].places = {"tank", "shelf"};
  mission.items[0].draw = {{"late", {"shelf", "tank"}}};
  // Two days from the tank, two from the shelf, of whose 6 kg 4 are lost, and six more from the tank: 9 - 2 - 6 = 1.
  CHECK(margin_of(mission, counted({{"shelf", 6}, {"tank", 9}})).units == Approx(1));
}

TEST_CASE("an event takes its own draw before the place that vanishes with it is gone") {
  Mission mission = one_drinker();
  mission.items[0].places = {"shelf", "tank"};
  mission.items[0].per_event["undock"] = 2;
  // Four days and the undocking take 6 from the shelf; the tank has to last for six days.
  CHECK(margin_of(mission, counted({{"shelf", 6}, {"tank", 6}})).units == Approx(0).margin(1e-9));
  CHECK(margin_of(mission, counted({{"shelf", 5.9}, {"tank", 6}})).units == Approx(-0.1));
}

TEST_CASE("a place that is not usable at the cut-off counts for nothing, and neither does its want of a count") {
  Mission mission = one_drinker();
  mission.items[0].places = {"tank", "bag"};
  for (const auto state : {PlaceState::isolated, PlaceState::expired, PlaceState::reserved}) {
    mission.places[1].state = state;
    CHECK(margin_of(mission, counted({{"bag", 50}, {"tank", 12}})).units == Approx(2));
    CHECK(margin_of(mission, counted({{"tank", 12}})).units == Approx(2));
  }
}

TEST_CASE("what can't be drawn is taken off place by place") {
  Mission mission = one_drinker();
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
  Mission mission = one_drinker();
  mission.items[0].reserve = {reserve(5, "undock")};
  // Just before day 4: 12 - 4 - 5 = 3; at the end: 12 - 10 = 2.
  CHECK(margin_of(mission, counted({{"tank", 12}})).units == Approx(2));
  CHECK(margin_of(mission, counted({{"tank", 12}})).at == day(10));
  mission.items[0].reserve = {reserve(7, "undock")};
  // Just before day 4: 12 - 4 - 7 = 1, which is less than the 2 at the end.
  const Margin margin = margin_of(mission, counted({{"tank", 12}}));
  CHECK(margin.units == Approx(1));
  CHECK(margin.at == day(4));
  // After its event it is not held, whatever its size.
  mission.items[0].reserve = {reserve(1000, "undock")};
  CHECK(margin_of(mission, counted({{"tank", 12}}), day(4)).units == Approx(2));
}

TEST_CASE("a reserve without an event that releases it is held to the end") {
  Mission mission = one_drinker();
  mission.items[0].reserve = {reserve(2), reserve(0.5)};
  CHECK(margin_of(mission, counted({{"tank", 12.5}})).units == Approx(0).margin(1e-9));
}

TEST_CASE("a reserve of days is as many days of its kind with the crew that is aboard, less what is made") {
  Mission mission = one_drinker();
  mission.items[0].reserve = {{}};
  mission.items[0].reserve[0].days = 1.5;
  mission.items[0].reserve[0].kind = "wave_off";
  mission.day_kinds[1].per_crew_day["water"] = 2;
  CHECK(margin_of(mission, counted({{"tank", 20}})).units == Approx(20 - 10 - 1.5 * 2));
}

TEST_CASE("a reserve of an event is what one such event draws") {
  Mission mission = one_drinker();
  mission.items[0].per_event["undock"] = 3;
  mission.items[0].reserve = {{}};
  mission.items[0].reserve[0].event_kind = "undock";
  CHECK(margin_of(mission, counted({{"tank", 20}})).units == Approx(20 - 10 - 3 - 3));
  mission.items[0].reserve[0].released_by = "undock";
  CHECK(margin_of(mission, counted({{"tank", 20}})).units == Approx(20 - 10 - 3));
}

TEST_CASE("a margin that is below zero at the cut-off is short from then on") {
  Mission mission = one_drinker();
  mission.items[0].reserve = {reserve(15)};
  const Margin margin = margin_of(mission, counted({{"tank", 12}}));
  CHECK_FALSE(margin.is_covered());
  CHECK(margin.first_short == launch);
  CHECK(margin.through == launch);
}

// Transfers

TEST_CASE("a planned transfer out that is overdue counts at once, one in does not count at all") {
  const Mission mission = one_drinker();
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
  Mission mission = one_drinker();
  mission.items[0].places = {"tank", "bag"};
  Facts facts = counted({{"bag", 6}, {"tank", 6}});
  facts.transfers = {make_transfer("water", 5, day(1), "bag", "tank")};
  CHECK(margin_of(mission, facts).units == Approx(2));
  facts.transfers = {make_transfer("water", 5, day(1), "tank", "bag")};
  CHECK(margin_of(mission, facts).units == Approx(2));
}

TEST_CASE("what is to be fetched out of the other vehicle is not counted on, what is to be left there is gone") {
  Mission mission = one_drinker();
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

TEST_CASE("the second column is never below the first where transfers only come in") {
  const Mission mission = one_drinker();
  for (int number = 0; number <= 10; ++number) {
    Facts facts = counted({{"tank", 8}});
    facts.transfers = {make_transfer("water", 3, day(number), "", "tank")};
    const Balance balance(mission, facts);
    CAPTURE(number);
    CHECK(balance.of("water").with_transfers->units >= balance.of("water").governing->units);
  }
}

TEST_CASE("a transfer of another item moves nothing") {
  const Mission mission = one_drinker();
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
  Mission mission = one_drinker();
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
  Mission mission = one_drinker();
  mission.items = {make_item("water", "each")};
  mission.items[0].per_event = {{"undock", 2}, {"landing", 1}};
  const Margin margin = margin_of(mission, counted({{"tank", 7}}));
  CHECK(margin.units == Approx(4));
  CHECK_FALSE(margin.events.has_value());
}

TEST_CASE("an event at the cut-off has happened, one a microsecond later has not") {
  Mission mission = one_drinker();
  mission.items = {make_item("water", "each")};
  mission.items[0].per_event["undock"] = 2;
  Facts facts;
  facts.counts = {make_count("water", 3, day(4))};
  CHECK(margin_of(mission, facts, day(4)).units == Approx(3));
  mission.events[1].at = day(4) + 1us;
  CHECK(margin_of(mission, facts, day(4)).units == Approx(1));
}

TEST_CASE("an event at the required end is still to be covered") {
  Mission mission = one_drinker();
  mission.items[0].per_event["landing"] = 2;  // on day 10, the required end
  CHECK(margin_of(mission, counted({{"tank", 12}})).units == Approx(0).margin(1e-9));
  CHECK(margin_of(mission, counted({{"tank", 11.9}})).first_short == day(10));
}

// Where and how long

TEST_CASE("the phase of a margin is the one in which it is smallest") {
  Mission mission = one_drinker();
  add_phase(mission, "late", day(6));
  CHECK(margin_of(mission, counted({{"tank", 12}})).phase == "late");
  mission.items[0].reserve = {reserve(9, "undock")};
  CHECK(margin_of(mission, counted({{"tank", 12}})).phase == "Flight");
}

TEST_CASE("what lasts past the required end lasts on at the rates of the day kind that margins are counted in") {
  Mission mission = one_drinker();
  mission.day_kinds[1].per_crew_day["water"] = 0.5;  // wave_off
  const Margin margin = margin_of(mission, counted({{"tank", 12}}));
  CHECK(*margin.days == Approx(4));
  CHECK(margin.through == day(14));
  CHECK(Balance(mission, counted({{"tank", 12}})).of("water").daily == Approx(0.5));
}

TEST_CASE("more aboard never makes a margin smaller, and each kilogram counts in full") {
  Mission mission = one_drinker();
  mission.items[0].places = {"shelf", "tank"};
  mission.items[0].reserve = {reserve(3, "undock")};
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
  Mission mission = one_drinker();
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
  const Mission mission = one_drinker();
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
  const Mission mission = one_drinker();
  const Facts facts = used_at(2, 10);
  CHECK(Balance(mission, facts, day(3), governed_by({Basis::plan})).of("water").governing->units == Approx(3));
  CHECK(Balance(mission, facts, day(3), governed_by({Basis::measured})).of("water").governing->units == Approx(-4));
}

TEST_CASE("without a measured rate nothing governs where the rules ask for one") {
  const Mission mission = one_drinker();
  const Facts facts = counted({{"tank", 12}});
  const Balance both(mission, facts, launch, governed_by({Basis::plan, Basis::measured}));
  CHECK(both.of("water").plan.has_value());
  CHECK_FALSE(both.of("water").measured.has_value());
  CHECK_FALSE(both.of("water").governing.has_value());
  CHECK_FALSE(both.of("water").with_transfers.has_value());
  CHECK(Balance(mission, facts, launch, governed_by({Basis::plan})).of("water").governing.has_value());
}

TEST_CASE("an item that only events use needs no measured rate") {
  Mission mission = one_drinker();
  mission.items = {make_item("water", "each")};
  mission.items[0].per_event["undock"] = 2;
  const Facts facts = counted({{"tank", 3}});
  const Balance balance(mission, facts, launch, governed_by({Basis::plan, Basis::measured}));
  REQUIRE(balance.of("water").governing.has_value());
  CHECK(balance.of("water").governing->units == Approx(1));
}

TEST_CASE("the measured rate multiplies what is drawn and not what is made") {
  Mission mission = one_drinker();
  Item& water = mission.items[0];
  water.made_from = "cells";
  water.made_ratio = 1;
  water.made_into = "tank";
  mission.items.push_back(make_item("cells"));
  mission.items[1].per_day = 0.25;
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
        if (is_tighter(a, b) && is_tighter(b, c)) CHECK(is_tighter(a, c));
        if (as_tight(a, b) && as_tight(b, c)) CHECK(as_tight(a, c));
      }
    }
  }
}

TEST_CASE("the limiting item is the tightest, the first of two that are as tight, and none where none has days") {
  Mission mission = one_drinker();
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
  const Mission mission = one_drinker();
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
    Mission mission = one_drinker();
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
  Mission mission = one_drinker();
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
  Mission mission = one_drinker();
  mission.items[0].places = {"tank", "bag"};
  mission.items[0].residual = {{"bag", 3}};
  CHECK(Balance(mission, counted({{"bag", 1}, {"tank", 12}})).at_plan("water").units == Approx(12 - 10));
  CHECK(Balance(mission, counted({{"bag", 4}, {"tank", 12}})).at_plan("water").units == Approx(1 + 12 - 10));
}

TEST_CASE("what a place was taken to have given below its residual came from elsewhere") {
  Mission mission = one_drinker();
  mission.items[0].places = {"bag", "tank"};
  mission.items[0].residual = {{"bag", 3}};
  // Since launch 4 were drawn, by plan all from the bag, which could give 1 of its 4: 3 of the tank's 12 are gone.
  CHECK(Balance(mission, counted({{"bag", 4}, {"tank", 12}}), day(4)).at_plan("water").units == Approx(12 - 3 - 6));
}
