// A sum of weighted normal distributions: what an estimate with several explanations says about one quantity.
//
// Pure.
#pragma once

#include <span>

namespace daywright::rules {

/// One normal distribution of a mixture. sd 0: the value is known exactly.
struct WeightedNormal {
  double weight = 1;
  double mean = 0;
  double sd = 0;

  friend bool operator==(const WeightedNormal&, const WeightedNormal&) = default;
};

/// The chance that a standard normal value is at most `z`: erfc(-z / sqrt 2) / 2 (Abramowitz and Stegun 26.2.29, from
/// memory), which keeps its digits in the lower tail.
[[nodiscard]] double normal_chance(double z);

/// Of a normal distribution cut off below zero: its mean and variance, and the chance that it had of being above.
struct AboveZero {
  double mean = 0;
  double variance = 0;
  double log_chance = 0;
};

/// Source of the formula: moments of the truncated normal distribution, Johnson, Kotz and Balakrishnan, Continuous
/// Univariate Distributions 1, section 13.10.1 (from memory). Requires variance > 0.
[[nodiscard]] AboveZero cut_below_zero(double mean, double variance);

/// Mean and standard deviation of a mixture. Requires weights that sum to 1, here and below.
[[nodiscard]] double mean_of(std::span<const WeightedNormal> mixture);
[[nodiscard]] double sd_of(std::span<const WeightedNormal> mixture);

/// The chance that the quantity is at most `value`.
[[nodiscard]] double chance_below(std::span<const WeightedNormal> mixture, double value);

/// The value that the quantity is below with `chance`, to 1e-10 of the narrowest part's deviation, or to `enough`.
///
/// Newton's steps inside a bracket that halves when a step would leave it (Press et al., Numerical Recipes, section
/// 9.4, from memory): a mixture with far peaks has flat stretches where a bare Newton step runs away.
/// Requires 0 < chance < 1 and at least one member.
[[nodiscard]] double quantile_of(std::span<const WeightedNormal> mixture, double chance, double enough = 0);

/// The mean of what lies between the quantiles for `tail` and 1 - `tail`: the one figure that stands for a mixture.
///
/// What has less chance than `tail` does not move it: a leak that hardly anything speaks for belongs into the band and
/// not into the figure. With a tail of a tenth that is the chance from which a leak is shown by itself.
/// Requires 0 < tail < 1/2.
[[nodiscard]] double middle_of(std::span<const WeightedNormal> mixture, double tail = 0.1);

}  // namespace daywright::rules
