#include "write/trial_options.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <iterator>
#include <optional>
#include <utility>

#include <fmt/format.h>

#include "model/printable.h"
#include "model/quantity.h"
#include "write/trial_cells.h"
#include "write/trial_inputs.h"
#include "write/trial_verdicts.h"

namespace daywright::write {
namespace {

using model::Basis;
using model::TrialItem;

/// The id of a margin's figure.
std::string figure_of(const TrialItem& item, MarginOf basis, bool in_days) {
  constexpr std::array names{"plan.", "measured.", "assured.", ""};
  return "item." + item.id + ".margin." + names.at(rank_of(basis)) + (in_days ? "days" : "units");
}

/// A number of the status, as it is rounded there; words where it has none.
FormulaResult result_of(const model::DayStatus& status, const std::string& figure) {
  const auto* found = status.find(figure);
  if (found == nullptr) return std::string();
  if (const auto* value = std::get_if<double>(&found->value)) return *value;
  return std::string(no_data);
}

// ---- The flight ----

/// The tightest item by what puts them in order in Margins, and its days beside it.
SheetRow limiting_row(const TrialLayout& layout, std::string title, std::string name, std::optional<std::size_t> item,
                      MarginOf basis) {
  const std::string keys = layout.margin_rows(in_margins::order(basis));
  const std::string items = layout.option_rows(in_options::item);
  const std::string days = layout.option_rows(in_options::margin(basis).days);
  // Only the program may know the assured margin, and so what governs.
  const bool can_ask = !basis || basis == Basis::assured;
  const std::string asks =
      layout.margin_rows(basis == Basis::assured ? in_margins::margin(basis).days : std::size_t{in_margins::basis});
  const auto tightest = [&](const std::string& of, const std::string& none, const std::string& when_asked) {
    const std::string found = fmt::format("IF(COUNT({0})=0,\"{1}\",INDEX({2},MATCH(MIN({0}),{0},0)))", keys, none, of);
    return can_ask ? fmt::format("IF(COUNTIF({},\"{}\")>0,\"{}\",{})", asks, ask_the_program, when_asked, found)
                   : found;
  };
  const TrialItem* limiting = item ? &layout.trial.items[*item] : nullptr;
  const FormulaResult days_shown =
      limiting == nullptr ? std::string() : result_of(layout.status, figure_of(*limiting, basis, true));
  return {std::move(title),
          live(tightest(items, "none", ask_the_program),
               limiting == nullptr ? std::string("none") : model::printable(limiting->title), 0, std::move(name)),
          live(tightest(days, "", ""), days_shown, 1), SheetNote{"d"}};
}

std::vector<SheetRow> flight_rows(const TrialLayout& layout) {
  const auto& trial = layout.trial;
  const auto* word = layout.status.find("words.landing");
  const std::string landing = "Phases!" + fixed_cell(in_phases::end, Sheet::first_row) + "+" +
                              number(model::in_days(trial.landing - trial.cutoff)) +
                              (trial.lands_later ? "+extra_days" : "");
  const std::string last_end = "Phases!" + fixed_cell(in_phases::end, phase_row(trial.stretches.size() - 1));
  std::vector<SheetRow> rows;
  rows.push_back({SheetHeading{"The flight"}, SheetHeading{"As tried"}});
  rows.push_back({(word == nullptr ? "Landing" : model::printable(word->text)) + ", UTC",
                  live(landing, trial.landing, 0, "landing")});
  rows.push_back({std::string("Needed through, UTC"), live(last_end, trial.stretches.back().end, 0, "needed_through")});
  rows.push_back({std::string("Verdict"),
                  live(flight_verdict(layout), std::string(model::words(trial.verdict)), 0, "verdict"), std::string(),
                  SheetNote{"that everything lasts and every criterion below holds"}});
  rows.push_back(limiting_row(layout, "Limited by", "limiting_item", trial.limiting, governing));
  for (const Basis basis : {Basis::plan, Basis::measured, Basis::assured})
    rows.push_back(limiting_row(layout, "Limited by, " + layout.words_of(basis), {},
                                trial.limiting_on.at(static_cast<std::size_t>(basis)), basis));
  return rows;
}

std::vector<SheetRow> criterion_rows(const TrialLayout& layout) {
  std::vector<SheetRow> rows;
  for (std::size_t c = 0; c < layout.trial.criteria.size(); ++c) {
    const auto& criterion = layout.trial.criteria[c];
    rows.push_back({model::printable(criterion.title),
                    live(criterion_verdict(layout, c), std::string(model::words(criterion.verdicts.front())))});
  }
  return rows;
}

// ---- The items ----

/// The content of `cell` rounded down as figures are (model::round_to); words as they are.
std::string rounded_down(const std::string& cell, double step) {
  const std::string steps = fmt::format("{}/{}", cell, step);
  return fmt::format("IF(ISNUMBER({0}),ROUND(IF(ABS({1}-ROUND({1},0))>0.000000001,INT({1}),ROUND({1},0))*{2},{3}),{0})",
                     cell, steps, step, model::decimals_of(step));
}

/// What the cell of a margin shows as planned: the figure, or the words that Margins has in its place.
FormulaResult margin_result(const model::DayStatus& status, const TrialItem& item, MarginOf basis, bool in_days) {
  const auto* figure = status.find(figure_of(item, basis, in_days));
  if (figure != nullptr && std::holds_alternative<double>(figure->value)) return std::get<double>(figure->value);
  if (basis == Basis::assured && item.has_ledger && item.plan) return std::string(in_the_ledger);
  if (figure != nullptr || !item.plan || (basis == Basis::measured && !item.measured)) return std::string(no_data);
  // The status has no measured margin of what is taken at plan, and no days of what is not used by the day.
  return in_days ? FormulaResult(std::string(no_days))
                 : FormulaResult(model::round_to(item.measured->units, item.step, model::Rounding::down));
}

SheetCell recorded_days(const model::DayStatus& status, const TrialItem& item) {
  const auto result = result_of(status, figure_of(item, governing, true));
  if (const auto* value = std::get_if<double>(&result)) return SheetNumber{*value, 1, ""};
  return std::get<std::string>(result);
}

SheetRow item_row(const TrialLayout& layout, const LaidItem& laid) {
  const TrialItem& item = laid.item;
  constexpr double most_factor = 1000;
  SheetRow row;
  put(row, in_options::item, model::printable(item.title));
  put(row, in_options::rate, SheetInput{laid.rate, SheetInput::Kind::decimal, 0, most_factor, 1.0});
  put(row, in_options::unit, item.unit);
  const auto show = [&](std::size_t to, std::size_t from, MarginOf basis, bool in_days) {
    constexpr double day_step = 0.1;
    const double step = in_days ? day_step : item.step;
    put(row, to,
        live(rounded_down("Margins!" + fixed_cell(from, laid.margins_row), step),
             margin_result(layout.status, item, basis, in_days), model::decimals_of(step)));
  };
  for (const MarginOf basis : all_margins) {
    const auto to = in_options::margin(basis);
    const auto from = in_margins::margin(basis);
    show(to.units, from.units, basis, false);
    show(to.days, from.days, basis, true);
  }
  const std::string verdict(model::words(item.verdict));
  put(row, in_options::basis,
      live("Margins!" + fixed_cell(in_margins::basis, laid.margins_row),
           item.governing ? layout.words_of(item.governing_basis) : std::string(no_data)));
  put(row, in_options::verdict, item.governing ? live(item_verdict(layout, laid), verdict) : SheetCell(verdict));
  put(row, in_options::recorded, recorded_days(layout.status, item));
  put(row, in_options::because, model::printable(item.doubt));
  return row;
}

std::vector<SheetRow> item_rows(const TrialLayout& layout) {
  std::vector<SheetRow> rows{{SheetHeading{"Item"}, SheetHeading{"Rate factor"}, SheetHeading{"Unit"},
                              SheetHeading{"At plan"}, SheetHeading{"At plan, d"}, SheetHeading{"Measured"},
                              SheetHeading{"Measured, d"}, SheetHeading{"Assured"}, SheetHeading{"Assured, d"},
                              SheetHeading{"Margin"}, SheetHeading{"Margin, d"}, SheetHeading{"Basis"},
                              SheetHeading{"Verdict"}, SheetHeading{"As recorded, d"}, SheetHeading{"Because"}}};
  assert(rows.front().size() == in_options::width);
  for (const LaidItem& laid : layout.items) rows.push_back(item_row(layout, laid));
  return rows;
}

// ---- The charts ----

SheetChart margins_chart(const TrialLayout& layout, std::size_t row) {
  SheetChart chart{"Margins in days", "d", false, row, 0, {}};
  for (const auto& [basis, name] :
       {std::pair{Basis::plan, "at plan"}, std::pair{Basis::measured, "at the measured rate"},
        std::pair{Basis::assured, "assured"}})
    chart.series.push_back({name, "=Options!" + layout.option_rows(in_options::item),
                            "=Options!" + layout.option_rows(in_options::margin(basis).days)});
  return chart;
}

/// The margin of the limiting item along the flight, beside the other chart.
SheetChart limiting_chart(const LaidItem& laid, std::size_t row) {
  const TrialItem& item = laid.item;
  const std::size_t first = laid.readings.front().course_row;
  const auto range = [&](std::size_t column) {
    return "=Course!" + fixed_range(column, first, first + item.legs.size());
  };
  constexpr std::size_t beside = 8;
  SheetChart chart{"Margin along the flight: " + model::printable(item.title), item.unit, true, row, beside, {}};
  const auto add = [&](Basis basis, const char* name) {
    chart.series.push_back({name, range(in_course::until), range(in_course::margin(basis))});
  };
  add(Basis::plan, "at plan");
  if (item.measured) add(Basis::measured, "at the measured rate");
  return chart;
}

}  // namespace

Sheet lay_out_trial_options(const TrialLayout& layout) {
  Sheet sheet{
      "Options", "Options: change a marked cell to try a case", std::vector<SheetColumn>(in_options::width), {}};
  sheet.columns[in_options::rate].is_number = true;
  for (std::size_t c = in_options::margins; c < in_options::basis; ++c) sheet.columns[c].is_number = true;
  sheet.columns[in_options::recorded].is_number = true;

  auto& rows = sheet.rows;
  const auto add = [&](std::vector<SheetRow> more) { std::move(more.begin(), more.end(), std::back_inserter(rows)); };
  add(lay_out_inputs(layout));
  rows.emplace_back();
  add(flight_rows(layout));
  rows.emplace_back();
  rows.push_back({SheetHeading{"Criteria that limit how long the flight can be"}, SheetHeading{"Verdict"}});
  assert(Sheet::first_row + rows.size() == layout.first_criterion);
  add(criterion_rows(layout));
  rows.emplace_back();
  add(item_rows(layout));
  assert(Sheet::first_row + rows.size() == layout.first_item + layout.items.size());

  const std::size_t below = rows.size() + 1;
  sheet.charts.push_back(margins_chart(layout, below));
  if (layout.trial.limiting) sheet.charts.push_back(limiting_chart(layout.items[*layout.trial.limiting], below));
  return sheet;
}

}  // namespace daywright::write
