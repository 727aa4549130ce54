// What each command does, in order.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "cli/exit_code.h"

namespace daywright::cli {

/// A command line, read.
struct Command {
  std::string name;              ///< check, brief, explain
  std::filesystem::path folder;  ///< the mission
  std::string figure;            ///< explain: its id
  bool list = false;             ///< explain: all figures
  bool strict = false;           ///< brief: any fault in the inputs stops it
  std::optional<int> day;
  std::optional<std::string> cutoff;
  std::optional<std::filesystem::path> out;        ///< default: out/ in the mission folder
  std::optional<std::filesystem::path> templates;  ///< default: those that are built in
};

// Each prints results on standard output and diagnostics on standard error.
[[nodiscard]] ExitCode run_check(const Command& command);
[[nodiscard]] ExitCode run_brief(const Command& command);
[[nodiscard]] ExitCode run_explain(const Command& command);

}  // namespace daywright::cli
