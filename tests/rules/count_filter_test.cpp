#include "rules/count_filter.h"

#include <cmath>
#include <vector>

#include "catch_compat.h"

using namespace daywright::rules;

namespace {

/// Two places and one bias, everything correlated with everything.
StateNormal mixed_state() {
  StateNormal state(5);
  state.mean = {60, 40, 1.05, 0.8, 0.3};
  for (std::size_t i = 0; i < 5; ++i)
    for (std::size_t j = 0; j < 5; ++j) {
      const double distance = i < j ? static_cast<double>(j - i) : static_cast<double>(i - j);
      state.cov(i, j) =
          std::pow(0.5, distance) * (1 + 0.3 * static_cast<double>(i)) * (1 + 0.3 * static_cast<double>(j));
    }
  return state;
}

}  // namespace

TEST_CASE("a count that can be a miscount gives the moments of the two results") {
  // Each result by a count that is certainly good or certainly wide, put together by hand.
  CountFilter filter({.places = 2, .biases = 1});
  const Observation both{.value = 108, .variance = 2, .miscount_chance = 0.2, .miscount_variance = 50, .bias = 0};
  Observation good = both;
  good.miscount_chance = 0;
  Observation wide = good;
  wide.variance += both.miscount_variance;
  StateNormal a = mixed_state();
  StateNormal b = mixed_state();
  StateNormal c = mixed_state();
  const double log_good = std::log(0.8) + filter.take_count(a, good).log_likelihood;
  const double log_wide = std::log(0.2) + filter.take_count(b, wide).log_likelihood;
  const Agreement agreement = filter.take_count(c, both);
  CHECK(agreement.log_likelihood == Approx(std::log(std::exp(log_good) + std::exp(log_wide))));
  const double w = agreement.miscount_chance;
  CHECK(w == Approx(std::exp(log_wide - agreement.log_likelihood)));
  REQUIRE(w > 0.01);
  REQUIRE(w < 0.99);
  for (std::size_t i = 0; i < 5; ++i) {
    CHECK(c.mean[i] == Approx((1 - w) * a.mean[i] + w * b.mean[i]));
    for (std::size_t j = 0; j < 5; ++j)
      CHECK(c.cov(i, j) == Approx((1 - w) * a.cov(i, j) + w * b.cov(i, j) +
                                  w * (1 - w) * (a.mean[i] - b.mean[i]) * (a.mean[j] - b.mean[j])));
  }
}

TEST_CASE("a count so far off that a good one is out of the question is a miscount, in finite numbers") {
  CountFilter filter({});
  StateNormal state(3);
  state.mean = {100, 1, 0};
  state.cov(0, 0) = 0.01;
  const Agreement agreement =
      filter.take_count(state, {.value = 1e6, .variance = 0.01, .miscount_chance = 0.03, .miscount_variance = 1});
  CHECK(agreement.miscount_chance == 1);
  CHECK(std::isfinite(agreement.log_likelihood));
  CHECK(state.cov(0, 0) > 0);
}

TEST_CASE("a leak at an unknown instant has drained what it drains on average, give or take") {
  // Against a sum over a fine grid of onsets; size and onset independent.
  CountFilter filter({});
  StateNormal state(3);
  state.mean = {100, 1, 0};
  state.cov(0, 0) = 0.25;
  constexpr double days = 2;
  constexpr double mean = 3;
  constexpr double sd = 1.5;
  filter.begin_leak(state, 0, 0, days, mean, sd);
  double drained = 0;
  double squares = 0;
  constexpr int parts = 1000;
  for (int i = 0; i < parts; ++i) {
    const double open = days * (i + 0.5) / parts;
    drained += mean * open / parts;
    squares += (mean * mean + sd * sd) * open * open / parts;
  }
  CHECK(state.mean[0] == Approx(100 - drained));
  CHECK(state.cov(0, 0) == Approx(0.25 + squares - drained * drained).epsilon(1e-5));
  CHECK(state.cov(0, 2) == Approx(-sd * sd * days / 2));
  CHECK(state.cov(2, 2) == Approx(sd * sd));
}

TEST_CASE("two spans of a draw from two places are one, to the last digits") {
  const CountFilter filter({.places = 2, .biases = 1});
  const std::vector<Flow> whole{{.place = 0, .draw = 6, .sigma = 0.5}, {.place = 1, .draw = 3, .make = 2}};
  std::vector<Flow> third = whole;
  for (Flow& flow : third) {
    flow.draw /= 3;
    flow.make /= 3;
    flow.sigma /= std::sqrt(3);
  }
  StateNormal once = mixed_state();
  filter.advance(once, 1.5, whole, 0.01, 1);
  StateNormal thrice = mixed_state();
  for (int i = 0; i < 3; ++i) filter.advance(thrice, 0.5, third, 0.01, 1);
  for (std::size_t i = 0; i < 5; ++i) {
    CHECK(thrice.mean[i] == Approx(once.mean[i]).epsilon(1e-13));
    for (std::size_t j = 0; j < 5; ++j) CHECK(thrice.cov(i, j) == Approx(once.cov(i, j)).epsilon(1e-12));
  }
}

TEST_CASE("a prior a million million times wider than the count leaves the count, and a positive variance") {
  CountFilter filter({});
  StateNormal state(3);
  state.cov(0, 0) = 1e12;
  (void)filter.take_count(state, {.value = 5, .variance = 1});
  CHECK(state.mean[0] == Approx(5));
  CHECK(state.cov(0, 0) == Approx(1).epsilon(1e-9));
}

TEST_CASE("cutting off negative leaks moves the level with the leak") {
  CountFilter filter({});
  StateNormal state(3);
  state.mean = {50, 1, 0};
  state.cov(0, 0) = 4;
  state.cov(2, 2) = 1;
  state.cov(0, 2) = state.cov(2, 0) = -1;
  CHECK(filter.hold_leak_positive(state) == Approx(std::log(0.5)));
  // Half-normal leak: mean sqrt(2 / pi), variance 1 - 2 / pi; the level follows with slope -1.
  CHECK(state.mean[2] == Approx(0.7978845608));
  CHECK(state.mean[0] == Approx(50 - 0.7978845608));
  CHECK(state.cov(2, 2) == Approx(0.3633802276));
  CHECK(state.cov(0, 0) == Approx(3 + 0.3633802276));
}
