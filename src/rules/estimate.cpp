#include "rules/estimate.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <utility>

#include "rules/leak_branches.h"

namespace daywright::rules {
namespace {

/// Goes through the planned spans once, from instant to instant.
class Passage {
 public:
  Passage(const std::vector<PlannedSpan>& spans, double from) : spans_(spans), at_(from) {}

  /// Calls move(days, flows) for each piece between here and `to`.
  template <typename Move>
  void go_on(double to, const Move& move) {
    for (; next_ < spans_.size() && spans_[next_].begin < to; ++next_) {
      const PlannedSpan& span = spans_[next_];
      if (span.end <= at_) continue;
      if (span.begin > at_) step(span.begin, {}, 1, move);
      step(std::min(span.end, to), span.flows, span.end - span.begin, move);
      if (span.end > to) return;
    }
    if (to > at_) step(to, {}, 1, move);
  }

 private:
  template <typename Move>
  void step(double to, const std::vector<Flow>& flows, double whole, const Move& move) {
    const double days = to - at_;
    const double share = days / whole;
    piece_.clear();
    for (const Flow& flow : flows)
      piece_.push_back({.place = flow.place,
                        .draw = flow.draw * share,
                        .make = flow.make * share,
                        .sigma = flow.sigma * std::sqrt(share)});
    move(days, piece_);
    at_ = to;
  }

  const std::vector<PlannedSpan>& spans_;
  double at_;
  std::size_t next_ = 0;
  std::vector<Flow> piece_;
};

}  // namespace

double LevelEstimate::leak_chance() const {
  double chance = 0;
  for (const auto& explanation : explanations)
    if (explanation.onset) chance += explanation.weight;
  return chance;
}

std::vector<WeightedNormal> LevelEstimate::level(std::size_t place) const {
  const std::size_t first = place == every_place ? 0 : place;
  const std::size_t end = place == every_place ? layout.places : place + 1;
  std::vector<WeightedNormal> mixture;
  for (const auto& [onset, weight, state] : explanations) {
    double mean = 0;
    double variance = 0;
    for (std::size_t i = first; i < end; ++i) {
      mean += state.mean[i];
      for (std::size_t j = first; j < end; ++j) variance += state.cov(i, j);
    }
    mixture.push_back({.weight = weight, .mean = mean, .sd = std::sqrt(std::max(variance, 0.0))});
  }
  return mixture;
}

std::vector<WeightedNormal> LevelEstimate::member(std::size_t i) const {
  std::vector<WeightedNormal> mixture;
  for (const auto& [onset, weight, state] : explanations)
    mixture.push_back({.weight = weight, .mean = state.mean[i], .sd = std::sqrt(std::max(state.cov(i, i), 0.0))});
  return mixture;
}

LevelEstimate estimate_level(const EstimateSettings& settings, const ItemHistory& history) {
  assert(!history.places.empty() && history.now >= history.start);
  LeakBranches branches(settings, history);
  Passage passage(history.spans, history.start);
  const auto move_on = [&](double to) {
    passage.go_on(to, [&](double days, const std::vector<Flow>& flows) { branches.advance(days, flows); });
  };
  auto change = history.changes.begin();
  auto repair = history.repairs.begin();
  double interval_start = history.start;
  // At one instant: known changes, then repairs, then counts.
  const auto reach = [&](double when) {
    while (true) {
      const bool is_change = change != history.changes.end() && change->at <= when;
      const bool is_repair = repair != history.repairs.end() && *repair <= when;
      if (is_change && (!is_repair || change->at <= *repair)) {
        if (change->at > history.start) {
          move_on(change->at);
          branches.advance(0, {change->flow});
        }
        ++change;
      } else if (is_repair) {
        if (*repair > history.start) {
          move_on(*repair);
          branches.begin_leaks(interval_start, *repair);
          branches.close_leaks();
          interval_start = *repair;
        }
        ++repair;
      } else {
        break;
      }
    }
    move_on(when);
    branches.begin_leaks(interval_start, when);
    interval_start = std::max(interval_start, when);
  };
  for (const auto& count : history.counts) {
    reach(count.at);
    branches.take_count(count);
  }
  reach(history.now);
  return branches.finish();
}

LevelEstimate forecast_level(const EstimateSettings& settings, const LevelEstimate& now,
                             const std::vector<PlannedSpan>& spans, const std::vector<KnownChange>& changes,
                             double until) {
  assert(until >= now.at);
  LevelEstimate later = now;
  later.at = until;
  const CountFilter filter(now.layout);
  Passage passage(spans, now.at);
  const auto advance = [&](double days, const std::vector<Flow>& flows) {
    for (auto& [onset, weight, state] : later.explanations)
      filter.advance(state, days, flows, settings.factor_drift, onset ? onset->place : 0);
  };
  for (const auto& change : changes) {
    if (change.at <= now.at || change.at > until) continue;
    passage.go_on(change.at, advance);
    advance(0, {change.flow});
  }
  passage.go_on(until, advance);
  return later;
}

double expected(const LevelEstimate& estimate, std::size_t member, bool leaks) {
  double weight = 0;
  double sum = 0;
  for (const auto& explanation : estimate.explanations) {
    if (explanation.onset.has_value() != leaks) continue;
    weight += explanation.weight;
    sum += explanation.weight * explanation.state.mean[member];
  }
  assert(weight > 0);
  return sum / weight;
}

double best_level(const LevelEstimate& estimate, std::size_t place, double shown_from) {
  const auto mixture = estimate.level(place);
  return estimate.leak_chance() < shown_from ? mixture.front().mean : middle_of(mixture);
}

std::optional<LevelEstimate> given_leak(const LevelEstimate& estimate, bool leaks) {
  LevelEstimate part = estimate;
  std::erase_if(part.explanations, [&](const Explanation& e) { return e.onset.has_value() != leaks; });
  double total = 0;
  for (const auto& explanation : part.explanations) total += explanation.weight;
  if (!(total > 0)) return std::nullopt;
  for (auto& explanation : part.explanations) explanation.weight /= total;
  return part;
}

}  // namespace daywright::rules
