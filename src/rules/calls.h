// Calls and decisions -> who has said what for each gate, what is missing, and whether it is released.
//
//   In:  the records, and what was found of each: does its signature hold, is what it covers still what is there
//   Out: a sheet of words
//
// Pure. It reads verdicts and changes none.
#pragma once

#include <string>
#include <vector>

#include "model/call_sheet.h"
#include "model/instant.h"
#include "model/mission.h"
#include "model/rulebook.h"
#include "model/signoff.h"
#include "model/status.h"

namespace daywright::rules {

/// A record of the day, with what was found of it.
struct CheckedSignOff {
  model::SignOff signoff;
  std::string void_because;  ///< why its signature does not count; empty: it does, or there is none
  std::string overtaken_by;  ///< what is another since it was signed; empty: nothing
};

/// What the calls are about.
struct PolledDay {
  const model::Mission& mission;
  const model::Rulebook& rules;
  const model::DayStatus& status;
  model::Instant cutoff;
  std::string log;  ///< how many records there are, and the digest of the last
};

/// Gates that are polled after the cut-off or have a record, in the order of the plan, then the brief as a whole and
/// the handover if they have records. `records`: all of this day.
///
/// A role has called when one of its principals has; of several standing calls of a role the worst counts. What is void
/// or overtaken counts as not polled, and what is void silences no NO-GO. A gate is released when every role has
/// called, and the chair has decided GO or GO WITH CONDITIONS.
[[nodiscard]] model::CallSheet compute_calls(const PolledDay& day, const std::vector<CheckedSignOff>& records);

}  // namespace daywright::rules
