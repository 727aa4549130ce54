// What happens to an item of a trial at the cut-off and at the end of each piece of its plan, with planned transfers
// as the margins of record have them and the other way round.
//
// Pure.
#pragma once

#include <cstddef>
#include <vector>

#include "rules/trial_flight.h"

namespace daywright::rules {

struct TrialSteps {
  std::vector<model::TrialStep> by_turn;  ///< 0 is the cut-off, the others are the ends of the pieces
  std::vector<PlaceAhead> places;         ///< those of the plan, and what turned transfers add
  std::vector<std::size_t> switches;      ///< of the transfers that can be turned
};

/// The steps of `plan`, which is that of the margins of record. Switches of its transfers are added to `switches`.
[[nodiscard]] TrialSteps lay_out_steps(const TrialFlight& flight, const ItemPlan& plan,
                                       std::vector<model::TrialSwitch>& switches);

}  // namespace daywright::rules
