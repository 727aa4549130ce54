// What if they had to come home now: each declared way of returning, judged.
//
//   In:  the evening, its levels, tasks and figures, the return options of the rules
//   Out: for each option the margin if it began now, the latest time to decide, and the level that sets it
//
// Pure. Design section 4.5.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rules/evaluation.h"

namespace daywright::rules {

/// From which level on an item no longer covers a way home; of what comes along, in the item's unit.
struct Redline {
  const model::Item* item = nullptr;
  double aboard = 0;            ///< the level now, of what comes along
  std::optional<double> plan;   ///< with the hours that the return is planned with: at this level plan it
  std::optional<double> begin;  ///< with the least hours it takes, where they are known: at this level begin it
  std::vector<std::string> doubts;
};

/// One way of returning. Where there is no landing any more, nothing else is known either.
struct ReturnCase {
  const model::ReturnOption* option = nullptr;
  model::Verdict verdict = model::Verdict::no_data;  ///< READY: covered if begun now, and all it needs is ready
  std::string reason;                                ///< what holds it, where it is not READY
  std::optional<model::Instant> landing;             ///< if it begins now
  const model::Item* limiting = nullptr;
  std::optional<Margin> margin;                   ///< of the limiting item, if it begins now
  std::optional<model::Instant> latest_decision;  ///< the last time at which it still keeps every reserve
  bool is_last_opportunity = false;               ///< the latest decision is set by the last opportunity named
  const model::Item* set_by = nullptr;            ///< the item that is short one opportunity later
  std::vector<Redline> redlines;                  ///< of every item, in the order of the plan
  model::Trace trace;

  /// That of the limiting item; null where nothing limits.
  [[nodiscard]] const Redline* limiting_redline() const;
};

/// The plan with the return `option` begun at `decide`; nothing when no opportunity is left for it.
///
/// The phase of the return begins at once, what was planned later does not happen, places that go with a later event
/// are lost at once, reserves that a later event would have released are kept, and who has a seat goes to its vehicle.
[[nodiscard]] std::optional<model::Mission> plan_return(const model::Mission& mission,
                                                        const model::ReturnOption& option, model::Instant decide);

/// Every option of the rules, in their order.
[[nodiscard]] std::vector<ReturnCase> judge_returns(const Evening& evening, const std::vector<ItemLevel>& levels,
                                                    const std::vector<TaskStatus>& tasks, const FigureBook& figures);

}  // namespace daywright::rules
