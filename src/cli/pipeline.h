// The evening from files to outputs, without touching the disk: load, merge, rules, write.
//
// Tests run it on damaged inputs by the thousand; the commands read the files before it and save what it returns.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "cli/commands.h"
#include "load/inputs.h"
#include "model/diagnostic.h"
#include "model/filed.h"
#include "model/instant.h"
#include "model/status.h"

namespace daywright::cli {

struct RunOptions {
  std::optional<int> day;                  ///< default: the newest day folder
  std::optional<std::string> cutoff;       ///< as given on the command line; default: the day's
  bool is_to_be_tried = false;             ///< the status gets its trial plan, which only the workbook asks for
  model::Filed filed{};                    ///< what the archive holds
  bool needs_handover = false;             ///< the status of the handover is worked out too
  std::optional<double> shift_hours = {};  ///< of the shift that is handed over to; default: the mission's
  const Changes* changes = nullptr;        ///< not null: the status is that of the options, not of the brief of record
};

struct RunResult {
  int day = 0;
  model::Instant cutoff;
  load::Inputs inputs;
  std::optional<model::DayStatus> status;    ///< nothing when the inputs are unusable
  std::optional<model::DayStatus> handover;  ///< where it was asked for and there is a status
  model::Diagnostics diagnostics;            ///< of all stages
  std::string refusal;                       ///< why there is no status, where no diagnostic says so

  [[nodiscard]] bool has_faults() const;
};

/// The newest day that has a folder, or nothing.
[[nodiscard]] std::optional<int> newest_day(std::span<const model::InputFile> files);

/// Runs all pure stages but the writers. Requires `files` sorted by name.
[[nodiscard]] RunResult run_stages(std::span<const model::InputFile> files, const RunOptions& options);

}  // namespace daywright::cli
