// What a sign-off covers, held against what is there now.
#pragma once

#include <string>
#include <vector>

#include "cli/commands.h"
#include "cli/read_files.h"
#include "model/signoff.h"

namespace daywright::cli {

/// The most that an output may hold to be signed.
inline constexpr std::size_t largest_output = std::size_t{256} << 20U;

/// The outputs that are not what was signed, "output brief.md", or, where all are, the inputs of that day that are not
/// what the signed list of inputs says, "days/008/counts.csv". Empty: nothing is another.
[[nodiscard]] std::vector<std::string> others_since(const model::SignOff& signoff, const Command& command,
                                                    const MissionFiles& files);

}  // namespace daywright::cli
