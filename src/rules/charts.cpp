// What the charts show: levels over time, margins in days, work by day, clearance by zone.

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "rules/assembly.h"
#include "rules/item_figures.h"
#include "rules/pace.h"

namespace daywright::rules {
namespace {

using model::Instant;

/// As much of the past as a chart has room for; the logs hold all of it.
constexpr int days_shown = 14;

/// "FD 9", entered once.
std::string label_of_day(const Assembly& a, int number) {
  std::string id = fmt::format("day.{}.label", number);
  if (a.figures().has(id)) return id;
  const std::string text = fmt::format("{} {}", a.mission().words.day, number);
  return a.figures().words(
      {id, text, {"word for a day, and its number", {from_file("day", text, a.mission().source)}}, {}}, text);
}

std::string label_at(const Assembly& a, Instant when) {
  return label_of_day(a, a.mission().flight_days.number_at(when));
}

std::vector<model::CountMark> marks_of(const ItemLevel& level, Instant from) {
  std::vector<model::CountMark> marks;
  for (const CountedTotal& total : level.totals) {
    const auto* count = level.counts[total.count];
    if (count->row.when < from) continue;
    const bool is_suspect = std::any_of(level.suspects.begin(), level.suspects.end(),
                                        [&](const SuspectCount& suspect) { return suspect.count == count; });
    marks.push_back({count->row.when, total.level, is_suspect});
  }
  return marks;
}

/// A redline is a level of what comes along; what stays behind lies above it, as it does in the level of the chart.
std::vector<model::RedlineMark> redlines_of(const Assembly& a, const ItemLevel& level) {
  std::vector<model::RedlineMark> marks;
  for (const ReturnCase& home : a.returns) {
    for (const Redline& line : home.redlines) {
      if (line.item != level.item || !line.plan) continue;
      const std::string id = "return." + home.option->id + ".";
      marks.push_back({id + "title", id + "item." + line.item->id + ".plan", *line.plan + level.total() - line.aboard});
    }
  }
  return marks;
}

model::LevelPanel panel_of(const Assembly& a, const ItemMargins& margins, Instant from) {
  const std::string id = "item." + margins.level->item->id + ".";
  return {id + "title",
          id + "level",
          id + "margin.units",
          id + "margin.note",
          marks_of(*margins.level, from),
          levels_ahead(a.mission(), a.evening.rules.margins, a.facts(), margins, a.evening.cutoff),
          redlines_of(a, *margins.level)};
}

/// The items that the table of the brief shows.
std::vector<const ItemMargins*> shown_items(const Assembly& a) {
  std::vector<const ItemMargins*> shown;
  const std::size_t room = a.status.find_table("consumables")->brief_rows;
  for (const ItemMargins* item : by_tightness(a.now.margins)) {
    if (shown.size() < room) shown.push_back(item);
  }
  return shown;
}

void add_levels(Assembly& a) {
  auto& chart = a.status.charts.levels;
  const model::MarginRules& rules = a.evening.rules.margins;
  chart.now = a.evening.cutoff;
  chart.end = a.mission().required_end();
  chart.from = std::max(a.mission().launch, chart.now - days_shown * model::day_length);
  chart.from_label = label_at(a, chart.from);
  chart.now_label = label_at(a, chart.now);
  chart.end_label = label_at(a, chart.end);
  const auto percent = [&](const char* id, const char* title, double value) {
    model::Trace trace{"from the assurance that the rules ask for",
                       {from_file("assurance", fmt::format("{:g} %", rules.assurance),
                                  rules.source.is_known() ? rules.source : a.mission().source)}};
    constexpr double step = 0.1;
    return a.figures().number({id, title, std::move(trace), {}}, value, "%", value == std::floor(value) ? 1 : step,
                              model::Rounding::nearest);
  };
  chart.band_low = percent("chart.band.low", "chance to be below the band", 100 - rules.assurance);
  chart.band_high = percent("chart.band.high", "chance to be below the upper end of the band", rules.assurance);
  for (const ItemMargins* item : shown_items(a)) chart.panels.push_back(panel_of(a, *item, chart.from));
}

void add_margins(Assembly& a) {
  for (const ItemMargins* item : shown_items(a)) {
    const std::string id = "item." + item->level->item->id + ".";
    a.status.charts.margins.push_back(
        {id + "title", id + "margin.days", id + "margin.plan.days", id + "margin.measured.days"});
  }
}

void add_work_by_day(Assembly& a) {
  const int today = a.evening.day.number;
  const auto doubts = texts_of(doubts_about_work(a.facts(), a.now.tasks));
  for (const DayOfWork& day : days_of_work(a.mission(), a.facts(), a.now.tasks, today)) {
    if (day.day <= today - days_shown) continue;
    const std::string label = label_of_day(a, day.day);
    const std::string title = a.figures().at(label).text;
    const std::string id = fmt::format("work.day.{}.", day.day);
    const model::Trace trace{"as for the pace of the work", {from_figure(a.figures().at("work.pace"))}};
    a.status.charts.work.push_back(
        {label,
         a.figures().number({id + "planned", title + ", crew time planned", trace, doubts}, day.planned, "min", 1,
                            model::Rounding::up),
         a.figures().number({id + "done", title + ", planned crew time of what was done then", trace, doubts},
                            day.achieved, "min", 1, model::Rounding::down)});
  }
}

void add_zones(Assembly& a) {
  for (const auto& row : a.status.find_table("zones")->rows)
    a.status.charts.clearance.push_back({row[1].figure, row[0].figure, row[2].figure});
}

}  // namespace

void add_charts(Assembly& a) {
  add_levels(a);
  add_margins(a);
  add_work_by_day(a);
  add_zones(a);
}

}  // namespace daywright::rules
