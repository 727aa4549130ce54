#include "write/charts.h"

#include <algorithm>

#include <fmt/format.h>

#include "write/drawing.h"
#include "write/html.h"
#include "write/level_chart.h"

namespace daywright::write {
namespace {

using model::DayStatus;

/// Where the margins of all bars lie between the smallest and the largest of them, and nought.
class DaysScale {
 public:
  explicit DaysScale(const DayStatus& status) {
    for (const auto& bar : status.charts.margins) {
      for (const auto* id : {&bar.governing, &bar.plan, &bar.measured}) {
        if (const double* days = number_in(status, *id)) {
          low_ = std::min(low_, *days);
          high_ = std::max(high_, *days);
        }
      }
    }
    if (!(high_ > low_)) high_ = low_ + 1;
  }
  /// In percent of the width; a little is left at either side for the lines.
  [[nodiscard]] double across(double days) const {
    constexpr double edge = 1;
    return edge + (days - low_) / (high_ - low_) * (100 - 2 * edge);
  }

 private:
  double low_ = 0;
  double high_ = 0;
};

std::string render_margin(const model::MarginBar& bar, const DaysScale& scale, const DayStatus& status) {
  std::string drawing;
  const double end = scale.across(0);
  if (const double* days = number_in(status, bar.governing)) {
    const double tip = scale.across(*days);
    drawing +=
        fmt::format(R"(<rect class="{}" x="{}%" y="22%" width="{}%" height="56%"/>)", *days < 0 ? "short" : "over",
                    coordinate(std::min(tip, end)), coordinate(std::abs(tip - end)));
  }
  const auto tick = [&](const std::string& id, const char* name) {
    if (const double* days = number_in(status, id))
      drawing += fmt::format(R"(<line class="{0}" x1="{1}%" x2="{1}%" y1="8%" y2="92%"/>)", name,
                             coordinate(scale.across(*days)));
  };
  tick(bar.plan, "plan");
  tick(bar.measured, "measured");
  drawing += fmt::format(R"(<line class="end" x1="{0}%" x2="{0}%" y1="0" y2="100%"/>)", coordinate(end));
  const std::string days = shown(status, bar.governing);
  return fmt::format(
      R"(<li><span class="name">{}</span><svg class="bar" aria-hidden="true">{}</svg><span class="value">{}{}</span></li>
)",
      shown(status, bar.item), drawing, days.empty() ? "no days" : days, doubt_about(status, bar.governing));
}

std::string render_margins(const DayStatus& status) {
  if (status.charts.margins.empty()) return {};
  const DaysScale scale(status);
  std::string html =
      "<figure class=\"chart margins\"><figcaption>Margin past the required end</figcaption>\n<ul class=\"bars\">\n";
  for (const auto& bar : status.charts.margins) html += render_margin(bar, scale, status);
  html += "</ul>\n<ul class=\"keys\">";
  html += key(R"(<rect class="over" y="2" width="24" height="6"/>)", "margin");
  html += key(R"(<rect class="short" y="2" width="24" height="6"/>)", "short");
  html += key(R"(<line class="plan" x1="12" x2="12" y1="0" y2="10"/>)", "at plan");
  html += key(R"(<line class="measured" x1="12" x2="12" y1="0" y2="10"/>)", "measured");
  html += key(R"(<line class="end" x1="12" x2="12" y1="0" y2="10"/>)", "required end");
  return html + "</ul></figure>";
}

std::string render_work(const DayStatus& status) {
  const auto& days = status.charts.work;
  if (days.empty()) return {};
  double most = 1;
  for (const auto& day : days) {
    for (const auto* id : {&day.planned, &day.done}) {
      if (const double* minutes = number_in(status, *id)) most = std::max(most, *minutes);
    }
  }
  const double step = 100.0 / static_cast<double>(days.size());
  constexpr double drawn = 82;  // percent of the height; below stand the days
  std::string bars;
  std::string words;
  for (std::size_t i = 0; i < days.size(); ++i) {
    const double left = step * static_cast<double>(i);
    const auto bar = [&](const std::string& id, const char* name, double from, double width) {
      const double* minutes = number_in(status, id);
      if (minutes == nullptr) return;
      const double height = std::max(0.0, *minutes) / most * (drawn - 2);
      bars += fmt::format(R"(<rect class="{}" x="{}%" y="{}%" width="{}%" height="{}%"/>)", name,
                          coordinate(left + from * step), coordinate(drawn - height), coordinate(width * step),
                          coordinate(height));
    };
    bar(days[i].done, "done", 0.2, 0.6);
    bar(days[i].planned, "planned", 0.1, 0.8);
    words += fmt::format("{}: {} of {}. ", shown(status, days[i].label), shown(status, days[i].done),
                         shown(status, days[i].planned));
    // More labels than these would run into one another.
    constexpr std::size_t room = 8;
    if (days.size() <= room || i + 1 == days.size() || i == 0)
      bars += fmt::format(R"(<text x="{}%" y="99%" text-anchor="middle">{}</text>)", coordinate(left + step / 2),
                          shown(status, days[i].label));
  }
  std::string html = fmt::format(
      R"(<figure class="chart work"><figcaption>Crew time by day{}</figcaption>
<svg class="plot" role="img" aria-labelledby="work-title work-words"><title id="work-title">Crew time done of crew time planned, by day</title><desc id="work-words">{}</desc>
{}</svg>
<ul class="keys">)",
      doubt_about(status, days.back().done), words, bars);
  html += key(R"(<rect class="done" x="3" width="18" height="10"/>)", "planned crew time of what was done that day");
  html += key(R"(<rect class="planned" x="1" y="1" width="22" height="9"/>)", "planned for that day");
  return html + "</ul></figure>";
}

std::string render_clearance(const DayStatus& status) {
  const auto& zones = status.charts.clearance;
  if (zones.empty()) return {};
  std::string html = "<figure class=\"chart clearance\"><figcaption>Clearance by gate and zone</figcaption>\n<dl>";
  std::string gate;
  for (const auto& zone : zones) {
    const std::string title = shown(status, zone.gate);
    if (title != gate) html += fmt::format("{}<dt>{}</dt>", gate.empty() ? "<div>" : "</div>\n<div>", title);
    gate = title;
    const auto* verdict = status.find(zone.verdict);
    html += fmt::format("<dd>{}{} <strong>{}</strong></dd>", verdict_mark(std::get<model::Verdict>(verdict->value)),
                        shown(status, zone.zone), escape_html(verdict->text));
  }
  return html + "</div></dl></figure>";
}

}  // namespace

std::optional<std::string> render_chart(std::string_view name, const DayStatus& status) {
  if (name == "levels") return render_levels(status);
  if (name == "margins") return render_margins(status);
  if (name == "work") return render_work(status);
  if (name == "clearance") return render_clearance(status);
  return std::nullopt;
}

}  // namespace daywright::write
