#include "rules/trial.h"

#include <cstddef>
#include <optional>
#include <utility>

#include "rules/decisions.h"
#include "rules/trial_cases.h"
#include "rules/trial_criteria.h"
#include "rules/trial_flight.h"
#include "rules/trial_item.h"

namespace daywright::rules {
namespace {

void lay_out_crew(const Evening& evening, model::TrialPlan& trial) {
  const model::Mission& mission = evening.mission;
  trial.own_vehicle = index_by_id(mission.vehicles, mission.vehicle);
  // Another crew from the cut-off on leaves those where they are who are elsewhere by then (options.cpp).
  const model::Instant just_before = evening.cutoff - model::Duration{1};
  for (const auto& vehicle : mission.vehicles) {
    trial.vehicles.push_back(vehicle.title);
    trial.crew_at_end.push_back(crew_aboard(mission, vehicle.id, mission.required_end()));
    trial.crew_elsewhere.push_back(crew_aboard(mission, vehicle.id, just_before));
  }
}

void lay_out_limits(const Evaluation& now, model::TrialPlan& trial) {
  const auto index_of = [&](const ItemMargins* item) {
    return item == nullptr ? std::nullopt : std::optional(static_cast<std::size_t>(item - now.margins.data()));
  };
  trial.limiting = index_of(find_limiting(now.margins));
  for (const auto basis : {model::Basis::plan, model::Basis::measured, model::Basis::assured})
    trial.limiting_on.at(static_cast<std::size_t>(basis)) = index_of(find_limiting(now.margins, basis));
}

}  // namespace

model::TrialPlan lay_out_trial(const Evening& evening, const Evaluation& now) {
  const model::Mission& mission = evening.mission;
  if (evening.cutoff >= mission.required_end()) return {};
  TrialFlight flight = lay_out_flight(evening);
  model::TrialPlan trial;
  trial.days_possible = flight.can_be_longer ? model::TrialPlan::most_days : 0;
  trial.added_before = model::find_by_id(mission.events, mission.extension_before)->title;
  trial.cutoff = evening.cutoff;
  trial.landing = mission.landing();
  trial.lands_later = flight.can_be_longer && trial.landing >= flight.added_at;
  trial.bases = evening.rules.margins.bases;
  trial.assurance = evening.rules.margins.assurance;
  trial.are_decisions_sound = doubts_about_decisions(evening.facts).empty();
  for (const auto& kind : mission.day_kinds) trial.kinds.push_back(kind.title);
  trial.margin_kind = index_by_id(mission.day_kinds, mission.margin_kind);
  lay_out_crew(evening, trial);
  for (const ItemMargins& margins : now.margins)
    trial.items.push_back(lay_out_trial_item(flight, margins, trial.switches));
  trial.stretches = std::move(flight.stretches);
  lay_out_limits(now, trial);
  trial.criteria = lay_out_trial_criteria(evening, now);
  find_trial_cases(evening, now, trial);
  return trial;
}

}  // namespace daywright::rules
