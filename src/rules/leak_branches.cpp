#include "rules/leak_branches.h"

#include <algorithm>
#include <cmath>
#include <limits>
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

double middle(const LeakOnset& onset) { return onset.from + (onset.to - onset.from) / 2; }

}  // namespace

double add_in_logarithms(double a, double b) {
  const double larger = std::max(a, b);
  if (larger == -std::numeric_limits<double>::infinity()) return larger;
  return larger + std::log1p(std::exp(std::min(a, b) - larger));
}

LeakBranches::LeakBranches(const EstimateSettings& settings, const ItemHistory& history)
    : settings_(settings),
      history_(history),
      filter_({.places = history.places.size(), .biases = history.bias_sds.size()}) {
  branches_.push_back({.number = 0,
                       .onset = std::nullopt,
                       .log_weight = std::log1p(-settings.leak_chance),
                       .state = initial_state(settings, history, filter_.layout())});
  if (settings.leak_sd > 0)
    prior_chance_positive_ = cut_below_zero(settings.leak_mean, settings.leak_sd * settings.leak_sd).log_chance;
}

void LeakBranches::advance(double days, const std::vector<Flow>& flows) {
  for (auto& branch : branches_)
    filter_.advance(branch.state, days, flows, settings_.factor_drift, branch.onset ? branch.onset->place : 0);
}

void LeakBranches::begin_leaks(double from, double to) {
  const double whole = history_.now - history_.start;
  if (!(to > from) || !(settings_.leak_chance > 0) || !(history_.daily_draw > 0)) return;
  const std::size_t places = filter_.layout().places;
  // What a leak of an unknown age has drained is far from normal where it can be anything between nothing and all; in
  // short pieces it is nearly so.
  const double pieces = std::clamp(std::ceil((to - from) / settings_.onset_days - 1e-9), 1.0, most_pieces);
  const double length = (to - from) / pieces;
  const double prior = std::log(settings_.leak_chance * length / whole / static_cast<double>(places)) -
                       std::log1p(-settings_.leak_chance);
  for (double piece = 0; piece < pieces; ++piece) {
    const double begin = from + piece * length;
    for (std::size_t place = 0; place < places; ++place) {
      LeakBranch branch{.number = ++begun_,
                        .onset = LeakOnset{.from = begin, .to = begin + length, .place = place},
                        .log_weight = branches_.front().log_weight + prior,
                        .state = branches_.front().state};
      filter_.begin_leak(branch.state, place, to - begin - length, to - begin,
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
  for (auto& branch : branches_) {
    const Agreement agreement = filter_.take_count(branch.state, observation);
    branch.log_weight += agreement.log_likelihood;
    verdicts.push_back({.number = branch.number, .miscount_chance = agreement.miscount_chance});
  }
  prune();
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
  for (auto& branch : branches_)
    if (branch.onset) branch.log_weight += filter_.hold_leak_positive(branch.state) - prior_chance_positive_;
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
  StateNormal common(size);
  for (std::size_t b = 0; b < branches_.size(); ++b)
    for (std::size_t i = 0; i < size; ++i) common.mean[i] += weight[b] * branches_[b].state.mean[i];
  for (std::size_t b = 0; b < branches_.size(); ++b) {
    const StateNormal& state = branches_[b].state;
    for (std::size_t i = 0; i < size; ++i)
      for (std::size_t j = 0; j < size; ++j)
        common.cov(i, j) +=
            weight[b] * (state.cov(i, j) + (state.mean[i] - common.mean[i]) * (state.mean[j] - common.mean[j]));
  }
  common.mean[leak] = 0;
  for (std::size_t i = 0; i < size; ++i) common.cov(leak, i) = common.cov(i, leak) = 0;
  double total = branches_.front().log_weight;
  for (std::size_t b = 1; b < branches_.size(); ++b) total = add_in_logarithms(total, branches_[b].log_weight);
  branches_.erase(branches_.begin() + 1, branches_.end());
  branches_.front().state = std::move(common);
  branches_.front().log_weight = total;
}

LevelEstimate LeakBranches::finish() {
  hold_leaks_positive();
  settle_miscounts();
  LevelEstimate estimate;
  estimate.layout = filter_.layout();
  estimate.at = history_.now;
  estimate.miscount_chances = std::move(miscount_chances_);
  const auto weight = weights();
  estimate.log_likelihood = -std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < branches_.size(); ++i) {
    auto& branch = branches_[i];
    estimate.log_likelihood = add_in_logarithms(estimate.log_likelihood, branch.log_weight);
    estimate.explanations.push_back({.onset = branch.onset, .weight = weight[i], .state = std::move(branch.state)});
  }
  return estimate;
}

}  // namespace daywright::rules
