#include "write/wrapped.h"

#include <algorithm>

#include "model/printable.h"

namespace daywright::write {
namespace {

/// How many bytes of `word` fit into `room` columns, whole characters and at least one.
std::size_t fitting(std::string_view word, std::size_t room) {
  std::size_t end = 0;
  while (end < word.size()) {
    std::size_t next = end + 1;
    while (next < word.size() && (word[next] & 0xC0) == 0x80) ++next;
    if (end > 0 && model::display_width(word.substr(0, next)) > room) break;
    end = next;
  }
  return end;
}

}  // namespace

std::string wrapped(std::string_view text, std::size_t width, std::string_view head) {
  const std::string indent(model::display_width(head), ' ');
  std::string lines;
  std::string line(head);
  bool is_begun = false;
  const auto end_line = [&] {
    lines += line + '\n';
    line = indent;
    is_begun = false;
  };
  while (true) {
    text.remove_prefix(std::min(text.find_first_not_of(" \n"), text.size()));
    if (text.empty()) break;
    std::string_view word = text.substr(0, text.find_first_of(" \n"));
    text.remove_prefix(word.size());
    if (is_begun && model::display_width(line) + 1 + model::display_width(word) > width) end_line();
    while (!is_begun && indent.size() + model::display_width(word) > width) {
      const std::size_t end = fitting(word, width - indent.size());
      line += word.substr(0, end);
      word.remove_prefix(end);
      if (word.empty()) break;
      end_line();
    }
    if (is_begun) line += ' ';
    line += word;
    is_begun = true;
  }
  end_line();
  return lines;
}

}  // namespace daywright::write
