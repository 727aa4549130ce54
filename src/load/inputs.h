// All files of a mission -> the plan, the rules, the days and every row of every log, with all faults in one go.
//
//   In:  the files as the edge read them, and the last day that counts
//   Out: everything that could be read; `usable` says whether a brief can be made from it
//
// Pure. What merging makes of the rows at a cut-off is in merge.h.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <tuple>
#include <vector>

#include "model/diagnostic.h"
#include "model/log.h"
#include "model/mission.h"
#include "model/rulebook.h"

namespace daywright::load {

/// Every sound row of every log, in the order of days, file names and lines.
using Rows = std::tuple<std::vector<model::PlanRow>, std::vector<model::TaskRow>, std::vector<model::SortieRow>,
                        std::vector<model::CloseoutRow>, std::vector<model::SurveyRow>, std::vector<model::FindingRow>,
                        std::vector<model::ClearanceRow>, std::vector<model::CountRow>, std::vector<model::TransferRow>,
                        std::vector<model::ReadingRow>, std::vector<model::EquipmentRow>,
                        std::vector<model::AnomalyRow>, std::vector<model::DecisionRow>, std::vector<model::ActionRow>,
                        std::vector<model::StatementRow>, std::vector<model::CrewRow>>;

/// What the files of one log on one day held, to be compared with what its owner says.
struct LogVolume {
  model::Log log = model::Log::plan;
  int day = 0;
  std::vector<model::Instant> recorded;  ///< when each row was written down, rejected rows included
  bool is_whole = true;                  ///< false: a file of it could not be read, or may have been cut
  model::Source source;                  ///< of the file that is not whole, else of the first file
};

struct Inputs {
  model::Mission mission;
  model::Rulebook rules;
  std::vector<model::Day> days;  ///< those that could be read, in order
  std::vector<int> broken_days;  ///< folders whose day.toml could not be used
  Rows rows;
  std::vector<model::RejectedRow> rejected;
  std::vector<LogVolume> volumes;
  model::Diagnostics diagnostics;
  bool usable = false;  ///< plan and rules are free of errors and the last day's own file could be read
};

/// The number of a day folder in a path such as "days/008/counts.csv", or nothing.
[[nodiscard]] std::optional<int> day_of_path(std::string_view name);

/// Reads everything up to and including day `last_day`. Requires `files` sorted by name.
[[nodiscard]] Inputs load_inputs(std::span<const model::InputFile> files, int last_day);

}  // namespace daywright::load
