#include "record/bag_manifest.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <utility>

#include <fmt/format.h>

#include "record/digest.h"

namespace daywright::record {
namespace {

constexpr std::string_view here = "./";

std::string small_letters(std::string_view text) {
  std::string small(text);
  for (char& c : small)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return small;
}

/// The character that "%0A", "%0d" … at the start of `text` stands for, among `wanted`.
std::optional<char> decoded(std::string_view text, std::string_view wanted) {
  unsigned int code = 0;
  if (text.size() < 3 || text.front() != '%') return std::nullopt;
  const auto read = std::from_chars(text.data() + 1, text.data() + 3, code, 16);
  if (read.ec != std::errc{} || read.ptr != text.data() + 3) return std::nullopt;
  const char c = static_cast<char>(code);
  return wanted.find(c) == std::string_view::npos ? std::nullopt : std::optional(c);
}

struct DecodedPath {
  std::string path;
  bool has_bare_percent = false;
};

DecodedPath decode(std::string_view path, std::string_view wanted) {
  DecodedPath result;
  const std::size_t plain = std::min(path.find('%'), path.size());
  result.path = path.substr(0, plain);
  path.remove_prefix(plain);
  while (!path.empty()) {
    const auto c = decoded(path, wanted);
    if (path.front() == '%' && !c) result.has_bare_percent = true;
    result.path += c.value_or(path.front());
    path.remove_prefix(c ? 3 : 1);
  }
  return result;
}

/// Why a list may not name this path, whatever is there; empty: it may.
std::string refusal(std::string_view path) {
  if (path.empty()) return "is empty";
  if (path.find('\0') != std::string_view::npos) return "has a zero byte";
  if (path.size() > longest_path) return fmt::format("is longer than {} bytes", longest_path);
  if (path.front() == '/') return "is an absolute path, which leads out of the bag";
  if (path.front() == '~') return "begins with '~', which may lead out of the bag";
  std::size_t from = 0;
  while (from <= path.size()) {
    const std::size_t to = std::min(path.find('/', from), path.size());
    const std::string_view part = path.substr(from, to - from);
    if (part == "..") return "goes through '..', which leads out of the bag";
    if (part.empty() || part == ".") return "has an empty part or '.' within";
    from = to + 1;
  }
  return {};
}

/// One line of a manifest, cut in pieces.
struct ManifestLine {
  std::string_view checksum;
  std::string_view separator;
  std::string_view path;
};

ManifestLine cut(std::string_view line) {
  const auto is_blank = [](char c) { return c == ' ' || c == '\t'; };
  const auto* const first = std::find_if(line.begin(), line.end(), is_blank);
  const auto* const second = std::find_if_not(first, line.end(), is_blank);
  return {{line.begin(), first}, {first, second}, {second, line.end()}};
}

bool is_hexadecimal(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), [](char c) {
    return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F');
  });
}

/// Reads the lines of one manifest.
class ManifestReader {
 public:
  ManifestReader(Manifest& manifest, const BagDeclaration& declaration, BagFindings& findings)
      : manifest_(manifest),
        declaration_(declaration),
        findings_(findings),
        algorithm_(find_digest_algorithm(manifest.algorithm)) {}

  void read(std::string_view text) {
    TextLines lines(text);
    TextLine line;
    while (lines.next(line)) {
      if (manifest_.entries.size() == most_files) {
        add(BagFault::invalid, fmt::format("lists more than {} files", most_files));
        break;
      }
      read_line(line);
    }
    if (is_starred_) add(BagFault::note, "has '*' before names, as md5sum writes them; strict readers refuse that");
    if (is_relative_) add(BagFault::note, "has names that begin with './'");
    if (odd_line_ != 0)
      add(BagFault::note, fmt::format("is not written as checksum tools write it, from line {} on", odd_line_));
  }

 private:
  void add(BagFault fault, std::string what) { findings_.add(fault, manifest_.file, std::move(what)); }

  void read_line(const TextLine& line) {
    const auto refuse = [&](std::string_view what) { findings_.add_line(manifest_.file, line.number, what); };
    auto [checksum, separator, path] = cut(line.text);
    if (line.text.empty()) {
      if (declaration_.is_strict) refuse("is empty");
      return;
    }
    if (checksum.empty() || separator.empty()) return refuse("is not a checksum, blanks and a path");
    if (!is_hexadecimal(checksum)) return refuse("does not begin with a checksum in hexadecimal digits");
    if (algorithm_ != nullptr && checksum.size() != algorithm_->digits)
      return refuse(
          fmt::format("has {} digits, and {} has {}", checksum.size(), algorithm_->label, algorithm_->digits));
    ManifestEntry entry{small_letters(checksum), {}};
    // The form that checksum tools write and read with '--strict'; anything else would change unseen.
    const bool is_common = line.end == "\n" && separator == "  " && entry.checksum == checksum;
    if (declaration_.is_strict && !is_common && odd_line_ == 0) odd_line_ = line.number;
    if (separator == " " && path.starts_with('*')) {
      is_starred_ = true;
      path.remove_prefix(1);
    }
    while (path.starts_with(here)) {
      is_relative_ = true;
      path.remove_prefix(here.size());
    }
    entry.path = path;
    if (declaration_.is_strict) {
      auto result = decode(path, "\r\n%");
      if (result.has_bare_percent) refuse("has '%' in a path, which is to be written as %25");
      entry.path = std::move(result.path);
    }
    if (const std::string why = refusal(entry.path); !why.empty())
      return refuse(fmt::format("{} {}", in_quotes(entry.path), why));
    const bool is_payload = entry.path.starts_with(payload_prefix);
    if (is_payload == manifest_.is_of_tags)
      return refuse(fmt::format("{} is {}", in_quotes(entry.path),
                                is_payload ? "payload, which a tag manifest must not list" : "not within data/"));
    manifest_.entries.push_back(std::move(entry));
  }

  Manifest& manifest_;
  const BagDeclaration& declaration_;
  BagFindings& findings_;
  const DigestAlgorithm* algorithm_;
  std::size_t odd_line_ = 0;
  bool is_starred_ = false;
  bool is_relative_ = false;
};

bool is_absolute_uri(std::string_view text) {
  const std::size_t colon = text.find(':');
  return colon != std::string_view::npos && colon > 0 && colon + 1 < text.size() &&
         std::isalpha(static_cast<unsigned char>(text.front())) != 0 &&
         std::all_of(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(colon), [](char c) {
           return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '+' || c == '-' || c == '.';
         });
}

/// A size as fetch.txt has it: digits, or "-" for unknown; nothing: neither.
std::optional<std::optional<std::int64_t>> fetch_size(std::string_view text) {
  std::int64_t size = 0;
  if (text == "-") return std::optional<std::int64_t>();
  const auto read = std::from_chars(text.data(), text.data() + text.size(), size);
  if (read.ec != std::errc{} || read.ptr != text.data() + text.size() || size < 0) return std::nullopt;
  return std::optional(size);
}

}  // namespace

std::optional<Manifest> manifest_named(const std::string& file) {
  constexpr std::string_view prefix = "manifest-";
  constexpr std::string_view suffix = ".txt";
  std::string_view rest = file;
  const bool is_of_tags = rest.starts_with("tag");
  if (is_of_tags) rest.remove_prefix(3);
  if (!rest.starts_with(prefix) || !rest.ends_with(suffix) || rest.size() <= prefix.size() + suffix.size())
    return std::nullopt;
  rest.remove_prefix(prefix.size());
  rest.remove_suffix(suffix.size());
  return Manifest{file, std::string(rest), is_of_tags, {}};
}

void parse_manifest(Manifest& manifest, std::string_view text, const BagDeclaration& declaration,
                    BagFindings& findings) {
  ManifestReader(manifest, declaration, findings).read(text);
}

std::vector<FetchEntry> parse_fetch(std::string_view file, std::string_view text, const BagDeclaration& declaration,
                                    BagFindings& findings) {
  std::vector<FetchEntry> entries;
  TextLines lines(text);
  TextLine line;
  while (lines.next(line)) {
    if (entries.size() == most_files) {
      findings.add(BagFault::invalid, file, fmt::format("lists more than {} files", most_files));
      break;
    }
    const auto refuse = [&](std::string_view what) { findings.add_line(file, line.number, what); };
    if (line.text.empty() && !declaration.is_strict) continue;
    const auto [url, separator, rest] = cut(line.text);
    auto [length, next_separator, path] = cut(rest);
    const auto size = fetch_size(length);
    if (!is_absolute_uri(url) || !size || next_separator.empty()) {
      refuse("is not a URL, a size or '-', and a path");
      continue;
    }
    while (path.starts_with(here)) path.remove_prefix(here.size());
    const std::string name = declaration.is_strict ? decode(path, "\r\n%").path : std::string(path);
    if (const std::string why = refusal(name); !why.empty()) {
      refuse(fmt::format("{} {}", in_quotes(name), why));
    } else if (!name.starts_with(payload_prefix)) {
      refuse(fmt::format("{} is not within data/", in_quotes(name)));
    } else {
      entries.push_back({name, *size});
    }
  }
  return entries;
}

std::string with_line_ends(std::string_view path) { return decode(path, "\r\n").path; }

}  // namespace daywright::record
