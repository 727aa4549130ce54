// Tables: ledger, ledger_items.
#include "rules/ledger.h"

#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "rules/assembly.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::LedgerKind;
using model::Table;

/// Enters what each line of one item leaves.
void enter_remainders(const model::Item& item, FigureBook& figures) {
  const std::string prefix = "item." + item.id + ".ledger.";
  const std::vector<double> remainders = running_remainders(item.ledger, item.step);
  const auto enter = [&](std::string id, const std::string& after, model::Trace trace, double value) {
    return figures.number({std::move(id), fmt::format("{}, left after {}", item.title, after), std::move(trace), {}},
                          value, item.unit->spelling, item.step, model::Rounding::down);
  };
  std::string before;  // the figure of the line above
  for (std::size_t i = 0; i < item.ledger.size(); ++i) {
    const model::LedgerLine& line = item.ledger[i];
    model::Trace trace;
    if (before.empty()) {
      trace.formula = "what is loaded; rounded down only where it is shown";
    } else {
      trace.formula = fmt::format("what the line above leaves, {} this line; rounded down only where it is shown",
                                  line.kind == LedgerKind::load ? "plus" : "less");
      trace.inputs.push_back(from_figure(figures.at(before)));
    }
    trace.inputs.push_back(from_file(line.text, fmt::format("{} {}", line.quantity, item.unit->spelling), line.source));
    before = enter(fmt::format("{}{}.remainder", prefix, i + 1), line.text, std::move(trace), remainders[i]);
  }
  (void)enter(prefix + "remainder", "all lines of its ledger",
              {"what the last line leaves", {from_figure(figures.at(before))}}, remainders.back());
}

/// The lines of one item, each as a row of `table`.
void add_ledger(Assembly& a, const model::Item& item, Table& table) {
  const std::string prefix = "item." + item.id + ".";
  for (std::size_t i = 0; i < item.ledger.size(); ++i) {
    const model::LedgerLine& line = item.ledger[i];
    const std::string id = fmt::format("{}ledger.{}.", prefix, i + 1);
    table.rows.push_back({Cell::of(prefix + "title"), a.quote(id + "line", "ledger line", line.text, line.source),
                          Cell::say(std::string(model::name_of(line.kind))),
                          a.quote(id + "amount", fmt::format("{}, {}", item.title, line.text), line.quantity,
                                  item.unit->spelling, item.step, line.source),
                          Cell::of(id + "remainder"), Cell::of(prefix + "unit")});
  }
}

}  // namespace

std::vector<double> running_remainders(std::span<const model::LedgerLine> ledger, double step) {
  std::vector<double> remainders;
  double remainder = 0;
  double handled = 0;
  for (const auto& line : ledger) {
    remainder += line.kind == LedgerKind::load ? line.quantity : -line.quantity;
    handled += line.quantity;
    remainders.push_back(remainder);
    if (!std::isfinite(handled)) continue;
    // Each quantity and each sum is off by up to half a last digit, of no more than all that was handled so far.
    const double dust = static_cast<double>(remainders.size()) * std::numeric_limits<double>::epsilon() * handled;
    const double on_the_step = model::round_to(remainder, step, model::Rounding::nearest);
    if (std::abs(remainder - on_the_step) <= dust) remainders.back() = on_the_step;
  }
  return remainders;
}

void enter_ledgers(const model::Mission& mission, FigureBook& figures) {
  for (const auto& item : mission.items) {
    if (!item.ledger.empty()) enter_remainders(item, figures);
  }
}

void add_ledgers(Assembly& a) {
  // Never cut in the brief: the last line of a ledger is what it is made for.
  Table table{"ledger",
              "Ledgers",
              {{"item", "Item", "", false, true},
               {"line", "Line", "", false, true},
               {"kind", "Kind", "", false, true},
               {"amount", "Amount", "", true, true},
               {"remainder", "Remainder", "", true, true},
               {"unit", "Unit", "", false, true}},
              {},
              0};
  // One row when there is a ledger and none when there is not, for what the brief says once.
  Table items{"ledger_items", "Items with a ledger", {{"items", "Items", "", false, true}}, {}, 0};
  model::Trace trace{"the items whose budget is given line by line", {}};
  std::string titles;
  for (const auto& item : a.mission().items) {
    if (item.ledger.empty()) continue;
    add_ledger(a, item, table);
    trace.inputs.push_back(from_figure(a.figures().at("item." + item.id + ".title")));
    titles += (titles.empty() ? "" : "; ") + item.title;
  }
  if (!titles.empty())
    items.rows.push_back(
        {Cell::of(a.figures().words({"ledger.items", "items with a ledger", std::move(trace), {}}, titles))});
  a.status.tables.push_back(std::move(table));
  a.status.tables.push_back(std::move(items));
}

}  // namespace daywright::rules
