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

/// One sentence for each sign-off that stands and covers something that is another since, and one where the sign-offs
/// can't be read as they were written. For people only: no output of a brief depends on it, since a sign-off that
/// covers the brief can't be told in it.
[[nodiscard]] std::vector<std::string> say_what_is_overtaken(const Command& command, const MissionFiles& files);

}  // namespace daywright::cli
