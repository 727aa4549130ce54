// status.json and inputs.json.
//
// Pure. Everything outside ASCII is written as an escape, so that no text from a log can act on whoever reads it.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "model/filed.h"
#include "model/status.h"

namespace daywright::write {

/// One file that was read.
struct InputRecord {
  std::string path;  ///< below the mission folder
  std::size_t size = 0;
  std::string sha256;
};
/// Name and version of the program and of each library that has a say in the outputs.
using Versions = std::vector<std::pair<std::string, std::string>>;

/// Every figure with id, value, unit, text, doubts and trace, and every table; templates/status.schema.json
/// describes it.
[[nodiscard]] std::string render_status(const model::DayStatus& status, const Versions& versions);

/// The files that were read, and what the archive held. `part`: the outputs that alone were asked for; none: all were
/// made. What is a part says so, so that nobody takes it for a brief of record.
[[nodiscard]] std::string render_inputs(const std::vector<InputRecord>& inputs, const model::Filed& filed,
                                        const Versions& versions, const std::vector<std::string>& part = {});

/// The same of the templates alone, "templates/brief.css".
[[nodiscard]] std::vector<std::string> changed_templates(std::string_view list,
                                                         const std::vector<InputRecord>& templates);

/// What the archive held, as a list that `render_inputs` made says it; nothing where it is not such a list.
[[nodiscard]] std::optional<model::Filed> read_filed(std::string_view list);

/// The line with the versions of the program and its libraries in a list that `render_inputs` made; empty: there is
/// none.
[[nodiscard]] std::string_view versions_line(std::string_view list);

/// Whether a list that `render_inputs` made is that of a part.
[[nodiscard]] bool is_list_of_part(std::string_view list);

/// The files of the mission that `list`, which `render_inputs` made, has otherwise than `inputs` or only one of the two
/// has, in order of path; templates do not count. What is not such a list has none of the files.
[[nodiscard]] std::vector<std::string> changed_inputs(std::string_view list, const std::vector<InputRecord>& inputs);

/// A file that two lists of inputs have otherwise, or that one of them lacks.
struct InputChange {
  enum class Kind { added, gone, changed };

  std::string path;
  Kind kind = Kind::changed;

  bool operator==(const InputChange&) const = default;
};

/// What lists that `render_inputs` made have otherwise, templates included, in order of path.
[[nodiscard]] std::vector<InputChange> find_input_changes(std::string_view before, std::string_view after);

}  // namespace daywright::write
