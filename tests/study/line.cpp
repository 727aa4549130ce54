#include "study/line.h"

#include <algorithm>
#include <cmath>

namespace daywright::study {
namespace {

struct Sums {
  double mean_x = 0;
  double mean_y = 0;
  double xx = 0;
  double xy = 0;
};

Sums sums_about_means(const std::vector<Point>& points) {
  Sums sums;
  const auto is_first_x = [&](const Point& p) { return p.x == points.front().x; };
  // The mean of equal numbers need not be that number, so a single x is told apart here and not by its sum of squares.
  if (std::all_of(points.begin(), points.end(), is_first_x)) return sums;
  for (const Point& p : points) {
    sums.mean_x += p.x;
    sums.mean_y += p.y;
  }
  const auto n = static_cast<double>(points.size());
  sums.mean_x /= n;
  sums.mean_y /= n;
  for (const Point& p : points) {
    sums.xx += (p.x - sums.mean_x) * (p.x - sums.mean_x);
    sums.xy += (p.x - sums.mean_x) * (p.y - sums.mean_y);
  }
  return sums;
}

}  // namespace

std::optional<Line> fit_line(const std::vector<Point>& points) {
  const Sums sums = sums_about_means(points);
  if (!(sums.xx > 0)) return std::nullopt;
  Line line;
  line.slope = sums.xy / sums.xx;
  line.intercept = sums.mean_y - line.slope * sums.mean_x;
  double squares = 0;
  for (const Point& p : points) {
    const double residual = (p.y - sums.mean_y) - line.slope * (p.x - sums.mean_x);
    squares += residual * residual;
  }
  if (points.size() > 2) line.residual_sd = std::sqrt(squares / static_cast<double>(points.size() - 2));
  return line;
}

}  // namespace daywright::study
