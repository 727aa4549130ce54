// What the filed days say together: how verdicts have changed, and how good forecasts were.
//
//   In:  the days with the figures that `is_of_overview`, the scores by item
//   Out: text for the terminal, JSON, parts of a page
//
// Pure.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/forecast_score.h"
#include "write/history.h"

namespace daywright::write {

/// Whether a figure is one that the overview is made from.
[[nodiscard]] bool is_of_overview(std::string_view id);

/// A verdict that is another than on the day before.
struct VerdictChange {
  std::string day;  ///< "FD 6"
  std::string verdict;
};

struct GateHistory {
  std::string id;
  std::string title;
  std::vector<VerdictChange> changes;  ///< the first is how it began
};

/// Every gate that any day has, in order of id. Of days that are NOT AS FILED nothing is known.
[[nodiscard]] std::vector<GateHistory> gate_histories(const std::vector<PastDay>& days);

/// What the days say of each item's level, to be scored.
struct ItemLevels {
  std::string id;
  std::string title;
  std::string unit;
  std::optional<double> daily;  ///< planned use of a day, by the newest day; nothing: none
  std::vector<model::LevelFiled> days;
};

/// In order of time. `plans`: of each day the digest of its plan. Requires as many as `days`.
[[nodiscard]] std::vector<ItemLevels> item_levels(const std::vector<PastDay>& days,
                                                  const std::vector<std::string>& plans);

/// The share in percent that the bands were made to hold, by the newest day; empty: no day says it.
[[nodiscard]] std::string nominal_share(const std::vector<PastDay>& days);

struct ItemScore {
  ItemLevels levels;
  model::ForecastScore score;
};

struct Overview {
  std::vector<GateHistory> gates;
  std::vector<ItemScore> items;
  std::string share;  ///< that the bands were made to hold
};

[[nodiscard]] std::string render_overview(const Overview& overview);
[[nodiscard]] std::string render_overview_json(const Overview& overview);

/// The cells of the table of scores, for text and page alike.
struct ScoreTable {
  std::vector<std::string> titles;
  std::vector<std::vector<std::string>> rows;
};
[[nodiscard]] ScoreTable score_table(const Overview& overview);

/// What has to be said beside that table.
[[nodiscard]] std::string words_on_scores(const Overview& overview);

}  // namespace daywright::write
