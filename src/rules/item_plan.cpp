#include "rules/item_plan.h"

#include <algorithm>

#include "rules/levels.h"

namespace daywright::rules {
namespace {

using model::Instant;

struct TimedMove {
  Instant when;
  PlanJump::Move move;
};

/// Builds the plan of one item.
class Planner {
 public:
  Planner(const model::Mission& mission, const std::vector<Stretch>& flight, const model::Item& item,
          const model::Facts& facts, const PlanChoice& choice)
      : mission_(mission),
        flight_(flight),
        item_(item),
        facts_(facts),
        choice_(choice),
        rate_(choice.rate_of(item.id)),
        made_rate_(choice.rate_of(item.made_from)) {
    if (!item.made_from.empty()) made_from_ = model::find_by_id(mission.items, item.made_from);
  }

  ItemPlan run(Instant from, const std::vector<Instant>& also_cut_at) {
    plan_.item = &item_;
    plan_.from = from;
    plan_.end = mission_.required_end();
    for (const auto& id : item_.places) add_place(id);
    if (!item_.made_into.empty()) plan_.made_into = index_of(item_.made_into);
    for (const auto& fact : facts_.transfers) {
      if (fact.row.item == item_.id && fact.row.state == model::TransferState::planned) plan_transfer(fact.row);
    }
    const std::vector<Instant> cuts = find_cuts(also_cut_at);
    plan_.at_start = jump_at(from, false);
    auto stretch = flight_.begin();
    for (std::size_t i = 1; i < cuts.size(); ++i) {
      while (stretch->end <= cuts[i - 1]) ++stretch;
      plan_.pieces.push_back(piece_between(cuts[i - 1], cuts[i], *stretch));
      plan_.jumps.push_back(jump_at(cuts[i], true));
    }
    plan_.held_at_end = held_at(plan_.end);
    const auto* last = model::find_by_id(mission_.day_kinds, mission_.margin_kind);
    const int crew = crew_aboard(mission_, item_.vehicle, plan_.end);
    plan_.last_draw = draw_per_day(*last, crew);
    plan_.last_make = can_make(plan_.end) ? make_per_day(*last, crew) : 0;
    return std::move(plan_);
  }

 private:
  std::size_t add_place(const std::string& id) {
    const auto* place = model::find_by_id(mission_.places, id);
    const auto* until = model::find_by_id(mission_.events, place->until);
    const bool is_own = std::find(item_.places.begin(), item_.places.end(), id) != item_.places.end();
    plan_.places.push_back({place, model::amount_in(item_.residual, id), model::amount_in(item_.capacity, id),
                            until == nullptr ? Instant::max() : until->at, is_own && place->vehicle == item_.vehicle,
                            place->state == model::PlaceState::usable});
    return plan_.places.size() - 1;
  }

  /// The index of a place of the mission, which is added where it is none of the item's own.
  std::size_t index_of(const std::string& id) {
    const auto found =
        std::find_if(plan_.places.begin(), plan_.places.end(), [&](const auto& p) { return p.place->id == id; });
    return found == plan_.places.end() ? add_place(id) : static_cast<std::size_t>(found - plan_.places.begin());
  }

  [[nodiscard]] const PlaceAhead* own_place(const std::string& id) const {
    const auto found =
        std::find_if(plan_.places.begin(), plan_.places.end(), [&](const auto& p) { return p.place->id == id; });
    return found == plan_.places.end() ? nullptr : &*found;
  }

  /// Nothing is taken from, or put into, a place of the plan that has gone; what lies outside the plan is there.
  [[nodiscard]] bool exists(const std::string& id, Instant when) const {
    const auto* place = model::find_by_id(mission_.places, id);
    return place == nullptr || is_there(mission_, *place, when);
  }

  /// A transfer inside the vehicle is carried out. One that leaves it counts on the side that hurts; one that
  /// comes in counts only where it is chosen. For a capacity, taking something in is what hurts.
  void plan_transfer(const model::TransferRow& row) {
    const Instant when = time_of(row, mission_, plan_.from);
    const bool fills_up = plan_.fills_up();
    const double sign = fills_up ? -1 : 1;
    const PlaceAhead* const from = own_place(row.from_place);
    const PlaceAhead* const to = own_place(row.to_place);
    const bool from_ours = from != nullptr && from->is_ours;
    const bool to_ours = to != nullptr && to->is_ours;
    const bool inside = from_ours && to_ours;
    const bool is_chosen = choice_.all_in || choice_.in.contains(row.transfer);
    const bool is_let_out = !choice_.not_out.contains(row.transfer);
    // Nothing is won at one end of a transfer whose other end has gone, nor at an end that has gone itself.
    const bool have_both_ends = exists(row.from_place, when) && exists(row.to_place, when);
    // Only what lies where it can be drawn from is counted, so only that can be lost.
    if (from != nullptr) {
      const bool hurts = !fills_up;
      const bool is_possible = hurts ? from->is_available(when) : have_both_ends;
      if (is_possible && (inside || is_chosen || (hurts == from_ours && (!hurts || is_let_out))))
        moves_.push_back({when, {index_of(row.from_place), -sign * row.quantity, row.transfer}});
    }
    if (to != nullptr) {
      const bool hurts = fills_up;
      const bool is_possible = hurts ? to->is_available(when) : have_both_ends;
      if (is_possible && (inside || is_chosen || (hurts && to_ours && is_let_out)))
        moves_.push_back({when, {index_of(row.to_place), sign * row.quantity, row.transfer}});
    }
  }

  [[nodiscard]] std::vector<Instant> find_cuts(const std::vector<Instant>& also_cut_at) const {
    std::vector<Instant> cuts{plan_.from, plan_.end};
    const auto add_cut = [&](Instant when) {
      if (when > plan_.from && when < plan_.end) cuts.push_back(when);
    };
    for (const auto& stretch : flight_) add_cut(stretch.begin);
    for (const auto& event : mission_.events) add_cut(event.at);
    for (const auto& timed : moves_) add_cut(timed.when);
    for (const Instant when : also_cut_at) add_cut(when);
    std::sort(cuts.begin(), cuts.end());
    cuts.erase(std::unique(cuts.begin(), cuts.end()), cuts.end());
    return cuts;
  }

  [[nodiscard]] double draw_per_day(const model::DayKind& kind, int crew) const {
    return rate_ * daily_draw(item_, kind, crew);
  }
  [[nodiscard]] double make_per_day(const model::DayKind& kind, int crew) const {
    return made_rate_ * daily_make(mission_, item_, kind, crew);
  }

  /// What is made is lost, or not even made, where the place that it goes into is no longer there.
  [[nodiscard]] bool can_make(Instant when) const {
    return item_.made_into.empty() || plan_.places[plan_.made_into].is_available(when);
  }

  [[nodiscard]] double held_at(Instant when) const {
    if (item_.reserve.empty()) return 0;
    double held = 0;
    const int crew = crew_aboard(mission_, item_.vehicle, when);
    for (const auto* line : reserve_at(mission_, item_, when)) {
      held += line->quantity + rate_ * event_draw(item_, line->event_kind);
      if (line->days > 0) {
        const auto* kind = model::find_by_id(mission_.day_kinds, line->kind);
        const double make = can_make(when) ? make_per_day(*kind, crew) : 0;
        held += line->days * std::max(0.0, draw_per_day(*kind, crew) - make);
      }
    }
    return held;
  }

  [[nodiscard]] PlanPiece piece_between(Instant begin, Instant end, const Stretch& stretch) {
    const int crew = crew_aboard(mission_, item_.vehicle, begin);
    const double make = can_make(begin) ? make_per_day(*stretch.kind, crew) : 0;
    PlanPiece piece{begin, end, stretch.title, draw_per_day(*stretch.kind, crew), make, held_at(begin), {}};
    for (const auto& id : draw_order(mission_, item_, begin)) {
      const std::size_t index = index_of(id);
      if (plan_.places[index].is_available(begin)) piece.order.push_back(index);
    }
    return piece;
  }

  [[nodiscard]] PlanJump jump_at(Instant at, bool with_events) const {
    PlanJump jump;
    for (const auto& event : mission_.events) {
      if (!with_events || event.at != at) continue;
      const double draw = event_draw(item_, event.kind);
      jump.draw += rate_ * draw;
      if (draw > 0) jump.variance += item_.event_sigma * item_.event_sigma;
      const bool is_made = made_from_ != nullptr && can_make(at - model::Duration{1});
      if (is_made) jump.make += made_rate_ * item_.made_ratio * event_draw(*made_from_, event.kind);
    }
    for (const auto& timed : moves_) {
      if (timed.when != at) continue;
      jump.moves.push_back(timed.move);
      jump.variance += item_.transfer_sigma * item_.transfer_sigma;
    }
    return jump;
  }

  const model::Mission& mission_;
  const std::vector<Stretch>& flight_;
  const model::Item& item_;
  const model::Facts& facts_;
  const PlanChoice& choice_;
  double rate_;
  double made_rate_;
  const model::Item* made_from_ = nullptr;
  ItemPlan plan_;
  std::vector<TimedMove> moves_;
};

}  // namespace

ItemPlan plan_item(const model::Mission& mission, const std::vector<Stretch>& flight, const model::Item& item,
                   const model::Facts& facts, const PlanChoice& choice, Instant from,
                   const std::vector<Instant>& also_cut_at) {
  return Planner(mission, flight, item, facts, choice).run(from, also_cut_at);
}

Instant time_of(const model::TransferRow& row, const model::Mission& mission, Instant from) {
  return std::max(mission.transfer_delay.of(row.when), from);
}

std::vector<const model::ReserveLine*> reserve_at(const model::Mission& mission, const model::Item& item,
                                                  Instant when) {
  std::vector<const model::ReserveLine*> held;
  for (const auto& line : item.reserve) {
    const auto* release = model::find_by_id(mission.events, line.released_by);
    if (release == nullptr || release->at > when) held.push_back(&line);
  }
  return held;
}

}  // namespace daywright::rules
