// How the levels that earlier days expected agree with those that later days found.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "model/instant.h"

namespace daywright::model {

/// A level that was expected at an instant, with the band around it.
struct LevelExpected {
  Instant at;
  double low = 0;
  double level = 0;
  double high = 0;
};

/// What one filed day says of one item.
struct LevelFiled {
  Instant at;                           ///< its cut-off
  std::optional<double> level;          ///< as estimated from the counts up to then; nothing: not soundly known
  std::vector<LevelExpected> expected;  ///< from the cut-off on, in order; fewer than two: nothing was expected
  std::string plan;                     ///< digest of the plan that it rests on
};

/// Pairs of an earlier and a later day; errors are what was found less what was expected.
struct ForecastScore {
  std::size_t forecasts = 0;
  std::size_t within = 0;  ///< found within the band
  double mean_error = 0;
  double mean_distance = 0;    ///< the same without signs
  std::size_t other_plan = 0;  ///< pairs left out, since the plan changed between them
};

}  // namespace daywright::model
