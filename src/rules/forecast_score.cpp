#include "rules/forecast_score.h"

#include <cmath>
#include <optional>

namespace daywright::rules {
namespace {

using model::LevelExpected;

/// What was expected at `when`; nothing where that lies after the last instant.
std::optional<LevelExpected> expected_at(const std::vector<LevelExpected>& expected, model::Instant when) {
  for (std::size_t i = 1; i < expected.size(); ++i) {
    const auto& begin = expected[i - 1];
    const auto& end = expected[i];
    if (when < begin.at || when > end.at) continue;
    const double share = end.at > begin.at ? model::in_days(when - begin.at) / model::in_days(end.at - begin.at) : 1;
    const auto between = [&](double LevelExpected::* member) {
      return begin.*member + share * (end.*member - begin.*member);
    };
    return LevelExpected{when, between(&LevelExpected::low), between(&LevelExpected::level),
                         between(&LevelExpected::high)};
  }
  return std::nullopt;
}

}  // namespace

model::ForecastScore score_forecasts(const std::vector<model::LevelFiled>& days) {
  model::ForecastScore score;
  double errors = 0;
  double distances = 0;
  for (std::size_t earlier = 0; earlier < days.size(); ++earlier) {
    for (std::size_t later = earlier + 1; later < days.size(); ++later) {
      const auto& found = days[later];
      // No day expects anything beyond its last instant, so that days long after it need not be looked at.
      if (days[earlier].expected.empty() || found.at > days[earlier].expected.back().at) break;
      const auto expected = expected_at(days[earlier].expected, found.at);
      if (!expected || !found.level || found.at <= days[earlier].at) continue;
      if (found.plan != days[earlier].plan) {
        ++score.other_plan;
        continue;
      }
      ++score.forecasts;
      if (*found.level >= expected->low && *found.level <= expected->high) ++score.within;
      errors += *found.level - expected->level;
      distances += std::abs(*found.level - expected->level);
    }
  }
  if (score.forecasts == 0) return score;
  score.mean_error = errors / static_cast<double>(score.forecasts);
  score.mean_distance = distances / static_cast<double>(score.forecasts);
  return score;
}

}  // namespace daywright::rules
