#include "record/canonical_json.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <optional>
#include <stdexcept>

#include <fmt/format.h>
#include <utf8.h>

namespace daywright::record {
namespace {

constexpr std::int64_t largest_whole = (std::int64_t{1} << 53U) - 1;  // RFC 7493: what a double still holds exactly
constexpr int deepest = 32;

/// The order of UTF-16 units. It is that of the bytes of UTF-8, save that what takes two units (lead byte F0 and above,
/// units from D800) comes before U+E000 to U+FFFF (lead bytes EE and EF).
bool comes_before(std::string_view left, std::string_view right) {
  const auto [l, r] = std::mismatch(left.begin(), left.end(), right.begin(), right.end());
  if (r == right.end()) return false;
  if (l == left.end()) return true;
  constexpr unsigned char first_of_private_use = 0xEE;
  constexpr unsigned char first_of_two_units = 0xF0;
  const auto a = static_cast<unsigned char>(*l);
  const auto b = static_cast<unsigned char>(*r);
  if (a >= first_of_private_use && b >= first_of_private_use && (a < first_of_two_units) != (b < first_of_two_units))
    return a > b;
  return a < b;
}

/// RFC 8785, 3.2.2.2: the escapes of two characters, each with what it stands for.
constexpr std::array<std::pair<char, char>, 7> short_escapes{
    {{'b', '\b'}, {'t', '\t'}, {'n', '\n'}, {'f', '\f'}, {'r', '\r'}, {'"', '"'}, {'\\', '\\'}}};

void append_text(std::string& out, std::string_view text) {
  if (!utf8::is_valid(text.begin(), text.end())) throw std::invalid_argument("a text is not UTF-8");
  out += '"';
  for (const char c : text) {
    const auto* escape =
        std::find_if(short_escapes.begin(), short_escapes.end(), [&](auto& e) { return e.second == c; });
    if (escape != short_escapes.end()) {
      out += '\\';
      out += escape->first;
    } else if (static_cast<unsigned char>(c) < ' ') {
      out += fmt::format("\\u{:04x}", static_cast<unsigned>(c));
    } else {
      out += c;
    }
  }
  out += '"';
}

void append(std::string& out, const Json& json, int depth) {
  if (depth > deepest) throw std::invalid_argument("lists and objects are nested too deep");
  if (std::holds_alternative<std::nullptr_t>(json.value)) {
    out += "null";
  } else if (const auto* yes = std::get_if<bool>(&json.value)) {
    out += *yes ? "true" : "false";
  } else if (const auto* whole = std::get_if<std::int64_t>(&json.value)) {
    if (*whole > largest_whole || *whole < -largest_whole) throw std::invalid_argument("a number is too large");
    out += fmt::format_int(*whole).str();
  } else if (const auto* text = std::get_if<std::string>(&json.value)) {
    append_text(out, *text);
  } else if (const auto* list = std::get_if<Json::List>(&json.value)) {
    out += '[';
    for (const auto& entry : *list) {
      if (&entry != &list->front()) out += ',';
      append(out, entry, depth + 1);
    }
    out += ']';
  } else {
    std::vector<const JsonMember*> members;
    for (const auto& member : std::get<Json::Object>(json.value)) members.push_back(&member);
    std::sort(members.begin(), members.end(), [](auto* a, auto* b) { return comes_before(a->name, b->name); });
    out += '{';
    for (std::size_t i = 0; i < members.size(); ++i) {
      if (i > 0 && members[i]->name == members[i - 1]->name) throw std::invalid_argument("two members have one name");
      if (i > 0) out += ',';
      append_text(out, members[i]->name);
      out += ':';
      append(out, members[i]->value, depth + 1);
    }
    out += '}';
  }
}

/// Reads from the front of the bytes; stops at the first fault.
class Reader {
 public:
  explicit Reader(std::string_view bytes) : bytes_(bytes) {}

  std::variant<Json, JsonFault> read_all() {
    Json json;
    if (const auto bad = utf8::find_invalid(bytes_.begin(), bytes_.end()); bad != bytes_.end()) {
      at_ = static_cast<std::size_t>(bad - bytes_.begin());
      fail("this is not UTF-8");
    } else if (read(json, 0) && at_ != bytes_.size()) {
      fail("something stands behind the value");
    }
    if (fault_) return *fault_;
    return json;
  }

 private:
  bool fail(std::string text) {
    fault_ = JsonFault{at_, std::move(text)};
    return false;
  }

  [[nodiscard]] bool sees(char c) const { return at_ < bytes_.size() && bytes_[at_] == c; }

  bool take(std::string_view wanted) {
    if (!bytes_.substr(at_).starts_with(wanted)) return false;
    at_ += wanted.size();
    return true;
  }

  bool read(Json& json, int depth) {
    if (depth > deepest) return fail("lists and objects are nested too deep");
    if (sees('{')) return read_object(json.value.emplace<Json::Object>(), depth);
    if (sees('[')) return read_list(json.value.emplace<Json::List>(), depth);
    if (sees('"')) return read_text(json.value.emplace<std::string>());
    if (take("null")) return true;
    for (const bool yes : {true, false}) {
      if (take(yes ? "true" : "false")) {
        json.value = yes;
        return true;
      }
    }
    return read_whole(json.value.emplace<std::int64_t>());
  }

  bool read_whole(std::int64_t& whole) {
    const char* const begin = bytes_.data() + at_;
    const char* const end = bytes_.data() + bytes_.size();
    const auto [stop, error] = std::from_chars(begin, end, whole);
    if (error == std::errc::invalid_argument) return fail("expected a value, without blanks before it");
    const bool fits = error == std::errc{} && whole <= largest_whole && whole >= -largest_whole;
    if (!fits) return fail("a number lies beyond 2^53 - 1");
    if (fmt::format_int(whole).str() != std::string_view(begin, stop)) return fail("a number has another form");
    if (stop != end && (*stop == '.' || *stop == 'e' || *stop == 'E')) return fail("a number is not whole");
    at_ += static_cast<std::size_t>(stop - begin);
    return true;
  }

  /// Requires that the next byte is the opening quote. Bytes above ASCII are UTF-8, which was checked.
  bool read_text(std::string& text) {
    ++at_;
    while (at_ < bytes_.size() && !sees('"')) {
      if (static_cast<unsigned char>(bytes_[at_]) < ' ') return fail("a control character is not escaped");
      if (!sees('\\')) {
        text += bytes_[at_++];
      } else if (!read_escape(text)) {
        return fail("an escape has another form");
      }
    }
    return take("\"") || fail("a text does not end");
  }

  bool read_escape(std::string& text) {
    for (const auto& [letter, meant] : short_escapes) {
      if (bytes_.substr(at_, 2) != std::string{'\\', letter}) continue;
      text += meant;
      at_ += 2;
      return true;
    }
    for (char c = 0; c < ' '; ++c) {
      const bool is_short =
          std::any_of(short_escapes.begin(), short_escapes.end(), [&](auto& e) { return e.second == c; });
      if (is_short || !take(fmt::format("\\u{:04x}", static_cast<unsigned>(c)))) continue;
      text += c;
      return true;
    }
    return false;
  }

  bool read_list(Json::List& list, int depth) {
    ++at_;
    if (take("]")) return true;
    do {
      if (!read(list.emplace_back(), depth + 1)) return false;
    } while (take(","));
    return take("]") || fail("expected ',' or ']'");
  }

  bool read_object(Json::Object& object, int depth) {
    ++at_;
    if (take("}")) return true;
    do {
      const std::size_t start = at_;
      if (!sees('"')) return fail("expected the name of a member");
      std::string name;
      if (!read_text(name)) return false;
      if (!object.empty() && !comes_before(object.back().name, name)) {
        at_ = start;
        return fail(object.back().name == name ? "two members have one name" : "members are not in order");
      }
      if (!take(":")) return fail("expected ':'");
      object.push_back({std::move(name), {}});
      if (!read(object.back().value, depth + 1)) return false;
    } while (take(","));
    return take("}") || fail("expected ',' or '}'");
  }

  std::string_view bytes_;
  std::size_t at_ = 0;
  std::optional<JsonFault> fault_;
};

}  // namespace

bool Json::operator==(const Json&) const = default;

const Json* Json::find(std::string_view name) const {
  const auto* object = std::get_if<Object>(&value);
  if (object == nullptr) return nullptr;
  const auto found = std::find_if(object->begin(), object->end(), [&](const auto& m) { return m.name == name; });
  return found == object->end() ? nullptr : &found->value;
}

std::string render_canonical(const Json& json) {
  std::string out;
  append(out, json, 0);
  return out;
}

std::variant<Json, JsonFault> parse_canonical(std::string_view bytes) { return Reader(bytes).read_all(); }

}  // namespace daywright::record
