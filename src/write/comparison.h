// Two briefs side by side, only what differs.
//
//   In:  what each is, their status.json and inputs.json
//   Out: text for the terminal, or JSON
//
// Pure.
#pragma once

#include <string>
#include <vector>

#include "write/json.h"
#include "write/past_figures.h"

namespace daywright::write {

/// One of the two.
struct ComparedBrief {
  std::string name;    ///< as it was asked for
  std::string status;  ///< the bytes of its status.json
  std::string inputs;  ///< and of its inputs.json
};

[[nodiscard]] std::string render_comparison(const ComparedBrief& one, const ComparedBrief& other);
[[nodiscard]] std::string render_comparison_json(const ComparedBrief& one, const ComparedBrief& other);

}  // namespace daywright::write
