#include "rules/count_filter.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

#include "rules/normal_mixture.h"

namespace daywright::rules {

CountFilter::CountFilter(StateLayout layout)
    : layout_(layout),
      across_(layout.size()),
      gain_(layout.size()),
      narrowed_(layout.size() * layout.size()),
      updated_(layout.size() * layout.size()) {}

void CountFilter::advance(StateNormal& state, double days, const std::vector<Flow>& flows, double factor_drift,
                          std::size_t leak_place) const {
  const std::size_t size = layout_.size();
  const std::size_t factor = layout_.factor();
  const std::size_t leak = layout_.leak();
  // The transition is the identity but for the rows of the levels: rows first, then columns.
  for (const Flow& flow : flows) {
    state.mean[flow.place] += flow.make - state.mean[factor] * flow.draw;
    for (std::size_t i = 0; i < size; ++i) state.cov(flow.place, i) -= flow.draw * state.cov(factor, i);
  }
  state.mean[leak_place] -= state.mean[leak] * days;
  for (std::size_t i = 0; i < size; ++i) state.cov(leak_place, i) -= days * state.cov(leak, i);
  for (const Flow& flow : flows)
    for (std::size_t i = 0; i < size; ++i) state.cov(i, flow.place) -= flow.draw * state.cov(i, factor);
  for (std::size_t i = 0; i < size; ++i) state.cov(i, leak_place) -= days * state.cov(i, leak);

  const double drift = factor_drift * days;
  state.cov(factor, factor) += drift;
  for (const Flow& flow : flows) {
    state.cov(flow.place, factor) -= flow.draw * drift / 2;
    state.cov(factor, flow.place) -= flow.draw * drift / 2;
    for (const Flow& other : flows) state.cov(flow.place, other.place) += flow.draw * other.draw * drift / 3;
    state.cov(flow.place, flow.place) += flow.sigma * flow.sigma;
  }
}

void CountFilter::begin_leak(StateNormal& state, std::size_t leak_place, double days, double mean, double sd) const {
  const std::size_t leak = layout_.leak();
  const double variance = sd * sd;
  state.mean[leak] = mean;
  for (std::size_t i = 0; i < layout_.size(); ++i) state.cov(leak, i) = state.cov(i, leak) = 0;
  state.cov(leak, leak) = variance;
  // E u = 1/2, E u^2 = 1/3; size and u are independent.
  state.mean[leak_place] -= mean * days / 2;
  state.cov(leak_place, leak) = state.cov(leak, leak_place) = -variance * days / 2;
  state.cov(leak_place, leak_place) += ((mean * mean + variance) / 3 - mean * mean / 4) * days * days;
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

void CountFilter::add_updated(const StateNormal& state, double variance, double weight) {
  const std::size_t size = layout_.size();
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = 0; j < size; ++j) narrowed_[i * size + j] = state.cov(i, j) - gain_[i] * across_[j];
  for (std::size_t i = 0; i < size; ++i) {
    // Summed from the narrowed rows and not taken from the algebra: that is what makes the form stable.
    double left = 0;
    for (const std::size_t j : seen_) left += narrowed_[i * size + j];
    for (std::size_t j = 0; j < size; ++j)
      updated_[i * size + j] += weight * (narrowed_[i * size + j] - left * gain_[j] + variance * gain_[i] * gain_[j]);
  }
}

Agreement CountFilter::take_count(StateNormal& state, const Observation& count) {
  const std::size_t size = layout_.size();
  find_seen(count);
  double expected = 0;
  for (const std::size_t i : seen_) expected += state.mean[i];
  for (std::size_t i = 0; i < size; ++i) {
    across_[i] = 0;
    for (const std::size_t j : seen_) across_[i] += state.cov(i, j);
  }
  double spread = 0;
  for (const std::size_t i : seen_) spread += across_[i];

  const double surprise = count.value - expected;
  const double good = spread + count.variance;
  const double wide = good + count.miscount_variance;
  assert(good > 0 && count.miscount_chance < 1);
  const double log_good =
      std::log1p(-count.miscount_chance) - (std::log(2 * std::numbers::pi * good) + surprise * surprise / good) / 2;
  Agreement agreement{.log_likelihood = log_good, .miscount_chance = 0};
  if (count.miscount_chance > 0) {
    const double log_wide =
        std::log(count.miscount_chance) - (std::log(2 * std::numbers::pi * wide) + surprise * surprise / wide) / 2;
    const double odds = std::exp(-std::abs(log_wide - log_good));  // of the less likely of the two, so never too large
    agreement.log_likelihood = std::max(log_good, log_wide) + std::log1p(odds);
    agreement.miscount_chance = (log_wide < log_good ? odds : 1) / (1 + odds);
  }

  const double miscount = agreement.miscount_chance;
  std::fill(updated_.begin(), updated_.end(), 0.0);
  for (std::size_t i = 0; i < size; ++i) gain_[i] = across_[i] / good;
  add_updated(state, count.variance, 1 - miscount);
  if (miscount > 0) {
    for (std::size_t i = 0; i < size; ++i) gain_[i] = across_[i] / wide;
    add_updated(state, count.variance + count.miscount_variance, miscount);
  }
  // The two means differ by across x (1 / good - 1 / wide) x surprise.
  const double apart = (1 / good - 1 / wide) * surprise;
  const double between = miscount * (1 - miscount) * apart * apart;
  const double step = ((1 - miscount) / good + miscount / wide) * surprise;
  for (std::size_t i = 0; i < size; ++i) {
    state.mean[i] += across_[i] * step;
    for (std::size_t j = 0; j <= i; ++j) {
      const double both_sides = (updated_[i * size + j] + updated_[j * size + i]) / 2;
      state.cov(i, j) = state.cov(j, i) = both_sides + between * across_[i] * across_[j];
    }
  }
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
