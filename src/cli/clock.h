// The one place that reads the clock: a sign-off says when it was made. No figure, verdict or output of a brief does.
#pragma once

#include "model/instant.h"

namespace daywright::cli {

/// Now, UTC, in whole seconds.
[[nodiscard]] model::Instant read_clock();

}  // namespace daywright::cli
