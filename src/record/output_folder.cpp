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

#include "record/descriptor.h"

namespace daywright::record {
namespace {

namespace fs = std::filesystem;

/// What is replaced is removed. Outputs have no folders in them, so whatever has is somebody's own.
void refuse_what_is_not_ours(const fs::path& folder) {
  for (const auto& entry : fs::directory_iterator(folder)) {
    if (entry.symlink_status().type() == fs::file_type::directory)
      fail(ENOTEMPTY, "holds a folder, which outputs never do, and is not replaced:", folder);
  }
}

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
    refuse_what_is_not_ours(final_);
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
