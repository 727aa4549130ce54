// The verdicts of Options as formulas: of the flight, of the criteria that limit how long it can be, of each item.
//
// Pure.
#pragma once

#include <string>

#include "write/trial_layout.h"

namespace daywright::write {

/// That everything lasts and every criterion holds; NO DATA where inputs are not in order.
[[nodiscard]] std::string flight_verdict(const TrialLayout& layout);

/// Live for a criterion on a margin, else looked up in Cases; `index` is its place among the criteria.
[[nodiscard]] std::string criterion_verdict(const TrialLayout& layout, std::size_t index);

/// That an item lasts.
[[nodiscard]] std::string item_verdict(const TrialLayout& layout, const LaidItem& laid);

}  // namespace daywright::write
