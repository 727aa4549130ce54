// The flight laid out as something to try cases on (model/trial.h).
//
//   In:  the evening and what was worked out of it
//   Out: every term of the margins at plan and at the measured rate, and the cases that only the program can tell
//
// Pure.
#pragma once

#include "model/trial.h"
#include "rules/evaluation.h"

namespace daywright::rules {

/// At most so many transfers of one item can be turned; the others stay as the margins of record have them.
inline constexpr std::size_t most_switches_of_item = 4;

/// What can be tried from the cut-off on; without items where the cut-off is not before the required end. Does not look
/// at the figures of `now`, so that they can be entered meanwhile.
[[nodiscard]] model::TrialPlan lay_out_trial(const Evening& evening, const Evaluation& now);

}  // namespace daywright::rules
