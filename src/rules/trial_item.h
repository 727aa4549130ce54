// One item along the flight of a trial: what it is drawn and made, its places and transfers, its courses as planned.
//
// Pure.
#pragma once

#include <vector>

#include "rules/margins.h"
#include "rules/trial_flight.h"

namespace daywright::rules {

/// The item of `margins` along `flight`, still without the assured margins of other cases. Those of its transfers that
/// can be turned are added to `switches`.
[[nodiscard]] model::TrialItem lay_out_trial_item(const TrialFlight& flight, const ItemMargins& margins,
                                                  std::vector<model::TrialSwitch>& switches);

}  // namespace daywright::rules
