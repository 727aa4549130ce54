// One way in which an item may go: who gives what, what is short, what is lost, and what is left at every turn.
#include "rules/course.h"

#include <algorithm>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "builders.h"
#include "rules/timeline.h"

using daywright::model::Facts;
using daywright::model::Instant;
using daywright::model::Mission;
using daywright::rules::Course;
using daywright::rules::follow;
using daywright::rules::ItemPlan;
using daywright::rules::plan_item;
using daywright::rules::stretches;
using daywright::rules::Turnover;
using daywright::rules::Waypoint;
using daywright::test::add_cells;
using daywright::test::add_event;
using daywright::test::add_place;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_capacity;
using daywright::test::make_item;
using daywright::test::make_mission;
using daywright::test::make_reserve;
using daywright::test::make_transfer;

namespace {

/// One person who drinks 1 kg a day for ten days from the bag, which goes at undocking on day 4, then from the tank.
Mission one_drinker() {
  Mission mission = make_mission({.crew = 1});
  add_event(mission, "undock", day(4));
  add_place(mission, "bag", "undock");
  mission.items = {make_item("water", "kg", 1)};
  mission.items[0].places = {"bag", "tank"};
  return mission;
}

Course holding(double bag, double tank) { return {{{"bag", bag}, {"tank", tank}}}; }

std::vector<Waypoint> way_of(const Mission& mission, const Course& course, const Facts& facts = {},
                             Turnover turnover = Turnover::left_out) {
  const ItemPlan plan =
      plan_item(mission, stretches(mission, launch, mission.required_end()), mission.items[0], facts, {}, launch);
  return follow(plan, course, turnover);
}

/// What can be used at this instant, before and after what happens then.
std::pair<double, double> usable_at(const std::vector<Waypoint>& way, Instant when) {
  std::vector<double> usable;
  for (const auto& waypoint : way) {
    if (waypoint.at == when) usable.push_back(waypoint.usable);
  }
  REQUIRE(usable.size() == 2);
  return {usable.front(), usable.back()};
}

}  // namespace

TEST_CASE("every turn is told before and after what happens then, the first as counted") {
  Mission mission = one_drinker();
  mission.items[0].per_event = {{"undock", 0.5}};
  Facts facts;
  facts.transfers = {make_transfer("water", 2, launch, "tank", "")};
  const auto way = way_of(mission, holding(5, 10), facts);
  REQUIRE(way.size() == 6);
  CHECK(way[0].usable == 15);
  CHECK(way[1].usable == 13);  // the transfer of today
  CHECK(usable_at(way, day(4)).first == Approx(9));
  CHECK(usable_at(way, day(4)).second == Approx(8));  // the event's half kilogram, and half of it lost with the bag
  CHECK(way.back().at == day(10));
  CHECK(way.back().usable == Approx(2));
}

TEST_CASE("what came and went adds up to what is left as long as nothing is lost") {
  Mission mission = one_drinker();
  add_cells(mission, 1, 0.5);
  mission.items[0].per_event = {{"undock", 0.25}};
  Facts facts;
  facts.transfers = {make_transfer("water", 2, day(2), "tank", "")};
  Course course = holding(3, 12);
  course.factor = 1.5;
  course.made_factor = 0.8;
  course.starts[1].leak = 0.1;
  for (const auto& w : way_of(mission, course, facts))
    CHECK(w.usable == Approx(15 - w.drawn - w.leaked + w.made + w.moved));
  const Waypoint end = way_of(mission, course, facts).back();
  CHECK(end.drawn == Approx(10 * 1.5 + 0.25));  // the factor tells how people live, not how long an event is
  CHECK(end.made == Approx(10 * 0.5 * 0.8));
  CHECK(end.leaked == Approx(10 * 0.1));
  CHECK(end.moved == -2);
}

TEST_CASE("use goes on from place to place, and what none of them has is short") {
  const Mission mission = one_drinker();
  const auto way = way_of(mission, holding(3, 4), {}, Turnover::kept);
  CHECK(way.back().usable == Approx(-3));
  // The bag gave its 3; the tank gave the fourth and owes the rest.
  CHECK(way.back().places[0].drawn == Approx(3));
  CHECK(way.back().places[1].drawn == Approx(7));
}

TEST_CASE("at a faster use a place gives less of the plan before it is empty") {
  Course course = holding(3, 20);
  course.factor = 2;
  const auto way = way_of(one_drinker(), course, {}, Turnover::kept);
  CHECK(way.back().places[0].drawn == Approx(1.5));
  CHECK(way.back().places[1].drawn == Approx(8.5));
  CHECK(way.back().usable == Approx(23 - 20));
}

TEST_CASE("nobody who uses nothing empties a place") {
  Course course = holding(0, 20);
  course.factor = 0;
  CHECK(way_of(one_drinker(), course).back().usable == 20);
}

TEST_CASE("what a place has when it goes is lost, and the place counts on only where it had nothing") {
  const Mission mission = one_drinker();
  for (const auto& [in_bag, left, counts] :
       {std::tuple{6.0, 14.0, false}, std::tuple{4.0, 14.0, true}, std::tuple{3.0, 13.0, true}}) {
    CAPTURE(in_bag);
    const auto way = way_of(mission, holding(in_bag, 20), {}, Turnover::kept);
    CHECK(way.back().usable == Approx(left));
    CHECK(way.back().places[0].counts == counts);
    CHECK(way.front().places[0].counts);
    CHECK(way.back().places[1].counts);
  }
}

TEST_CASE("turnovers are left out where nobody asks for them") {
  const auto way = way_of(one_drinker(), holding(1, 1));
  REQUIRE(way.size() == 6);
  for (const auto& waypoint : way) CHECK(waypoint.places.empty());
}

TEST_CASE("what is made pays first what is short") {
  Mission mission = one_drinker();
  add_cells(mission, 1, 0.5);
  mission.items[0].per_event = {{"undock", 5}};
  // At undocking 4 are drawn, 2 made and 5 more drawn: 5 + 0 - 4 + 2 - 5 = -2; then half a kilogram less each day.
  const auto way = way_of(mission, holding(5, 0));
  CHECK(usable_at(way, day(4)).second == Approx(-2));
  CHECK(way.back().usable == Approx(-5));
}

TEST_CASE("a leak drains its own place until that goes, and costs as much where the place is soon empty") {
  for (const double in_bag : {2.0, 6.0}) {
    CAPTURE(in_bag);
    Course course = holding(in_bag, 20);
    course.starts[0].leak = 1;
    const auto way = way_of(one_drinker(), course);
    CHECK(way.back().leaked == Approx(4));
    CHECK(usable_at(way, day(4)).first == Approx(in_bag + 20 - 4 - 4));
  }
}

TEST_CASE("below its residual a place gives nothing, but for what it was taken to have given since its count") {
  Mission mission = one_drinker();
  mission.items[0].residual = {{"bag", 3}};
  const auto usable_now = [&](double level, double drawn) {
    Course course = holding(level, 10);
    course.starts[0].drawn = drawn;
    return way_of(mission, course).front().usable;
  };
  CHECK(usable_now(4, 0) == 11);
  CHECK(usable_now(1, 0) == 10);
  CHECK(usable_now(1, 1) == 9);  // of the 2 below its residual 1 was drawn, and came from elsewhere
  CHECK(usable_now(1, 5) == 8);
}

TEST_CASE("room is what is left to fill, and it shrinks by what is used") {
  Mission mission = make_mission({.crew = 1});
  mission.items = {make_capacity("waste", 30, 1)};
  mission.items[0].residual = {{"tank", 2}};
  const auto way = way_of(mission, {{{"tank", 5}}});
  CHECK(way.front().usable == 23);
  CHECK(way.back().usable == Approx(13));
}

TEST_CASE("what events and transfers are uncertain by adds up along the way") {
  Mission mission = one_drinker();
  mission.items[0].per_event = {{"undock", 1}, {"landing", 1}};
  mission.items[0].event_sigma = 0.5;
  mission.items[0].transfer_sigma = 1;
  Facts facts;
  facts.transfers = {make_transfer("water", 2, day(2), "tank", "")};
  const auto way = way_of(mission, holding(6, 20), facts);
  std::vector<double> variances;
  for (const auto& waypoint : way) variances.push_back(waypoint.step_variance);
  // Launch twice, then before and after each of the transfer, undocking and landing.
  CHECK(variances == std::vector<double>{0, 0, 0, 1, 1, 1.25, 1.25, 1.5});
}

TEST_CASE("a margin is what can be used less what is held, on either side of a release") {
  Mission mission = one_drinker();
  mission.items[0].reserve = {make_reserve(5, "undock")};
  const auto way = way_of(mission, holding(4, 20));
  REQUIRE(way.size() == 6);
  CHECK(way[2].margin() == Approx(20 - 5));
  CHECK(way[3].margin() == Approx(20));
  CHECK(way[3].at == way[2].at);
}
