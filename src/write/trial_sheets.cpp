#include "write/trial_sheets.h"

#include "write/trial_cases.h"
#include "write/trial_course.h"
#include "write/trial_layout.h"
#include "write/trial_margins.h"
#include "write/trial_options.h"
#include "write/trial_phases.h"
#include "write/trial_places.h"

namespace daywright::write {

std::vector<Sheet> lay_out_trial_sheets(const model::DayStatus& status) {
  if (status.trial.items.empty()) return {};
  const TrialLayout layout(status);
  std::vector<Sheet> sheets;
  sheets.push_back(lay_out_trial_options(layout));
  sheets.push_back(lay_out_trial_margins(layout));
  sheets.push_back(lay_out_trial_course(layout));
  if (layout.places > 0) sheets.push_back(lay_out_trial_places(layout));
  sheets.push_back(lay_out_trial_phases(layout));
  sheets.push_back(lay_out_trial_cases(layout));
  for (Sheet& sheet : sheets) sheet.fit_widths();
  return sheets;
}

}  // namespace daywright::write
