// Figures over the filed days: as a table with a plot for the terminal, as CSV and as JSON. The page: history_page.h.
//
//   In:  the days, each with the figures that were asked for, as they were filed
//   Out: text
//
// Pure. Every number that is printed was printed that day; the plot says with such numbers alone how high it reaches.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "write/past_figures.h"
#include "write/summary.h"

namespace daywright::write {

/// A filed day, and what is asked of its status.
struct PastDay {
  std::int64_t number = 1;  ///< in the archive
  std::int64_t day = 1;
  std::int64_t revision = 1;
  std::string cutoff;               ///< "2031-05-13T16:20Z"; empty: unknown
  std::string fault;                ///< why it is NOT AS FILED, so that nothing of it is shown; empty: it is as filed
  std::vector<PastFigure> figures;  ///< in order of id

  /// Null: it is not there.
  [[nodiscard]] const PastFigure* find(std::string_view id) const;
};

/// What stands in place of a figure that a day does not have, or has otherwise than it was filed.
inline constexpr const char* not_there = "not there";
inline constexpr const char* not_as_filed = "NOT AS FILED";

/// The title of a figure by the newest day that has it; empty: none has.
[[nodiscard]] std::string title_of(const std::vector<PastDay>& days, std::string_view id);

/// How the figure stood on a day: its text with the unit and UNSOUND where it is that, `not_there` or `not_as_filed`.
[[nodiscard]] std::string standing_of(const PastDay& day, std::string_view id);

/// A day on which the figure is a number: where it lies in a plot.
struct PastPoint {
  const PastDay* day = nullptr;
  const PastFigure* figure = nullptr;
  double across = 0;  ///< by its cut-off: 0 the first day, 1 the last
  double up = 0;      ///< by its value: 0 the smallest, 1 the largest
};

/// The points of a figure, and the texts of the smallest and the largest of them.
struct PastPlot {
  std::vector<PastPoint> points;  ///< in order of cut-off; fewer than two: there is nothing to plot
  std::string low;
  std::string high;
};

[[nodiscard]] PastPlot plot_of(const std::vector<PastDay>& days, std::string_view id);

/// The figure over the days as a table, and as a plot where it is a number.
[[nodiscard]] std::string render_history(const std::vector<PastDay>& days, std::string_view id,
                                         const Terminal& terminal);

/// One row for each figure and day, RFC 4180 in UTF-8. A text that a spreadsheet would take for a formula is led by an
/// apostrophe; numbers are not.
[[nodiscard]] std::string render_history_csv(const std::vector<PastDay>& days, const std::vector<std::string>& ids);

/// A list of the figures, each with what it was on every day.
[[nodiscard]] std::string render_history_json(const std::vector<PastDay>& days, const std::vector<std::string>& ids);

}  // namespace daywright::write
