// What if: the same evening with another plan, beside the plain case.
//
//   In:  the evening; what to change
//   Out: a status with the tables extension, returns and, where something is changed, what_if and what_if_items
//
// Pure. Never part of the brief of record.
#pragma once

#include <optional>
#include <string>
#include <variant>

#include "rules/evaluation.h"
#include "rules/status.h"

namespace daywright::rules {

/// What to change in the plan. Nothing is changed before the cut-off.
struct WhatIf {
  struct Crew {
    int persons = 0;  ///< aboard the vehicle that comes home ...
    model::Instant from;
  };
  struct Return {
    std::string option;
    model::Instant at;  ///< when it is decided
  };

  int extra_days = 0;
  PlanChoice choice;  ///< transfers and rates
  std::optional<Crew> crew;
  std::optional<Return> going_home;

  [[nodiscard]] bool changes_anything() const;
};

/// The plan changed as asked: first longer, then with another crew, then the return. A string: why that can't be.
[[nodiscard]] std::variant<model::Mission, std::string> change_plan(const Evening& evening, const WhatIf& what_if);

/// The options of the evening, and the changed plan beside the plain one; a string: why that can't be.
[[nodiscard]] std::variant<model::DayStatus, std::string> compute_options(const Evening& evening, const WhatIf& what_if,
                                                                          const Issue& issue);

}  // namespace daywright::rules
