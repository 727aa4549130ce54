// The evening in order. The stages themselves are in pipeline.cpp: load, merge, rules; commands.cpp writes.
#include <cstdio>
#include <exception>

#include "cli/commands.h"
#include "cli/options.h"
#include "record/output_folder.h"

namespace {

using namespace daywright::cli;

ExitCode run_command(const Command& command) {
  if (command.name == "check") return run_check(command);
  if (command.name == "explain") return run_explain(command);
  return run_brief(command);
}

ExitCode run(int argc, const char* const* argv) {
  const auto asked = read_command_line(argc, argv);
  if (const auto* answer = std::get_if<Answer>(&asked)) {
    std::FILE* const to = answer->is_error ? stderr : stdout;
    const bool is_written = std::fputs(answer->text.c_str(), to) >= 0 && std::fflush(to) == 0;
    if (answer->is_error) return ExitCode::usage;
    return is_written ? ExitCode::done : ExitCode::nothing_changed;
  }
  return run_command(std::get<Command>(asked));
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return static_cast<int>(run(argc, argv));
  } catch (const daywright::record::InDoubt& error) {
    std::fprintf(stderr, "daywright: %s\n", error.what());
    return static_cast<int>(ExitCode::in_doubt);
  } catch (const std::exception& error) {
    // Disks fail and memory runs out: everything else that can go wrong comes back as a value.
    std::fprintf(stderr, "daywright: %s\n", error.what());
    return static_cast<int>(ExitCode::nothing_changed);
  }
}
