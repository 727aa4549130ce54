// What people decided, asked for, found and read off. Tables: decide, decisions, actions, anomalies, findings,
// closeouts, sorties, readings, equipment, statements.

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "rules/assembly.h"
#include "rules/criteria.h"
#include "rules/decisions.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Table;

/// The newest fact of each name, in order of names; facts come in order of key, so the last one wins.
template <class Row, class Name>
std::map<std::string, const model::Merged<Row>*> newest(const std::vector<model::Merged<Row>>& facts,
                                                        const Name& name) {
  std::map<std::string, const model::Merged<Row>*> result;
  for (const auto& fact : facts) {
    auto& slot = result[name(fact.row)];
    if (slot == nullptr || fact.row.from.recorded >= slot->row.from.recorded) slot = &fact;
  }
  return result;
}

const char* words_of(model::DecisionState state) {
  switch (state) {
    case model::DecisionState::proposed: return "proposed";
    case model::DecisionState::approved: return "approved";
    case model::DecisionState::refused: return "refused";
    case model::DecisionState::withdrawn: break;
  }
  return "withdrawn";
}

/// "extension_days" as people say it.
std::string in_words(std::string text) {
  std::replace(text.begin(), text.end(), '_', ' ');
  return text;
}

/// What a decision does to the plan, and if it does not yet or any more, why.
std::string effect_of(const Assembly& a, const model::Merged<model::DecisionRow>& decision) {
  const std::string change = describe_change(a.mission(), decision.row.change);
  if (change.empty()) return decision.row.changes.empty() ? "-" : "none by itself: to be entered in the plan";
  const auto why = why_without_effect(decision, a.evening.cutoff);
  return why ? fmt::format("{}: no effect, {}", change, *why) : change;
}

std::string waived_title(const Assembly& a, const std::string& criterion) {
  const auto* waived = model::find_by_id(a.evening.rules.criteria, criterion);
  return waived == nullptr ? criterion : waived->title;
}

void add_decisions(Assembly& a) {
  const std::vector<model::Column> columns{{"decision", "Decision", "", false, true},
                                           {"what", "What", "", false, true},
                                           {"by", "By", "", false, true},
                                           {"state", "State", "", false, true},
                                           {"authority", "Authority", "", false, true},
                                           {"effect", "On the plan", "", false, false},
                                           {"reason", "Reason", "", false, true}};
  Table decide{"decide", "To decide tonight", columns, {}, 0};
  Table all{"decisions", "Decisions", columns, {}, 4};
  Table in_effect{"plan_changes", "Changes of the plan in effect", columns, {}, 0};
  for (const auto& [name, fact] : newest(a.facts().decisions, [](const auto& row) { return row.decision; })) {
    const auto& row = fact->row;
    const std::string id = fmt::format("decision.{}.", a.figures().part("decision", name));
    const auto& source = row.from.source;
    const std::string what =
        row.changes.empty() ? (row.waiver.criterion.empty() ? "-" : "waives " + waived_title(a, row.waiver.criterion))
        : row.value.empty() ? row.changes
                            : row.changes + " " + row.value;
    const bool is_open = row.state == model::DecisionState::proposed;
    const bool has_lapsed = is_open && row.expires && *row.expires < a.evening.cutoff;
    const std::vector<Cell> cells{
        a.quote(id + "name", "decision", row.decision, source),
        a.quote(id + "what", "what", in_words(what), source),
        row.expires ? a.quote(id + "by", "decide by", row.expires, source) : Cell::say("-"),
        Cell::say(has_lapsed ? "LAPSED" : words_of(row.state)),
        a.quote(id + "authority", "authority", row.authority.empty() ? "-" : a.role_title(row.authority), source),
        a.quote(id + "effect", "on the plan", effect_of(a, *fact), source),
        a.quote(id + "reason", "reason", row.reason, source)};
    all.rows.push_back(cells);
    if (!describe_change(a.mission(), row.change).empty() && !why_without_effect(*fact, a.evening.cutoff))
      in_effect.rows.push_back(cells);
    if (is_open && !has_lapsed) decide.rows.push_back(cells);
  }
  a.status.tables.push_back(std::move(decide));
  a.status.tables.push_back(std::move(all));
  a.status.tables.push_back(std::move(in_effect));
}

void add_actions(Assembly& a) {
  Table table{"actions",
              "Open actions",
              {{"action", "Action", "", false, true},
               {"text", "What", "", false, true},
               {"who", "Who", "", false, true},
               {"due", "Due", "", false, true},
               {"state", "State", "", false, true}},
              {},
              4};
  for (const auto& fact : a.facts().actions) {
    const auto& row = fact.row;
    if (row.state != model::ActionState::open) continue;  // an answer closes it
    const std::string id = fmt::format("action.{}.", a.figures().part("action", row.action));
    const bool is_late = row.due && *row.due < a.evening.cutoff;
    const char* state = is_late ? "OVERDUE" : "open";
    table.rows.push_back({a.quote(id + "name", "action", row.action, row.from.source),
                          a.quote(id + "text", "what", row.text, row.from.source),
                          a.quote(id + "who", "who", row.asked_of, row.from.source),
                          a.quote(id + "due", "due", row.due, row.from.source), Cell::say(state)});
  }
  a.status.tables.push_back(std::move(table));
}

void add_troubles(Assembly& a) {
  Table anomalies{"anomalies",
                  "Open anomalies",
                  {{"anomaly", "Anomaly", "", false, true},
                   {"severity", "Severity", "", false, true},
                   {"opened", "Opened", "", false, true},
                   {"gate", "Gate", "", false, true},
                   {"disposition", "Disposition", "", false, true}},
                  {},
                  4};
  for (const auto& fact : a.facts().anomalies) {
    const auto& row = fact.row;
    if (row.state == model::AnomalyState::closed) continue;
    const std::string id = fmt::format("anomaly.{}.", a.figures().part("anomaly", row.anomaly));
    anomalies.rows.push_back(
        {a.quote(id + "name", "anomaly", row.anomaly, row.from.source),
         a.quote(id + "severity", "severity", row.severity, row.from.source),
         a.quote(id + "opened", "opened", row.opened, row.from.source),
         a.quote(id + "gate", "gate", row.gate.empty() ? "all gates" : a.gate_title(row.gate), row.from.source),
         a.quote(id + "disposition", "disposition", row.disposition, row.from.source)});
  }
  Table findings{"findings",
                 "Open findings",
                 {{"finding", "Finding", "", false, true},
                  {"zone", "Zone", "", false, true},
                  {"severity", "Severity", "", false, true},
                  {"when", "Last word", "", false, true},
                  {"disposition", "Disposition", "", false, true}},
                 {},
                 4};
  for (const auto& [name, fact] : newest(a.facts().findings, [](const auto& row) { return row.finding; })) {
    const auto& row = fact->row;
    if (row.state == model::FindingState::closed) continue;
    const std::string id = fmt::format("finding.{}.", a.figures().part("finding", name));
    findings.rows.push_back({a.quote(id + "name", "finding", row.finding, row.from.source),
                             a.quote(id + "zone", "zone", row.zone, row.from.source),
                             a.quote(id + "severity", "severity", row.severity, row.from.source),
                             a.quote(id + "when", "last word", row.when, row.from.source),
                             a.quote(id + "disposition", "disposition", row.disposition, row.from.source)});
  }
  a.status.tables.push_back(std::move(anomalies));
  a.status.tables.push_back(std::move(findings));
}

void add_closeouts(Assembly& a) {
  Table table{"closeouts",
              "Close-outs",
              {{"closeout", "Close-out", "", false, true},
               {"done", "Done", "", true, true},
               {"of", "Of", "", true, true},
               {"when", "Reported", "", false, true}},
              {},
              0};
  for (const auto& [name, fact] : newest(a.facts().closeouts, [](const auto& row) { return row.closeout; })) {
    const std::string id = fmt::format("closeout.{}.", a.figures().part("closeout", name));
    const auto& row = fact->row;
    table.rows.push_back({a.quote(id + "name", "close-out", row.closeout, row.from.source),
                          a.quote(id + "done", "done", row.done, "", 1, row.from.source),
                          a.quote(id + "of", "of", row.of, "", 1, row.from.source),
                          a.quote(id + "when", "reported", row.when, row.from.source)});
  }
  a.status.tables.push_back(std::move(table));
}

void add_sorties(Assembly& a) {
  Table table{"sorties",
              a.mission().words.sortie + " periods and hardware",
              {{"sortie", "Sortie", "", false, true},
               {"what", "What", "", false, true},
               {"minutes", "Out", "min", true, true},
               {"out", "Taken out", "", true, true},
               {"back", "Brought back", "", true, true},
               {"left", "Left on purpose", "", true, true},
               {"remark", "Remark", "", false, true}},
              {},
              0};
  std::size_t number = 0;
  for (const auto& fact : a.facts().sorties) {
    const auto& row = fact.row;
    const std::string id = fmt::format("sortie.{}.", ++number);
    std::vector<Cell> cells{
        a.quote(id + "name", "sortie", row.sortie, row.from.source),
        a.quote(id + "what", "what", row.is_period ? a.mission().words.sortie + " period" : row.hardware,
                row.from.source)};
    if (row.is_period) {
      const auto minutes = row.repressurised
                               ? std::optional(model::in_days(*row.repressurised - *row.depressurised) * 24 * 60)
                               : std::nullopt;
      model::Trace trace{"from leaving to coming back, as logged", {from_file("sortie", row.sortie, row.from.source)}};
      cells.push_back(Cell::of(a.figures().number({id + "minutes", "time out", std::move(trace), {}}, minutes, "min", 1,
                                                  model::Rounding::up)));
      for (int i = 0; i < 3; ++i) cells.push_back(Cell::say("-"));
    } else {
      cells.push_back(Cell::say("-"));
      cells.push_back(a.quote(id + "out", "taken out", row.out, "", 1, row.from.source));
      cells.push_back(a.quote(id + "back", "brought back", row.back, "", 1, row.from.source));
      cells.push_back(a.quote(id + "left", "left on purpose", row.left, "", 1, row.from.source));
    }
    cells.push_back(a.quote(id + "remark", "remark", row.from.remark, row.from.source));
    table.rows.push_back(std::move(cells));
  }
  a.status.tables.push_back(std::move(table));
}

/// Hours of sleep and duty by name, only where the rules allow it.
void add_rest(Assembly& a) {
  Table table{"rest",
              "Rest and duty",
              {{"person", "Person", "", false, true},
               {"criterion", "Asked for by", "", false, true},
               {"sleep", "Sleep", "h", true, true},
               {"duty", "On duty", "h", true, true}},
              {},
              0};
  for (const auto& criterion : a.evening.rules.criteria) {
    const auto* demand = std::get_if<model::RestCriterion>(&criterion.demand);
    if (demand == nullptr || !a.evening.rules.hours_by_name) continue;
    for (const auto& person : demand->persons) {
      const RestHours hours = rest_of(person, *demand, a.facts(), a.evening.cutoff);
      const auto& who = *model::find_by_id(a.mission().persons, person);
      const std::string id = fmt::format("rest.{}.{}.", criterion.id, person);
      const auto enter = [&](const char* name, const char* title, std::optional<double> value) {
        model::Trace trace{fmt::format("hours in the {:g} h before the cut-off", demand->within_hours),
                           {from_file("criterion", criterion.title, criterion.source)}};
        return Cell::of(a.figures().number({id + name, fmt::format("{}, {}", who.title, title), std::move(trace), {}},
                                           value, "h", 0.1, model::Rounding::down));
      };
      table.rows.push_back({a.quote(id + "person", "person", who.title, who.source),
                            a.quote(id + "criterion", "criterion", criterion.title, criterion.source),
                            enter("sleep", "sleep", hours.slept), enter("duty", "on duty", hours.on_duty)});
    }
  }
  a.status.tables.push_back(std::move(table));
}

void add_readings(Assembly& a) {
  Table readings{"readings",
                 "Latest readings",
                 {{"what", "Reading", "", false, true},
                  {"quantity", "Value", "", true, true},
                  {"unit", "Unit", "", false, true},
                  {"when", "Read", "", false, true}},
                 {},
                 0};
  std::map<std::string, const model::ReadingRow*> latest;
  for (const auto& fact : a.facts().readings) latest[fact.row.what] = &fact.row;  // in order of time
  for (const auto& [what, row] : latest) {
    const std::string id = fmt::format("reading.{}.", a.figures().part("reading", what));
    constexpr double hundredth = 0.01;
    readings.rows.push_back({a.quote(id + "what", "reading", what, row->from.source),
                             a.quote(id + "quantity", what, row->quantity, row->unit, hundredth, row->from.source),
                             a.quote(id + "unit", "unit", row->unit, row->from.source),
                             a.quote(id + "when", "read", row->when, row->from.source)});
  }
  Table equipment{"equipment",
                  "Equipment",
                  {{"unit", "Unit", "", false, true},
                   {"function", "Function", "", false, true},
                   {"state", "State", "", false, true},
                   {"when", "Since", "", false, true}},
                  {},
                  0};
  std::map<std::string, const model::EquipmentRow*> units;
  for (const auto& fact : a.facts().equipment) units[fact.row.unit] = &fact.row;
  for (const auto& [unit, row] : units) {
    const std::string id = fmt::format("equipment.{}.", a.figures().part("equipment", unit));
    const auto* declared = model::find_by_id(a.mission().equipment, unit);
    equipment.rows.push_back(
        {a.quote(id + "unit", "unit", declared == nullptr ? unit : declared->title, row->from.source),
         a.quote(id + "function", "function", row->function, row->from.source),
         a.quote(id + "state", "state", row->state, row->from.source),
         a.quote(id + "when", "since", row->when, row->from.source)});
  }
  Table statements{"statements",
                   "Statements",
                   {{"position", "Position", "", false, true},
                    {"says", "Says", "", false, true},
                    {"at", "At", "", false, true},
                    {"until", "Valid until", "", false, true}},
                   {},
                   0};
  std::map<std::string, const model::StatementRow*> positions;
  for (const auto& fact : a.facts().statements) positions[fact.row.position] = &fact.row;
  for (const auto& [position, row] : positions) {
    const std::string id = fmt::format("statement.{}.", a.figures().part("statement", position));
    statements.rows.push_back({a.quote(id + "position", "position", position, row->from.source),
                               a.quote(id + "says", "says", row->says, row->from.source),
                               a.quote(id + "at", "at", row->at, row->from.source),
                               a.quote(id + "until", "valid until", row->valid_until, row->from.source)});
  }
  for (Table* table : {&readings, &equipment, &statements}) a.status.tables.push_back(std::move(*table));
}

}  // namespace

void add_people(Assembly& a) {
  add_decisions(a);
  add_actions(a);
  add_troubles(a);
  add_closeouts(a);
  add_sorties(a);
  add_rest(a);
  add_readings(a);
}

}  // namespace daywright::rules
