// How far the estimates can be trusted: what each count was expected to be, against what it was; and what the levels of
// the coming days are expected to be, so that later days can be held against it. Table: credibility.

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "rules/assembly.h"
#include "rules/item_figures.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Rounding;
using model::Table;

constexpr double tail = 0.05;  // left out on either side of the band
constexpr int days_ahead = 3;  // that are forecast: what is decided tonight is about these

/// How the counts of one item fell, against what those before had said of them.
struct CountScore {
  std::size_t counts = 0;
  std::size_t within = 0;
  double deviation = 0;  ///< sum of count less expected
  double distance = 0;   ///< the same without signs
  std::vector<model::TraceInput> inputs;
};

/// All counts but the first of each place, which begins as that says. Suspect ones are among them: they came too.
CountScore score(const ItemLevel& level) {
  CountScore score;
  if (level.reads.empty()) return score;
  const auto& expected = level.reads.front().estimate.expected;
  std::set<std::string_view> counted;
  for (std::size_t i = 0; i < level.counts.size(); ++i) {
    const auto& row = level.counts[i]->row;
    if (counted.insert(row.place).second) continue;
    const double deviation = row.quantity - expected[i].value;
    const bool is_within = expected[i].chance_below >= tail && expected[i].chance_below <= 1 - tail;
    ++score.counts;
    if (is_within) ++score.within;
    score.deviation += deviation;
    score.distance += std::abs(deviation);
    if (!is_within) {
      score.inputs.push_back(
          from_file("count in " + row.place + ", outside",
                    fmt::format("{:g} {} at {}, expected {:.5g}", row.quantity, level.item->unit->spelling,
                                model::format_utc(row.when), expected[i].value),
                    row.from.source));
    }
  }
  score.inputs.push_back(from_file("item", level.item->title, level.item->source));
  return score;
}

void add_counts(Assembly& a) {
  auto& figures = a.figures();
  Table table{"credibility",
              "Counts against what those before had said of them",
              {{"item", "Item", "", false, true},
               {"counts", "Counts", "", true, true},
               {"within", "Within the band", "", true, true},
               {"deviation", "Count less expected, mean", "", true, true, true},
               {"distance", "The same without signs", "", true, true, true}},
              {},
              0};
  constexpr const char* of_counts = "counts but the first of each place, suspect ones included";
  constexpr const char* of_within = "those that fell into the band that the counts before had left them";
  model::Trace counts{of_counts, {}};
  model::Trace within{of_within, {}};
  std::size_t all = 0;
  std::size_t all_within = 0;
  for (const ItemLevel& level : a.now.levels) {
    const CountScore item = score(level);
    if (item.counts == 0) continue;
    const std::string id = "item." + level.item->id + ".";
    const auto entry = [&](const char* name, const char* title, const char* formula) {
      return Entry{id + "forecast." + name, level.item->title + ", " + title, {formula, item.inputs}, {}};
    };
    const double step = level.item->step / 10;  // a mean is finer than what it is of
    const auto mean = [&](Entry e, double sum) {
      return figures.number(std::move(e), sum / static_cast<double>(item.counts), level.item->unit->spelling, step,
                            Rounding::nearest);
    };
    table.rows.push_back(
        {Cell::of(id + "title"),
         Cell::of(figures.count(entry("counts", "counts that were forecast", of_counts), item.counts)),
         Cell::of(figures.count(entry("within", "of these within the band", of_within), item.within)),
         Cell::of(mean(entry("deviation", "count less expected, mean", "mean of count less what was expected"),
                       item.deviation)),
         Cell::of(mean(
             entry("distance", "count off from expected, mean", "mean of count less what was expected, without signs"),
             item.distance))});
    all += item.counts;
    all_within += item.within;
    counts.inputs.push_back(from_figure(figures.at(id + "forecast.counts")));
    within.inputs.push_back(from_figure(figures.at(id + "forecast.within")));
  }
  const auto plan = from_file("plan", a.mission().name, a.mission().source);
  counts.inputs.push_back(plan);
  within.inputs.push_back(plan);
  figures.count({"credibility.counts", "counts that were forecast", std::move(counts), {}}, all);
  figures.count({"credibility.within", "of these within the band", std::move(within), {}}, all_within);
  figures.number({"credibility.expected",
                  "share that the band is made to hold",
                  {"all but one in twenty on either side", {plan}},
                  {}},
                 100 * (1 - 2 * tail), "%", 1, Rounding::nearest);
  a.status.tables.push_back(std::move(table));
}

/// The cut-off, and the same time after waking up on each of the coming days, up to the required end.
std::vector<model::Instant> forecast_times(const Assembly& a) {
  const auto& days = a.mission().flight_days;
  const model::Instant cutoff = a.evening.cutoff;
  const int today = days.number_at(cutoff);
  std::vector<model::Instant> times{cutoff};
  for (int day = 1; day <= days_ahead; ++day) {
    const model::Instant when = cutoff + (days.start_of(today + day) - days.start_of(today));
    if (when <= a.mission().required_end()) times.push_back(when);
  }
  return times;
}

void add_forecasts(Assembly& a) {
  auto& figures = a.figures();
  if (a.evening.cutoff > a.mission().required_end()) return;
  const auto times = forecast_times(a);
  for (std::size_t i = 0; i < times.size(); ++i) {
    figures.instant({fmt::format("forecast.{}.at", i),
                     "when levels are forecast",
                     {"the cut-off, and the same time after waking up on each of the next days",
                      {from_file("cut-off", model::format_utc(a.evening.cutoff), a.evening.day.cutoff_source)}},
                     {}},
                    times[i]);
  }
  for (const ItemMargins& item : a.now.margins) {
    const auto& plan = *item.level->item;
    const std::string id = "item." + plan.id + ".";
    const auto ahead =
        levels_with_transfers(a.mission(), a.evening.rules.margins, a.facts(), item, a.evening.cutoff, times);
    const model::Trace trace{
        "estimate carried on along the plan, with every planned transfer; the band is that of chart.band",
        {from_figure(figures.at(id + "level"))}};
    for (std::size_t i = 0; i < ahead.size(); ++i) {
      const auto number = [&](const char* name, const char* title, double value, Rounding rounding) {
        figures.number(
            {fmt::format("{}forecast.{}.{}", id, i, name), fmt::format("{}, {}", plan.title, title), trace, {}}, value,
            plan.unit->spelling, plan.step, rounding);
      };
      number("level", "forecast of what is on board", ahead[i].middle, Rounding::nearest);
      number("low", "lower end of its band", ahead[i].low, Rounding::down);
      number("high", "upper end of its band", ahead[i].high, Rounding::up);
    }
  }
}

}  // namespace

void add_credibility(Assembly& a) {
  add_counts(a);
  add_forecasts(a);
}

}  // namespace daywright::rules
