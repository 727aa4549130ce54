// The outputs of a brief: which there are, what they are worded with, how they are made, and how they are read back.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cli/session.h"
#include "model/diagnostic.h"
#include "model/instant.h"
#include "model/signoff.h"
#include "model/status.h"
#include "record/output_folder.h"
#include "write/markdown.h"
#include "write/note.h"

namespace daywright::cli {

/// The most that an output may hold to be signed or filed.
inline constexpr std::size_t largest_output = std::size_t{256} << 20U;

/// What --only may name, in the order in which outputs are listed.
[[nodiscard]] std::vector<std::string> output_names();

/// The files that a whole brief has, in order of name.
[[nodiscard]] std::vector<std::string> output_files();

/// Files among them that others ask for: the list of inputs, the status, the brief itself and the page.
inline constexpr const char* inputs_file = "inputs.json";
inline constexpr const char* status_file = "status.json";
inline constexpr const char* brief_file = "brief.md";
inline constexpr const char* page_file = "brief.html";

/// Whether `brief` makes the output that --only calls so; nothing named: it makes all.
[[nodiscard]] bool makes_output(const std::vector<std::string>& only, std::string_view name);

/// A template as it is used: that of the folder given, where it is there, else the one that is built in.
struct Template {
  model::InputFile file;
  std::string folder;  ///< as it stands before its name in messages
};

/// What the outputs are worded and drawn with, each read once.
struct Templates {
  Template brief;
  Template style;
  Template note;

  /// Whether the folder given has any of them; true where none is given.
  bool is_any_found = true;

  [[nodiscard]] std::vector<const model::InputFile*> files() const;
};

/// Those of `folder`, and those that are built in. Throws std::system_error.
[[nodiscard]] Templates read_templates(const std::optional<std::filesystem::path>& folder);

/// Those among `files`, and those that are built in.
[[nodiscard]] Templates templates_of(const std::vector<model::InputFile>& files);

/// What the templates give.
struct Worded {
  write::Brief brief;
  write::Note note;
};

/// Renders the templates. Nothing where one is at fault, which is then said.
[[nodiscard]] std::optional<Worded> word(const Templates& templates, const model::DayStatus& status);

/// What the outputs of one evening are made from.
struct Evening {
  const Templates& templates;
  const Worded& worded;
  const model::DayStatus& status;
  model::Instant cutoff;
};

/// The templates as the list of inputs has them.
[[nodiscard]] std::vector<write::InputRecord> list_templates(const Templates& templates);

/// inputs.json: the files that the brief rests on, what the archive held, versions, and `only` where it is a part.
[[nodiscard]] std::string make_inputs_list(const Templates& templates, const MissionFiles& files, int day,
                                           const model::Filed& filed, const std::vector<std::string>& only);

/// Makes the outputs that `only` names, or all, and the list of inputs; returns their names. Throws std::system_error.
std::vector<std::string> write_outputs(const Evening& evening, const std::vector<std::string>& only,
                                       const std::string& inputs_list, record::OutputFolder& folder);

/// The outputs of a whole brief as they lie on disk, each read once.
class BriefOnDisk {
 public:
  /// Throws std::runtime_error where there is something else, or more or less.
  explicit BriefOnDisk(const std::filesystem::path& place);

  [[nodiscard]] const std::vector<model::InputFile>& files() const { return files_; }
  /// The bytes of one of `output_files`.
  [[nodiscard]] const std::string& text(std::string_view name) const;
  /// Names, sizes and digests.
  [[nodiscard]] std::vector<model::SignedFile> digests() const;
  /// What the archive held when it was made.
  [[nodiscard]] model::Filed filed() const;

 private:
  std::vector<model::InputFile> files_;
};

/// The mission as the brief that is in place was made: at its cut-off, unless another is asked for, and with what the
/// archive held then.
struct BriefSession {
  Session session;
  std::optional<BriefOnDisk> brief;  ///< nothing: none is in place
  std::string why_none;
};

/// Reads and runs the mission. Throws std::system_error where that can't be read.
[[nodiscard]] BriefSession run_as_brief(const Command& command, bool is_to_be_tried = false);

/// The templates that the outputs were made with. Throws std::runtime_error where those are not at hand, or where the
/// outputs are not just what they and the inputs of the session give: a part, of other inputs, by another version of
/// the program, or changed by hand. The workbook is left to `require_same_workbook`, since it takes as long as the
/// rest.
[[nodiscard]] Templates require_current(const BriefOnDisk& brief, const Session& session, const Command& command);

/// Throws std::runtime_error where the workbook is not what the inputs of a session that is to be tried give.
void require_same_workbook(const BriefOnDisk& brief, const Session& session, const Templates& templates);

}  // namespace daywright::cli
