// What every command begins and ends with: reading and running a mission, printing, and saying what is wrong.
#pragma once

#include <string>
#include <string_view>

#include "cli/commands.h"
#include "cli/pipeline.h"
#include "cli/read_files.h"
#include "model/filed.h"
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
  model::Filed filed;
  RunResult result;
};

/// Reads the mission and its archive, and runs them through the stages.
[[nodiscard]] Session run_mission(const Command& command, bool is_to_be_tried = false);

/// The same with files that have been read, and with what the archive held at some time.
[[nodiscard]] Session run_files(const Command& command, MissionFiles files, const model::Filed& filed,
                                bool is_to_be_tried = false);

/// The day that is asked for, else the newest. Throws std::runtime_error where there is none.
[[nodiscard]] int day_of(const Command& command, const MissionFiles& files);

/// Every fault of the inputs, and why there is no status where there is none.
void report_faults(const Command& command, const Session& session);

/// "2 errors, 1 warning".
[[nodiscard]] std::string count_of_faults(const model::Diagnostics& diagnostics);

/// Exit code of a command that has done its work, with a word about the faults of the inputs where there are any:
/// `where` says where they are found.
[[nodiscard]] ExitCode end_of(const RunResult& result, std::string_view where);

/// Of the program and of each library that has a say in the outputs.
[[nodiscard]] write::Versions versions();

/// After every day that a mission can have.
inline constexpr int last_day = 999;

/// Whether the brief of that day rests on a file of the mission with this name.
[[nodiscard]] bool is_of_day(const std::string& name, int day);

/// The files of the mission that the brief of that day rests on.
[[nodiscard]] std::vector<write::InputRecord> list_mission_files(const MissionFiles& files, int day);

/// Where the outputs of that day are: "out/day-008" in the mission folder, or below --out.
[[nodiscard]] std::filesystem::path day_folder(const Command& command, int day);

/// Where the handover of that day is, beside them.
[[nodiscard]] std::filesystem::path handover_folder(const Command& command, int day);

}  // namespace daywright::cli
