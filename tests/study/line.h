// A straight line through points by least squares: what people forecast with today.
//
// Pure. Sums are taken about the means, in two passes, so that large offsets do not eat the digits.
#pragma once

#include <optional>
#include <vector>

namespace daywright::study {

struct Point {
  double x = 0;
  double y = 0;
};

struct Line {
  double intercept = 0;
  double slope = 0;
  double residual_sd = 0;  ///< standard deviation of the residuals, n - 2 degrees of freedom; 0 for two points
};

/// The line of least squares through `points`; nothing with fewer than two different x.
/// Source of the formula: NIST/SEMATECH e-Handbook of Statistical Methods, section 4.1.4.1.
[[nodiscard]] std::optional<Line> fit_line(const std::vector<Point>& points);

}  // namespace daywright::study
