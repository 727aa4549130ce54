// The evening in order. The stages themselves are in pipeline.cpp: load, merge, rules; commands.cpp writes.
#include <csignal>
#include <cstdio>
#include <exception>

#include <malloc.h>

#include "cli/commands.h"
#include "cli/options.h"
#include "model/printable.h"
#include "record/output_folder.h"

namespace {

using namespace daywright::cli;

ExitCode run_command(const Command& command) {
  if (command.name == "check") return run_check(command);
  if (command.name == "explain") return run_explain(command);
  if (command.name == "options") return run_options(command);
  if (command.name == "sign") return run_sign(command);
  if (command.name == "signoffs") return run_signoffs(command);
  if (command.name == "archive") return run_archive(command);
  if (command.name == "handover") return run_handover(command);
  if (command.name == "verify") return run_verify(command);
  if (command.name == "history") return run_history(command);
  if (command.name == "compare") return run_compare(command);
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

/// What went wrong may name files, and their names can be anything.
void complain_of(const std::exception& error) {
  std::fprintf(stderr, "daywright: %s\n", daywright::model::printable(error.what()).c_str());
}

/// A run takes some ten megabytes bit by bit and gives them back all at once: taken in large steps and not given back
/// in between, the brief of a normal day is there an eighth of its time sooner.
void take_memory_in_large_steps() {
  constexpr int step = 16 << 20;
  mallopt(M_TOP_PAD, step);
  mallopt(M_TRIM_THRESHOLD, 4 * step);
  mallopt(M_MMAP_THRESHOLD, step);
}

}  // namespace

int main(int argc, char** argv) {
  // A pipe that nobody reads and a file that may not grow are errors of the write, which is told, and no sudden end.
  std::signal(SIGPIPE, SIG_IGN);
  std::signal(SIGXFSZ, SIG_IGN);
  take_memory_in_large_steps();
  try {
    return static_cast<int>(run(argc, argv));
  } catch (const daywright::record::InDoubt& error) {
    complain_of(error);
    return static_cast<int>(ExitCode::in_doubt);
  } catch (const std::exception& error) {
    // Disks fail and memory runs out: everything else that can go wrong comes back as a value.
    complain_of(error);
    return static_cast<int>(ExitCode::nothing_changed);
  }
}
