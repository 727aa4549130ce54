#include "rules/trial_flight.h"

#include <map>
#include <utility>

namespace daywright::rules {
namespace {

using model::Instant;

/// What happens when, in words. The times of planned transfers are added to `cuts`.
std::map<Instant, std::string> find_happenings(const Evening& evening, std::vector<Instant>& cuts) {
  std::map<Instant, std::string> happens;
  const auto add = [&](Instant when, const std::string& what) {
    std::string& words = happens[when];
    words += (words.empty() ? "" : "; ") + what;
  };
  for (const auto& event : evening.mission.events) add(event.at, event.title);
  for (const auto& fact : evening.facts.transfers) {
    if (fact.row.state != model::TransferState::planned) continue;
    const Instant when = time_of(fact.row, evening.mission, evening.cutoff);
    cuts.push_back(when);
    if (when > evening.cutoff) add(when, "transfer " + fact.row.transfer);
  }
  return happens;
}

}  // namespace

ItemPlan TrialFlight::plan_of(const model::Item& item, const PlanChoice& choice) const {
  return plan_item(evening.mission, planned, item, evening.facts, choice, evening.cutoff, cuts);
}

TrialFlight lay_out_flight(const Evening& evening) {
  const model::Mission& mission = evening.mission;
  TrialFlight flight{evening, mission.required_end(), {}, false, 0, {}, {}, {}};
  flight.added_at = model::find_by_id(mission.events, mission.extension_before)->at;
  flight.can_be_longer = flight.added_at > evening.cutoff && flight.added_at <= flight.end;
  flight.planned = stretches(mission, evening.cutoff, flight.end);
  auto happens = find_happenings(evening, flight.cuts);
  // Every item is cut alike, so any of them tells the pieces; without one there is nothing to lay out.
  if (mission.items.empty()) return flight;
  const ItemPlan plan = flight.plan_of(mission.items.front());
  auto stretch = flight.planned.begin();
  for (const PlanPiece& piece : plan.pieces) {
    while (stretch->end <= piece.begin) ++stretch;
    model::TrialStretch laid{std::string(piece.title),    {}, piece.begin, piece.end, false,
                             piece.end > flight.added_at, 0,  {}};
    laid.kind = index_by_id(mission.day_kinds, stretch->kind->id);
    for (const auto& vehicle : mission.vehicles) laid.crew.push_back(crew_aboard(mission, vehicle.id, piece.begin));
    const std::string what = happens[piece.end];
    const bool is_added_after = flight.can_be_longer && piece.end == flight.added_at;
    if (!is_added_after) laid.ends_with = what;
    flight.stretches.push_back(laid);
    if (!is_added_after) continue;
    flight.added_after = flight.stretches.size();
    laid.phase = model::find_by_id(mission.day_kinds, mission.extension_kind)->title;
    laid.begin = laid.end;
    laid.is_added = laid.ends_later = true;
    laid.ends_with = what;
    laid.kind = index_by_id(mission.day_kinds, mission.extension_kind);
    flight.stretches.push_back(std::move(laid));
  }
  return flight;
}

}  // namespace daywright::rules
