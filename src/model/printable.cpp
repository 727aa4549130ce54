#include "model/printable.h"

#include <algorithm>

#include <fmt/format.h>
#include <utf8proc.h>

namespace daywright::model {

std::string printable(std::string_view text) {
  const bool plain = std::all_of(text.begin(), text.end(), [](char c) { return c >= 0x20 && c < 0x7F; });
  if (plain) return std::string(text);

  std::string shown;
  const auto* bytes = reinterpret_cast<const utf8proc_uint8_t*>(text.data());
  for (std::size_t at = 0; at < text.size();) {
    utf8proc_int32_t code = -1;
    const auto left = static_cast<utf8proc_ssize_t>(text.size() - at);
    const utf8proc_ssize_t length = utf8proc_iterate(bytes + at, left, &code);
    if (length <= 0) {
      shown += fmt::format("\\x{:02X}", bytes[at]);
      ++at;
      continue;
    }
    const auto category = utf8proc_category(code);
    // Cc: controls; Cf: overrides, zero-width and other format characters; Zl and Zp: line and paragraph breaks.
    const bool hidden = utf8proc_get_property(code)->ignorable || category == UTF8PROC_CATEGORY_CC ||
                        category == UTF8PROC_CATEGORY_CF || category == UTF8PROC_CATEGORY_ZL ||
                        category == UTF8PROC_CATEGORY_ZP || category == UTF8PROC_CATEGORY_CN ||
                        category == UTF8PROC_CATEGORY_CO;
    if (hidden) {
      shown += code < 0x80 ? fmt::format("\\x{:02X}", code) : fmt::format("\\u{{{:04X}}}", code);
    } else {
      shown.append(text.substr(at, static_cast<std::size_t>(length)));
    }
    at += static_cast<std::size_t>(length);
  }
  return shown;
}

std::size_t display_width(std::string_view text) {
  std::size_t width = 0;
  const auto* bytes = reinterpret_cast<const utf8proc_uint8_t*>(text.data());
  for (std::size_t at = 0; at < text.size();) {
    utf8proc_int32_t code = -1;
    const utf8proc_ssize_t length =
        utf8proc_iterate(bytes + at, static_cast<utf8proc_ssize_t>(text.size() - at), &code);
    if (length <= 0) {
      ++width;
      ++at;
      continue;
    }
    width += static_cast<std::size_t>(std::max(0, utf8proc_charwidth(code)));
    at += static_cast<std::size_t>(length);
  }
  return width;
}

}  // namespace daywright::model
