// mission.toml -> the plan of the flight, checked.
//
//   In:  the file's text
//   Out: the mission; usable only when no error was added to the faults
//
// Pure.
#pragma once

#include <string_view>

#include "model/diagnostic.h"
#include "model/mission.h"

namespace daywright::load {

/// Reads and checks the plan. Every named thing exists, phases and days run forward, a mission of N planned days
/// lands on flight day N + 1, and nothing is made from itself; what is not so is an error.
[[nodiscard]] model::Mission parse_mission(std::string_view text, int file, model::Diagnostics& faults);

}  // namespace daywright::load
