// The nearest known name to one that is not known, for the end of an error message.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace daywright::model {

/// "; did you mean 'water'?" for the nearest of `known`, or nothing when none is near: at most a third of the
/// letters differ (insertions, deletions, substitutions and swaps of neighbours count one each).
[[nodiscard]] std::string did_you_mean(std::string_view unknown, std::span<const std::string> known);

}  // namespace daywright::model
