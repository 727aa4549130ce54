// What is new or has changed since the last brief, and nothing that is not. Tables: changes, worse.

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "rules/assembly.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Table;

/// Two deviations, beyond which a margin did not move by chance, in one case of twenty at the most.
constexpr double telling_deviations = 2;

/// How far a margin moves by chance from one evening to the next, as a standard deviation in the item's unit. What was
/// not known then and is known now is what new counts have told: the variances of the two forecasts differ by that of
/// the change (the innovations of a filter; Anderson and Moore, Optimal Filtering, section 5.3, from memory).
double sd_of_change(const ItemMargins& before, const ItemMargins& now) {
  return std::sqrt(std::max(0.0, before.sd * before.sd - now.sd * now.sd));
}

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
    changes.rows.insert(changes.rows.begin() + static_cast<std::ptrdiff_t>(place_of(direction)), row);
    if (direction >= 0) return;
    ++worse_count;
    if (worse.rows.size() < most_told) worse.rows.push_back(row);
  }

  Table changes{"changes",
                "Since the last brief",
                {{"what", "What", "", false, true},
                 {"change", "Change", "", false, true},
                 {"direction", "Direction", "", false, true}},
                {},
                6};
  /// The first few, for the line that is read in a minute; all of them are among the changes.
  Table worse{"worse", "Worse since the last brief", changes.columns, {}, 0};
  std::size_t worse_count = 0;

 private:
  static constexpr std::size_t most_told = 3;

  /// What is worse comes first, what is better last: a table that is cut must not hide the former.
  std::size_t place_of(int direction) {
    if (direction > 0) return changes.rows.size();
    if (direction == 0) ++changed_count_;
    return direction < 0 ? worse_count : worse_count + changed_count_ - 1;
  }

  Assembly& a_;
  std::size_t number_ = 0;
  std::size_t changed_count_ = 0;
};

/// Which criteria of a gate came to another verdict.
void compare_criteria(const GateResult& before, const GateResult& now, ChangeEntries& entries) {
  for (const auto& criterion : now.criteria) {
    const auto same = std::find_if(before.criteria.begin(), before.criteria.end(),
                                   [&](const auto& c) { return c.criterion == criterion.criterion; });
    if (same == before.criteria.end() || same->verdict == criterion.verdict) continue;
    entries.add(fmt::format("{}: {}", now.gate->title, criterion.criterion->title),
                fmt::format("{} to {}", model::words(same->verdict), model::words(criterion.verdict)),
                model::rank(criterion.verdict) - model::rank(same->verdict), criterion.criterion->source);
  }
}

void compare_gates(const Assembly& a, ChangeEntries& entries) {
  for (const GateResult& now : a.now.gates) {
    if (model::find_by_id(a.mission().events, now.gate->event)->at <= a.evening.cutoff) continue;
    const auto before = std::find_if(a.before->gates.begin(), a.before->gates.end(),
                                     [&](const auto& g) { return g.gate->id == now.gate->id; });
    if (before == a.before->gates.end()) continue;
    if (before->verdict == now.verdict) {
      compare_criteria(*before, now, entries);
      continue;
    }
    const int direction = model::rank(now.verdict) != model::rank(before->verdict)
                              ? model::rank(now.verdict) - model::rank(before->verdict)
                              : 0;
    entries.add(now.gate->title, fmt::format("{} to {}", model::words(before->verdict), model::words(now.verdict)),
                direction, now.gate->source);
  }
}

void compare_margins(const Assembly& a, ChangeEntries& entries) {
  for (std::size_t i = 0; i < a.now.margins.size(); ++i) {
    const ItemMargins& margins = a.now.margins[i];
    const auto& item = *margins.level->item;
    const std::string id = "item." + item.id + ".margin.";
    const bool has_days = a.now.figures.has(id + "days") && a.before->figures.has(id + "days");
    const auto* now = a.now.figures.find(id + (has_days ? "days" : "events"));
    const auto* before = a.before->figures.find(id + (has_days ? "days" : "events"));
    if (now == nullptr || before == nullptr) continue;
    const auto* value_now = std::get_if<double>(&now->value);
    const auto* value_before = std::get_if<double>(&before->value);
    if (value_now != nullptr && value_before != nullptr) {
      const double units_of_one = has_days ? margins.daily : item.per_event.begin()->second;  // of a day, or an event
      // What makes as much as it uses has no days that chance could be turned into.
      const double by_chance =
          units_of_one <= 0 ? 0 : telling_deviations * sd_of_change(a.before->margins[i], margins) / units_of_one;
      if (*value_now == *value_before || std::abs(*value_now - *value_before) <= by_chance) continue;
      entries.add("margin of " + item.title, fmt::format("{} to {}", model::with_unit(*before), model::with_unit(*now)),
                  *value_now < *value_before ? -1 : 1, item.source);
    } else if (value_now != nullptr || value_before != nullptr) {
      entries.add("margin of " + item.title, fmt::format("{} to {}", model::with_unit(*before), model::with_unit(*now)),
                  value_now == nullptr ? -1 : 1, item.source);
    }
  }
}

/// A task that no longer has to be done before a gate, or that is planned for another day.
void compare_plan(const Assembly& a, ChangeEntries& entries) {
  for (const auto& task : a.now.tasks) {
    const model::PlanRow& now = task.plan->row;
    const auto before = std::find_if(a.before->tasks.begin(), a.before->tasks.end(),
                                     [&](const auto& t) { return t.plan->row.task == now.task; });
    if (before == a.before->tasks.end()) continue;
    const model::PlanRow& then = before->plan->row;
    if (then.gate != now.gate && !then.gate.empty())
      entries.add("task " + now.task, fmt::format("no longer due before {}", a.gate_title(then.gate)), -1,
                  now.from.source);
    if (then.day != now.day)
      entries.add("task " + now.task,
                  fmt::format("planned for {0} {1}, was {0} {2}", a.mission().words.day, now.day, then.day), 0,
                  now.from.source);
  }
}

/// Tasks that are carried over since, and those that no longer are because they are done.
void compare_carry_over(const Assembly& a, ChangeEntries& entries) {
  const auto names_of = [](const std::vector<const TaskStatus*>& tasks) {
    std::map<std::string, const TaskStatus*> names;
    for (const TaskStatus* task : tasks) names[task->plan->row.task] = task;
    return names;
  };
  const auto now = names_of(find_carry_over(a.now.tasks, a.evening.day.number));
  const auto before = names_of(find_carry_over(a.before->tasks, a.evening_before->day.number));
  for (const auto& [name, task] : now) {
    if (!before.contains(name))
      entries.add("task " + name, "carried over: " + task->plan->row.title, -1, task->plan->row.from.source);
  }
  for (const TaskStatus& task : a.now.tasks) {
    const auto& row = task.plan->row;
    if (before.contains(row.task) && task.is_done())
      entries.add("task " + row.task, "carried over, done now", 1, task.latest->row.from.source);
  }
}

/// How a thing stands: its name, what is to be said of it, and whether that is good.
struct Standing {
  std::string name;
  std::string text;
  int direction = 0;
};

/// Things that stand otherwise than at the last cut-off. Of several words on one thing the last one counts: facts
/// come in order of name and time.
template <class Row, class Describe>
void compare_facts(const std::vector<model::Merged<Row>>& before, const std::vector<model::Merged<Row>>& now,
                   const Describe& describe, ChangeEntries& entries) {
  std::map<std::string, std::string> then;
  for (const auto& fact : before) {
    const Standing standing = describe(fact.row);
    then[standing.name] = standing.text;
  }
  std::map<std::string, std::pair<Standing, model::Source>> newest;
  for (const auto& fact : now) {
    const Standing standing = describe(fact.row);
    newest[standing.name] = {standing, fact.row.from.source};
  }
  for (const auto& [name, told] : newest) {
    const auto& [standing, source] = told;
    const auto known = then.find(name);
    if (known == then.end() || known->second != standing.text)
      entries.add(standing.text, known == then.end() ? "new" : "was: " + known->second, standing.direction, source);
  }
}

}  // namespace

void add_changes(Assembly& a) {
  ChangeEntries entries(a);
  if (a.before != nullptr) {
    compare_gates(a, entries);
    compare_plan(a, entries);
    compare_carry_over(a, entries);
    compare_margins(a, entries);
    const model::Facts& then = a.evening_before->facts;
    compare_facts(
        then.findings, a.facts().findings,
        [](const model::FindingRow& row) {
          const bool is_closed = row.state == model::FindingState::closed;
          return Standing{row.finding,
                          fmt::format("finding {} {}, {}", row.finding, row.severity, is_closed ? "closed" : "open"),
                          is_closed ? 1 : -1};
        },
        entries);
    compare_facts(
        then.anomalies, a.facts().anomalies,
        [](const model::AnomalyRow& row) {
          const bool is_closed = row.state == model::AnomalyState::closed;
          return Standing{row.anomaly,
                          fmt::format("anomaly {} {}, {}", row.anomaly, row.severity, is_closed ? "closed" : "open"),
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
          return Standing{row.decision, fmt::format("decision {} {}", row.decision, state), 0};
        },
        entries);
  }
  const std::string since =
      a.before != nullptr ? fmt::format("since the brief of {} {}", a.mission().words.day, a.evening_before->day.number)
                          : "no brief of the day before to compare with";
  a.figures().words(
      {"changes.since",
       "what the changes are counted from",
       {"the evening before at its own cut-off", {from_file("day", "the day before", a.evening.day.source)}},
       {}},
      since);
  model::Trace trace{"rows of the table of changes that are worse",
                     {from_file("day", "compared with the last brief", a.evening.day.source)}};
  a.figures().count({"changes.worse", "worse since the last brief", std::move(trace), {}}, entries.worse_count);
  a.status.tables.push_back(std::move(entries.changes));
  a.status.tables.push_back(std::move(entries.worse));
}

}  // namespace daywright::rules
