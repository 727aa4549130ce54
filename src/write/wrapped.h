// Text in lines of a width, for a raw text or a terminal.
//
// Pure.
#pragma once

#include <string>
#include <string_view>

namespace daywright::write {

/// `text` broken between words into lines of at most `width` columns, each with a line feed: the first behind `head`,
/// the others behind as many blanks. A word that is wider than a line is broken where the line ends.
///
/// Blanks at the ends are dropped, several in a row are one. Requires `head` narrower than `width`.
[[nodiscard]] std::string wrapped(std::string_view text, std::size_t width, std::string_view head = {});

}  // namespace daywright::write
