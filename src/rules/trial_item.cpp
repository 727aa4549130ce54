#include "rules/trial_item.h"

#include <algorithm>
#include <optional>
#include <utility>

#include "rules/course.h"
#include "rules/item_figures.h"
#include "rules/trial_legs.h"
#include "rules/trial_steps.h"

namespace daywright::rules {
namespace {

using model::Instant;

/// Lays out one item, whose plan is that of the margins of record.
class ItemMaker {
 public:
  ItemMaker(const TrialFlight& flight, const ItemMargins& margins, std::vector<model::TrialSwitch>& switches)
      : flight_(flight),
        evening_(flight.evening),
        mission_(flight.evening.mission),
        margins_(margins),
        item_(*margins.level->item),
        plan_(flight.plan_of(item_)),
        steps_(lay_out_steps(flight, plan_, switches)) {}

  model::TrialItem run() {
    lay_out_terms();
    lay_out_results();
    lay_out_legs();
    for (const auto& ahead : steps_.places) laid_.places.push_back(lay_out_place(ahead));
    const bool has_margin = margins_.plan.has_value();
    for (std::size_t i = 0; has_margin && i < margins_.level->reads.size(); ++i)
      laid_.readings.push_back(lay_out_reading(i));
    join_legs(flight_.stretches, laid_);
    return std::move(laid_);
  }

 private:
  void lay_out_terms() {
    laid_.id = item_.id;
    laid_.title = item_.title;
    laid_.unit = item_.unit->spelling;
    laid_.step = item_.step;
    laid_.vehicle = index_by_id(mission_.vehicles, item_.vehicle);
    if (!item_.made_from.empty()) laid_.made_from = index_by_id(mission_.items, item_.made_from);
    laid_.made_into = plan_.made_into;
    laid_.draws = rates([&](const model::DayKind& kind, int crew) { return daily_draw(item_, kind, crew); });
    laid_.makes = rates([&](const model::DayKind& kind, int crew) { return daily_make(mission_, item_, kind, crew); });
    laid_.switches = steps_.switches;
    laid_.has_ledger = !item_.ledger.empty();
    laid_.is_made_at_end = is_made(flight_.end);
    laid_.held_at_end = reserve(flight_.end);
    laid_.reserve_at_end = plan_.held_at_end;
  }

  /// By kind of day.
  template <class Rate>
  [[nodiscard]] std::vector<model::TrialRate> rates(const Rate& rate) const {
    std::vector<model::TrialRate> rates;
    for (const auto& kind : mission_.day_kinds) {
      const double fixed = rate(kind, 0);
      rates.push_back({fixed, rate(kind, 1) - fixed});
    }
    return rates;
  }

  [[nodiscard]] bool is_made(Instant when) const {
    return !item_.made_from.empty() && (item_.made_into.empty() || plan_.places[plan_.made_into].is_available(when));
  }

  [[nodiscard]] model::TrialReserve reserve(Instant when) const {
    model::TrialReserve reserve;
    reserve.is_made = is_made(when);
    for (const auto* line : reserve_at(mission_, item_, when)) {
      reserve.fixed += line->quantity;
      reserve.events += event_draw(item_, line->event_kind);
      if (line->days > 0) reserve.days.push_back({line->days, index_by_id(mission_.day_kinds, line->kind)});
    }
    return reserve;
  }

  void lay_out_results() {
    const auto result = [](const std::optional<Margin>& margin) {
      return margin ? std::optional(model::TrialMargin{margin->units, margin->days}) : std::nullopt;
    };
    const auto doubts = doubts_of(margins_);
    if (!doubts.empty()) laid_.doubt = doubts.front();
    laid_.plan = result(margins_.plan);
    laid_.measured = result(margins_.measured);
    laid_.governing = result(margins_.governing);
    laid_.governing_basis = margins_.governing_basis;
    laid_.verdict = judge_item(margins_);
  }

  // ---- The stretches ----

  /// One leg for each stretch; those that can be joined are later.
  void lay_out_legs() {
    laid_.at_start = steps_.by_turn.front();
    for (std::size_t i = 0; i < plan_.pieces.size(); ++i) {
      const PlanPiece& piece = plan_.pieces[i];
      const double days = model::in_days(piece.end - piece.begin);
      model::TrialLeg leg;
      leg.order = piece.order;
      leg.held = reserve(piece.begin);
      leg.is_made = is_made(piece.begin);
      leg.step = steps_.by_turn[i + 1];
      leg.per_day = piece.draw;
      leg.used = piece.draw * days;
      leg.made = piece.make * days;
      leg.reserve = piece.held;
      if (laid_.legs.size() + 1 == flight_.added_after) {
        // What happens at the end of this piece happens when the added days are over.
        laid_.legs.push_back(leg);
        laid_.legs.back().step = {};
        const auto& kind = *model::find_by_id(mission_.day_kinds, mission_.extension_kind);
        leg.per_day = daily_draw(item_, kind, crew_aboard(mission_, item_.vehicle, piece.begin));
        leg.used = leg.made = 0;
      }
      laid_.legs.push_back(std::move(leg));
    }
  }

  [[nodiscard]] model::TrialPlace lay_out_place(const PlaceAhead& ahead) const {
    model::TrialPlace place{ahead.place->title, {}, {}};
    for (std::size_t i = 0; i < flight_.stretches.size(); ++i) {
      const Instant end = flight_.stretches[i].end;
      const bool counts = ahead.is_available(end - model::Duration{1});
      place.counts_at_end.push_back(counts);
      // The added days stand between this stretch and what happens at its end.
      place.counts_after.push_back(i + 1 == flight_.added_after ? counts : ahead.is_available(end));
    }
    return place;
  }

  // ---- The readings of its counts ----

  [[nodiscard]] model::TrialReading lay_out_reading(std::size_t index) const {
    const ItemLevel& level = *margins_.level;
    const Course at_plan = course_of(model::Basis::plan, index);
    model::TrialReading reading;
    reading.how = level.reads[index].how;
    reading.leaks.resize(steps_.places.size());
    for (const auto& start : at_plan.starts) {
      for (std::size_t p = 0; p < steps_.places.size(); ++p) {
        if (steps_.places[p].place->id == start.place) reading.leaks[p] = start.leak;
      }
    }
    reading.plan = lay_out_course(at_plan);
    if (is_measured(level)) reading.measured = lay_out_course(course_of(model::Basis::measured, index));
    return reading;
  }

  [[nodiscard]] Course course_of(model::Basis basis, std::size_t reading) const {
    return find_courses(evening_.rules.margins, *margins_.level, basis)[reading];
  }

  [[nodiscard]] model::TrialCourse lay_out_course(const Course& course) const {
    const auto way = follow(plan_, course, Turnover::kept);
    const auto amounts_at = [&](const Waypoint& here, Instant as_of) {
      model::TrialAmounts amounts{here.usable, -here.usable, std::vector<double>(steps_.places.size())};
      for (std::size_t p = 0; p < plan_.places.size(); ++p) {
        amounts.places[p] = here.places[p].amount;
        if (plan_.places[p].is_available(as_of)) amounts.shortfall += here.places[p].amount;
      }
      return amounts;
    };
    model::TrialCourse laid;
    laid.factor = course.factor;
    laid.made_factor = course.made_factor;
    laid.start = amounts_at(way[0], plan_.from);
    laid.begin = amounts_at(way[1], plan_.from);
    for (std::size_t i = 0; i < plan_.pieces.size(); ++i) {
      const Instant end = plan_.pieces[i].end;
      laid.at_end.push_back(amounts_at(way[2 + 2 * i], end - model::Duration{1}));
      if (laid.at_end.size() == flight_.added_after) {
        laid.after.push_back(laid.at_end.back());
        laid.at_end.push_back(laid.at_end.back());
      }
      laid.after.push_back(amounts_at(way[3 + 2 * i], end));
    }
    const auto least =
        std::min_element(way.begin(), way.end(), [](const auto& a, const auto& b) { return a.margin() < b.margin(); });
    laid.units = least->margin();
    double leak = 0;
    for (const auto& start : course.starts) leak += start.leak;
    laid.daily = course.factor * plan_.last_draw - course.made_factor * plan_.last_make + leak;
    constexpr double nothing = 1e-12;
    if (laid.daily > nothing) laid.days = laid.units / laid.daily;
    return laid;
  }

  const TrialFlight& flight_;
  const Evening& evening_;
  const model::Mission& mission_;
  const ItemMargins& margins_;
  const model::Item& item_;
  ItemPlan plan_;
  TrialSteps steps_;
  model::TrialItem laid_;
};

}  // namespace

model::TrialItem lay_out_trial_item(const TrialFlight& flight, const ItemMargins& margins,
                                    std::vector<model::TrialSwitch>& switches) {
  return ItemMaker(flight, margins, switches).run();
}

}  // namespace daywright::rules
