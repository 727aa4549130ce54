#include "write/trial_margins.h"

#include <array>
#include <cassert>
#include <iterator>
#include <optional>

#include <fmt/format.h>

#include "model/printable.h"
#include "write/trial_cells.h"

namespace daywright::write {
namespace {

using model::Basis;
using model::TrialItem;
using model::TrialMargin;

// ---- By reading ----

SheetRow reading_row(const TrialLayout& layout, const LaidItem& laid, const LaidReading& read) {
  const TrialItem& item = laid.item;
  const model::TrialReading& reading = read.reading;
  const std::size_t row = read.margins_row;
  const std::size_t kind = layout.trial.margin_kind;
  const std::string crew = crew_at(item, layout.trial.stretches.size());
  SheetRow cells;
  put(cells, in_margins::item, model::printable(item.title));
  put(cells, in_margins::how, words_of(reading));
  if (reading.measured) {
    put(cells, in_margins::factor, SheetNumber{reading.measured->factor, 4, ""});
    put(cells, in_margins::made_factor, SheetNumber{reading.measured->made_factor, 4, ""});
  }
  put(cells, in_margins::leak, SheetNumber{leak_of(reading), 4, ""});
  for (const Basis basis : live_bases) {
    const auto [net_use, margin] = in_margins::course(basis);
    const model::TrialCourse* course = course_on(reading, basis);
    if (course == nullptr) {
      for (const std::size_t column : {net_use, margin.units, margin.days}) put(cells, column, std::string(no_data));
      continue;
    }
    const auto times_measured = [&](std::size_t factor, const std::string& of) {
      return basis == Basis::plan ? of : cell_down(factor, row) + "*" + of;
    };
    std::string net = times_measured(in_margins::factor, TrialLayout::draw_per_day(laid, kind, crew));
    if (item.is_made_at_end)
      net += "-" + times_measured(in_margins::made_factor, layout.make_per_day(laid, kind, crew));
    net += "+" + cell_down(in_margins::leak, row);
    const std::string along =
        fixed_range(in_course::margin(basis), read.course_row, read.course_row + item.legs.size());
    put(cells, net_use, live(net, course->daily, 4));
    put(cells, margin.units, live("MIN(Course!" + along + ")", course->units, unrounded_decimals(item.step)));
    put(cells, margin.days,
        live(fmt::format("IF({0}>0.000000000001,{1}/{0},\"{2}\")", cell_at(net_use, row), cell_at(margin.units, row),
                         no_days),
             days_or_none(course->days), 3));
  }
  return cells;
}

// ---- By item ----

/// The worst of the readings: the one with the fewest days.
void add_worst_reading(const LaidItem& laid, Basis basis, const std::optional<TrialMargin>& result, SheetRow& cells) {
  const auto [units_column, days_column] = in_margins::margin(basis);
  if (!result) {
    put(cells, units_column, std::string(no_data));
    put(cells, days_column, std::string(no_data));
    return;
  }
  const auto of_readings = [&](std::size_t column) {
    return fixed_range(column, laid.readings.front().margins_row, laid.readings.back().margins_row);
  };
  const std::string units = of_readings(in_margins::course(basis).margin.units);
  const std::string days = of_readings(in_margins::course(basis).margin.days);
  put(cells, units_column,
      live(fmt::format("IF(COUNT({1})=0,MIN({0}),INDEX({0},MATCH(MIN({1}),{1},0)))", units, days), result->units,
           unrounded_decimals(laid.item.step)));
  put(cells, days_column,
      live(fmt::format("IF(COUNT({0})=0,\"{1}\",MIN({0}))", days, no_days), days_or_none(result->days), 3));
}

/// The assured margin of the case that is tried, looked up in Cases from `column` on.
std::string assured_formula(const TrialLayout& layout, const LaidItem& laid, std::size_t column) {
  const TrialItem& item = laid.item;
  std::vector<std::string> state{"1"};
  for (std::size_t bit = 0; bit < item.switches.size(); ++bit) {
    const std::size_t turn = item.switches[bit];
    state.push_back(fmt::format("{}*({}<>\"{}\")", std::size_t{1} << bit, layout.switches[turn],
                                layout.trial.switches[turn].is_on ? "yes" : "no"));
  }
  std::string changed = fmt::format("crew_aboard<>\"\",{}<>1", laid.rate);
  if (item.made_from) changed += fmt::format(",{}<>1", layout.make_rate(laid));
  return fmt::format(
      "IF(OR({}),\"{}\",INDEX(Cases!{},{},extra_days+1))", changed, ask_the_program,
      fixed_range(column, laid.cases_row, column + layout.days_possible(), laid.cases_row + item.assured.size() - 1),
      sum(state));
}

void add_assured(const TrialLayout& layout, const LaidItem& laid, SheetRow& cells) {
  const TrialItem& item = laid.item;
  const auto [units, days] = in_margins::margin(Basis::assured);
  const bool is_in_ledger = item.has_ledger && !item.readings.empty();
  if (is_in_ledger || item.assured.empty()) {
    const std::string words = is_in_ledger ? in_the_ledger : no_data;
    put(cells, units, words);
    put(cells, days, words);
    return;
  }
  const TrialMargin& of_record = item.assured.front().front();
  put(cells, units,
      live(assured_formula(layout, laid, in_cases::units(0)), of_record.units, unrounded_decimals(item.step)));
  put(cells, days,
      live(assured_formula(layout, laid, in_cases::days(0, layout.days_possible())), days_or_none(of_record.days), 3));
}

/// A basis that governs, by its cells.
struct Candidate {
  std::string units;
  std::string days;
  std::string words;  ///< in quotes
};

std::vector<Candidate> candidates_of(const TrialLayout& layout, const LaidItem& laid) {
  std::vector<Candidate> candidates;
  for (const Basis basis : layout.trial.bases) {
    if (basis == Basis::assured && laid.item.has_ledger) continue;
    const auto [units, days] = in_margins::margin(basis);
    candidates.push_back(
        {cell_down(units, laid.margins_row), cell_down(days, laid.margins_row), "\"" + layout.words_of(basis) + "\""});
  }
  return candidates;
}

std::string list(const std::vector<Candidate>& candidates, std::string Candidate::* member) {
  std::string text;
  for (const auto& candidate : candidates) text += (text.empty() ? "" : ",") + candidate.*member;
  return text;
}

/// What the candidate with the fewest days has, where none has days the one with the fewest units; of equal ones the
/// first.
std::string of_tightest(const std::vector<Candidate>& candidates, std::string Candidate::* member) {
  const std::string units = list(candidates, &Candidate::units);
  const std::string days = list(candidates, &Candidate::days);
  std::string by_days = candidates.back().*member;
  std::string by_units = by_days;
  for (auto candidate = std::next(candidates.rbegin()); candidate != candidates.rend(); ++candidate) {
    const std::string& given = (*candidate).*member;
    by_days = fmt::format("IF(AND(ISNUMBER({0}),{0}=MIN({1})),{2},{3})", candidate->days, days, given, by_days);
    by_units = fmt::format("IF({}=MIN({}),{},{})", candidate->units, units, given, by_units);
  }
  return fmt::format("IF(COUNT({})=0,{},{})", days, by_units, by_days);
}

/// The tightest of the bases that govern.
void add_governing(const TrialLayout& layout, const LaidItem& laid, SheetRow& cells) {
  const auto [units_column, days_column] = in_margins::margin(governing);
  const TrialItem& item = laid.item;
  const auto candidates = candidates_of(layout, laid);
  if (!item.governing || candidates.empty()) {
    for (const std::size_t column : {units_column, days_column, std::size_t{in_margins::basis}})
      put(cells, column, std::string(no_data));
    return;
  }
  const auto unless_asked = [&](const std::string& formula) {
    return fmt::format("IF(COUNT({})<{},\"{}\",{})", list(candidates, &Candidate::units), candidates.size(),
                       ask_the_program, formula);
  };
  const std::string fewest =
      fmt::format("IF(COUNT({0})=0,\"{1}\",MIN({0}))", list(candidates, &Candidate::days), no_days);
  put(cells, units_column,
      live(unless_asked(of_tightest(candidates, &Candidate::units)), item.governing->units,
           unrounded_decimals(item.step)));
  put(cells, days_column, live(unless_asked(fewest), days_or_none(item.governing->days), 3));
  put(cells, in_margins::basis,
      live(unless_asked(of_tightest(candidates, &Candidate::words)), layout.words_of(item.governing_basis)));
}

/// Puts the items in order by a margin: its days; of what is short and not used by the day a number just below every
/// covered margin and above every short one.
SheetCell order_cell(MarginOf basis, const std::optional<TrialMargin>& margin, std::size_t row, double step) {
  const auto [units, days] = in_margins::margin(basis);
  const double short_by = step * 1e-9;
  FormulaResult result;
  if (margin && margin->days) {
    result = *margin->days;
  } else if (margin && margin->units < -short_by) {
    result = -1e-9 + margin->units * 1e-15;
  } else {
    result = std::string();
  }
  return live(fmt::format("IF(ISNUMBER({0}),{0},IF(N({1})<-{2},-0.000000001+{1}*1E-15,\"\"))", cell_at(days, row),
                          cell_at(units, row), short_by),
              result, 3);
}

SheetRow item_row(const TrialLayout& layout, const LaidItem& laid) {
  const TrialItem& item = laid.item;
  SheetRow cells;
  put(cells, in_margins::item, model::printable(item.title));
  put(cells, in_margins::unit, item.unit);
  add_worst_reading(laid, Basis::plan, item.plan, cells);
  add_worst_reading(laid, Basis::measured, item.measured, cells);
  add_assured(layout, laid, cells);
  add_governing(layout, laid, cells);
  const auto assured = item.assured.empty() ? std::nullopt : std::optional(item.assured.front().front());
  const std::array of_record{item.plan, item.measured, assured, item.governing};
  for (const MarginOf basis : all_margins)
    put(cells, in_margins::order(basis), order_cell(basis, of_record.at(rank_of(basis)), laid.margins_row, item.step));
  return cells;
}

}  // namespace

Sheet lay_out_trial_margins(const TrialLayout& layout) {
  Sheet sheet{"Margins", "Margins, unrounded", {}, {}};
  for (const char* header :
       {"Item", "Counts read", "Use / plan", "Made / plan", "Leak per 24 h", "At plan: net use per 24 h",
        "At plan: margin", "At plan, d", "Measured: net use per 24 h", "Measured: margin", "Measured, d"})
    sheet.columns.push_back({header, 8, sheet.columns.size() > in_margins::how});
  sheet.columns.resize(in_margins::width, {"", 8, true});
  for (const LaidItem& laid : layout.items) {
    for (const LaidReading& read : laid.readings) sheet.rows.push_back(reading_row(layout, laid, read));
  }
  sheet.rows.push_back({SheetHeading{"Item"}, SheetHeading{"Unit"}, SheetHeading{"At plan"}, SheetHeading{"At plan, d"},
                        SheetHeading{"Measured"}, SheetHeading{"Measured, d"}, SheetHeading{"Assured"},
                        SheetHeading{"Assured, d"}, SheetHeading{"Margin"}, SheetHeading{"Margin, d"},
                        SheetHeading{"Basis"}, SheetHeading{"Order at plan"}, SheetHeading{"Order, measured"},
                        SheetHeading{"Order, assured"}, SheetHeading{"Order"}});
  assert(sheet.rows.back().size() == in_margins::width);
  for (const LaidItem& laid : layout.items) sheet.rows.push_back(item_row(layout, laid));
  return sheet;
}

}  // namespace daywright::write
