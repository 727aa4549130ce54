#include "write/trial_inputs.h"

#include <fmt/format.h>

#include "model/printable.h"
#include "write/trial_sheets.h"

namespace daywright::write {
namespace {

std::string switch_rows(const TrialLayout& layout, std::size_t column) {
  return fixed_range(column, layout.first_switch, layout.first_switch + layout.switches.size() - 1);
}

std::string are_in_order(const TrialLayout& layout) {
  const std::string rates = layout.option_rows(in_options::rate);
  std::string conditions = fmt::format(
      "ISNUMBER(extra_days),N(extra_days)>=0,N(extra_days)<={},N(extra_days)=INT(N(extra_days)),"
      "OR(crew_aboard=\"\",AND(ISNUMBER(crew_aboard),N(crew_aboard)>=0,N(crew_aboard)=INT(N(crew_aboard)))),"
      "COUNT({})={},COUNTIF({},\"<0\")=0",
      layout.trial.days_possible, rates, layout.items.size(), rates);
  if (!layout.switches.empty())
    conditions += fmt::format(",COUNTIF({0},\"yes\")+COUNTIF({0},\"no\")={1}", switch_rows(layout, in_options::value),
                              layout.switches.size());
  return "AND(" + conditions + ")";
}

SheetRow days_row(const model::TrialPlan& trial) {
  const double most_days = trial.days_possible;
  return {std::string("Days more"), SheetInput{"extra_days", SheetInput::Kind::whole, 0, most_days, 0.0},
          SheetNumber{0, 0, ""},
          SheetNote{trial.days_possible > 0
                        ? fmt::format("before {}, up to {}", model::printable(trial.added_before), most_days)
                        : "it is too late for that"}};
}

SheetRow crew_row(const model::TrialPlan& trial) {
  constexpr double most_persons = 99;
  return {"Persons aboard " + model::printable(trial.vehicles[trial.own_vehicle]),
          SheetInput{"crew_aboard", SheetInput::Kind::whole, 0, most_persons, {}}, std::string("empty"),
          SheetNote{"from the cut-off on; empty: as planned"}};
}

SheetRow switch_row(const model::TrialSwitch& turn, const std::string& name) {
  const std::string planned = turn.is_on ? "yes" : "no";
  return {"Transfer " + model::printable(turn.transfer) + " is made",
          SheetInput{name, SheetInput::Kind::yes_or_no, 0, 0, planned}, planned,
          SheetNote{model::printable(turn.title)}};
}

}  // namespace

std::vector<SheetRow> lay_out_inputs(const TrialLayout& layout) {
  const auto& trial = layout.trial;
  std::vector<SheetRow> rows;
  rows.push_back({SheetHeading{"Try"}, SheetHeading{"Input"}, SheetHeading{"As planned"}});
  rows.push_back(days_row(trial));
  rows.push_back(crew_row(trial));
  for (std::size_t s = 0; s < trial.switches.size(); ++s)
    rows.push_back(switch_row(trial.switches[s], layout.switches[s]));
  rows.push_back({std::string("Inputs"), live(fmt::format("IF({},\"in order\",\"NOT IN ORDER\")", are_in_order(layout)),
                                              std::string("in order"), 0, "inputs")});
  rows.push_back({std::string("State"), live(fmt::format("IF(OR(extra_days<>0,{}),\"{}\",\"{}\")",
                                                         other_changes(layout), not_of_record, of_record),
                                             std::string(of_record), 0, "what_if")});
  return rows;
}

std::string other_changes(const TrialLayout& layout) {
  std::string changes =
      fmt::format("crew_aboard<>\"\",COUNTIF({},1)<>{}", layout.option_rows(in_options::rate), layout.items.size());
  if (!layout.switches.empty())
    changes += fmt::format(",SUMPRODUCT(--({}<>{}))>0", switch_rows(layout, in_options::value),
                           switch_rows(layout, in_options::planned));
  return changes;
}

}  // namespace daywright::write
