#include "record/output_file.h"

#include <cerrno>
#include <cstdlib>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include "record/descriptor.h"
#include "record/output_folder.h"

namespace daywright::record {
namespace {

namespace fs = std::filesystem;

/// A file that is removed unless it was put in place.
class FileAside {
 public:
  explicit FileAside(const fs::path& place)
      : pattern_((place.parent_path() / fmt::format(".{}.building-XXXXXX", place.filename().string())).string()),
        file_(make(pattern_), pattern_) {}
  ~FileAside() {
    if (!is_placed_) ::unlink(pattern_.c_str());
  }
  FileAside(const FileAside&) = delete;
  FileAside& operator=(const FileAside&) = delete;
  FileAside(FileAside&&) = delete;
  FileAside& operator=(FileAside&&) = delete;

  void write(std::string_view bytes) {
    file_.write_all(bytes);
    if (::fchmod(file_.number(), 0644) != 0) fail(errno, "cannot open up", pattern_);
    file_.sync();
    file_.close();
  }
  void place(const fs::path& final) {
    if (::rename(pattern_.c_str(), final.c_str()) != 0) fail(errno, "cannot put in place", final);
    is_placed_ = true;
  }

 private:
  static int make(std::string& pattern) {
    const int number = ::mkostemp(pattern.data(), O_CLOEXEC);
    if (number < 0) fail(errno, "cannot make", pattern);
    return number;
  }

  std::string pattern_;  ///< its name, once it is made
  Descriptor file_;
  bool is_placed_ = false;
};

}  // namespace

void save_file(const fs::path& place, std::string_view bytes) {
  FileAside file(place);
  file.write(bytes);
  file.place(place);
  try {
    Descriptor(place.has_parent_path() ? place.parent_path() : fs::path("."), O_RDONLY | O_DIRECTORY).sync();
  } catch (const std::system_error& error) {
    throw InDoubt(fmt::format("the new '{}' is in place, but {}", place.string(), error.what()));
  }
}

}  // namespace daywright::record
