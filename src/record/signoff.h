// A sign-off as the canonical bytes that are signed, and back.
//
// Pure. `signed_at` is RFC 3339; there is no number but whole ones.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <variant>

#include "model/signoff.h"

namespace daywright::record {

/// The digest that stands for "no record before" in the first one.
inline constexpr std::string_view no_record = "0000000000000000000000000000000000000000000000000000000000000000";

/// The longest record: what people may write into it is far shorter.
inline constexpr std::size_t largest_record = std::size_t{256} * 1024;

/// The bytes of a record. Requires what `parse_signoff` asks for; throws std::invalid_argument where it has no
/// canonical form.
[[nodiscard]] std::string render_signoff(const model::SignOff& signoff);

/// Reads what `render_signoff` writes, and nothing else; otherwise says what is wrong.
[[nodiscard]] std::variant<model::SignOff, std::string> parse_signoff(std::string_view bytes);

/// "2031-05-13T22:00:00Z", RFC 3339 in whole seconds.
[[nodiscard]] std::string format_rfc3339(model::Instant when);

}  // namespace daywright::record
