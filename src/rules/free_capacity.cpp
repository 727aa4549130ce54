#include "rules/free_capacity.h"

#include <algorithm>
#include <iterator>

#include "rules/fit.h"

namespace daywright::rules {

FreeCapacity::FreeCapacity(const FitResource& resource) {
  for (const auto& window : resource.windows) {
    const Minutes begin = std::max<Minutes>(window.begin, steps_.empty() ? -never : steps_.back().begin);
    const Minutes end = std::min<Minutes>(window.end, never);
    if (window.capacity <= 0 || begin >= end) continue;
    if (!steps_.empty() && steps_.back().begin == begin) steps_.pop_back();  // the two touch
    steps_.push_back({begin, window.capacity});
    steps_.push_back({end, 0});
  }
}

FreeCapacity FreeCapacity::mirrored() const {
  FreeCapacity other;
  for (std::size_t i = steps_.size(); i > 0; --i)
    other.steps_.push_back({-steps_[i - 1].begin, i > 1 ? steps_[i - 2].free : 0});
  return other;
}

std::optional<Minutes> FreeCapacity::find(Minutes from, Minutes minutes, std::int64_t amount) const {
  auto step = std::upper_bound(steps_.begin(), steps_.end(), from,
                               [](Minutes at, const Step& later) { return at < later.begin; });
  if (step != steps_.begin()) --step;
  if (step == steps_.end()) return std::nullopt;
  Minutes start = std::max(from, step->begin);
  for (; step != steps_.end() && step->begin < start + minutes; ++step) {
    if (step->free >= amount) continue;
    if (std::next(step) == steps_.end()) return std::nullopt;
    start = std::next(step)->begin;
  }
  return start;
}

void FreeCapacity::take(Minutes begin, Minutes end, std::int64_t amount) {
  const std::size_t first = split(begin);
  const std::size_t last = split(end);
  for (std::size_t i = first; i < last; ++i) steps_[i].free -= amount;
}

/// The index of the step that begins at `at`, made if there is none.
std::size_t FreeCapacity::split(Minutes at) {
  auto step = std::lower_bound(steps_.begin(), steps_.end(), at,
                               [](const Step& earlier, Minutes when) { return earlier.begin < when; });
  if (step == steps_.end() || step->begin != at) step = steps_.insert(step, {at, std::prev(step)->free});
  return static_cast<std::size_t>(step - steps_.begin());
}

}  // namespace daywright::rules
