// Work planned against work done. All tasks are invented.
#include "rules/work.h"

#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "builders.h"

using daywright::model::Facts;
using daywright::model::TaskState;
using daywright::rules::find_carry_over;
using daywright::rules::follow_tasks;
using daywright::rules::sum_get_aheads;
using daywright::rules::sum_work;
using daywright::rules::TaskStatus;
using daywright::test::launch;
using daywright::test::make_plan;
using daywright::test::make_task;
using namespace std::chrono_literals;

namespace {

std::vector<std::string> names_of(const std::vector<TaskStatus>& tasks) {
  std::vector<std::string> names;
  for (const auto& task : tasks) names.push_back(task.plan->row.task);
  return names;
}

std::vector<std::string> carried_over(const Facts& facts, int last) {
  const auto tasks = follow_tasks(facts);
  std::vector<std::string> names;
  for (const TaskStatus* task : find_carry_over(tasks, last)) names.push_back(task->plan->row.task);
  return names;
}

using Names = std::vector<std::string>;

}  // namespace

TEST_CASE("a task that nobody logged is not done") {
  Facts facts;
  facts.plan = {make_plan("t1")};
  const auto tasks = follow_tasks(facts);
  REQUIRE(tasks.size() == 1);
  CHECK(tasks[0].latest == nullptr);
  CHECK(tasks[0].percent == 0);
  CHECK(tasks[0].minutes_spent == 0);
  CHECK_FALSE(tasks[0].is_done());
}

TEST_CASE("only the state done is done, however high the percentage") {
  for (const auto& [state, percent, is_done] :
       {std::tuple{TaskState::done, 100.0, true}, std::tuple{TaskState::partial, 99.9, false},
        std::tuple{TaskState::started, 0.0, false}, std::tuple{TaskState::not_done, 0.0, false}}) {
    Facts facts;
    facts.plan = {make_plan("t1")};
    facts.tasks = {make_task("t1", state, percent)};
    const auto tasks = follow_tasks(facts);
    CHECK(tasks.at(0).is_done() == is_done);
    CHECK(tasks.at(0).percent == percent);
  }
}

TEST_CASE("the newest row of a task says how far it is, also where that is less than before") {
  Facts facts;
  facts.plan = {make_plan("t1")};
  facts.tasks = {make_task("t1", TaskState::done, 100, launch), make_task("t1", TaskState::partial, 60, launch + 1h)};
  const auto tasks = follow_tasks(facts);
  CHECK(tasks.at(0).latest == &facts.tasks[1]);
  CHECK(tasks.at(0).percent == 60);
  CHECK_FALSE(tasks.at(0).is_done());
}

TEST_CASE("time spent is the time of every row for every person in it, and of rows that have ended") {
  Facts facts;
  facts.plan = {make_plan("t1")};
  facts.tasks = {make_task("t1", TaskState::partial, 20, launch), make_task("t1", TaskState::partial, 40, launch + 2h),
                 make_task("t1", TaskState::started, 40, launch + 4h)};
  facts.tasks[0].row.end = launch + 30min;  // one person, as nobody is named
  facts.tasks[1].row.end = launch + 3h;
  facts.tasks[1].row.who = {"p1", "p2"};
  CHECK(follow_tasks(facts).at(0).minutes_spent == Approx(30 + 2 * 60));
}

TEST_CASE("planned minutes are those of each person, and of one where nobody is named") {
  Facts facts;
  facts.plan = {make_plan("t1"), make_plan("t2")};
  facts.plan[0].row.minutes = facts.plan[1].row.minutes = 45;
  facts.plan[1].row.crew = {"p1", "p2", "p3"};
  const auto tasks = follow_tasks(facts);
  CHECK(tasks.at(0).planned_minutes() == 45);
  CHECK(tasks.at(1).planned_minutes() == 135);
}

TEST_CASE("tasks come by day, then by priority with none last, then by name") {
  Facts facts;
  facts.plan = {make_plan("a", 2), make_plan("b", 1), make_plan("c", 1), make_plan("d", 1), make_plan("e", 1)};
  facts.plan[2].row.priority = 2;
  facts.plan[3].row.priority = 1;
  facts.plan[4].row.priority = 99;
  CHECK(names_of(follow_tasks(facts)) == Names{"d", "c", "e", "b", "a"});
}

TEST_CASE("the sum of days is the sum of each of them") {
  Facts facts;
  for (int number = 1; number <= 6; ++number) {
    facts.plan.push_back(make_plan("t" + std::to_string(number), (number + 1) / 2));
    facts.plan.back().row.minutes = 10 * number;
  }
  facts.tasks = {make_task("t1", TaskState::done, 100), make_task("t4", TaskState::partial, 25)};
  const auto tasks = follow_tasks(facts);
  const auto all = sum_work(tasks, 1, 3);
  CHECK(all.planned_tasks == 6);
  CHECK(all.done_tasks == 1);
  CHECK(all.planned_minutes == 210);                  // 10 + 20 + ... + 60
  CHECK(all.done_minutes == Approx(10 + 0.25 * 40));  // partly done work by its percentage
  for (int split = 1; split < 3; ++split) {
    const auto first = sum_work(tasks, 1, split);
    const auto second = sum_work(tasks, split + 1, 3);
    CHECK(first.planned_tasks + second.planned_tasks == all.planned_tasks);
    CHECK(first.done_tasks + second.done_tasks == all.done_tasks);
    CHECK(first.planned_minutes + second.planned_minutes == all.planned_minutes);
    CHECK(first.done_minutes + second.done_minutes == Approx(all.done_minutes));
  }
  CHECK(sum_work(tasks, 4, 9).planned_tasks == 0);
}

TEST_CASE("work that was pulled forward is neither summed nor carried over") {
  Facts facts;
  facts.plan = {make_plan("t1"), make_plan("t2")};
  facts.plan[1].row.get_ahead = true;
  CHECK(sum_work(follow_tasks(facts), 1, 1).planned_tasks == 1);
  CHECK(carried_over(facts, 1) == Names{"t1"});
}

TEST_CASE("what is planned up to a day and not done is carried over, what comes later is not") {
  Facts facts;
  facts.plan = {make_plan("t1", 1), make_plan("t2", 2), make_plan("t3", 2), make_plan("t4", 3)};
  facts.tasks = {make_task("t2", TaskState::done, 100), make_task("t3", TaskState::partial, 99)};
  CHECK(carried_over(facts, 1) == Names{"t1"});
  CHECK(carried_over(facts, 2) == Names{"t1", "t3"});
  CHECK(carried_over(facts, 3) == Names{"t1", "t3", "t4"});
}

TEST_CASE("what is planned for days is either done in them or carried over") {
  // Each of six tasks done or not, in every combination.
  for (unsigned done = 0; done < 64; ++done) {
    Facts facts;
    for (unsigned number = 0; number < 6; ++number) {
      const std::string name = "t" + std::to_string(number);
      facts.plan.push_back(make_plan(name, static_cast<int>(number / 2) + 1));
      if ((done >> number & 1U) != 0) facts.tasks.push_back(make_task(name, TaskState::done, 100));
    }
    const auto tasks = follow_tasks(facts);
    const auto sum = sum_work(tasks, 1, 3);
    CHECK(sum.done_tasks + find_carry_over(tasks, 3).size() == sum.planned_tasks);
  }
}

TEST_CASE("a row of a task that is not planned changes no task") {
  Facts facts;
  facts.plan = {make_plan("t1")};
  facts.tasks = {make_task("t2", TaskState::done, 100)};
  const auto tasks = follow_tasks(facts);
  REQUIRE(tasks.size() == 1);
  CHECK_FALSE(tasks[0].is_done());
}

TEST_CASE("get-aheads are summed apart, whatever day they are named for") {
  Facts facts;
  facts.plan = {make_plan("a", 1), make_plan("b", 9), make_plan("c", 2)};
  facts.plan[0].row.get_ahead = facts.plan[1].row.get_ahead = true;
  facts.tasks = {make_task("b", TaskState::done, 100, launch + 1h)};
  const auto tasks = follow_tasks(facts);
  const auto sum = sum_get_aheads(tasks);
  CHECK(sum.planned_tasks == 2);
  CHECK(sum.done_tasks == 1);
  CHECK(sum.done_minutes == Approx(sum.planned_minutes / 2));
}
