// What every command begins and ends with: reading and running a mission, printing, and saying what is wrong.
#pragma once

#include <string>
#include <string_view>

#include "cli/commands.h"
#include "cli/pipeline.h"
#include "cli/read_files.h"
#include "write/json.h"

namespace daywright::cli {

/// Results go to standard output; a write that fails counts, so that a full disk is not taken for a short answer.
/// Throws std::system_error.
void print(std::string_view text);

/// Everything else goes to standard error.
void complain(std::string_view text);
[[nodiscard]] bool wants_colour();

/// The mission folder as it stands before the names of files in messages.
[[nodiscard]] std::string shown_folder(const Command& command);

/// A mission that has been read and run through the stages.
struct Session {
  MissionFiles files;
  RunResult result;
};

[[nodiscard]] Session run_mission(const Command& command, bool is_to_be_tried = false);

/// Every fault of the inputs, and why there is no status where there is none.
void report_faults(const Command& command, const Session& session);

/// "2 errors, 1 warning".
[[nodiscard]] std::string count_of_faults(const model::Diagnostics& diagnostics);

/// Of the program and of each library that has a say in the outputs.
[[nodiscard]] write::Versions versions();

/// The files of the mission that the brief of that day rests on.
[[nodiscard]] std::vector<write::InputRecord> list_mission_files(const MissionFiles& files, int day);

/// Where the outputs of that day are: "out/day-008" in the mission folder, or below --out.
[[nodiscard]] std::filesystem::path day_folder(const Command& command, int day);

/// Where the handover of that day is, beside them.
[[nodiscard]] std::filesystem::path handover_folder(const Command& command, int day);

}  // namespace daywright::cli
