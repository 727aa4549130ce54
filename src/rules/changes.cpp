// What is new, changed or gone since the last brief, and nothing that is not. Tables: changes, worse.

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "rules/assembly.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Table;

/// A margin that moved by less says nothing: counts scatter by as much from one evening to the next.
constexpr double telling_days = 0.3;

class ChangeEntries {
 public:
  explicit ChangeEntries(Assembly& a) : a_(a) {}

  void add(const std::string& what, const std::string& change, int direction, model::Source source) {
    const std::string id = fmt::format("change.{}.", ++number_);
    const std::vector<Cell> row{a_.quote(id + "what", "what changed", what, source),
                                a_.quote(id + "change", "change", change, source),
                                Cell::say(direction < 0   ? "worse"
                                          : direction > 0 ? "better"
                                                          : "changed")};
    changes.rows.push_back(row);
    if (direction < 0) worse.rows.push_back(row);
  }

  Table changes{"changes",
                "Since the last brief",
                {{"what", "What", "", false, true},
                 {"change", "Change", "", false, true},
                 {"direction", "Direction", "", false, true}},
                {},
                10};
  Table worse{"worse", "Worse since the last brief", changes.columns, {}, 0};

 private:
  Assembly& a_;
  std::size_t number_ = 0;
};

void compare_gates(const Assembly& a, ChangeEntries& entries) {
  for (const GateResult& now : a.now.gates) {
    if (model::find_by_id(a.mission().events, now.gate->event)->at <= a.evening.cutoff) continue;
    const auto before = std::find_if(a.before->gates.begin(), a.before->gates.end(),
                                     [&](const auto& g) { return g.gate->id == now.gate->id; });
    if (before == a.before->gates.end() || before->verdict == now.verdict) continue;
    const int direction = model::rank(now.verdict) != model::rank(before->verdict)
                              ? model::rank(now.verdict) - model::rank(before->verdict)
                              : 0;
    entries.add(now.gate->title, fmt::format("{} to {}", model::words(before->verdict), model::words(now.verdict)),
                direction, now.gate->source);
  }
}

void compare_margins(const Assembly& a, ChangeEntries& entries) {
  for (std::size_t i = 0; i < a.now.margins.size(); ++i) {
    const auto& item = *a.now.margins[i].level->item;
    const std::string id = "item." + item.id + ".margin.";
    const auto* now = a.now.figures.find(id + "days");
    const auto* before = a.before->figures.find(id + "days");
    if (now == nullptr || before == nullptr) continue;
    const auto* value_now = std::get_if<double>(&now->value);
    const auto* value_before = std::get_if<double>(&before->value);
    if (value_now != nullptr && value_before != nullptr) {
      if (std::abs(*value_now - *value_before) < telling_days) continue;
      entries.add("margin of " + item.title, fmt::format("{} to {}", model::with_unit(*before), model::with_unit(*now)),
                  *value_now < *value_before ? -1 : 1, item.source);
    } else if (value_now != nullptr || value_before != nullptr) {
      entries.add("margin of " + item.title, fmt::format("{} to {}", model::with_unit(*before), model::with_unit(*now)),
                  value_now == nullptr ? -1 : 1, item.source);
    }
  }
}

/// Facts that were not known at the last cut-off, by name and state.
template <class Row, class Describe>
void compare_facts(const std::vector<model::Merged<Row>>& before, const std::vector<model::Merged<Row>>& now,
                   const Describe& describe, ChangeEntries& entries) {
  std::set<std::string> known;
  for (const auto& fact : before) known.insert(describe(fact.row).first);
  for (const auto& fact : now) {
    const auto [text, direction] = describe(fact.row);
    if (!known.contains(text)) entries.add(text, "new", direction, fact.row.from.source);
  }
}

}  // namespace

void add_changes(Assembly& a) {
  ChangeEntries entries(a);
  if (a.before != nullptr) {
    compare_gates(a, entries);
    compare_margins(a, entries);
    const model::Facts& then = a.evening_before->facts;
    using Described = std::pair<std::string, int>;
    compare_facts(
        then.findings, a.facts().findings,
        [](const model::FindingRow& row) {
          const bool is_closed = row.state == model::FindingState::closed;
          return Described{
              fmt::format("finding {} {}: {}", row.finding, is_closed ? "closed" : "open", row.disposition),
              is_closed ? 1 : -1};
        },
        entries);
    compare_facts(
        then.anomalies, a.facts().anomalies,
        [](const model::AnomalyRow& row) {
          const bool is_closed = row.state == model::AnomalyState::closed;
          return Described{fmt::format("anomaly {} {}", row.anomaly, is_closed ? "closed" : "open"),
                           is_closed ? 1 : -1};
        },
        entries);
    compare_facts(
        then.decisions, a.facts().decisions,
        [](const model::DecisionRow& row) {
          const char* state = row.state == model::DecisionState::proposed   ? "proposed"
                              : row.state == model::DecisionState::approved ? "approved"
                              : row.state == model::DecisionState::refused  ? "refused"
                                                                            : "withdrawn";
          return Described{fmt::format("decision {} {}", row.decision, state), 0};
        },
        entries);
  }
  model::Trace trace{"rows of the table of changes that are worse",
                     {from_file("day", "compared with the last brief", a.evening.day.source)}};
  a.figures().count({"changes.worse", "worse since the last brief", std::move(trace), {}}, entries.worse.rows.size());
  a.status.tables.push_back(std::move(entries.changes));
  a.status.tables.push_back(std::move(entries.worse));
}

}  // namespace daywright::rules
