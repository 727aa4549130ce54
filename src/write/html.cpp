#include "write/html.h"

#include <fmt/format.h>

#include "model/printable.h"
#include "write/brief_table.h"

namespace daywright::write {
namespace {

using model::Verdict;

const char* class_of(Verdict verdict) {
  switch (verdict) {
    case Verdict::ready: return "ready";
    case Verdict::ready_with_conditions: return "conditions";
    case Verdict::not_ready: return "not-ready";
    case Verdict::no_data: break;
  }
  return "no-data";
}

/// A column's title with its unit, which stays with the word before it.
std::string html_head_of(const model::Column& column) {
  const std::string title = escape_html(column.title);
  return column.unit.empty() ? title : title + ",&nbsp;" + escape_html(column.unit);
}

/// A cell. Only a figure that is a verdict looks like one: words from a log never do.
std::string render_cell(const model::Cell& cell, const model::Column& column, bool is_head,
                        const model::DayStatus& status) {
  const auto* figure = cell.figure.empty() ? nullptr : status.find(cell.figure);
  const auto* verdict = figure == nullptr ? nullptr : std::get_if<Verdict>(&figure->value);
  const bool is_time = figure != nullptr && std::holds_alternative<model::Instant>(figure->value);
  const char* kind = verdict != nullptr ? " class=\"verdict\""
                     : column.is_number ? " class=\"number\""
                     : is_time          ? " class=\"time\""
                                        : "";
  const std::string text = escape_html(cut_to_fit(status.text_of(cell, column)));
  const std::string mark = verdict != nullptr ? verdict_mark(*verdict) : "";
  return is_head ? fmt::format(R"(<th scope="row"{}>{}{}</th>)", kind, mark, text)
                 : fmt::format("<td{}>{}{}</td>", kind, mark, text);
}

}  // namespace

std::string escape_html(std::string_view text) {
  std::string escaped;
  for (const char c : model::printable(text)) {
    switch (c) {
      case '&': escaped += "&amp;"; break;
      case '<': escaped += "&lt;"; break;
      case '>': escaped += "&gt;"; break;
      case '"': escaped += "&quot;"; break;
      default: escaped += c;
    }
  }
  return escaped;
}

std::string verdict_mark(Verdict verdict) {
  return fmt::format(R"(<svg class="mark {0}" aria-hidden="true"><use href="#mark-{0}"/></svg>)", class_of(verdict));
}

std::string verdict_shapes() {
  return R"(<svg class="shapes" aria-hidden="true">
<symbol id="mark-ready" viewBox="0 0 16 16"><circle class="body" cx="8" cy="8" r="7"/><path class="sign" d="M4.5 8.5l2.5 2.5 4.5-5.5"/></symbol>
<symbol id="mark-conditions" viewBox="0 0 16 16"><path class="body" d="M8 1.2L15.2 14.5H.8z"/><path class="sign" d="M8 6v4M8 12v.6"/></symbol>
<symbol id="mark-not-ready" viewBox="0 0 16 16"><rect class="body" x="1.5" y="1.5" width="13" height="13"/><path class="sign" d="M5 5l6 6M11 5l-6 6"/></symbol>
<symbol id="mark-no-data" viewBox="0 0 16 16"><path class="hollow" d="M8 1l7 7-7 7-7-7z"/><path class="sign" d="M6 6.6c0-2.6 4-2.6 4-.2 0 1.4-2 1.5-2 3M8 11.4v.5"/></symbol>
</svg>
)";
}

std::string render_html_table(const model::Table& table, const model::DayStatus& status, bool is_titled) {
  if (table.rows.empty()) return fmt::format("<p>{}</p>", no_rows);
  std::string html = fmt::format(R"(<div class="table" role="region" aria-labelledby="table-{0}" tabindex="0">
<table class="{0}"><caption id="table-{0}"{1}>{2}</caption>
<thead><tr>)",
                                 table.name, is_titled ? " class=\"unseen\"" : "", escape_html(table.title));
  for (const auto& column : table.columns) {
    if (!column.in_brief) continue;
    html +=
        fmt::format(R"(<th scope="col"{}>{}</th>)", column.is_number ? " class=\"number\"" : "", html_head_of(column));
  }
  html += "</tr></thead>\n<tbody>\n";
  for (std::size_t r = 0; r < rows_shown(table); ++r) {
    html += "<tr>";
    bool is_first = true;
    for (std::size_t c = 0; c < table.columns.size(); ++c) {
      const auto& column = table.columns[c];
      if (!column.in_brief) continue;
      html += render_cell(table.rows[r][c], column, is_first, status);
      is_first = false;
    }
    html += "</tr>\n";
  }
  html += "</tbody></table></div>";
  const std::string more = words_for_hidden_rows(table, status);
  if (!more.empty()) html += "\n<p class=\"more\">" + escape_html(more) + "</p>";
  return html;
}

}  // namespace daywright::write
