// How much of the planned crew time gets done in a day, and how sure that is of the next day.
//
// Pure.
#pragma once

#include <optional>
#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "rules/work.h"

namespace daywright::rules {

/// One day's crew time in person-minutes.
struct DayOfWork {
  int day = 0;
  double planned = 0;   ///< for this day, get-aheads left out
  double achieved = 0;  ///< on this day, whatever day it was planned for; partly done work by its percentage
};

/// The days from 1 to `last` for which anything was planned. A row counts for the day on which it ends, else begins.
[[nodiscard]] std::vector<DayOfWork> days_of_work(const model::Mission& mission, const model::Facts& facts,
                                                  const std::vector<TaskStatus>& tasks, int last);

/// Achieved over planned, by days.
struct Pace {
  double mean = 0;
  double low = 0;  ///< between the two the next day lies in nine cases of ten
  double high = 0;
};

/// The pace over the days; nothing for fewer than three, which tell no spread. The interval is that of one more draw
/// from a normal distribution of unknown mean and deviation, by Student's t (NIST/SEMATECH e-Handbook of Statistical
/// Methods, section 1.3.5.2 for the mean; one more draw: with the factor sqrt(1 + 1/n), from memory).
[[nodiscard]] std::optional<Pace> pace_of(const std::vector<DayOfWork>& days);

/// The quantile of Student's t distribution.
[[nodiscard]] double student_quantile(double probability, double degrees_of_freedom);

}  // namespace daywright::rules
