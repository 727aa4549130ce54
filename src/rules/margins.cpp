#include "rules/margins.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Instant;

enum class Incoming { left_out, counted };

/// The flight of one item from the cut-off to the required end, in amounts that can still be used: what is in a
/// place above its residual, or the room that is left in it.
class Projection {
 public:
  /// `flight` is the flight from `from` to the required end.
  Projection(const model::Mission& mission, const std::vector<Stretch>& flight, const ItemLevel& level,
             const model::Facts& facts, double factor, Incoming incoming, Instant from)
      : mission_(mission),
        flight_(flight),
        item_(*level.item),
        factor_(factor),
        from_(from),
        end_(mission.required_end()),
        fills_up_(item_.sort == model::ItemSort::capacity) {
    for (const auto& place : level.places) {
      const double worst = place.other_level.value_or(place.level);
      const double room = fills_up_ ? item_.capacity.at(place.place->id) - worst : worst;
      const double usable = room - residual_of(place.place->id);
      // Below its residual a place gives nothing; what it was taken to have given since its count came from elsewhere.
      add(place.place->id, usable < 0 ? std::max(usable, -place.drawn) : usable);
    }
    for (const auto& fact : facts.transfers) {
      if (fact.row.item == item_.id && fact.row.state == model::TransferState::planned)
        plan_transfer(fact.row, incoming);
    }
  }

  Margin run() {
    margin_.at = from_;
    usable_ = amount(from_);
    look(from_, true);
    jump(from_, from_);
    const std::vector<Instant> cuts = find_cuts();
    auto stretch = flight_.begin();
    for (std::size_t i = 1; i < cuts.size(); ++i) {
      while (stretch->end <= cuts[i - 1]) ++stretch;
      const double before = amount(cuts[i - 1]);
      flow(cuts[i - 1], cuts[i], *stretch);
      look_along(cuts[i - 1], before, cuts[i]);
      jump(cuts[i - 1], cuts[i]);
    }
    finish();
    return margin_;
  }

 private:
  struct Move {
    Instant when;
    std::string place;
    double quantity;
  };

  [[nodiscard]] double residual_of(const std::string& place) const {
    const auto found = item_.residual.find(place);
    return found == item_.residual.end() ? 0 : found->second;
  }

  [[nodiscard]] bool is_ours(const std::string& place) const {
    const auto* found = model::find_by_id(mission_.places, place);
    return found != nullptr && found->vehicle == item_.vehicle && holds_item(place);
  }
  [[nodiscard]] bool holds_item(const std::string& place) const {
    return std::find(item_.places.begin(), item_.places.end(), place) != item_.places.end();
  }

  /// A transfer inside the vehicle is carried out. One that leaves it counts on the side that hurts; one that
  /// comes in counts only in the column that says so. For a capacity, taking something in is what hurts.
  void plan_transfer(const model::TransferRow& row, Incoming incoming) {
    const Instant when = std::max(row.when, from_);
    const double sign = fills_up_ ? -1 : 1;
    const bool inside = is_ours(row.from_place) && is_ours(row.to_place);
    if (holds_item(row.from_place)) {
      const bool hurts = !fills_up_;
      const bool counts = hurts ? is_in_hand(row.from_place, when) : exists(row.to_place, when);
      if (counts && (inside || hurts == is_ours(row.from_place) || incoming == Incoming::counted))
        moves_.push_back({when, row.from_place, -sign * row.quantity});
    }
    if (holds_item(row.to_place)) {
      const bool hurts = fills_up_;
      const bool counts = hurts ? is_in_hand(row.to_place, when) : exists(row.from_place, when);
      if (counts && (inside || (hurts && is_ours(row.to_place)) || incoming == Incoming::counted))
        moves_.push_back({when, row.to_place, sign * row.quantity});
    }
  }

  /// Only what lies where it can be drawn from is counted, so only that can be lost.
  [[nodiscard]] bool is_in_hand(const std::string& place, Instant when) const {
    return is_available(mission_, *model::find_by_id(mission_.places, place), when);
  }
  /// Nothing is taken from, or put into, a place of the plan that has gone; what lies outside the plan is there.
  [[nodiscard]] bool exists(const std::string& place, Instant when) const {
    const auto* found = model::find_by_id(mission_.places, place);
    return found == nullptr || is_there(mission_, *found, when);
  }

  [[nodiscard]] std::vector<Instant> find_cuts() const {
    std::vector<Instant> cuts{from_, end_};
    const auto add_cut = [&](Instant when) {
      if (when > from_ && when < end_) cuts.push_back(when);
    };
    for (const auto& stretch : flight_) add_cut(stretch.begin);
    for (const auto& event : mission_.events) add_cut(event.at);
    for (const auto& move : moves_) add_cut(move.when);
    std::sort(cuts.begin(), cuts.end());
    cuts.erase(std::unique(cuts.begin(), cuts.end()), cuts.end());
    return cuts;
  }

  void add(const std::string& place, double quantity) {
    amounts_[place] += quantity;
    if (amounts_[place] < 0) {
      short_ -= amounts_[place];
      amounts_[place] = 0;
    }
  }

  /// Takes `quantity` from the places in the order in which they are drawn down; what none of them has is short.
  void draw(double quantity, Instant when) {
    for (const auto& place : draw_order(mission_, item_, when)) {
      if (quantity <= 0) return;
      if (!amounts_.contains(place) || !is_available(mission_, *model::find_by_id(mission_.places, place), when))
        continue;
      const double taken = std::min(quantity, amounts_[place]);
      amounts_[place] -= taken;
      quantity -= taken;
    }
    short_ += std::max(0.0, quantity);
  }

  /// What can be used at `when`.
  [[nodiscard]] double amount(Instant when) const {
    double sum = -short_;
    for (const auto& [place, quantity] : amounts_) {
      if (is_available(mission_, *model::find_by_id(mission_.places, place), when)) sum += quantity;
    }
    return sum;
  }

  [[nodiscard]] double reserve(Instant when) const {
    double held = 0;
    const int crew = crew_aboard(mission_, item_.vehicle, when);
    for (const auto& line : item_.reserve) {
      const auto* release = model::find_by_id(mission_.events, line.released_by);
      if (release != nullptr && release->at <= when) continue;
      held += line.quantity + event_draw(item_, line.event_kind);
      if (line.days > 0) {
        const auto* kind = model::find_by_id(mission_.day_kinds, line.kind);
        held += line.days * std::max(0.0, daily_draw(item_, *kind, crew) - daily_make(mission_, item_, *kind, crew));
      }
    }
    return held;
  }

  /// What is used and made between two instants that lie in one stretch.
  void flow(Instant begin, Instant end, const Stretch& stretch) {
    const double days = model::in_days(end - begin);
    const int crew = crew_aboard(mission_, item_.vehicle, begin);
    make_and_draw(daily_make(mission_, item_, *stretch.kind, crew) * days,
                  factor_ * daily_draw(item_, *stretch.kind, crew) * days, begin);
  }

  void make_and_draw(double made, double drawn, Instant when) {
    made_ += made;
    drawn_ += drawn;
    if (made > 0) {
      // What was short is made good first, so that the sum stays what it is.
      const double repaid = std::min(made, short_);
      short_ -= repaid;
      amounts_[item_.made_into] += made - repaid;
    }
    draw(drawn, when);
  }

  /// What happens at one instant: events, transfers, places that are no longer there.
  void jump(Instant begin, Instant at) {
    for (const auto& event : mission_.events) {
      if (event.at != at || at == from_) continue;  // an event at the cut-off has happened
      const auto* from = item_.made_from.empty() ? nullptr : model::find_by_id(mission_.items, item_.made_from);
      const double made = from == nullptr ? 0 : item_.made_ratio * event_draw(*from, event.kind);
      make_and_draw(made, factor_ * event_draw(item_, event.kind), begin);
    }
    for (const auto& move : moves_) {
      if (move.when != at) continue;
      add(move.place, move.quantity);
      moved_ += move.quantity;
    }
    look(at, false);
  }

  /// A stock that lasts exactly to the required end is not short: the last binary digits of a long sum are noise.
  /// The same share of a step as in rounding, so that the verdict is that of the figure that is shown.
  [[nodiscard]] double without_noise(double margin) const { return std::abs(margin) < item_.step * 1e-9 ? 0 : margin; }

  /// Notes the smallest margin yet, and what it is made of.
  void note(double margin, Instant at, Instant reserve_at) {
    margin_.units = margin;
    margin_.at = at;
    margin_.usable = usable_;
    margin_.drawn = drawn_;
    margin_.made = made_;
    margin_.moved = moved_;
    margin_.held = reserve(reserve_at);
  }

  void look(Instant at, bool is_first) {
    const double margin = without_noise(amount(at) - reserve(at));
    if (is_first || margin < margin_.units) note(margin, at, at);
    if (margin < 0 && !margin_.first_short) margin_.first_short = at;
  }

  /// Looks at the end of a stretch before anything happens there; within it the margin runs straight.
  void look_along(Instant begin, double amount_before, Instant end) {
    const Instant just_before = end - model::Duration{1};
    const double first = amount_before - reserve(begin);
    const double last = without_noise(amount(just_before) - reserve(just_before));
    if (last < margin_.units) note(last, end, just_before);
    if (last < 0 && !margin_.first_short) {
      const double share = first > 0 ? first / (first - last) : 0;
      margin_.first_short = begin + model::from_days(share * model::in_days(end - begin));
    }
  }

  void finish() {
    for (const auto& stretch : flight_) {
      if (stretch.begin <= margin_.at) margin_.phase = stretch.title;
    }
    const auto* kind = model::find_by_id(mission_.day_kinds, mission_.margin_kind);
    const int crew = crew_aboard(mission_, item_.vehicle, end_);
    const double daily = factor_ * daily_draw(item_, *kind, crew) - daily_make(mission_, item_, *kind, crew);
    constexpr double nothing = 1e-12;
    if (daily > nothing) {
      margin_.days = margin_.units / daily;
    } else if (item_.per_event.size() == 1 && item_.per_event.begin()->second > 0) {
      margin_.events = margin_.units / item_.per_event.begin()->second;
    }
    constexpr double far = 36500;  // days: beyond any flight, within what an instant can hold
    if (margin_.first_short) {
      margin_.through = *margin_.first_short;
    } else {
      margin_.through = end_ + model::from_days(margin_.days ? std::min(*margin_.days, far) : far);
    }
  }

  const model::Mission& mission_;
  const std::vector<Stretch>& flight_;
  const model::Item& item_;
  double factor_;
  Instant from_;
  Instant end_;
  bool fills_up_;
  std::map<std::string, double> amounts_;
  std::vector<Move> moves_;
  double short_ = 0;
  double usable_ = 0;
  double drawn_ = 0;
  double made_ = 0;
  double moved_ = 0;
  Margin margin_;
};

/// Whether anything of the item is used day by day on any kind of day. What is used in events alone has no rate to
/// measure: it is taken at plan.
bool needs_measured_rate(const model::Mission& mission, const model::Item& item) {
  return std::any_of(mission.day_kinds.begin(), mission.day_kinds.end(),
                     [&](const model::DayKind& kind) { return daily_draw(item, kind, 1) > 0; });
}

}  // namespace

bool is_tighter(const Margin& a, const Margin& b) {
  if (a.days && b.days) return *a.days < *b.days;
  if (a.is_covered() != b.is_covered()) return !a.is_covered();
  if (a.days.has_value() != b.days.has_value()) return a.days.has_value();
  return a.units < b.units;
}

std::vector<ItemMargins> compute_margins(const model::Mission& mission, const model::MarginRules& rules,
                                         const model::Facts& facts, const std::vector<ItemLevel>& levels,
                                         Instant cutoff) {
  const std::vector<Stretch> flight = stretches(mission, cutoff, mission.required_end());
  std::vector<ItemMargins> all;
  for (const ItemLevel& level : levels) {
    ItemMargins margins;
    margins.level = &level;
    const auto* kind = model::find_by_id(mission.day_kinds, mission.margin_kind);
    const int crew = crew_aboard(mission, level.item->vehicle, mission.required_end());
    margins.daily = daily_draw(*level.item, *kind, crew) - daily_make(mission, *level.item, *kind, crew);
    const auto project = [&](double factor, Incoming incoming) {
      return Projection(mission, flight, level, facts, factor, incoming, cutoff).run();
    };
    if (level.is_complete && cutoff <= mission.required_end()) {
      const auto factor = needs_measured_rate(mission, *level.item) ? level.factor : std::optional(1.0);
      margins.plan = project(1, Incoming::left_out);
      if (factor) margins.measured = project(*factor, Incoming::left_out);
      bool has_all = true;
      for (const model::Basis basis : rules.bases) {
        const auto& margin = basis == model::Basis::plan ? margins.plan : margins.measured;
        if (!margin) {
          has_all = false;
          margins.gaps.emplace_back("too few counts for a measured rate");
        } else if (!margins.governing || is_tighter(*margin, *margins.governing)) {
          margins.governing = margin;
          margins.governing_basis = basis;
        }
      }
      if (!has_all) margins.governing.reset();
      if (margins.governing) {
        const bool at_plan = margins.governing_basis == model::Basis::plan;
        margins.with_transfers = project(at_plan ? 1.0 : *factor, Incoming::counted);
      }
    }
    all.push_back(std::move(margins));
  }
  return all;
}

const ItemMargins* find_limiting(const std::vector<ItemMargins>& margins) {
  const ItemMargins* limiting = nullptr;
  for (const ItemMargins& item : margins) {
    if (!item.governing || (!item.governing->days && item.governing->is_covered())) continue;
    if (limiting == nullptr || is_tighter(*item.governing, *limiting->governing)) limiting = &item;
  }
  return limiting;
}

}  // namespace daywright::rules
