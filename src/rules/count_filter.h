// The Kalman filter of one item under one explanation: what is on board, how fast it is used, how fast it leaks.
//
//   In:  a normal distribution of the state; planned flows over a span of time; a count
//   Out: the same distribution later, or after the count, and how well the count agreed
//
// The level of a place falls by f x draw - make + leak. The use factor f is the same for all places, multiplies the
// planned draw only, and drifts; a way of counting can have a bias that all its counts share. The state is the vector
// (level of each place, f, leak per day, bias of each biased way).
//
// Pure. Plain arrays instead of a matrix library: a state has three to ten members, and the matrices differ from the
// identity in one or two columns.
#pragma once

#include <cstddef>
#include <limits>
#include <vector>

namespace daywright::rules {

/// In place of the index of a place: all places together.
inline constexpr std::size_t every_place = std::numeric_limits<std::size_t>::max();
/// In place of the index of a bias: a way of counting without one.
inline constexpr std::size_t unbiased = std::numeric_limits<std::size_t>::max();

/// What is planned for one place over a span of time, or at one instant. Quantities in the item's unit.
struct Flow {
  std::size_t place = 0;
  double draw = 0;  ///< taken out at plan; the use factor multiplies it. Negative: put in (waste, storage)
  double make =
      0;  ///< put in, whatever the use factor: made by another item's use, transferred in, less transferred out
  double sigma = 0;  ///< standard deviation of what is made or transferred
};

/// Which member of the state stands where.
struct StateLayout {
  std::size_t places = 1;
  std::size_t biases = 0;

  [[nodiscard]] std::size_t factor() const { return places; }
  [[nodiscard]] std::size_t leak() const { return places + 1; }
  [[nodiscard]] std::size_t bias(std::size_t index) const { return places + 2 + index; }
  [[nodiscard]] std::size_t size() const { return places + 2 + biases; }
};

/// A normal distribution of the state.
struct StateNormal {
  std::vector<double> mean;
  std::vector<double> covariance;  ///< row by row, symmetric

  explicit StateNormal(std::size_t size) : mean(size), covariance(size * size) {}
  [[nodiscard]] double& cov(std::size_t row, std::size_t column) { return covariance[row * mean.size() + column]; }
  [[nodiscard]] double cov(std::size_t row, std::size_t column) const { return covariance[row * mean.size() + column]; }
};

/// A count as the filter takes it.
struct Observation {
  double value = 0;
  double variance = 0;           ///< of a good count
  double miscount_chance = 0;    ///< before the count is seen
  double miscount_variance = 0;  ///< what a miscount has on top
  std::size_t place = every_place;
  std::size_t bias = unbiased;
};

/// What a count said about the state it was held against.
struct Agreement {
  double log_likelihood = 0;
  double miscount_chance = 0;  ///< that it was a miscount, if the explanation is right
  double deviations = 0;       ///< how many of a good count's it is off
  double surprise = 0;         ///< the count less what was expected of it
  double variance = 0;         ///< of what was expected, for a good count; a miscount has its own on top
};

/// Takes normal distributions through time and through counts. Keeps scratch space, so each thread needs its own.
class CountFilter {
 public:
  explicit CountFilter(StateLayout layout);

  /// Moves `state` on by `days` in which `flows` happen at even rates. `leak_place` is the place a leak drains.
  ///
  /// f performs a Wiener process of variance `factor_drift` per day. What it adds to the drawn quantity is its
  /// integral, with variance q d^2 t / 3 and covariance -q d t / 2 with f for a draw d in t days, so that splitting
  /// a span changes nothing. (Jazwinski, Stochastic Processes and Filtering Theory, section 3.8, from memory: linear
  /// systems with white noise; Bar-Shalom, Li and Kirubarajan, section 6.2.2, the same matrix.)
  void advance(StateNormal& state, double days, const std::vector<Flow>& flows, double factor_drift,
               std::size_t leak_place) const;

  /// Puts a leak into `state` that began at an unknown instant, each equally likely, between `newest` and `oldest` days
  /// ago. Its size per day is normal with `mean` and `sd`; what has drained by now is size x time since, of which the
  /// first two moments are kept.
  void begin_leak(StateNormal& state, std::size_t leak_place, double newest, double oldest, double mean,
                  double sd) const;

  /// Takes a count into `state`.
  ///
  /// The count is good, or a miscount with a wider normal distribution; the two results are weighted and collapsed
  /// into the normal distribution with their common mean and covariance (Bar-Shalom, Li and Kirubarajan, Estimation
  /// with Applications to Tracking and Navigation, section 1.4.16, from memory). Each is updated in Joseph's form
  /// (same book, section 5.2.3), which stays positive when the prior is far wider than the count.
  [[nodiscard]] Agreement take_count(StateNormal& state, const Observation& count);

  /// Cuts off negative leaks: the distribution given leak >= 0, its first two moments kept. Returns the logarithm of
  /// the chance that the leak had of being positive.
  [[nodiscard]] double hold_leak_positive(StateNormal& state) const;

  [[nodiscard]] const StateLayout& layout() const { return layout_; }

 private:
  void find_seen(const Observation& count);
  void find_across(const StateNormal& state);
  void find_left(const StateNormal& state, double scale, std::vector<double>& left) const;

  StateLayout layout_;
  std::vector<std::size_t> seen_;  ///< the members of the state whose sum is counted
  std::vector<double> across_;     ///< P H': covariance of each member with that sum
  std::vector<double> left_;       ///< (I - K H) P H' for a good count
  std::vector<double> wide_left_;  ///< the same for a miscount
};

}  // namespace daywright::rules
