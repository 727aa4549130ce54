#include "write/trial_verdicts.h"

#include <cmath>

#include <fmt/format.h>

#include "write/trial_cells.h"
#include "write/trial_inputs.h"

namespace daywright::write {
namespace {

using model::Verdict;

std::string margin_verdict(const TrialLayout& layout, const model::TrialCriterion::OfMargin& asked) {
  const auto [units, days] = in_options::margin(asked.basis);
  const std::string cell = fixed_cell(asked.in_days ? days : units, layout.first_item + asked.item);
  const bool at_least = asked.comparison == model::Comparison::at_least;
  const std::string fails = fmt::format("{0}{1}{2}{3}0.000000001*MAX(ABS({0}),{4})", cell, at_least ? "<" : ">",
                                        number(asked.limit), at_least ? "-" : "+", std::abs(asked.limit));
  return fmt::format("IF(ISNUMBER({}),IF({},\"NOT READY\",\"{}\"),\"NO DATA\")", cell, fails,
                     asked.is_sound ? "READY" : "NO DATA");
}

}  // namespace

std::string flight_verdict(const TrialLayout& layout) {
  const auto& trial = layout.trial;
  const std::string items = layout.option_rows(in_options::verdict);
  const std::string criteria = trial.criteria.empty() ? items
                                                      : fixed_range(in_options::value, layout.first_criterion,
                                                                    layout.first_criterion + trial.criteria.size() - 1);
  const auto any = [&](Verdict wanted) {
    const auto words = model::words(wanted);
    return fmt::format("COUNTIF({},\"{}\")+COUNTIF({},\"{}\")", items, words, criteria, words);
  };
  const auto words = [](Verdict v) { return fmt::format("\"{}\"", model::words(v)); };
  return fmt::format("IF(inputs<>\"in order\",{0},IF({1}>0,{2},IF({3}{4}>0,{0},IF({5}>0,{6},{7}))))",
                     words(Verdict::no_data), any(Verdict::not_ready), words(Verdict::not_ready), any(Verdict::no_data),
                     trial.are_decisions_sound ? "" : "+1", any(Verdict::ready_with_conditions),
                     words(Verdict::ready_with_conditions), words(Verdict::ready));
}

std::string criterion_verdict(const TrialLayout& layout, std::size_t index) {
  const auto& criterion = layout.trial.criteria[index];
  if (criterion.margin) return margin_verdict(layout, *criterion.margin);
  const std::size_t row = layout.criteria_in_cases + index;
  std::string looked_up =
      fmt::format("INDEX(Cases!{},extra_days+1)",
                  fixed_range(in_cases::verdict(0), row, in_cases::verdict(layout.days_possible()), row));
  if (!criterion.depends_on_changes) return looked_up;
  return fmt::format("IF(OR({}),\"NO DATA\",{})", other_changes(layout), looked_up);
}

std::string item_verdict(const TrialLayout& layout, const LaidItem& laid) {
  const std::size_t row = laid.margins_row;
  std::string lowest;
  for (const model::Basis basis : layout.trial.bases) {
    if (basis == model::Basis::assured && laid.item.has_ledger) continue;
    lowest += (lowest.empty() ? "Margins!" : ",Margins!") + fixed_cell(in_margins::margin(basis).units, row);
  }
  return fmt::format("IF(MIN({})<-{},\"NOT READY\",IF(ISNUMBER(Margins!{}),\"{}\",\"NO DATA\"))", lowest,
                     laid.item.step * 1e-9, fixed_cell(in_margins::margin(governing).units, row),
                     laid.item.doubt.empty() ? "READY" : "NO DATA");
}

}  // namespace daywright::write
