#include "cli/terminal.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <charconv>
#include <cstdio>
#include <cstdlib>
#include <string_view>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <spawn.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <unistd.h>

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

/// The value of an environment variable; empty: not set, or to nothing.
std::string_view variable(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? std::string_view{} : value;
}

std::size_t read_width() {
  constexpr std::size_t usual = 80;
  constexpr std::size_t least = 40;
  constexpr std::size_t most = 500;
  std::size_t width = 0;
  const auto columns = variable("COLUMNS");
  (void)std::from_chars(columns.data(), columns.data() + columns.size(), width);
  winsize window{};
  if (width == 0 && ::ioctl(STDOUT_FILENO, TIOCGWINSZ, &window) == 0) width = window.ws_col;
  return width == 0 ? usual : std::clamp(width, least, most);
}

/// By the names that decide it, in their order; the locale itself stays "C", since a decimal comma would reach outputs.
bool is_utf8_locale() {
  std::string_view locale;
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    if (locale.empty()) locale = variable(name);
  }
  std::string plain;  // UTF-8 and utf8 are one
  for (const char c : locale) {
    if (c != '-') plain += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  }
  return plain.find("utf8") != std::string::npos;
}

std::string find_on_path(std::string_view program) {
  std::string_view path = variable("PATH");
  while (!path.empty()) {
    const std::string_view folder = path.substr(0, path.find(':'));
    path.remove_prefix(std::min(path.size(), folder.size() + 1));
    const fs::path candidate = fs::path(folder) / program;
    std::error_code error;
    if (!folder.empty() && fs::is_regular_file(candidate, error) && ::access(candidate.c_str(), X_OK) == 0)
      return candidate.string();
  }
  return {};
}

/// Starts the program in a session of its own, so that it outlives the terminal, with nothing to read or write.
int start_detached(const std::string& program, const std::string& argument, pid_t& started) {
  posix_spawnattr_t attributes;
  posix_spawn_file_actions_t files;
  ::posix_spawnattr_init(&attributes);
  ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSID);
  ::posix_spawn_file_actions_init(&files);
  for (const int file : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
    ::posix_spawn_file_actions_addopen(&files, file, "/dev/null", O_RDWR, 0);
  std::string name = program;
  std::string page = argument;
  std::array<char*, 3> arguments{name.data(), page.data(), nullptr};
  const int error = ::posix_spawn(&started, program.c_str(), &files, &attributes, arguments.data(), environ);
  ::posix_spawn_file_actions_destroy(&files);
  ::posix_spawnattr_destroy(&attributes);
  return error;
}

}  // namespace

write::Terminal read_terminal() {
  const bool has_colour =
      ::isatty(STDOUT_FILENO) != 0 && variable("NO_COLOR").empty() && variable("TERM") != std::string_view("dumb");
  return {read_width(), is_utf8_locale(), has_colour};
}

bool can_ask() { return ::isatty(STDIN_FILENO) != 0 && ::isatty(STDERR_FILENO) != 0; }

std::string ask(std::string_view question) {
  std::fwrite(question.data(), 1, question.size(), stderr);
  std::string line;
  for (int c = std::getchar(); c != EOF && c != '\n'; c = std::getchar()) line += static_cast<char>(c);
  return line;
}

std::string open_page(const fs::path& page) {
  if (variable("DISPLAY").empty() && variable("WAYLAND_DISPLAY").empty()) return "there is no display";
  const std::string opener = find_on_path("xdg-open");
  if (opener.empty()) return "there is no xdg-open";
  pid_t started = 0;
  if (const int error = start_detached(opener, fs::absolute(page).lexically_normal().string(), started); error != 0)
    return fmt::format("cannot start {}: {}", opener, std::generic_category().message(error));
  // An opener that can't open says so within the second; one that goes on has become the browser.
  constexpr int tries = 100;
  constexpr useconds_t pause = 10'000;
  for (int i = 0; i < tries; ++i) {
    int status = 0;
    const pid_t ended = ::waitpid(started, &status, WNOHANG);
    if (ended == started && WIFEXITED(status) && WEXITSTATUS(status) == 0) return {};
    if (ended == started) return fmt::format("{} could not open it", opener);
    if (ended < 0) return {};
    ::usleep(pause);
  }
  return {};
}

}  // namespace daywright::cli
