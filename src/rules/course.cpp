#include "rules/course.h"

#include <algorithm>
#include <limits>

namespace daywright::rules {
namespace {

using model::Instant;

/// Carries the amounts that can be used, place by place, along the plan.
class Walk {
 public:
  Walk(const ItemPlan& plan, const Course& course, Turnover turnover)
      : plan_(plan), course_(course), keeps_turnover_(turnover == Turnover::kept), held_(plan.places.size()) {
    for (const auto& start : course.starts) {
      for (std::size_t i = 0; i < held_.size(); ++i) {
        if (plan.places[i].place->id == start.place) begin_place(i, start);
      }
    }
  }

  std::vector<Waypoint> run() {
    const auto& pieces = plan_.pieces;
    waypoints_.reserve(2 + 2 * pieces.size());
    const double held_now = pieces.empty() ? plan_.held_at_end : pieces.front().held;
    const std::string_view phase = pieces.empty() ? std::string_view{} : pieces.front().title;
    note(plan_.from, plan_.from, phase, held_now);
    jump(plan_.at_start, pieces.empty() ? std::vector<std::size_t>{} : pieces.front().order);
    note(plan_.from, plan_.from, phase, held_now);
    for (std::size_t i = 0; i < pieces.size(); ++i) {
      const PlanPiece& piece = pieces[i];
      flow(piece);
      const bool is_last = i + 1 == pieces.size();
      const std::string_view phase_then = is_last ? piece.title : pieces[i + 1].title;
      note(piece.end, piece.end - model::Duration{1}, phase_then, piece.held);
      jump(plan_.jumps[i], piece.order);
      note(piece.end, piece.end, phase_then, is_last ? plan_.held_at_end : pieces[i + 1].held);
    }
    return std::move(waypoints_);
  }

 private:
  struct Amount {
    double amount = 0;  ///< that can be used
    double leak = 0;    ///< per day
    PlaceTurnover turnover;
    bool is_emptied = false;  ///< it had nothing left when it went
  };

  void begin_place(std::size_t index, const Course::Start& start) {
    const PlaceAhead& ahead = plan_.places[index];
    const double whole = plan_.fills_up() ? ahead.capacity - start.level : start.level;
    const double usable = whole - ahead.residual;
    // Below its residual a place gives nothing; what it was taken to have given since its count came from elsewhere.
    const double found = usable < 0 ? std::max(usable, -start.drawn) : usable;
    held_[index].turnover.known += found - usable;
    held_[index].leak = start.leak;
    put(index, found);
  }

  void put(std::size_t index, double quantity) {
    double& amount = held_[index].amount;
    amount += quantity;
    if (amount < 0) {
      short_ -= amount;
      amount = 0;
    }
  }

  /// Takes `planned` times `factor` from the places in `order`; what none of them has is short. Calls
  /// charge(turnover, planned) for each place that gives.
  template <typename Charge>
  void draw(double planned, double factor, const std::vector<std::size_t>& order, const Charge& charge) {
    for (const std::size_t index : order) {
      if (!(planned > 0)) return;
      const double possible = factor > 0 ? held_[index].amount / factor : std::numeric_limits<double>::infinity();
      const double taken = std::min(planned, possible);
      held_[index].amount = taken < possible ? held_[index].amount - taken * factor : 0;
      charge(held_[index].turnover, taken);
      planned -= taken;
    }
    if (!(planned > 0)) return;
    short_ += planned * factor;
    // Whoever was to give it owes it.
    charge(order.empty() ? nowhere_ : held_[order.back()].turnover, planned);
  }

  void make(double planned) {
    const double made = planned * course_.made_factor;
    if (!(made > 0)) return;
    now_.made += made;
    // What was short is made good first, so that the sum stays what it is.
    const double repaid = std::min(made, short_);
    short_ -= repaid;
    held_[plan_.made_into].amount += made - repaid;
    held_[plan_.made_into].turnover.known += made;
  }

  void flow(const PlanPiece& piece) {
    const double days = model::in_days(piece.end - piece.begin);
    for (std::size_t i = 0; i < held_.size(); ++i) {
      if (!(held_[i].leak > 0) || !plan_.places[i].is_available(piece.begin)) continue;
      now_.leaked += held_[i].leak * days;
      put(i, -held_[i].leak * days);
    }
    make(piece.make * days);
    now_.drawn += piece.draw * days * course_.factor;
    draw(piece.draw * days, course_.factor, piece.order,
         [](PlaceTurnover& place, double taken) { place.drawn += taken; });
  }

  void jump(const PlanJump& what, const std::vector<std::size_t>& order) {
    make(what.make);
    now_.drawn += what.draw;
    draw(what.draw, 1, order, [](PlaceTurnover& place, double taken) { place.known -= taken; });
    now_.step_variance += what.variance;
    // What comes and goes at one instant does so together: nothing is short in between.
    std::vector<double> moved(held_.size());
    for (const auto& move : what.moves) moved[move.place] += move.quantity;
    for (std::size_t i = 0; i < held_.size(); ++i) {
      put(i, moved[i]);
      held_[i].turnover.known += moved[i];
      now_.moved += moved[i];
    }
  }

  /// `as_of` is the instant whose places count; `at` the one that is told.
  void note(Instant at, Instant as_of, std::string_view phase, double held) {
    now_.at = at;
    now_.phase = phase;
    now_.held = held;
    now_.usable = -short_;
    for (std::size_t i = 0; i < held_.size(); ++i) {
      const bool is_there = plan_.places[i].is_available(as_of);
      if (is_there) {
        now_.usable += held_[i].amount;
        held_[i].is_emptied = !(held_[i].amount > 0);
      }
      held_[i].turnover.counts = is_there || held_[i].is_emptied;
      held_[i].turnover.amount = held_[i].amount;
    }
    waypoints_.push_back(now_);
    if (!keeps_turnover_) return;
    auto& places = waypoints_.back().places;
    places.reserve(held_.size() + 1);
    for (const auto& place : held_) places.push_back(place.turnover);
    places.push_back({nowhere_.drawn, nowhere_.known, 0, true});
  }

  const ItemPlan& plan_;
  const Course& course_;
  bool keeps_turnover_;
  std::vector<Amount> held_;
  PlaceTurnover nowhere_;
  double short_ = 0;
  Waypoint now_;
  std::vector<Waypoint> waypoints_;
};

}  // namespace

std::vector<Waypoint> follow(const ItemPlan& plan, const Course& course, Turnover turnover) {
  return Walk(plan, course, turnover).run();
}

}  // namespace daywright::rules
