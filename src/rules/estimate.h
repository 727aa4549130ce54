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

#include "rules/count_filter.h"
#include "rules/normal_mixture.h"

namespace daywright::rules {

/// What is held likely before anything is counted. Where no source is named the figure is a judgement: none was found
/// that is published for crewed flights. tests/study shows what the defaults lead to.
struct EstimateSettings {
  /// How far the crew's use of an item is from plan over a flight: two times out of three within a twelfth.
  double factor_sd = 0.08;
  /// Variance of the use factor's drift per day. 0.012 per root day moves it by 4.5 % in two weeks, about half of what
  /// is unknown at the start: habits settle, they do not jump.
  double factor_drift = 0.012 * 0.012;
  /// One count in thirty is misread, mistyped or of another container. From 2 to 5 % the study's
  /// figures hardly move.
  double miscount_chance = 0.03;
  /// How far a miscount strays, in sigmas of a good count: a wrong digit one place before the last that is read.
  /// 10 does as well in the study.
  double miscount_sigmas = 13;
  /// The chance that a leak begins between start and now, spread evenly over that time. An interval's share is far
  /// below a miscount's chance, so one odd count is a miscount first and three in a row are a leak.
  double leak_chance = 0.05;
  /// Size of a leak, mean and standard deviation, in mean planned daily draws. A smaller one hardly differs from a
  /// use factor above 1, a larger one is found whatever the prior. Negative sizes are cut off.
  double leak_mean = 0.5;
  double leak_sd = 0.25;
  /// Explanations kept: always "no leak", the newest onsets, which have not had their counts yet, and of the older
  /// ones the best. In 600 made-up missions of 90 counts, keeping all moved no 5 % quantile by more than 0.0011 of
  /// its standard deviation and no chance of a leak by more than 0.0013.
  std::size_t newest_onsets = 8;
  std::size_t best_onsets = 24;
};

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

/// What is known at an instant.
struct LevelEstimate {
  StateLayout layout;
  double at = 0;
  std::vector<Explanation> explanations;  ///< "no leak" first, then by onset; weights sum to 1
  double log_likelihood = 0;              ///< of all counts
  std::vector<double> miscount_chances;   ///< of each count, by what is known now about leaks

  [[nodiscard]] double leak_chance() const;
  /// The level of a place or of `every_place` together.
  [[nodiscard]] std::vector<WeightedNormal> level(std::size_t place = every_place) const;
  [[nodiscard]] std::vector<WeightedNormal> factor() const;
  [[nodiscard]] std::vector<WeightedNormal> leak() const;  ///< per day; with a part that is exactly 0
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

/// `estimate` without the explanations that leak, or without the one that does not; nothing where none is left.
[[nodiscard]] std::optional<LevelEstimate> given_leak(const LevelEstimate& estimate, bool leaks);

}  // namespace daywright::rules
