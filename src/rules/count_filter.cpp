#include "rules/count_filter.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>
#include <type_traits>

#include "rules/normal_mixture.h"

namespace daywright::rules {
namespace {

/// Calls work(size) with a size that the compiler knows where it is that of one place without a bias, as for almost
/// every item: the loops over it then take half the time.
template <typename Work>
void with_size(std::size_t size, const Work& work) {
  constexpr std::size_t usual = 3;
  if (size == usual)
    work(std::integral_constant<std::size_t, usual>{});
  else
    work(size);
}

/// How a count that is off by `surprise` agrees with a good count of variance `good`, and with a miscount.
Agreement compare(double surprise, double good, double wide, double miscount_chance) {
  const double square = surprise * surprise / 2;
  const double good_chance = 1 - miscount_chance;
  const double gain = square * (1 / good - 1 / wide);
  constexpr double certain = 600;  // beyond it, exp has no room and a good count no chance worth a digit
  if (miscount_chance > 0 && gain > certain)
    return {.log_likelihood = std::log(miscount_chance / std::sqrt(2 * std::numbers::pi * wide)) - square / wide,
            .miscount_chance = 1};
  const double odds = miscount_chance > 0 ? miscount_chance / good_chance * std::sqrt(good / wide) * std::exp(gain) : 0;
  const double density = good_chance * (1 + odds) / std::sqrt(2 * std::numbers::pi * good);
  return {.log_likelihood = std::log(density) - square / good, .miscount_chance = odds / (1 + odds)};
}

}  // namespace

CountFilter::CountFilter(StateLayout layout)
    : layout_(layout), across_(layout.size()), left_(layout.size()), wide_left_(layout.size()) {}

void CountFilter::advance(StateNormal& state, double days, const std::vector<Flow>& flows, double factor_drift,
                          std::size_t leak_place) const {
  with_size(layout_.size(), [&](auto size) {
    const std::size_t factor = layout_.factor();
    const std::size_t leak = layout_.leak();
    double* cov = state.covariance.data();
    // The transition is the identity but for the rows of the levels: rows first, then columns.
    for (const Flow& flow : flows) {
      state.mean[flow.place] += flow.make - state.mean[factor] * flow.draw;
      for (std::size_t i = 0; i < size; ++i) cov[flow.place * size + i] -= flow.draw * cov[factor * size + i];
    }
    state.mean[leak_place] -= state.mean[leak] * days;
    for (std::size_t i = 0; i < size; ++i) cov[leak_place * size + i] -= days * cov[leak * size + i];
    for (const Flow& flow : flows)
      for (std::size_t i = 0; i < size; ++i) cov[i * size + flow.place] -= flow.draw * cov[i * size + factor];
    for (std::size_t i = 0; i < size; ++i) cov[i * size + leak_place] -= days * cov[i * size + leak];

    const double drift = factor_drift * days;
    cov[factor * size + factor] += drift;
    for (const Flow& flow : flows) {
      cov[flow.place * size + factor] -= flow.draw * drift / 2;
      cov[factor * size + flow.place] -= flow.draw * drift / 2;
      for (const Flow& other : flows) cov[flow.place * size + other.place] += flow.draw * other.draw * drift / 3;
      cov[flow.place * size + flow.place] += flow.sigma * flow.sigma;
    }
  });
}

void CountFilter::begin_leak(StateNormal& state, std::size_t leak_place, double newest, double oldest, double mean,
                             double sd) const {
  const std::size_t leak = layout_.leak();
  const double variance = sd * sd;
  state.mean[leak] = mean;
  for (std::size_t i = 0; i < layout_.size(); ++i) state.cov(leak, i) = state.cov(i, leak) = 0;
  state.cov(leak, leak) = variance;
  // The time since is uniform and independent of the size.
  const double since = (newest + oldest) / 2;
  const double since_squared = (newest * newest + newest * oldest + oldest * oldest) / 3;
  state.mean[leak_place] -= mean * since;
  state.cov(leak_place, leak) = state.cov(leak, leak_place) = -variance * since;
  state.cov(leak_place, leak_place) += (mean * mean + variance) * since_squared - mean * mean * since * since;
}

void CountFilter::find_seen(const Observation& count) {
  seen_.clear();
  if (count.place == every_place) {
    for (std::size_t place = 0; place < layout_.places; ++place) seen_.push_back(place);
  } else {
    seen_.push_back(count.place);
  }
  if (count.bias != unbiased) seen_.push_back(layout_.bias(count.bias));
}

void CountFilter::find_across(const StateNormal& state) {
  with_size(layout_.size(), [&](auto size) {
    for (std::size_t i = 0; i < size; ++i) {
      double sum = 0;
      for (const std::size_t j : seen_) sum += state.covariance[i * size + j];
      across_[i] = sum;
    }
  });
}

void CountFilter::find_left(const StateNormal& state, double scale, std::vector<double>& left) const {
  // Summed from the narrowed rows and not taken from the algebra: that is what makes Joseph's form stable.
  with_size(layout_.size(), [&](auto size) {
    for (std::size_t i = 0; i < size; ++i) {
      double sum = 0;
      for (const std::size_t j : seen_) sum += state.covariance[i * size + j] - scale * across_[i] * across_[j];
      left[i] = sum;
    }
  });
}

Agreement CountFilter::take_count(StateNormal& state, const Observation& count) {
  find_seen(count);
  find_across(state);
  double expected = 0;
  double spread = 0;
  for (const std::size_t i : seen_) {
    expected += state.mean[i];
    spread += across_[i];
  }
  const double surprise = count.value - expected;
  const double good = spread + count.variance;
  const double wide = good + count.miscount_variance;
  assert(good > 0 && count.miscount_chance < 1);
  Agreement agreement = compare(surprise, good, wide, count.miscount_chance);
  agreement.deviations = std::abs(surprise) / std::sqrt(good);
  agreement.surprise = surprise;
  agreement.variance = good;

  // Both parts at once, a half of the symmetric matrix. A gain is across x scale; for each part Joseph's form is
  // (P - K across') - left K' + variance K K'. The parts' means differ by across x apart.
  const double weight = 1 - agreement.miscount_chance;
  const double wide_weight = agreement.miscount_chance;
  const double scale = 1 / good;
  const double wide_scale = 1 / wide;
  const double noise = count.variance * scale * scale;
  const double wide_noise = (count.variance + count.miscount_variance) * wide_scale * wide_scale;
  const double apart = (scale - wide_scale) * surprise;
  const double between = weight * wide_weight * apart * apart;
  const double step = (weight * scale + wide_weight * wide_scale) * surprise;
  find_left(state, scale, left_);
  find_left(state, wide_scale, wide_left_);
  with_size(layout_.size(), [&](auto size) {
    double* covariance = state.covariance.data();
    for (std::size_t i = 0; i < size; ++i) {
      state.mean[i] += across_[i] * step;
      for (std::size_t j = 0; j <= i; ++j) {
        const double both = across_[i] * across_[j];
        const double before = covariance[i * size + j];
        const double after = (before - scale * both) - left_[i] * scale * across_[j] + noise * both;
        const double wide_after =
            (before - wide_scale * both) - wide_left_[i] * wide_scale * across_[j] + wide_noise * both;
        const double common = weight * after + wide_weight * wide_after + between * both;
        covariance[i * size + j] = covariance[j * size + i] = common;
      }
    }
  });
  return agreement;
}

double CountFilter::hold_leak_positive(StateNormal& state) const {
  const std::size_t leak = layout_.leak();
  const double variance = state.cov(leak, leak);
  if (!(variance > 0)) return 0;
  const double mean = state.mean[leak];
  const AboveZero cut = cut_below_zero(mean, variance);
  std::vector<double> slope(layout_.size());
  for (std::size_t i = 0; i < layout_.size(); ++i) slope[i] = state.cov(i, leak) / variance;
  for (std::size_t i = 0; i < layout_.size(); ++i) {
    state.mean[i] += slope[i] * (cut.mean - mean);
    for (std::size_t j = 0; j < layout_.size(); ++j) state.cov(i, j) += slope[i] * slope[j] * (cut.variance - variance);
  }
  return cut.log_chance;
}

}  // namespace daywright::rules
