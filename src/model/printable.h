// Text from the logs, made safe to show: nothing in it may move a cursor, ring a bell or turn the reading direction.
#pragma once

#include <string>
#include <string_view>

namespace daywright::model {

/// `text` with control characters, characters that change the direction of reading or are invisible, and bytes
/// that are not UTF-8 written out as \xNN or \u{NNNN}; everything else stays as it is.
[[nodiscard]] std::string printable(std::string_view text);

/// The columns that `text` takes on a terminal or in a raw text: wide characters count two, combining ones none.
[[nodiscard]] std::size_t display_width(std::string_view text);

}  // namespace daywright::model
