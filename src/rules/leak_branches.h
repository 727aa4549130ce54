// The explanations of an item's counts while they are being weighed: which there are, which are kept.
//
// Pure.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "rules/count_filter.h"
#include "rules/estimate.h"

namespace daywright::rules {

/// A state that may be the right one under an explanation, by which of the last odd counts were slips.
struct StatePart {
  double weight = 1;  ///< its chance if the explanation is right
  StateNormal state;
};

/// An explanation with the likelihood of the counts so far under it.
struct LeakBranch {
  std::size_t number = 0;  ///< 0 for "no leak", then in the order in which they began
  std::optional<LeakOnset> onset;
  double log_weight = 0;
  std::vector<StatePart> parts;
};

/// All explanations of one item, "no leak" first, then by onset.
class LeakBranches {
 public:
  LeakBranches(const EstimateSettings& settings, const ItemHistory& history);

  /// Moves every explanation on.
  void advance(double days, const std::vector<Flow>& flows);

  /// Adds, for each place, a leak that began within the `interval` that ends now.
  void begin_leaks(double from, double to);

  void take_count(const CountedValue& count);

  /// Ends every leak: all explanations become one, with their common mean and covariance.
  void close_leaks();

  /// The explanations with their weights. Nothing may be added after that.
  [[nodiscard]] LevelEstimate finish();

 private:
  struct Verdict {
    std::size_t number = 0;
    double miscount_chance = 0;
  };

  /// Takes a count into one branch, which had `branch_weight`, and adds to what was expected of it; gives the chance
  /// that it is a miscount.
  double take_into(LeakBranch& branch, const Observation& count, double branch_weight, CountExpected& expected);
  void prune();
  void drop(std::size_t index);
  void hold_leaks_positive();
  [[nodiscard]] std::vector<double> weights() const;
  void settle_miscounts();

  const EstimateSettings& settings_;
  const ItemHistory& history_;
  CountFilter filter_;
  StateNormal before_;            ///< scratch: a state before the count
  std::vector<StatePart> after_;  ///< scratch: the parts of a branch after the count
  std::vector<LeakBranch> branches_;
  std::size_t begun_ = 0;
  double prior_chance_positive_ = 0;            ///< logarithm; that a leak's size by the prior is not negative
  std::vector<std::vector<Verdict>> verdicts_;  ///< of the counts not settled, by every branch of that time
  std::vector<double> miscount_chances_;        ///< of the settled ones
  std::vector<CountExpected> expected_;         ///< of all counts
};

/// log(exp(a) + exp(b)) without overflow.
[[nodiscard]] double add_in_logarithms(double a, double b);

}  // namespace daywright::rules
