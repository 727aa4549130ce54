// Running another program: no shell, no surprise from PATH, an end to its time and to its output.
#pragma once

#include <chrono>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

namespace daywright::record {

/// Where `name` is, looked for in the folders of PATH that are absolute; empty: nowhere.
[[nodiscard]] std::filesystem::path find_program(std::string_view name);

struct ProgramCall {
  std::filesystem::path program;       ///< absolute
  std::vector<std::string> arguments;  ///< behind its name
  std::string input{};                 ///< what it reads on standard input
  std::vector<std::string> files{};    ///< contents of files; the program finds them under `handed_file`
  std::chrono::seconds limit{30};
  bool shows_errors = false;  ///< its standard error is ours, since it talks to a person
};

struct ProgramEnd {
  int exit_code = 0;  ///< -1: ended by a signal
  std::string output;
  std::string errors;  ///< empty where they were shown
};

/// The path under which a program that is called opens the file with this index in ProgramCall::files.
[[nodiscard]] std::string handed_file(std::size_t index);

/// Runs a program to its end. Throws std::system_error where it can't be started, and std::runtime_error where it takes
/// longer or says more than it may; then it has been killed.
[[nodiscard]] ProgramEnd run_program(const ProgramCall& call);

}  // namespace daywright::record
