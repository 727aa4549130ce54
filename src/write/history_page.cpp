#include "write/history_page.h"

#include <fmt/format.h>

#include "write/caution.h"
#include "write/drawing.h"
#include "write/html.h"
#include "write/page.h"

namespace daywright::write {
namespace {

/// A table of text, the first cell of each row its head.
std::string render_table_of(std::string_view caption, const std::vector<std::string>& titles,
                            const std::vector<std::vector<std::string>>& rows, std::size_t number) {
  std::string html = fmt::format(
      R"(<div class="table" role="region" aria-labelledby="table-{0}" tabindex="0"><table><caption id="table-{0}" class="unseen">{1}</caption>
<thead><tr>)",
      number, escape_html(caption));
  for (const auto& title : titles) html += fmt::format(R"(<th scope="col">{}</th>)", escape_html(title));
  html += "</tr></thead>\n<tbody>\n";
  for (const auto& row : rows) {
    html += "<tr>";
    for (std::size_t i = 0; i < row.size(); ++i)
      html += i == 0 ? fmt::format(R"(<th scope="row">{}</th>)", escape_html(row[i]))
                     : fmt::format("<td>{}</td>", escape_html(row[i]));
    html += "</tr>\n";
  }
  return html + "</tbody></table></div>\n";
}

/// The figure over time. The line and its ground are stretched with the drawing, marks and words are not.
std::string render_plot(const PastPlot& plot, std::string_view title, std::size_t number) {
  constexpr double sheet = 1000;
  constexpr double left = 9;  // percent: there stand the values
  constexpr double right = 98;
  constexpr double top = 6;
  constexpr double bottom = 80;  // below stand the days
  const auto x = [&](const PastPoint& point) { return left + point.across * (right - left); };
  const auto y = [&](const PastPoint& point) { return bottom + point.up * (top - bottom); };
  std::string line;
  std::string marks;
  std::string words;
  for (const auto& point : plot.points) {
    line += coordinate(x(point) * sheet / 100) + "," + coordinate(y(point) * sheet / 100) + " ";
    marks += fmt::format(R"(<circle class="{}" cx="{}%" cy="{}%" r="2.6"/>)",
                         point.figure->doubts.empty() ? "count" : "slip", coordinate(x(point)), coordinate(y(point)));
    words += fmt::format("Day {}: {}. ", point.day->day, escape_html(standing_of(*point.day, point.figure->id)));
  }
  const auto label = [&](double across, double down, const char* anchor, const std::string& text) {
    return fmt::format(R"(<text x="{}%" y="{}%" text-anchor="{}">{}</text>)", coordinate(across), coordinate(down),
                       anchor, escape_html(text));
  };
  std::string labels = label(left - 1, top + 4, "end", plot.high);
  if (plot.low != plot.high) labels += label(left - 1, bottom, "end", plot.low);
  labels += label(left, 98, "start", fmt::format("day {}", plot.points.front().day->day));
  labels += label(right, 98, "end", fmt::format("day {}", plot.points.back().day->day));
  return fmt::format(
      R"(<figure class="chart panel"><svg class="plot" role="img" aria-labelledby="plot-{0} words-{0}"><title id="plot-{0}">{1}</title><desc id="words-{0}">{2}</desc>
<svg width="100%" height="100%" viewBox="0 0 {3} {3}" preserveAspectRatio="none"><path class="ground" d="M{4} {5}H{6}"/><polyline class="middle" points="{7}"/></svg>{8}{9}</svg>
<ul class="keys">{10}{11}</ul></figure>
)",
      number, escape_html(title), words, sheet, coordinate(left * sheet / 100), coordinate(bottom * sheet / 100),
      coordinate(right * sheet / 100), line, marks, labels,
      key(R"(<circle class="count" cx="12" cy="5" r="2.6"/>)", "as filed"),
      key(R"(<circle class="slip" cx="12" cy="5" r="2.6"/>)", "UNSOUND: no READY verdict could rest on it"));
}

std::string render_figure(const std::vector<PastDay>& days, const std::string& id, std::size_t number) {
  const std::string title = title_of(days, id);
  std::string html = fmt::format("<section>\n<h2>{}</h2>\n<p>{}</p>\n", escape_html(title), escape_html(id));
  const PastPlot plot = plot_of(days, id);
  if (plot.points.size() > 1) html += render_plot(plot, title, number);
  std::vector<std::vector<std::string>> rows;
  for (const auto& day : days)
    rows.push_back({fmt::format("{}", day.number), fmt::format("{}", day.day), fmt::format("{}", day.revision),
                    day.cutoff.empty() ? "unknown" : day.cutoff, standing_of(day, id)});
  return html + render_table_of(title, {"Number", "Day", "Revision", "Cut-off", "Value"}, rows, number) +
         "</section>\n";
}

std::string draw_overview(const Overview& overview) {
  std::string html = "<section>\n<h2>Verdicts</h2>\n";
  std::vector<std::vector<std::string>> rows;
  for (const auto& gate : overview.gates) {
    std::string changes;
    for (const auto& change : gate.changes)
      changes += fmt::format("{}{} {}", changes.empty() ? "" : ", ", change.day, change.verdict);
    rows.push_back({gate.title, changes});
  }
  html += render_table_of("Verdicts by gate", {"Gate", "Verdict from that day on"}, rows, 0);
  const auto table = score_table(overview);
  html += "</section>\n<section>\n<h2>Forecasts against what came</h2>\n";
  if (!table.rows.empty()) html += render_table_of("Forecasts by item", table.titles, table.rows, 1);
  return html + fmt::format("<p>{}</p>\n</section>\n", escape_html(words_on_scores(overview)));
}

}  // namespace

std::string render_history_page(const HistoryPage& page, std::string_view style) {
  std::string body = fmt::format("<main>\n<header><h1>History of {}</h1>\n<p>{} filed days</p>\n",
                                 escape_html(page.archive), page.days.size());
  for (const auto& warning : page.warnings)
    body += fmt::format("<p><strong class=\"doubt\">NOT SOUND</strong> {}</p>\n", escape_html(warning));
  body += "</header>\n";
  if (page.overview) body += draw_overview(*page.overview);
  std::size_t number = 0;
  for (const auto& id : page.ids) body += render_figure(page.days, id, number++);
  body += fmt::format("<p><strong>Caution.</strong> {}</p>\n</main>\n", caution);
  return render_document("History of " + page.archive, style, body);
}

}  // namespace daywright::write
