#include "rules/trial_legs.h"

#include <algorithm>
#include <cstddef>
#include <type_traits>
#include <utility>

namespace daywright::rules {
namespace {

/// Whether nothing happens to the item between the stretches `i` and `i` + 1, so that all runs straight through.
bool runs_through(const std::vector<model::TrialStretch>& stretches, const model::TrialItem& item, std::size_t i) {
  const auto& here = stretches[i];
  const auto& next = stretches[i + 1];
  const auto& leg = item.legs[i];
  const auto& then = item.legs[i + 1];
  const bool is_same_day =
      here.kind == next.kind && here.phase == next.phase && here.crew[item.vehicle] == next.crew[item.vehicle];
  const bool nothing_happens = leg.step.draw == 0 && leg.step.make == 0 && leg.step.moves.empty();
  return is_same_day && nothing_happens && !here.is_added && !next.is_added && leg.order == then.order &&
         leg.held == then.held && leg.is_made == then.is_made &&
         std::all_of(item.places.begin(), item.places.end(), [&](const auto& place) {
           return place.counts_at_end[i] == place.counts_after[i] &&
                  place.counts_after[i] == place.counts_at_end[i + 1];
         });
}

/// In which place an item lies depends on what comes first, where it leaks or is made while it is drawn.
bool can_join(const model::TrialItem& item) {
  const auto leaks = [](const auto& reading) {
    return std::any_of(reading.leaks.begin(), reading.leaks.end(), [](double leak) { return leak > 0; });
  };
  return item.places.size() == 1 ||
         (!item.made_from && std::none_of(item.readings.begin(), item.readings.end(), leaks));
}

}  // namespace

void join_legs(const std::vector<model::TrialStretch>& stretches, model::TrialItem& item) {
  std::vector<std::size_t> ends;  // the last stretch of each leg
  for (std::size_t i = 0; i < item.legs.size(); ++i) {
    if (i + 1 == item.legs.size() || !can_join(item) || !runs_through(stretches, item, i)) ends.push_back(i);
  }
  const auto keep_ends = [&](auto& of_stretches) {
    std::remove_reference_t<decltype(of_stretches)> kept;
    for (const std::size_t end : ends) kept.push_back(of_stretches[end]);
    of_stretches = std::move(kept);
  };
  auto legs = std::move(item.legs);
  item.legs.clear();
  std::size_t first = 0;
  for (const std::size_t end : ends) {
    model::TrialLeg joined = legs[end];
    joined.first = first;
    joined.last = end;
    for (; first < end; ++first) {
      joined.used += legs[first].used;
      joined.made += legs[first].made;
    }
    first = end + 1;
    item.legs.push_back(std::move(joined));
  }
  for (auto& place : item.places) {
    keep_ends(place.counts_at_end);
    keep_ends(place.counts_after);
  }
  for (auto& reading : item.readings) {
    for (auto* course : {&reading.plan, reading.measured ? &*reading.measured : nullptr}) {
      if (course == nullptr) continue;
      keep_ends(course->at_end);
      keep_ends(course->after);
    }
  }
}

}  // namespace daywright::rules
