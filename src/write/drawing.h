// Small pieces that the drawings of the page share.
//
// Pure.
#pragma once

#include <string>
#include <string_view>

#include "model/status.h"

namespace daywright::write {

/// A number as it stands in an attribute of a drawing: a tenth is as fine as anything that can be seen.
[[nodiscard]] std::string coordinate(double value);

/// A figure's text with its unit, escaped; empty where there is no such figure.
[[nodiscard]] std::string shown(const model::DayStatus& status, const std::string& figure);

/// What the figure is worth, or null where it is no number.
[[nodiscard]] const double* number_in(const model::DayStatus& status, const std::string& figure);

/// The word that goes with a figure that no READY can rest on, else nothing.
[[nodiscard]] std::string doubt_about(const model::DayStatus& status, const std::string& figure);

/// One entry of the words below a chart: how something is drawn, and what it is. Both are HTML.
[[nodiscard]] std::string key(std::string_view drawing, std::string_view words);

}  // namespace daywright::write
