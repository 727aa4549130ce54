// Past forecasts of one item, scored.
//
// Pure.
#pragma once

#include <vector>

#include "model/forecast_score.h"

namespace daywright::rules {

/// Holds what each day expected against what every later day found, as far ahead as it expected anything. Between two
/// instants level and band are taken to run straight. Requires `days` in order of time.
[[nodiscard]] model::ForecastScore score_forecasts(const std::vector<model::LevelFiled>& days);

}  // namespace daywright::rules
