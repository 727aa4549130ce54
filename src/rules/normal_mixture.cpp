#include "rules/normal_mixture.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <numbers>

namespace daywright::rules {
namespace {

double normal_density(double z) { return std::exp(-z * z / 2) * std::numbers::inv_sqrtpi / std::numbers::sqrt2; }

double density(std::span<const WeightedNormal> mixture, double value) {
  double sum = 0;
  for (const auto& part : mixture)
    if (part.sd > 0) sum += part.weight * normal_density((value - part.mean) / part.sd) / part.sd;
  return sum;
}

/// Roughly the standard normal value that is below with `chance`: Abramowitz and Stegun 26.2.22 (from memory), off by
/// less than 0.003. Good enough to begin a search with.
double rough_normal_quantile(double chance) {
  const double tail = std::min(chance, 1 - chance);
  const double t = std::sqrt(-2 * std::log(tail));
  const double above = t - (2.30753 + 0.27061 * t) / (1 + 0.99229 * t + 0.04481 * t * t);
  return chance < 0.5 ? -above : above;
}

}  // namespace

double normal_chance(double z) { return std::erfc(-z / std::numbers::sqrt2) / 2; }

AboveZero cut_below_zero(double mean, double variance) {
  const double sd = std::sqrt(variance);
  const double cut = -mean / sd;
  // Below -35 sd erfc has no digits left; the first terms of its asymptotic series then have nine.
  const bool is_far = cut > 35;
  const double log_density = -(cut * cut + std::log(2 * std::numbers::pi)) / 2;
  const double log_chance =
      is_far ? log_density - std::log(cut) + std::log1p(-1 / (cut * cut)) : std::log(normal_chance(-cut));
  if (is_far) return {.mean = sd / cut, .variance = variance / (cut * cut), .log_chance = log_chance};
  const double hazard = std::exp(log_density - log_chance);
  const double remaining = 1 + hazard * (cut - hazard);
  return {.mean = mean + sd * hazard, .variance = variance * std::max(remaining, 0.0), .log_chance = log_chance};
}

double mean_of(std::span<const WeightedNormal> mixture) {
  double sum = 0;
  for (const auto& part : mixture) sum += part.weight * part.mean;
  return sum;
}

double sd_of(std::span<const WeightedNormal> mixture) {
  const double mean = mean_of(mixture);
  double sum = 0;
  for (const auto& part : mixture) sum += part.weight * (part.sd * part.sd + (part.mean - mean) * (part.mean - mean));
  return std::sqrt(sum);
}

double chance_below(std::span<const WeightedNormal> mixture, double value) {
  double sum = 0;
  for (const auto& part : mixture) {
    if (part.sd > 0)
      sum += part.weight * normal_chance((value - part.mean) / part.sd);
    else if (value >= part.mean)
      sum += part.weight;
  }
  return sum;
}

double quantile_of(std::span<const WeightedNormal> mixture, double chance, double enough) {
  assert(!mixture.empty() && chance > 0 && chance < 1);
  const double mean = mean_of(mixture);
  const double sd = sd_of(mixture);
  // Cantelli's inequality holds for every distribution; a hair more, for the rounding of mean and deviation.
  const double hair = 1e-9 * (sd + std::abs(mean));
  double low = mean - sd * std::sqrt((1 - chance) / chance) - hair;
  double high = mean + sd * std::sqrt(chance / (1 - chance)) + hair;
  // A narrow part of a wide mixture decides how fine the answer has to be.
  double narrowest = sd;
  for (const auto& part : mixture)
    if (part.sd > 0) narrowest = std::min(narrowest, part.sd);
  double value = std::clamp(mean + sd * rough_normal_quantile(chance), low, high);
  constexpr int most_steps = 200;  // halving alone needs about sixty
  for (int step = 0; step < most_steps; ++step) {
    const double miss = chance_below(mixture, value) - chance;
    (miss < 0 ? low : high) = value;
    double next = value - miss / density(mixture, value);
    if (!(next > low && next < high)) next = low + (high - low) / 2;
    const double moved = std::abs(next - value);
    value = next;
    const double fine =
        std::max({enough, 1e-10 * narrowest, 4 * std::numeric_limits<double>::epsilon() * std::abs(value)});
    if (moved <= fine || high - low <= fine) break;
  }
  return value;
}

double middle_of(std::span<const WeightedNormal> mixture, double tail) {
  const double low = quantile_of(mixture, tail);
  const double high = quantile_of(mixture, 1 - tail);
  double chance = 0;
  double sum = 0;
  for (const auto& part : mixture) {
    if (part.sd > 0) {
      // Of each part: the mean between the two ends, times the chance of lying there (as in cut_below_zero).
      const double from = (low - part.mean) / part.sd;
      const double to = (high - part.mean) / part.sd;
      const double inside = normal_chance(to) - normal_chance(from);
      chance += part.weight * inside;
      sum += part.weight * (part.mean * inside - part.sd * (normal_density(to) - normal_density(from)));
    } else if (part.mean >= low && part.mean <= high) {
      chance += part.weight;
      sum += part.weight * part.mean;
    }
  }
  return chance > 0 ? sum / chance : low;
}

}  // namespace daywright::rules
