// signoffs.md and signoffs.json: who has said what about a day's brief.
//
// Pure. What people wrote into their records is escaped, as what comes from the logs is.
#pragma once

#include <string>

#include "model/call_sheet.h"

namespace daywright::write {

/// CommonMark with pipe tables.
[[nodiscard]] std::string render_calls(const model::CallSheet& sheet);

/// The same as JSON.
[[nodiscard]] std::string render_calls_json(const model::CallSheet& sheet);

}  // namespace daywright::write
