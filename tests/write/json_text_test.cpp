#include "write/json_text.h"

#include <cmath>
#include <fstream>
#include <limits>
#include <string>

#include <nlohmann/json.hpp>

#include "catch_compat.h"

using daywright::write::JsonText;
using nlohmann::json;

namespace {

std::string text_of(std::string_view value) {
  std::string out;
  JsonText(out).text(value);
  return out;
}

std::string number_of(double value) {
  std::string out;
  JsonText(out).number(value);
  return out;
}

}  // namespace

// Source of the strings: tests/data/strings, with its README.
TEST_CASE("an independent reader gets back every string of the list of naughty strings") {
  std::ifstream file(TEST_DATA "/strings/blns.txt");
  std::size_t read = 0;
  for (std::string line; std::getline(file, line); ++read) {
    CAPTURE(read);
    CHECK(json::parse(text_of(line)).get<std::string>() == line);
  }
  CHECK(read > 500);
}

TEST_CASE("an independent reader gets back every single character, from ASCII") {
  for (char32_t code = 0; code <= 0x10FFFF; code = code < 0x3000 ? code + 1 : code + 251) {
    if (code >= 0xD800 && code <= 0xDFFF) continue;
    const json expected = json::parse([&] {
      // Through UTF-16 escapes, which do not need UTF-8 of our own making.
      char units[32];
      if (code < 0x10000)
        std::snprintf(units, sizeof units, "\"\\u%04x\"", static_cast<unsigned>(code));
      else
        std::snprintf(units, sizeof units, "\"\\u%04x\\u%04x\"",
                      static_cast<unsigned>(0xD800 + ((code - 0x10000) >> 10)),
                      static_cast<unsigned>(0xDC00 + ((code - 0x10000) & 0x3FF)));
      return std::string(units);
    }());
    const auto character = expected.get<std::string>();
    CAPTURE(static_cast<unsigned>(code));
    const std::string written = text_of(character);
    CHECK(json::parse(written) == expected);
    for (const char c : written) CHECK((c >= ' ' && c < '\x7f'));
  }
}

TEST_CASE("bytes that are not UTF-8 become the replacement character") {
  CHECK(json::parse(text_of("a\xff\xfe z\xc3")) == json::parse(R"("a\ufffd\ufffd z\ufffd")"));
}

TEST_CASE("numbers read back as the same bits") {
  for (const double value : {0.0, 0.1, 1.0 / 3, 17.25, 1e-9, 123456789.125, -2.5, 1e300,
                             std::numeric_limits<double>::denorm_min(), std::numeric_limits<double>::max()}) {
    CAPTURE(value);
    CHECK(json::parse(number_of(value)).get<double>() == value);
  }
  CHECK(number_of(12) == "12");
}

TEST_CASE("commas stand between members and elements and nowhere else") {
  std::string out;
  JsonText json_text(out);
  json_text.begin_object();
  json_text.key("empty");
  json_text.begin_list();
  json_text.end_list();
  json_text.new_line();
  json_text.key("list");
  json_text.begin_list();
  json_text.whole(1);
  json_text.null();
  json_text.begin_object();
  json_text.end_object();
  json_text.end_list();
  json_text.member("last", "x");
  json_text.end_object();
  CHECK(out == "{\"empty\":[],\n\"list\":[1,null,{}],\"last\":\"x\"}");
}
