// The figures of a status.json that was written earlier, read back to be compared and followed over the days.
//
//   In:  the bytes of such a file, by this or an older version of the program
//   Out: its figures as they were shown
//
// Pure. What can't be read is not there: whoever needs a figure says that it is missing.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace daywright::write {

/// A figure as it was shown.
struct PastFigure {
  std::string id;
  std::string title;
  std::string kind;   ///< number, instant, verdict, words, no data
  std::string value;  ///< as JSON has it: "12.5", "2031-05-13T16:20Z"; empty: none
  std::string unit;
  std::string text;
  std::vector<std::string> doubts;  ///< why it could not support a READY verdict; empty: it could

  bool operator==(const PastFigure&) const = default;
};

/// "12.5 kg".
[[nodiscard]] std::string shown(const PastFigure& figure);

/// The figure with this id in `status`, or nothing.
[[nodiscard]] std::optional<PastFigure> find_past_figure(std::string_view status, std::string_view id);

/// All figures of `status`, in order of id.
[[nodiscard]] std::vector<PastFigure> read_past_figures(std::string_view status);

/// Those whose id is `wanted`; the others are passed over unread.
[[nodiscard]] std::vector<PastFigure> read_past_figures(std::string_view status,
                                                        const std::function<bool(std::string_view)>& wanted);

/// A figure that is shown otherwise in two of them; an empty text: it is not there.
struct FigureChange {
  std::string id;
  std::string before;
  std::string after;

  bool operator==(const FigureChange&) const = default;
};

/// The figures that differ: verdicts of gates first, then those of criteria, what the flight is limited by, margins,
/// the rest, and rows of lists last, each in order of id. Points of charts, which repeat other figures, are left out.
[[nodiscard]] std::vector<FigureChange> find_figure_changes(std::string_view before, std::string_view after);

/// Where a figure stands among those that differ: 0 verdicts of gates, 1 of criteria, 2 what the flight is limited by,
/// 3 margins, 4 the rest, 5 rows of lists.
[[nodiscard]] int rank_of_figure(std::string_view id);

/// "gate.eva_3.verdict was READY and is NOT READY, ... and 12 more", with at most `most` of them in full.
[[nodiscard]] std::string sum_up(const std::vector<FigureChange>& changes, std::size_t most);

}  // namespace daywright::write
