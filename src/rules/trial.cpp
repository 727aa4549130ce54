#include "rules/trial.h"

#include <algorithm>
#include <cassert>
#include <future>
#include <map>
#include <set>
#include <string_view>
#include <utility>

#include <fmt/format.h>

#include "rules/course.h"
#include "rules/decisions.h"
#include "rules/evidence.h"
#include "rules/item_figures.h"
#include "rules/item_plan.h"
#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Instant;

template <class Things>
std::size_t index_by_id(const Things& things, const std::string& id) {
  const auto found = std::find_if(things.begin(), things.end(), [&](const auto& thing) { return thing.id == id; });
  assert(found != things.end());
  return static_cast<std::size_t>(found - things.begin());
}

/// What a transfer does to an item: at which turn (0: the cut-off), in which place, how much.
struct Effect {
  std::size_t turn = 0;
  const model::Place* place = nullptr;
  double quantity = 0;

  bool operator==(const Effect&) const = default;
};

std::vector<Effect> effects_of(const ItemPlan& plan, std::string_view transfer) {
  std::vector<Effect> effects;
  const auto add = [&](std::size_t turn, const PlanJump& jump) {
    for (const auto& move : jump.moves) {
      if (move.transfer == transfer) effects.push_back({turn, plan.places[move.place].place, move.quantity});
    }
  };
  add(0, plan.at_start);
  for (std::size_t i = 0; i < plan.jumps.size(); ++i) add(i + 1, plan.jumps[i]);
  return effects;
}

/// Lays out the flight that all items share, then each item along it.
class TrialMaker {
 public:
  TrialMaker(const Evening& evening, const Evaluation& now)
      : evening_(evening), mission_(evening.mission), now_(now), end_(mission_.required_end()) {}

  model::TrialPlan run() {
    if (evening_.cutoff >= end_) return {};
    const auto* before = model::find_by_id(mission_.events, mission_.extension_before);
    added_at_ = before->at;
    can_be_longer_ = added_at_ > evening_.cutoff && added_at_ <= end_;
    trial_.days_possible = can_be_longer_ ? model::TrialPlan::most_days : 0;
    trial_.added_before = before->title;
    trial_.cutoff = evening_.cutoff;
    trial_.landing = mission_.landing();
    trial_.lands_later = can_be_longer_ && trial_.landing >= added_at_;
    trial_.bases = evening_.rules.margins.bases;
    trial_.assurance = evening_.rules.margins.assurance;
    trial_.are_decisions_sound = doubts_about_decisions(evening_.facts).empty();
    for (const auto& kind : mission_.day_kinds) trial_.kinds.push_back(kind.title);
    trial_.margin_kind = index_by_id(mission_.day_kinds, mission_.margin_kind);
    lay_out_crew();
    lay_out_flight();
    for (const ItemMargins& margins : now_.margins) lay_out_item(margins);
    const auto index_of = [&](const ItemMargins* item) {
      return item == nullptr ? std::nullopt : std::optional(static_cast<std::size_t>(item - now_.margins.data()));
    };
    trial_.limiting = index_of(find_limiting(now_.margins));
    for (const auto basis : {model::Basis::plan, model::Basis::measured, model::Basis::assured})
      trial_.limiting_on.at(static_cast<std::size_t>(basis)) = index_of(find_limiting(now_.margins, basis));
    lay_out_criteria();
    find_cases();
    return std::move(trial_);
  }

 private:
  void lay_out_crew() {
    trial_.own_vehicle = index_by_id(mission_.vehicles, mission_.vehicle);
    // Another crew from the cut-off on leaves those where they are who are elsewhere by then (options.cpp).
    const Instant just_before = evening_.cutoff - model::Duration{1};
    for (const auto& vehicle : mission_.vehicles) {
      trial_.vehicles.push_back(vehicle.title);
      trial_.crew_at_end.push_back(crew_aboard(mission_, vehicle.id, end_));
      trial_.crew_elsewhere.push_back(crew_aboard(mission_, vehicle.id, just_before));
    }
  }

  void lay_out_flight() {
    flight_ = stretches(mission_, evening_.cutoff, end_);
    std::map<Instant, std::string> happens;
    const auto add = [&](Instant when, const std::string& what) {
      std::string& words = happens[when];
      words += (words.empty() ? "" : "; ") + what;
    };
    for (const auto& event : mission_.events) add(event.at, event.title);
    for (const auto& fact : evening_.facts.transfers) {
      if (fact.row.state != model::TransferState::planned) continue;
      const Instant when = time_of(fact.row, mission_, evening_.cutoff);
      cuts_.push_back(when);
      if (when > evening_.cutoff) add(when, "transfer " + fact.row.transfer);
    }
    // Every item is cut alike, so any of them tells the pieces; without one there is nothing to lay out.
    if (mission_.items.empty()) return;
    const ItemPlan plan = plan_of(mission_.items.front(), {});
    auto stretch = flight_.begin();
    for (const PlanPiece& piece : plan.pieces) {
      while (stretch->end <= piece.begin) ++stretch;
      model::TrialStretch laid{std::string(piece.title), {}, piece.begin, piece.end, false,
                               piece.end > added_at_,    0,  {}};
      laid.kind = index_by_id(mission_.day_kinds, stretch->kind->id);
      for (const auto& vehicle : mission_.vehicles) laid.crew.push_back(crew_aboard(mission_, vehicle.id, piece.begin));
      const std::string what = happens[piece.end];
      const bool is_added_after = can_be_longer_ && piece.end == added_at_;
      if (!is_added_after) laid.ends_with = what;
      trial_.stretches.push_back(laid);
      if (!is_added_after) continue;
      added_after_ = trial_.stretches.size();
      laid.phase = model::find_by_id(mission_.day_kinds, mission_.extension_kind)->title;
      laid.begin = laid.end;
      laid.is_added = laid.ends_later = true;
      laid.ends_with = what;
      laid.kind = index_by_id(mission_.day_kinds, mission_.extension_kind);
      trial_.stretches.push_back(std::move(laid));
    }
  }

  [[nodiscard]] ItemPlan plan_of(const model::Item& item, const PlanChoice& choice) const {
    return plan_item(mission_, flight_, item, evening_.facts, choice, evening_.cutoff, cuts_);
  }

  [[nodiscard]] std::vector<model::TrialRate> rates_of(const model::Item& item, bool made) const {
    const auto rate = [&](const model::DayKind& kind, int crew) {
      return made ? daily_make(mission_, item, kind, crew) : daily_draw(item, kind, crew);
    };
    std::vector<model::TrialRate> rates;
    for (const auto& kind : mission_.day_kinds) {
      const double fixed = rate(kind, 0);
      rates.push_back({fixed, rate(kind, 1) - fixed});
    }
    return rates;
  }

  [[nodiscard]] model::TrialReserve reserve_of(const model::Item& item, Instant when, bool is_made) const {
    model::TrialReserve reserve;
    reserve.is_made = is_made;
    for (const auto* line : reserve_at(mission_, item, when)) {
      reserve.fixed += line->quantity;
      reserve.events += event_draw(item, line->event_kind);
      if (line->days > 0) reserve.days.push_back({line->days, index_by_id(mission_.day_kinds, line->kind)});
    }
    return reserve;
  }

  void lay_out_item(const ItemMargins& margins) {
    const model::Item& item = *margins.level->item;
    model::TrialItem laid;
    laid.id = item.id;
    laid.title = item.title;
    laid.unit = item.unit->spelling;
    laid.step = item.step;
    laid.vehicle = index_by_id(mission_.vehicles, item.vehicle);
    if (!item.made_from.empty()) laid.made_from = index_by_id(mission_.items, item.made_from);
    laid.draws = rates_of(item, false);
    laid.makes = rates_of(item, true);
    laid.has_ledger = !item.ledger.empty();
    lay_out_results(margins, laid);

    const ItemPlan plan = plan_of(item, {});
    places_.clear();
    for (const auto& ahead : plan.places) places_.push_back(ahead);
    laid.made_into = plan.made_into;
    std::vector<model::TrialStep> steps(plan.pieces.size() + 1);  // the first is at the cut-off
    for (std::size_t turn = 0; turn < steps.size(); ++turn) {
      const PlanJump& jump = turn == 0 ? plan.at_start : plan.jumps[turn - 1];
      steps[turn].draw = jump.draw;
      steps[turn].make = jump.make;
      for (const auto& move : jump.moves) steps[turn].moved += move.quantity;
    }
    lay_out_transfers(item, plan, steps, laid);
    laid.at_start = steps.front();
    const auto is_made = [&](Instant when) {
      return !item.made_from.empty() && (item.made_into.empty() || plan.places[plan.made_into].is_available(when));
    };
    for (std::size_t i = 0; i < plan.pieces.size(); ++i) {
      const PlanPiece& piece = plan.pieces[i];
      const bool makes = is_made(piece.begin);
      model::TrialLeg leg{0, 0, piece.order, reserve_of(item, piece.begin, makes), makes, steps[i + 1], piece.draw,
                          0, 0, piece.held};
      const double days = model::in_days(piece.end - piece.begin);
      leg.used = piece.draw * days;
      leg.made = piece.make * days;
      if (laid.legs.size() + 1 == added_after_) {
        // What happens at the end of this piece happens when the added days are over.
        laid.legs.push_back(leg);
        laid.legs.back().step = {};
        const auto& kind = *model::find_by_id(mission_.day_kinds, mission_.extension_kind);
        leg.per_day = daily_draw(item, kind, crew_aboard(mission_, item.vehicle, piece.begin));
        leg.used = leg.made = 0;
      }
      laid.legs.push_back(std::move(leg));
    }
    laid.is_made_at_end = is_made(end_);
    laid.held_at_end = reserve_of(item, end_, laid.is_made_at_end);
    laid.reserve_at_end = plan.held_at_end;
    for (const auto& ahead : places_) laid.places.push_back(lay_out_place(ahead));
    const bool has_margin = margins.plan.has_value();
    for (std::size_t i = 0; has_margin && i < margins.level->reads.size(); ++i)
      laid.readings.push_back(lay_out_reading(*margins.level, plan, i));
    join_legs(laid);
    trial_.items.push_back(std::move(laid));
  }

  /// Whether nothing happens to the item between the stretches `i` and `i` + 1, so that all runs straight through.
  [[nodiscard]] bool runs_through(const model::TrialItem& item, std::size_t i) const {
    const auto& here = trial_.stretches[i];
    const auto& next = trial_.stretches[i + 1];
    const auto& leg = item.legs[i];
    const auto& then = item.legs[i + 1];
    const bool is_same_day =
        here.kind == next.kind && here.phase == next.phase && here.crew[item.vehicle] == next.crew[item.vehicle];
    const bool nothing_happens = leg.step.draw == 0 && leg.step.make == 0 && leg.step.moves.empty();
    return is_same_day && nothing_happens && !here.is_added && !next.is_added && leg.order == then.order &&
           leg.held == then.held && leg.is_made == then.is_made &&
           std::all_of(item.places.begin(), item.places.end(), [&](const auto& place) {
             return place.counts_at_end[i] == place.counts_after[i] &&
                    place.counts_after[i] == place.counts_at_end[i + 1];
           });
  }

  /// In which place an item lies depends on what comes first, where it leaks or is made while it is drawn.
  [[nodiscard]] static bool can_join(const model::TrialItem& item) {
    const auto leaks = [](const auto& reading) {
      return std::any_of(reading.leaks.begin(), reading.leaks.end(), [](double leak) { return leak > 0; });
    };
    return item.places.size() == 1 ||
           (!item.made_from && std::none_of(item.readings.begin(), item.readings.end(), leaks));
  }

  /// Makes one leg of stretches that run through.
  void join_legs(model::TrialItem& item) const {
    std::vector<std::size_t> ends;  // the last stretch of each leg
    for (std::size_t i = 0; i < item.legs.size(); ++i) {
      if (i + 1 == item.legs.size() || !can_join(item) || !runs_through(item, i)) ends.push_back(i);
    }
    const auto keep_ends = [&](auto& of_stretches) {
      std::remove_reference_t<decltype(of_stretches)> kept;
      for (const std::size_t end : ends) kept.push_back(of_stretches[end]);
      of_stretches = std::move(kept);
    };
    auto legs = std::move(item.legs);
    item.legs.clear();
    std::size_t first = 0;
    for (const std::size_t end : ends) {
      model::TrialLeg joined = legs[end];
      joined.first = first;
      joined.last = end;
      for (; first < end; ++first) {
        joined.used += legs[first].used;
        joined.made += legs[first].made;
      }
      first = end + 1;
      item.legs.push_back(std::move(joined));
    }
    for (auto& place : item.places) {
      keep_ends(place.counts_at_end);
      keep_ends(place.counts_after);
    }
    for (auto& reading : item.readings) {
      for (auto* course : {&reading.plan, reading.measured ? &*reading.measured : nullptr}) {
        if (course == nullptr) continue;
        keep_ends(course->at_end);
        keep_ends(course->after);
      }
    }
  }

  static void lay_out_results(const ItemMargins& margins, model::TrialItem& laid) {
    const auto result = [](const std::optional<Margin>& margin) {
      return margin ? std::optional(model::TrialMargin{margin->units, margin->days}) : std::nullopt;
    };
    const auto doubts = doubts_of(margins);
    if (!doubts.empty()) laid.doubt = doubts.front();
    laid.plan = result(margins.plan);
    laid.measured = result(margins.measured);
    laid.governing = result(margins.governing);
    laid.governing_basis = margins.governing_basis;
    laid.verdict = judge_item(margins);
  }

  [[nodiscard]] model::TrialPlace lay_out_place(const PlaceAhead& ahead) const {
    model::TrialPlace place{ahead.place->title, {}, {}};
    for (std::size_t i = 0; i < trial_.stretches.size(); ++i) {
      const Instant end = trial_.stretches[i].end;
      const bool counts = ahead.is_available(end - model::Duration{1});
      place.counts_at_end.push_back(counts);
      // The added days stand between this stretch and what happens at its end.
      place.counts_after.push_back(i + 1 == added_after_ ? counts : ahead.is_available(end));
    }
    return place;
  }

  std::size_t place_index(const ItemPlan& plan, const model::Place* place) {
    const auto found = std::find_if(places_.begin(), places_.end(), [&](const auto& p) { return p.place == place; });
    if (found != places_.end()) return static_cast<std::size_t>(found - places_.begin());
    places_.push_back(
        *std::find_if(plan.places.begin(), plan.places.end(), [&](const auto& p) { return p.place == place; }));
    return places_.size() - 1;
  }

  /// Each planned transfer of the item as the margins of record have it, and the other way round.
  void lay_out_transfers(const model::Item& item, const ItemPlan& plan, std::vector<model::TrialStep>& steps,
                         model::TrialItem& laid) {
    std::set<std::string_view> seen;
    for (const auto& fact : evening_.facts.transfers) {
      const auto& row = fact.row;
      if (row.item != item.id || row.state != model::TransferState::planned || !seen.insert(row.transfer).second)
        continue;
      const auto of_record = effects_of(plan, row.transfer);
      const ItemPlan without = plan_of(item, {.not_out = {row.transfer}});
      const ItemPlan with = plan_of(item, {.in = {row.transfer}});
      const bool is_on = effects_of(without, row.transfer) != of_record;
      const ItemPlan& turned = is_on ? without : with;
      const auto otherwise = effects_of(turned, row.transfer);
      std::optional<std::size_t> by;
      if (otherwise != of_record && laid.switches.size() < most_switches_of_item) {
        by = trial_.switches.size();
        laid.switches.push_back(*by);
        trial_.switches.push_back({row.transfer, describe(row, item), is_on});
      }
      const auto add = [&](const std::vector<Effect>& effects, const ItemPlan& from, bool on) {
        for (const Effect& effect : effects) {
          const std::size_t place = place_index(from, effect.place);
          auto& moves = steps[effect.turn].moves;
          auto found = std::find_if(moves.begin(), moves.end(),
                                    [&](const auto& move) { return move.place == place && by && move.by == by; });
          if (found == moves.end()) found = moves.insert(moves.end(), {place, 0, 0, by});
          (on ? found->on : found->off) += effect.quantity;
        }
      };
      if (!by) {
        add(of_record, plan, true);
        continue;
      }
      add(of_record, plan, is_on);
      add(otherwise, turned, !is_on);
    }
  }

  [[nodiscard]] std::string describe(const model::TransferRow& row, const model::Item& item) const {
    const auto title_of = [&](const std::string& id) {
      const auto* place = model::find_by_id(mission_.places, id);
      return place == nullptr ? std::string("outside") : place->title;
    };
    return fmt::format("{} {} {}, {} to {}, {}", model::format_number(row.quantity, item.step), item.unit->spelling,
                       item.title, title_of(row.from_place), title_of(row.to_place), model::format_utc(row.when));
  }

  model::TrialReading lay_out_reading(const ItemLevel& level, const ItemPlan& plan, std::size_t index) const {
    const auto at_plan = find_courses(evening_.rules.margins, level, model::Basis::plan);
    model::TrialReading reading;
    reading.how = level.reads[index].how;
    reading.leaks.resize(places_.size());
    for (const auto& start : at_plan[index].starts) {
      for (std::size_t p = 0; p < places_.size(); ++p) {
        if (places_[p].place->id == start.place) reading.leaks[p] = start.leak;
      }
    }
    reading.plan = lay_out_course(plan, at_plan[index]);
    if (is_measured(level))
      reading.measured =
          lay_out_course(plan, find_courses(evening_.rules.margins, level, model::Basis::measured)[index]);
    return reading;
  }

  [[nodiscard]] model::TrialCourse lay_out_course(const ItemPlan& plan, const Course& course) const {
    const auto way = follow(plan, course, Turnover::kept);
    const auto amounts_at = [&](const Waypoint& here, Instant as_of) {
      model::TrialAmounts amounts{here.usable, -here.usable, std::vector<double>(places_.size())};
      for (std::size_t p = 0; p < plan.places.size(); ++p) {
        amounts.places[p] = here.places[p].amount;
        if (plan.places[p].is_available(as_of)) amounts.shortfall += here.places[p].amount;
      }
      return amounts;
    };
    model::TrialCourse laid;
    laid.factor = course.factor;
    laid.made_factor = course.made_factor;
    laid.start = amounts_at(way[0], plan.from);
    laid.begin = amounts_at(way[1], plan.from);
    for (std::size_t i = 0; i < plan.pieces.size(); ++i) {
      const Instant end = plan.pieces[i].end;
      laid.at_end.push_back(amounts_at(way[2 + 2 * i], end - model::Duration{1}));
      if (laid.at_end.size() == added_after_) {
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
    laid.daily = course.factor * plan.last_draw - course.made_factor * plan.last_make + leak;
    constexpr double nothing = 1e-12;
    if (laid.daily > nothing) laid.days = laid.units / laid.daily;
    return laid;
  }

  void lay_out_criteria() {
    for (const auto& criterion : evening_.rules.criteria) {
      if (!criterion.limits_extension) continue;
      model::TrialCriterion laid;
      laid.title = model::find_by_id(mission_.gates, criterion.gate)->title + ": " + criterion.title;
      const auto* figure = std::get_if<model::FigureCriterion>(&criterion.demand);
      if (figure != nullptr) laid.margin = margin_asked(*figure);
      laid.depends_on_changes = (figure != nullptr && !laid.margin) ||
                                std::holds_alternative<model::WorkFitsCriterion>(criterion.demand) ||
                                std::holds_alternative<model::RestCriterion>(criterion.demand);
      trial_.criteria.push_back(std::move(laid));
    }
  }

  /// The margin that a criterion asks for; nothing where it asks for something else.
  [[nodiscard]] std::optional<model::TrialCriterion::OfMargin> margin_asked(
      const model::FigureCriterion& demand) const {
    for (std::size_t i = 0; i < mission_.items.size(); ++i) {
      const std::string prefix = "item." + mission_.items[i].id + ".margin.";
      for (const auto& [name, basis] :
           {std::pair{"", std::optional<model::Basis>{}}, std::pair{"plan.", std::optional(model::Basis::plan)},
            std::pair{"measured.", std::optional(model::Basis::measured)},
            std::pair{"assured.", std::optional(model::Basis::assured)}}) {
        for (const bool in_days : {true, false}) {
          if (demand.figure != prefix + name + (in_days ? "days" : "units")) continue;
          const ItemMargins& margins = now_.margins[i];
          // There is no such figure.
          if (basis == model::Basis::measured && !margins.level->has_daily_use) return std::nullopt;
          if (basis == model::Basis::assured && !mission_.items[i].ledger.empty()) return std::nullopt;
          const model::Unit* unit = in_days ? model::find_unit("d") : mission_.items[i].unit;
          if (demand.unit == nullptr || demand.unit->dimension != unit->dimension) return std::nullopt;
          return model::TrialCriterion::OfMargin{
              i,
              basis,
              in_days,
              demand.comparison,
              model::convert(demand.limit, *demand.unit, *unit),
              (basis ? texts_of(margins.level->doubts) : doubts_of(margins)).empty()};
        }
      }
    }
    return std::nullopt;
  }

  /// What only the program can tell, for so many days more: the assured margins with every choice of transfers, and the
  /// criteria.
  struct Cases {
    std::vector<std::vector<model::TrialMargin>> assured;  ///< by item, then by state of its switches
    std::vector<model::Verdict> criteria;
    model::Verdict verdict = model::Verdict::no_data;
  };

  [[nodiscard]] Cases cases_of(int days) const {
    const model::Mission longer = extend(mission_, days);
    const auto& rules = evening_.rules.margins;
    const auto margins =
        days == 0 ? now_.margins
                  : compute_margins(longer, rules, evening_.facts, now_.levels, evening_.cutoff, Detail::margins);
    const auto flight = stretches(longer, evening_.cutoff, longer.required_end());
    Cases cases;
    for (std::size_t i = 0; i < trial_.items.size(); ++i) {
      auto& assured = cases.assured.emplace_back();
      const auto& switches = trial_.items[i].switches;
      for (std::size_t state = 0; margins[i].assured && state < std::size_t{1} << switches.size(); ++state) {
        const auto& margin = state == 0
                                 ? margins[i]
                                 : compute_item_margins(longer, rules, flight, evening_.facts, *margins[i].level,
                                                        evening_.cutoff, Detail::margins, turned(switches, state));
        assured.push_back({margin.assured->units, margin.assured->days});
      }
    }
    // Criteria on margins are worked out live: beyond the flight as planned nobody asks for them here.
    const bool is_asked = days == 0 || std::any_of(trial_.criteria.begin(), trial_.criteria.end(),
                                                   [](const auto& criterion) { return !criterion.margin; });
    if (!is_asked) return cases;
    auto flown = judge_flight(evening_, longer, margins, now_.tasks);
    cases.criteria = std::move(flown.criteria);
    cases.verdict = flown.verdict;
    return cases;
  }

  [[nodiscard]] PlanChoice turned(const std::vector<std::size_t>& switches, std::size_t state) const {
    PlanChoice choice;
    for (std::size_t bit = 0; bit < switches.size(); ++bit) {
      if ((state >> bit & 1) == 0) continue;
      const auto& turn = trial_.switches[switches[bit]];
      (turn.is_on ? choice.not_out : choice.in).insert(turn.transfer);
    }
    return choice;
  }

  void find_cases() {
    std::vector<Cases> by_days(static_cast<std::size_t>(trial_.days_possible) + 1);
    // Two halves side by side: they share nothing that changes.
    const auto find = [&](std::size_t first) {
      for (std::size_t days = first; days < by_days.size(); days += 2) by_days[days] = cases_of(static_cast<int>(days));
    };
    auto other_half = std::async(std::launch::async, find, 1);
    find(0);
    other_half.get();
    trial_.verdict = by_days.front().verdict;
    for (const Cases& cases : by_days) {
      for (std::size_t i = 0; i < trial_.items.size(); ++i) {
        auto& assured = trial_.items[i].assured;
        assured.resize(cases.assured[i].size());
        for (std::size_t state = 0; state < assured.size(); ++state) assured[state].push_back(cases.assured[i][state]);
      }
      for (std::size_t c = 0; c < cases.criteria.size(); ++c) {
        auto& criterion = trial_.criteria[c];
        if (!criterion.margin || criterion.verdicts.empty()) criterion.verdicts.push_back(cases.criteria[c]);
      }
    }
  }

  const Evening& evening_;
  const model::Mission& mission_;
  const Evaluation& now_;
  Instant end_;
  Instant added_at_;
  bool can_be_longer_ = false;
  std::size_t added_after_ = 0;  ///< so many stretches come before the added days; 0: none are possible
  std::vector<Stretch> flight_;
  std::vector<Instant> cuts_;
  std::vector<PlaceAhead> places_;  ///< of the item that is being laid out
  model::TrialPlan trial_;
};

}  // namespace

model::TrialPlan lay_out_trial(const Evening& evening, const Evaluation& now) { return TrialMaker(evening, now).run(); }

}  // namespace daywright::rules
