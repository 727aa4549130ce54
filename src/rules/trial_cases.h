// What only the program can tell of a trial, for so many days more: the assured margins with every choice of transfers,
// and the verdicts on criteria.
//
// Pure.
#pragma once

#include "model/trial.h"
#include "rules/evaluation.h"

namespace daywright::rules {

/// Adds the assured margins to the items of `trial`, the verdicts to its criteria, and its own.
void find_trial_cases(const Evening& evening, const Evaluation& now, model::TrialPlan& trial);

}  // namespace daywright::rules
