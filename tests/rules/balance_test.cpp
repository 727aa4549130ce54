// Published balances, budgets and margins, worked by the program's own timeline.
//
// Short names of sources. BVAD2: NASA/TP-2015-218570 Rev 2 (2022). SCOM: Shuttle Crew Operations Manual, USA007587
// Rev A. FR: flight rules, NSTS-12820 Vol A (2002). JSC-16720: STS-1 consumables analysis (1980). JSC-17378: STS-1
// mission report (1981). STS-114, STS-125: their mission reports. All but BVAD2 were read in public secondary texts
// that give the page of the original.
#include <chrono>
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include "builders.h"
#include "model/quantity.h"
#include "published_ledgers.h"
#include "rules/margins.h"
#include "rules/timeline.h"

using daywright::model::day_length;
using daywright::model::Facts;
using daywright::model::find_by_id;
using daywright::model::Instant;
using daywright::model::Item;
using daywright::model::ItemSort;
using daywright::model::Mission;
using daywright::model::round_to;
using daywright::model::Rounding;
using daywright::rules::daily_draw;
using daywright::rules::planned_use;
using daywright::test::add_event;
using daywright::test::Balance;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_capacity;
using daywright::test::make_count;
using daywright::test::make_day_reserve;
using daywright::test::make_drinkers;
using daywright::test::make_item;
using daywright::test::make_mission;
using daywright::test::make_reserve;
using daywright::test::make_transfer;
using daywright::test::published_ledgers;
using daywright::test::set_made_from;
using namespace std::chrono_literals;

namespace {

constexpr double few_last_digits = 1e-9;  // of a sum of a few products

/// Planned draw and make of the item with this id from launch on.
double draw_of(const Mission& mission, const std::string& id, Instant to) {
  return planned_use(mission, *find_by_id(mission.items, id), launch, to).draw;
}
double make_of(const Mission& mission, const std::string& id, Instant to) {
  return planned_use(mission, *find_by_id(mission.items, id), launch, to).make;
}

/// What one person takes in and gives off, kg a day. BVAD2 table 3-31, p. 58 (82 kg crew member). The values are the
/// table's; which solid is which is from memory.
Mission crew_balance(int crew) {
  Mission mission = make_mission({.crew = crew});
  mission.items = {
      make_item("oxygen", "kg", 0.895),
      make_item("food_solids", "kg", 0.800),
      make_item("water_in_food", "kg", 0.760),
      make_item("potable_water", "kg", 3.217),
      make_capacity("carbon_dioxide", 1e6, 1.085),
      make_capacity("faecal_solids", 1e6, 0.032),
      make_capacity("sweat_solids", 1e6, 0.027),
      make_capacity("urine_solids", 1e6, 0.061),
      make_capacity("faecal_water", 1e6, 0.101),
      make_capacity("breath_and_sweat_water", 1e6, 2.946),
      make_capacity("urine_water", 1e6, 1.420),
      make_item("metabolic_water", "kg"),
  };
  // Metabolic water, 0.490 kg a day, comes of the food that is used.
  set_made_from(mission.items.back(), "food_solids", 0.490 / 0.800);
  return mission;
}

double sum_of_draws(const Mission& mission, const std::vector<std::string>& ids, Instant to) {
  double sum = 0;
  for (const auto& id : ids) sum += draw_of(mission, id, to);
  return sum;
}

/// A tank that fuel cells draw from: level at launch, and what the flight used by its end.
Mission fuel_cell_flight(double hours, double kwh, double oxygen, double hydrogen, double cabin_oxygen) {
  Mission mission =
      make_mission({.crew = 7, .planned = std::chrono::seconds{std::llround(hours * 3600)}, .power_kw = kwh / hours});
  Item o2 = make_item("oxygen", "lb");
  o2.per_kwh = oxygen / kwh;
  o2.per_day = cabin_oxygen / (hours / 24);
  Item h2 = make_item("hydrogen", "lb");
  h2.per_kwh = hydrogen / kwh;
  Item water = make_item("water", "lb");
  set_made_from(water, "hydrogen", (oxygen + hydrogen) / hydrogen);
  mission.items = {o2, h2, water};
  return mission;
}

/// Cans that each last 48 crew-hours: SCOM p. 370, FR A17-157.
Item make_cans() {
  Item cans = make_item("cans", "cartridge");
  cans.sort = ItemSort::cartridge;
  cans.rated_crew_hours = 48;
  cans.step = 1;
  return cans;
}

}  // namespace

TEST_CASE("what a person takes in in a day weighs what the person gives off: 5.672 kg both ways") {
  for (const int crew : {1, 4, 7}) {
    const Mission mission = crew_balance(crew);
    for (const int days : {1, 9}) {
      const double in = sum_of_draws(mission, {"oxygen", "food_solids", "potable_water", "water_in_food"}, day(days));
      const double out = sum_of_draws(mission,
                                      {"carbon_dioxide", "faecal_solids", "sweat_solids", "urine_solids",
                                       "faecal_water", "breath_and_sweat_water", "urine_water"},
                                      day(days));
      CAPTURE(crew, days);
      CHECK(in == Approx(5.672 * crew * days).epsilon(few_last_digits));
      CHECK(out == Approx(5.672 * crew * days).epsilon(few_last_digits));
    }
  }
}

TEST_CASE("the water that a person takes in or makes in a day is the water given off: 4.467 kg") {
  const Mission mission = crew_balance(1);
  const double in =
      sum_of_draws(mission, {"potable_water", "water_in_food"}, day(1)) + make_of(mission, "metabolic_water", day(1));
  const double out = sum_of_draws(mission, {"faecal_water", "breath_and_sweat_water", "urine_water"}, day(1));
  CHECK(make_of(mission, "metabolic_water", day(1)) == Approx(0.490).epsilon(few_last_digits));
  CHECK(in == Approx(4.467).epsilon(few_last_digits));
  CHECK(out == Approx(4.467).epsilon(few_last_digits));
}

TEST_CASE("oxygen for a crew of seven and the cabin leak is 14.00 lb a day") {
  // SCOM p. 360 and p. 1022: 1.76 lb per crew-day, cabin leakage 0.07 lb per hour.
  Mission mission = make_mission({.crew = 7});
  mission.items = {make_item("oxygen", "lb", 1.76)};
  mission.items[0].per_day = 0.07 * 24;
  CHECK(daily_draw(mission.items[0], mission.day_kinds[0], 7) == Approx(14.00).epsilon(few_last_digits));
  CHECK(draw_of(mission, "oxygen", day(1)) == Approx(14.00).epsilon(few_last_digits));
  CHECK(draw_of(mission, "oxygen", day(10)) == Approx(140.0).epsilon(few_last_digits));
}

TEST_CASE("cans for seven persons and 11 + 2 days: 46 leave none to spare and 45 are too few") {
  // STS-125/400 FRR p. 4 and mission report p. 33: ceil(7 x 13 x 24 / 48) = ceil(45.5) = 46.
  Mission mission = make_mission({.crew = 7, .planned = 11 * day_length, .waiting_days = 2});
  mission.items = {make_cans()};
  CHECK(draw_of(mission, "cans", mission.required_end()) == Approx(45.5).epsilon(few_last_digits));
  CHECK(round_to(draw_of(mission, "cans", mission.required_end()), 1, Rounding::up) == 46);
  const std::vector<std::pair<double, double>> left{{47, 1}, {46, 0}, {45, -1}, {44, -2}};
  for (const auto& [aboard, spare] : left) {
    Facts facts;
    facts.counts = {make_count("cans", aboard)};
    const Balance balance(mission, facts);
    CAPTURE(aboard);
    CHECK(balance.shown("cans") == spare);
    CHECK(balance.at_plan("cans").is_covered() == (aboard >= 46));
    CHECK(balance.at_plan("cans").first_short.has_value() == (aboard < 46));
  }
}

TEST_CASE("thirty-two cans more for a rescue make 78 aboard, and 32 to spare") {
  // STS-125/400 FRR p. 4: 46 + 32 = 78.
  Mission mission = make_mission({.crew = 7, .planned = 11 * day_length, .waiting_days = 2});
  mission.items = {make_cans()};
  Facts facts;
  facts.counts = {make_count("cans", 78)};
  CHECK(Balance(mission, facts).shown("cans") == 32);
}

TEST_CASE("two days of unused cans in reserve are as many as the crew") {
  // FR A17-157: cans for two days = crew size (n x 48 / 48); FR A2-1001 note 7 asks for two days of them.
  for (const int crew : {2, 4, 7}) {
    Mission mission = make_mission({.crew = crew});
    mission.items = {make_cans()};
    Facts facts;
    facts.counts = {make_count("cans", 78)};
    const double without = Balance(mission, facts).at_plan("cans").units;
    mission.items[0].reserve = {make_day_reserve(2)};
    CHECK(without - Balance(mission, facts).at_plan("cans").units == Approx(crew).epsilon(few_last_digits));
  }
}

TEST_CASE("where change-outs are on a schedule, the rated life is not counted a second time") {
  // Design 4.1: crew-hours over rating only where there is no schedule. Two change-outs a day, as SCOM p. 370 has it
  // at most.
  Mission mission = make_mission({.crew = 2});
  mission.items = {make_cans()};
  CHECK(draw_of(mission, "cans", day(10)) == Approx(10).epsilon(few_last_digits));
  mission.items[0].per_event["change_out"] = 1;
  for (auto& kind : mission.day_kinds) kind.events_per_day["change_out"] = 2;
  CHECK(draw_of(mission, "cans", day(10)) == Approx(20).epsilon(few_last_digits));
}

TEST_CASE("product water weighs the oxygen and hydrogen that the fuel cells used") {
  // STS-114 mission report p. 43: 3076 + 387 = 3463 lb, 4526 kWh in 333.55 h.
  const Mission sts114 = fuel_cell_flight(333.55, 4526, 3076, 387, 0);
  CHECK(draw_of(sts114, "oxygen", sts114.landing()) == Approx(3076).epsilon(few_last_digits));
  CHECK(draw_of(sts114, "hydrogen", sts114.landing()) == Approx(387).epsilon(few_last_digits));
  CHECK(make_of(sts114, "water", sts114.landing()) == Approx(3463).epsilon(few_last_digits));
  // STS-125 mission report p. 46: 3198 + 403 = 3601 lb, 4630 kWh in 309.65 h.
  const Mission sts125 = fuel_cell_flight(309.65, 4630, 3198, 403, 0);
  CHECK(make_of(sts125, "water", sts125.landing()) == Approx(3601).epsilon(few_last_digits));
  CHECK(make_of(sts125, "water", sts125.landing()) ==
        Approx(draw_of(sts125, "oxygen", sts125.landing()) + draw_of(sts125, "hydrogen", sts125.landing())));
}

TEST_CASE("the oxygen ledgers of two flights close") {
  // STS-125 mission report p. 46: 3914 - 3198 - 174 = 542 lb left.
  const Mission sts125 = fuel_cell_flight(309.65, 4630, 3198, 403, 174);
  Facts facts;
  facts.counts = {make_count("hydrogen", 1000), make_count("oxygen", 3914), make_count("water", 0)};
  CHECK(Balance(sts125, facts).at_plan("oxygen").units == Approx(542).epsilon(few_last_digits));
  // STS-114 mission report p. 43: 3931 - 3076 - 250 = 605 lb against 604 printed.
  const Mission sts114 = fuel_cell_flight(333.55, 4526, 3076, 387, 250);
  facts.counts = {make_count("hydrogen", 1000), make_count("oxygen", 3931), make_count("water", 0)};
  const Balance balance(sts114, facts);
  CHECK(balance.at_plan("oxygen").units == Approx(605).epsilon(few_last_digits));
  CHECK(std::abs(balance.at_plan("oxygen").units - 604) <= 1 + few_last_digits);
}

TEST_CASE("a level carried from launch to any evening gives the same margin") {
  const Mission sts125 = fuel_cell_flight(309.65, 4630, 3198, 403, 174);
  Facts facts;
  facts.counts = {make_count("hydrogen", 1000), make_count("oxygen", 3914), make_count("water", 0)};
  for (const int evening : {0, 1, 5, 12}) {
    CAPTURE(evening);
    CHECK(Balance(sts125, facts, day(evening)).at_plan("oxygen").units == Approx(542).epsilon(few_last_digits));
  }
}

TEST_CASE("the water tank of a flown mission holds 662.8 lb at landing") {
  // JSC-17378 p. 59: 864.4 + 613.7 - 554.7 - 237.8 - 22.8 = 662.8 lb, and 554.7 = 143.7 + 131.8 + 279.2. What each
  // amount was is not given here; when each was drawn is made up.
  Mission mission = make_mission({.crew = 2, .planned = 2 * day_length});
  Item cells = make_item("reactants", "lb");
  cells.per_day = 100;
  Item water = make_item("water", "lb");
  set_made_from(water, "reactants", 613.7 / 200);
  const std::map<std::string, double> drawn{{"a", 143.7}, {"b", 131.8}, {"c", 279.2}, {"d", 237.8}, {"e", 22.8}};
  int hours = 40;
  for (const auto& [kind, amount] : drawn) {
    water.per_event[kind] = amount;
    add_event(mission, kind, launch + std::chrono::hours{++hours});
  }
  mission.items = {cells, water};
  const auto use = planned_use(mission, mission.items[1], launch, mission.landing());
  CHECK(use.draw == Approx(554.7 + 237.8 + 22.8).epsilon(few_last_digits));
  CHECK(864.4 + use.make - use.draw == Approx(662.8).epsilon(few_last_digits));
  // The level that the program carries to an evening at landing is the same.
  Facts facts;
  facts.counts = {make_count("reactants", 200), make_count("water", 864.4)};
  CHECK(Balance(mission, facts, mission.landing()).at_plan("water").units == Approx(662.8).epsilon(few_last_digits));
}

TEST_CASE("a water budget gives its printed margin: reserve is taken off before there is one") {
  // JSC-16720 table V, p. 18-19: usable 905.2 less reserve 530.5 less net use 284.5 = 90.2 lb;
  // net use 38.4 + 265.4 + 469.7 + 335.9 - 824.9. Made evenly, drawn at landing: when is made up.
  Mission mission = make_mission({.crew = 2, .planned = 2 * day_length});
  Item cells = make_item("reactants", "lb");
  cells.per_day = 100;
  Item water = make_item("water", "lb");
  set_made_from(water, "reactants", 824.9 / 200);
  water.reserve = {make_reserve(530.5)};
  for (const auto& [kind, amount] :
       {std::pair{"a", 38.4}, std::pair{"b", 265.4}, std::pair{"c", 469.7}, std::pair{"d", 335.9}}) {
    water.per_event[kind] = amount;
    add_event(mission, kind, mission.landing());
  }
  mission.items = {cells, water};
  Facts facts;
  facts.counts = {make_count("reactants", 200), make_count("water", 905.2)};
  const Balance balance(mission, facts);
  CHECK(balance.at_plan("water").units == Approx(90.2).epsilon(few_last_digits));
  CHECK(balance.shown("water") == 90.2);
  CHECK(balance.at_plan("water").at == mission.landing());
}

TEST_CASE("of six cans one is contingency and four are required: the margin is one") {
  // JSC-16720 table III, p. 16: 6 - 1 = 5; 5 - 4 = 1. Two persons for four days need four cans of 48 crew-hours.
  Mission mission = make_mission({.crew = 2, .planned = 4 * day_length});
  mission.items = {make_cans()};
  mission.items[0].reserve = {make_reserve(1)};
  Facts facts;
  facts.counts = {make_count("cans", 6)};
  CHECK(Balance(mission, facts).shown("cans") == 1);
}

TEST_CASE("what can't be drawn is taken off before hours are promised: 36 and not 61") {
  // STS-114 mission report p. 43: 604 lb of oxygen left, 36 h of extension printed, which is 359 lb; so some 245 lb
  // (6.3 % of five tanks of 781 lb) can't be used. Dividing all of it by the rate would give 61 h.
  Mission mission = make_mission({.crew = 7});
  mission.items = {make_item("oxygen", "lb")};
  mission.items[0].per_day = 359.0 / 36 * 24;
  Facts facts;
  facts.counts = {make_count("oxygen", 604, mission.landing())};
  const auto hours = [&] {
    const Balance balance(mission, facts, mission.landing());
    REQUIRE(balance.at_plan("oxygen").days.has_value());
    return *balance.at_plan("oxygen").days * 24;
  };
  CHECK(round_to(hours(), 1, Rounding::nearest) == 61);
  mission.items[0].residual["tank"] = 245;
  CHECK(round_to(hours(), 1, Rounding::down) == 36);
  CHECK(0.063 * 5 * 781 == Approx(245).epsilon(0.005));
}

TEST_CASE("an extension at lower power is longer in proportion: 28 h at 15.0 kW are 32 h at 12.88 kW") {
  // STS-125 mission report p. 46: 32.6 by proportion, printed 32. The factor per kWh is the rule of thumb of SCOM
  // p. 1022; it falls out.
  const auto hours_at = [](double kw) {
    Mission mission = make_mission({.crew = 7, .power_kw = kw});
    mission.items = {make_item("oxygen", "lb")};
    mission.items[0].per_kwh = 0.7;
    Facts facts;
    facts.counts = {make_count("oxygen", 28 * 15.0 * 0.7, mission.landing())};
    const Balance balance(mission, facts, mission.landing());
    REQUIRE(balance.at_plan("oxygen").days.has_value());
    return *balance.at_plan("oxygen").days * 24;
  };
  CHECK(round_to(hours_at(15.0), 1, Rounding::down) == 28);
  CHECK(hours_at(12.88) == Approx(32.6).margin(0.05));
  CHECK(round_to(hours_at(12.88), 1, Rounding::down) == 32);
}

TEST_CASE("sets of tanks last the printed days at the lowest power flown, and not at twice that") {
  // SCOM p. 356: 3, 5 and 8 sets for 8, 12 and 18 days; p. 1022: 0.7 lb of oxygen per kWh, and 14 lb a day for the
  // cabin; a tank holds 781 lb, 6.3 % of it unusable, and the lowest of three flown averages is 13.6 kW (STS-114).
  const std::vector<std::pair<int, int>> printed{{3, 8}, {5, 12}, {8, 18}};
  for (const auto& [sets, days] : printed) {
    for (const double kw : {13.6, 2 * 13.6}) {
      Mission mission = make_mission({.crew = 7, .planned = days * day_length, .power_kw = kw});
      mission.items = {make_item("oxygen", "lb", 1.76)};
      mission.items[0].per_day = 0.07 * 24;
      mission.items[0].per_kwh = 0.7;
      mission.items[0].residual["tank"] = 0.063 * sets * 781;
      Facts facts;
      facts.counts = {make_count("oxygen", sets * 781)};
      CAPTURE(sets, kw);
      CHECK(Balance(mission, facts).at_plan("oxygen").is_covered() == (kw < 20));
    }
  }
}

TEST_CASE("of several items the one with the fewest days limits: oxygen, thirty days past the need") {
  // NASA ULF1.1 report p. 3-3: days of oxygen 81, carbon dioxide removal 128, water 108, waste 108, food 96; 51 are
  // needed.
  Mission mission = make_mission({.planned = 51 * day_length});
  const std::map<std::string, double> days{
      {"carbon_dioxide", 128}, {"food", 96}, {"oxygen", 81}, {"waste", 108}, {"water", 108}};
  Facts facts;
  for (const auto& [id, last] : days) {
    Item item = make_item(id);
    item.per_day = 1;
    if (id == "waste") {
      item.sort = ItemSort::capacity;
      item.capacity["tank"] = last;
    }
    mission.items.push_back(item);
    facts.counts.push_back(make_count(id, id == "waste" ? 0 : last));
  }
  const Balance balance(mission, facts);
  CHECK(balance.limiting() == "oxygen");
  for (const auto& [id, last] : days) {
    CAPTURE(id);
    REQUIRE(balance.at_plan(id).days.has_value());
    CHECK(*balance.at_plan(id).days == Approx(last - 51).epsilon(few_last_digits));
    CHECK(balance.at_plan(id).through == day(static_cast<int>(last)));
  }
  CHECK(*balance.at_plan("oxygen").days == Approx(30).epsilon(few_last_digits));
}

TEST_CASE("an item without a single count limits nothing and hides nothing") {
  Mission mission = make_mission();
  mission.items = {make_item("food", "kg", 1), make_item("oxygen", "kg", 1)};
  Facts facts;
  facts.counts = {make_count("food", 33)};
  const Balance balance(mission, facts);
  CHECK(balance.limiting() == "food");
  CHECK_FALSE(balance.margins()[1].plan.has_value());
  CHECK_FALSE(balance.margins()[1].governing.has_value());
}

TEST_CASE("planned and contingency days both have to be covered, to the last opportunity of the last day") {
  // Common practice, no source.
  Mission mission = make_mission({.crew = 3, .planned = 10 * day_length, .waiting_days = 2});
  mission.items = {make_item("water", "kg", 2.5)};
  Facts facts;
  for (const auto& [aboard, margin] : {std::pair{90.0, 0.0}, std::pair{89.9, -0.1}, std::pair{90.1, 0.1}}) {
    facts.counts = {make_count("water", aboard)};
    const Balance balance(mission, facts);
    CAPTURE(aboard);
    CHECK(balance.shown("water") == margin);
    CHECK(balance.at_plan("water").is_covered() == (margin >= 0));
    CHECK(balance.at_plan("water").first_short.has_value() == (margin < 0));
  }
  // Enough for the planned days alone is not enough.
  facts.counts = {make_count("water", 75)};
  const Balance balance(mission, facts);
  CHECK(balance.shown("water") == -15);
  CHECK(*balance.at_plan("water").days == Approx(-2).epsilon(few_last_digits));
  CHECK(balance.at_plan("water").first_short == day(10));
  CHECK(balance.at_plan("water").through == day(10));
  // The second opportunity of the last day counts, too: 3 x 2.5 / 24 for each hour.
  mission.landing_days.back().opportunities.push_back(day(12) + 8h);
  facts.counts = {make_count("water", 90)};
  CHECK(Balance(mission, facts).shown("water") == -2.5);
}

TEST_CASE("a stock that lasts exactly to the required end is covered, whatever the last binary digit says") {
  // Common practice, no source: what suffices to the step is not called short, and one step less is.
  int cases = 0;
  int called_short = 0;                                                    // the exact level
  int called_enough = 0;                                                   // one step less
  for (const double rate : {0.895, 3.217, 1.76, 0.1, 0.7, 2.55, 1.085}) {  // as published, kg or lb per crew-day
    for (int crew = 1; crew <= 7; ++crew) {
      for (int days = 1; days <= 18; ++days) {
        Mission mission = make_mission({.crew = crew, .planned = days * day_length, .waiting_days = 2});
        mission.items = {make_item("stock", "kg", rate)};
        mission.items[0].step = 0.001;
        const double need = round_to(rate * crew * (days + 2), 0.001, Rounding::nearest);
        Facts facts;
        facts.counts = {make_count("stock", need)};
        const Balance exact(mission, facts);
        CHECK(exact.shown("stock") == 0);
        if (!exact.at_plan("stock").is_covered() || exact.at_plan("stock").first_short) ++called_short;
        facts.counts = {make_count("stock", round_to(need - 0.001, 0.001, Rounding::nearest))};
        const Balance less(mission, facts);
        CHECK(less.shown("stock") == -0.001);
        if (less.at_plan("stock").is_covered() || !less.at_plan("stock").first_short) ++called_enough;
        ++cases;
      }
    }
  }
  CHECK(cases == 7 * 7 * 18);
  CHECK(called_short == 0);
  CHECK(called_enough == 0);
}

TEST_CASE("a shortfall names the instant at which it begins") {
  const Mission mission = make_drinkers(1);
  Facts facts;
  facts.counts = {make_count("water", 7.5)};
  const Balance balance(mission, facts);
  CHECK(balance.at_plan("water").first_short == day(7) + 12h);
  CHECK(balance.at_plan("water").through == day(7) + 12h);
  CHECK(balance.at_plan("water").at == day(10));
  CHECK(balance.shown("water") == -2.5);
}

TEST_CASE("using thirty per cent less makes a stock last 1.43 times as long") {
  // ABC News 2004-12-07, on the food of a station crew: a cut of 30 %. 1 / 0.7 = 1.43.
  Mission mission = make_mission({.crew = 2});
  mission.items = {make_item("food", "kg", 1.5)};
  Facts facts;
  facts.counts = {make_count("food", 90, mission.landing())};
  const double before = *Balance(mission, facts, mission.landing()).at_plan("food").days;
  find_by_id(mission.day_kinds, std::string("wave_off"))->per_crew_day["food"] = 0.7 * 1.5;
  const double after = *Balance(mission, facts, mission.landing()).at_plan("food").days;
  CHECK(round_to(after / before, 0.01, Rounding::nearest) == 1.43);
}

TEST_CASE("no planned transfer in is counted on, every planned one out is, and the second column shows both") {
  const Mission mission = make_drinkers(1);
  Facts facts;
  facts.counts = {make_count("water", 12)};
  facts.transfers = {make_transfer("water", 5, day(3), "", "tank")};
  {
    const Balance balance(mission, facts);
    CHECK(balance.shown("water") == 2);
    REQUIRE(balance.margins()[0].with_transfers.has_value());
    CHECK(balance.margins()[0].with_transfers->units == Approx(7).epsilon(few_last_digits));
  }
  facts.transfers = {make_transfer("water", 5, day(3), "tank", "")};
  {
    const Balance balance(mission, facts);
    CHECK(balance.shown("water") == -3);
    CHECK(balance.margins()[0].with_transfers->units == Approx(-3).epsilon(few_last_digits));
  }
  facts.transfers[0].row.state = daywright::model::TransferState::cancelled;
  CHECK(Balance(mission, facts).shown("water") == 2);
}

TEST_CASE("the margin is the smallest on the way, not the one at the end") {
  // Water is low before the power makes it again: 10 less an event of 9 on day 2, and 1 a day made.
  Mission mission = make_mission({.crew = 1});
  Item cells = make_item("reactants", "kg");
  cells.per_day = 1;
  Item water = make_item("water", "kg");
  set_made_from(water, "reactants", 1);
  water.per_event["dump"] = 9;
  add_event(mission, "dump", day(2));
  mission.items = {cells, water};
  Facts facts;
  facts.counts = {make_count("reactants", 100), make_count("water", 10)};
  const Balance balance(mission, facts);
  CHECK(balance.shown("water") == 3);
  CHECK(balance.at_plan("water").at == day(2));
}

TEST_CASE("two propellant ledgers give their printed remainders, line by line, and their margins to the tenth") {
  // NASA MSC, Apollo 11 Final Flight Plan, 1 July 1969, tables 5-4 and 5-8: margins 1267.9 and 668.5 lb.
  struct Ledger {
    Mission mission = make_mission();
    Item item = make_item("propellant", "lb");
    double load = 0;
    std::vector<double> after_events;  ///< printed remainder after each nominal event
  };
  std::map<std::string, Ledger> ledgers;
  for (const auto& [table, text, kind, amount, remainder] : published_ledgers()) {
    Ledger& ledger = ledgers[table];
    if (kind == "load") ledger.load = amount;
    if (kind == "unusable") ledger.item.residual["tank"] += amount;
    if (kind == "nominal") {
      ledger.after_events.push_back(remainder);
      ledger.item.per_event[text] = amount;
      add_event(ledger.mission, text, day(static_cast<int>(ledger.after_events.size())));
    }
    if (kind == "contingency" || kind == "dispersion") ledger.item.reserve.push_back(make_reserve(amount));
  }
  REQUIRE(ledgers.size() == 2);
  CHECK(ledgers["5-4"].after_events.size() == 5);
  CHECK(ledgers["5-8"].after_events.size() == 1);
  for (auto& [name, ledger] : ledgers) {
    CAPTURE(name);
    ledger.mission.items = {ledger.item};
    for (std::size_t i = 0; i < ledger.after_events.size(); ++i) {
      const double used = draw_of(ledger.mission, "propellant", day(static_cast<int>(i) + 1));
      CHECK(ledger.load - ledger.item.residual["tank"] - used ==
            Approx(ledger.after_events[i]).epsilon(few_last_digits));
    }
    Facts facts;
    facts.counts = {make_count("propellant", ledger.load)};
    CHECK(Balance(ledger.mission, facts).shown("propellant") == (name == "5-4" ? 1267.9 : 668.5));
  }
}
