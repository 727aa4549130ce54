// Criteria judged, and gates made of them. A verdict is computed; GO and NO-GO are calls that people make.
//
//   In:  the rules, the facts, the figures they name, the zones
//   Out: a verdict per criterion with its reason, and per gate their combination
//
// Pure. Losing evidence never raises a rank: whatever is missing, stale, rejected or told in two ways makes a
// criterion NO DATA unless it is NOT READY already.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "model/diagnostic.h"
#include "model/figure.h"
#include "model/log.h"
#include "model/mission.h"
#include "model/rulebook.h"
#include "model/verdict.h"
#include "rules/clearance.h"
#include "rules/figures.h"
#include "rules/work.h"
#include "rules/work_fit.h"

namespace daywright::rules {

/// Something that still has to come for what is READY WITH CONDITIONS.
struct Condition {
  std::string text;
  std::string closed_by;  ///< the evidence that ends it
};

struct CriterionResult {
  const model::Criterion* criterion = nullptr;
  model::Verdict verdict = model::Verdict::no_data;
  std::string reason;
  model::Trace trace;
  std::vector<Condition> conditions;                             ///< each due at the poll
  double value = 0;                                              ///< what is held against the limit, or failures
  bool higher_is_worse = true;                                   ///< of `value`
  bool is_overdue = false;                                       ///< a condition is still open at the poll
  std::vector<std::string> lacking;                              ///< the data that are missing or in doubt, by name
  const model::Merged<model::DecisionRow>* waived_by = nullptr;  ///< null: stands on its own
  std::vector<ZoneClearance> zones;                              ///< of a zones criterion
};

struct GateResult {
  const model::Gate* gate = nullptr;
  model::Verdict verdict = model::Verdict::no_data;
  std::vector<CriterionResult> criteria;

  [[nodiscard]] std::size_t how_many(model::Verdict verdict_wanted) const;
  /// The criterion to speak of first: the first that is NOT READY, else NO DATA, else with conditions; null: all ready.
  [[nodiscard]] const CriterionResult* holding() const;
};

/// What the criteria are judged on.
struct Grounds {
  const model::Mission& mission;
  const model::Facts& facts;
  const std::vector<TaskStatus>& tasks;
  const FigureBook& figures;
  model::Instant cutoff;
  std::span<const model::Role> roles = {};
  const WorkFit* fit = nullptr;  ///< null: not worked out for this flight

  /// What the role with this id is called.
  [[nodiscard]] std::string role_title(const std::string& id) const { return model::role_title(roles, id); }
};

/// Holds a figure against its limit. An unknown figure or a unit that does not convert is NO DATA.
[[nodiscard]] CriterionResult judge_figure(const model::Criterion& criterion, const model::FigureCriterion& demand,
                                           const model::Figure* figure);

/// What the criteria name and what is not there: figures, units that do not convert, tasks. Such a criterion is NO
/// DATA.
[[nodiscard]] model::Diagnostics find_wrong_names(const model::Rulebook& rules, const Grounds& grounds);

/// Judges one criterion of `gate`, whose poll is the time at which evidence has to hold.
[[nodiscard]] CriterionResult judge_criterion(const model::Criterion& criterion, const model::Gate& gate,
                                              const Grounds& grounds);

/// Judges every gate of the plan in order of its event.
[[nodiscard]] std::vector<GateResult> judge_gates(const model::Rulebook& rules, const Grounds& grounds);

}  // namespace daywright::rules
