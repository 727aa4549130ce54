// The flight as stretches of constant rates, and the same flight with days added to it.
//
//   In:  the plan
//   Out: stretches between two instants; what an item uses in them; an extended plan
//
// Pure.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "model/mission.h"

namespace daywright::rules {

/// A stretch of time with one day kind and one crew aboard every vehicle.
struct Stretch {
  model::Instant begin;
  model::Instant end;
  const model::DayKind* kind = nullptr;
  std::string_view title;  ///< of the phase, or of the day kind after the planned landing

  [[nodiscard]] double days() const { return model::in_days(end - begin); }
};

/// The flight between `from` and `to`. After the planned landing day the landing days' own kinds hold; after the
/// last of them the day kind that turns units into days. `mission` must outlive the result.
[[nodiscard]] std::vector<Stretch> stretches(const model::Mission& mission, model::Instant from, model::Instant to);

/// The vehicle that `person` is aboard at `when`; null: none yet.
[[nodiscard]] const std::string* vehicle_of(const model::Person& person, model::Instant when);

/// How many persons are aboard `vehicle` at `when`.
[[nodiscard]] int crew_aboard(const model::Mission& mission, const std::string& vehicle, model::Instant when);

/// What `item` draws per 24 h on a day of `kind` with `crew` persons: rate per crew-day x crew + rate per day
/// + rate per kWh x average kW x 24 h + the kind's events (design 4.1). Cartridges: crew-hours over rated life.
/// In the item's unit; what is made is not taken off.
[[nodiscard]] double daily_draw(const model::Item& item, const model::DayKind& kind, int crew);

/// What one event of `kind` draws from `item`.
[[nodiscard]] double event_draw(const model::Item& item, const std::string& kind);

/// What is made of `item` per 24 h on a day of `kind`: ratio x the draw of the item it is made from.
[[nodiscard]] double daily_make(const model::Mission& mission, const model::Item& item, const model::DayKind& kind,
                                int crew);

/// Planned draw of `item` between two instants, its single events included; planned make likewise.
struct PlannedUse {
  double draw = 0;
  double make = 0;
};
[[nodiscard]] PlannedUse planned_use(const model::Mission& mission, const model::Item& item, model::Instant from,
                                     model::Instant to);

/// The places from which `item` is drawn at `when`, first one first.
[[nodiscard]] const std::vector<std::string>& draw_order(const model::Mission& mission, const model::Item& item,
                                                         model::Instant when);

/// The plan with `days` days put in before its `extension_before` event: what comes later moves with it, the gates
/// of later events and planned transfers too. Requires days >= 0.
[[nodiscard]] model::Mission extend(const model::Mission& mission, int days);

}  // namespace daywright::rules
