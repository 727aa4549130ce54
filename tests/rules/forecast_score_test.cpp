#include "rules/forecast_score.h"

#include "catch_compat.h"

using namespace daywright;
using model::LevelFiled;

namespace {

model::Instant at_day(double day) { return model::Instant{} + model::from_days(day); }

/// A day that expects ten units less a day for two days, within one unit, and found `level`.
LevelFiled filed(double day, std::optional<double> level, double expects_from) {
  LevelFiled one{at_day(day), level, {}, "plan"};
  for (int ahead = 0; ahead <= 2; ++ahead) {
    const double middle = expects_from - 10 * ahead;
    one.expected.push_back({at_day(day + ahead), middle - 1, middle, middle + 1});
  }
  return one;
}

}  // namespace

TEST_CASE("what a later day found is held against what earlier days expected for that instant") {
  // Half way between two instants 95 was expected, and 96.5 came.
  const auto score = rules::score_forecasts({filed(0, 100, 100), filed(0.5, 96.5, 96.5)});
  CHECK(score.forecasts == 1);
  CHECK(score.within == 0);
  CHECK(score.mean_error == Approx(1.5));
  CHECK(score.mean_distance == Approx(1.5));
}

TEST_CASE("every pair within reach is scored, and both ends of a band belong to it") {
  // From day 0: 90 on day 1, 80 on day 2. From day 1: 81 on day 2. Day 3 is beyond day 0.
  const auto score = rules::score_forecasts({filed(0, 100, 100), filed(1, 91, 91), filed(2, 79, 79), filed(3, 69, 69)});
  CHECK(score.forecasts == 5);
  CHECK(score.within == 3);  // 91 and 79 at the edges of the first, 69 as expected; 79 and 69 below the second
  CHECK(score.mean_error == Approx((1 - 1 - 2 + 0 - 2) / 5.0));
  CHECK(score.mean_distance == Approx((1 + 1 + 2 + 0 + 2) / 5.0));
}

TEST_CASE("days that know nothing, or rest on another plan, are left out") {
  auto changed = filed(1, 91, 91);
  changed.plan = "another";
  const auto score = rules::score_forecasts({filed(0, 100, 100), changed, filed(2, std::nullopt, 80)});
  CHECK(score.forecasts == 0);
  CHECK(score.other_plan == 1);
  CHECK(rules::score_forecasts({}).forecasts == 0);
  auto silent = filed(0, 100, 100);
  silent.expected.clear();
  CHECK(rules::score_forecasts({silent, filed(1, 90, 90)}).forecasts == 0);
}
