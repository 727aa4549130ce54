#include "rules/decisions.h"

#include <algorithm>

#include <fmt/format.h>

#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Mission;

std::string_view name_of(model::PlaceState state) {
  switch (state) {
    case model::PlaceState::usable: return "usable";
    case model::PlaceState::isolated: return "isolated";
    case model::PlaceState::expired: return "expired";
    case model::PlaceState::reserved: break;
  }
  return "reserved";
}

struct Words {
  const Mission& mission;

  std::string operator()(const std::monostate&) const { return {}; }
  std::string operator()(const model::DaysAdded& change) const {
    return fmt::format("{} {} more", change.days, change.days == 1 ? "day" : "days");
  }
  std::string operator()(const model::EventMoved& change) const {
    return fmt::format("{} at {}", model::find_by_id(mission.events, change.event)->title,
                       model::format_utc(change.at));
  }
  std::string operator()(const model::PlaceSet& change) const {
    return fmt::format("{} {}", model::find_by_id(mission.places, change.place)->title, name_of(change.state));
  }
  std::string operator()(const model::LeakClosed& change) const {
    return fmt::format("leak of {} closed", model::find_by_id(mission.items, change.item)->title);
  }
};

}  // namespace

std::optional<std::string> why_without_effect(const model::Merged<model::DecisionRow>& decision,
                                              model::Instant cutoff) {
  const auto& row = decision.row;
  if (!decision.rivals.empty()) return "told in two ways that disagree";
  if (row.state != model::DecisionState::approved) return "not approved";
  if (row.authority.empty()) return "no authority is named";
  if (row.effective && *row.effective > cutoff) return "only from " + model::format_utc(*row.effective) + " on";
  if (row.expires && *row.expires < cutoff) return "lapsed " + model::format_utc(*row.expires);
  return std::nullopt;
}

std::string describe_change(const Mission& mission, const model::PlanChange& change) {
  return std::visit(Words{mission}, change);
}

Mission plan_in_effect(const Mission& mission, const model::Facts& facts, model::Instant cutoff) {
  Mission changed = mission;
  int days = 0;
  for (const auto& decision : facts.decisions) {
    if (why_without_effect(decision, cutoff)) continue;
    if (const auto* added = std::get_if<model::DaysAdded>(&decision.row.change)) days += added->days;
    if (const auto* moved = std::get_if<model::EventMoved>(&decision.row.change)) {
      auto& event = *model::find_by_id(changed.events, moved->event);
      for (auto& gate : changed.gates) {
        if (gate.event == moved->event) gate.poll += moved->at - event.at;
      }
      event.at = moved->at;
    }
    if (const auto* set = std::get_if<model::PlaceSet>(&decision.row.change))
      model::find_by_id(changed.places, set->place)->state = set->state;
  }
  return days > 0 ? extend(changed, days) : changed;
}

}  // namespace daywright::rules
