#include "record/program.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <stdexcept>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <sys/timerfd.h>
#include <sys/wait.h>
#include <unistd.h>

#include "record/descriptor.h"

namespace daywright::record {
namespace {

namespace fs = std::filesystem;

constexpr int first_handed = 3;
constexpr int first_own = 64;  // above everything that is handed over
constexpr std::size_t most_output = 1 << 20;

/// A descriptor that is in nobody's way when others get fixed numbers.
Descriptor raised(int number, const char* what) {
  if (number < 0) fail(errno, "cannot make", what);
  const Descriptor low(number, what);
  const int high = ::fcntl(number, F_DUPFD_CLOEXEC, first_own);
  if (high < 0) fail(errno, "cannot make", what);
  return {high, what};
}

Descriptor file_in_memory(std::string_view bytes) {
  Descriptor file = raised(::memfd_create("input", MFD_CLOEXEC), "a file in memory");
  file.write_all(bytes);
  if (::lseek(file.number(), 0, SEEK_SET) != 0) fail(errno, "cannot rewind", file.path());
  return file;
}

struct Pipe {
  Descriptor from;
  Descriptor to;
};

Pipe make_pipe() {
  std::array<int, 2> ends{};
  if (::pipe2(ends.data(), O_CLOEXEC) != 0) fail(errno, "cannot make", "a pipe");
  Pipe made{raised(ends[0], "a pipe"), raised(ends[1], "a pipe")};
  if (::fcntl(made.from.number(), F_SETFL, O_NONBLOCK) != 0) fail(errno, "cannot set up", "a pipe");
  return made;
}

Descriptor make_timer(std::chrono::seconds limit) {
  Descriptor timer = raised(::timerfd_create(CLOCK_MONOTONIC, TFD_CLOEXEC), "a timer");
  const itimerspec after{{}, {limit.count(), 0}};
  if (::timerfd_settime(timer.number(), 0, &after, nullptr) != 0) fail(errno, "cannot set", timer.path());
  return timer;
}

/// What is to be done to the descriptors of the program before it starts.
class FileActions {
 public:
  FileActions() { ::posix_spawn_file_actions_init(&actions_); }
  ~FileActions() { ::posix_spawn_file_actions_destroy(&actions_); }
  FileActions(const FileActions&) = delete;
  FileActions& operator=(const FileActions&) = delete;
  FileActions(FileActions&&) = delete;
  FileActions& operator=(FileActions&&) = delete;

  void hand_over(const Descriptor& from, int as) {
    if (const int error = ::posix_spawn_file_actions_adddup2(&actions_, from.number(), as); error != 0)
      fail(error, "cannot hand over", from.path());
  }
  [[nodiscard]] const posix_spawn_file_actions_t* get() const { return &actions_; }

 private:
  posix_spawn_file_actions_t actions_{};
};

pid_t start(const ProgramCall& call, const FileActions& files) {
  std::vector<std::string> words{call.program.string()};
  words.insert(words.end(), call.arguments.begin(), call.arguments.end());
  std::vector<char*> arguments;
  for (auto& word : words) arguments.push_back(word.data());
  arguments.push_back(nullptr);
  posix_spawnattr_t attributes;
  ::posix_spawnattr_init(&attributes);
  // This program ignores these two, so that a write says what is wrong; others count on their effect.
  sigset_t defaults;
  ::sigemptyset(&defaults);
  ::sigaddset(&defaults, SIGPIPE);
  ::sigaddset(&defaults, SIGXFSZ);
  ::posix_spawnattr_setsigdefault(&attributes, &defaults);
  ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGDEF);
  pid_t started = 0;
  const int error = ::posix_spawn(&started, call.program.c_str(), files.get(), &attributes, arguments.data(), environ);
  ::posix_spawnattr_destroy(&attributes);
  if (error != 0) fail(error, "cannot start", call.program);
  return started;
}

/// A program that runs; one that is left behind is killed.
class Running {
 public:
  // By its number: the C library of Debian 12 declares the call for C only.
  Running(pid_t id, const fs::path& program)
      : id_(id), ended_(static_cast<int>(::syscall(SYS_pidfd_open, id, 0)), program) {
    if (ended_.number() >= 0) return;
    const int error = errno;
    kill();
    fail(error, "cannot watch", program);
  }
  ~Running() { kill(); }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;
  Running(Running&&) = delete;
  Running& operator=(Running&&) = delete;

  [[nodiscard]] int end_signal() const { return ended_.number(); }
  [[nodiscard]] int wait() {
    int status = 0;
    while (::waitpid(id_, &status, 0) < 0 && errno == EINTR) {
    }
    id_ = 0;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }

 private:
  void kill() {
    if (id_ == 0) return;
    ::kill(id_, SIGKILL);
    (void)wait();
  }

  pid_t id_;
  Descriptor ended_;
};

/// Takes what a pipe holds now. False: nothing more will come.
bool drain(const Descriptor& pipe, std::string& into) {
  std::array<char, 4096> some{};
  while (true) {
    const ssize_t got = ::read(pipe.number(), some.data(), some.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0 && errno == EAGAIN) return true;
    if (got < 0) fail(errno, "cannot read", pipe.path());
    if (got == 0) return false;
    into.append(some.data(), static_cast<std::size_t>(got));
    if (into.size() > most_output) throw std::runtime_error("says more than it may");
  }
}

}  // namespace

fs::path find_program(std::string_view name) {
  const char* variable = std::getenv("PATH");
  std::string_view path = variable == nullptr ? "" : variable;
  while (!path.empty()) {
    const std::string_view folder = path.substr(0, path.find(':'));
    path.remove_prefix(std::min(path.size(), folder.size() + 1));
    // A relative folder would be one of the mission's as soon as somebody works in it.
    if (!folder.starts_with('/')) continue;
    const fs::path candidate = fs::path(folder) / name;
    std::error_code error;
    if (fs::is_regular_file(candidate, error) && ::access(candidate.c_str(), X_OK) == 0) return candidate;
  }
  return {};
}

std::string handed_file(std::size_t index) {
  return fmt::format("/proc/self/fd/{}", first_handed + static_cast<int>(index));
}

ProgramEnd run_program(const ProgramCall& call) {
  FileActions actions;
  const Descriptor input = file_in_memory(call.input);
  actions.hand_over(input, STDIN_FILENO);
  std::vector<Descriptor> files;
  for (const auto& bytes : call.files) {
    files.push_back(file_in_memory(bytes));
    actions.hand_over(files.back(), first_handed + static_cast<int>(files.size()) - 1);
  }
  const Descriptor timer = make_timer(call.limit);
  Pipe output = make_pipe();
  Pipe errors = make_pipe();
  actions.hand_over(output.to, STDOUT_FILENO);
  if (!call.shows_errors) actions.hand_over(errors.to, STDERR_FILENO);
  Running running(start(call, actions), call.program);
  output.to.close();
  errors.to.close();

  ProgramEnd end;
  std::array<pollfd, 4> watched{{{output.from.number(), POLLIN, 0},
                                 {errors.from.number(), POLLIN, 0},
                                 {running.end_signal(), POLLIN, 0},
                                 {timer.number(), POLLIN, 0}}};
  const std::string name = call.program.filename().string();
  try {
    while (true) {
      if (::poll(watched.data(), watched.size(), -1) < 0 && errno != EINTR) fail(errno, "cannot watch", call.program);
      const bool has_ended = watched[2].revents != 0;
      // Whatever it wrote before its end is there by now; what it left running may hold the pipes open.
      if (!drain(output.from, end.output)) watched[0].fd = -1;
      if (!drain(errors.from, end.errors)) watched[1].fd = -1;
      if (has_ended) break;
      if (watched[3].revents != 0) throw std::runtime_error(fmt::format("takes longer than {} s", call.limit.count()));
    }
  } catch (const std::system_error&) {
    throw;
  } catch (const std::runtime_error& error) {
    throw std::runtime_error(fmt::format("{} {} and was stopped", name, error.what()));
  }
  end.exit_code = running.wait();
  return end;
}

}  // namespace daywright::record
