// The figures of the items: level, rate, margins on each basis, leak, and one sentence for each.
//
//   In:  the margins of an evening, or of a longer flight
//   Out: figures with ids "item.<id>..." in the book
//
// Pure.
#pragma once

#include <string>
#include <vector>

#include "rules/figures.h"
#include "rules/margins.h"

namespace daywright::rules {

/// Why the governing margin of an item can't support a READY verdict; empty: it can.
[[nodiscard]] std::vector<std::string> doubts_of(const ItemMargins& margins);

/// Enters the figures of every item: level, rate, margins on each basis and governing, leak, chance to last.
void enter_items(const model::Mission& mission, const std::vector<ItemMargins>& margins, FigureBook& figures);

/// Enters the chance that every item lasts to the required end, if nothing ties the items together, and the least that
/// it is, whatever does. Where one item has none, nor have all.
void enter_chances(const model::Mission& mission, const std::vector<ItemMargins>& margins, FigureBook& figures);

}  // namespace daywright::rules
