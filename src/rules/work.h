// Work planned against work done, and what is carried over.
//
// Pure.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "rules/evidence.h"

namespace daywright::rules {

/// One planned task and how far it got.
struct TaskStatus {
  const model::Merged<model::PlanRow>* plan = nullptr;
  const model::Merged<model::TaskRow>* latest = nullptr;  ///< the newest row of it; null: nothing logged
  double percent = 0;
  double minutes_spent = 0;  ///< person-minutes logged

  [[nodiscard]] bool is_done() const { return latest != nullptr && latest->row.state == model::TaskState::done; }
  [[nodiscard]] double planned_minutes() const {
    return plan->row.minutes * static_cast<double>(plan->row.crew.empty() ? 1 : plan->row.crew.size());
  }
};

/// Every planned task, in order of its flight day, then priority, then name.
[[nodiscard]] std::vector<TaskStatus> follow_tasks(const model::Facts& facts);

/// Why the plan, or what was done of it, may be other than it seems: logs that are not whole, tasks told in two ways.
[[nodiscard]] std::vector<Doubt> doubts_about_work(const model::Facts& facts, const std::vector<TaskStatus>& tasks);

/// Where a task stands in order of importance; one without a priority comes after those with one.
[[nodiscard]] inline int rank_of(const model::PlanRow& row) {
  constexpr int last = 100;
  return row.priority == 0 ? last : row.priority;
}

/// The sum over the tasks of a day, or of several.
struct WorkSum {
  std::size_t planned_tasks = 0;
  std::size_t done_tasks = 0;
  double planned_minutes = 0;  ///< person-minutes
  double done_minutes = 0;     ///< planned person-minutes of what was done, partly done work by its percentage
};
/// Sums what was planned for flight days `first` to `last`, get-aheads left out.
[[nodiscard]] WorkSum sum_work(const std::vector<TaskStatus>& tasks, int first, int last);

/// The same over all get-aheads, whatever day they are named for.
[[nodiscard]] WorkSum sum_get_aheads(const std::vector<TaskStatus>& tasks);

/// Tasks planned up to flight day `last` that are not done, get-aheads left out.
[[nodiscard]] std::vector<const TaskStatus*> find_carry_over(const std::vector<TaskStatus>& tasks, int last);

}  // namespace daywright::rules
