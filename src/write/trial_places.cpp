#include "write/trial_places.h"

#include <cassert>

#include <fmt/format.h>

#include "model/printable.h"
#include "write/trial_cells.h"

namespace daywright::write {
namespace {

using model::Basis;
using model::TrialItem;

/// Amounts place by place and what is short, as formulas that grow step by step.
struct Amounts {
  std::vector<std::string> places;
  std::string shortfall;

  /// What was short is made good first.
  void make(const std::string& made, std::size_t into) {
    places[into] += fmt::format("+MAX(0,{}-({}))", made, shortfall);
    shortfall = fmt::format("MAX(0,{}-{})", shortfall, made);
  }

  /// From one place after the other; what none of them has is short.
  void draw(const std::string& drawn, const std::vector<std::size_t>& order) {
    std::string left = drawn;
    for (const std::size_t place : order) {
      const std::string had = places[place];
      places[place] = fmt::format("MAX(0,{}-{})", had, left);
      left = fmt::format("MAX(0,{}-({}))", left, had);
    }
    shortfall += "+" + left;
  }

  void leak(const std::string& leaked, std::size_t place) {
    shortfall += fmt::format("+MAX(0,{}-{})", leaked, places[place]);
    places[place] = fmt::format("MAX(0,{}-{})", places[place], leaked);
  }

  void move(const std::string& moved, std::size_t place) {
    const std::string then = places[place] + (moved.starts_with('-') ? "" : "+") + moved;
    shortfall += fmt::format("+MAX(0,-({}))", then);
    places[place] = fmt::format("MAX(0,{})", then);
  }
};

/// The rows of an item by one reading of its counts on one basis.
class PlacesRows {
 public:
  PlacesRows(const TrialLayout& layout, const LaidItem& laid, const LaidReading& read, Basis basis, std::size_t first)
      : layout_(layout),
        item_(laid.item),
        read_(read),
        course_(*course_on(read.reading, basis)),
        title_(model::printable(laid.item.title)),
        basis_(layout.words_of(basis)),
        first_(first) {}

  void add_to(std::vector<SheetRow>& rows) const {
    rows.push_back(headings());
    for (std::size_t turn = 0; turn <= item_.legs.size(); ++turn) rows.push_back(turn_row(turn));
  }

 private:
  [[nodiscard]] std::size_t row_of(std::size_t turn) const { return first_ + turn; }
  [[nodiscard]] std::size_t amount(std::size_t place, Moment moment) const {
    return in_places::amount(layout_.places, place, moment);
  }
  [[nodiscard]] std::size_t shortfall(Moment moment) const { return in_places::shortfall(layout_.places, moment); }

  [[nodiscard]] SheetRow headings() const {
    SheetRow cells;
    put(cells, in_places::item, SheetHeading{title_});
    put(cells, in_places::basis, SheetHeading{basis_});
    for (const Moment moment : both_moments) {
      for (std::size_t p = 0; p < item_.places.size(); ++p)
        put(cells, amount(p, moment), SheetHeading{model::printable(item_.places[p].title)});
    }
    return cells;
  }

  [[nodiscard]] SheetRow turn_row(std::size_t turn) const {
    SheetRow cells;
    put(cells, in_places::item, title_);
    put(cells, in_places::basis, basis_);
    put(cells, in_places::phase,
        turn == 0 ? "Cut-off" : model::printable(layout_.trial.stretches[item_.legs[turn - 1].last].phase));
    for (const Moment moment : both_moments) add_amounts(turn, moment, cells);
    return cells;
  }

  void add_amounts(std::size_t turn, Moment moment, SheetRow& cells) const {
    const auto& result = amounts_at(course_, turn, moment);
    const int decimals = unrounded_decimals(item_.step);
    if (turn == 0 && moment == Moment::at_end) {  // what there is at the cut-off
      for (std::size_t p = 0; p < item_.places.size(); ++p)
        put(cells, amount(p, moment), SheetNumber{result.places[p], decimals, ""});
      put(cells, shortfall(moment), SheetNumber{result.shortfall, decimals, ""});
    } else {
      const Amounts amounts = moment == Moment::at_end ? at_end(turn) : after_events(turn);
      for (std::size_t p = 0; p < item_.places.size(); ++p)
        put(cells, amount(p, moment), live(amounts.places[p], result.places[p], decimals));
      put(cells, shortfall(moment), live(amounts.shortfall, result.shortfall, decimals));
    }
    put(cells, in_places::usable(layout_.places, moment), live(usable(turn, moment), result.usable, decimals));
  }

  [[nodiscard]] std::string usable(std::size_t turn, Moment moment) const {
    std::vector<std::string> terms;
    for (std::size_t p = 0; p < item_.places.size(); ++p) {
      if (counts(item_.places[p], turn, moment)) terms.push_back(cell_at(amount(p, moment), row_of(turn)));
    }
    terms.push_back("-" + cell_at(shortfall(moment), row_of(turn)));
    return sum(terms);
  }

  [[nodiscard]] static bool counts(const model::TrialPlace& place, std::size_t turn, Moment moment) {
    if (turn == 0) return place.counts_at_end.front();  // nothing goes within a stretch
    return moment == Moment::at_end ? place.counts_at_end[turn - 1] : place.counts_after[turn - 1];
  }

  /// What was there at the end of the leg before, leaked, added to and drawn from.
  [[nodiscard]] Amounts at_end(std::size_t turn) const {
    const model::TrialLeg& leg = item_.legs[turn - 1];
    Amounts amounts = read(turn - 1, Moment::after_events);
    for (std::size_t p = 0; p < item_.places.size(); ++p) {
      const double leak = read_.reading.leaks[p];
      if (leak > 0 && counts(item_.places[p], turn, Moment::at_end))
        amounts.leak(fmt::format("{}*{}", number(leak), days_of(leg)), p);
    }
    if (leg.is_made) amounts.make(times(course_.made_factor, in_course_cell(in_course::made, turn)), item_.made_into);
    amounts.draw(times(course_.factor, in_course_cell(in_course::used, turn)), leg.order);
    return amounts;
  }

  [[nodiscard]] Amounts after_events(std::size_t turn) const {
    const auto& step = step_at(item_, turn);
    Amounts amounts = read(turn, Moment::at_end);
    if (step.make != 0)
      amounts.make(times(course_.made_factor, in_course_cell(in_course::made_by_events, turn)), item_.made_into);
    if (step.draw != 0) amounts.draw(in_course_cell(in_course::used_by_events, turn), item_.legs[turn - 1].order);
    for (std::size_t p = 0; p < item_.places.size(); ++p) {
      const std::string moved = layout_.moved_in(step, p);
      if (!moved.empty()) amounts.move(moved, p);
    }
    return amounts;
  }

  [[nodiscard]] Amounts read(std::size_t turn, Moment moment) const {
    Amounts amounts;
    for (std::size_t p = 0; p < item_.places.size(); ++p)
      amounts.places.push_back(cell_at(amount(p, moment), row_of(turn)));
    amounts.shortfall = cell_at(shortfall(moment), row_of(turn));
    return amounts;
  }

  [[nodiscard]] std::string in_course_cell(std::size_t column, std::size_t turn) const {
    return "Course!" + fixed_cell(column, read_.course_row + turn);
  }

  const TrialLayout& layout_;
  const TrialItem& item_;
  const LaidReading& read_;
  const model::TrialCourse& course_;
  std::string title_;
  std::string basis_;
  std::size_t first_;  ///< row of the cut-off
};

}  // namespace

Sheet lay_out_trial_places(const TrialLayout& layout) {
  Sheet sheet{"Places", "What lies in which place, where some go on the way", {}, {}};
  sheet.columns = {{"Item", 8, false}, {"Basis", 8, false}, {"Phase", 8, false}};
  for (const char* when : {"at the end", "after events"}) {
    for (std::size_t p = 0; p < layout.places; ++p)
      sheet.columns.push_back({fmt::format("Place {} {}", p + 1, when), 8, true});
    sheet.columns.push_back({fmt::format("Short {}", when), 8, true});
    sheet.columns.push_back({fmt::format("Usable {}", when), 8, true});
  }
  assert(sheet.columns.size() == in_places::usable(layout.places, Moment::after_events) + 1);
  for (const LaidItem& laid : layout.items) {
    for (const LaidReading& read : laid.readings) {
      for (const auto& [basis, row] : read.places_row) {
        assert(Sheet::first_row + sheet.rows.size() + 1 == row);  // below the headings
        PlacesRows(layout, laid, read, basis, row).add_to(sheet.rows);
      }
    }
  }
  return sheet;
}

}  // namespace daywright::write
