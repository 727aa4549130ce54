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

#include "model/chart.h"
#include "model/log.h"
#include "model/mission.h"
#include "model/rulebook.h"
#include "rules/course.h"
#include "rules/item_plan.h"
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
  double leaked = 0;
  double made = 0;
  double moved = 0;          ///< by the planned transfers that count
  double held = 0;           ///< in reserve
  double width = 0;          ///< taken off for what is not known: assured basis only
  model::Instant through;    ///< how long supplies last; the far future where nothing is used
  std::size_t waypoint = 0;  ///< of the course that it is smallest at

  [[nodiscard]] bool is_covered() const { return units >= 0; }
  /// Whether `through` says anything: what is used in events alone has no rate at which it could last to anywhere.
  [[nodiscard]] bool lasts_to_a_time() const { return days.has_value() || first_short.has_value(); }
};

/// The count that would narrow an item's assured margin most.
struct Recount {
  const model::Place* place = nullptr;
  std::string method;
  double sd_before = 0;  ///< of what can be used where the margin is smallest
  double sd_after = 0;
};

/// The margin while one configuration lasts: from one event at which places go to the next, with the crew of that time.
struct ConfigurationMargin {
  const model::Event* from = nullptr;  ///< null: the cut-off
  double units = 0;                    ///< the smallest in it; the margin is the smallest of all configurations
  model::Instant at;                   ///< when it is smallest
};

/// The margins of one item. Where its counts can be read in several ways, the worst of them on each basis; where a leak
/// is shown, with the leak as seen.
struct ItemMargins {
  const ItemLevel* level = nullptr;
  std::optional<Margin> plan;       ///< nothing: no level
  std::optional<Margin> measured;   ///< nothing: no level or no measured rate
  std::optional<Margin> assured;    ///< nothing: no level
  std::optional<Margin> governing;  ///< the smallest of the bases the rules name; nothing when one is missing
  model::Basis governing_basis = model::Basis::plan;
  std::string reading;                       ///< how the counts are read for the governing margin; empty: as merged
  std::optional<Margin> without_leak;        ///< where a leak is shown: the governing basis if there is none
  std::optional<double> leak_chance;         ///< nothing: never counted
  bool shows_leak = false;                   ///< its chance is at least that from which it is shown
  double leak_rate = 0;                      ///< per day, if there is a leak
  std::optional<model::Instant> leak_since;  ///< the middle of the interval in which it most likely began
  std::optional<double> lasts_chance;        ///< that it covers the required end, reserves kept
  double sd = 0;  ///< of what can be used where the margin is smallest, if nothing leaks; in the item's unit
  std::optional<Recount> recount;
  std::optional<Margin> with_transfers;  ///< the governing basis, planned transfers in counted too: never a verdict
  std::vector<ConfigurationMargin> by_configuration;  ///< on the governing basis
  std::vector<std::string> gaps;                      ///< why a basis that governs is missing although there is a level
  double assurance = 0;                               ///< percent, of the assured margin
  double daily = 0;                                   ///< net use per 24 h of the margin day kind at plan
  const CountsRead* assured_read = nullptr;           ///< how the counts are read for the assured margin; null: none

  [[nodiscard]] const std::optional<Margin>& on(model::Basis basis) const {
    return basis == model::Basis::plan ? plan : basis == model::Basis::measured ? measured : assured;
  }
};

/// What is worked out besides the margins themselves.
enum class Detail {
  margins,     ///< nothing: enough for an extension
  everything,  ///< the second column, the chance to last, the best recount, each configuration
};

/// The margins of every item, in the order of the plan. `levels` must outlive the result.
///
/// No planned incoming transfer counts and every planned outgoing one does, unless `choice` says otherwise; one that is
/// overdue counts now. The assured margin is the value that is there with the assurance of the rules.
[[nodiscard]] std::vector<ItemMargins> compute_margins(const model::Mission& mission, const model::MarginRules& rules,
                                                       const model::Facts& facts, const std::vector<ItemLevel>& levels,
                                                       model::Instant cutoff, Detail detail = Detail::everything,
                                                       const PlanChoice& choice = {});

/// The margins of one item; `flight` is the flight from the cut-off to the required end. As compute_margins.
[[nodiscard]] ItemMargins compute_item_margins(const model::Mission& mission, const model::MarginRules& rules,
                                               const std::vector<Stretch>& flight, const model::Facts& facts,
                                               const ItemLevel& level, model::Instant cutoff, Detail detail,
                                               const PlanChoice& choice);

/// How the item is expected to go on this basis: one course for each reading of its counts; where a leak is shown,
/// with the leak.
[[nodiscard]] std::vector<Course> find_courses(const model::MarginRules& rules, const ItemLevel& level,
                                               model::Basis basis);

/// Whether there is a measured rate, or none is needed: an item without daily use is taken at plan.
[[nodiscard]] bool is_measured(const ItemLevel& level);

/// True when `a` is the tighter margin: fewer days, or, where there are none, sooner short.
[[nodiscard]] bool is_tighter(const Margin& a, const Margin& b);

/// The tightest first; what has no margin before all others, since nobody knows how tight it is.
[[nodiscard]] std::vector<const ItemMargins*> by_tightness(const std::vector<ItemMargins>& margins);

/// What will be on board from the cut-off to the required end, as planned transfers out and no other ones leave it:
/// between the quantiles of the assured margin, whose path is the lower one (of what fills up, the upper one). An item
/// with a ledger has no quantiles and goes as expected. Nothing where there is no margin.
[[nodiscard]] std::vector<model::LevelAhead> levels_ahead(const model::Mission& mission,
                                                          const model::MarginRules& rules, const model::Facts& facts,
                                                          const ItemMargins& margins, model::Instant cutoff);

/// The same at each of the instants `when` with every planned transfer, in and out: what later counts are held against.
/// Nothing where there is no assured margin. Requires `when` between the cut-off and the required end.
[[nodiscard]] std::vector<model::LevelAhead> levels_with_transfers(const model::Mission& mission,
                                                                   const model::MarginRules& rules,
                                                                   const model::Facts& facts,
                                                                   const ItemMargins& margins, model::Instant cutoff,
                                                                   const std::vector<model::Instant>& when);

/// The item with the fewest days among those that have a governing margin in days, or null.
[[nodiscard]] const ItemMargins* find_limiting(const std::vector<ItemMargins>& margins);
/// The same on one basis.
[[nodiscard]] const ItemMargins* find_limiting(const std::vector<ItemMargins>& margins, model::Basis basis);

}  // namespace daywright::rules
