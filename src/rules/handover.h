// The page for whoever takes over: what falls due in the coming shift, what is open, what it rests on.
//
//   In:  the evening; how long the shift is, from the cut-off on
//   Out: a status with the tables deadlines, actions (the others), conditions, waivers_in_force, needs, anomalies,
//        findings, off_nominal and stale_counts, and figures that say which of them nobody can be sure of
//
// Pure. It is never part of the brief of record.
#pragma once

#include "model/instant.h"
#include "model/status.h"
#include "rules/evaluation.h"
#include "rules/status.h"

namespace daywright::rules {

/// Deadlines come in order of time; what is open and was due before the cut-off is among them and says OVERDUE.
///
/// A table whose logs have gaps has a figure `handover.unsure.TABLE` with the reason: what is not in it may only be
/// missing from the logs. Requires `shift` > 0.
[[nodiscard]] model::DayStatus compute_handover(const Evening& evening, model::Duration shift, const Issue& issue);

}  // namespace daywright::rules
