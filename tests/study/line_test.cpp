#include "study/line.h"

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "catch_compat.h"
#include "strd.h"

using daywright::study::fit_line;
using daywright::study::Point;

namespace {

std::vector<Point> norris() {
  std::vector<Point> points;
  for (const auto& [x, y] : daywright::test::read_strd("Norris.dat", 36)) points.push_back({x, y});
  return points;
}

}  // namespace

TEST_CASE("the line through Norris has the certified coefficients to ten digits") {
  // NIST/ITL StRD, Norris (linear least squares, lower level of difficulty), certified values.
  const auto line = fit_line(norris());
  REQUIRE(line.has_value());
  CHECK(line->intercept == Approx(-0.262323073774029).epsilon(1e-10));
  CHECK(line->slope == Approx(1.00211681802045).epsilon(1e-13));
  CHECK(line->residual_sd == Approx(0.884796396144373).epsilon(1e-12));
}

TEST_CASE("the line does not depend on the order of the points, to ten digits") {
  auto points = norris();
  std::mt19937 random(36);  // NOLINT(cert-msc32-c,cert-msc51-cpp): the same sample every time
  for (int i = 0; i < 20; ++i) {
    std::shuffle(points.begin(), points.end(), random);
    const auto line = fit_line(points);
    REQUIRE(line.has_value());
    CHECK(line->intercept == Approx(-0.262323073774029).epsilon(1e-10));
    CHECK(line->slope == Approx(1.00211681802045).epsilon(1e-12));
  }
}

TEST_CASE("a large offset does not eat the digits of the slope") {
  auto points = norris();
  for (Point& p : points) {
    p.x += 1048576;  // a power of two: the sum is exact to 32 binary digits behind the point
    p.y -= 8388608;
  }
  const auto line = fit_line(points);
  REQUIRE(line.has_value());
  CHECK(line->slope == Approx(1.00211681802045).epsilon(1e-9));
  CHECK(line->residual_sd == Approx(0.884796396144373).epsilon(1e-6));
}

TEST_CASE("points on a line give that line and no residual") {
  const auto line = fit_line({{0, 3}, {1, 1}, {2, -1}, {10, -17}});
  REQUIRE(line.has_value());
  CHECK(line->intercept == Approx(3));
  CHECK(line->slope == Approx(-2));
  CHECK(line->residual_sd == Approx(0).margin(1e-12));
}

TEST_CASE("two points give their line, with nothing left over to judge it by") {
  const auto line = fit_line({{1, 10}, {3, 4}});
  REQUIRE(line.has_value());
  CHECK(line->slope == Approx(-3));
  CHECK(line->intercept == Approx(13));
  CHECK(line->residual_sd == 0);
}

TEST_CASE("the residual deviation is counted over n - 2") {
  // Worked by hand: (0,0) (1,1) (2,0): slope 0, mean 1/3, squares 1/9 + 4/9 + 1/9 = 2/3 over 1.
  const auto line = fit_line({{0, 0}, {1, 1}, {2, 0}});
  REQUIRE(line.has_value());
  CHECK(line->slope == Approx(0).margin(1e-15));
  CHECK(line->intercept == Approx(1.0 / 3));
  CHECK(line->residual_sd == Approx(std::sqrt(2.0 / 3)));
}

TEST_CASE("without two different x there is no line") {
  CHECK_FALSE(fit_line({}).has_value());
  CHECK_FALSE(fit_line({{1, 2}}).has_value());
  CHECK_FALSE(fit_line({{1, 2}, {1, 3}, {1, 4}}).has_value());
}

TEST_CASE("equal x that a binary number can't hold are still one x") {
  CHECK_FALSE(fit_line({{0.1, 2}, {0.1, 3}, {0.1, 4}}).has_value());
}
