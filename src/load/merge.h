// Rows of all logs -> the facts known at one cut-off, and what is missing from them.
//
//   In:  the inputs, the day and the cut-off
//   Out: one fact per key: the row that counts, those it took the place of, those that disagree
//
// Pure. The same function at yesterday's cut-off gives yesterday's facts.
#pragma once

#include "load/inputs.h"
#include "model/diagnostic.h"
#include "model/log.h"

namespace daywright::load {

/// Merges what was recorded up to `cutoff` in the folders up to `last_day`.
///
/// Same key and values: one fact. Same key and source, recorded later, or `corrects` naming a `ref`: a correction.
/// Same key, another source, other values: a conflict; the better-ranked source counts (rank, then way of
/// counting, then the later record). A row that tells of something after the cut-off is rejected.
[[nodiscard]] model::Facts merge(const Inputs& inputs, int last_day, model::Instant cutoff, model::Diagnostics& faults);

}  // namespace daywright::load
