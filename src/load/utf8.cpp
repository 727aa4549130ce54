#include "load/utf8.h"

#include <algorithm>

#include <utf8.h>

#include "model/printable.h"

namespace daywright::load {

std::string_view without_bom(std::string_view text) {
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  return text;
}

std::optional<std::size_t> find_bad_byte(std::string_view text) {
  const auto nul = text.find('\0');
  const auto checked = text.substr(0, nul);
  const auto bad = utf8::find_invalid(checked.begin(), checked.end());
  if (bad != checked.end()) return static_cast<std::size_t>(bad - checked.begin());
  if (nul != std::string_view::npos) return nul;
  return std::nullopt;
}

model::Source source_at(int file, std::string_view text, std::size_t offset) {
  const auto before = text.substr(0, offset);
  const auto line_break = before.rfind('\n');
  const auto line = before.substr(line_break == std::string_view::npos ? 0 : line_break + 1);
  const auto lines = std::count(before.begin(), before.end(), '\n');
  // Every byte but the continuation bytes 10xxxxxx starts a character.
  const auto characters = std::count_if(line.begin(), line.end(), [](char c) { return (c & 0xC0) != 0x80; });
  return {file, static_cast<int>(lines) + 1, static_cast<int>(characters) + 1};
}

std::string in_quotes(std::string_view text) {
  constexpr std::size_t longest = 40;
  std::string shown = model::printable(text);
  if (shown.size() > longest) {
    std::size_t cut = longest;
    while (cut > 0 && (shown[cut] & 0xC0) == 0x80) --cut;
    shown = shown.substr(0, cut) + "...";
  }
  return "'" + shown + "'";
}

}  // namespace daywright::load
