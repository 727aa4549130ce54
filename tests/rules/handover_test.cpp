// What whoever takes over is told. All missions are made up.
#include "rules/handover.h"

#include <string>
#include <utility>
#include <vector>

#include "builders.h"

using namespace daywright;
using namespace daywright::test;
using namespace std::chrono_literals;
using Rows = std::vector<std::vector<std::string>>;

namespace {

/// An evening on day 3 with a shift of 12 h. The gate 'entry' is polled on day 9.
struct Scene : EveningScene {
  Scene() : EveningScene(day(3)) { mission.flight_days = model::FlightDays({launch, day(5)}); }

  [[nodiscard]] model::DayStatus handover(model::Duration shift = 12h) const {
    return rules::compute_handover(evening(), shift, {});
  }
  /// The cells of these columns of a table, row by row.
  [[nodiscard]] Rows cells(const std::string& table_name, const std::vector<std::string>& keys,
                           model::Duration shift = 12h) const {
    const auto status = handover(shift);
    const auto* table = status.find_table(table_name);
    REQUIRE(table != nullptr);
    Rows rows;
    for (const auto& row : table->rows) {
      auto& texts = rows.emplace_back();
      for (const auto& key : keys) {
        for (std::size_t i = 0; i < table->columns.size(); ++i) {
          if (table->columns[i].key == key) texts.push_back(status.text_of(row.at(i), table->columns[i]));
        }
      }
    }
    return rows;
  }
  [[nodiscard]] Rows deadlines(model::Duration shift = 12h) const {
    return cells("deadlines", {"what", "about", "who"}, shift);
  }

  void add_action(std::string name, std::optional<model::Instant> due) {
    model::Merged<model::ActionRow> action;
    action.row.action = std::move(name);
    action.row.asked_of = "desk";
    action.row.text = "do it";
    action.row.due = due;
    facts.actions.push_back(std::move(action));
  }
  model::DecisionRow& add_decision(std::string name, model::DecisionState state) {
    model::Merged<model::DecisionRow> decision;
    decision.row.decision = std::move(name);
    decision.row.state = state;
    decision.row.authority = "board";
    return facts.decisions.emplace_back(std::move(decision)).row;
  }
  model::Merged<model::EquipmentRow>& add_equipment(std::string unit, std::string state) {
    model::Merged<model::EquipmentRow> fact;
    fact.row.unit = std::move(unit);
    fact.row.state = std::move(state);
    return facts.equipment.emplace_back(std::move(fact));
  }
  void add_finding(std::string name, std::string zone, model::FindingState state, model::Instant when) {
    model::Merged<model::FindingRow> finding;
    finding.row.finding = std::move(name);
    finding.row.zone = std::move(zone);
    finding.row.state = state;
    finding.row.when = when;
    facts.findings.push_back(std::move(finding));
  }
  model::ZonesCriterion& add_zones_criterion() {
    add_cleared_nose(mission, facts);
    model::Criterion criterion;
    criterion.id = "surface";
    criterion.title = "Surface cleared";
    criterion.gate = "entry";
    criterion.owner = "board";
    model::ZonesCriterion demand;
    demand.zones = {"nose"};
    demand.authority = "board";
    demand.survey_kind = "wide";
    criterion.demand = demand;
    rules.criteria.push_back(std::move(criterion));
    return std::get<model::ZonesCriterion>(rules.criteria.back().demand);
  }
};

}  // namespace

TEST_CASE("a deadline lies between the cut-off and the end of the shift, both included") {
  Scene scene;
  add_event(scene.mission, "before", day(3) - 1min);
  add_event(scene.mission, "at once", day(3));
  add_event(scene.mission, "at the end", day(3) + 12h);
  add_event(scene.mission, "after", day(3) + 12h + 1min);
  CHECK(scene.deadlines() == Rows{{"event", "at once", "-"}, {"event", "at the end", "-"}});
  CHECK(scene.deadlines(1h) == Rows{{"event", "at once", "-"}});
  CHECK(number_of(scene.handover(), "handover.deadlines") == 2);
}

TEST_CASE("deadlines come in order of time, and what is open and overdue before them") {
  Scene scene;
  scene.add_action("A-1", day(3) + 3h);
  scene.add_action("A-2", day(2));
  scene.add_action("A-3", std::nullopt);
  scene.add_action("A-4", day(1));
  scene.facts.actions.back().row.state = model::ActionState::answered;
  scene.add_decision("D-1", model::DecisionState::proposed).expires = day(3) + 1h;
  scene.add_decision("D-2", model::DecisionState::proposed).expires = day(1);
  scene.add_decision("D-3", model::DecisionState::refused).expires = day(1);
  CHECK(scene.deadlines() == Rows{{"OVERDUE decision", "D-2", "board"},
                                  {"OVERDUE action", "A-2: do it", "desk"},
                                  {"decision", "D-1", "board"},
                                  {"action", "A-1: do it", "desk"}});
  CHECK(number_of(scene.handover(), "handover.overdue") == 2);
  scene.add_action("A-5", day(5));
  CHECK(scene.cells("actions", {"action"}) == Rows{{"A-5"}, {"A-3"}});
}

TEST_CASE("a poll tells its verdict and what holds it, and so does an event whose poll is past") {
  Scene scene;
  scene.mission.gates = {{"leave", "Leave", "landing", day(3) + 2h, {}}};
  scene.mission.events.front().at = day(3) + 4h;
  scene.rules.criteria = {make_limit("item.water.margin.days", 0)};
  scene.rules.criteria.front().gate = "leave";
  const auto rows = scene.deadlines();
  REQUIRE(rows.size() == 2);
  CHECK(rows[0][1].starts_with("Leave: NO DATA, limit: "));
  CHECK(rows[1] == std::vector<std::string>{"event", "Landing", "-"});
  scene.mission.gates.front().poll = day(3) - 1h;
  REQUIRE(scene.deadlines().size() == 1);
  CHECK(scene.deadlines()[0][1].starts_with("Landing, to be polled before: NO DATA, limit: "));
  scene.rules.roles = {{"lead", "Lead", {}}};
  scene.rules.polls.push_back({"leave", {}, "lead", false, {}});
  scene.mission.gates.front().poll = day(3) + 2h;
  CHECK(scene.deadlines()[0][2] == "Lead");
}

TEST_CASE("a decision is told when it begins and when it ends, a waiver as such") {
  Scene scene;
  scene.rules.criteria = {make_limit("item.water.margin.days", 0)};
  auto& waiver = scene.add_decision("D-1", model::DecisionState::approved);
  waiver.waiver.criterion = "limit";
  waiver.effective = day(1);
  waiver.expires = day(3) + 2h;
  auto& later = scene.add_decision("D-2", model::DecisionState::approved);
  later.change = model::EventMoved{"landing", day(9)};
  later.effective = day(3) + 1h;
  later.expires = day(9);
  auto& nobodys = scene.add_decision("D-3", model::DecisionState::approved);
  nobodys.authority = "";
  nobodys.expires = day(3) + 1h;
  const auto rows = scene.deadlines();
  REQUIRE(rows.size() == 2);
  CHECK(rows[0] == std::vector<std::string>{"from then on", "D-2: Landing at 2031-05-15T12:00Z", "board"});
  CHECK(rows[1] == std::vector<std::string>{"waiver ends", "D-1: waives limit", "board"});
}

TEST_CASE("a survey is told when it lapses before its poll, and not when it holds to it") {
  Scene scene;
  auto& demand = scene.add_zones_criterion();
  CHECK(scene.deadlines().empty());
  demand.max_age_hours = 54;  // taken on day 1, so to day 3 and a quarter
  CHECK(scene.deadlines() == Rows{{"survey lapses", "Entry, Nose", "board"}});
  scene.mission.gates.front().poll = day(3) + 3h;
  CHECK(scene.deadlines() == Rows{{"poll", "Entry: READY", "-"}});
}

TEST_CASE("the newest statement of a position ends when it says so") {
  Scene scene;
  const auto say = [&](model::Instant at, model::Instant until) {
    model::Merged<model::StatementRow> statement;
    statement.row.position = "weather";
    statement.row.says = "fair";
    statement.row.at = at;
    statement.row.valid_until = until;
    scene.facts.statements.push_back(std::move(statement));
  };
  say(day(1), day(3) + 1h);
  CHECK(scene.deadlines() == Rows{{"statement ends", "\"fair\"", "weather"}});
  say(day(2), day(4));
  CHECK(scene.deadlines().empty());
}

TEST_CASE("of many counts that grow too old the first is told, and how many follow") {
  Scene scene;
  scene.mission.items = {make_item("water"), make_item("air"), make_item("food")};
  scene.rules.margins.count_every_hours = 36;
  scene.facts.counts = {make_count("air", 5, day(2)), make_count("food", 5, day(1)),
                        make_count("water", 5, day(2) - 6h)};
  CHECK(scene.deadlines() == Rows{{"count again", "water in Tank, then 1 more", "whoever counts it"}});
  CHECK(scene.cells("stale_counts", {"count", "who"}) == Rows{{"food in Tank", "whoever counts it"}});
  scene.facts.counts.pop_back();
  CHECK(scene.cells("stale_counts", {"count", "last"})[0] == std::vector<std::string>{"water in Tank", "never"});
}

TEST_CASE("a new day, a planned transfer and the last decision for a way home are told") {
  Scene scene;
  scene.cutoff = day(5) - 6h;
  scene.mission.items = {make_item("water")};
  scene.facts.transfers = {make_transfer("water", 2, day(5) - 7h, "", "tank"),
                           make_done_transfer("water", 2, day(5) - 8h, "", "tank")};
  scene.rules.returns = {make_return({day(5) + 7h})};
  scene.facts.counts = {make_count("water", 5, day(4))};
  const auto rows = scene.deadlines();
  REQUIRE(rows.size() == 3);
  CHECK(rows[0] == std::vector<std::string>{"OVERDUE transfer", "t: water 2.0 kg, to Tank", "-"});
  CHECK(rows[1][0] == "last decision");
  CHECK(rows[1][1] == "Home at once");
  CHECK(rows[2] == std::vector<std::string>{"day", "FD 2 begins", "-"});
}

TEST_CASE("what an item lasts to is told when that is in the shift") {
  Scene scene;
  scene.mission.items = {make_item("water", "kg", 1)};
  scene.facts.counts = {make_count("water", 1, day(3))};  // three drink a kilogram a day each
  CHECK(scene.deadlines() == Rows{{"supply", "water falls to its reserve", "-"}});
  CHECK(scene.deadlines(7h).empty());
}

TEST_CASE("findings that are not closed name their zone and the gates that ask for it") {
  Scene scene;
  (void)scene.add_zones_criterion();
  scene.add_finding("F-1", "nose", model::FindingState::open, day(1));
  scene.add_finding("F-2", "nose", model::FindingState::open, day(1));
  scene.add_finding("F-2", "nose", model::FindingState::closed, day(2));
  scene.add_finding("F-3", "tail", model::FindingState::under_analysis, day(1));
  CHECK(scene.cells("findings", {"finding", "zone", "gates"}) ==
        Rows{{"F-1", "Nose", "Entry"}, {"F-3", "tail", "none"}});
}

TEST_CASE("equipment is off nominal by its newest report, by one that disagrees, or by what a gate demands") {
  Scene scene;
  model::Criterion criterion;
  criterion.id = criterion.title = "cells";
  criterion.gate = "entry";
  criterion.demand = model::EquipmentCriterion{{"cell_1", "cell_2"}, 1, 0, {"working"}, {}};
  scene.rules.criteria = {criterion};
  scene.add_equipment("cell_1", "working");
  scene.add_equipment("cell_2", "standby");  // works, but not for that gate
  scene.add_equipment("fan", "failed").row.from.remark = "hums";
  scene.add_equipment("lamp", "failed");
  scene.add_equipment("lamp", "working");
  scene.add_equipment("pump", "standby");
  auto& valve = scene.add_equipment("valve", "working");
  valve.rivals.push_back(valve.row);
  valve.rivals.front().state = "off";
  CHECK(scene.cells("off_nominal", {"unit", "state", "gates", "remark"}) ==
        Rows{{"cell_2", "standby", "Entry", ""},
             {"fan", "failed", "none", "hums"},
             {"valve", "working; another source: off", "none", ""}});
  scene.cutoff = day(10);  // landed
  CHECK(scene.cells("off_nominal", {"unit"}) == Rows{{"fan"}, {"valve"}});
}

TEST_CASE("a part whose log is not whole says that it may lack something") {
  Scene scene;
  CHECK(scene.handover().find("handover.unsure.findings") == nullptr);
  scene.facts.gaps = {{model::Log::findings, "FD 3", {}, "is not closed"},
                      {model::Log::findings, "FD 2", {}, "is not closed"}};
  const auto status = scene.handover();
  REQUIRE(status.find("handover.unsure.findings") != nullptr);
  CHECK(status.find("handover.unsure.findings")->text == "log findings of FD 3: is not closed, and 1 more");
  CHECK(status.find("handover.unsure.off_nominal") == nullptr);
}

TEST_CASE("long lists are cut, and how many rows are left out is a figure") {
  Scene scene;
  for (int i = 0; i < 20; ++i) scene.add_action("A-" + std::to_string(i), day(3) + std::chrono::minutes{i});
  const auto status = scene.handover();
  CHECK(number_of(status, "table.deadlines.more") == 4);
  CHECK(number_of(status, "handover.deadlines") == 20);
  CHECK(number_of(scene.handover(1min), "table.actions.more") == 14);
}

TEST_CASE("every figure of the handover says what it rests on") {
  Scene scene;
  (void)scene.add_zones_criterion();
  scene.add_action("A-1", day(3) + 1h);
  scene.add_equipment("fan", "failed");
  scene.add_finding("F-1", "nose", model::FindingState::open, day(1));
  scene.facts.gaps = {{model::Log::actions, "FD 3", {}, "is not closed"}};
  std::size_t count = 0;
  for (const auto& figure : scene.handover().figures) {
    if (!figure.id.starts_with("handover.")) continue;
    ++count;
    CAPTURE(figure.id);
    CHECK_FALSE(figure.trace.formula.empty());
    CHECK_FALSE(figure.trace.inputs.empty());
  }
  CHECK(count > 10);
}
