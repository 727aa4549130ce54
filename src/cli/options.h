// The command line: what was asked for, or what to say instead.
#pragma once

#include <string>
#include <variant>

#include "cli/commands.h"

namespace daywright::cli {

/// Text to print instead of running a command: help or version on standard output, a usage error on standard error.
struct Answer {
  std::string text;
  bool is_error = false;
};

[[nodiscard]] std::variant<Command, Answer> read_command_line(int argc, const char* const* argv);

}  // namespace daywright::cli
