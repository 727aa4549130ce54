#include "cli/report.h"

#include <algorithm>
#include <set>
#include <tuple>

#include <fmt/format.h>

#include "model/printable.h"

namespace daywright::cli {
namespace {

using model::Severity;

const char* word_of(Severity severity) {
  switch (severity) {
    case Severity::note: return "note";
    case Severity::warning: return "warning";
    case Severity::error: break;
  }
  return "error";
}

std::string coloured(Severity severity, bool colour) {
  if (!colour) return word_of(severity);
  const int code = severity == Severity::error ? 31 : severity == Severity::warning ? 33 : 36;
  return fmt::format("\x1b[1;{}m{}\x1b[0m", code, word_of(severity));
}

std::string_view line_of(std::string_view text, int number) {
  std::size_t begin = 0;
  for (int i = 1; i < number && begin != std::string_view::npos; ++i) {
    begin = text.find('\n', begin);
    if (begin != std::string_view::npos) ++begin;
  }
  if (begin == std::string_view::npos) return {};
  auto line = text.substr(begin, text.find('\n', begin) - begin);
  if (line.ends_with('\r')) line.remove_suffix(1);
  if (number == 1 && line.starts_with("\xEF\xBB\xBF")) line.remove_prefix(3);
  return line;
}

/// The line and a caret under character `column`, both without anything that could move the cursor.
std::string excerpt(std::string_view line, int column) {
  constexpr std::size_t longest = 160;
  if (line.empty() || line.size() > longest) return {};
  std::size_t at = 0;
  for (int i = 1; i < column && at < line.size(); ++i) {
    ++at;
    while (at < line.size() && (line[at] & 0xC0) == 0x80) ++at;
  }
  std::string shown(line);
  std::replace(shown.begin(), shown.end(), '\t', ' ');
  const std::string before = model::printable(std::string_view(shown).substr(0, at));
  return fmt::format("  {}\n  {}^\n", model::printable(shown), std::string(model::display_width(before), ' '));
}

}  // namespace

std::string format_diagnostic(const model::Diagnostic& diagnostic, std::span<const model::InputFile> files,
                              const std::string& folder, bool colour) {
  std::string text;
  const auto& at = diagnostic.source;
  if (at.is_known()) {
    const auto& file = files[static_cast<std::size_t>(at.file)];
    text = fmt::format("{}:{}:{}: ", model::printable(folder.empty() ? file.name : folder + "/" + file.name), at.line,
                       at.column);
  } else {
    text = model::printable(folder.empty() ? "." : folder) + ": ";
  }
  text += fmt::format("{}: {} [{}]\n", coloured(diagnostic.severity, colour), model::printable(diagnostic.text),
                      diagnostic.rule);
  if (at.is_known()) text += excerpt(line_of(files[static_cast<std::size_t>(at.file)].text, at.line), at.column);
  return text;
}

std::string format_report(const model::Diagnostics& diagnostics, std::span<const model::InputFile> files,
                          const std::string& folder, bool colour) {
  // A note stays behind the diagnostic before it.
  std::vector<std::vector<const model::Diagnostic*>> groups;
  for (const auto& diagnostic : diagnostics) {
    if (diagnostic.severity != Severity::note || groups.empty()) groups.emplace_back();
    groups.back().push_back(&diagnostic);
  }
  std::stable_sort(groups.begin(), groups.end(),
                   [](const auto& a, const auto& b) { return a.front()->source < b.front()->source; });
  std::set<std::string> said;
  std::string text;
  for (const auto& group : groups) {
    std::string part;
    for (const auto* diagnostic : group) part += format_diagnostic(*diagnostic, files, folder, colour);
    if (said.insert(part).second) text += part;
  }
  return text;
}

}  // namespace daywright::cli
