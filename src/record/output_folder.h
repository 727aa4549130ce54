// A folder of outputs that appears whole or not at all.
//
//   In:  where it shall be, and what goes into it
//   Out: on disk: the old folder or the new one, never a mixture
#pragma once

#include <filesystem>
#include <stdexcept>
#include <string>
#include <string_view>

namespace daywright::record {

/// What was to be put in place may be there, but something after that went wrong.
struct InDoubt : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// Builds a folder beside its final place, forces every file to disk, and puts it in place with one rename.
///
/// A folder that is there already is exchanged for the new one and then removed. Until `publish` returns, the final
/// place is untouched; when an OutputFolder dies unpublished, what it built is removed. Throws std::system_error, and
/// InDoubt where the new folder is in place already.
class OutputFolder {
 public:
  /// Makes the building place, and the parents of the final one where they are missing.
  explicit OutputFolder(std::filesystem::path final_place);
  ~OutputFolder();
  OutputFolder(const OutputFolder&) = delete;
  OutputFolder& operator=(const OutputFolder&) = delete;
  OutputFolder(OutputFolder&&) = delete;
  OutputFolder& operator=(OutputFolder&&) = delete;

  /// Writes one file and forces it to disk.
  void write(std::string_view name, std::string_view bytes);
  /// Where a library that writes files by itself is to put `name`; `keep` then forces it to disk.
  [[nodiscard]] std::filesystem::path path_of(std::string_view name) const { return building_ / name; }
  void keep(std::string_view name);
  void publish();

 private:
  std::filesystem::path final_;
  std::filesystem::path building_;
  bool published_ = false;
};

}  // namespace daywright::record
