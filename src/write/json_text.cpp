#include "write/json_text.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <charconv>
#include <cmath>
#include <iterator>

#include <fmt/format.h>
#include <utf8.h>

namespace daywright::write {
namespace {

bool is_plain(char c) { return c >= ' ' && c < '\x7f' && c != '"' && c != '\\'; }

/// RFC 8259, section 7: what can't stand in a string as it is.
void append_escaped(std::string& out, char32_t code) {
  if (code == U'"') return void(out += "\\\"");
  if (code == U'\\') return void(out += "\\\\");
  const auto append_unit = [&](unsigned unit) { fmt::format_to(std::back_inserter(out), "\\u{:04x}", unit); };
  constexpr char32_t first_beyond_one_unit = 0x10000;
  if (code < first_beyond_one_unit) return append_unit(static_cast<unsigned>(code));
  const auto rest = static_cast<unsigned>(code - first_beyond_one_unit);
  append_unit(0xD800U + (rest >> 10U));
  append_unit(0xDC00U + (rest & 0x3FFU));
}

}  // namespace

void JsonText::separate() {
  if (needs_comma_) out_ += ',';
  needs_comma_ = false;
}

void JsonText::open(char bracket) {
  separate();
  out_ += bracket;
}

void JsonText::close(char bracket) {
  out_ += bracket;
  needs_comma_ = true;
}

void JsonText::new_line() {
  separate();
  out_ += '\n';
}

void JsonText::key(std::string_view name) {
  assert(std::all_of(name.begin(), name.end(), is_plain));
  separate();
  out_ += '"';
  out_ += name;
  out_ += "\":";
}

void JsonText::quote(std::string_view value) {
  const auto first_special = std::find_if_not(value.begin(), value.end(), is_plain);
  if (first_special != value.end() && !utf8::is_valid(first_special, value.end())) {
    std::string mended;  // the name of a file can be any bytes
    utf8::replace_invalid(value.begin(), value.end(), std::back_inserter(mended));
    return quote(mended);
  }
  out_ += '"';
  for (auto at = value.begin(), stop = first_special;; stop = std::find_if_not(at, value.end(), is_plain)) {
    out_.append(at, stop);
    if (stop == value.end()) break;
    at = stop;
    append_escaped(out_, utf8::unchecked::next(at));
  }
  out_ += '"';
}

void JsonText::text(std::string_view value) {
  separate();
  quote(value);
  needs_comma_ = true;
}

void JsonText::whole(std::int64_t value) {
  separate();
  out_ += fmt::format_int(value).str();
  needs_comma_ = true;
}

void JsonText::number(double value) {
  assert(std::isfinite(value));
  separate();
  constexpr std::size_t longest = 32;
  std::array<char, longest> digits{};
  const auto written = std::to_chars(digits.data(), digits.data() + digits.size(), value);
  out_.append(digits.data(), written.ptr);
  needs_comma_ = true;
}

void JsonText::null() {
  separate();
  out_ += "null";
  needs_comma_ = true;
}

}  // namespace daywright::write
