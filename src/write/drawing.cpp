#include "write/drawing.h"

#include <cmath>

#include <fmt/format.h>

#include "write/html.h"

namespace daywright::write {

std::string coordinate(double value) {
  const double tenths = std::round(value * 10);
  return fmt::format("{:g}", tenths == 0 ? 0 : tenths / 10);  // no negative zero
}

std::string shown(const model::DayStatus& status, const std::string& figure) {
  const auto* found = status.find(figure);
  return found == nullptr ? std::string{} : escape_html(model::with_unit(*found));
}

const double* number_in(const model::DayStatus& status, const std::string& figure) {
  const auto* found = status.find(figure);
  return found == nullptr ? nullptr : std::get_if<double>(&found->value);
}

std::string doubt_about(const model::DayStatus& status, const std::string& figure) {
  const auto* found = status.find(figure);
  return found == nullptr || found->doubts.empty() ? std::string{} : " <strong class=\"doubt\">UNSOUND</strong>";
}

std::string key(std::string_view drawing, std::string_view words) {
  return fmt::format(R"(<li><svg class="key" viewBox="0 0 24 10" aria-hidden="true">{}</svg>{}</li>)", drawing, words);
}

}  // namespace daywright::write
