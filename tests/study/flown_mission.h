// Made-up missions for the study of the estimator: what happened, what was counted, what was planned.
//
//   In:  what kind of mission, a stream of chances
//   Out: the item's history as the estimator gets it, and the truth that it does not get
#pragma once

#include <cstdint>
#include <optional>
#include <random>
#include <vector>

#include "rules/estimate.h"

namespace daywright::study {

/// Chances that are the same on every machine: the generator's numbers are fixed by the C++ standard, the deviates made
/// from them here, since those of the standard library differ between libraries.
class Chance {
 public:
  explicit Chance(std::uint64_t seed) : bits_(seed) {}
  [[nodiscard]] double uniform(double low, double high);
  [[nodiscard]] double normal(double mean, double sd);
  [[nodiscard]] bool happens(double chance) { return uniform(0, 1) < chance; }

 private:
  std::mt19937_64 bits_;
};

/// The figures of the study's missions; the defaults are those of the main table.
struct MissionKind {
  bool leaks = false;
  double smallest_leak = 0.25;  ///< of the usual day's draw, evenly up to:
  double largest_leak = 0.80;
  double first_onset = 1;  ///< days; onsets lie on half-days, each as likely
  double last_onset = 6;
  double bias_sigmas = 0;         ///< all counts are off by so many sigmas, up or down; declared as their spread
  double derived_share = 0;       ///< chance of a count to be a derived value, which the estimator does not get
  bool third_is_derived = false;  ///< every third count is
};

inline constexpr double usual_draw = 5;     ///< units a day
inline constexpr double count_sigma = 0.6;  ///< of a good count, and of the level at the start
inline constexpr double cutoff_day = 7;
inline constexpr double required_day = 14;

/// A mission as flown.
struct FlownMission {
  rules::ItemHistory history;
  std::vector<bool> is_miscount;  ///< of each count in `history`
  std::optional<double> onset;    ///< day; none: no leak
  double final_level = 0;         ///< on the required day; below zero where it would not have sufficed
};

[[nodiscard]] FlownMission fly(const MissionKind& kind, Chance& chance);

}  // namespace daywright::study
