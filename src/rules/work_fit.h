// Whether the work that is left fits into the crew time that is left, and what does not.
//
//   In:  the plan with its working hours by kind of day, the tasks, the cut-off
//   Out: a start for each task that fits, and what each person has to do of what can be done, by day
//
// Pure.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/mission.h"
#include "rules/work.h"

namespace daywright::rules {

/// One task that is not done, get-aheads and tasks without crew left out.
struct TaskFit {
  const TaskStatus* task = nullptr;
  double minutes = 0;                   ///< left to do, for each of its persons
  std::optional<model::Instant> start;  ///< where it fits; nothing: it does not
};

/// What one person can do on one day, and is given to do.
struct CrewDay {
  int day = 0;
  const model::Person* person = nullptr;
  double available = 0;  ///< minutes of scheduled work from the cut-off on
  double given = 0;
};

struct WorkFit {
  std::vector<TaskFit> tasks;
  std::vector<CrewDay> days;  ///< by day, then in the order of persons; none: the plan says nothing of working hours
};

/// The fit of all tasks from `cutoff` to the end of the day of the planned landing. A task runs without a break within
/// one day's working hours of all its persons, not before the day that it is planned for, after what it needs, and
/// before the poll of its gate if that is still to come; the more important goes first. Pointers stay those of
/// `mission` and `tasks`.
[[nodiscard]] WorkFit fit_work(const model::Mission& mission, const std::vector<TaskStatus>& tasks,
                               model::Instant cutoff);

}  // namespace daywright::rules
