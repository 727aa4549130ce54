#include "write/trial_phases.h"

#include <cassert>

#include <fmt/format.h>

#include "model/printable.h"
#include "write/trial_cells.h"

namespace daywright::write {
namespace {

void add_crew(const model::TrialPlan& trial, const std::vector<int>& crew, SheetRow& cells) {
  for (std::size_t v = 0; v < crew.size(); ++v) {
    const std::string otherwise =
        v == trial.own_vehicle ? std::string("crew_aboard") : fmt::format("{}", trial.crew_elsewhere[v]);
    put(cells, in_phases::crew + v,
        live(fmt::format("IF(crew_aboard=\"\",{},{})", crew[v], otherwise), static_cast<double>(crew[v])));
  }
}

SheetRow cutoff_row(const model::TrialPlan& trial) {
  SheetRow cells;
  put(cells, in_phases::phase, std::string("Cut-off"));
  put(cells, in_phases::after_cutoff, SheetNumber{0, 4, ""});
  put(cells, in_phases::end, trial.cutoff);
  return cells;
}

SheetRow stretch_row(const model::TrialPlan& trial, std::size_t index) {
  const auto& stretch = trial.stretches[index];
  const std::size_t row = phase_row(index);
  const double after = model::in_days(stretch.end - trial.cutoff);
  const std::string until = cell_at(in_phases::after_cutoff, row);
  SheetRow cells;
  put(cells, in_phases::phase, model::printable(stretch.phase));
  put(cells, in_phases::kind, model::printable(trial.kinds[stretch.kind]));
  put(cells, in_phases::after_cutoff,
      stretch.ends_later && trial.days_possible > 0 ? live(number(after) + "+extra_days", after, 4)
                                                    : SheetCell(SheetNumber{after, 4, ""}));
  put(cells, in_phases::end, live(fixed_cell(in_phases::end, Sheet::first_row) + "+" + until, stretch.end));
  put(cells, in_phases::days,
      live(until + "-" + cell_at(in_phases::after_cutoff, row - 1), model::in_days(stretch.end - stretch.begin), 4));
  put(cells, in_phases::ends_with, model::printable(stretch.ends_with));
  add_crew(trial, stretch.crew, cells);
  return cells;
}

SheetRow end_row(const model::TrialPlan& trial) {
  SheetRow cells;
  put(cells, in_phases::phase, std::string("Required end"));
  put(cells, in_phases::kind, model::printable(trial.kinds[trial.margin_kind]));
  add_crew(trial, trial.crew_at_end, cells);
  return cells;
}

}  // namespace

Sheet lay_out_trial_phases(const TrialLayout& layout) {
  const auto& trial = layout.trial;
  Sheet sheet{"Phases", "The flight from the cut-off on", {}, {}};
  for (const char* header : {"Phase", "Kind of day", "After the cut-off, d", "To, UTC", "Days", "Ends with"})
    sheet.columns.push_back({header, 8, false});
  assert(sheet.columns.size() == in_phases::crew);
  for (const std::size_t c : {in_phases::after_cutoff, in_phases::days}) sheet.columns[c].is_number = true;
  for (const auto& vehicle : trial.vehicles) sheet.columns.push_back({"Aboard " + model::printable(vehicle), 8, true});
  sheet.rows.push_back(cutoff_row(trial));
  for (std::size_t i = 0; i < trial.stretches.size(); ++i) sheet.rows.push_back(stretch_row(trial, i));
  sheet.rows.push_back(end_row(trial));
  return sheet;
}

}  // namespace daywright::write
