// A file that appears whole or not at all.
#pragma once

#include <filesystem>
#include <string_view>

namespace daywright::record {

/// Writes a file beside its final place, forces it to disk and puts it in place with one rename, over what was there.
/// Throws std::system_error where nothing has changed, and InDoubt (output_folder.h) where the new file is in place
/// but not known to be on disk.
void save_file(const std::filesystem::path& place, std::string_view bytes);

}  // namespace daywright::record
