#include "rules/decisions.h"

#include <algorithm>

#include <fmt/format.h>

#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Mission;

std::string_view name_of(model::PlaceState state) {
  const auto found = std::find_if(model::place_states.begin(), model::place_states.end(),
                                  [&](const auto& named) { return named.second == state; });
  return found->first;
}

bool bears_on_the_plan(const model::DecisionRow& row) {
  return !std::holds_alternative<std::monostate>(row.change) || !row.waiver.criterion.empty();
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

model::Instant effective_from(const model::DecisionRow& decision) {
  return decision.effective.value_or(decision.from.recorded);
}

std::vector<Doubt> doubts_about_decisions(const model::Facts& facts) {
  std::vector<Doubt> doubts = doubts_about(facts, model::Log::decisions, {});
  for (const auto& fact : facts.decisions) {
    if (bears_on_the_plan(fact.row) || std::any_of(fact.rivals.begin(), fact.rivals.end(), bears_on_the_plan))
      add_conflicts(fact, "decision " + fact.row.decision, doubts);
  }
  return doubts;
}

Mission plan_in_effect(const Mission& mission, const model::Facts& facts, model::Instant cutoff) {
  std::vector<const model::DecisionRow*> in_effect;
  for (const auto& decision : facts.decisions) {
    if (!why_without_effect(decision, cutoff)) in_effect.push_back(&decision.row);
  }
  std::stable_sort(in_effect.begin(), in_effect.end(), [](const auto* a, const auto* b) {
    return std::pair(effective_from(*a), a->from.recorded) < std::pair(effective_from(*b), b->from.recorded);
  });
  Mission changed = mission;
  int days = 0;
  for (const auto* decision : in_effect) {
    if (const auto* added = std::get_if<model::DaysAdded>(&decision->change)) days += added->days;
    if (const auto* moved = std::get_if<model::EventMoved>(&decision->change)) {
      auto& event = *model::find_by_id(changed.events, moved->event);
      for (auto& gate : changed.gates) {
        if (gate.event == moved->event) gate.poll += moved->at - event.at;
      }
      event.at = moved->at;
    }
    if (const auto* set = std::get_if<model::PlaceSet>(&decision->change)) {
      auto& place = *model::find_by_id(changed.places, set->place);
      place.state_before = place.state;  // what was drawn before came from the place as it was then
      place.state_since = effective_from(*decision);
      place.state = set->state;
    }
  }
  if (days == 0) return changed;
  changed = extend(changed, days);
  changed.transfer_delay = {};  // once days are decided on, the log tells when transfers are made
  return changed;
}

}  // namespace daywright::rules
