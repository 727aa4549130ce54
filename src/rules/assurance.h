// How sure it is what can be used, at each waypoint of an item's course.
//
//   In:  the estimate at the cut-off, the plan, the course at the expected rate
//   Out: the distribution of what can be used at a waypoint (its quantiles: normal_mixture.h), and what a count would
//        take off its width
//
// Pure. The forecast of the filter (estimate.h) in closed form: from the cut-off on everything is linear in levels,
// use factor and leak, so the distribution at any instant follows in one step from the planned draw up to there. Which
// place gives how much is taken from the expected course.
#pragma once

#include <optional>
#include <vector>

#include "rules/course.h"
#include "rules/levels.h"
#include "rules/normal_mixture.h"

namespace daywright::rules {

/// What can be used from the cut-off on, as a mixture of normal distributions. Quantities in the item's unit.
class Forecast {
 public:
  /// All three must outlive the forecast; `way` needs turnovers. `made` is what the item is made from.
  Forecast(const ItemPlan& plan, const CountsRead& read, const LevelEstimate& estimate, const MadeFactor& made,
           const std::vector<Waypoint>& way);

  /// What can be used at a waypoint, before reserves.
  [[nodiscard]] std::vector<WeightedNormal> usable_at(std::size_t waypoint) const { return usable(waypoint, 0); }
  /// The same so many days after the required end, at the rates of the day kind that turns units into days.
  [[nodiscard]] std::vector<WeightedNormal> usable_after_end(double days) const {
    return usable(way_.size() - 1, days);
  }

  /// Mean and standard deviation of what can be used at a waypoint, in one step.
  struct Moments {
    double mean = 0;
    double sd = 0;
  };
  [[nodiscard]] Moments moments_at(std::size_t waypoint) const;

  /// How far a count of `place` (of the estimate) with this noise, taken at the cut-off, would bring down the standard
  /// deviation of what can be used at a waypoint.
  [[nodiscard]] double sd_after_count(std::size_t waypoint, std::size_t place, double noise_variance) const;

 private:
  struct Line {
    double constant = 0;        ///< residuals, capacities, what is known to come
    double drawn = 0;           ///< at plan
    double drift = 0;           ///< variance of the drift of the use factor times what is drawn
    double known_variance = 0;  ///< of what is made, of events and transfers
    std::vector<bool> counts;   ///< place of the estimate
  };

  [[nodiscard]] Line line_to(std::size_t waypoint, double days_more) const;
  /// The explanations with one place that leaks, or without a leak, as one normal distribution of the state.
  struct Group {
    std::optional<std::size_t> leak_place;
    double weight = 0;
    StateNormal state;
  };

  void add_group(std::optional<std::size_t> leak_place);
  [[nodiscard]] std::vector<double> weights_of(const Line& line, double days,
                                               std::optional<std::size_t> leak_place) const;
  [[nodiscard]] std::vector<WeightedNormal> usable(std::size_t waypoint, double days_more) const;
  [[nodiscard]] double days_to(std::size_t waypoint) const;

  const ItemPlan& plan_;
  const LevelEstimate& estimate_;
  MadeFactor made_;
  double factor_drift_;
  const std::vector<Waypoint>& way_;
  std::vector<Group> groups_;
  std::vector<std::size_t> in_plan_;  ///< place of the estimate -> place of the plan; plan_.places.size(): none
};

}  // namespace daywright::rules
