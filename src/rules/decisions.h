// What approved decisions do to the plan.
//
//   In:  the plan, the log of decisions, the cut-off
//   Out: the plan as it stands at the cut-off, and of each decision whether it has an effect
//
// Pure. A decision has its effect from its time on, if it is approved, names its authority, has not lapsed and is told
// in one way only.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "rules/evidence.h"

namespace daywright::rules {

/// Why a decision has no effect at `cutoff`, such as "no authority is named"; nothing: it has.
[[nodiscard]] std::optional<std::string> why_without_effect(const model::Merged<model::DecisionRow>& decision,
                                                            model::Instant cutoff);

/// From when on a decision has its effect: its own time, else when it was written down.
[[nodiscard]] model::Instant effective_from(const model::DecisionRow& decision);

/// Why the plan, or a waiver, may be other than it seems: a decision that nobody can read, or that is told in two ways.
[[nodiscard]] std::vector<Doubt> doubts_about_decisions(const model::Facts& facts);

/// What a change is in words: "1 day more", "Undocking at 2031-05-16T02:54Z"; empty: it is for people to enter.
[[nodiscard]] std::string describe_change(const model::Mission& mission, const model::PlanChange& change);

/// The plan with every decision that has an effect, the later one last where two speak of one thing; added days come
/// last, so that they move what was moved before. The poll of a gate moves with its event.
[[nodiscard]] model::Mission plan_in_effect(const model::Mission& mission, const model::Facts& facts,
                                            model::Instant cutoff);

}  // namespace daywright::rules
