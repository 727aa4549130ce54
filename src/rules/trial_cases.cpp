#include "rules/trial_cases.h"

#include <algorithm>
#include <cstddef>
#include <future>
#include <utility>
#include <vector>

#include "rules/item_plan.h"
#include "rules/timeline.h"

namespace daywright::rules {
namespace {

/// With one number of days more.
struct Cases {
  std::vector<std::vector<model::TrialMargin>> assured;  ///< by item, then by state of its switches
  std::vector<model::Verdict> criteria;
  model::Verdict verdict = model::Verdict::no_data;
};

/// The choice of transfers in which the switches are turned whose bits are set in `state`.
PlanChoice turned(const model::TrialPlan& trial, const std::vector<std::size_t>& switches, std::size_t state) {
  PlanChoice choice;
  for (std::size_t bit = 0; bit < switches.size(); ++bit) {
    if ((state >> bit & 1) == 0) continue;
    const auto& turn = trial.switches[switches[bit]];
    (turn.is_on ? choice.not_out : choice.in).insert(turn.transfer);
  }
  return choice;
}

Cases cases_of(const Evening& evening, const Evaluation& now, const model::TrialPlan& trial, int days) {
  const model::Mission longer = extend(evening.mission, days);
  const auto& rules = evening.rules.margins;
  const auto margins = days == 0
                           ? now.margins
                           : compute_margins(longer, rules, evening.facts, now.levels, evening.cutoff, Detail::margins);
  const auto flight = stretches(longer, evening.cutoff, longer.required_end());
  Cases cases;
  for (std::size_t i = 0; i < trial.items.size(); ++i) {
    auto& assured = cases.assured.emplace_back();
    const auto& switches = trial.items[i].switches;
    for (std::size_t state = 0; margins[i].assured && state < std::size_t{1} << switches.size(); ++state) {
      const auto& margin = state == 0
                               ? margins[i]
                               : compute_item_margins(longer, rules, flight, evening.facts, *margins[i].level,
                                                      evening.cutoff, Detail::margins, turned(trial, switches, state));
      assured.push_back({margin.assured->units, margin.assured->days});
    }
  }
  // Criteria on margins are worked out live: beyond the flight as planned nobody asks for them here.
  const bool is_asked = days == 0 || std::any_of(trial.criteria.begin(), trial.criteria.end(),
                                                 [](const auto& criterion) { return !criterion.margin; });
  if (!is_asked) return cases;
  auto flown = judge_flight(evening, longer, margins, now.tasks);
  cases.criteria = std::move(flown.criteria);
  cases.verdict = flown.verdict;
  return cases;
}

}  // namespace

void find_trial_cases(const Evening& evening, const Evaluation& now, model::TrialPlan& trial) {
  std::vector<Cases> by_days(static_cast<std::size_t>(trial.days_possible) + 1);
  // Two halves side by side: they share nothing that changes.
  const auto find = [&](std::size_t first) {
    for (std::size_t days = first; days < by_days.size(); days += 2)
      by_days[days] = cases_of(evening, now, trial, static_cast<int>(days));
  };
  auto other_half = std::async(std::launch::async, find, 1);
  find(0);
  other_half.get();
  trial.verdict = by_days.front().verdict;
  for (const Cases& cases : by_days) {
    for (std::size_t i = 0; i < trial.items.size(); ++i) {
      auto& assured = trial.items[i].assured;
      assured.resize(cases.assured[i].size());
      for (std::size_t state = 0; state < assured.size(); ++state) assured[state].push_back(cases.assured[i][state]);
    }
    for (std::size_t c = 0; c < cases.criteria.size(); ++c) {
      auto& criterion = trial.criteria[c];
      if (!criterion.margin || criterion.verdicts.empty()) criterion.verdicts.push_back(cases.criteria[c]);
    }
  }
}

}  // namespace daywright::rules
