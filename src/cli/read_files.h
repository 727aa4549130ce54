// The files of a mission folder, read whole.
#pragma once

#include <filesystem>
#include <vector>

#include "model/diagnostic.h"

namespace daywright::cli {

/// What was read, in order of name, and names that were passed over, since they are no files.
struct MissionFiles {
  std::vector<model::InputFile> files;
  std::vector<std::string> passed_over;
};

/// Reads mission.toml, rules.toml and everything in days/NNN. Names are relative to `folder`, with "/" between their
/// parts; files and folders whose name begins with a dot or ends in "~" belong to editors and are left alone.
/// A link is never followed, since it may lead out of the folder, and what is no regular file is never opened.
/// Throws std::system_error where something can't be read.
[[nodiscard]] MissionFiles read_mission(const std::filesystem::path& folder);

/// The bytes of one file. Throws std::system_error.
[[nodiscard]] std::string read_file(const std::filesystem::path& path);

}  // namespace daywright::cli
