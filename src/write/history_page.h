// Figures over the filed days as one self-contained HTML file, with plots drawn in it.
//
// Pure.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "write/history.h"
#include "write/overview.h"

namespace daywright::write {

struct HistoryPage {
  std::string archive;                ///< which one it is, as it was asked for
  const std::vector<PastDay>& days;   ///< what is shown of each
  std::vector<std::string> ids;       ///< figures, each with a plot where it is a number, and a table
  std::optional<Overview> overview;   ///< shown where no figure was asked for
  std::vector<std::string> warnings;  ///< what is wrong with the archive
};

/// Needs no script, no network and no other file; `style` is that of the page of a brief.
[[nodiscard]] std::string render_history_page(const HistoryPage& page, std::string_view style);

}  // namespace daywright::write
