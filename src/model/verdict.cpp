#include "model/verdict.h"

#include <algorithm>

namespace daywright::model {

int rank(Verdict verdict) {
  switch (verdict) {
    case Verdict::ready: return 2;
    case Verdict::ready_with_conditions: return 1;
    case Verdict::not_ready:
    case Verdict::no_data: break;
  }
  return 0;
}

Verdict combine(std::span<const Verdict> verdicts) {
  const auto any = [&](Verdict v) { return std::find(verdicts.begin(), verdicts.end(), v) != verdicts.end(); };
  if (any(Verdict::not_ready)) return Verdict::not_ready;
  if (any(Verdict::no_data) || verdicts.empty()) return Verdict::no_data;
  return any(Verdict::ready_with_conditions) ? Verdict::ready_with_conditions : Verdict::ready;
}

std::string_view words(Verdict verdict) {
  switch (verdict) {
    case Verdict::ready: return "READY";
    case Verdict::ready_with_conditions: return "READY WITH CONDITIONS";
    case Verdict::not_ready: return "NOT READY";
    case Verdict::no_data: break;
  }
  return "NO DATA";
}

}  // namespace daywright::model
