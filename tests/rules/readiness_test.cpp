// Criteria and gates: how verdicts combine, each kind of criterion, and that nothing missing reads as READY.
// All tasks, positions, anomalies and limits are invented.
#include "rules/readiness.h"

#include <algorithm>
#include <array>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <vector>

#include "builders.h"
#include "rules/figures.h"

using Catch::Matchers::ContainsSubstring;
using daywright::model::AnomaliesCriterion;
using daywright::model::AnomalyState;
using daywright::model::ClearanceState;
using daywright::model::CloseoutsCriterion;
using daywright::model::Comparison;
using daywright::model::Criterion;
using daywright::model::Facts;
using daywright::model::FigureCriterion;
using daywright::model::find_unit;
using daywright::model::Instant;
using daywright::model::Log;
using daywright::model::Merged;
using daywright::model::Mission;
using daywright::model::rank;
using daywright::model::Rounding;
using daywright::model::Rulebook;
using daywright::model::StatementCriterion;
using daywright::model::TasksCriterion;
using daywright::model::TaskState;
using daywright::model::Verdict;
using daywright::model::ZonesCriterion;
using daywright::rules::CriterionResult;
using daywright::rules::FigureBook;
using daywright::rules::follow_tasks;
using daywright::rules::GateResult;
using daywright::rules::judge_figure;
using daywright::rules::judge_gates;
using daywright::test::add_event;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_clearance;
using daywright::test::make_mission;
using daywright::test::make_plan;
using daywright::test::make_survey;
using daywright::test::make_task;
using namespace std::chrono_literals;
using namespace std::string_literals;

namespace {

constexpr std::array all_verdicts{Verdict::ready, Verdict::ready_with_conditions, Verdict::not_ready, Verdict::no_data};

/// The gate 'entry', polled on day 9, and what is known on day 7.
struct Scene {
  Mission mission = make_mission();
  Rulebook rules;
  Facts facts;

  Scene() { mission.gates = {{"entry", "Entry", "landing", day(9), {}}}; }

  template <class Demand>
  void demand(Demand wanted, std::string gate = "entry") {
    Criterion criterion;
    criterion.id = "c" + std::to_string(rules.criteria.size());
    criterion.title = criterion.id;
    criterion.gate = std::move(gate);
    criterion.demand = std::move(wanted);
    rules.criteria.push_back(std::move(criterion));
  }

  [[nodiscard]] std::vector<GateResult> gates() const {
    const auto tasks = follow_tasks(facts);
    return judge_gates(rules, {mission, facts, tasks, FigureBook(mission), day(7)});
  }
  [[nodiscard]] GateResult gate() const { return gates().at(0); }
  [[nodiscard]] Verdict verdict() const { return gate().verdict; }
  [[nodiscard]] std::string reason() const { return gate().criteria.at(0).reason; }
};

/// A criterion of one zone of its own that has the verdict asked for.
void demand_zone(Scene& scene, Verdict verdict) {
  const std::string zone = "z" + std::to_string(scene.mission.zones.size());
  scene.mission.zones.push_back({zone, zone, "ship", {}, {}});
  scene.facts.surveys.push_back(make_survey("v-" + zone, zone, 100, day(5)));
  const auto state = verdict == Verdict::ready                   ? ClearanceState::cleared
                     : verdict == Verdict::ready_with_conditions ? ClearanceState::cleared_with_conditions
                                                                 : ClearanceState::not_cleared;
  if (verdict != Verdict::no_data) scene.facts.clearances.push_back(make_clearance(zone, state, day(6)));
  ZonesCriterion demand;
  demand.zones = {zone};
  demand.authority = "board";
  demand.survey_kind = "wide";
  scene.demand(demand);
}

/// The rule of design 4.4, read as it is written.
Verdict as_the_design_says(const std::vector<Verdict>& verdicts) {
  for (const Verdict v : {Verdict::not_ready, Verdict::no_data, Verdict::ready_with_conditions}) {
    if (std::find(verdicts.begin(), verdicts.end(), v) != verdicts.end()) return v;
  }
  return Verdict::ready;
}

}  // namespace

// Gates

TEST_CASE("a gate is NOT READY if any criterion is, else NO DATA, else with conditions, else READY") {
  std::vector<std::vector<Verdict>> sets;
  for (const Verdict a : all_verdicts) {
    sets.push_back({a});
    for (const Verdict b : all_verdicts) {
      sets.push_back({a, b});
      for (const Verdict c : all_verdicts) sets.push_back({a, b, c});
    }
  }
  CHECK(sets.size() == 4 + 16 + 64);
  for (const auto& verdicts : sets) {
    Scene scene;
    for (const Verdict verdict : verdicts) demand_zone(scene, verdict);
    const GateResult gate = scene.gate();
    CHECK(gate.verdict == as_the_design_says(verdicts));
    REQUIRE(gate.criteria.size() == verdicts.size());
    for (std::size_t i = 0; i < verdicts.size(); ++i) CHECK(gate.criteria[i].verdict == verdicts[i]);
    for (const Verdict verdict : all_verdicts) {
      CHECK(gate.how_many(verdict) == static_cast<std::size_t>(std::count(verdicts.begin(), verdicts.end(), verdict)));
    }
    // The criterion to speak of first has the verdict of the gate, and is the first that has.
    if (gate.verdict == Verdict::ready) {
      CHECK(gate.holding() == nullptr);
    } else {
      const auto first = std::find(verdicts.begin(), verdicts.end(), gate.verdict) - verdicts.begin();
      CHECK(gate.holding() == &gate.criteria[static_cast<std::size_t>(first)]);
    }
  }
}

TEST_CASE("a gate is never better than any of its criteria") {
  for (const Verdict a : all_verdicts) {
    for (const Verdict b : all_verdicts) {
      Scene scene;
      demand_zone(scene, a);
      demand_zone(scene, b);
      CHECK(rank(scene.verdict()) == std::min(rank(a), rank(b)));
    }
  }
}

TEST_CASE("a gate without a criterion has nothing to stand on: NO DATA") {
  CHECK(Scene().verdict() == Verdict::no_data);
  Scene scene;
  scene.demand(TasksCriterion{}, "elsewhere");
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.gate().criteria.empty());
}

TEST_CASE("gates come in the order of their events, and those of one event in the order of the plan") {
  Scene scene;
  add_event(scene.mission, "eva", day(8));
  scene.mission.gates = {{"entry", "Entry", "landing", day(9), {}},
                         {"out", "Out", "eva", day(7), {}},
                         {"again", "Again", "landing", day(6), {}}};
  std::vector<std::string> order;
  for (const auto& gate : scene.gates()) order.push_back(gate.gate->id);
  CHECK(order == std::vector{"out"s, "entry"s, "again"s});
}

TEST_CASE("a zones criterion keeps its zones, and is as bad as the worst of them") {
  Scene scene;
  demand_zone(scene, Verdict::ready);
  demand_zone(scene, Verdict::ready_with_conditions);
  auto& first = std::get<ZonesCriterion>(scene.rules.criteria[0].demand);
  first.zones = {"z0", "z1"};
  CHECK(scene.gate().criteria[0].verdict == Verdict::ready_with_conditions);
  CHECK(scene.gate().criteria[0].zones.size() == 2);
  CHECK_THAT(scene.reason(), ContainsSubstring("z1: on condition: look again"));
}

// Figures

namespace {

struct FigureCase {
  double value = 0;
  std::string unit = "kg";
  double step = 0.1;
  std::vector<std::string> doubts{};
};

/// Judges a figure, rounded down to its step as margins are, against a limit.
CriterionResult judged(const FigureCase& of, Comparison comparison, double limit, std::string_view unit) {
  const Mission mission = make_mission();
  FigureBook book(mission);
  book.number({"f", "Figure", {}, of.doubts}, of.value, of.unit, of.step, Rounding::down);
  static const Criterion criterion;
  return judge_figure(criterion, {"f", comparison, limit, unit.empty() ? nullptr : find_unit(unit)}, book.find("f"));
}

Verdict at_least(const FigureCase& of, double limit, std::string_view unit = "kg") {
  return judged(of, Comparison::at_least, limit, unit).verdict;
}
Verdict at_most(const FigureCase& of, double limit, std::string_view unit = "kg") {
  return judged(of, Comparison::at_most, limit, unit).verdict;
}

}  // namespace

TEST_CASE("a figure meets its limit on the limit, and misses it a step beyond") {
  CHECK(at_least({.value = 12.5}, 12.5) == Verdict::ready);
  CHECK(at_least({.value = 12.4}, 12.5) == Verdict::not_ready);
  CHECK(at_most({.value = 12.5}, 12.5) == Verdict::ready);
  CHECK(at_most({.value = 12.6}, 12.5) == Verdict::not_ready);
  CHECK(at_least({.value = 0}, 0) == Verdict::ready);
  CHECK(at_least({.value = -0.1}, 0) == Verdict::not_ready);
}

TEST_CASE("the rounded figure that is shown is the one that is judged") {
  CHECK(at_least({.value = 12.49}, 12.45) == Verdict::not_ready);  // shown as 12.4
  CHECK(at_least({.value = 12.49}, 12.4) == Verdict::ready);
  CHECK(at_most({.value = 12.49}, 12.4) == Verdict::ready);
  CHECK(at_least({.value = -0.04}, 0) == Verdict::not_ready);  // shown as -0.1
  CHECK(at_least({.value = 0.3, .step = 0.1}, 0.3) == Verdict::ready);
  CHECK(at_least({.value = 0.1 + 0.2, .step = 0.1}, 0.3) == Verdict::ready);
}

TEST_CASE("a limit in another unit of the same kind is converted") {
  // 1 lb = 0.45359237 kg
  CHECK(at_least({.value = 4.6}, 10, "lb") == Verdict::ready);      // 10.14 lb
  CHECK(at_least({.value = 4.5}, 10, "lb") == Verdict::not_ready);  // 9.92 lb
  CHECK(at_least({.value = 2, .unit = "d"}, 48, "h") == Verdict::ready);
  CHECK(at_least({.value = 1.9, .unit = "d"}, 48, "h") == Verdict::not_ready);
  CHECK(at_most({.value = 20, .unit = "degC"}, 293.2, "K") == Verdict::ready);  // 293.15 K
}

TEST_CASE("a limit in a unit that measures something else is NO DATA, whatever the numbers") {
  for (const auto& [unit, limit_unit] : {std::pair{"kg", "L"}, std::pair{"kg", ""}, std::pair{"", "kg"},
                                         std::pair{"meal", "each"}, std::pair{"d", "crew-d"}}) {
    CAPTURE(unit, limit_unit);
    CHECK(at_least({.value = 100, .unit = unit}, 1, limit_unit) == Verdict::no_data);
    CHECK(at_least({.value = 0, .unit = unit}, 1, limit_unit) == Verdict::no_data);
  }
  CHECK(at_least({.value = 2, .unit = ""}, 1, "") == Verdict::ready);
}

TEST_CASE("a figure that there is none of, without a value, or in words is NO DATA") {
  const Mission mission = make_mission();
  FigureBook book(mission);
  book.number({"none", "None", {}, {"never counted"}}, std::nullopt, "kg", 0.1, Rounding::down);
  book.words({"words", "Words", {}, {}}, "plenty");
  book.instant({"when", "When", {}, {}}, launch);
  const Criterion criterion;
  for (const auto id : {"none", "words", "when", "missing"}) {
    const FigureCriterion demand{id, Comparison::at_least, 1, find_unit("kg")};
    CAPTURE(id);
    CHECK(judge_figure(criterion, demand, book.find(id)).verdict == Verdict::no_data);
  }
  const FigureCriterion demand{"none", Comparison::at_least, 1, find_unit("kg")};
  CHECK(judge_figure(criterion, demand, book.find("none")).reason == "None: never counted");
}

TEST_CASE("a doubtful figure is never READY, and a doubt excuses no failure") {
  CHECK(at_least({.value = 12.5, .doubts = {"stale"}}, 12.5) == Verdict::no_data);
  CHECK(at_least({.value = 12.4, .doubts = {"stale"}}, 12.5) == Verdict::not_ready);
}

TEST_CASE("a judged figure is named with its value and limit, and leads back to the figure") {
  const CriterionResult result = judged({.value = 12.4}, Comparison::at_least, 12.5, "kg");
  CHECK(result.reason == "Figure is 12.4 kg, at least 12.5 kg wanted");
  CHECK(std::any_of(result.trace.inputs.begin(), result.trace.inputs.end(),
                    [](const auto& input) { return input.figure == "f"; }));
}

// Tasks

namespace {

/// Two tasks due for the gate and one that is not; the first two are done.
Scene task_scene(TasksCriterion demand = {}) {
  Scene scene;
  scene.facts.plan = {make_plan("t1", 1, "entry"), make_plan("t2", 2, "entry"), make_plan("t3", 2)};
  scene.facts.tasks = {make_task("t1", TaskState::done, 100), make_task("t2", TaskState::done, 100)};
  scene.demand(std::move(demand));
  return scene;
}

}  // namespace

TEST_CASE("tasks are READY when all that are due for the gate are done, and no others are asked for") {
  Scene scene = task_scene();
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.plan[2].row.gate = "entry";
  CHECK(scene.verdict() == Verdict::not_ready);
  CHECK_THAT(scene.reason(), ContainsSubstring("task t3 is not done"));
}

TEST_CASE("every state of a task but done is NOT READY") {
  for (const auto state : {TaskState::started, TaskState::partial, TaskState::not_done}) {
    Scene scene = task_scene();
    scene.facts.tasks[1].row.state = state;
    CHECK(scene.verdict() == Verdict::not_ready);
  }
  Scene scene = task_scene();
  scene.facts.tasks.pop_back();
  CHECK(scene.verdict() == Verdict::not_ready);
}

TEST_CASE("named tasks are asked for whatever gate they are due for") {
  CHECK(task_scene({{"t1"}}).verdict() == Verdict::ready);
  CHECK(task_scene({{"t3"}}).verdict() == Verdict::not_ready);
  CHECK(task_scene({{"t1", "t3"}}).verdict() == Verdict::not_ready);
}

TEST_CASE("a named task that is not planned is NO DATA, and so is a gate for which nothing is planned") {
  CHECK(task_scene({{"t1", "t9"}}).verdict() == Verdict::no_data);
  Scene scene = task_scene();
  for (auto& plan : scene.facts.plan) plan.row.gate.clear();
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.reason() == "no task is planned for the gate");
}

TEST_CASE(
    "a rejected row of a task bears on that task, one of an unknown task on all, and any row of the plan on all") {
  const auto verdict_with = [](Log log, const std::string& subject) {
    Scene scene = task_scene();
    scene.facts.rejected = {{log, subject, "", "", "", {}, day(1), "why"}};
    return scene.verdict();
  };
  CHECK(verdict_with(Log::tasks, "t1") == Verdict::no_data);
  CHECK(verdict_with(Log::tasks, "t3") == Verdict::ready);
  CHECK(verdict_with(Log::tasks, "") == Verdict::no_data);
  CHECK(verdict_with(Log::plan, "t3") == Verdict::no_data);
  CHECK(verdict_with(Log::counts, "") == Verdict::ready);
}

// Close-outs

namespace {

Merged<daywright::model::CloseoutRow> make_closeout(std::string name, double done, double of, Instant when = launch) {
  Merged<daywright::model::CloseoutRow> row;
  row.row.closeout = std::move(name);
  row.row.done = done;
  row.row.of = of;
  row.row.when = when;
  return row;
}

Scene closeout_scene() {
  Scene scene;
  scene.facts.closeouts = {make_closeout("hatch", 5, 5), make_closeout("seats", 3, 3)};
  scene.demand(CloseoutsCriterion{{"hatch", "seats"}});
  return scene;
}

}  // namespace

TEST_CASE("close-outs are READY when each is reported with all of its steps done") {
  Scene scene = closeout_scene();
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.closeouts[1].row.done = 2;
  CHECK(scene.verdict() == Verdict::not_ready);
  CHECK(scene.reason() == "close-out seats: 2 of 3 done");
  scene.facts.closeouts.pop_back();
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.reason() == "close-out seats was never reported");
}

TEST_CASE("the newest report of a close-out counts, better or worse") {
  for (const auto& [first, second, verdict] :
       {std::tuple{2.0, 5.0, Verdict::ready}, std::tuple{5.0, 2.0, Verdict::not_ready}}) {
    Scene scene = closeout_scene();
    scene.facts.closeouts = {make_closeout("hatch", first, 5), make_closeout("hatch", second, 5, day(1)),
                             make_closeout("seats", 3, 3)};
    CHECK(scene.verdict() == verdict);
  }
}

TEST_CASE("an unfinished close-out is NOT READY although another was never reported") {
  Scene scene = closeout_scene();
  scene.facts.closeouts = {make_closeout("seats", 2, 3)};
  CHECK(scene.verdict() == Verdict::not_ready);
}

// Anomalies

namespace {

Merged<daywright::model::AnomalyRow> make_anomaly(std::string severity, AnomalyState state, std::string gate = "") {
  Merged<daywright::model::AnomalyRow> row;
  row.row.anomaly = "a1";
  row.row.severity = std::move(severity);
  row.row.state = state;
  row.row.gate = std::move(gate);
  return row;
}

Scene anomaly_scene() {
  Scene scene;
  scene.demand(AnomaliesCriterion{{"major", "critical"}});
  return scene;
}

}  // namespace

TEST_CASE("no anomaly at all is READY only because the log is closed on every day") {
  Scene scene = anomaly_scene();
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.gaps = {{Log::anomalies, "FD 3", {}, "nobody closed it"}};
  CHECK(scene.verdict() == Verdict::no_data);
}

TEST_CASE("an open anomaly of a named severity holds the gate it bears on, one without a gate holds all") {
  for (const auto severity : {"minor", "major", "critical"}) {
    for (const auto state : {AnomalyState::open, AnomalyState::closed}) {
      for (const auto gate : {"", "entry", "leave"}) {
        Scene scene = anomaly_scene();
        scene.facts.anomalies = {make_anomaly(severity, state, gate)};
        const bool holds = severity != "minor"s && state == AnomalyState::open && gate != "leave"s;
        CAPTURE(severity, gate);
        CHECK(scene.verdict() == (holds ? Verdict::not_ready : Verdict::ready));
      }
    }
  }
}

TEST_CASE("an open anomaly is NOT READY although the log has a gap") {
  Scene scene = anomaly_scene();
  scene.facts.anomalies = {make_anomaly("major", AnomalyState::open)};
  scene.facts.gaps = {{Log::anomalies, "FD 3", {}, "nobody closed it"}};
  CHECK(scene.verdict() == Verdict::not_ready);
}

// Statements

namespace {

Merged<daywright::model::StatementRow> make_statement(std::string position, std::string says, Instant at) {
  Merged<daywright::model::StatementRow> row;
  row.row.position = std::move(position);
  row.row.says = std::move(says);
  row.row.at = at;
  return row;
}

Scene statement_scene() {
  Scene scene;
  scene.facts.statements = {make_statement("desk", "fit", day(6))};
  scene.demand(StatementCriterion{"desk", {"fit", "fit to land"}});
  return scene;
}

}  // namespace

TEST_CASE("a statement is READY when the position says one of what is accepted, and NOT READY when it says another") {
  Scene scene = statement_scene();
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.statements[0].row.says = "fit to land";
  CHECK(scene.verdict() == Verdict::ready);
  for (const auto says : {"unfit", "Fit", "fit ", ""}) {
    scene.facts.statements[0].row.says = says;
    CHECK(scene.verdict() == Verdict::not_ready);
  }
}

TEST_CASE("without a statement of the position there is NO DATA, whatever others say") {
  Scene scene = statement_scene();
  scene.facts.statements[0].row.position = "board";
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.reason() == "no statement of desk");
  scene.facts.statements.clear();
  CHECK(scene.verdict() == Verdict::no_data);
}

TEST_CASE("the newest statement counts, better or worse") {
  for (const auto& [first, second, verdict] :
       {std::tuple{"unfit", "fit", Verdict::ready}, std::tuple{"fit", "unfit", Verdict::not_ready}}) {
    Scene scene = statement_scene();
    scene.facts.statements = {make_statement("desk", first, day(5)), make_statement("desk", second, day(6))};
    CHECK(scene.verdict() == verdict);
  }
}

TEST_CASE("a statement holds up to the poll, or it is NO DATA") {
  Scene scene = statement_scene();
  scene.facts.statements[0].row.valid_until = day(9);
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.statements[0].row.valid_until = day(9) - 1us;
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.reason() == "the statement of desk ends before the poll");
}

// Missing evidence

TEST_CASE("whatever the kind of criterion, a gap, a lost row or a conflict in its log takes READY away") {
  struct Kind {
    Log log;
    std::string subject;  ///< of the criterion, as rejected rows name it
    std::string other;    ///< something else of the same log
    Scene scene;
    std::function<void(Scene&)> contradict;
  };
  std::vector<Kind> kinds{
      {Log::closeouts, "hatch", "suits", closeout_scene(),
       [](Scene& s) { s.facts.closeouts[0].rivals = {s.facts.closeouts[0].row}; }},
      {Log::statements, "desk", "board", statement_scene(),
       [](Scene& s) { s.facts.statements[0].rivals = {s.facts.statements[0].row}; }},
      {Log::tasks, "t1", "t3", task_scene(), [](Scene& s) { s.facts.tasks[0].rivals = {s.facts.tasks[0].row}; }},
      {Log::plan, "t1", "", task_scene(), [](Scene& s) { s.facts.plan[0].rivals = {s.facts.plan[0].row}; }},
      {Log::anomalies, "", "", anomaly_scene(),
       [](Scene& s) {
         s.facts.anomalies = {make_anomaly("minor", AnomalyState::closed)};
         s.facts.anomalies[0].rivals = {s.facts.anomalies[0].row};
       }},
  };
  for (auto& [log, subject, other, scene, contradict] : kinds) {
    CAPTURE(std::string(name_of(log)));
    REQUIRE(scene.verdict() == Verdict::ready);
    for (std::size_t i = 0; i < daywright::model::log_count; ++i) {
      Scene gap = scene;
      gap.facts.gaps = {{static_cast<Log>(i), "FD 3", {}, "nobody closed it"}};
      const bool rests_on_plan = static_cast<Log>(i) == Log::plan && log == Log::tasks;
      const bool rests_on_tasks = static_cast<Log>(i) == Log::tasks && log == Log::plan;
      // A decision may have changed the plan, so every verdict rests on that log.
      const bool bears_on_it =
          static_cast<Log>(i) == log || static_cast<Log>(i) == Log::decisions || rests_on_plan || rests_on_tasks;
      CHECK(gap.verdict() == (bears_on_it ? Verdict::no_data : Verdict::ready));
    }
    for (const auto& [named, verdict] : {std::pair{subject, Verdict::no_data}, std::pair{""s, Verdict::no_data},
                                         std::pair{other, other.empty() ? Verdict::no_data : Verdict::ready}}) {
      Scene lost = scene;
      lost.facts.rejected = {{log, named, "", "", "", {}, day(1), "why"}};
      CHECK(lost.verdict() == verdict);
    }
    Scene conflict = scene;
    contradict(conflict);
    CHECK(conflict.verdict() == Verdict::no_data);
    CHECK_THAT(conflict.reason(), ContainsSubstring("told in two ways that disagree"));
  }
}

TEST_CASE("a figure that stands on its limit meets it in any unit that converts") {
  const auto mission = make_mission();
  const daywright::model::Criterion criterion;
  std::size_t judged = 0;
  for (const auto& [shown_in, limit_in, factor] :
       {std::tuple{"kg", "g", 1000.0}, std::tuple{"d", "h", 24.0}, std::tuple{"L", "mL", 1000.0}}) {
    for (int tenths = 1; tenths <= 500; ++tenths) {
      daywright::rules::FigureBook book(mission);
      book.number({"f", "F", {}, {}}, tenths * 0.1, shown_in, 0.1, daywright::model::Rounding::nearest);
      const double limit = std::round(tenths * 0.1 * factor * 1e6) / 1e6;
      for (const auto comparison : {daywright::model::Comparison::at_least, daywright::model::Comparison::at_most}) {
        const daywright::model::FigureCriterion demand{"f", comparison, limit, daywright::model::find_unit(limit_in)};
        CAPTURE(tenths, shown_in, limit_in);
        CHECK(daywright::rules::judge_figure(criterion, demand, book.find("f")).verdict == Verdict::ready);
        ++judged;
      }
    }
  }
  CHECK(judged == 3000);
}

TEST_CASE("a criterion on a figure or task that does not exist is a fault with the nearest name") {
  const auto mission = make_mission();
  daywright::rules::FigureBook book(mission);
  book.number({"item.water.level", "Water", {}, {}}, 5, "kg", 0.1, daywright::model::Rounding::nearest);
  daywright::model::Rulebook rules;
  const auto faults_of = [&](const auto& demand) {
    daywright::model::Criterion criterion;
    criterion.id = "c";
    criterion.demand = demand;
    rules.criteria = {criterion};
    return daywright::rules::find_wrong_names(rules, {mission, {}, {}, book, launch});
  };
  const auto figure = [](const char* id, const char* unit) {
    return daywright::model::FigureCriterion{id, daywright::model::Comparison::at_least, 1,
                                             daywright::model::find_unit(unit)};
  };
  CHECK(faults_of(figure("item.water.level", "lb")).empty());
  REQUIRE(faults_of(figure("item.watr.level", "kg")).size() == 1);
  CHECK(faults_of(figure("item.watr.level", "kg"))[0].text.find("did you mean 'item.water.level'?") !=
        std::string::npos);
  REQUIRE(faults_of(figure("item.water.level", "d")).size() == 1);
  CHECK(faults_of(figure("item.water.level", "d"))[0].rule == "unit-dimension");
  CHECK(faults_of(daywright::model::TasksCriterion{{"T-1"}}).size() == 1);
}

// Conditions and waivers

namespace {

/// Two tasks of which one is not done, and a decision that accepts one.
Scene waived_scene() {
  Scene scene = task_scene();
  scene.facts.tasks.pop_back();
  scene.rules.criteria[0].waiver_authority = "lead";
  Merged<daywright::model::DecisionRow> decision;
  decision.row.decision = "D-1";
  decision.row.state = daywright::model::DecisionState::approved;
  decision.row.authority = "lead";
  decision.row.expires = day(9);
  decision.row.waiver = {scene.rules.criteria[0].id, {}, 1, ""};
  scene.facts.decisions = {decision};
  return scene;
}

}  // namespace

TEST_CASE("a waiver in force makes READY WITH CONDITIONS at best, and says so") {
  const Scene scene = waived_scene();
  REQUIRE(scene.verdict() == Verdict::ready_with_conditions);
  CHECK_THAT(scene.reason(), ContainsSubstring("waived by D-1: task t2 is not done"));
  const auto gate = scene.gate();
  REQUIRE(gate.criteria[0].conditions.size() == 1);
  CHECK(gate.criteria[0].waived_by == &scene.facts.decisions[0]);
  Scene without = scene;
  without.facts.decisions.clear();
  CHECK(without.verdict() == Verdict::not_ready);
}

TEST_CASE("a waiver lapses when the value is worse than what it accepts, and names it") {
  Scene scene = waived_scene();
  scene.facts.tasks.clear();  // two are not done
  CHECK(scene.verdict() == Verdict::not_ready);
  CHECK_THAT(scene.reason(), ContainsSubstring("waiver D-1: 2 is worse than the 1 that it accepts"));
  scene.facts.decisions[0].row.waiver.worst = 2;
  CHECK(scene.verdict() == Verdict::ready_with_conditions);
  scene.facts.decisions[0].row.waiver.worst.reset();
  CHECK(scene.verdict() == Verdict::not_ready);
}

TEST_CASE("a waiver counts only in force, from the authority that the rules name, and up to the poll") {
  const auto changed = [](auto change) {
    Scene scene = waived_scene();
    change(scene);
    return scene.verdict();
  };
  using State = daywright::model::DecisionState;
  for (const State state : {State::proposed, State::refused, State::withdrawn})
    CHECK(changed([&](Scene& s) { s.facts.decisions[0].row.state = state; }) == Verdict::not_ready);
  CHECK(changed([](Scene& s) { s.facts.decisions[0].row.authority = "desk"; }) == Verdict::not_ready);
  CHECK(changed([](Scene& s) { s.rules.criteria[0].waiver_authority.clear(); }) == Verdict::not_ready);
  CHECK(changed([](Scene& s) { s.facts.decisions[0].row.expires = day(9); }) == Verdict::ready_with_conditions);
  CHECK(changed([](Scene& s) { s.facts.decisions[0].row.expires = day(9) - 1us; }) == Verdict::not_ready);
  CHECK(changed([](Scene& s) { s.facts.decisions[0].row.effective = day(7); }) == Verdict::ready_with_conditions);
  CHECK(changed([](Scene& s) { s.facts.decisions[0].row.effective = day(7) + 1us; }) == Verdict::not_ready);
  CHECK(changed([](Scene& s) { s.facts.decisions[0].row.expires.reset(); }) == Verdict::not_ready);
  CHECK(changed([](Scene& s) { s.facts.decisions[0].rivals = {s.facts.decisions[0].row}; }) == Verdict::not_ready);
  CHECK(changed([](Scene& s) { s.facts.decisions[0].row.waiver.criterion = "c9"; }) == Verdict::not_ready);
}

TEST_CASE("a waiver does not cover a condition that is overdue, whatever worst value it accepts") {
  Scene scene;
  demand_zone(scene, Verdict::ready_with_conditions);
  scene.mission.gates[0].poll = day(7);
  scene.rules.criteria[0].waiver_authority = "lead";
  scene.facts.decisions = waived_scene().facts.decisions;
  scene.facts.decisions[0].row.waiver = {scene.rules.criteria[0].id, {}, 100, ""};
  CHECK(scene.verdict() == Verdict::not_ready);
  CHECK_THAT(scene.reason(), ContainsSubstring("its condition is overdue"));
}

TEST_CASE("a waiver covers NO DATA only where it names every datum that is missing") {
  Scene scene = statement_scene();
  scene.facts.statements.clear();
  scene.rules.criteria[0].waiver_authority = "lead";
  scene.facts.decisions = waived_scene().facts.decisions;
  auto& waiver = scene.facts.decisions[0].row.waiver;
  waiver.criterion = scene.rules.criteria[0].id;
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK_THAT(scene.reason(), ContainsSubstring("it does not name what is missing of desk"));
  waiver.data = {"desk"};
  CHECK(scene.verdict() == Verdict::ready_with_conditions);
  // What fails and is missing besides needs both.
  Scene both = waived_scene();
  both.facts.gaps = {{Log::plan, "FD 3", {}, "nobody closed it"}};
  CHECK(both.verdict() == Verdict::not_ready);
  both.facts.decisions[0].row.waiver.data = {"plan"};
  CHECK(both.verdict() == Verdict::ready_with_conditions);
}

TEST_CASE("a figure is waived down to the worst value on that side of its limit that is worse") {
  Scene scene = waived_scene();
  const auto judged = [&](Comparison comparison, double value) {
    scene.rules.criteria[0].demand = FigureCriterion{"f", comparison, 5, find_unit("d")};
    const auto tasks = follow_tasks(scene.facts);
    FigureBook book(scene.mission);
    book.number({"f", "F", {}, {}}, value, "d", 0.1, Rounding::nearest);
    return judge_gates(scene.rules, {scene.mission, scene.facts, tasks, book, day(7)}).at(0).verdict;
  };
  auto& worst = scene.facts.decisions[0].row.waiver.worst;
  worst = 4.5;
  CHECK(judged(Comparison::at_least, 5) == Verdict::ready);
  CHECK(judged(Comparison::at_least, 4.5) == Verdict::ready_with_conditions);
  CHECK(judged(Comparison::at_least, 4.4) == Verdict::not_ready);
  worst = 5.5;
  CHECK(judged(Comparison::at_most, 5.5) == Verdict::ready_with_conditions);
  CHECK(judged(Comparison::at_most, 5.6) == Verdict::not_ready);
}

TEST_CASE("a condition that is open at the poll is NOT READY from then on") {
  Scene scene;
  demand_zone(scene, Verdict::ready_with_conditions);
  REQUIRE(scene.verdict() == Verdict::ready_with_conditions);
  scene.mission.gates[0].poll = day(7) + 1us;
  CHECK(scene.verdict() == Verdict::ready_with_conditions);
  scene.mission.gates[0].poll = day(7);
  CHECK(scene.verdict() == Verdict::not_ready);
  CHECK_THAT(scene.reason(), ContainsSubstring("still open at the poll"));
}
