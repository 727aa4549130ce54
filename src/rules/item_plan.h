// What is planned for one item from the cut-off to the required end: piece by piece, place by place, at plan.
//
//   In:  the plan, the item, the planned transfers and which of them count
//   Out: pieces of even rates, what happens between them, what is held in reserve
//
// Pure. Worked out once for an item; every basis of its margin goes along it.
#pragma once

#include <cstddef>
#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "rules/timeline.h"

namespace daywright::rules {

/// What of the plan counts, and how. Governing margins count no transfer in, every transfer out, and rates as planned.
struct PlanChoice {
  bool all_in = false;                       ///< every planned transfer in
  std::set<std::string> in = {};             ///< these transfers in
  std::set<std::string> not_out = {};        ///< all transfers out but these
  std::map<std::string, double> rates = {};  ///< item -> so many times its planned use

  [[nodiscard]] double rate_of(const std::string& item) const {
    const auto found = rates.find(item);
    return found == rates.end() ? 1 : found->second;
  }
};

/// A place that the item is held in, or that a transfer brings it to.
struct PlaceAhead {
  const model::Place* place = nullptr;
  double residual = 0;     ///< what can't be drawn, or filled
  double capacity = 0;     ///< of an item that fills up
  model::Instant gone_at;  ///< from when on it is not there; the far future: it stays
  bool is_ours = false;    ///< in the vehicle whose crew uses the item, and one of the item's own places
  bool is_usable = false;

  [[nodiscard]] bool is_available(model::Instant when) const { return is_usable && when < gone_at; }
};

/// A stretch in which nothing changes. Rates per 24 h, quantities in the item's unit.
struct PlanPiece {
  model::Instant begin;
  model::Instant end;
  std::string_view title;          ///< of the phase
  double draw = 0;                 ///< at plan
  double make = 0;                 ///< at plan
  double held = 0;                 ///< in reserve
  std::vector<std::size_t> order;  ///< the places drawn from, first one first
};

/// What happens at the end of a piece, or at the cut-off.
struct PlanJump {
  struct Move {
    std::size_t place = 0;
    double quantity = 0;        ///< of what can be used: room, for an item that fills up
    std::string_view transfer;  ///< its name in the logs
  };

  double draw = 0;  ///< of events: known steps, which the use factor does not multiply
  double make = 0;
  std::vector<Move> moves;
  double variance = 0;  ///< of what events draw and transfers bring
};

struct ItemPlan {
  const model::Item* item = nullptr;
  model::Instant from;
  model::Instant end;  ///< the required end
  std::vector<PlaceAhead> places;
  std::size_t made_into = 0;  ///< index of a place; only where something is made
  PlanJump at_start;
  std::vector<PlanPiece> pieces;  ///< none: the cut-off is the required end
  std::vector<PlanJump> jumps;    ///< one for each piece, at its end
  double held_at_end = 0;         ///< in reserve, at the required end
  double last_draw = 0;           ///< per 24 h of the day kind that turns units into days, with the crew at the end
  double last_make = 0;

  [[nodiscard]] bool fills_up() const { return item->sort == model::ItemSort::capacity; }
};

/// The plan of `item` from `from` on; `flight` is the flight from there to the required end. Mission and facts must
/// outlive the result. Requires `from` <= required end.
///
/// An event at `from` has happened; a planned transfer that is overdue counts at once. Pieces also end at the instants
/// of `also_cut_at`, which changes nothing but their number.
[[nodiscard]] ItemPlan plan_item(const model::Mission& mission, const std::vector<Stretch>& flight,
                                 const model::Item& item, const model::Facts& facts, const PlanChoice& choice,
                                 model::Instant from, const std::vector<model::Instant>& also_cut_at = {});

/// When a planned transfer moves something, seen from `from` on.
[[nodiscard]] model::Instant time_of(const model::TransferRow& row, const model::Mission& mission, model::Instant from);

/// The lines of the item's reserve that are held at `when`: no event has released them.
[[nodiscard]] std::vector<const model::ReserveLine*> reserve_at(const model::Mission& mission, const model::Item& item,
                                                                model::Instant when);

}  // namespace daywright::rules
