// UTF-8 at the gate: the byte order mark, bad bytes, and columns counted in characters.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "model/diagnostic.h"

namespace daywright::load {

/// `text` without a leading byte order mark.
[[nodiscard]] std::string_view without_bom(std::string_view text);

/// The offset of the first byte that is not UTF-8, or of a NUL, which no text file holds; nothing when all is well.
[[nodiscard]] std::optional<std::size_t> find_bad_byte(std::string_view text);

/// Line and column (in characters, from 1) of byte `offset` of `text`.
[[nodiscard]] model::Source source_at(int file, std::string_view text, std::size_t offset);

/// `text` as it may stand in a message: cut to 40 characters, control and direction-changing characters and
/// bad bytes as \xNN.
[[nodiscard]] std::string in_quotes(std::string_view text);

}  // namespace daywright::load
