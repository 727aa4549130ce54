// What is wrong with a fit, checked instant by instant and with nothing taken from the code that made it.
#pragma once

#include <string>
#include <vector>

#include "rules/fit.h"

namespace daywright::study {

/// Every way in which `fit` breaks `problem`, one sentence each: a resource short, a start before what it needs, an end
/// after the due time, nonsense that fits, an end that isn't one.
[[nodiscard]] std::vector<std::string> find_misfits(const rules::FitProblem& problem, const rules::Fit& fit);

}  // namespace daywright::study
