// What approved decisions do to the plan. All events, places and times are invented.
#include "rules/decisions.h"

#include <string>
#include <utility>

#include "builders.h"
#include "rules/levels.h"

using daywright::model::DaysAdded;
using daywright::model::DecisionRow;
using daywright::model::DecisionState;
using daywright::model::EventMoved;
using daywright::model::Facts;
using daywright::model::find_by_id;
using daywright::model::Instant;
using daywright::model::LeakClosed;
using daywright::model::Merged;
using daywright::model::Mission;
using daywright::model::PlaceSet;
using daywright::model::PlaceState;
using daywright::model::PlanChange;
using daywright::rules::describe_change;
using daywright::rules::doubts_about_decisions;
using daywright::rules::plan_in_effect;
using daywright::rules::why_without_effect;
using daywright::test::add_event;
using daywright::test::day;
using daywright::test::make_item;
using daywright::test::make_mission;
using namespace std::chrono_literals;

namespace {

Merged<DecisionRow> make_decision(PlanChange change, Instant effective = day(3)) {
  Merged<DecisionRow> decision;
  decision.row.state = DecisionState::approved;
  decision.row.authority = "lead";
  decision.row.effective = effective;
  decision.row.change = std::move(change);
  return decision;
}

/// Ten days with an undocking on day 8, polled on day 7, and a landing polled on day 9.
Mission plan() {
  Mission mission = make_mission();
  add_event(mission, "undock", day(8));
  mission.extension_before = "undock";
  mission.items = {make_item("water")};
  mission.gates = {{"leave", "Leave", "undock", day(7), {}}, {"entry", "Entry", "landing", day(9), {}}};
  return mission;
}

Mission decided(std::vector<Merged<DecisionRow>> decisions, Instant cutoff = day(4)) {
  Facts facts;
  facts.decisions = std::move(decisions);
  return plan_in_effect(plan(), facts, cutoff);
}

Instant event_at(const Mission& mission, const std::string& id) { return find_by_id(mission.events, id)->at; }

}  // namespace

TEST_CASE("added days move what comes after them, and those of two decisions add up") {
  const Mission longer = decided({make_decision(DaysAdded{1})});
  CHECK(event_at(longer, "undock") == day(9));
  CHECK(longer.landing() == plan().landing() + 24h);
  CHECK(longer.gates[0].poll == day(8));
  CHECK(longer.gates[1].poll == day(10));
  CHECK(decided({make_decision(DaysAdded{1}), make_decision(DaysAdded{2})}).landing() == plan().landing() + 72h);
}

TEST_CASE("a moved event is at its new time, and its poll moves with it") {
  const Mission later = decided({make_decision(EventMoved{"undock", day(9)})});
  CHECK(event_at(later, "undock") == day(9));
  CHECK(later.gates[0].poll == day(8));
  CHECK(later.gates[1].poll == day(9));  // that of another event
  CHECK(decided({make_decision(EventMoved{"undock", day(6)})}).gates[0].poll == day(5));
}

TEST_CASE("days are added to what was moved, whatever the order of the log") {
  const auto days = make_decision(DaysAdded{1});
  const auto moved = make_decision(EventMoved{"undock", day(9)});
  CHECK(event_at(decided({days, moved}), "undock") == day(10));
  CHECK(event_at(decided({moved, days}), "undock") == day(10));
}

TEST_CASE("a place is as it was decided") {
  CHECK(decided({make_decision(PlaceSet{"tank", PlaceState::isolated})}).places[0].state == PlaceState::isolated);
}

TEST_CASE("a place that is set aside was drawn from as planned up to then") {
  const Mission changed = decided({make_decision(PlaceSet{"tank", PlaceState::isolated}, day(3))});
  CHECK(daywright::rules::is_available(changed, changed.places[0], day(3) - 1us));
  CHECK_FALSE(daywright::rules::is_available(changed, changed.places[0], day(3)));
}

TEST_CASE("a decision has its effect from its time on, and only if it is approved, by somebody, and not in doubt") {
  const auto is_longer = [](const Merged<DecisionRow>& decision, Instant cutoff) {
    return decided({decision}, cutoff).landing() > plan().landing();
  };
  CHECK(is_longer(make_decision(DaysAdded{1}), day(3)));
  CHECK_FALSE(is_longer(make_decision(DaysAdded{1}), day(3) - 1us));
  const auto changed = [&](auto change) {
    auto decision = make_decision(DaysAdded{1});
    change(decision);
    return is_longer(decision, day(4));
  };
  CHECK(changed([](auto& d) { d.row.effective.reset(); }));
  CHECK(changed([](auto& d) { d.row.expires = day(4); }));
  CHECK_FALSE(changed([](auto& d) { d.row.expires = day(4) - 1us; }));
  CHECK_FALSE(changed([](auto& d) { d.row.authority.clear(); }));
  CHECK_FALSE(changed([](auto& d) { d.rivals = {d.row}; }));
  for (const auto state : {DecisionState::proposed, DecisionState::refused, DecisionState::withdrawn})
    CHECK_FALSE(changed([&](auto& d) { d.row.state = state; }));
}

TEST_CASE("why a decision has no effect is said, and what it does is told in words") {
  auto decision = make_decision(DaysAdded{1}, day(5));
  CHECK(why_without_effect(decision, day(4)) == "only from 2031-05-11T12:00Z on");
  CHECK_FALSE(why_without_effect(decision, day(5)).has_value());
  decision.row.authority.clear();
  CHECK(why_without_effect(decision, day(5)) == "no authority is named");
  CHECK(describe_change(plan(), DaysAdded{1}) == "1 day more");
  CHECK(describe_change(plan(), DaysAdded{2}) == "2 days more");
  CHECK(describe_change(plan(), EventMoved{"undock", day(5)}) == "undock at 2031-05-11T12:00Z");
  CHECK(describe_change(plan(), PlaceSet{"tank", PlaceState::expired}) == "Tank expired");
  CHECK(describe_change(plan(), LeakClosed{"water"}) == "leak of water closed");
  CHECK(describe_change(plan(), {}).empty());
}

TEST_CASE("of two decisions on one thing the later one holds, whatever they are called") {
  const auto early = make_decision(PlaceSet{"tank", PlaceState::usable}, day(2));
  const auto late = make_decision(PlaceSet{"tank", PlaceState::isolated}, day(3));
  CHECK(decided({early, late}).places[0].state == PlaceState::isolated);
  CHECK(decided({late, early}).places[0].state == PlaceState::isolated);
  // Without a time of its own a decision holds from when it was written down.
  auto written = make_decision(PlaceSet{"tank", PlaceState::expired});
  written.row.effective.reset();
  written.row.from.recorded = day(3) + 1h;
  CHECK(decided({written, late}).places[0].state == PlaceState::expired);
  CHECK(decided({late, written}).places[0].state == PlaceState::expired);
}

TEST_CASE("a decision on the plan that is told in two ways puts everything in doubt, and one in words does not") {
  Facts facts;
  facts.decisions = {make_decision(DaysAdded{1})};
  CHECK(doubts_about_decisions(facts).empty());
  facts.decisions[0].rivals = {make_decision({}).row};
  CHECK(doubts_about_decisions(facts).size() == 1);
  facts.decisions = {make_decision({})};
  facts.decisions[0].rivals = {make_decision(DaysAdded{1}).row};
  CHECK(doubts_about_decisions(facts).size() == 1);
  facts.decisions[0].rivals = {make_decision({}).row};
  CHECK(doubts_about_decisions(facts).empty());
  facts.decisions[0].rivals[0].waiver.criterion = "c";
  CHECK(doubts_about_decisions(facts).size() == 1);
}
