// What is planned for one item from the cut-off on: where the plan is cut, what flows and jumps, what is held.
#include "rules/item_plan.h"

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"
#include "rules/timeline.h"

using daywright::model::Facts;
using daywright::model::Instant;
using daywright::model::Mission;
using daywright::model::PlaceState;
using daywright::model::TransferState;
using daywright::rules::ItemPlan;
using daywright::rules::plan_item;
using daywright::rules::PlanChoice;
using daywright::rules::PlanPiece;
using daywright::rules::stretches;
using daywright::test::add_cells;
using daywright::test::add_day_kind;
using daywright::test::add_event;
using daywright::test::add_phase;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_capacity;
using daywright::test::make_day_reserve;
using daywright::test::make_docked_drinkers;
using daywright::test::make_reserve;
using daywright::test::make_transfer;
using namespace std::chrono_literals;

namespace {

/// Two persons who drink from the tank, then from the bag, then from the shelf in the depot.
Mission two_drinkers() {
  Mission mission = make_docked_drinkers(2);
  mission.items[0].places = {"tank", "bag", "shelf"};
  return mission;
}

ItemPlan plan_of(const Mission& mission, const Facts& facts = {}, Instant from = launch,
                 const PlanChoice& choice = {}) {
  return plan_item(mission, stretches(mission, from, mission.required_end()), mission.items[0], facts, choice, from);
}

std::vector<Instant> ends_of(const ItemPlan& plan) {
  std::vector<Instant> ends;
  for (const PlanPiece& piece : plan.pieces) ends.push_back(piece.end);
  return ends;
}

Facts planned(const std::string& from, const std::string& to, Instant when = day(2)) {
  Facts facts;
  facts.transfers = {make_transfer("water", 3, when, from, to)};
  return facts;
}

/// What the transfers that count move, summed over all jumps: place -> quantity.
std::vector<std::pair<std::string, double>> moves_of(const ItemPlan& plan) {
  std::vector<std::pair<std::string, double>> moves;
  const auto add = [&](const auto& jump) {
    for (const auto& move : jump.moves) moves.emplace_back(plan.places[move.place].place->id, move.quantity);
  };
  add(plan.at_start);
  for (const auto& jump : plan.jumps) add(jump);
  return moves;
}

using Moves = std::vector<std::pair<std::string, double>>;

}  // namespace

// Pieces

TEST_CASE("a plan is cut where a phase, an event, a person's move or a transfer comes, and nowhere else") {
  Mission mission = two_drinkers();
  add_phase(mission, "late", day(6));
  mission.persons[1].stays.push_back({day(7), "depot"});
  add_event(mission, "burn", day(8));
  const ItemPlan plan = plan_of(mission, planned("tank", "bag"));
  CHECK(ends_of(plan) == std::vector{day(2), day(4), day(6), day(7), day(8), day(10)});
  CHECK(plan.jumps.size() == plan.pieces.size());
  CHECK(plan.pieces.front().begin == launch);
  for (std::size_t i = 1; i < plan.pieces.size(); ++i) CHECK(plan.pieces[i].begin == plan.pieces[i - 1].end);
  // What lies before the cut-off cuts nothing.
  CHECK(ends_of(plan_of(mission, {}, day(6))) == std::vector{day(7), day(8), day(10)});
}

TEST_CASE("at the required end nothing is planned any more") {
  const Mission mission = two_drinkers();
  const ItemPlan plan = plan_of(mission, {}, day(10));
  CHECK(plan.pieces.empty());
  CHECK(plan.jumps.empty());
  CHECK(plan.end == day(10));
}

TEST_CASE("a piece has the rates of its day kind and of the crew that is aboard then") {
  Mission mission = two_drinkers();
  add_day_kind(mission, "busy").per_crew_day["water"] = 3;
  add_phase(mission, "late", day(6), "busy");
  mission.persons[1].stays.push_back({day(7), "depot"});
  const ItemPlan plan = plan_of(mission);
  std::vector<double> draws;
  for (const auto& piece : plan.pieces) draws.push_back(piece.draw);
  CHECK(draws == std::vector<double>{2, 2, 6, 3});
  CHECK(plan.pieces[2].title == "late");
  CHECK(plan.last_draw == 1);  // one person on a day of waiting
}

TEST_CASE("what is made follows the use of what it is made from, by the day and in events") {
  Mission mission = two_drinkers();
  add_cells(mission, 4, 0.5, "bag");
  mission.items[1].per_event = {{"undock", 6}};
  const ItemPlan plan = plan_of(mission);
  CHECK(plan.places[plan.made_into].place->id == "bag");
  CHECK(plan.pieces[0].make == 2);
  CHECK(plan.jumps[0].make == 3);
  CHECK(plan.jumps[0].draw == 0);
  CHECK(plan.last_make == 2);
}

TEST_CASE("a chosen rate multiplies what is drawn of the one item and made from the other") {
  Mission mission = two_drinkers();
  add_cells(mission, 4, 0.5, "bag");
  mission.items[0].per_event = {{"undock", 2}};
  const ItemPlan plan = plan_of(mission, {}, launch, {.rates = {{"water", 1.5}, {"cells", 2}}});
  CHECK(plan.pieces[0].draw == 3);
  CHECK(plan.pieces[0].make == 4);
  CHECK(plan.jumps[0].draw == 3);
  CHECK(plan.last_draw == 3);
  CHECK(plan.last_make == 4);
}

TEST_CASE("a piece draws from the places of its phase that are there and usable, in their order") {
  Mission mission = two_drinkers();
  add_phase(mission, "late", day(6));
  mission.items[0].draw = {{"late", {"bag", "tank"}}};
  const auto order = [&](std::size_t piece) {
    const ItemPlan plan = plan_of(mission);
    std::vector<std::string> ids;
    for (const std::size_t place : plan.pieces.at(piece).order) ids.push_back(plan.places[place].place->id);
    return ids;
  };
  CHECK(order(0) == std::vector<std::string>{"tank", "bag", "shelf"});
  CHECK(order(1) == std::vector<std::string>{"tank", "bag"});  // the shelf has gone
  CHECK(order(2) == std::vector<std::string>{"bag", "tank"});
  mission.places[1].state = PlaceState::isolated;
  CHECK(order(2) == std::vector<std::string>{"tank"});
}

// Events

TEST_CASE("an event is a jump at the end of the piece before it, and one at the cut-off has happened") {
  Mission mission = two_drinkers();
  mission.items[0].per_event = {{"undock", 2.5}, {"landing", 1}};
  mission.items[0].event_sigma = 0.5;
  const ItemPlan plan = plan_of(mission);
  REQUIRE(ends_of(plan) == std::vector{day(4), day(10)});
  CHECK(plan.jumps[0].draw == 2.5);
  CHECK(plan.jumps[0].variance == 0.25);
  CHECK(plan.jumps[1].draw == 1);
  const ItemPlan after = plan_of(mission, {}, day(4));
  CHECK(after.at_start.draw == 0);
  CHECK(after.jumps.size() == 1);
  // An event that draws nothing is not uncertain either.
  mission.items[0].per_event.erase("undock");
  CHECK(plan_of(mission).jumps[0].variance == 0);
}

// Reserve

TEST_CASE("a reserve is held up to its event and at no instant from then on") {
  Mission mission = two_drinkers();
  mission.items[0].reserve = {make_reserve(5, "undock"), make_day_reserve(1.5)};
  const ItemPlan plan = plan_of(mission);
  CHECK(plan.pieces[0].held == 5 + 1.5 * 2);
  CHECK(plan.pieces[1].held == 1.5 * 2);
  CHECK(plan.held_at_end == 1.5 * 2);
  mission.items[0].reserve[1].released_by = "landing";
  CHECK(plan_of(mission).pieces[1].held == 1.5 * 2);
  CHECK(plan_of(mission).held_at_end == 0);
}

// Transfers

TEST_CASE("of the planned transfers those count that take something away, and the others where they are chosen") {
  Mission mission = two_drinkers();
  const auto moves = [&](const std::string& from, const std::string& to, const PlanChoice& choice = {}) {
    return moves_of(plan_of(mission, planned(from, to), launch, choice));
  };
  CHECK(moves("tank", "") == Moves{{"tank", -3}});
  CHECK(moves("tank", "", {.not_out = {"t"}}).empty());
  CHECK(moves("", "tank").empty());
  CHECK(moves("", "tank", {.in = {"t"}}) == Moves{{"tank", 3}});
  CHECK(moves("", "tank", {.in = {"other"}}).empty());
  CHECK(moves("", "tank", {.all_in = true}) == Moves{{"tank", 3}});
  CHECK(moves("tank", "bag") == Moves{{"tank", -3}, {"bag", 3}});
  CHECK(moves("tank", "shelf") == Moves{{"tank", -3}});
  CHECK(moves("shelf", "tank").empty());
  CHECK(moves("shelf", "tank", {.all_in = true}) == Moves{{"shelf", -3}, {"tank", 3}});
  mission.items = {make_capacity("water", 50, 1)};
  CHECK(moves("", "tank") == Moves{{"tank", -3}});
  CHECK(moves("tank", "").empty());
  CHECK(moves("tank", "", {.all_in = true}) == Moves{{"tank", 3}});
}

TEST_CASE(
    "a planned transfer that is overdue is made at once, one that is done or of another item is not made at all") {
  const Mission mission = two_drinkers();
  Facts facts = planned("tank", "");
  CHECK(plan_of(mission, facts, day(2)).at_start.moves.size() == 1);
  CHECK(plan_of(mission, facts, day(5)).at_start.moves.size() == 1);
  CHECK(plan_of(mission, facts, day(1)).at_start.moves.empty());
  CHECK(plan_of(mission, facts, day(1)).jumps[0].moves.size() == 1);
  for (const auto state : {TransferState::done, TransferState::cancelled}) {
    facts.transfers[0].row.state = state;
    CHECK(moves_of(plan_of(mission, facts)).empty());
  }
  facts = planned("tank", "");
  facts.transfers[0].row.item = "food";
  CHECK(moves_of(plan_of(mission, facts)).empty());
}

TEST_CASE("nothing is moved out of, or into, a place that has gone") {
  Mission mission = two_drinkers();
  mission.places[1].until = "undock";  // the bag
  CHECK(moves_of(plan_of(mission, planned("bag", "tank", day(4) - 1us))) == Moves{{"bag", -3}, {"tank", 3}});
  CHECK(moves_of(plan_of(mission, planned("bag", "tank", day(4)))).empty());
  // It leaves the tank all the same: the plan says so, and that is what hurts.
  CHECK(moves_of(plan_of(mission, planned("tank", "bag", day(4)))) == Moves{{"tank", -3}});
}

TEST_CASE("each move of a transfer is as uncertain as the item's transfers are") {
  Mission mission = two_drinkers();
  mission.items[0].transfer_sigma = 0.5;
  CHECK(plan_of(mission, planned("tank", "")).jumps[0].variance == 0.25);
  CHECK(plan_of(mission, planned("", "tank")).jumps[0].variance == 0);  // it does not count
}

// Places

TEST_CASE("a place is there until its event and ours where our own crew draws from it") {
  Mission mission = two_drinkers();
  mission.items[0].residual = {{"bag", 2}};
  const ItemPlan plan = plan_of(mission);
  REQUIRE(plan.places.size() == 3);
  CHECK(plan.places[0].is_ours);
  CHECK(plan.places[1].residual == 2);
  CHECK_FALSE(plan.places[2].is_ours);
  CHECK(plan.places[2].is_available(day(4) - 1us));
  CHECK_FALSE(plan.places[2].is_available(day(4)));
  CHECK(plan.places[0].is_available(day(4000)));
}
