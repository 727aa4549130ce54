// How much is left of each item at the worst moment up to the required end, in its unit and in days.
//
//   In:  the plan (as flown or with days added), the levels, the planned transfers
//   Out: a margin per item and basis, the governing one, and what limits the flight
//
// Pure. Formulas: design section 4.1, printed in README under "How margins are counted".
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "model/rulebook.h"
#include "rules/levels.h"

namespace daywright::rules {

/// One margin. Exact values; rounding is for the figure that is shown.
struct Margin {
  double units = 0;                           ///< smallest of usable - reserve up to the required end
  std::optional<double> days;                 ///< units over the daily use of the margin day kind; none: no daily use
  std::optional<double> events;               ///< items without daily use: units over one event's draw
  model::Instant at;                          ///< when it is smallest
  std::string phase;                          ///< the phase that instant lies in
  std::optional<model::Instant> first_short;  ///< when it first falls below zero
  // What `units` is made of, at the instant at which it is smallest.
  double usable = 0;  ///< at the cut-off, after residuals
  double drawn = 0;   ///< from then on
  double made = 0;
  double moved = 0;        ///< by the planned transfers that count
  double held = 0;         ///< in reserve
  model::Instant through;  ///< how long supplies last; the far future where nothing is used

  [[nodiscard]] bool is_covered() const { return units >= 0; }
  /// Whether `through` says anything: what is used in events alone has no rate at which it could last to anywhere.
  [[nodiscard]] bool lasts_to_a_time() const { return days.has_value() || first_short.has_value(); }
};

/// The margins of one item.
struct ItemMargins {
  const ItemLevel* level = nullptr;
  std::optional<Margin> plan;       ///< nothing: no level
  std::optional<Margin> measured;   ///< nothing: no level or no measured rate
  std::optional<Margin> governing;  ///< the smallest of the bases the rules name; nothing when one is missing
  model::Basis governing_basis = model::Basis::plan;
  std::optional<Margin> with_transfers;  ///< the governing basis, planned transfers in counted too: never a verdict
  std::vector<std::string> gaps;         ///< why a basis that governs is missing although there is a level
  double daily = 0;                      ///< net use per 24 h of the margin day kind at plan
};

/// The margins of every item, in the order of the plan. `levels` must outlive the result.
///
/// No planned incoming transfer counts and every planned outgoing one does; one that is overdue counts now.
/// Where two sources disagree on a count, the worse value is taken.
[[nodiscard]] std::vector<ItemMargins> compute_margins(const model::Mission& mission, const model::MarginRules& rules,
                                                       const model::Facts& facts, const std::vector<ItemLevel>& levels,
                                                       model::Instant cutoff);

/// True when `a` is the tighter margin: fewer days, or, where there are none, sooner short.
[[nodiscard]] bool is_tighter(const Margin& a, const Margin& b);

/// The item with the fewest days among those that have a governing margin in days, or null.
[[nodiscard]] const ItemMargins* find_limiting(const std::vector<ItemMargins>& margins);

}  // namespace daywright::rules
