#include "rules/readiness.h"

#include <algorithm>

#include <fmt/format.h>

#include "model/suggest.h"
#include "rules/criteria.h"

namespace daywright::rules {

using model::Verdict;

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
  return std::visit([&](const auto& demand) { return judge(criterion, demand, gate, grounds); }, criterion.demand);
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
