#include "write/trial_cases.h"

#include <cassert>

#include <fmt/format.h>

#include "model/printable.h"
#include "write/trial_cells.h"

namespace daywright::write {
namespace {

/// Which transfers of the item are made otherwise than planned.
std::string turned(const model::TrialPlan& trial, const model::TrialItem& item, std::size_t state) {
  std::string words;
  for (std::size_t bit = 0; bit < item.switches.size(); ++bit) {
    if ((state >> bit & 1) == 0) continue;
    const auto& turn = trial.switches[item.switches[bit]];
    words += (words.empty() ? "" : "; ") + model::printable(turn.transfer) + (turn.is_on ? " not made" : " made");
  }
  return words.empty() ? "as planned" : words;
}

SheetRow assured_row(const TrialLayout& layout, const model::TrialItem& item, std::size_t state) {
  SheetRow cells;
  put(cells, in_cases::title, model::printable(item.title));
  put(cells, in_cases::transfers, turned(layout.trial, item, state));
  const auto& margins = item.assured[state];
  for (std::size_t more = 0; more < margins.size(); ++more) {
    const auto& [units, days] = margins[more];
    put(cells, in_cases::units(more), SheetNumber{units, unrounded_decimals(item.step), ""});
    put(cells, in_cases::days(more, layout.days_possible()),
        days ? SheetCell(SheetNumber{*days, 3, ""}) : SheetCell(std::string(no_days)));
  }
  return cells;
}

SheetRow criterion_row(const model::TrialCriterion& criterion) {
  SheetRow cells;
  put(cells, in_cases::title, model::printable(criterion.title));
  put(cells, in_cases::transfers, std::string(criterion.margin ? "see Options" : "as planned"));
  if (criterion.margin) return cells;
  for (std::size_t more = 0; more < criterion.verdicts.size(); ++more)
    put(cells, in_cases::verdict(more), std::string(model::words(criterion.verdicts[more])));
  return cells;
}

}  // namespace

Sheet lay_out_trial_cases(const TrialLayout& layout) {
  Sheet sheet{"Cases", "What only the program can work out, for so many days more", {}, {}};
  sheet.columns = {{"Item", 8, false}, {"Transfers", 8, false}};
  for (const char* what : {"margin", "margin, d"}) {
    for (std::size_t more = 0; more <= layout.days_possible(); ++more)
      sheet.columns.push_back({fmt::format("{} more: {}", more, what), 8, true});
  }
  for (const LaidItem& laid : layout.items) {
    assert(Sheet::first_row + sheet.rows.size() == laid.cases_row);
    for (std::size_t state = 0; state < laid.item.assured.size(); ++state)
      sheet.rows.push_back(assured_row(layout, laid.item, state));
  }
  sheet.rows.push_back({SheetHeading{"Criterion"}});
  assert(Sheet::first_row + sheet.rows.size() == layout.criteria_in_cases);
  for (const auto& criterion : layout.trial.criteria) sheet.rows.push_back(criterion_row(criterion));
  return sheet;
}

}  // namespace daywright::write
