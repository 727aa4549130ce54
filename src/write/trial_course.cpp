#include "write/trial_course.h"

#include <algorithm>
#include <cassert>
#include <utility>

#include <fmt/format.h>

#include "model/printable.h"
#include "write/trial_cells.h"

namespace daywright::write {
namespace {

using model::Basis;
using model::TrialItem;
using model::TrialLeg;

/// The rows of an item by one reading of its counts.
class CourseRows {
 public:
  CourseRows(const TrialLayout& layout, const LaidItem& laid, const LaidReading& read)
      : layout_(layout), laid_(laid), item_(laid.item), read_(read), decimals_(unrounded_decimals(laid.item.step)) {}

  void add_to(std::vector<SheetRow>& rows) const {
    rows.push_back(cutoff_row());
    for (std::size_t turn = 1; turn <= item_.legs.size(); ++turn) rows.push_back(leg_row(turn));
    rows.push_back(end_row());
  }

 private:
  [[nodiscard]] SheetRow begin_row(const std::string& phase, std::size_t row_in_phases, model::Instant until) const {
    SheetRow cells;
    put(cells, in_course::item, model::printable(item_.title));
    put(cells, in_course::how, words_of(read_.reading));
    put(cells, in_course::phase, model::printable(phase));
    put(cells, in_course::until, live("Phases!" + fixed_cell(in_phases::end, row_in_phases), until));
    return cells;
  }

  [[nodiscard]] SheetRow cutoff_row() const {
    SheetRow cells = begin_row("Cut-off", Sheet::first_row, layout_.trial.cutoff);
    put(cells, in_course::moved, moved_cell(item_.at_start));
    put(cells, in_course::reserve, reserve_cell(item_.legs.front().held, 0, item_.legs.front().reserve));
    add_usable(0, cells);
    return cells;
  }

  [[nodiscard]] SheetRow leg_row(std::size_t turn) const {
    const TrialLeg& leg = item_.legs[turn - 1];
    const auto& stretch = layout_.trial.stretches[leg.last];
    const std::string days = days_of(leg);
    const std::string crew = crew_at(item_, leg.first);
    SheetRow cells = begin_row(stretch.phase, phase_row(leg.last), stretch.end);
    const auto add = [&](std::size_t column, std::string formula, double result) {
      put(cells, column, live(std::move(formula), result, decimals_));
    };
    add(in_course::per_day, TrialLayout::draw_per_day(laid_, stretch.kind, crew), leg.per_day);
    add(in_course::used, cell_at(in_course::per_day, row_of(turn)) + "*" + days, leg.used);
    if (leg.is_made) add(in_course::made, layout_.make_per_day(laid_, stretch.kind, crew) + "*" + days, leg.made);
    if (leg.step.draw != 0) add(in_course::used_by_events, laid_.rate + "*" + number(leg.step.draw), leg.step.draw);
    if (leg.step.make != 0)
      add(in_course::made_by_events, layout_.make_rate(laid_) + "*" + number(leg.step.make), leg.step.make);
    put(cells, in_course::moved, moved_cell(leg.step));
    put(cells, in_course::reserve, reserve_cell(leg.held, leg.first, leg.reserve));
    add_usable(turn, cells);
    return cells;
  }

  /// Behind the last stretch only what is held in reserve matters.
  [[nodiscard]] SheetRow end_row() const {
    const auto& stretches = layout_.trial.stretches;
    SheetRow cells = begin_row("Required end", phase_row(stretches.size() - 1), stretches.back().end);
    put(cells, in_course::reserve, reserve_cell(item_.held_at_end, stretches.size(), item_.reserve_at_end));
    return cells;
  }

  [[nodiscard]] std::size_t row_of(std::size_t turn) const { return read_.course_row + turn; }

  [[nodiscard]] SheetCell moved_cell(const model::TrialStep& step) const {
    const std::string formula = layout_.moved_in(step);
    return formula.empty() ? SheetCell(std::string()) : live(formula, step.moved, decimals_);
  }

  [[nodiscard]] SheetCell reserve_cell(const model::TrialReserve& held, std::size_t stretch, double result) const {
    const bool is_live = held.events != 0 || !held.days.empty();
    return is_live ? live(reserve_formula(held, crew_at(item_, stretch)), result, decimals_)
                   : SheetCell(SheetNumber{result, decimals_, ""});
  }

  [[nodiscard]] std::string reserve_formula(const model::TrialReserve& held, const std::string& crew) const {
    std::vector<std::string> terms;
    if (held.fixed != 0) terms.push_back(number(held.fixed));
    if (held.events != 0) terms.push_back(laid_.rate + "*" + number(held.events));
    for (const auto& [days, kind] : held.days) {
      std::string net = TrialLayout::draw_per_day(laid_, kind, crew);
      if (held.is_made) net += "-" + layout_.make_per_day(laid_, kind, crew);
      terms.push_back(fmt::format("{}*MAX(0,{})", number(days), net));
    }
    return sum(terms);
  }

  /// What is held in reserve before and after what happens at a turn, as planned.
  [[nodiscard]] std::pair<double, double> reserves_at(std::size_t turn) const {
    const auto& legs = item_.legs;
    const double before = legs[turn == 0 ? 0 : turn - 1].reserve;
    if (turn == 0) return {before, before};
    return {before, turn < legs.size() ? legs[turn].reserve : item_.reserve_at_end};
  }

  /// What can be used at a turn, before and after what happens there, and the smaller margin.
  void add_usable(std::size_t turn, SheetRow& cells) const {
    const auto [reserve, reserve_then] = reserves_at(turn);
    const std::size_t row = row_of(turn);
    for (const Basis basis : live_bases) {
      const model::TrialCourse* course = course_on(read_.reading, basis);
      if (course == nullptr) continue;
      for (const Moment moment : both_moments)
        put(cells, in_course::usable(basis, moment), usable_cell(*course, basis, turn, moment));
      const double before = amounts_at(*course, turn, Moment::at_end).usable - reserve;
      const double after = amounts_at(*course, turn, Moment::after_events).usable - reserve_then;
      put(cells, in_course::margin(basis),
          live(fmt::format("MIN({}-{},{}-{})", cell_at(in_course::usable(basis, Moment::at_end), row),
                           cell_down(in_course::reserve, row),
                           cell_at(in_course::usable(basis, Moment::after_events), row),
                           cell_down(in_course::reserve, turn == 0 ? row : row + 1)),
               std::min(before, after), decimals_));
    }
  }

  [[nodiscard]] SheetCell usable_cell(const model::TrialCourse& course, Basis basis, std::size_t turn,
                                      Moment moment) const {
    const double result = amounts_at(course, turn, moment).usable;
    if (laid_.goes_by_place) {
      const std::size_t row = read_.places_row.at(basis) + turn;
      return live("Places!" + fixed_cell(in_places::usable(layout_.places, moment), row), result, decimals_);
    }
    if (moment == Moment::after_events) return live(after_events(course, basis, turn), result, decimals_);
    if (turn == 0) return SheetNumber{result, decimals_, ""};
    return live(at_end(course, basis, turn), result, decimals_);
  }

  /// What can be used at the end of a leg, where it does not matter in which place it lies.
  [[nodiscard]] std::string at_end(const model::TrialCourse& course, Basis basis, std::size_t turn) const {
    const TrialLeg& leg = item_.legs[turn - 1];
    const std::size_t row = row_of(turn);
    const double leak = leak_of(read_.reading);
    std::vector<std::string> terms{cell_at(in_course::usable(basis, Moment::after_events), row - 1),
                                   "-" + times(course.factor, cell_at(in_course::used, row))};
    if (leg.is_made) terms.push_back(times(course.made_factor, cell_at(in_course::made, row)));
    if (leak > 0) terms.push_back(fmt::format("-{}*{}", number(leak), days_of(leg)));
    return sum(terms);
  }

  /// The same after what happens there.
  [[nodiscard]] std::string after_events(const model::TrialCourse& course, Basis basis, std::size_t turn) const {
    const auto& step = step_at(item_, turn);
    const std::size_t row = row_of(turn);
    std::vector<std::string> terms{cell_at(in_course::usable(basis, Moment::at_end), row)};
    if (step.draw != 0) terms.push_back("-" + cell_at(in_course::used_by_events, row));
    if (step.make != 0) terms.push_back(times(course.made_factor, cell_at(in_course::made_by_events, row)));
    if (!layout_.moved_in(step).empty()) terms.push_back(cell_at(in_course::moved, row));
    return sum(terms);
  }

  const TrialLayout& layout_;
  const LaidItem& laid_;
  const TrialItem& item_;
  const LaidReading& read_;
  int decimals_;
};

}  // namespace

Sheet lay_out_trial_course(const TrialLayout& layout) {
  Sheet sheet{"Course", "Each item through each stretch of the flight", {}, {}};
  for (const char* header :
       {"Item", "Counts read", "Phase", "To, UTC", "Drawn per 24 h", "Used", "Made", "Used by events", "Made by events",
        "Transfers", "In reserve", "At plan: usable", "and after events", "At plan: margin", "Measured: usable",
        "and after events", "Measured: margin"})
    sheet.columns.push_back({header, 8, sheet.columns.size() > in_course::until});
  assert(sheet.columns.size() == in_course::width);
  for (const LaidItem& laid : layout.items) {
    for (const LaidReading& read : laid.readings) {
      assert(Sheet::first_row + sheet.rows.size() == read.course_row);
      CourseRows(layout, laid, read).add_to(sheet.rows);
    }
  }
  return sheet;
}

}  // namespace daywright::write
