#include "record/bag_text.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cstdint>
#include <iterator>
#include <optional>
#include <utility>

#include <fmt/format.h>
#include <utf8.h>

namespace daywright::record {
namespace {

constexpr std::string_view blanks = " \t";
constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";

std::string_view trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(blanks);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

/// A line "label: value" cut in two; whether it is written as 1.0 has it is for the caller to say.
std::optional<std::pair<std::string_view, std::string_view>> cut_at_colon(std::string_view line) {
  const std::size_t colon = line.find(':');
  if (colon == std::string_view::npos) return std::nullopt;
  return std::pair{line.substr(0, colon), line.substr(colon + 1)};
}

bool is_version(std::string_view text) {
  const std::size_t point = text.find('.');
  const auto is_number = [](std::string_view part) {
    return !part.empty() && part.find_first_not_of("0123456789") == std::string_view::npos;
  };
  return point != std::string_view::npos && is_number(text.substr(0, point)) && is_number(text.substr(point + 1));
}

TextEncoding encoding_of(std::string_view name) {
  std::string capitals;
  for (const char c : name) capitals += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  constexpr std::array known{std::pair{"UTF-8", TextEncoding::utf8},
                             std::pair{"US-ASCII", TextEncoding::utf8},
                             std::pair{"ISO-8859-1", TextEncoding::latin1},
                             std::pair{"UTF-16", TextEncoding::utf16},
                             std::pair{"UTF-16LE", TextEncoding::utf16_little},
                             std::pair{"UTF-16BE", TextEncoding::utf16_big}};
  const auto* found =
      std::find_if(known.begin(), known.end(), [&](const auto& encoding) { return encoding.first == capitals; });
  return found == known.end() ? TextEncoding::unknown : found->second;
}

std::string utf8_of_latin1(std::string_view bytes) {
  std::string text;
  for (const char c : bytes) utf8::append(char32_t{static_cast<unsigned char>(c)}, std::back_inserter(text));
  return text;
}

/// Nothing: is not UTF-16.
std::optional<std::string> utf8_of_utf16(std::string_view bytes, TextEncoding encoding) {
  bool is_little = encoding == TextEncoding::utf16_little;
  if (encoding == TextEncoding::utf16 && (bytes.starts_with("\xFF\xFE") || bytes.starts_with("\xFE\xFF"))) {
    is_little = bytes.starts_with("\xFF\xFE");
    bytes.remove_prefix(2);
  }
  if (bytes.size() % 2 != 0) return std::nullopt;
  std::vector<std::uint16_t> units;
  for (std::size_t i = 0; i < bytes.size(); i += 2) {
    const auto high = static_cast<unsigned char>(bytes[is_little ? i + 1 : i]);
    const auto low = static_cast<unsigned char>(bytes[is_little ? i : i + 1]);
    units.push_back(static_cast<std::uint16_t>(high * 256U + low));
  }
  std::string text;
  try {
    utf8::utf16to8(units.begin(), units.end(), std::back_inserter(text));
  } catch (const utf8::exception&) {
    return std::nullopt;
  }
  return text;
}

/// The value on a line of bagit.txt.
std::string declared(const TextLine& line, std::string_view label, bool& is_exact) {
  const auto parts = cut_at_colon(line.text);
  if (!parts || trimmed(parts->first) != label) return {};
  const std::string value(trimmed(parts->second));
  if (line.text != fmt::format("{}: {}", label, value)) is_exact = false;
  return value;
}

}  // namespace

bool TextLines::next(TextLine& line) {
  if (rest_.empty()) return false;
  const auto* const stop = std::find_if(rest_.begin(), rest_.end(), [](char c) { return c == '\n' || c == '\r'; });
  const auto at = static_cast<std::size_t>(stop - rest_.begin());
  std::size_t end = at;
  if (end < rest_.size()) end += rest_.substr(at).starts_with("\r\n") ? 2 : 1;
  line = {++number_, rest_.substr(0, at), rest_.substr(at, end - at)};
  rest_.remove_prefix(end);
  return true;
}

BagDeclaration parse_declaration(std::string_view bytes, BagFindings& findings) {
  BagDeclaration declaration;
  const auto add = [&](std::string what, BagFault fault = BagFault::invalid) {
    findings.add(fault, declaration_file, std::move(what));
  };
  if (bytes.starts_with(byte_order_mark)) {
    add("begins with a byte-order mark");
    bytes.remove_prefix(byte_order_mark.size());
  }
  TextLines lines(bytes);
  TextLine first;
  TextLine second;
  TextLine more;
  if (!lines.next(first) || !lines.next(second) || lines.next(more)) add("does not have just two lines");
  bool is_exact = true;
  const std::string version = declared(first, "BagIt-Version", is_exact);
  const std::string encoding = declared(second, "Tag-File-Character-Encoding", is_exact);

  constexpr std::array<std::string_view, 6> known{"0.93", "0.94", "0.95", "0.96", "0.97", "1.0"};
  if (version.empty()) {
    add("does not say 'BagIt-Version: ' and a version in its first line");
  } else if (!is_version(version)) {
    add(fmt::format("gives {} for a version, which is not two numbers and a point", in_quotes(version)));
  } else if (std::find(known.begin(), known.end(), version) == known.end()) {
    add(fmt::format("has version {}; known are 0.93 to 0.97 and 1.0", in_quotes(version)));
  } else {
    declaration.version = version;
    declaration.is_strict = version == known.back();
  }
  declaration.encoding = encoding_of(encoding);
  if (encoding.empty()) {
    add("does not say 'Tag-File-Character-Encoding: ' and an encoding in its second line");
    declaration.encoding = TextEncoding::utf8;
  } else if (declaration.encoding == TextEncoding::unknown) {
    add(fmt::format("declares the encoding {}, which is not known here", in_quotes(encoding)), BagFault::incomplete);
  }
  if (declaration.is_strict && !is_exact) add("has other blanks than one behind each colon, which 1.0 does not allow");
  if (declaration.is_strict && second.end.empty()) add("has no end of its last line");
  return declaration;
}

std::string decode_text(std::string_view file, std::string_view bytes, const BagDeclaration& declaration,
                        BagFindings& findings) {
  std::string text(bytes);
  switch (declaration.encoding) {
    case TextEncoding::unknown: break;
    case TextEncoding::utf8:
      if (text.starts_with(byte_order_mark)) {
        findings.add(declaration.is_strict ? BagFault::invalid : BagFault::note, file, "begins with a byte-order mark");
        text.erase(0, byte_order_mark.size());
      }
      if (!utf8::is_valid(text.begin(), text.end()))
        findings.add(BagFault::invalid, file, "is not UTF-8, as bagit.txt says it is");
      break;
    case TextEncoding::latin1: text = utf8_of_latin1(bytes); break;
    case TextEncoding::utf16:
    case TextEncoding::utf16_little:
    case TextEncoding::utf16_big:
      auto decoded = utf8_of_utf16(bytes, declaration.encoding);
      if (!decoded) findings.add(BagFault::invalid, file, "is not UTF-16, as bagit.txt says it is");
      text = std::move(decoded).value_or("");
      break;
  }
  if (declaration.is_strict && !text.empty() && text.back() != '\n' && text.back() != '\r')
    findings.add(BagFault::invalid, file, "has no end of its last line");
  return text;
}

std::vector<BagLabel> parse_labels(std::string_view file, std::string_view text, const BagDeclaration& declaration,
                                   BagFindings& findings) {
  std::vector<BagLabel> labels;
  TextLines lines(text);
  TextLine line;
  while (lines.next(line)) {
    const auto refuse = [&](std::string_view what) { findings.add_line(file, line.number, what); };
    if (trimmed(line.text).empty()) {
      if (declaration.is_strict) refuse("is empty");
      continue;
    }
    if (blanks.find(line.text.front()) != std::string_view::npos) {
      if (labels.empty()) {
        refuse("continues a value, and there is none before it");
      } else {
        labels.back().value += " " + std::string(trimmed(line.text));
      }
      continue;
    }
    const auto parts = cut_at_colon(line.text);
    if (!parts || trimmed(parts->first).empty()) {
      refuse("is no label, colon and value");
      continue;
    }
    auto [label, value] = *parts;
    if (!declaration.is_strict) {
      value = trimmed(value);
    } else if (value.empty() || blanks.find(value.front()) == std::string_view::npos || trimmed(label) != label) {
      refuse("does not have a colon and one blank between label and value");
    } else {
      value.remove_prefix(1);
    }
    labels.push_back({std::string(trimmed(label)), std::string(value)});
  }
  return labels;
}

}  // namespace daywright::record
