// Diagnostics as people and editors read them: place, severity, text, rule, the line and a caret.
#pragma once

#include <span>
#include <string>

#include "model/diagnostic.h"

namespace daywright::cli {

/// "days/008/counts.csv:12:17: error: ... [rule]", then the line with a caret under the place. Names in `files` are
/// shown below `folder`. With `colour`, the severity is coloured too; it is always there as a word.
[[nodiscard]] std::string format_diagnostic(const model::Diagnostic& diagnostic,
                                            std::span<const model::InputFile> files, const std::string& folder,
                                            bool colour);

/// All of them, those of one place once, in order of file and line, notes behind what they belong to.
[[nodiscard]] std::string format_report(const model::Diagnostics& diagnostics, std::span<const model::InputFile> files,
                                        const std::string& folder, bool colour);

}  // namespace daywright::cli
