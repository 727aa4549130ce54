// A folder for what has to be made as a file before it can be compared; below TMPDIR, gone with its object.
#pragma once

#include <cerrno>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <system_error>

#include "record/descriptor.h"

namespace daywright::cli {

/// Throws std::system_error where it can't be made.
class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string pattern = (std::filesystem::temp_directory_path() / "daywright-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr)
      record::fail(errno, "cannot make a folder in", std::filesystem::temp_directory_path());
    path_ = pattern;
  }
  ~TemporaryFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  TemporaryFolder(TemporaryFolder&&) = delete;
  TemporaryFolder& operator=(TemporaryFolder&&) = delete;

  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

}  // namespace daywright::cli
