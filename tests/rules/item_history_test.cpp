// Plan and logs as the plain numbers that the estimate takes: what is let in, what stays out, and what falls to whom.
#include "rules/item_history.h"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"

using daywright::model::CountKind;
using daywright::model::CountRow;
using daywright::model::DecisionRow;
using daywright::model::DecisionState;
using daywright::model::Facts;
using daywright::model::Instant;
using daywright::model::Item;
using daywright::model::Merged;
using daywright::model::Mission;
using daywright::model::TransferState;
using daywright::rules::CountedItem;
using daywright::rules::CountReading;
using daywright::rules::Flow;
using daywright::rules::gather_history;
using daywright::rules::has_daily_use;
using daywright::rules::is_evidence;
using daywright::rules::ItemHistory;
using daywright::rules::MadeFactor;
using daywright::rules::sigma_of;
using daywright::rules::unbiased;
using daywright::test::add_cells;
using daywright::test::add_day_kind;
using daywright::test::add_event;
using daywright::test::add_phase;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_capacity;
using daywright::test::make_count;
using daywright::test::make_done_transfer;
using daywright::test::make_drinkers;
using daywright::test::make_mission;
using daywright::test::make_repair;
using namespace std::chrono_literals;

namespace {

/// Two persons who drink from the tank, then from the bag, each counted by a gauge.
Mission two_drinkers() {
  Mission mission = make_drinkers(2);
  mission.items[0].places = {"tank", "bag"};
  mission.items[0].sigma = {{"gauge", 0.5}};
  return mission;
}

CountReading as_merged(const Merged<CountRow>& count) { return {count.row.quantity, false}; }

CountedItem gathered(const Mission& mission, const Facts& facts, Instant cutoff, const MadeFactor& made = {}) {
  auto counted = gather_history(mission, mission.items[0], facts, cutoff, made, as_merged);
  REQUIRE(counted.has_value());
  return *counted;
}

/// The tank counted once, on day 1.
Facts counted_once(double quantity = 30) {
  Facts facts;
  facts.counts = {make_count("water", quantity, day(1))};
  return facts;
}

/// Planned draw of a place over all spans.
double drawn_of(const ItemHistory& history, std::size_t place) {
  double drawn = 0;
  for (const auto& span : history.spans) {
    for (const Flow& flow : span.flows) drawn += flow.place == place ? flow.draw : 0;
  }
  return drawn;
}

}  // namespace

// Which counts are evidence

TEST_CASE("a count is evidence up to the cut-off, unless it is derived") {
  Mission mission = two_drinkers();
  mission.methods.push_back({"sums", CountKind::derived, {}});
  CountRow count = make_count("water", 1, day(2)).row;
  CHECK(is_evidence(mission, count, day(2)));
  CHECK_FALSE(is_evidence(mission, count, day(2) - 1us));
  count.method = "sums";
  CHECK_FALSE(is_evidence(mission, count, day(2)));
}

TEST_CASE("a way of counting that is valid in some phases counts from their first instant to the one before the next") {
  Mission mission = two_drinkers();
  add_phase(mission, "coast", day(2));
  add_phase(mission, "burns", day(4));
  add_phase(mission, "home", day(6));
  mission.methods[0].phases = {"coast", "home"};
  const auto is_valid = [&](Instant when) { return is_evidence(mission, make_count("water", 1, when).row, day(9)); };
  CHECK_FALSE(is_valid(day(2) - 1us));
  CHECK(is_valid(day(2)));
  CHECK(is_valid(day(4) - 1us));
  CHECK_FALSE(is_valid(day(4)));
  CHECK(is_valid(day(6)));
  CHECK_FALSE(is_valid(launch - 1h));
}

TEST_CASE("a count is never finer than half a step either way, and a tally than a hundredth of a step") {
  Mission mission = two_drinkers();
  Item& water = mission.items[0];
  water.step = 1;
  water.sigma.clear();
  CHECK(sigma_of(mission, water, "gauge") == Approx(1 / std::sqrt(12.0)));
  CHECK(sigma_of(mission, water, "tally") == Approx(0.01));
  water.sigma = {{"gauge", 0.1}, {"tally", 0.1}};
  CHECK(sigma_of(mission, water, "gauge") == Approx(1 / std::sqrt(12.0)));
  CHECK(sigma_of(mission, water, "tally") == 0.1);
  water.sigma = {{"gauge", 2}};
  CHECK(sigma_of(mission, water, "gauge") == 2);
}

// What is gathered

TEST_CASE("an item without a count that may be taken has no history") {
  Mission mission = two_drinkers();
  Facts facts = counted_once();
  const auto has_history = [&](Instant cutoff) {
    return gather_history(mission, mission.items[0], facts, cutoff, {}, as_merged).has_value();
  };
  CHECK(has_history(day(1)));
  CHECK_FALSE(has_history(day(1) - 1us));
  facts.counts[0].row.item = "food";
  CHECK_FALSE(has_history(day(1)));
  facts = counted_once();
  mission.methods[0].kind = CountKind::derived;
  CHECK_FALSE(has_history(day(1)));
}

TEST_CASE("a history begins with the first count and ends at the cut-off, its counts in order of time") {
  const Mission mission = two_drinkers();
  Facts facts;
  facts.counts = {make_count("water", 5, day(3), "bag"), make_count("water", 30, day(2)),
                  make_count("water", 27, day(4)), make_count("water", 1, day(6))};
  const CountedItem counted = gathered(mission, facts, day(5));
  const ItemHistory& history = counted.history;
  CHECK(history.start == 2);
  CHECK(history.now == 5);
  CHECK(counted.places == std::vector<std::string>{"tank", "bag"});
  std::vector<std::pair<double, std::size_t>> seen;
  for (const auto& count : history.counts) seen.emplace_back(count.value, count.place);
  CHECK(seen == std::vector<std::pair<double, std::size_t>>{{30, 0}, {5, 1}, {27, 0}});
  CHECK(history.counts[1].at == 3);
  CHECK(history.counts[1].sigma == 0.5);
  CHECK(counted.counts[1] == &facts.counts[0]);
}

TEST_CASE("each place starts as its first count says, carried back at plan") {
  const Mission mission = two_drinkers();
  Facts facts;
  facts.counts = {make_count("water", 5, day(1), "bag"), make_count("water", 30, day(4))};
  facts.transfers = {make_done_transfer("water", 2, day(2), "", "tank")};
  const CountedItem counted = gathered(mission, facts, day(5));
  REQUIRE(counted.places == std::vector<std::string>{"bag", "tank"});
  CHECK(counted.history.places[0].mean == 5);
  CHECK(counted.history.places[1].mean == Approx(30 + 3 * 2 - 2));
  // So wide that the count decides: hundreds of its deviations.
  CHECK(counted.history.places[1].sd > 100 * counted.history.counts[1].sigma);
}

TEST_CASE("draw falls to the first place that can be drawn from, span by span") {
  Mission mission = two_drinkers();
  add_event(mission, "undock", day(5));
  add_phase(mission, "late", day(3));
  add_day_kind(mission, "busy").per_crew_day["water"] = 2;
  mission.phases[1].kind = "busy";
  mission.places[1].until = "undock";
  mission.items[0].draw = {{"late", {"bag", "tank"}}};
  Facts facts;
  facts.counts = {make_count("water", 9, day(1), "bag"), make_count("water", 30, day(1))};
  const CountedItem counted = gathered(mission, facts, day(6));
  // Bag first in the list of counts. Tank: two days of 2, and after the bag has gone one of 4. Bag: two days of 4.
  CHECK(drawn_of(counted.history, 0) == Approx(2 * 4));
  CHECK(drawn_of(counted.history, 1) == Approx(2 * 2 + 4));
  for (std::size_t i = 1; i < counted.history.spans.size(); ++i)
    CHECK(counted.history.spans[i].begin == counted.history.spans[i - 1].end);
}

TEST_CASE("what is made comes at the rate of what it is made from, as uncertain as that rate in the end") {
  Mission mission = two_drinkers();
  add_cells(mission, 3, 0.5);
  mission.items[1].per_event = {{"burn", 4}};
  add_event(mission, "burn", day(2));
  const ItemHistory history = gathered(mission, counted_once(), day(3), {1.2, 0.1}).history;
  double made = 0;
  double variance = 0;
  const auto add = [&](const Flow& flow) {
    made += flow.make;
    variance += flow.sigma * flow.sigma;
  };
  for (const auto& span : history.spans) std::for_each(span.flows.begin(), span.flows.end(), add);
  CHECK(made == Approx(2 * 1.5 * 1.2));
  REQUIRE(history.changes.size() == 1);
  CHECK(history.changes[0].at == 2);
  CHECK(history.changes[0].flow.make == Approx(2 * 1.2));
  add(history.changes[0].flow);
  CHECK(std::sqrt(variance) == Approx(5 * 0.1));  // five units in all: three by the day and two in the event
}

TEST_CASE("a place gives what it has above its residual, then the next one is drawn from, until it is filled again") {
  Mission mission = two_drinkers();
  mission.items[0].places = {"bag", "tank"};
  mission.items[0].residual = {{"bag", 1}};
  mission.items[0].per_event = {{"burn", 3}};
  mission.items[0].event_sigma = 0.5;
  add_event(mission, "burn", day(4));
  Facts facts;
  facts.counts = {make_count("water", 6, day(1), "bag"), make_count("water", 30, day(1))};
  // Two days of 2 leave the bag 1 of its 5; on the third day each gives 1, and the burn is all the tank's.
  const auto drawn_by = [&](Instant cutoff) {
    const ItemHistory history = gathered(mission, facts, cutoff).history;
    return std::pair(drawn_of(history, 0), drawn_of(history, 1));
  };
  CHECK(drawn_by(day(3)) == std::pair(4.0, 0.0));
  CHECK(drawn_by(day(4)) == std::pair(5.0, 1.0));
  CHECK(drawn_by(day(5)) == std::pair(5.0, 3.0));
  const ItemHistory history = gathered(mission, facts, day(5)).history;
  REQUIRE(history.changes.size() == 1);
  CHECK(history.changes[0].flow.place == 1);
  CHECK(history.changes[0].flow.make == -3);
  CHECK(history.changes[0].flow.sigma == 0.5);
  facts.transfers = {make_done_transfer("water", 4, day(4), "", "bag")};
  CHECK(drawn_by(day(5)) == std::pair(7.0, 1.0));
  facts.transfers.clear();
  // A count says better than the plan what is left.
  facts.counts.insert(facts.counts.begin() + 1, make_count("water", 9, day(3), "bag"));
  CHECK(drawn_by(day(4)) == std::pair(6.0, 0.0));
}

TEST_CASE("events and done transfers after the first count are known steps, in order of time") {
  Mission mission = two_drinkers();
  mission.items[0].per_event = {{"burn", 3}};
  mission.items[0].event_sigma = 0.4;
  mission.items[0].transfer_sigma = 0.2;
  for (const int number : {1, 3, 5})
    mission.events.push_back({"burn" + std::to_string(number), "", day(number), "burn", {}});
  Facts facts = counted_once();
  facts.counts.insert(facts.counts.begin(), make_count("water", 5, day(1), "bag"));
  for (const int number : {1, 2, 4, 5})
    facts.transfers.push_back(make_done_transfer("water", number, day(number), "bag", "tank"));
  facts.transfers[2].row.state = TransferState::planned;
  const ItemHistory history = gathered(mission, facts, day(4)).history;
  // Day 1 is in the counts already, day 5 is to come, and the transfer of day 4 was not made.
  REQUIRE(history.changes.size() == 3);
  CHECK(history.changes[0].at == 2);
  CHECK(history.changes[0].flow.place == 1);
  CHECK(history.changes[0].flow.make == 2);
  CHECK(history.changes[0].flow.sigma == 0.2);
  CHECK(history.changes[1].flow.place == 0);
  CHECK(history.changes[1].flow.make == -2);
  CHECK(history.changes[2].at == 3);
  CHECK(history.changes[2].flow.place == 1);
  CHECK(history.changes[2].flow.draw == 0);  // the use factor tells how people live, not how long a burn is
  CHECK(history.changes[2].flow.make == -3);
  CHECK(history.changes[2].flow.sigma == 0.4);
}

TEST_CASE("an event falls to the place that is drawn from when it begins, though it takes that place away") {
  Mission mission = two_drinkers();
  add_event(mission, "undock", day(3));
  mission.places[1].until = "undock";
  mission.items[0].places = {"bag", "tank"};
  mission.items[0].per_event = {{"undock", 2}};
  Facts facts;
  facts.counts = {make_count("water", 9, day(1), "bag"), make_count("water", 30, day(1))};
  const CountedItem counted = gathered(mission, facts, day(4));
  REQUIRE(counted.history.changes.size() == 1);
  CHECK(counted.places[counted.history.changes[0].flow.place] == "bag");
}

TEST_CASE("what fills up rises by what is used and by what is put in, and never leaks") {
  Mission mission = make_mission({.crew = 2});
  mission.items = {make_capacity("waste", 100, 1)};
  mission.items[0].per_event = {{"burn", 3}};
  add_event(mission, "burn", day(2));
  Facts facts;
  facts.counts = {make_count("waste", 10, day(1)), make_count("waste", 20, day(4))};
  const ItemHistory history = gathered(mission, facts, day(4)).history;
  CHECK(drawn_of(history, 0) == Approx(-3 * 2));
  CHECK(history.changes.at(0).flow.make == 3);
  CHECK(history.places[0].mean == 10);
  CHECK(history.daily_draw == 0);
}

TEST_CASE("a leak is sized by the mean planned draw of a day, where there is one") {
  Mission mission = two_drinkers();
  add_day_kind(mission, "busy").per_crew_day["water"] = 3;
  add_phase(mission, "late", day(5), "busy");
  CHECK(gathered(mission, counted_once(), day(1)).history.daily_draw == Approx((5 * 2 + 5 * 6) / 10.0));
  mission.items[0].per_crew_day = 0;
  mission.day_kinds.back().per_crew_day.clear();
  mission.items[0].per_event = {{"landing", 4}};
  CHECK(gathered(mission, counted_once(), day(1)).history.daily_draw == 0);
}

TEST_CASE("each way of counting whose error repeats has one bias, and the others have none") {
  Mission mission = two_drinkers();
  mission.methods.push_back({"scale", CountKind::weighed, {}});
  mission.items[0].bias = {{"gauge", 0.7}, {"scale", 0.2}};
  Facts facts;
  for (const auto& [number, method] : {std::pair{1, "scale"}, std::pair{2, "gauge"}, std::pair{3, "tally"},
                                       std::pair{4, "scale"}, std::pair{5, "gauge"}}) {
    facts.counts.push_back(make_count("water", 30, day(number)));
    facts.counts.back().row.method = method;
  }
  const ItemHistory history = gathered(mission, facts, day(5)).history;
  CHECK(history.bias_sds == std::vector<double>{0.2, 0.7});
  std::vector<std::size_t> biases;
  for (const auto& count : history.counts) biases.push_back(count.bias);
  CHECK(biases == std::vector<std::size_t>{0, 1, unbiased, 0, 1});
}

TEST_CASE("a count that is believed comes after a change of any size, which nobody logged") {
  const Mission mission = two_drinkers();
  Facts facts = counted_once();
  facts.counts.push_back(make_count("water", 11, day(3)));
  const auto counted = gather_history(mission, mission.items[0], facts, day(3), {}, [&](const auto& count) {
    const bool is_second = &count == &facts.counts[1];
    return CountReading{is_second ? 12 : count.row.quantity, is_second};
  });
  REQUIRE(counted->history.changes.size() == 1);
  CHECK(counted->history.changes[0].at == 3);
  CHECK(counted->history.changes[0].flow.make == 0);
  CHECK(counted->history.changes[0].flow.sigma > 100 * counted->history.counts[1].sigma);
  CHECK(counted->history.counts[1].value == 12);
  CHECK(counted->history.counts[1].is_believed);
  CHECK_FALSE(counted->history.counts[0].is_believed);
}

TEST_CASE("an approved decision with an authority closes a leak when it takes effect, and nothing less does") {
  const Mission mission = two_drinkers();
  const auto repairs = [&](const Merged<DecisionRow>& decision) {
    Facts facts = counted_once();
    facts.decisions = {decision};
    return gathered(mission, facts, day(4)).history.repairs;
  };
  CHECK(repairs(make_repair(day(3))) == std::vector<double>{3});
  CHECK(repairs(make_repair(day(4))) == std::vector<double>{4});
  CHECK(repairs(make_repair(day(4) + 1us)).empty());
  CHECK(repairs(make_repair(day(1))).empty());  // before anything was counted
  CHECK(repairs(make_repair(day(3), "")).empty());
  const auto changed = [&](auto change) {
    auto decision = make_repair(day(3));
    change(decision.row);
    return repairs(decision);
  };
  CHECK(changed([](DecisionRow& row) { row.effective.reset(); }).empty());
  CHECK(changed([](DecisionRow& row) { row.change = {}; }).empty());
  CHECK(changed([](DecisionRow& row) { row.change = daywright::model::LeakClosed{"food"}; }).empty());
  for (const auto state : {DecisionState::proposed, DecisionState::refused, DecisionState::withdrawn})
    CHECK(changed([&](DecisionRow& row) { row.state = state; }).empty());
}

TEST_CASE("repairs come in order of time, whatever the order of the log") {
  Facts facts = counted_once();
  facts.decisions = {make_repair(day(3)), make_repair(day(2))};
  CHECK(gathered(two_drinkers(), facts, day(4)).history.repairs == std::vector<double>{2, 3});
}

// Shares of the plan

TEST_CASE("the use of all places is the use of the item, and falls to the first that is there") {
  Mission mission = two_drinkers();
  add_cells(mission, 3, 0.5, "bag");
  add_event(mission, "undock", day(3));
  add_phase(mission, "late", day(5));
  mission.places[0].until = "undock";
  mission.items[0].per_event = {{"undock", 2}};
  Facts facts;
  facts.counts = {make_count("water", 100, day(1), "bag"), make_count("water", 100, day(1))};
  const CountedItem counted = gathered(mission, facts, day(7));
  REQUIRE(counted.places == std::vector<std::string>{"bag", "tank"});
  CHECK(counted.up_to_now[1].drawn == Approx(2 * 2 + 2));
  CHECK(counted.up_to_now[0].drawn == Approx(4 * 2));
  CHECK(counted.up_to_now[1].made == 0);
  CHECK(counted.up_to_now[0].made == Approx(6 * 1.5));
}

TEST_CASE("a place that can't be drawn from gives nothing, and the next one gives all") {
  Mission mission = two_drinkers();
  mission.places[0].state = daywright::model::PlaceState::expired;
  Facts facts;
  facts.counts = {make_count("water", 100, day(1), "bag"), make_count("water", 100, day(1))};
  const CountedItem counted = gathered(mission, facts, day(3));
  CHECK(counted.up_to_now[1].drawn == 0);
  CHECK(counted.up_to_now[0].drawn == Approx(2 * 2));
}

TEST_CASE("what was moved is what transfers brought less what they took, after the first count and up to the cut-off") {
  Facts facts = counted_once();
  facts.counts.insert(facts.counts.begin(), make_count("water", 30, day(1), "bag"));
  facts.transfers = {
      make_done_transfer("water", 1, day(1), "", "tank"), make_done_transfer("water", 2, day(2), "tank", "bag"),
      make_done_transfer("water", 3, day(3), "", "tank"), make_done_transfer("water", 4, day(4), "", "tank"),
      make_done_transfer("food", 5, day(2), "", "tank")};
  const CountedItem counted = gathered(two_drinkers(), facts, day(3));
  CHECK(counted.up_to_now[1].moved == 3 - 2);
  CHECK(counted.up_to_now[0].moved == 2);
}

TEST_CASE("since a count is what came after it, and carries the count to the cut-off") {
  Facts facts = counted_once(30);
  facts.counts.push_back(make_count("water", 28, day(2)));
  facts.transfers = {make_done_transfer("water", 7, day(3), "", "tank")};
  const Mission mission = two_drinkers();
  const CountedItem counted = gathered(mission, facts, day(4));
  CHECK(counted.since(0).drawn == Approx(3 * 2));
  CHECK(counted.since(1).drawn == Approx(2 * 2));
  CHECK(counted.since(1).moved == 7);
  CHECK(carry(mission.items[0], 28, counted.since(1)) == Approx(28 - 4 + 7));
  Mission room = mission;
  room.items[0].sort = daywright::model::ItemSort::capacity;
  CHECK(carry(room.items[0], 28, counted.since(1)) == Approx(28 + 4 + 7));
}

TEST_CASE("an item is used by the day where any kind of day uses it, and not where events alone do") {
  Mission mission = two_drinkers();
  Item& water = mission.items[0];
  CHECK(has_daily_use(mission, water));
  water.per_crew_day = 0;
  water.per_event = {{"landing", 2}};
  CHECK_FALSE(has_daily_use(mission, water));
  mission.day_kinds[1].events_per_day["landing"] = 0.5;
  CHECK(has_daily_use(mission, water));
}
