#include "study/misfits.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

namespace daywright::study {
namespace {

using rules::Fit;
using rules::FitProblem;

/// How much of a resource the activities take at one instant.
std::int64_t taken(const FitProblem& problem, const Fit& fit, std::size_t resource, std::int64_t at) {
  std::int64_t sum = 0;
  for (std::size_t i = 0; i < fit.starts.size(); ++i) {
    const auto& activity = problem.activities[i];
    if (!fit.starts[i] || at < *fit.starts[i] || at >= *fit.starts[i] + activity.minutes) continue;
    for (const auto& demand : activity.demands)
      if (demand.resource == resource) sum += demand.amount;
  }
  return sum;
}

std::int64_t there(const rules::FitResource& resource, std::int64_t at) {
  for (const auto& window : resource.windows)
    if (at >= window.begin && at < window.end) return window.capacity;
  return 0;
}

/// Which activities don't wait for themselves in the end; in time alone milestones of no length could.
std::vector<bool> find_orderable(const FitProblem& problem) {
  const auto& activities = problem.activities;
  std::vector<bool> orderable(activities.size());
  for (std::size_t round = 0; round < activities.size(); ++round)
    for (std::size_t i = 0; i < activities.size(); ++i)
      orderable[i] = std::all_of(activities[i].needs.begin(), activities[i].needs.end(),
                                 [&](std::size_t need) { return need < activities.size() && orderable[need]; });
  return orderable;
}

}  // namespace

std::vector<std::string> find_misfits(const FitProblem& problem, const Fit& fit) {
  const auto& activities = problem.activities;
  if (fit.starts.size() != activities.size()) return {"a start for every activity is missing"};
  std::vector<std::string> misfits;
  const auto orderable = find_orderable(problem);
  std::optional<std::int64_t> last;
  for (std::size_t i = 0; i < activities.size(); ++i) {
    if (!fit.starts[i]) continue;
    const std::int64_t start = *fit.starts[i];
    const std::int64_t end = start + activities[i].minutes;
    last = std::max(last, std::optional(end));
    if (!orderable[i]) misfits.push_back(fmt::format("{} waits for itself", i));
    if (end < start) misfits.push_back(fmt::format("{} runs backwards", i));
    if (activities[i].due && end > *activities[i].due) misfits.push_back(fmt::format("{} misses its due time", i));
    for (const auto& demand : activities[i].demands)
      if (demand.resource >= problem.resources.size() || demand.amount < 0)
        misfits.push_back(fmt::format("{} takes what is not there", i));
    for (const std::size_t need : activities[i].needs)
      if (need >= activities.size() || !fit.starts[need] || *fit.starts[need] + activities[need].minutes > start)
        misfits.push_back(fmt::format("{} starts before what it needs", i));
  }
  if (last && fit.end != *last) misfits.push_back(fmt::format("the end is {} and not {}", *last, fit.end));

  // What is taken can only grow at a start, and what is there can only shrink where a window begins or ends.
  for (std::size_t r = 0; r < problem.resources.size(); ++r) {
    std::vector<std::int64_t> instants;
    for (const auto& start : fit.starts)
      if (start) instants.push_back(*start);
    for (const auto& window : problem.resources[r].windows) {
      instants.push_back(window.begin);
      instants.push_back(window.end);
    }
    for (const std::int64_t at : instants) {
      const std::int64_t sum = taken(problem, fit, r, at);
      if (sum > 0 && sum > there(problem.resources[r], at))
        misfits.push_back(fmt::format("at {} there is not enough of resource {}", at, r));
    }
  }
  return misfits;
}

}  // namespace daywright::study
