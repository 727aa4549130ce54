#include "rules/leak_branches.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

#include "rules/normal_mixture.h"

namespace daywright::rules {
namespace {

StateNormal initial_state(const EstimateSettings& settings, const ItemHistory& history, const StateLayout& layout) {
  StateNormal state(layout.size());
  for (std::size_t place = 0; place < layout.places; ++place) {
    state.mean[place] = history.places[place].mean;
    state.cov(place, place) = history.places[place].sd * history.places[place].sd;
  }
  state.mean[layout.factor()] = 1;
  state.cov(layout.factor(), layout.factor()) = settings.factor_sd * settings.factor_sd;
  for (std::size_t i = 0; i < layout.biases; ++i)
    state.cov(layout.bias(i), layout.bias(i)) = history.bias_sds[i] * history.bias_sds[i];
  return state;
}

constexpr double most_pieces = 4;  // of one interval between counts

// An odd count leaves two states that are far apart, and which of them is right the next counts tell: two slips in a
// row would look like a young leak if the states were made one at once. Within so many deviations they are made one.
constexpr double odd_from = 2;
constexpr std::size_t most_parts = 2;
constexpr double least_weight = 1e-9;  // of a part: no later count would bring it back

double middle(const LeakOnset& onset) { return onset.from + (onset.to - onset.from) / 2; }

/// The normal distribution with the common mean and covariance of the parts; their weights need not sum to 1.
StateNormal common_state(const std::vector<StatePart>& parts) {
  const std::size_t size = parts.front().state.mean.size();
  double total = 0;
  for (const auto& part : parts) total += part.weight;
  StateNormal common(size);
  for (const auto& [weight, state] : parts)
    for (std::size_t i = 0; i < size; ++i) common.mean[i] += weight / total * state.mean[i];
  for (const auto& [weight, state] : parts)
    for (std::size_t i = 0; i < size; ++i)
      for (std::size_t j = 0; j < size; ++j)
        common.cov(i, j) +=
            weight / total * (state.cov(i, j) + (state.mean[i] - common.mean[i]) * (state.mean[j] - common.mean[j]));
  return common;
}

double level_of(const StateNormal& state, const StateLayout& layout) {
  return std::accumulate(state.mean.begin(), state.mean.begin() + static_cast<std::ptrdiff_t>(layout.places), 0.0);
}

/// Makes the weights sum to 1, leaves out what is all but impossible, and makes the lightest part one with the part
/// nearest to it until there are few enough.
void reduce(std::vector<StatePart>& parts, const StateLayout& layout) {
  double total = 0;
  for (const auto& part : parts) total += part.weight;
  for (auto& part : parts) part.weight /= total;
  std::erase_if(parts, [](const auto& part) { return part.weight < least_weight; });
  while (parts.size() > most_parts) {
    const auto lightest =
        std::min_element(parts.begin(), parts.end(), [](const auto& a, const auto& b) { return a.weight < b.weight; });
    const StatePart light = std::move(*lightest);
    parts.erase(lightest);
    const double level = level_of(light.state, layout);
    const auto nearest = std::min_element(parts.begin(), parts.end(), [&](const auto& a, const auto& b) {
      return std::abs(level_of(a.state, layout) - level) < std::abs(level_of(b.state, layout) - level);
    });
    *nearest = {nearest->weight + light.weight, common_state({*nearest, light})};
  }
}

/// The chance that was given to a count no larger than the one that came, slips included.
double chance_of_no_more(const Agreement& agreement, const Observation& count) {
  const double good = normal_chance(agreement.surprise / std::sqrt(agreement.variance));
  if (!(count.miscount_chance > 0)) return good;
  const double slip = normal_chance(agreement.surprise / std::sqrt(agreement.variance + count.miscount_variance));
  return (1 - count.miscount_chance) * good + count.miscount_chance * slip;
}

}  // namespace

double add_in_logarithms(double a, double b) {
  const double larger = std::max(a, b);
  if (larger == -std::numeric_limits<double>::infinity()) return larger;
  return larger + std::log1p(std::exp(std::min(a, b) - larger));
}

LeakBranches::LeakBranches(const EstimateSettings& settings, const ItemHistory& history)
    : settings_(settings),
      history_(history),
      filter_({.places = history.places.size(), .biases = history.bias_sds.size()}),
      before_(filter_.layout().size()) {
  branches_.push_back({.number = 0,
                       .onset = std::nullopt,
                       .log_weight = std::log1p(-settings.leak_chance),
                       .parts = {{1, initial_state(settings, history, filter_.layout())}}});
  if (settings.leak_sd > 0)
    prior_chance_positive_ = cut_below_zero(settings.leak_mean, settings.leak_sd * settings.leak_sd).log_chance;
}

void LeakBranches::advance(double days, const std::vector<Flow>& flows) {
  for (auto& branch : branches_)
    for (auto& part : branch.parts)
      filter_.advance(part.state, days, flows, settings_.factor_drift, branch.onset ? branch.onset->place : 0);
}

void LeakBranches::begin_leaks(double from, double to) {
  const double whole = history_.now - history_.start;
  if (!(to > from) || !(settings_.leak_chance > 0) || !(history_.daily_draw > 0)) return;
  const std::size_t places = filter_.layout().places;
  // What a leak of an unknown age has drained is far from normal where it can be anything between nothing and all; in
  // short pieces it is nearly so.
  const auto pieces =
      static_cast<int>(std::clamp(std::ceil((to - from) / settings_.onset_days - 1e-9), 1.0, most_pieces));
  const double length = (to - from) / pieces;
  const double prior = std::log(settings_.leak_chance * length / whole / static_cast<double>(places)) -
                       std::log1p(-settings_.leak_chance);
  for (int piece = 0; piece < pieces; ++piece) {
    const double begin = from + piece * length;
    for (std::size_t place = 0; place < places; ++place) {
      LeakBranch branch{.number = ++begun_,
                        .onset = LeakOnset{.from = begin, .to = begin + length, .place = place},
                        .log_weight = branches_.front().log_weight + prior,
                        .parts = branches_.front().parts};
      for (auto& part : branch.parts)
        filter_.begin_leak(part.state, place, to - begin - length, to - begin,
                           settings_.leak_mean * history_.daily_draw, settings_.leak_sd * history_.daily_draw);
      branches_.push_back(std::move(branch));
    }
  }
}

void LeakBranches::take_count(const CountedValue& count) {
  const double variance = count.sigma * count.sigma;
  const Observation observation{.value = count.value,
                                .variance = variance,
                                .miscount_chance = count.is_believed ? 0 : settings_.miscount_chance,
                                .miscount_variance = settings_.miscount_sigmas * settings_.miscount_sigmas * variance,
                                .place = count.place,
                                .bias = count.bias};
  auto& verdicts = verdicts_.emplace_back();
  verdicts.reserve(branches_.size());
  const auto weight = weights();
  // Onsets that hardly anything speaks for are left out: together they move the chance by less than can be seen.
  constexpr double least = 0.005;
  double considered = 0;
  for (const double chance : weight) considered += chance < least ? 0 : chance;
  auto& expected = expected_.emplace_back(CountExpected{0, 0});
  for (std::size_t i = 0; i < branches_.size(); ++i) {
    const double miscount_chance =
        take_into(branches_[i], observation, weight[i] < least ? 0 : weight[i] / considered, expected);
    verdicts.push_back({.number = branches_[i].number, .miscount_chance = miscount_chance});
  }
  prune();
}

double LeakBranches::take_into(LeakBranch& branch, const Observation& count, double branch_weight,
                               CountExpected& expected) {
  Observation good = count;
  good.miscount_chance = 0;
  Observation slip = good;
  slip.variance += count.miscount_variance;
  double best = -std::numeric_limits<double>::infinity();  // of the likelihoods of all parts
  double slips = 0;
  after_.clear();
  // Weights are kept relative to the likeliest part so far, so that they do not underflow.
  const auto add = [&](double weight, double log_likelihood, double miscount_chance, StateNormal state) {
    if (log_likelihood > best) {
      const double scale = std::exp(best - log_likelihood);
      for (auto& part : after_) part.weight *= scale;
      slips *= scale;
      best = log_likelihood;
    }
    weight *= std::exp(log_likelihood - best);
    slips += weight * miscount_chance;
    after_.push_back({weight, std::move(state)});
  };
  for (auto& [weight, state] : branch.parts) {
    before_ = state;
    const Agreement both = filter_.take_count(state, count);
    if (branch_weight > 0) {
      expected.value += branch_weight * weight * (count.value - both.surprise);
      expected.chance_below += branch_weight * weight * chance_of_no_more(both, count);
    }
    if (both.deviations < odd_from || count.miscount_chance == 0) {
      add(weight, both.log_likelihood, both.miscount_chance, std::move(state));
      continue;
    }
    state = before_;
    const double as_good = filter_.take_count(state, good).log_likelihood + std::log1p(-count.miscount_chance);
    add(weight, as_good, 0, std::move(state));
    const double as_slip = filter_.take_count(before_, slip).log_likelihood + std::log(count.miscount_chance);
    add(weight, as_slip, 1, before_);
  }
  double total = 0;
  for (const auto& part : after_) total += part.weight;
  branch.log_weight += best + std::log(total);
  std::swap(branch.parts, after_);
  reduce(branch.parts, filter_.layout());
  return slips / total;
}

void LeakBranches::prune() {
  const std::size_t newest = settings_.newest_onsets * filter_.layout().places;
  while (branches_.size() > 1 + newest + settings_.best_onsets) {
    std::size_t worst = 1;
    for (std::size_t i = 2; i + newest < branches_.size(); ++i)
      if (branches_[i].log_weight < branches_[worst].log_weight) worst = i;
    drop(worst);
  }
}

void LeakBranches::drop(std::size_t index) {
  const LeakBranch& dropped = branches_[index];
  LeakBranch* nearest = nullptr;
  double distance = std::numeric_limits<double>::infinity();
  for (auto& branch : branches_) {
    if (&branch == &dropped || !branch.onset || branch.onset->place != dropped.onset->place) continue;
    const double apart = std::abs(middle(*branch.onset) - middle(*dropped.onset));
    if (apart < distance) {
      distance = apart;
      nearest = &branch;
    }
  }
  if (nearest != nullptr) nearest->log_weight = add_in_logarithms(nearest->log_weight, dropped.log_weight);
  branches_.erase(branches_.begin() + static_cast<std::ptrdiff_t>(index));
}

void LeakBranches::hold_leaks_positive() {
  // A prior cut off at zero and divided by its remaining chance leads to a posterior cut off at zero, and to an
  // evidence that is larger by the ratio of the two remaining chances.
  for (auto& branch : branches_) {
    if (!branch.onset) continue;
    // In logarithms: of a leak that is surely none the chance of being positive has no room in a number.
    std::vector<double> log_weights;
    double positive = -std::numeric_limits<double>::infinity();
    for (auto& part : branch.parts) {
      log_weights.push_back(std::log(part.weight) + filter_.hold_leak_positive(part.state));
      positive = add_in_logarithms(positive, log_weights.back());
    }
    for (std::size_t i = 0; i < branch.parts.size(); ++i) branch.parts[i].weight = std::exp(log_weights[i] - positive);
    branch.log_weight += positive - prior_chance_positive_;
  }
}

std::vector<double> LeakBranches::weights() const {
  double total = -std::numeric_limits<double>::infinity();
  for (const auto& branch : branches_) total = add_in_logarithms(total, branch.log_weight);
  std::vector<double> weights;
  for (const auto& branch : branches_) weights.push_back(std::exp(branch.log_weight - total));
  return weights;
}

void LeakBranches::settle_miscounts() {
  const auto weight = weights();
  for (const auto& verdicts : verdicts_) {
    double chance = 0;
    auto verdict = verdicts.begin();
    for (std::size_t i = 0; i < branches_.size(); ++i) {
      while (verdict != verdicts.end() && verdict->number < branches_[i].number) ++verdict;
      const bool had_begun = verdict != verdicts.end() && verdict->number == branches_[i].number;
      // Before its onset an explanation is the one without a leak.
      chance += weight[i] * (had_begun ? *verdict : verdicts.front()).miscount_chance;
    }
    miscount_chances_.push_back(chance);
  }
  verdicts_.clear();
}

void LeakBranches::close_leaks() {
  hold_leaks_positive();
  settle_miscounts();
  const auto weight = weights();
  const std::size_t size = filter_.layout().size();
  const std::size_t leak = filter_.layout().leak();
  std::vector<StatePart> all;
  for (std::size_t b = 0; b < branches_.size(); ++b) all.push_back({weight[b], common_state(branches_[b].parts)});
  StateNormal common = common_state(all);
  common.mean[leak] = 0;
  for (std::size_t i = 0; i < size; ++i) common.cov(leak, i) = common.cov(i, leak) = 0;
  double total = branches_.front().log_weight;
  for (std::size_t b = 1; b < branches_.size(); ++b) total = add_in_logarithms(total, branches_[b].log_weight);
  branches_.erase(branches_.begin() + 1, branches_.end());
  branches_.front().parts = {{1, std::move(common)}};
  branches_.front().log_weight = total;
}

LevelEstimate LeakBranches::finish() {
  hold_leaks_positive();
  settle_miscounts();
  LevelEstimate estimate;
  estimate.layout = filter_.layout();
  estimate.at = history_.now;
  estimate.miscount_chances = std::move(miscount_chances_);
  estimate.expected = std::move(expected_);
  const auto weight = weights();
  estimate.log_likelihood = -std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < branches_.size(); ++i) {
    auto& branch = branches_[i];
    estimate.log_likelihood = add_in_logarithms(estimate.log_likelihood, branch.log_weight);
    estimate.explanations.push_back({.onset = branch.onset, .weight = weight[i], .state = common_state(branch.parts)});
  }
  return estimate;
}

}  // namespace daywright::rules
