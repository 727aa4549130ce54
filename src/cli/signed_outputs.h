// What a sign-off covers, held against what is there now.
#pragma once

#include <string>
#include <vector>

#include "cli/commands.h"
#include "cli/session.h"
#include "model/mission.h"
#include "model/signoff.h"
#include "model/status.h"
#include "record/archive.h"
#include "write/json.h"
#include "write/past_figures.h"

namespace daywright::cli {

/// The limiting item with its margin, in the words of the brief.
[[nodiscard]] std::string limiting_words(const model::DayStatus& status);

/// The verdict of each gate that the status has one of, in the order of the plan.
[[nodiscard]] std::vector<model::SeenVerdict> seen_verdicts(const model::Mission& mission,
                                                            const model::DayStatus& status);

/// What a sign-off covers and what is another now.
struct OtherSince {
  /// The outputs that are not what was signed, "output brief.md", or, where all are, the inputs of that day that are
  /// not what the signed list of inputs says, "days/008/counts.csv".
  std::vector<std::string> files;
  /// The figures that the inputs give otherwise now. Where the signed status is not there any more, those that the
  /// record itself names.
  std::vector<write::FigureChange> figures;
};

/// The files that are others since, given the files of the mission of all days. Empty: nothing is another.
[[nodiscard]] std::vector<std::string> other_files_since(const model::SignOff& signoff, const Command& command,
                                                         const std::vector<write::InputRecord>& inputs);

/// Finds what sign-offs cover in the archive of their mission.
class FiledSubjects {
 public:
  /// Throws std::system_error where the archive can't be read.
  explicit FiledSubjects(const std::filesystem::path& mission);
  /// The bag that lists all that a sign-off covers, "archive/000003"; empty: none. Its lists are held against the
  /// chain; whether the files are what they list is for `verify` of the archive to say.
  [[nodiscard]] std::string find(const model::SignOff& signoff) const;

 private:
  std::filesystem::path mission_;
  std::vector<record::FiledDay> days_;
};

/// The same, and the figures where the sign-off is of the day of `session`, which has to have a status.
[[nodiscard]] OtherSince others_since(const model::SignOff& signoff, const Command& command, const Session& session,
                                      const std::vector<write::InputRecord>& inputs);

/// One sentence for each sign-off of the day that stands and covers something that is another since, one that counts
/// those of other days that are not filed either, and one where the sign-offs can't be read as they were written. For
/// people only: no output of a brief depends on it, since a sign-off that covers the brief can't be told in it.
[[nodiscard]] std::vector<std::string> say_what_is_overtaken(const Command& command, const Session& session);

}  // namespace daywright::cli
