// One evening worked out: levels, margins, work and gates at one cut-off, with the figures that criteria may name.
//
//   In:  plan, rules, facts, the day and the cut-off
//   Out: results that point into the plan and the facts, and a book with the figures of the items
//
// Pure. Yesterday's brief is the same function at yesterday's cut-off.
#pragma once

#include <string>
#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "model/rulebook.h"
#include "model/trial.h"
#include "rules/figures.h"
#include "rules/levels.h"
#include "rules/margins.h"
#include "rules/readiness.h"
#include "rules/work.h"

namespace daywright::rules {

/// What one evening is worked out from. All of it must outlive the evaluation.
struct Evening {
  const model::Mission& mission;
  const model::Rulebook& rules;
  const model::Facts& facts;
  const model::Day& day;
  model::Instant cutoff;
};

/// The flight as planned, with days added, or changed in another way, as a whole: what limits it and whether it holds.
struct ExtensionCase {
  int days = 0;                                      ///< added
  model::Verdict verdict = model::Verdict::no_data;  ///< READY: it is supported
  model::Instant landing;
  model::Instant required_end;
  std::string limiting;                  ///< title of the limiting item; empty: none
  std::optional<double> margin_days;     ///< of the limiting item
  std::string reason;                    ///< what holds it, where it is not supported
  std::optional<double> hours_gained;    ///< towards the next day, where this one is supported
  std::vector<model::Verdict> criteria;  ///< of those that limit an extension, in the order of the rules
  model::Trace trace;
};

/// The longest extension that is looked at, in days.
inline constexpr int most_days_added = model::TrialPlan::most_days;

struct Evaluation {
  explicit Evaluation(const model::Mission& mission) : figures(mission) {}

  FigureBook figures;  ///< of items, ledgers, all supplies together, and work: what criteria can name
  std::vector<ItemLevel> levels;
  std::vector<ItemMargins> margins;  ///< points into `levels`
  std::vector<TaskStatus> tasks;
  WorkFit fit;  ///< points into `tasks`
  std::vector<GateResult> gates;
};

/// Whether the work is fitted into the crew time where no criterion asks for it.
enum class Fitting { always, if_asked };

[[nodiscard]] Evaluation evaluate(const Evening& evening, Fitting fitting = Fitting::always);

/// Whether an item lasts: NOT READY where it is short, NO DATA where nobody can tell.
[[nodiscard]] model::Verdict judge_item(const ItemMargins& item);

/// Whether everything lasts in `mission`, the evening's own or a changed one, and every criterion that limits an
/// extension holds.
[[nodiscard]] ExtensionCase judge_flight(const Evening& evening, const model::Mission& mission,
                                         const std::vector<ItemMargins>& margins, const std::vector<TaskStatus>& tasks);

/// The flight with 0, 1, 2 ... days added, up to the first that is not supported, at most 10; nothing when it is too
/// late for adding any. `now` is the evening's own evaluation.
[[nodiscard]] std::vector<ExtensionCase> judge_extensions(const Evening& evening, const Evaluation& now);

}  // namespace daywright::rules
