// What each line of a ledger leaves, as flight plans print it.
//
//   In:  the lines of one item's budget
//   Out: the running remainder, one a line
//
// Pure.
#pragma once

#include <span>
#include <vector>

#include "model/mission.h"
#include "rules/figures.h"

namespace daywright::rules {

/// What is left after each line: a load adds, every other kind takes away. Below zero where more is budgeted than was
/// loaded.
///
/// Exact but for one thing: a remainder that the dust of a binary sum keeps off a whole number of `step`s is put on it,
/// so that tenths add up to tenths however large the load. Rounding is for the figure that is shown.
///
/// Requires step > 0 and finite quantities above zero; load refuses other lines.
[[nodiscard]] std::vector<double> running_remainders(std::span<const model::LedgerLine> ledger, double step);

/// Enters item.ID.ledger.N.remainder for each line, and item.ID.ledger.remainder for the last one.
void enter_ledgers(const model::Mission& mission, FigureBook& figures);

}  // namespace daywright::rules
