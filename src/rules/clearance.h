// Whether a zone of the vehicle is cleared for a gate, and what that rests on.
//
//   In:  a zones criterion, the surveys, findings and clearance statements
//   Out: per zone a verdict, the reasons, and the rows it rests on
//
// Pure. A survey counts only when it was taken, received and reviewed; a statement only when the named authority
// made it after the last review and the last finding. Freshness is judged at the gate's poll time.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "model/rulebook.h"
#include "model/verdict.h"
#include "rules/evidence.h"

namespace daywright::rules {

struct ZoneClearance {
  const model::Zone* zone = nullptr;
  model::Verdict verdict = model::Verdict::no_data;
  std::string reason;                              ///< in words, without numbers that stand in a figure
  double coverage = 0;                             ///< percent, by surveys that count
  std::optional<model::Instant> oldest_taken;      ///< of the surveys that count
  std::vector<const model::SurveyRow*> surveys;    ///< that count
  const model::ClearanceRow* statement = nullptr;  ///< the newest of the authority
  std::vector<const model::FindingRow*> open_findings;
  std::vector<Doubt> doubts;
};

/// Judges every zone of `demand` for `gate` at `cutoff`, in the order of the demand.
[[nodiscard]] std::vector<ZoneClearance> judge_zones(const model::Mission& mission, const model::Gate& gate,
                                                     const model::ZonesCriterion& demand, const model::Facts& facts,
                                                     model::Instant cutoff, std::span<const model::Role> roles = {});

}  // namespace daywright::rules
