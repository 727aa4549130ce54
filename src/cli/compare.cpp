// What `compare` does: two briefs, only what differs.
#include "cli/commands.h"
#include "cli/filed_brief.h"
#include "cli/session.h"
#include "write/comparison.h"

#include <fmt/format.h>

#include "write/caution.h"

namespace daywright::cli {

ExitCode run_compare(const Command& command) {
  const auto one = find_brief(command.folder.string());
  const auto other = find_brief(command.other);
  print(command.form == OutputForm::json
            ? write::render_comparison_json(one.brief, other.brief)
            : fmt::format("{}\n{}\n", write::render_comparison(one.brief, other.brief), write::caution));
  return one.is_sound && other.is_sound ? ExitCode::done : ExitCode::done_with_faults;
}

}  // namespace daywright::cli
