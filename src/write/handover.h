// handover.md: the page for whoever takes over.
//
//   In:  the status that rules/handover computes, and what the brief is that it rests on
//   Out: CommonMark with pipe tables
//
// Pure.
#pragma once

#include <string>

#include "model/status.h"

namespace daywright::write {

/// `brief_digest` is the SHA-256 of the brief.md of the same inputs and cut-off; empty: there is none in place.
[[nodiscard]] std::string render_handover(const model::DayStatus& status, const std::string& brief_digest);

}  // namespace daywright::write
