// The figures of work: planned and done, carried over, pace. Ids begin "work.".
#pragma once

#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "rules/figures.h"
#include "rules/work.h"
#include "rules/work_fit.h"

namespace daywright::rules {

/// Enters work.today.*, work.to_date.*, work.get_aheads.*, work.carried_over and work.pace.*; `today` is the day of the
/// brief.
void enter_work(const model::Mission& mission, const model::Facts& facts, const std::vector<TaskStatus>& tasks,
                const model::Day& today, FigureBook& figures);

/// Enters work.unfit.tasks and work.unfit.minutes, and the same by gate as work.unfit.GATE.*: what has no room in the
/// crew time that is left.
void enter_fit(const model::Mission& mission, const model::Facts& facts, const std::vector<TaskStatus>& tasks,
               const WorkFit& fit, const model::Day& today, FigureBook& figures);

}  // namespace daywright::rules
