// What recording a sign-off takes, whatever it is about: what is covered, the question, the record.
//
//   In:  the sign-off as it was composed, the text that it is about
//   Out: a record below the mission folder, or why there is none
#pragma once

#include <string>
#include <variant>
#include <vector>

#include "cli/commands.h"
#include "cli/session.h"
#include "model/signoff.h"

namespace daywright::cli {

/// What was composed; throws std::runtime_error where that was refused.
[[nodiscard]] model::SignOff composed(std::variant<model::SignOff, std::string> made);

/// The records of the mission in their order. Throws std::runtime_error where they are not sound.
[[nodiscard]] std::vector<model::SignOff> read_sound_records(const Command& command);

/// Shows the first lines of `page`, which is CommonMark, and what is to be recorded, asks unless --yes has answered,
/// and appends `signoff` with key, number and time. Throws std::runtime_error where nothing has changed, and
/// record::InDoubt.
ExitCode record_signoff(const Command& command, const Session& session, model::SignOff signoff, const std::string& page,
                        const std::vector<model::SignOff>& records);

}  // namespace daywright::cli
