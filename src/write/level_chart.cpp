#include "write/level_chart.h"

#include <algorithm>

#include <fmt/format.h>

#include "write/drawing.h"
#include "write/html.h"

namespace daywright::write {
namespace {

using model::DayStatus;
using model::Instant;
using model::LevelAhead;
using model::LevelPanel;
using model::LevelsChart;

/// Curves are drawn on a sheet this wide and high that is stretched over the panel; marks are placed in percent.
constexpr double sheet = 1000;
constexpr double percent = sheet / 100;
/// Of the panel's height, what the drawing takes; below it stand the days.
constexpr double drawn = 84;

class PanelDrawing {
 public:
  PanelDrawing(const LevelsChart& chart, const LevelPanel& panel) : chart_(chart), panel_(panel) {
    const auto reach = [&](double level) {
      top_ = std::max(top_, level);
      bottom_ = std::min(bottom_, level);
    };
    for (const auto& mark : panel.counts) reach(mark.level);
    for (const auto& mark : panel.redlines) reach(mark.level);
    for (const auto& ahead : panel.ahead) {
      for (const double level : {ahead.low, ahead.middle, ahead.high, ahead.limit}) reach(level);
    }
    if (!(top_ > bottom_)) top_ = bottom_ + 1;
  }

  [[nodiscard]] std::string draw() const {
    std::string curves;
    if (!panel_.ahead.empty()) {
      curves += fmt::format(R"(<polygon class="band" points="{}{}"/>)", line(&LevelAhead::high, false),
                            line(&LevelAhead::low, true));
      curves += fmt::format(R"(<polyline class="limit" points="{}"/>)", line(&LevelAhead::limit, false));
      curves += fmt::format(R"(<polyline class="middle" points="{}"/>)", line(&LevelAhead::middle, false));
    }
    for (const auto& redline : panel_.redlines) {
      const std::string height = coordinate(y(redline.level));
      curves += fmt::format(R"(<path class="redline" d="M0 {0}H{1}"/>)", height, coordinate(x(chart_.now)));
    }
    curves += fmt::format(R"(<path class="now" d="M{0} 0V{2}"/><path class="end" d="M{1} 0V{2}"/>)",
                          coordinate(x(chart_.now)), coordinate(x(chart_.end)), coordinate(sheet));
    curves += fmt::format(R"(<path class="ground" d="M0 {0}H{1}"/>)", coordinate(y(0)), coordinate(sheet));
    std::string marks;
    for (const auto& mark : panel_.counts) {
      const std::string across = coordinate(x(mark.at) / percent);
      const std::string down = coordinate(y(mark.level) / percent * drawn / 100);
      marks += fmt::format(R"(<circle class="{}" cx="{}%" cy="{}%" r="2.2"/>)", mark.is_suspect ? "slip" : "count",
                           across, down);
    }
    return fmt::format(R"(<svg width="100%" height="{}%" viewBox="0 0 {} {}" preserveAspectRatio="none">{}</svg>{})",
                       drawn, sheet, sheet, curves, marks);
  }

  [[nodiscard]] double across(Instant when) const { return x(when) / percent; }

 private:
  /// The required end is not the edge of the panel, so that its line is seen.
  [[nodiscard]] double x(Instant when) const {
    constexpr double widest = 0.985 * sheet;
    const double all = model::in_days(chart_.end - chart_.from);
    return all > 0 ? std::clamp(model::in_days(when - chart_.from) / all, 0.0, 1.0) * widest : widest;
  }
  [[nodiscard]] double y(double level) const {
    constexpr double head = 0.04;
    return sheet * (1 - (level - bottom_) / (top_ - bottom_) * (1 - head));
  }

  /// One of the curves ahead as points of the sheet.
  [[nodiscard]] std::string line(double LevelAhead::* level, bool backwards) const {
    std::vector<std::string> points;
    for (const auto& ahead : panel_.ahead)
      points.push_back(coordinate(x(ahead.at)) + "," + coordinate(y(ahead.*level)) + " ");
    if (backwards) std::reverse(points.begin(), points.end());
    std::string all;
    for (const auto& point : points) all += point;
    return all;
  }

  const LevelsChart& chart_;
  const LevelPanel& panel_;
  double top_ = 0;
  double bottom_ = 0;
};

/// What the drawing says, for those who do not see it.
std::string words_of(const LevelPanel& panel, const DayStatus& status) {
  std::string words = fmt::format("On board {}; margin {}, {}.", shown(status, panel.level),
                                  shown(status, panel.margin), shown(status, panel.note));
  for (const auto& redline : panel.redlines)
    words +=
        fmt::format(" Redline of the way home {}: {}.", shown(status, redline.way_home), shown(status, redline.figure));
  if (panel.ahead.empty()) words += " There is no forecast.";
  return words;
}

std::string render_panel(const LevelsChart& chart, const LevelPanel& panel, std::size_t number,
                         const DayStatus& status) {
  const PanelDrawing drawing(chart, panel);
  std::string days;
  const auto day = [&](const std::string& label, double at, const char* anchor) {
    days += fmt::format(R"(<text x="{}%" y="99%" text-anchor="{}">{}</text>)", coordinate(at), anchor,
                        shown(status, label));
  };
  // A label that would run into another one is left out; now is the one that matters.
  constexpr double room = 34;
  const double now = drawing.across(chart.now);
  const bool is_early = now < room / 4;
  if (now > room) day(chart.from_label, 0, "start");
  day(chart.now_label, now, is_early ? "start" : now > 100 - room / 4 ? "end" : "middle");
  if (now < 100 - room) day(chart.end_label, 100, "end");
  return fmt::format(R"(<div class="panel"><p><strong>{0}</strong> {1}{2}</p>
<svg class="plot" role="img" aria-labelledby="level-{3} level-{3}-words"><title id="level-{3}">{0}</title><desc id="level-{3}-words">{4}</desc>
{5}{6}</svg></div>
)",
                     shown(status, panel.item), shown(status, panel.level), doubt_about(status, panel.margin), number,
                     words_of(panel, status), drawing.draw(), days);
}

}  // namespace

std::string render_levels(const DayStatus& status) {
  const LevelsChart& chart = status.charts.levels;
  if (chart.panels.empty()) return {};
  std::string html =
      "<figure class=\"chart levels\"><figcaption>Level and forecast</figcaption>\n<div class=\"panels\">";
  for (std::size_t i = 0; i < chart.panels.size(); ++i) html += render_panel(chart, chart.panels[i], i + 1, status);
  html += "</div>\n<ul class=\"keys\">";
  html += key(R"(<circle class="count" cx="12" cy="5" r="2.6"/>)", "counted");
  html += key(R"(<circle class="slip" cx="12" cy="5" r="2.6"/>)", "counted, likely a slip");
  html += key(R"(<path class="middle" d="M0 5H24"/>)", "expected");
  html += key(R"(<rect class="band" width="24" height="10"/>)",
              fmt::format("{} to {} chance of less", shown(status, chart.band_low), shown(status, chart.band_high)));
  html += key(R"(<path class="limit" d="M0 5H24"/>)", "reserve; what fills up: full, less reserve");
  html += key(R"(<path class="redline" d="M0 5H24"/>)", "redline of a way home, now");
  html += key(R"(<path class="now" d="M12 0V10"/>)", "cut-off");
  html += key(R"(<path class="end" d="M12 0V10"/>)", "required end");
  return html + "</ul></figure>";
}

}  // namespace daywright::write
