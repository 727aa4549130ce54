#include "write/page.h"

#include <fmt/format.h>

#include "write/caution.h"
#include "write/html.h"

namespace daywright::write {
namespace {

/// "Petrel 3, FD 8": what tells this page from others in a row of tabs.
std::string title_of(const model::DayStatus& status) {
  std::string title;
  for (const char* id : {"mission.name", "words.day", "now.flight_day"}) {
    const auto* figure = status.find(id);
    if (figure == nullptr) continue;
    if (!title.empty()) title += id == std::string_view("words.day") ? ", " : " ";
    title += figure->text;
  }
  return title.empty() ? "Evening brief" : title + ": evening brief";
}

/// Whatever the style sheet holds, it can't end the element that it stands in: in CSS "<\/" is the same as "</".
std::string within_style(std::string_view style) {
  std::string safe;
  for (const char c : style) {
    if (c == '/' && safe.ends_with('<')) safe += '\\';
    safe += c;
  }
  return safe;
}

}  // namespace

std::string render_document(std::string_view title, std::string_view style, std::string_view body) {
  return fmt::format(R"(<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{}</title>
<style>
{}</style>
</head>
<body>
{}</body>
</html>
)",
                     escape_html(title), within_style(style), body);
}

std::string render_page(const Brief& brief, std::string_view style, const model::DayStatus& status) {
  // The template says the caution too, unless a team has taken it out of theirs.
  const bool says_caution = brief.html.find(escape_html(caution)) != std::string::npos;
  return render_document(title_of(status), style,
                         fmt::format("{}<main>\n{}</main>\n{}", verdict_shapes(), brief.html,
                                     says_caution ? "" : fmt::format("<footer><p>{}</p></footer>\n", caution)));
}

}  // namespace daywright::write
