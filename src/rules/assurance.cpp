#include "rules/assurance.h"

#include <algorithm>
#include <cmath>

namespace daywright::rules {
namespace {

double sum_of(const std::vector<double>& weights, const std::vector<double>& values) {
  double sum = 0;
  for (std::size_t i = 0; i < weights.size(); ++i) sum += weights[i] * values[i];
  return sum;
}

double variance_of(const std::vector<double>& weights, const StateNormal& state) {
  double variance = 0;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    if (weights[i] == 0) continue;
    for (std::size_t j = 0; j < weights.size(); ++j) variance += weights[i] * weights[j] * state.cov(i, j);
  }
  return variance;
}

}  // namespace

Forecast::Forecast(const ItemPlan& plan, const CountsRead& read, const LevelEstimate& estimate, const MadeFactor& made,
                   const std::vector<Waypoint>& way)
    : plan_(plan), estimate_(estimate), made_(made), factor_drift_(read.factor_drift), way_(way) {
  for (const auto& id : read.places) {
    const auto found =
        std::find_if(plan.places.begin(), plan.places.end(), [&](const auto& p) { return p.place->id == id; });
    in_plan_.push_back(static_cast<std::size_t>(found - plan.places.begin()));
  }
  add_group(std::nullopt);
  for (std::size_t place = 0; place < estimate.layout.places; ++place) add_group(place);
}

void Forecast::add_group(std::optional<std::size_t> leak_place) {
  const std::size_t size = estimate_.layout.size();
  Group group{leak_place, 0, StateNormal(size)};
  const auto belongs = [&](const Explanation& explanation) {
    return leak_place ? explanation.onset && explanation.onset->place == *leak_place : !explanation.onset;
  };
  for (const auto& explanation : estimate_.explanations) {
    if (!belongs(explanation)) continue;
    group.weight += explanation.weight;
    for (std::size_t i = 0; i < size; ++i) group.state.mean[i] += explanation.weight * explanation.state.mean[i];
  }
  if (!(group.weight > 0)) return;
  for (double& mean : group.state.mean) mean /= group.weight;
  for (const auto& explanation : estimate_.explanations) {
    if (!belongs(explanation)) continue;
    const double share = explanation.weight / group.weight;
    const StateNormal& state = explanation.state;
    for (std::size_t i = 0; i < size; ++i)
      for (std::size_t j = 0; j < size; ++j)
        group.state.cov(i, j) +=
            share * (state.cov(i, j) + (state.mean[i] - group.state.mean[i]) * (state.mean[j] - group.state.mean[j]));
  }
  groups_.push_back(std::move(group));
}

double Forecast::days_to(std::size_t waypoint) const { return model::in_days(way_[waypoint].at - plan_.from); }

Forecast::Line Forecast::line_to(std::size_t waypoint, double days_more) const {
  const auto& there = way_[waypoint].places;
  Line line;
  const auto counts = [&](std::size_t place) { return there[place].counts; };
  const auto drawn_by = [&](const Waypoint& at) {
    double drawn = 0;
    for (std::size_t p = 0; p < there.size(); ++p) drawn += counts(p) ? at.places[p].drawn : 0;
    return drawn;
  };
  for (std::size_t p = 0; p < there.size(); ++p) line.constant += counts(p) ? there[p].known : 0;
  for (const std::size_t p : in_plan_) {
    const bool is_counted = p < plan_.places.size() && counts(p);
    line.counts.push_back(is_counted);
    if (!is_counted) continue;
    line.constant += (plan_.fills_up() ? plan_.places[p].capacity : 0) - plan_.places[p].residual;
  }
  const double drawn_there = drawn_by(way_[waypoint]);
  const double drawn_after = days_more * plan_.last_draw;
  line.drawn = drawn_there + drawn_after;
  line.constant += days_more * plan_.last_make * made_.mean;
  const double made =
      made_.mean > 0 ? way_[waypoint].made / made_.mean + days_more * plan_.last_make : days_more * plan_.last_make;
  line.known_variance = made * made * made_.sd * made_.sd + way_[waypoint].step_variance;
  // The use factor's drift W adds the integral of W over the draw D, whose variance is the integral of (D(T) - D(s))^2
  // over time; between waypoints D runs straight.
  const auto add_drift = [&](double days, double still_at_begin, double still_at_end) {
    line.drift += factor_drift_ * days *
                  (still_at_begin * still_at_begin + still_at_begin * still_at_end + still_at_end * still_at_end) / 3;
  };
  for (std::size_t i = 1; i <= waypoint; ++i) {
    const double days = days_to(i) - days_to(i - 1);
    if (days > 0) add_drift(days, line.drawn - drawn_by(way_[i - 1]), line.drawn - drawn_by(way_[i]));
  }
  add_drift(days_more, drawn_after, 0);
  return line;
}

std::vector<double> Forecast::weights_of(const Line& line, double days, std::optional<std::size_t> leak_place) const {
  const StateLayout& layout = estimate_.layout;
  std::vector<double> weights(layout.size());
  for (std::size_t p = 0; p < layout.places; ++p) weights[p] = line.counts[p] ? (plan_.fills_up() ? -1 : 1) : 0;
  weights[layout.factor()] = -line.drawn;
  weights[layout.leak()] = leak_place && line.counts[*leak_place] ? -days : 0;
  return weights;
}

std::vector<WeightedNormal> Forecast::usable(std::size_t waypoint, double days_more) const {
  const Line line = line_to(waypoint, days_more);
  const double days = days_to(waypoint) + days_more;
  std::vector<WeightedNormal> mixture;
  mixture.reserve(estimate_.explanations.size());
  for (const Group& group : groups_) {
    const auto weights = weights_of(line, days, group.leak_place);
    for (const auto& [onset, weight, state] : estimate_.explanations) {
      if (group.leak_place ? !onset || onset->place != *group.leak_place : onset.has_value()) continue;
      const double mean = line.constant + sum_of(weights, state.mean);
      const double variance = line.drift + line.known_variance + variance_of(weights, state);
      mixture.push_back({weight, mean, std::sqrt(std::max(variance, 0.0))});
    }
  }
  return mixture;
}

Forecast::Moments Forecast::moments_at(std::size_t waypoint) const {
  const Line line = line_to(waypoint, 0);
  double mean = 0;
  double square = 0;
  for (const Group& group : groups_) {
    const auto weights = weights_of(line, days_to(waypoint), group.leak_place);
    const double value = sum_of(weights, group.state.mean);
    mean += group.weight * value;
    square += group.weight * (variance_of(weights, group.state) + value * value);
  }
  const double variance = square - mean * mean + line.drift + line.known_variance;
  return {line.constant + mean, std::sqrt(std::max(variance, 0.0))};
}

double Forecast::sd_after_count(std::size_t waypoint, std::size_t place, double noise_variance) const {
  const Line line = line_to(waypoint, 0);
  const std::size_t size = estimate_.layout.size();
  double mean_usable = 0;
  double mean_level = 0;
  double together = 0;
  double square_level = 0;
  for (const Group& group : groups_) {
    const auto weights = weights_of(line, days_to(waypoint), group.leak_place);
    const double usable = sum_of(weights, group.state.mean);
    const double level = group.state.mean[place];
    double covariance = 0;
    for (std::size_t i = 0; i < size; ++i) covariance += weights[i] * group.state.cov(i, place);
    mean_usable += group.weight * usable;
    mean_level += group.weight * level;
    together += group.weight * (covariance + usable * level);
    square_level += group.weight * (group.state.cov(place, place) + level * level);
  }
  const double covariance = together - mean_usable * mean_level;
  const double before = moments_at(waypoint).sd;
  const double variance =
      before * before - covariance * covariance / (square_level - mean_level * mean_level + noise_variance);
  return std::sqrt(std::max(variance, 0.0));
}

}  // namespace daywright::rules
