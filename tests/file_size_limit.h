// A disk without room, as far as a test can have one without being root.
#pragma once

#include <csignal>

#include <sys/resource.h>

namespace daywright::test {

/// While it lives, no file of this process can grow beyond `bytes`: the next write fails, as on a full disk.
class FileSizeLimit {
 public:
  explicit FileSizeLimit(rlim_t bytes) : old_handler_(std::signal(SIGXFSZ, SIG_IGN)) {
    ::getrlimit(RLIMIT_FSIZE, &old_limit_);
    const struct rlimit limit{bytes, old_limit_.rlim_max};
    ::setrlimit(RLIMIT_FSIZE, &limit);
  }
  ~FileSizeLimit() {
    ::setrlimit(RLIMIT_FSIZE, &old_limit_);
    std::signal(SIGXFSZ, old_handler_);
  }
  FileSizeLimit(const FileSizeLimit&) = delete;
  FileSizeLimit(FileSizeLimit&&) = delete;
  FileSizeLimit& operator=(const FileSizeLimit&) = delete;
  FileSizeLimit& operator=(FileSizeLimit&&) = delete;

 private:
  void (*old_handler_)(int);
  struct rlimit old_limit_{};
};

}  // namespace daywright::test
