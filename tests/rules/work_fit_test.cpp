// Whether the work that is left has room in the crew time that is left. All persons and tasks are invented.
#include "rules/work_fit.h"

#include <algorithm>
#include <string>
#include <vector>

#include "builders.h"
#include "rules/criteria.h"

using daywright::model::Criterion;
using daywright::model::Facts;
using daywright::model::Instant;
using daywright::model::Mission;
using daywright::model::TaskState;
using daywright::model::Verdict;
using daywright::model::WorkFitsCriterion;
using daywright::rules::fit_work;
using daywright::rules::follow_tasks;
using daywright::rules::judge_criterion;
using daywright::rules::TaskStatus;
using daywright::rules::WorkFit;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_mission;
using daywright::test::make_plan;
using daywright::test::make_task;
using namespace std::chrono_literals;

namespace {

/// Three persons who work from 2 h after the day begins, for 6 h; nothing was done by the end of day 1, at launch + 1
/// d.
struct Scene {
  Mission mission = make_mission();
  Facts facts;
  Instant cutoff = day(1);
  std::vector<TaskStatus> tasks;

  Scene() {
    mission.gates = {{"entry", "Entry", "landing", day(2), {}}};
    for (auto& kind : mission.day_kinds) {
      kind.work_from_hours = 2;
      kind.work_hours = 6;
    }
  }

  daywright::model::PlanRow& add(const std::string& name, double minutes, std::vector<std::string> crew,
                                 const std::string& gate = "") {
    facts.plan.push_back(make_plan(name, 2, gate));
    auto& row = facts.plan.back().row;
    row.minutes = minutes;
    row.crew = std::move(crew);
    row.priority = 1;
    return row;
  }
  WorkFit fitted() {
    tasks = follow_tasks(facts);
    return fit_work(mission, tasks, cutoff);
  }
  std::vector<std::string> left_out() {
    std::vector<std::string> names;
    for (const auto& fit : fitted().tasks) {
      if (!fit.start) names.push_back(fit.task->plan->row.task);
    }
    return names;
  }
  Verdict verdict() {
    const WorkFit fit = fitted();
    Criterion criterion;
    criterion.demand = WorkFitsCriterion{};
    const daywright::rules::FigureBook figures(mission);
    return judge_criterion(criterion, mission.gates[0], {mission, facts, tasks, figures, cutoff, {}, &fit}).verdict;
  }
};

using Names = std::vector<std::string>;

}  // namespace

TEST_CASE("work has room up to the last minute of the working hours before the poll, and not beyond") {
  Scene scene;
  const std::string person = scene.mission.persons[0].id;
  scene.add("a", 360, {person}, "entry");  // all of the one working day before the poll on day 2
  CHECK(scene.left_out().empty());
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.plan[0].row.minutes = 361;
  CHECK(scene.left_out() == Names{"a"});
  CHECK(scene.verdict() == Verdict::not_ready);
}

TEST_CASE("a task begins in the working hours of a day, not before its own day, and after what it needs") {
  Scene scene;
  const std::string person = scene.mission.persons[0].id;
  scene.add("b", 60, {person}).needs = {"a"};
  scene.add("a", 30, {person});
  const WorkFit fit = scene.fitted();
  REQUIRE(fit.tasks.size() == 2);
  const auto start_of = [&](const std::string& name) {
    const auto found =
        std::find_if(fit.tasks.begin(), fit.tasks.end(), [&](const auto& t) { return t.task->plan->row.task == name; });
    REQUIRE(found->start);
    return *found->start;
  };
  CHECK(start_of("a") == day(1) + 2h);
  CHECK(start_of("b") == day(1) + 2h + 30min);
  scene.facts.plan[1].row.day = 4;
  const WorkFit later = scene.fitted();
  for (const auto& task : later.tasks) CHECK(*task.start >= day(3) + 2h);
}

TEST_CASE("a task of two persons waits for both, and each has so much less time") {
  Scene scene;
  const auto& persons = scene.mission.persons;
  scene.add("both", 300, {persons[0].id, persons[1].id}, "entry");
  scene.add("one", 60, {persons[0].id}, "entry");
  CHECK(scene.left_out().empty());
  scene.add("more", 1, {persons[0].id}, "entry").priority = 2;
  CHECK(scene.left_out() == Names{"more"});
  const WorkFit fit = scene.fitted();
  const auto given = [&](const std::string& person) {
    const auto found = std::find_if(fit.days.begin(), fit.days.end(),
                                    [&](const auto& d) { return d.day == 2 && d.person->id == person; });
    return found->given;
  };
  CHECK(given(persons[0].id) == 360);
  CHECK(given(persons[1].id) == 300);
  CHECK(given(persons[2].id) == 0);
}

TEST_CASE("what is less important is left out first") {
  Scene scene;
  const std::string person = scene.mission.persons[0].id;
  scene.add("low", 200, {person}, "entry").priority = 2;
  scene.add("high", 200, {person}, "entry");
  CHECK(scene.left_out() == Names{"low"});
  scene.facts.plan[0].row.priority = 0;  // none given: after those with one
  CHECK(scene.left_out() == Names{"low"});
}

TEST_CASE("only what is left of a task needs room, and what is done needs none") {
  Scene scene;
  const std::string person = scene.mission.persons[0].id;
  scene.add("a", 720, {person}, "entry");
  CHECK(scene.left_out() == Names{"a"});
  scene.facts.tasks = {make_task("a", TaskState::partial, 50, launch + 1h)};
  CHECK(scene.left_out().empty());
  scene.facts.tasks = {make_task("a", TaskState::done, 100, launch + 1h)};
  CHECK(scene.fitted().tasks.empty());
}

TEST_CASE("get-aheads and tasks without crew are not fitted, and without working hours nothing is known") {
  Scene scene;
  scene.add("ahead", 9999, {scene.mission.persons[0].id}).get_ahead = true;
  scene.add("ground", 9999, {});
  CHECK(scene.fitted().tasks.empty());
  CHECK(scene.verdict() == Verdict::ready);
  for (auto& kind : scene.mission.day_kinds) kind.work_hours = 0;
  CHECK(scene.fitted().days.empty());
  CHECK(scene.verdict() == Verdict::no_data);
}

TEST_CASE("a gap, a lost row or a conflict in plan or tasks takes READY away from work that fits") {
  for (const auto log : {daywright::model::Log::plan, daywright::model::Log::tasks}) {
    Scene scene;
    scene.add("a", 60, {scene.mission.persons[0].id});
    scene.facts.tasks = {make_task("a", TaskState::partial, 50, launch + 1h)};
    REQUIRE(scene.verdict() == Verdict::ready);
    Scene gap = scene;
    gap.facts.gaps = {{log, "FD 1", {}, "nobody closed it"}};
    CHECK(gap.verdict() == Verdict::no_data);
    Scene lost = scene;
    lost.facts.rejected = {{log, "a", "", "", "", {}, day(1), "why"}};  // it competes for room, whatever its gate
    CHECK(lost.verdict() == Verdict::no_data);
    Scene conflict = scene;
    if (log == daywright::model::Log::plan)
      conflict.facts.plan[0].rivals = {conflict.facts.plan[0].row};
    else
      conflict.facts.tasks[0].rivals = {conflict.facts.tasks[0].row};
    CHECK(conflict.verdict() == Verdict::no_data);
  }
}

TEST_CASE("once the poll is past there is no room before it, until the event has come") {
  Scene scene;
  scene.add("a", 10, {scene.mission.persons[0].id}, "entry");
  scene.mission.gates[0].poll = day(1) - 1h;
  CHECK(scene.verdict() == Verdict::not_ready);
  daywright::model::find_by_id(scene.mission.events, "landing")->at = day(1) - 30min;
  CHECK(scene.left_out().empty());
}
