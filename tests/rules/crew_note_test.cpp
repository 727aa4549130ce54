// What the note to the crew may say and what it must not. All of it is invented.
#include <algorithm>
#include <string>
#include <vector>

#include "builders.h"
#include "rules/status.h"

using namespace daywright;
using namespace daywright::test;
using Rows = std::vector<std::vector<std::string>>;

namespace {

/// Evening of day 2 of ten, crew of two aboard 'ship' and a host aboard 'depot'; the landing is on day 10 and its gate
/// on day 9. A board owns the criteria; the doctor is medical.
struct Scene : EveningScene {
  Scene() : EveningScene(day(2)) {
    mission.words = {};
    mission.flight_days = model::FlightDays({launch, day(1), day(2), day(3)});
    today.number = 2;
    mission.vehicles.push_back({"depot", "Depot", {}});
    mission.persons = {{"pilot", "Pilot", {{launch, "ship"}}, "ship", {}},
                       {"engineer", "Engineer", {{launch, "depot"}, {day(1), "ship"}}, "ship", {}},
                       {"host", "Depot host", {{launch, "depot"}}, "depot", {}}};
    rules.roles = {{"board", "Board", {}}, {"doctor", "Flight doctor", {}, true}};
  }

  void add_task(const std::string& name, const std::string& title, int on_day,
                const std::vector<std::string>& crew = {}, const std::string& gate = "") {
    auto plan = make_plan(name, on_day, gate);
    plan.row.title = title;
    plan.row.crew = crew;
    facts.plan.push_back(plan);
  }
  void add_action(const std::string& from, const std::string& to, const std::string& text,
                  std::optional<model::Instant> due = day(3)) {
    model::Merged<model::ActionRow> fact;
    fact.row.action = "A-" + std::to_string(facts.actions.size() + 1);
    fact.row.asked_by = from;
    fact.row.asked_of = to;
    fact.row.text = text;
    fact.row.due = due;
    facts.actions.push_back(fact);
  }
  model::DecisionRow& add_decision(model::DecisionState state, const std::string& changes, const std::string& value) {
    model::Merged<model::DecisionRow> fact;
    fact.row.decision = "D-" + std::to_string(facts.decisions.size() + 1);
    fact.row.state = state;
    fact.row.authority = "board";
    fact.row.changes = changes;
    fact.row.value = value;
    fact.row.from.recorded = day(2);
    facts.decisions.push_back(fact);
    return facts.decisions.back().row;
  }
  void add_criterion(const std::string& owner, decltype(model::Criterion::demand) demand) {
    model::Criterion criterion;
    criterion.id = "c" + std::to_string(rules.criteria.size() + 1);
    criterion.title = "Criterion";
    criterion.gate = "entry";
    criterion.owner = owner;
    criterion.demand = std::move(demand);
    rules.criteria.push_back(criterion);
  }

  /// A table of the note as the template sees it.
  [[nodiscard]] Rows rows(const std::string& table_name) const {
    const model::DayStatus shown = status();
    const auto* table = shown.find_table(table_name);
    REQUIRE(table != nullptr);
    Rows result;
    for (const auto& row : table->rows) {
      auto& cells = result.emplace_back();
      for (std::size_t i = 0; i < row.size(); ++i) cells.push_back(shown.text_of(row[i], table->columns[i]));
    }
    return result;
  }
};

/// The last cell of the gate of the scene.
std::string open_of(const Scene& scene) {
  const Rows rows = scene.rows("crew_gates");
  REQUIRE(rows.size() == 1);
  return rows.front().back();
}

}  // namespace

TEST_CASE("times are said in days and hours, minutes only where there are some") {
  Scene scene;
  const auto by = [&](model::Instant when) {
    scene.facts.actions.clear();
    scene.add_action("board", "pilot", "x", when);
    return scene.rows("crew_asks").at(0).at(2);
  };
  CHECK(by(day(3)) == "FD 4, MET 3 days");
  CHECK(by(day(2) + std::chrono::hours{1}) == "FD 3, MET 2 days 1 hour");
  CHECK(by(day(2) + std::chrono::minutes{90}) == "FD 3, MET 2 days 1 hour 30");
  CHECK(by(day(2) + std::chrono::minutes{5}) == "FD 3, MET 2 days 0 hours 5");
}

TEST_CASE("what is asked of somebody aboard is said by what they do there, the soonest first") {
  Scene scene;
  scene.add_action("board", "Engineer", "read the gauge", day(4));
  scene.add_action("board", "pilot", "count the bags", day(3));
  scene.add_action("board", "crew", "say good night", day(5));
  scene.add_action("board", "host", "not aboard the ship");
  scene.add_action("board", "board", "on the ground");
  CHECK(scene.rows("crew_asks") == Rows{{"Pilot", "count the bags", "FD 4, MET 3 days"},
                                        {"Engineer", "read the gauge", "FD 5, MET 4 days"},
                                        {"All of you", "say good night", "FD 6, MET 5 days"}});
}

TEST_CASE("what is answered is asked no more, and without a due time it is wanted by the next poll") {
  Scene scene;
  scene.add_action("board", "pilot", "x", std::nullopt);
  CHECK(scene.rows("crew_asks") == Rows{{"Pilot", "x", "FD 10, MET 9 days"}});
  scene.facts.actions[0].row.state = model::ActionState::answered;
  CHECK(scene.rows("crew_asks").empty());
}

TEST_CASE("nobody is named who is late") {
  Scene scene;
  scene.add_action("board", "pilot", "count the bags", day(1));
  CHECK(scene.rows("crew_asks").empty());
  CHECK(scene.rows("crew_overdue") == Rows{{"count the bags", "FD 2, MET 1 day"}});
}

TEST_CASE("nothing that a medical role asks, owns or decides is said") {
  Scene scene;
  scene.add_action("flight doctor", "pilot", "say how you slept");
  scene.add_action("DOCTOR", "pilot", "say how you slept");
  CHECK(scene.rows("crew_asks").empty());
  scene.add_decision(model::DecisionState::approved, "rest", "more of it").authority = "doctor";
  CHECK(scene.rows("crew_decided").empty());
  scene.add_task("T-1", "Pulse taken", 3, {"pilot"});
  scene.add_task("T-2", "Pulse taken again", 3, {"pilot"}, "entry");
  CHECK(scene.rows("crew_work") == Rows{{"Pulse taken; Pulse taken again"}});
  scene.add_criterion("doctor", model::TasksCriterion{{"T-1"}});
  CHECK(scene.rows("crew_work") == Rows{{"Pulse taken again"}});
  scene.add_criterion("doctor", model::TasksCriterion{});
  CHECK(scene.rows("crew_work").empty());
  CHECK(open_of(scene).find("Pulse") == std::string::npos);
}

TEST_CASE("who asks for rest is medical without being called so") {
  Scene scene;
  scene.add_action("board", "pilot", "x");
  CHECK(scene.rows("crew_asks").size() == 1);
  scene.add_criterion("board", model::RestCriterion{{"pilot"}, 7, 24, std::nullopt});
  CHECK(scene.rows("crew_asks").empty());
}

TEST_CASE("a count that only the crew can make is asked for when it is too old") {
  Scene scene;
  scene.mission.items.push_back(make_item("packs", "kg", 1));
  scene.mission.items.back().title = "Packs";
  scene.facts.counts.push_back(make_count("packs", 100, day(0)));
  CHECK(scene.rows("crew_asks").empty());
  scene.mission.items.back().by_hand = true;
  CHECK(scene.rows("crew_asks") == Rows{{"Any of you", "count Packs in Tank", "FD 10, MET 9 days"}});
  scene.facts.counts.push_back(make_count("packs", 98, day(2)));
  CHECK(scene.rows("crew_asks").empty());
}

TEST_CASE("the work of the next day is that of those aboard, the first two and how many more") {
  Scene scene;
  scene.add_task("T-1", "One", 3, {"pilot"});
  scene.add_task("T-2", "Two", 3, {"host"});
  scene.add_task("T-3", "Three", 3, {"host", "engineer"});
  scene.add_task("T-4", "Four", 4, {"pilot"});
  CHECK(scene.rows("crew_work") == Rows{{"One; Three"}});
  scene.add_task("T-5", "Five", 3);
  CHECK(scene.rows("crew_work") == Rows{{"One; Three; and 1 more"}});
  CHECK(scene.status().find("note.next_day")->text == "FD 3");
}

TEST_CASE("of a gate it is said what is open aboard, never how it stands") {
  Scene scene;
  CHECK(scene.rows("crew_gates") == Rows{{"Entry", "FD 10, MET 9 days", "by our logs nothing is open aboard"}});
  scene.add_task("T-1", "Seats set up", 5, {"pilot"}, "entry");
  scene.add_task("T-2", "Depot swept", 5, {"host"}, "entry");
  scene.add_criterion("board", model::TasksCriterion{});
  scene.add_criterion("board", model::CloseoutsCriterion{{"cabin_stowage"}});
  CHECK(open_of(scene) == "open aboard: Seats set up; and 1 more");
  scene.facts.tasks.push_back(make_task("T-1", model::TaskState::done, 100));
  CHECK(open_of(scene) == "open aboard: close-out cabin stowage");
  model::Merged<model::CloseoutRow> closeout;
  closeout.row.closeout = "cabin_stowage";
  closeout.row.done = 3;
  closeout.row.of = 3;
  scene.facts.closeouts.push_back(closeout);
  CHECK(open_of(scene) == "by our logs nothing is open aboard");
}

TEST_CASE("where a log is not whole, nothing open does not mean that nothing is") {
  for (const auto log : {model::Log::tasks, model::Log::plan, model::Log::closeouts}) {
    Scene scene;
    scene.add_criterion("board", model::CloseoutsCriterion{{"hatch"}});
    model::Merged<model::CloseoutRow> closeout;
    closeout.row.closeout = "hatch";
    scene.facts.closeouts.push_back(closeout);
    CHECK(open_of(scene) == "by our logs nothing is open aboard");
    scene.facts.gaps.push_back({log, "FD 2", {}, "nobody closed it"});
    CHECK(open_of(scene) == "what is open aboard we can't tell");
  }
}

TEST_CASE("later gates are named by their day, those that are over not at all") {
  Scene scene;
  scene.mission.events.push_back({"undock", "Undocking", day(9) + std::chrono::hours{12}, "undock", {}});
  scene.mission.events.push_back({"sortie", "Sortie", day(1), "sortie", {}});
  scene.mission.gates.push_back({"undock", "Undocking", "undock", day(8), {}});
  scene.mission.gates.push_back({"sortie", "Sortie", "sortie", day(1), {}});
  const Rows rows = scene.rows("crew_gates");
  REQUIRE(rows.size() == 2);
  CHECK(rows[0][0] == "Undocking");
  CHECK(rows[0][1] == "FD 9, MET 8 days");
  CHECK(rows[1][0] == "Entry");
  CHECK(rows[1][1] == "FD 10");
}

TEST_CASE("decisions are said with titles in place of names that only logs use") {
  Scene scene;
  scene.add_task("T-7", "Hull filmed", 5, {"pilot"});
  scene.add_decision(model::DecisionState::approved, "plan", "T-7 earlier");
  scene.add_decision(model::DecisionState::refused, "crew_time", "less of T-7, or none");
  scene.add_decision(model::DecisionState::proposed, "extension_days", "1").change = model::DaysAdded{1};
  scene.add_decision(model::DecisionState::withdrawn, "x", "y");
  CHECK(scene.rows("crew_decided") ==
        Rows{{"Hull filmed earlier", "Approved"}, {"crew time: less of Hull filmed, or none", "Refused"}});
  CHECK(scene.rows("crew_to_decide") == Rows{{"1 day more", "tonight"}});
  scene.facts.decisions[2].row.expires = day(3);
  CHECK(scene.rows("crew_to_decide") == Rows{{"1 day more", "FD 4, MET 3 days"}});
  scene.facts.decisions[2].row.expires = day(1);
  CHECK(scene.rows("crew_to_decide").empty());
}

TEST_CASE("what was decided and moved before the last brief is not said again") {
  Scene scene;
  scene.mission.items.push_back(make_item("water", "kg", 1));
  scene.mission.items.back().title = "Water";
  scene.facts.transfers.push_back(make_done_transfer("water", 5, day(2), "", "tank"));
  scene.facts.transfers.back().row.from.recorded = day(2);
  scene.add_decision(model::DecisionState::approved, "plan", "all of it");
  CHECK(scene.rows("crew_moved") == Rows{{"Water, 5.0 kg, to Tank"}});
  CHECK(scene.rows("crew_decided").size() == 1);
  Scene before = scene;
  before.facts = {};
  const auto later =
      daywright::rules::compute_status({scene.mission, scene.rules, scene.facts, scene.today, day(3)}, nullptr, {});
  CHECK(later.find_table("crew_decided")->rows.size() == 1);
  const rules::Evening last = before.evening();
  const auto compared =
      daywright::rules::compute_status({scene.mission, scene.rules, scene.facts, scene.today, day(3)}, &last, {});
  CHECK(compared.find_table("crew_decided")->rows.empty());
  CHECK(compared.find_table("crew_moved")->rows.empty());
}

TEST_CASE("supplies are said in plain words, and what is not sure is named") {
  Scene scene;
  CHECK(scene.rows("crew_supplies").empty());
  scene.mission.items.push_back(make_item("water", "kg", 1));
  scene.mission.items.back().title = "Water";
  scene.facts.counts.push_back(make_count("water", 200, day(2)));
  CHECK(scene.rows("crew_supplies").at(0).back() == "long enough");
  CHECK(scene.rows("crew_unsure").empty());
  scene.mission.items.push_back(make_item("food", "kg", 1));
  scene.mission.items.back().title = "Food";
  CHECK(scene.rows("crew_supplies").at(0).back() == "long enough as far as we know");
  CHECK(scene.rows("crew_unsure") == Rows{{"Food"}});
  scene.facts.counts.push_back(make_count("food", 2, day(2)));
  CHECK(scene.rows("crew_supplies").at(0).back() == "not long enough");
}
