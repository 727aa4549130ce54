// Briefs that were filed, found again.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "record/archive.h"
#include "write/comparison.h"

namespace daywright::cli {

/// The archive that a path means: a folder of bags itself, or that of a mission folder. Throws std::runtime_error where
/// it is neither.
[[nodiscard]] std::filesystem::path archive_of(const std::filesystem::path& given);

/// What is wrong with an archive, one sentence each; empty: its numbers and its chain are sound.
[[nodiscard]] std::vector<std::string> faults_of(const record::Archive& archive);

/// Says them, loudly.
void warn_of_faults(const std::filesystem::path& place, const std::vector<std::string>& faults);

struct FoundBrief {
  write::ComparedBrief brief;
  bool is_sound = true;  ///< false: it is as it was filed, but the archive around it is not sound, which was said
};

/// The brief that is meant by a bag, by a folder of outputs, or by "DIR@8" or "ARCHIVE@8.2": the newest revision of day
/// 8, or its revision 2. Throws std::runtime_error where there is none, or where it is not as it was filed.
[[nodiscard]] FoundBrief find_brief(const std::string& given);

}  // namespace daywright::cli
