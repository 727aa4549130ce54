#include "rules/work.h"

#include <algorithm>
#include <map>
#include <tuple>

namespace daywright::rules {

std::vector<TaskStatus> follow_tasks(const model::Facts& facts) {
  std::vector<TaskStatus> all;
  std::map<std::string, std::size_t> by_name;
  for (const auto& fact : facts.plan) {
    by_name[fact.row.task] = all.size();
    all.push_back({&fact, nullptr, 0, 0});
  }
  for (const auto& fact : facts.tasks) {  // in order of task and start
    const auto found = by_name.find(fact.row.task);
    if (found == by_name.end()) continue;
    TaskStatus& status = all[found->second];
    status.latest = &fact;
    status.percent = fact.row.percent;
    if (fact.row.end) {
      const auto persons = static_cast<double>(std::max<std::size_t>(1, fact.row.who.size()));
      status.minutes_spent += model::in_days(*fact.row.end - fact.row.begin) * 24 * 60 * persons;
    }
  }
  std::stable_sort(all.begin(), all.end(), [](const TaskStatus& a, const TaskStatus& b) {
    const auto order = [](const TaskStatus& t) {
      return std::tuple(t.plan->row.day, rank_of(t.plan->row), t.plan->row.task);
    };
    return order(a) < order(b);
  });
  return all;
}

std::vector<Doubt> doubts_about_work(const model::Facts& facts, const std::vector<TaskStatus>& tasks) {
  std::vector<Doubt> doubts = doubts_about(facts, model::Log::plan, {});
  for (Doubt& doubt : doubts_about(facts, model::Log::tasks, {})) doubts.push_back(std::move(doubt));
  for (const TaskStatus& task : tasks) {
    add_conflicts(*task.plan, "task " + task.plan->row.task, doubts);
    if (task.latest != nullptr) add_conflicts(*task.latest, "task " + task.plan->row.task, doubts);
  }
  return doubts;
}

namespace {

template <class IsAsked>
WorkSum sum_of(const std::vector<TaskStatus>& tasks, const IsAsked& is_asked) {
  WorkSum sum;
  for (const TaskStatus& task : tasks) {
    if (!is_asked(task.plan->row)) continue;
    ++sum.planned_tasks;
    sum.planned_minutes += task.planned_minutes();
    sum.done_minutes += task.planned_minutes() * task.percent / 100;
    if (task.is_done()) ++sum.done_tasks;
  }
  return sum;
}

}  // namespace

WorkSum sum_work(const std::vector<TaskStatus>& tasks, int first, int last) {
  return sum_of(tasks,
                [&](const model::PlanRow& row) { return !row.get_ahead && row.day >= first && row.day <= last; });
}

WorkSum sum_get_aheads(const std::vector<TaskStatus>& tasks) {
  return sum_of(tasks, [](const model::PlanRow& row) { return row.get_ahead; });
}

std::vector<const TaskStatus*> find_carry_over(const std::vector<TaskStatus>& tasks, int last) {
  std::vector<const TaskStatus*> open;
  for (const TaskStatus& task : tasks) {
    if (!task.plan->row.get_ahead && task.plan->row.day <= last && !task.is_done()) open.push_back(&task);
  }
  return open;
}

}  // namespace daywright::rules
