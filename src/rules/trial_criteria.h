// The criteria that limit how long the flight can be, told apart by who can judge them once something is tried.
//
// Pure.
#pragma once

#include <vector>

#include "model/trial.h"
#include "rules/evaluation.h"

namespace daywright::rules {

/// In the order of the rules, still without verdicts.
[[nodiscard]] std::vector<model::TrialCriterion> lay_out_trial_criteria(const Evening& evening, const Evaluation& now);

}  // namespace daywright::rules
