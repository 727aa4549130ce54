// Computed verdicts and how they combine. GO and NO-GO are calls that people make; they are never computed.
#pragma once

#include <span>
#include <string_view>

namespace daywright::model {

/// Ordered from best to worst only by `rank`; NO DATA is as bad as NOT READY.
enum class Verdict { ready, ready_with_conditions, not_ready, no_data };

/// 2 for READY, 1 for READY WITH CONDITIONS, 0 otherwise. Losing evidence must never raise it.
[[nodiscard]] int rank(Verdict verdict);

/// NOT READY if any is, else NO DATA if any is, else READY WITH CONDITIONS if any is, else READY.
/// Without a single verdict there is nothing to stand on: NO DATA.
[[nodiscard]] Verdict combine(std::span<const Verdict> verdicts);

/// The words that are printed: "READY", "READY WITH CONDITIONS", "NOT READY", "NO DATA".
[[nodiscard]] std::string_view words(Verdict verdict);

}  // namespace daywright::model
