// An item's stretches joined to legs where nothing happens to it between them.
//
// Pure.
#pragma once

#include <vector>

#include "model/trial.h"

namespace daywright::rules {

/// Makes one leg of stretches that run through. Requires a leg for each of the stretches.
void join_legs(const std::vector<model::TrialStretch>& stretches, model::TrialItem& item);

}  // namespace daywright::rules
