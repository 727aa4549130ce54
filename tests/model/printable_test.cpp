#include "model/printable.h"

#include <fstream>
#include <optional>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "catch_compat.h"

using daywright::model::display_width;
using daywright::model::printable;
using namespace std::string_literals;

namespace {

/// A decoder of our own, by the table of well-formed sequences (The Unicode Standard, table 3-7): the code points
/// of `text`, or nothing when it is not UTF-8.
std::optional<std::vector<char32_t>> decode(const std::string& text) {
  std::vector<char32_t> codes;
  for (std::size_t at = 0; at < text.size();) {
    const auto byte = [&](std::size_t i) -> unsigned {
      return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U;
    };
    const unsigned lead = byte(at);
    std::size_t length = 0;
    char32_t code = 0;
    char32_t least = 0;
    if (lead < 0x80) {
      length = 1, code = lead;
    } else if (lead >= 0xC2 && lead < 0xE0) {
      length = 2, code = lead & 0x1FU, least = 0x80;
    } else if (lead >= 0xE0 && lead < 0xF0) {
      length = 3, code = lead & 0x0FU, least = 0x800;
    } else if (lead >= 0xF0 && lead < 0xF5) {
      length = 4, code = lead & 0x07U, least = 0x10000;
    } else {
      return std::nullopt;
    }
    for (std::size_t i = 1; i < length; ++i) {
      if ((byte(at + i) & 0xC0U) != 0x80U) return std::nullopt;
      code = code << 6U | (byte(at + i) & 0x3FU);
    }
    if (code < least || code > 0x10FFFF || (code >= 0xD800 && code < 0xE000)) return std::nullopt;
    codes.push_back(code);
    at += length;
  }
  return codes;
}

bool is_control(char32_t c) { return c < 0x20 || (c >= 0x7F && c < 0xA0); }

/// The characters of the Unicode property Bidi_Control (PropList.txt), and the line and paragraph separators.
bool turns_or_breaks(char32_t c) {
  return c == 0x61C || c == 0x200E || c == 0x200F || (c >= 0x202A && c <= 0x202E) || (c >= 0x2066 && c <= 0x2069) ||
         c == 0x2028 || c == 0x2029;
}

/// Why `text` is not safe to show, or nothing.
std::string fault_of(const std::string& text) {
  const auto codes = decode(text);
  if (!codes) return "not UTF-8";
  for (const char32_t c : *codes) {
    if (is_control(c)) return "holds a control character";
    if (turns_or_breaks(c)) return "holds a character that turns the reading direction or breaks the line";
  }
  return {};
}

}  // namespace

TEST_CASE("plain text stays as it is") {
  CHECK(printable("").empty());
  CHECK(printable("Filter 3, swapped at 18:40 (ok)") == "Filter 3, swapped at 18:40 (ok)");
  CHECK(printable("21 °C, dérive, 漢字, ʤ") == "21 °C, dérive, 漢字, ʤ");
  CHECK(printable(R"(a\b|c*d_e`f<g>&"h")") == R"(a\b|c*d_e`f<g>&"h")");
}

TEST_CASE("an escape sequence does not reach the terminal") {
  CHECK(printable("\x1B[31mred\x1B[0m") == R"(\x1B[31mred\x1B[0m)");
  CHECK(printable("\x1B]0;title\a") == R"(\x1B]0;title\x07)");
  CHECK(printable("\xC2\x9B"
                  "31m") == R"(\u{009B}31m)");  // CSI as one C1 control
}

TEST_CASE("line breaks, tabs, backspace, NUL and delete are written out") {
  CHECK(printable("a\nb\r\nc\td") == R"(a\x0Ab\x0D\x0Ac\x09d)");
  CHECK(printable("NO-\b\b\bGO") == R"(NO-\x08\x08\x08GO)");
  CHECK(printable("a\0b"s) == R"(a\x00b)");
  CHECK(printable("\x7F") == R"(\x7F)");
  CHECK(printable("\xC2\x85") == R"(\u{0085})");  // next line, a C1 control
}

TEST_CASE("a right-to-left override is written out, so that text reads in the order in which it was typed") {
  CHECK(printable("tank \u202E021") == R"(tank \u{202E}021)");
  CHECK(printable("\u2066a\u2069") == R"(\u{2066}a\u{2069})");
  CHECK(printable("\u200F") == R"(\u{200F})");
  CHECK(printable("\u061C") == R"(\u{061C})");
}

TEST_CASE("zero-width characters do not make two names that look alike differ") {
  CHECK(printable("wa\u200Bter") == R"(wa\u{200B}ter)");
  CHECK(printable("wa\u2060ter") == R"(wa\u{2060}ter)");
  CHECK(printable("\uFEFFwater") == R"(\u{FEFF}water)");
  CHECK(printable("wa\u00ADter") == R"(wa\u{00AD}ter)");       // soft hyphen
  CHECK(printable("wa\U000E0041ter") == R"(wa\u{E0041}ter)");  // a tag character
}

TEST_CASE("a letter that shows nothing is written out") {
  // Default_Ignorable_Code_Point of the Unicode Standard (DerivedCoreProperties.txt), from memory: the Hangul
  // fillers are letters by category and yet invisible.
  CHECK(printable("wa\u3164ter") == R"(wa\u{3164}ter)");
  CHECK(printable("wa\u115Fter") == R"(wa\u{115F}ter)");
  CHECK(printable("wa\u1160ter") == R"(wa\u{1160}ter)");
  CHECK(printable("wa\uFFA0ter") == R"(wa\u{FFA0}ter)");
  CHECK(printable("wa\u034Fter") == R"(wa\u{034F}ter)");  // combining grapheme joiner
}

TEST_CASE("bytes that are not UTF-8 are written out one by one") {
  CHECK(printable("\xFF") == R"(\xFF)");
  CHECK(printable("a\xC3") == R"(a\xC3)");                        // cut in the middle of a character
  CHECK(printable("\xE2\x82") == R"(\xE2\x82)");                  // cut after two of three bytes
  CHECK(printable("\x80z") == R"(\x80z)");                        // a continuation byte alone
  CHECK(printable("\xC0\x80") == R"(\xC0\x80)");                  // overlong NUL
  CHECK(printable("\xC0\xAF") == R"(\xC0\xAF)");                  // overlong slash
  CHECK(printable("\xED\xA0\x80") == R"(\xED\xA0\x80)");          // half a surrogate pair
  CHECK(printable("\xF4\x90\x80\x80") == R"(\xF4\x90\x80\x80)");  // beyond U+10FFFF
  CHECK(printable("21\xB0"
                  "C") == R"(21\xB0C)");  // Latin-1
}

TEST_CASE("no line of the naughty strings leaves a control or a turned direction behind") {
  std::ifstream file(TEST_DATA "/strings/blns.txt", std::ios::binary);
  REQUIRE(file);
  int lines = 0;
  for (std::string line; std::getline(file, line); ++lines) {
    CAPTURE(lines);
    CHECK(fault_of(printable(line)).empty());
  }
  CHECK(lines == 742);
}

TEST_CASE("the naughty strings taken as one text are safe to show, too") {
  std::ifstream file(TEST_DATA "/strings/blns.txt", std::ios::binary);
  std::ostringstream all;
  all << file.rdbuf();
  REQUIRE(all.str().size() == 30079);
  CHECK(fault_of(printable(all.str())).empty());
}

TEST_CASE("no string of random bytes leaves a control or a turned direction behind") {
  std::mt19937 random(20310513);  // NOLINT(cert-msc32-c,cert-msc51-cpp): the same sample every time
  for (int i = 0; i < 5000; ++i) {
    std::string text(random() % 24, '\0');
    for (char& c : text) c = static_cast<char>(random());
    CAPTURE(i);
    const std::string shown = printable(text);
    CHECK(fault_of(shown).empty());
    CHECK(printable(shown) == shown);
  }
}

TEST_CASE("the width of a text is counted in columns, not in bytes or code points") {
  CHECK(display_width("") == 0);
  CHECK(display_width("water") == 5);
  CHECK(display_width("dérive") == 6);
  CHECK(display_width("de\u0301rive") == 6);  // e and a combining accent
  CHECK(display_width("漢字") == 4);          // East Asian Wide (UAX 11)
  CHECK(display_width("\uFF21") == 2);        // fullwidth A
  CHECK(display_width("\uFF71") == 1);        // halfwidth katakana A
  CHECK(display_width("한") == 2);
  CHECK(display_width("🚀") == 2);
  CHECK(display_width("wa\u200Bter") == 5);
  CHECK(display_width("\xFF\xFE") == 2);  // bad bytes, one column each
}
