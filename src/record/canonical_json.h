// JSON in the one form that can be signed: RFC 8785, without fractions.
//
//   In:  a value of texts, whole numbers, yes or no, nothing, lists and objects
//   Out: its bytes, and back
//
// Pure. One value has one form: what is read is what would have been written, byte by byte, or it is refused.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace daywright::record {

struct JsonMember;

/// A value. Quantities are texts, so that no number has more than one way to be written.
struct Json {
  using List = std::vector<Json>;
  using Object = std::vector<JsonMember>;
  std::variant<std::nullptr_t, bool, std::int64_t, std::string, List, Object> value;

  /// The member of an object with this name, or null.
  [[nodiscard]] const Json* find(std::string_view name) const;
  bool operator==(const Json&) const;
};

struct JsonMember {
  std::string name;
  Json value;

  bool operator==(const JsonMember&) const = default;
};

/// Why bytes are not canonical JSON, and at which byte.
struct JsonFault {
  std::size_t offset = 0;
  std::string text;
};

/// The bytes of `json`, members in the order of their UTF-16 units. Throws std::invalid_argument where a text is not
/// UTF-8, a number lies beyond 2^53 - 1, two members have one name, or lists and objects are nested too deep.
[[nodiscard]] std::string render_canonical(const Json& json);

/// Reads what `render_canonical` writes, and nothing else.
[[nodiscard]] std::variant<Json, JsonFault> parse_canonical(std::string_view bytes);

}  // namespace daywright::record
