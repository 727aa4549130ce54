#include "write/trial_layout.h"

#include <algorithm>
#include <set>
#include <string_view>
#include <utility>

#include <fmt/format.h>

#include "model/printable.h"
#include "write/trial_cells.h"

namespace daywright::write {
namespace {

/// Words that name a thing in formulas: letters, digits and underscores, each name once.
class Names {
 public:
  std::string make(std::string_view kind, std::string_view name) {
    std::string made = std::string(kind) + "_";
    for (const char c : name) {
      const bool is_plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
      made += is_plain ? c : '_';
    }
    constexpr std::size_t longest = 200;  // of 255 that spreadsheets take
    made.resize(std::min(made.size(), longest));
    std::string free = made;
    for (int next = 2; !taken_.insert(lower(free)).second; ++next) free = fmt::format("{}_{}", made, next);
    return free;
  }

 private:
  /// Names differ in more than small and capital letters.
  static std::string lower(std::string text) {
    for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    return text;
  }

  std::set<std::string> taken_;
};

bool goes_by_place(const model::TrialItem& item) {
  const auto always = [](const std::vector<bool>& counts) {
    return std::all_of(counts.begin(), counts.end(), [](bool c) { return c; });
  };
  return !std::all_of(item.places.begin(), item.places.end(),
                      [&](const auto& place) { return always(place.counts_at_end) && always(place.counts_after); });
}

std::string rate_text(const model::TrialRate& rate, const std::string& crew) {
  if (rate.per_person == 0) return number(rate.fixed);
  if (rate.fixed == 0) return fmt::format("{}*{}", number(rate.per_person), crew);
  return fmt::format("({}+{}*{})", number(rate.fixed), number(rate.per_person), crew);
}

}  // namespace

TrialLayout::TrialLayout(const model::DayStatus& of)
    : status(of),
      trial(of.trial),
      first_switch(Sheet::first_row + 3),                          // below headings, days more and crew
      first_criterion(first_switch + trial.switches.size() + 13),  // below what follows for the flight
      first_item(first_criterion + trial.criteria.size() + 2) {
  Names names;
  std::size_t in_course = Sheet::first_row;
  std::size_t in_places = Sheet::first_row;
  std::size_t in_margins = Sheet::first_row;
  std::size_t in_cases = Sheet::first_row;
  for (const auto& item : trial.items) {
    LaidItem laid{item, names.make("rate", item.id), goes_by_place(item), {}, 0, in_cases};
    if (laid.goes_by_place) places = std::max(places, item.places.size());
    for (const auto& reading : item.readings) {
      LaidReading read{reading, in_margins++, in_course, {}};
      in_course += item.legs.size() + 2;  // the cut-off before them, the required end behind
      for (const model::Basis basis : live_bases) {
        if (!laid.goes_by_place || course_on(reading, basis) == nullptr) continue;
        read.places_row[basis] = in_places + 1;  // below a row of headings
        in_places += item.legs.size() + 2;
      }
      laid.readings.push_back(std::move(read));
    }
    in_cases += item.assured.size();
    items.push_back(std::move(laid));
  }
  ++in_margins;  // headings
  for (LaidItem& laid : items) laid.margins_row = in_margins++;
  criteria_in_cases = in_cases + 1;  // headings
  for (const auto& turn : trial.switches) switches.push_back(names.make("transfer", turn.transfer));
}

std::string TrialLayout::option_rows(std::size_t column) const {
  return fixed_range(column, first_item, first_item + items.size() - 1);
}

std::string TrialLayout::margin_rows(std::size_t column) const {
  return "Margins!" + fixed_range(column, items.front().margins_row, items.back().margins_row);
}

std::string TrialLayout::draw_per_day(const LaidItem& laid, std::size_t kind, const std::string& crew) {
  return laid.rate + "*" + rate_text(laid.item.draws[kind], crew);
}

std::string TrialLayout::make_per_day(const LaidItem& laid, std::size_t kind, const std::string& crew) const {
  return make_rate(laid) + "*" + rate_text(laid.item.makes[kind], crew);
}

std::string TrialLayout::moved_in(const model::TrialStep& step, std::optional<std::size_t> place) const {
  std::vector<std::string> terms;
  for (const auto& move : step.moves) {
    if (place && move.place != *place) continue;
    if (!move.by) {
      if (move.on != 0) terms.push_back(number(move.on));
    } else if (move.on != move.off) {
      terms.push_back(fmt::format("IF({}=\"yes\",{},{})", switches[*move.by], move.on, move.off));
    }
  }
  return terms.empty() ? std::string() : sum(terms);
}

std::string TrialLayout::words_of(model::Basis basis) const {
  if (basis == model::Basis::assured) return fmt::format("with {:g} % assurance", trial.assurance);
  return basis == model::Basis::plan ? "at plan" : "at the measured rate";
}

std::size_t phase_row(std::size_t stretch) { return Sheet::first_row + 1 + stretch; }

std::string days_of(const model::TrialLeg& leg) {
  if (leg.first == leg.last) return "Phases!" + fixed_cell(in_phases::days, phase_row(leg.last));
  return fmt::format("(Phases!{}-Phases!{})", fixed_cell(in_phases::after_cutoff, phase_row(leg.last)),
                     fixed_cell(in_phases::after_cutoff, phase_row(leg.first) - 1));
}

std::string crew_at(const model::TrialItem& item, std::size_t stretch) {
  return "Phases!" + fixed_cell(in_phases::crew + item.vehicle, phase_row(stretch));
}

const model::TrialCourse* course_on(const model::TrialReading& reading, model::Basis basis) {
  if (basis == model::Basis::plan) return &reading.plan;
  return reading.measured ? &*reading.measured : nullptr;
}

const model::TrialAmounts& amounts_at(const model::TrialCourse& course, std::size_t turn, Moment moment) {
  if (moment == Moment::at_end) return turn == 0 ? course.start : course.at_end[turn - 1];
  return turn == 0 ? course.begin : course.after[turn - 1];
}

const model::TrialStep& step_at(const model::TrialItem& item, std::size_t turn) {
  return turn == 0 ? item.at_start : item.legs[turn - 1].step;
}

double leak_of(const model::TrialReading& reading) {
  double leak = 0;
  for (const double of_place : reading.leaks) leak += of_place;
  return leak;
}

std::string words_of(const model::TrialReading& reading) {
  return reading.how.empty() ? std::string("as merged") : model::printable(reading.how);
}

}  // namespace daywright::write
