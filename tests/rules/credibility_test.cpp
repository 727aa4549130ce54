#include <cmath>

#include "catch_compat.h"
#include "rules/estimate.h"
#include "study/flown_mission.h"

using namespace daywright;

namespace {

/// How many of the counts of made-up missions fell into the 90 % band that those before had left them.
struct Coverage {
  int counts = 0;
  int within = 0;

  [[nodiscard]] double share() const { return static_cast<double>(within) / counts; }
  /// Deviations of a share of 90 % from what it is.
  [[nodiscard]] double off() const { return (share() - 0.9) / std::sqrt(0.9 * 0.1 / counts); }
};

Coverage fly_many(const study::MissionKind& kind, int missions) {
  study::Chance chance(1);
  Coverage coverage;
  for (int i = 0; i < missions; ++i) {
    const auto mission = study::fly(kind, chance);
    for (const auto& expected : rules::estimate_level(model::EstimateSettings{}, mission.history).expected) {
      ++coverage.counts;
      if (expected.chance_below >= 0.05 && expected.chance_below <= 0.95) ++coverage.within;
    }
  }
  return coverage;
}

}  // namespace

TEST_CASE("what is expected of a count is what was known before it, and no more") {
  rules::ItemHistory history;
  history.now = 2;
  history.places = {{100, 1}};
  history.spans = {{0, 2, {{.draw = 10}}}};
  history.counts = {{.at = 1, .value = 96, .sigma = 1, .is_believed = true},
                    {.at = 2, .value = 90, .sigma = 1, .is_believed = true}};
  model::EstimateSettings settings;
  settings.factor_sd = 0;
  settings.factor_drift = 0;
  const auto expected = rules::estimate_level(settings, history).expected;
  REQUIRE(expected.size() == 2);
  CHECK(expected[0].value == Approx(95));  // 100 less five days' tenth of ten
  CHECK(expected[0].chance_below == Approx(std::erfc(-1 / std::sqrt(2.0) / std::sqrt(2.0)) / 2));
  CHECK(expected[1].value == Approx(90.5));  // half way to the count, less five
  CHECK(expected[1].chance_below < 0.5);
}

TEST_CASE("nine of ten counts of made-up missions fall into their band") {
  for (const auto& kind : {study::MissionKind{}, study::MissionKind{.bias_sigmas = 2}}) {
    const auto coverage = fly_many(kind, 400);
    CAPTURE(coverage.counts, coverage.share());
    CHECK(coverage.counts == 400 * 14);
    CHECK(std::abs(coverage.off()) < 3.3);
  }
}

TEST_CASE("the score falls where something happens that the counts before can't tell") {
  const auto coverage = fly_many({.leaks = true}, 400);
  CHECK(coverage.off() < -3.3);
  CHECK(coverage.share() > 0.8);
}
