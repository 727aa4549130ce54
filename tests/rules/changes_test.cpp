// What the brief says has changed since the last one: the tables 'changes' and 'worse' of a status.
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"
#include "rules/status.h"

using daywright::model::AnomalyRow;
using daywright::model::AnomalyState;
using daywright::model::Day;
using daywright::model::DayStatus;
using daywright::model::DecisionRow;
using daywright::model::DecisionState;
using daywright::model::Facts;
using daywright::model::FindingRow;
using daywright::model::FindingState;
using daywright::model::Instant;
using daywright::model::Merged;
using daywright::model::Mission;
using daywright::model::Rulebook;
using daywright::rules::compute_status;
using daywright::rules::Evening;
using daywright::test::add_event;
using daywright::test::at_plan_only;
using daywright::test::Balance;
using daywright::test::day;
using daywright::test::make_count;
using daywright::test::make_item;
using daywright::test::make_limit;
using daywright::test::make_mission;
using namespace std::string_literals;

namespace {

using Lines = std::vector<std::string>;

/// Two evenings, at days 1 and 2 of a flight of ten, and what was known at each. Three persons drink 1 kg a day each,
/// and the gate 'Entry' demands so many days of water in hand.
struct Scene {
  Mission mission = make_mission();
  Rulebook rules;
  Facts then;
  Facts now;
  Day yesterday;
  Day today;
  Instant cutoff_then = day(1);
  Instant cutoff_now = day(2);

  Scene() {
    rules.margins = at_plan_only();
    rules.margins.estimate.factor_sd = 0;  // nothing moves by chance but by the scatter of counts, and that is none
    rules.margins.estimate.factor_drift = 0;
    mission.items = {make_item("water", "kg", 1)};
    mission.gates = {{"entry", "Entry", "landing", day(9), {}}};
    yesterday.number = 2;
    today.number = 3;
    hold(2, 2);
  }

  /// So many days of water more than the flight needs were counted on each evening; nothing: not counted at all.
  void hold(std::optional<double> days_then, std::optional<double> days_now) {
    then.counts.clear();
    now.counts.clear();
    if (days_then) then.counts.push_back(make_count("water", 3 * (9 + *days_then), cutoff_then));
    if (days_now) now.counts.push_back(make_count("water", 3 * (8 + *days_now), cutoff_now));
  }
  /// The gate is READY with at least so many days of water.
  void demand_days(double days) { rules.criteria.push_back(make_limit("item.water.margin.days", days)); }

  [[nodiscard]] DayStatus status_then() const {
    return compute_status({mission, rules, then, yesterday, cutoff_then}, nullptr, {});
  }
  [[nodiscard]] DayStatus status(bool has_brief_before = true) const {
    const Evening before{mission, rules, then, yesterday, cutoff_then};
    return compute_status({mission, rules, now, today, cutoff_now}, has_brief_before ? &before : nullptr, {});
  }
};

/// The rows of a table, as "what: change (direction)".
Lines lines_of(const DayStatus& status, const std::string& name) {
  const auto* table = status.find_table(name);
  REQUIRE(table != nullptr);
  Lines lines;
  for (const auto& row : table->rows) {
    lines.push_back(status.text_of(row.at(0), table->columns.at(0)) + ": " +
                    status.text_of(row.at(1), table->columns.at(1)) + " (" +
                    status.text_of(row.at(2), table->columns.at(2)) + ")");
  }
  return lines;
}

Lines changes_of(const Scene& scene) { return lines_of(scene.status(), "changes"); }

Merged<FindingRow> make_finding(std::string finding, FindingState state, std::string disposition = "look again",
                                Instant when = day(1)) {
  Merged<FindingRow> row;
  row.row.finding = std::move(finding);
  row.row.zone = "nose";
  row.row.severity = "major";
  row.row.state = state;
  row.row.disposition = std::move(disposition);
  row.row.when = when;
  return row;
}

Merged<AnomalyRow> make_anomaly(std::string anomaly, AnomalyState state) {
  Merged<AnomalyRow> row;
  row.row.anomaly = std::move(anomaly);
  row.row.severity = "minor";
  row.row.state = state;
  row.row.opened = day(1);
  return row;
}

Merged<DecisionRow> make_decision(std::string decision, DecisionState state) {
  Merged<DecisionRow> row;
  row.row.decision = std::move(decision);
  row.row.state = state;
  row.row.effective = day(1);
  return row;
}

}  // namespace

TEST_CASE("without a brief before this one nothing has changed, whatever the evening holds") {
  Scene scene;
  scene.hold(5, 1);
  scene.demand_days(2);
  scene.now.findings = {make_finding("f1", FindingState::open)};
  CHECK(lines_of(scene.status(false), "changes").empty());
  CHECK(lines_of(scene.status(false), "worse").empty());
  CHECK(scene.status(false).find("changes.worse")->text == "0");
}

TEST_CASE("an evening like the last one has no changes") {
  Scene scene;
  scene.demand_days(2);
  for (Facts* facts : {&scene.then, &scene.now}) {
    facts->findings = {make_finding("f1", FindingState::open), make_finding("f2", FindingState::closed)};
    facts->anomalies = {make_anomaly("a1", AnomalyState::open), make_anomaly("a2", AnomalyState::closed)};
    facts->decisions = {make_decision("d1", DecisionState::approved)};
  }
  CHECK(changes_of(scene).empty());
}

// Verdicts

TEST_CASE("a gate whose verdict falls is worse, one whose verdict rises is better") {
  Scene scene;
  scene.demand_days(2);
  scene.hold(2, 1.9);  // less than what tells of the margin itself
  CHECK(changes_of(scene) == Lines{"Entry: READY to NOT READY (worse)", "margin of water: 2.0 d to 1.9 d (worse)"});
  scene.hold(1.9, 2);
  CHECK(changes_of(scene) == Lines{"Entry: NOT READY to READY (better)", "margin of water: 1.9 d to 2.0 d (better)"});
}

TEST_CASE("a gate that loses its evidence is worse, one that fails with or without evidence has only changed") {
  Scene scene;
  scene.demand_days(2);
  scene.hold(2, std::nullopt);
  CHECK(changes_of(scene).at(0) == "Entry: READY to NO DATA (worse)");
  scene.hold(1, std::nullopt);
  CHECK(changes_of(scene).at(1) == "Entry: NOT READY to NO DATA (changed)");
  scene.hold(std::nullopt, 1);
  CHECK(changes_of(scene).at(0) == "Entry: NO DATA to NOT READY (changed)");
  scene.hold(std::nullopt, 2);
  CHECK(changes_of(scene).at(0) == "Entry: NO DATA to READY (better)");
}

TEST_CASE("a gate whose event is over at the cut-off has no changes any more") {
  Scene scene;
  scene.demand_days(2);
  scene.hold(2, 1.9);
  add_event(scene.mission, "departure", day(2) + std::chrono::minutes{1});
  scene.mission.gates[0].event = "departure";
  CHECK(changes_of(scene).at(0) == "Entry: READY to NOT READY (worse)");
  scene.mission.events.back().at = day(2);
  CHECK(changes_of(scene) == Lines{"margin of water: 2.0 d to 1.9 d (worse)"});
}

// Margins

TEST_CASE("without scatter a margin counts as changed from the first tenth of a day that is shown") {
  Scene scene;
  scene.hold(2.0, 2.0);
  CHECK(changes_of(scene).empty());
  scene.hold(2.0, 2.4);
  CHECK(changes_of(scene) == Lines{"margin of water: 2.0 d to 2.4 d (better)"});
  scene.hold(2.4, 2.0);
  CHECK(changes_of(scene) == Lines{"margin of water: 2.4 d to 2.0 d (worse)"});
  scene.hold(8.0, 8.1);
  CHECK(changes_of(scene) == Lines{"margin of water: 8.0 d to 8.1 d (better)"});
}

TEST_CASE("a margin counts as changed beyond two deviations of what new counts tell, and not within") {
  Scene scene;
  scene.rules.margins.estimate = {};
  scene.rules.margins.estimate.miscount_chance = 0;  // a count that strays far is believed
  scene.rules.margins.estimate.leak_chance = 0;
  scene.mission.items[0].sigma = {{"gauge", 1}};
  const auto sd_at = [&](const Facts& facts, Instant cutoff) {
    return Balance(scene.mission, facts, cutoff, scene.rules.margins).of("water").sd;
  };
  // The day after there are two counts, a day further on.
  const auto hold = [&](double days_now) {
    scene.hold(5, days_now);
    scene.now.counts.insert(scene.now.counts.begin(), scene.then.counts[0]);
  };
  hold(5);
  const double then = sd_at(scene.then, scene.cutoff_then);
  const double now = sd_at(scene.now, scene.cutoff_now);
  REQUIRE(then > now);
  REQUIRE(now > 0);
  const double telling = 2 * std::sqrt(then * then - now * now) / 3;  // days
  REQUIRE(telling > 0.3);
  const auto shown = [&](const char* id) {
    const DayStatus status = scene.status();
    return std::get<double>(status.find(id)->value);
  };
  std::size_t reported = 0;
  std::size_t kept_quiet = 0;
  for (int tenths = -60; tenths <= 60; ++tenths) {
    hold(5 + tenths * 0.1);
    const double moved =
        shown("item.water.margin.days") - std::get<double>(scene.status_then().find("item.water.margin.days")->value);
    CAPTURE(tenths, moved, telling);
    constexpr double shown_step = 0.1;  // both margins are rounded before they are compared
    if (std::abs(moved) > telling + shown_step) {
      CHECK(changes_of(scene).size() == 1);
      ++reported;
    } else if (std::abs(moved) < telling - shown_step) {
      CHECK(changes_of(scene).empty());
      ++kept_quiet;
    }
  }
  CHECK(reported > 3);
  CHECK(kept_quiet > 3);
}

TEST_CASE("a margin that falls below nothing is worse, and shows its sign") {
  Scene scene;
  scene.hold(1, -1);
  CHECK(changes_of(scene) == Lines{"margin of water: 1.0 d to -1.0 d (worse)"});
}

TEST_CASE("a margin that is not known any more is worse, one that is known again is better") {
  Scene scene;
  scene.hold(2, std::nullopt);
  CHECK(changes_of(scene) == Lines{"margin of water: 2.0 d to NO DATA (worse)"});
  scene.hold(std::nullopt, -2);
  CHECK(changes_of(scene) == Lines{"margin of water: NO DATA to -2.0 d (better)"});
  scene.hold(std::nullopt, std::nullopt);
  CHECK(changes_of(scene).empty());
}

TEST_CASE("each item is held against its own margin of the last evening") {
  Scene scene;
  scene.mission.items.push_back(make_item("food", "kg", 1));
  scene.hold(2, 1);
  scene.then.counts.push_back(make_count("food", 3 * (9 + 4.0), day(1)));
  scene.now.counts.push_back(make_count("food", 3 * (8 + 4.0), day(2)));
  CHECK(changes_of(scene) == Lines{"margin of water: 2.0 d to 1.0 d (worse)"});
}

// Findings, anomalies, decisions

TEST_CASE("a finding that is new and open is worse, one that is closed is better") {
  Scene scene;
  scene.now.findings = {make_finding("f1", FindingState::open, "crack")};
  CHECK(changes_of(scene) == Lines{"finding f1 major, open: new (worse)"});
  scene.now.findings = {make_finding("f1", FindingState::under_analysis, "crack")};
  CHECK(changes_of(scene) == Lines{"finding f1 major, open: new (worse)"});
  scene.then.findings = {make_finding("f1", FindingState::open, "crack")};
  scene.now.findings = {make_finding("f1", FindingState::closed, "only dust")};
  CHECK(changes_of(scene) == Lines{"finding f1 major, closed: was: finding f1 major, open (better)"});
}

TEST_CASE("a finding of which more is said, but which stands as it stood, is not listed") {
  Scene scene;
  scene.then.findings = {make_finding("f1", FindingState::open, "crack")};
  scene.now.findings = {make_finding("f1", FindingState::open, "crack, photographed")};
  CHECK(changes_of(scene).empty());
}

TEST_CASE("a finding that is opened again, or becomes more severe, is worse") {
  Scene scene;
  scene.then.findings = {make_finding("f1", FindingState::open, "crack"),
                         make_finding("f1", FindingState::closed, "only dust")};
  scene.now.findings = scene.then.findings;
  scene.now.findings.push_back(make_finding("f1", FindingState::open, "crack"));
  CHECK(changes_of(scene) == Lines{"finding f1 major, open: was: finding f1 major, closed (worse)"});
  scene.then.findings = {make_finding("f1", FindingState::open)};
  scene.now.findings = scene.then.findings;
  scene.now.findings[0].row.severity = "critical";
  CHECK(changes_of(scene) == Lines{"finding f1 critical, open: was: finding f1 major, open (worse)"});
}

TEST_CASE("of several findings only the new one is listed") {
  Scene scene;
  scene.then.findings = {make_finding("f1", FindingState::open), make_finding("f2", FindingState::closed)};
  scene.now.findings = scene.then.findings;
  scene.now.findings.push_back(make_finding("f3", FindingState::open, "dent"));
  CHECK(changes_of(scene) == Lines{"finding f3 major, open: new (worse)"});
}

TEST_CASE("an anomaly that opens or opens again is worse, one that closes is better") {
  Scene scene;
  scene.now.anomalies = {make_anomaly("a1", AnomalyState::open)};
  CHECK(changes_of(scene) == Lines{"anomaly a1 minor, open: new (worse)"});
  scene.then.anomalies = {make_anomaly("a1", AnomalyState::closed)};
  CHECK(changes_of(scene) == Lines{"anomaly a1 minor, open: was: anomaly a1 minor, closed (worse)"});
  std::swap(scene.then, scene.now);
  scene.hold(2, 2);
  CHECK(changes_of(scene) == Lines{"anomaly a1 minor, closed: was: anomaly a1 minor, open (better)"});
}

TEST_CASE("a decision is listed in each state it enters, and is neither better nor worse") {
  for (const auto& [state, words] :
       {std::pair{DecisionState::proposed, "proposed"}, std::pair{DecisionState::approved, "approved"},
        std::pair{DecisionState::refused, "refused"}, std::pair{DecisionState::withdrawn, "withdrawn"}}) {
    Scene scene;
    scene.now.decisions = {make_decision("d1", state)};
    CHECK(changes_of(scene) == Lines{"decision d1 "s + words + ": new (changed)"});
    CHECK(lines_of(scene.status(), "worse").empty());
    scene.then.decisions = scene.now.decisions;
    CHECK(changes_of(scene).empty());
  }
}

// The tables

TEST_CASE("what is worse comes first, what is better last, and the worse ones stand again by themselves") {
  Scene scene;
  scene.demand_days(2);
  scene.hold(3, 1);
  scene.now.decisions = {make_decision("d1", DecisionState::proposed)};
  scene.now.anomalies = {make_anomaly("a1", AnomalyState::closed)};
  scene.now.findings = {make_finding("f1", FindingState::open, "dent")};
  const DayStatus status = scene.status();
  CHECK(lines_of(status, "changes") ==
        Lines{"Entry: READY to NOT READY (worse)", "margin of water: 3.0 d to 1.0 d (worse)",
              "finding f1 major, open: new (worse)", "decision d1 proposed: new (changed)",
              "anomaly a1 minor, closed: new (better)"});
  CHECK(lines_of(status, "worse") == Lines{"Entry: READY to NOT READY (worse)",
                                           "margin of water: 3.0 d to 1.0 d (worse)",
                                           "finding f1 major, open: new (worse)"});
  CHECK(status.find("changes.worse")->text == "3");
}

TEST_CASE("what turns from better to worse is the mirror image when the evenings change places") {
  for (const double change : {0.4, 1.0, 3.5}) {
    Scene scene;
    scene.hold(2, 2 + change);
    CHECK(changes_of(scene).at(0).ends_with("(better)"));
    CHECK(scene.status().find("changes.worse")->text == "0");
    scene.hold(2 + change, 2);
    CHECK(changes_of(scene).at(0).ends_with("(worse)"));
    CHECK(scene.status().find("changes.worse")->text == "1");
  }
}

TEST_CASE("more than six changes are all in the table, and the brief is told how many it leaves out") {
  Scene scene;
  for (int i = 10; i < 16; ++i) scene.now.findings.push_back(make_finding("f" + std::to_string(i), FindingState::open));
  CHECK(scene.status().find("table.changes.more") == nullptr);
  scene.now.findings.push_back(make_finding("f20", FindingState::open));
  CHECK(changes_of(scene).size() == 7);
  CHECK(lines_of(scene.status(), "worse").size() == 3);
  CHECK(scene.status().find("changes.worse")->text == "7");
  REQUIRE(scene.status().find("table.changes.more") != nullptr);
  CHECK(scene.status().find("table.changes.more")->text == "1");
}

TEST_CASE("a task that is carried over since is worse, and one that was and is done now is better") {
  Scene scene;
  for (Facts* facts : {&scene.then, &scene.now}) {
    facts->plan = {daywright::test::make_plan("a", 2), daywright::test::make_plan("b", 3)};
    facts->plan[0].row.title = facts->plan[1].row.title = "look";
  }
  // On the evening of the third day task b is late as well; a was late the day before.
  CHECK(changes_of(scene) == Lines{"task b: carried over: look (worse)"});
  scene.now.tasks = {daywright::test::make_task("a", daywright::model::TaskState::done, 100, day(2))};
  CHECK(changes_of(scene) == Lines{"task b: carried over: look (worse)", "task a: carried over, done now (better)"});
}
