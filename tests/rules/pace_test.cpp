// How much of the planned crew time gets done in a day. All tasks are invented; tables name their source.
#include "rules/pace.h"

#include <cmath>
#include <tuple>
#include <vector>

#include "builders.h"

using daywright::model::Facts;
using daywright::model::Mission;
using daywright::model::TaskState;
using daywright::rules::DayOfWork;
using daywright::rules::days_of_work;
using daywright::rules::follow_tasks;
using daywright::rules::pace_of;
using daywright::rules::student_quantile;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_mission;
using daywright::test::make_plan;
using daywright::test::make_task;
using namespace std::chrono_literals;

namespace {

std::vector<DayOfWork> days_up_to(const Facts& facts, int last) {
  const Mission mission = make_mission();
  return days_of_work(mission, facts, follow_tasks(facts), last);
}

}  // namespace

TEST_CASE("work counts for the day on which it got done, partly done work by what was added") {
  Facts facts;
  facts.plan = {make_plan("a", 1), make_plan("b", 2)};
  const double minutes = follow_tasks(facts)[0].planned_minutes();
  REQUIRE(minutes > 0);
  facts.tasks = {make_task("a", TaskState::partial, 40, launch + 1h), make_task("a", TaskState::done, 100, day(1) + 1h),
                 make_task("b", TaskState::done, 100, day(1) + 3h)};
  const auto days = days_up_to(facts, 2);
  REQUIRE(days.size() == 2);
  CHECK(days[0].planned == minutes);
  CHECK(days[0].achieved == Approx(0.4 * minutes));
  CHECK(days[1].planned == minutes);
  CHECK(days[1].achieved == Approx(1.6 * minutes));
  CHECK(days_up_to(facts, 1).size() == 1);
}

TEST_CASE("get-aheads are not planned for a day, but what is done of them is done") {
  Facts facts;
  facts.plan = {make_plan("a", 1), make_plan("b", 1)};
  facts.plan[1].row.get_ahead = true;
  facts.tasks = {make_task("b", TaskState::done, 100, launch + 1h)};
  const auto days = days_up_to(facts, 1);
  REQUIRE(days.size() == 1);
  CHECK(days[0].planned == days[0].achieved);
}

TEST_CASE("a pace is the mean of the days, and fewer than three tell none") {
  std::vector<DayOfWork> days{{1, 100, 90}, {2, 200, 200}};
  CHECK_FALSE(pace_of(days).has_value());
  days.push_back({3, 50, 55});
  const auto pace = pace_of(days);
  REQUIRE(pace.has_value());
  CHECK(pace->mean == Approx(1));
  // Deviation 0.1, t = 2.920 for two degrees of freedom: 1 -+ 2.920 x 0.1 x root (4/3).
  CHECK(pace->high == Approx(1 + 0.2920 * std::sqrt(4.0 / 3)).epsilon(1e-3));
  CHECK(pace->low == Approx(1 - 0.2920 * std::sqrt(4.0 / 3)).epsilon(1e-3));
}

TEST_CASE("days that are all alike have a pace without spread, and none is slower than standing still") {
  const auto even = pace_of({{1, 100, 80}, {2, 100, 80}, {3, 100, 80}});
  CHECK(even->low == Approx(0.8));
  CHECK(even->high == Approx(0.8));
  CHECK(pace_of({{1, 100, 0}, {2, 100, 200}, {3, 100, 10}})->low == 0);
}

TEST_CASE("quantiles of Student's t are those of the published table") {
  // NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.2, three decimals; values from memory.
  for (const auto& [degrees, at_95, at_975] :
       {std::tuple{1, 6.314, 12.706}, std::tuple{2, 2.920, 4.303}, std::tuple{5, 2.015, 2.571},
        std::tuple{10, 1.812, 2.228}, std::tuple{30, 1.697, 2.042}, std::tuple{100, 1.660, 1.984}}) {
    CAPTURE(degrees);
    CHECK(std::round(student_quantile(0.95, degrees) * 1000) / 1000 == Approx(at_95));
    CHECK(std::round(student_quantile(0.975, degrees) * 1000) / 1000 == Approx(at_975));
    CHECK(student_quantile(0.05, degrees) == Approx(-student_quantile(0.95, degrees)));
  }
}
