#include "rules/pace.h"

#include <algorithm>
#include <cmath>
#include <map>

#include <boost/math/distributions/students_t.hpp>

namespace daywright::rules {

std::vector<DayOfWork> days_of_work(const model::Mission& mission, const model::Facts& facts,
                                    const std::vector<TaskStatus>& tasks, int last) {
  std::map<int, DayOfWork> days;
  std::map<std::string, double> minutes;  // planned, by task
  for (const TaskStatus& task : tasks) {
    const auto& row = task.plan->row;
    minutes[row.task] = task.planned_minutes();
    if (!row.get_ahead && row.day <= last) days[row.day].planned += task.planned_minutes();
  }
  std::string of_task;
  double percent = 0;
  for (const auto& fact : facts.tasks) {  // in order of task and start
    const auto& row = fact.row;
    if (row.task != of_task) percent = 0;
    of_task = row.task;
    const auto day = days.find(mission.flight_days.number_at(row.end.value_or(row.begin)));
    if (day != days.end()) day->second.achieved += minutes[row.task] * (row.percent - percent) / 100;
    percent = row.percent;
  }
  std::vector<DayOfWork> result;
  for (auto& [number, day] : days) {
    day.day = number;
    if (day.planned > 0) result.push_back(day);
  }
  return result;
}

std::optional<Pace> pace_of(const std::vector<DayOfWork>& days) {
  const auto n = static_cast<double>(days.size());
  constexpr double fewest = 3;
  if (n < fewest) return std::nullopt;
  double sum = 0;
  for (const auto& day : days) sum += day.achieved / day.planned;
  const double mean = sum / n;
  double squares = 0;
  for (const auto& day : days) squares += std::pow(day.achieved / day.planned - mean, 2);
  constexpr double upper = 0.95;  // nine cases of ten lie between this and its mirror image
  const double width = student_quantile(upper, n - 1) * std::sqrt(squares / (n - 1) * (1 + 1 / n));
  return Pace{mean, std::max(0.0, mean - width), mean + width};
}

double student_quantile(double probability, double degrees_of_freedom) {
  return boost::math::quantile(boost::math::students_t(degrees_of_freedom), probability);
}

}  // namespace daywright::rules
