// What recording a sign-off takes, whatever it is about: what is covered, the question, the record.
//
//   In:  the sign-off as it was composed, the text that it is about
//   Out: a record below the mission folder, or why there is none
#pragma once

#include <filesystem>
#include <stdexcept>
#include <string>
#include <variant>
#include <vector>

#include "cli/commands.h"
#include "cli/session.h"
#include "model/signoff.h"

namespace daywright::cli {

/// Something that the user can put right; nothing has changed.
struct Refusal : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// What was composed; throws Refusal where that was refused.
[[nodiscard]] model::SignOff composed(std::variant<model::SignOff, std::string> made);

/// The outputs of a whole brief, read once: all files of the folder, and nothing else in it.
class BriefOutputs {
 public:
  /// Throws Refusal where they are not there, or are not those of a whole brief.
  explicit BriefOutputs(const std::filesystem::path& place);

  /// Requires one of the names that a whole brief has.
  [[nodiscard]] const std::string& text(const std::string& name) const;
  [[nodiscard]] std::vector<model::SignedFile> files() const;

 private:
  std::vector<std::string> names_;
  std::vector<std::string> bytes_;
};

/// Throws Refusal for outputs that are not a whole brief of just these inputs.
void require_current(const BriefOutputs& outputs, const Session& session);

/// A file as a sign-off names it.
[[nodiscard]] model::SignedFile describe_file(const std::string& name, const std::string& bytes);

/// The records of the mission in their order. Throws Refusal where they are not sound.
[[nodiscard]] std::vector<model::SignOff> read_sound_records(const Command& command);

/// Shows the first lines of `page`, which is CommonMark, and what is to be recorded, asks unless --yes has answered,
/// and appends `signoff` with key, number and time. Throws Refusal where nothing has changed, and record::InDoubt.
ExitCode record_signoff(const Command& command, const Session& session, model::SignOff signoff, const std::string& page,
                        const std::vector<model::SignOff>& records);

}  // namespace daywright::cli
