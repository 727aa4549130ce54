// What `sign` puts into a record, and when it refuses to.
//
//   In:  what was asked for, the rules, the records that are there
//   Out: the sign-off, or why there is none
//
// No file and no clock: `sign` itself, in sign.cpp, reads both.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "cli/commands.h"
#include "model/mission.h"
#include "model/rulebook.h"
#include "model/signoff.h"
#include "model/status.h"

namespace daywright::cli {

/// What stands there to be signed, of one day.
struct SignedBrief {
  int day = 0;
  std::vector<model::SignedFile> files;  ///< of the brief, or the page of the handover
  const model::DayStatus* status = nullptr;
};

/// The record without number, key and time, or what is wrong with the request.
[[nodiscard]] std::variant<model::SignOff, std::string> compose_signoff(const SignRequest& request,
                                                                        const model::Mission& mission,
                                                                        const model::Rulebook& rules,
                                                                        const SignedBrief& brief);

/// The record that the lead takes over on `page`, likewise.
[[nodiscard]] std::variant<model::SignOff, std::string> compose_acceptance(const SignRequest& request,
                                                                           const model::Mission& mission,
                                                                           const model::Rulebook& rules,
                                                                           const SignedBrief& page);

/// The record that takes back record `number`, which has to be the signer's own.
[[nodiscard]] std::variant<model::SignOff, std::string> compose_withdrawal(const SignRequest& request,
                                                                           const std::vector<model::SignOff>& records);

/// How a new sign-off stands to those that are there.
struct Standing {
  std::string refusal;                     ///< why it can't be made; empty: it can
  std::optional<std::int64_t> same_as;     ///< a record that says just this already
  std::optional<std::int64_t> supersedes;  ///< an own one that it corrects
};

/// Requires that `signoff` is no withdrawal.
[[nodiscard]] Standing find_standing(const model::SignOff& signoff, const std::vector<model::SignOff>& records,
                                     const model::Rulebook& rules);

/// What is another since this person last signed, one sentence each.
[[nodiscard]] std::vector<std::string> changes_since(const model::SignOff& last, const model::SignOff& now);

}  // namespace daywright::cli
