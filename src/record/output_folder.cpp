#include "record/output_folder.h"

#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

namespace daywright::record {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void fail(int error, const std::string& doing, const fs::path& path) {
  throw std::system_error(error, std::generic_category(), fmt::format("{} '{}'", doing, path.string()));
}

/// An open file descriptor that closes itself.
class Descriptor {
 public:
  Descriptor(const fs::path& path, int flags) : path_(path), number_(::open(path.c_str(), flags | O_CLOEXEC, 0644)) {
    if (number_ < 0) fail(errno, "cannot open", path);
  }
  ~Descriptor() {
    if (number_ >= 0) ::close(number_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  Descriptor(Descriptor&&) = delete;
  Descriptor& operator=(Descriptor&&) = delete;

  void write_all(std::string_view bytes) const {
    while (!bytes.empty()) {
      const ssize_t written = ::write(number_, bytes.data(), bytes.size());
      if (written < 0 && errno == EINTR) continue;
      if (written < 0) fail(errno, "cannot write", path_);
      bytes.remove_prefix(static_cast<std::size_t>(written));
    }
  }
  void sync() const {
    if (::fsync(number_) != 0) fail(errno, "cannot force to disk", path_);
  }
  /// Closes and reports: some file systems say only here that a write did not fit.
  void close() {
    const int result = ::close(number_);
    number_ = -1;
    if (result != 0) fail(errno, "cannot close", path_);
  }

 private:
  fs::path path_;
  int number_;
};

void sync_folder(const fs::path& folder) { Descriptor(folder, O_RDONLY | O_DIRECTORY).sync(); }

}  // namespace

OutputFolder::OutputFolder(fs::path final_place) : final_(std::move(final_place)) {
  std::error_code error;
  const auto there = fs::symlink_status(final_, error);
  if (fs::is_regular_file(there)) fail(ENOTDIR, "cannot put the outputs in place of", final_);
  fs::create_directories(final_.parent_path(), error);
  if (error) fail(error.value(), "cannot make the folder", final_.parent_path());
  std::string pattern =
      (final_.parent_path() / fmt::format(".{}.building-XXXXXX", final_.filename().string())).string();
  if (::mkdtemp(pattern.data()) == nullptr) fail(errno, "cannot make a folder in", final_.parent_path());
  building_ = pattern;
  if (::chmod(building_.c_str(), 0755) != 0) fail(errno, "cannot open up", building_);
}

OutputFolder::~OutputFolder() {
  std::error_code ignored;
  if (!published_) fs::remove_all(building_, ignored);
}

void OutputFolder::write(std::string_view name, std::string_view bytes) {
  Descriptor file(building_ / name, O_WRONLY | O_CREAT | O_EXCL);
  file.write_all(bytes);
  file.sync();
  file.close();
}

void OutputFolder::keep(std::string_view name) { Descriptor(building_ / name, O_RDONLY).sync(); }

void OutputFolder::publish() {
  sync_folder(building_);
  if (::renameat2(AT_FDCWD, building_.c_str(), AT_FDCWD, final_.c_str(), RENAME_NOREPLACE) != 0) {
    if (errno != EEXIST) fail(errno, "cannot put in place", final_);
    if (::renameat2(AT_FDCWD, building_.c_str(), AT_FDCWD, final_.c_str(), RENAME_EXCHANGE) != 0)
      fail(errno, "cannot put in place", final_);
    // The old outputs now stand in the building place.
    std::error_code error;
    fs::remove_all(building_, error);
    published_ = true;
    if (error)
      throw InDoubt(fmt::format("the new outputs are in place, but cannot remove the old ones in '{}': {}",
                                building_.string(), error.message()));
  }
  published_ = true;
  try {
    sync_folder(final_.parent_path());
  } catch (const std::system_error& error) {
    throw InDoubt(fmt::format("the new outputs are in place, but {}", error.what()));
  }
}

}  // namespace daywright::record
