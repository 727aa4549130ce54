// What the counts of one item say: how much is on board, how fast it goes against plan, and whether it leaks.
//
//   In:  settings; planned flows, known changes and counts of one item as plain numbers, times in days
//   Out: a mixture of normal distributions for level, use factor and leak, one for each explanation of the counts;
//        the chance of a leak; the chance of each count to be a miscount; the same mixture at a later instant
//
// The explanations are "no leak" and a leak that began in one of the intervals between counts (design section 4.1).
//
// Pure: no clock, no chance; the same numbers give the same bits.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "model/rulebook.h"
#include "rules/count_filter.h"
#include "rules/normal_mixture.h"

namespace daywright::rules {

using model::EstimateSettings;

/// Planned flows at even rates between two instants.
struct PlannedSpan {
  double begin = 0;
  double end = 0;
  std::vector<Flow> flows;  ///< over the whole span; none: nothing is planned
};

/// A known change at an instant: a transfer with its sigma, an event's draw.
struct KnownChange {
  double at = 0;
  Flow flow;
};

/// A count. Derived values do not belong here: they repeat the plan, and not what is on board.
struct CountedValue {
  double at = 0;
  double value = 0;
  double sigma = 0;  ///< > 0
  std::size_t place = every_place;
  std::size_t bias = unbiased;  ///< index into ItemHistory::bias_sds
  bool is_believed = false;     ///< taken as it stands: not a miscount, whatever it looks like
};

/// All that is known about one item. Times are days from any origin, quantities in the item's unit.
struct ItemHistory {
  struct Level {
    double mean = 0;
    double sd = 0;
  };

  double start = 0;
  double now = 0;                    ///< >= start and every count
  std::vector<Level> places;         ///< levels at the start; at least one
  std::vector<double> bias_sds;      ///< of the ways of counting whose error repeats, in the item's unit
  double daily_draw = 0;             ///< mean planned draw per day, which sizes a leak. 0: the item can't leak
  std::vector<PlannedSpan> spans;    ///< in order, not overlapping; nothing is drawn in gaps
  std::vector<KnownChange> changes;  ///< in order; at the instant of a count they come first
  std::vector<CountedValue> counts;  ///< in order, none before the start
  std::vector<double> repairs;       ///< instants at which every leak was closed; in order
};

/// Between which instants, and in which place, a leak began.
struct LeakOnset {
  double from = 0;
  double to = 0;
  std::size_t place = 0;
};

/// One explanation of all counts.
struct Explanation {
  std::optional<LeakOnset> onset;  ///< none: nothing leaks
  double weight = 1;               ///< the chance that it is the right one
  StateNormal state;
};

/// What the counts before a count expected of it. Places begin as their first counts say: of those nothing was.
struct CountExpected {
  double value = 0;
  double chance_below = 0.5;  ///< that a count would be no larger than it was
};

/// What is known at an instant.
struct LevelEstimate {
  StateLayout layout;
  double at = 0;
  std::vector<Explanation> explanations;  ///< "no leak" first, then by onset; weights sum to 1
  double log_likelihood = 0;              ///< of all counts
  std::vector<double> miscount_chances;   ///< of each count, by what is known now about leaks
  std::vector<CountExpected> expected;    ///< of each count, by what was known before it

  [[nodiscard]] double leak_chance() const;
  /// The level of a place or of `every_place` together.
  [[nodiscard]] std::vector<WeightedNormal> level(std::size_t place = every_place) const;
  [[nodiscard]] std::vector<WeightedNormal> factor() const { return member(layout.factor()); }
  /// Per day; with a part that is exactly 0.
  [[nodiscard]] std::vector<WeightedNormal> leak() const { return member(layout.leak()); }

 private:
  [[nodiscard]] std::vector<WeightedNormal> member(std::size_t i) const;
};

/// The estimate at `history.now`.
///
/// A leak can begin once, in one place, at any instant; each interval between counts is an explanation, and so is the
/// time since the last count. After a repair all explanations become one, and another leak can begin.
/// Time and memory grow with counts x explanations kept.
[[nodiscard]] LevelEstimate estimate_level(const EstimateSettings& settings, const ItemHistory& history);

/// The same estimate at the later instant `until`, given what is planned up to then: the use factor drifts on, a leak
/// goes on, none begins. Spans and changes up to `now.at` are passed over.
[[nodiscard]] LevelEstimate forecast_level(const EstimateSettings& settings, const LevelEstimate& now,
                                           const std::vector<PlannedSpan>& spans,
                                           const std::vector<KnownChange>& changes, double until);

/// What is expected of a member of the state: if nothing leaks, or, over the explanations that do, if there is a leak.
/// Requires that `estimate` holds such an explanation.
[[nodiscard]] double expected(const LevelEstimate& estimate, std::size_t member, bool leaks);

/// The one figure for the level of a place, or of `every_place`: what is expected if nothing leaks, as long as the
/// chance of a leak is below `shown_from`; from there on the middle of the mixture (normal_mixture.h).
[[nodiscard]] double best_level(const LevelEstimate& estimate, std::size_t place, double shown_from);

/// `estimate` without the explanations that leak, or without the one that does not; nothing where none is left.
[[nodiscard]] std::optional<LevelEstimate> given_leak(const LevelEstimate& estimate, bool leaks);

}  // namespace daywright::rules
