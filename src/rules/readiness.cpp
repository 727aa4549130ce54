#include "rules/readiness.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "model/suggest.h"
#include "rules/criteria.h"
#include "rules/decisions.h"

namespace daywright::rules {
namespace {

using model::Verdict;

/// Why the waiver does not cover what the criterion says; empty: it does.
std::string why_not_covered(const model::Merged<model::DecisionRow>& decision, const CriterionResult& result,
                            const model::Gate& gate, const Grounds& grounds) {
  const auto& row = decision.row;
  if (const auto why = why_without_effect(decision, grounds.cutoff)) return *why;
  if (row.authority != result.criterion->waiver_authority)
    return fmt::format("{} can't waive it", grounds.role_title(row.authority));
  if (!row.expires) return "it names no end";
  if (*row.expires < gate.poll) return "it ends before the poll";
  if (result.is_overdue) return "its condition is overdue";
  for (const auto& datum : result.lacking) {
    if (std::find(row.waiver.data.begin(), row.waiver.data.end(), datum) == row.waiver.data.end())
      return fmt::format("it does not name what is missing of {}", datum);
  }
  if (result.verdict == Verdict::no_data && !row.waiver.worst) return {};
  if (!row.waiver.worst) return "it names no worst value";
  const double hair = 1e-9 * std::max(1.0, std::abs(*row.waiver.worst));
  const bool is_worse =
      result.higher_is_worse ? result.value > *row.waiver.worst + hair : result.value < *row.waiver.worst - hair;
  return is_worse ? fmt::format("{:.4g} is worse than the {:.4g} that it accepts", result.value, *row.waiver.worst)
                  : std::string{};
}

/// The first waiver of the criterion, by name, that covers it makes it READY WITH CONDITIONS; one that does not is
/// named.
void apply_waivers(CriterionResult& result, const model::Gate& gate, const Grounds& grounds) {
  if (model::rank(result.verdict) > 0) return;
  const std::string reason = result.reason;
  for (const auto& decision : grounds.facts.decisions) {
    const auto& row = decision.row;
    if (row.waiver.criterion != result.criterion->id) continue;
    const std::string why = why_not_covered(decision, result, gate, grounds);
    result.trace.inputs.push_back(
        from_file("waiver " + row.decision, why.empty() ? "covers it" : why, row.from.source));
    if (!why.empty()) {
      result.reason = fmt::format("{}; waiver {}: {}", reason, row.decision, why);
      continue;
    }
    result.waived_by = &decision;
    result.verdict = Verdict::ready_with_conditions;
    result.reason = fmt::format("waived by {}: {}", row.decision, reason);
    result.conditions.push_back({result.reason, "the criterion met, or a new decision"});
    return;
  }
}

}  // namespace

std::size_t GateResult::how_many(Verdict wanted) const {
  return static_cast<std::size_t>(
      std::count_if(criteria.begin(), criteria.end(), [&](const auto& c) { return c.verdict == wanted; }));
}

const CriterionResult* GateResult::holding() const {
  for (const Verdict worst : {Verdict::not_ready, Verdict::no_data, Verdict::ready_with_conditions}) {
    for (const auto& criterion : criteria) {
      if (criterion.verdict == worst) return &criterion;
    }
  }
  return nullptr;
}

model::Diagnostics find_wrong_names(const model::Rulebook& rules, const Grounds& grounds) {
  model::Diagnostics faults;
  std::vector<std::string> tasks;
  for (const auto& task : grounds.tasks) tasks.push_back(task.plan->row.task);
  const auto say = [&](const model::Criterion& criterion, const std::string& text, std::string rule) {
    faults.push_back({model::Severity::error, criterion.source,
                      fmt::format("criterion '{}' names {}; it is NO DATA", criterion.id, text), std::move(rule)});
  };
  for (const auto& criterion : rules.criteria) {
    if (const auto* demand = std::get_if<model::FigureCriterion>(&criterion.demand)) {
      const auto* figure = grounds.figures.find(demand->figure);
      if (figure == nullptr) {
        say(criterion,
            fmt::format("figure '{}', expected one that 'explain DIR --list' shows{}", demand->figure,
                        model::did_you_mean(demand->figure, grounds.figures.ids())),
            "figure-unknown");
      } else if (!fits(*demand, *figure)) {
        say(criterion,
            fmt::format("the unit '{}', expected one that converts to that of {}, '{}'",
                        demand->unit != nullptr ? demand->unit->spelling : "", figure->id, figure->unit),
            "unit-dimension");
      }
    } else if (const auto* asked = std::get_if<model::TasksCriterion>(&criterion.demand)) {
      for (const auto& task : asked->tasks) {
        if (std::find(tasks.begin(), tasks.end(), task) == tasks.end())
          say(criterion, fmt::format("task '{}', expected one of log 'plan'{}", task, model::did_you_mean(task, tasks)),
              "task-unknown");
      }
    }
  }
  return faults;
}

CriterionResult judge_criterion(const model::Criterion& criterion, const model::Gate& gate, const Grounds& grounds) {
  CriterionResult result =
      std::visit([&](const auto& demand) { return judge(criterion, demand, gate, grounds); }, criterion.demand);
  if (result.verdict == Verdict::ready_with_conditions && gate.poll <= grounds.cutoff) {
    result.verdict = Verdict::not_ready;
    result.is_overdue = true;
    result.reason = "still open at the poll: " + result.reason;
  }
  const auto doubts = doubts_about_decisions(grounds.facts);
  if (!doubts.empty()) {
    add_to_trace(doubts, result.trace);
    if (model::rank(result.verdict) > 0) {
      result.verdict = Verdict::no_data;
      result.reason = doubts.front().text;
      result.lacking.emplace_back("decisions");
    }
    return result;
  }
  apply_waivers(result, gate, grounds);
  return result;
}

std::vector<GateResult> judge_gates(const model::Rulebook& rules, const Grounds& grounds) {
  std::vector<GateResult> gates;
  for (const auto& gate : grounds.mission.gates) {
    GateResult result;
    result.gate = &gate;
    std::vector<Verdict> verdicts;
    for (const auto& criterion : rules.criteria) {
      if (criterion.gate != gate.id) continue;
      result.criteria.push_back(judge_criterion(criterion, gate, grounds));
      verdicts.push_back(result.criteria.back().verdict);
    }
    result.verdict = model::combine(verdicts);
    gates.push_back(std::move(result));
  }
  const auto event_at = [&](const GateResult& g) {
    return model::find_by_id(grounds.mission.events, g.gate->event)->at;
  };
  std::stable_sort(gates.begin(), gates.end(), [&](const auto& a, const auto& b) { return event_at(a) < event_at(b); });
  return gates;
}

}  // namespace daywright::rules
