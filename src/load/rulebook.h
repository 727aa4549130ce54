// rules.toml -> limits, criteria and how margins are judged, checked against the plan.
#pragma once

#include <string_view>

#include "model/diagnostic.h"
#include "model/mission.h"
#include "model/rulebook.h"

namespace daywright::load {

/// Reads and checks the rules; usable only when no error was added to the faults. Pure.
[[nodiscard]] model::Rulebook parse_rulebook(std::string_view text, int file, const model::Mission& mission,
                                             model::Diagnostics& faults);

}  // namespace daywright::load
