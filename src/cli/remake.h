// The outputs of a filed day, made again from what is filed with them.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "record/archive.h"

namespace daywright::cli {

struct Remade {
  std::vector<record::LogBreak> breaks;  ///< what this very version gives otherwise
  std::vector<std::string> notes;        ///< what another version gives otherwise, or why nothing could be made
};

/// Makes the outputs of the bag in `place`, which holds that day, again in a temporary folder. Throws
/// std::system_error, and std::runtime_error where there are no whole outputs.
[[nodiscard]] Remade remake(const std::filesystem::path& place, std::int64_t day);

}  // namespace daywright::cli
