// An open file or folder that closes itself, with the operations whose failure must not go unseen.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include <sys/stat.h>

namespace daywright::record {

/// Throws std::system_error that says what could not be done, and to which file.
[[noreturn]] void fail(int error, const std::string& doing, const std::filesystem::path& path);

/// An open file descriptor. Everything throws std::system_error.
class Descriptor {
 public:
  /// Opens `path`; new files can be read by all.
  Descriptor(const std::filesystem::path& path, int flags);
  /// Opens `name` in an open folder.
  Descriptor(const Descriptor& folder, const std::string& name, int flags);
  /// Takes over an open descriptor; `path` is what messages call it.
  Descriptor(int number, std::filesystem::path path) : path_(std::move(path)), number_(number) {}
  ~Descriptor();
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  Descriptor(Descriptor&& other) noexcept;
  Descriptor& operator=(Descriptor&&) = delete;

  [[nodiscard]] int number() const { return number_; }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  [[nodiscard]] struct stat info() const;
  /// The bytes of a regular file that holds at most `most`; anything else, a pipe or a device, is refused at once.
  /// Requires that the file was opened with O_NONBLOCK.
  [[nodiscard]] std::string read_regular(std::size_t most) const;
  /// The names in an open folder, in order.
  [[nodiscard]] std::vector<std::string> names() const;
  void write_all(std::string_view bytes) const;
  void sync() const;
  /// Closes and reports: some file systems say only here that a write did not fit.
  void close();

 private:
  std::filesystem::path path_;
  int number_;
};

}  // namespace daywright::record
