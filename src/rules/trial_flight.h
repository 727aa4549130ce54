// The flight that all items of a trial share: its stretches from the cut-off on, with the days that can be added.
//
// Pure.
#pragma once

#include <algorithm>
#include <cassert>
#include <cstddef>
#include <string>
#include <vector>

#include "model/trial.h"
#include "rules/evaluation.h"
#include "rules/item_plan.h"
#include "rules/timeline.h"

namespace daywright::rules {

struct TrialFlight {
  const Evening& evening;
  model::Instant end;           ///< the required one
  model::Instant added_at;      ///< where days can be added
  bool can_be_longer = false;   ///< they still can
  std::size_t added_after = 0;  ///< so many stretches come before the added days; 0: none are possible
  std::vector<model::TrialStretch> stretches;
  // What the plan of an item is cut by; it has no added days.
  std::vector<Stretch> planned;
  std::vector<model::Instant> cuts;

  /// The plan of an item along the stretches, with transfers chosen otherwise.
  [[nodiscard]] ItemPlan plan_of(const model::Item& item, const PlanChoice& choice = {}) const;
};

/// Requires a cut-off before the required end.
[[nodiscard]] TrialFlight lay_out_flight(const Evening& evening);

/// Where the thing called `id` is among `things`; it has to be there.
template <class Things>
[[nodiscard]] std::size_t index_by_id(const Things& things, const std::string& id) {
  const auto found = std::find_if(things.begin(), things.end(), [&](const auto& thing) { return thing.id == id; });
  assert(found != things.end());
  return static_cast<std::size_t>(found - things.begin());
}

}  // namespace daywright::rules
