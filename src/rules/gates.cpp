// Tables: gates, next_gate, held_gates, criteria, conditions, waivers, clearance, clearance_open, zones.

#include <algorithm>
#include <array>

#include <fmt/format.h>

#include "rules/assembly.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Table;
using model::Verdict;

constexpr std::array<std::pair<Verdict, const char*>, 4> columns_by_verdict{
    {{Verdict::ready, "ready"},
     {Verdict::ready_with_conditions, "conditions"},
     {Verdict::not_ready, "not_ready"},
     {Verdict::no_data, "no_data"}}};

bool is_coming(const Assembly& a, const model::Gate& gate) {
  return model::find_by_id(a.mission().events, gate.event)->at > a.evening.cutoff;
}

void enter_criterion(const Assembly& a, const std::string& prefix, const CriterionResult& result, Table& table) {
  const model::Criterion& criterion = *result.criterion;
  const std::string id = prefix + criterion.id + ".";
  auto& figures = a.figures();
  figures.verdict({id + "verdict", criterion.title + ", verdict", result.trace, {}}, result.verdict);
  figures.words({id + "reason", criterion.title + ", reason", result.trace, {}}, result.reason);
  table.rows.push_back({a.quote(id + "gate", "gate", criterion.gate, criterion.source),
                        a.quote(id + "title", "criterion", criterion.title, criterion.source), Cell::of(id + "verdict"),
                        Cell::of(id + "reason"),
                        a.quote(id + "owner", "owner", a.role_title(criterion.owner), criterion.source),
                        a.quote(id + "rationale", "rationale", criterion.rationale, criterion.source)});
}

/// What is still to come for a criterion that is READY WITH CONDITIONS: due at the poll, seen to by its owner.
void enter_conditions(const Assembly& a, const GateResult& gate, const CriterionResult& result, Table& table) {
  if (result.verdict != Verdict::ready_with_conditions) return;
  const model::Criterion& criterion = *result.criterion;
  for (const Condition& condition : result.conditions) {
    const std::string id = fmt::format("condition.{}.", table.rows.size() + 1);
    model::Trace trace{"what the criterion rests on until it is closed",
                       {from_figure(a.figures().at(fmt::format("gate.{}.{}.verdict", gate.gate->id, criterion.id)))}};
    const auto enter = [&](const char* name, const char* title, std::string text) {
      return Cell::of(a.figures().words({id + name, title, trace, {}}, std::move(text)));
    };
    table.rows.push_back({Cell::of("gate." + gate.gate->id + ".title"), enter("text", "condition", condition.text),
                          enter("owner", "owner of the condition", a.role_title(criterion.owner)),
                          a.quote(id + "due", "due", gate.gate->poll, gate.gate->source),
                          enter("closed_by", "closed by", condition.closed_by)});
  }
}

/// Every waiver of a gate to come, in force or not.
void enter_waivers(const Assembly& a, const GateResult& gate, const CriterionResult& result, Table& waivers,
                   Table& in_force) {
  for (const auto& fact : a.facts().decisions) {
    const auto& row = fact.row;
    if (row.waiver.criterion != result.criterion->id) continue;
    const std::string id = fmt::format("waiver.{}.", a.figures().part("waiver", row.decision));
    const bool is_in_force = result.waived_by == &fact;
    const std::string verdict = fmt::format("gate.{}.{}.verdict", gate.gate->id, result.criterion->id);
    const std::string worst = row.waiver.worst ? fmt::format("{:g}{}{}", *row.waiver.worst,
                                                             row.waiver.unit.empty() ? "" : " ", row.waiver.unit)
                                               : "-";
    const std::vector<Cell> cells{
        a.quote(id + "name", "waiver", row.decision, row.from.source),
        Cell::of("gate." + gate.gate->id + ".title"),
        a.quote(id + "criterion", "waived", result.criterion->title, row.from.source),
        a.quote(id + "worst", "worst value accepted", worst, row.from.source),
        a.quote(id + "authority", "authority", row.authority.empty() ? "-" : a.role_title(row.authority),
                row.from.source),
        row.expires ? a.quote(id + "until", "until", row.expires, row.from.source) : Cell::say("-"),
        Cell::of(a.figures().words({id + "state",
                                    "state of the waiver",
                                    {"as the criterion is judged now", {from_figure(a.figures().at(verdict))}},
                                    {}},
                                   is_in_force ? "in force" : "not in force")),
        a.quote(id + "reason", "reason", row.reason, row.from.source)};
    waivers.rows.push_back(cells);
    if (is_in_force) in_force.rows.push_back(cells);
  }
}

void enter_zone(const Assembly& a, const GateResult& gate, const CriterionResult& criterion, const ZoneClearance& zone,
                Table& zones, Table& open) {
  const std::string id = fmt::format("gate.{}.{}.zone.{}.", gate.gate->id, criterion.criterion->id, zone.zone->id);
  auto& figures = a.figures();
  model::Trace trace{"surveys that count, then the newest statement of the authority", {}};
  for (const auto* survey : zone.surveys)
    trace.inputs.push_back(
        from_file("survey " + survey->survey, fmt::format("{:g} %", survey->coverage), survey->from.source));
  if (zone.statement != nullptr)
    trace.inputs.push_back(
        from_file("statement", model::format_utc(zone.statement->effective), zone.statement->from.source));
  for (const auto* finding : zone.open_findings)
    trace.inputs.push_back(from_file("open finding " + finding->finding, finding->severity, finding->from.source));
  add_to_trace(zone.doubts, trace);
  trace.inputs.push_back(from_file("demand", criterion.criterion->title, criterion.criterion->source));
  figures.verdict({id + "verdict", zone.zone->title + ", clearance", trace, texts_of(zone.doubts)}, zone.verdict);
  figures.words({id + "reason", zone.zone->title + ", reason", trace, {}}, zone.reason);
  figures.number({id + "coverage", zone.zone->title + ", coverage by surveys that count", trace, {}}, zone.coverage,
                 "%", 1, model::Rounding::down);
  figures.instant({id + "taken", zone.zone->title + ", oldest survey that counts", trace, {}}, zone.oldest_taken);
  std::string findings;
  for (const auto* finding : zone.open_findings)
    findings += (findings.empty() ? "" : ", ") + fmt::format("{} ({})", finding->finding, finding->severity);
  figures.words({id + "findings", zone.zone->title + ", open findings", trace, {}},
                findings.empty() ? "none" : findings);
  const auto statement = zone.statement != nullptr ? std::optional(zone.statement->effective) : std::nullopt;
  figures.instant({id + "statement", zone.zone->title + ", statement of the authority", trace, {}}, statement);
  const std::vector<Cell> row{a.quote(id + "zone", "zone", zone.zone->title, zone.zone->source),
                              a.quote(id + "gate", "gate", gate.gate->title, gate.gate->source),
                              Cell::of(id + "verdict"),
                              Cell::of(id + "reason"),
                              Cell::of(id + "coverage"),
                              Cell::of(id + "taken"),
                              Cell::of(id + "statement"),
                              Cell::of(id + "findings")};
  zones.rows.push_back(row);
  if (zone.verdict != Verdict::ready) open.rows.push_back(row);
}

void enter_zone_counts(const Assembly& a, const GateResult& gate, Table& table) {
  std::array<std::size_t, columns_by_verdict.size()> counts{};
  std::size_t all = 0;
  model::Trace trace{"zones of the gate counted by verdict", {}};
  std::vector<Verdict> verdicts;
  for (const auto& criterion : gate.criteria) {
    for (const auto& zone : criterion.zones) {
      ++all;
      verdicts.push_back(zone.verdict);
      const auto column = std::find_if(columns_by_verdict.begin(), columns_by_verdict.end(),
                                       [&](const auto& c) { return c.first == zone.verdict; });
      ++counts.at(static_cast<std::size_t>(column - columns_by_verdict.begin()));
      trace.inputs.push_back(from_figure(a.figures().at(
          fmt::format("gate.{}.{}.zone.{}.verdict", gate.gate->id, criterion.criterion->id, zone.zone->id))));
    }
  }
  if (all == 0) return;
  const std::string id = fmt::format("gate.{}.zones.", gate.gate->id);
  a.figures().count({id + "all", "zones asked for", trace, {}}, all);
  a.figures().verdict({id + "verdict", gate.gate->title + ", clearance", trace, {}}, model::combine(verdicts));
  std::vector<Cell> row{Cell::of("gate." + gate.gate->id + ".title"), Cell::of(id + "verdict"), Cell::of(id + "all")};
  for (std::size_t i = 0; i < columns_by_verdict.size(); ++i) {
    const auto& [verdict, name] = columns_by_verdict.at(i);
    row.push_back(Cell::of(
        a.figures().count({id + name, fmt::format("zones {}", model::words(verdict)), trace, {}}, counts.at(i))));
  }
  table.rows.push_back(std::move(row));
}

std::vector<Cell> enter_gate(const Assembly& a, const GateResult& result) {
  const model::Gate& gate = *result.gate;
  const std::string id = "gate." + gate.id + ".";
  auto& figures = a.figures();
  model::Trace trace{
      "NOT READY if any criterion is, else NO DATA if any is, else with conditions if any is, else READY", {}};
  for (const auto& criterion : result.criteria) {
    const std::string name = id + criterion.criterion->id + ".verdict";
    trace.inputs.push_back(from_figure(figures.at(name)));
  }
  figures.verdict({id + "verdict", gate.title + ", verdict", trace, {}}, result.verdict);
  const auto* event = model::find_by_id(a.mission().events, gate.event);
  std::vector<Cell> row{a.quote(id + "title", "gate", gate.title, gate.source),
                        a.quote(id + "poll", gate.title + ", poll", gate.poll, gate.source),
                        a.quote(id + "event", gate.title + ", event", event->at, event->source),
                        Cell::of(id + "verdict")};
  for (const auto& [verdict, name] : columns_by_verdict) {
    row.push_back(
        Cell::of(figures.count({id + "criteria." + name, fmt::format("criteria {}", model::words(verdict)), trace, {}},
                               result.how_many(verdict))));
  }
  const CriterionResult* holding = result.holding();
  if (holding != nullptr) {
    model::Trace why{"the first criterion that is not READY, the worst first",
                     {from_figure(figures.at(id + holding->criterion->id + ".verdict"))}};
    row.push_back(Cell::of(figures.words({id + "holding", gate.title + ", held by", std::move(why), {}},
                                         fmt::format("{}: {}", holding->criterion->title, holding->reason))));
  } else {
    row.push_back(Cell::of(figures.words({id + "holding", gate.title + ", held by", trace, {}}, "nothing holds it")));
  }
  row.push_back(Cell::say(""));
  return row;
}

}  // namespace

void add_gates(Assembly& a) {
  a.status.diagnostics =
      find_wrong_names(a.evening.rules, {a.mission(), a.facts(), a.now.tasks, a.figures(), a.evening.cutoff});
  const std::vector<model::Column> gate_columns{
      {"gate", "Gate", "", false, true},       {"poll", "Poll", "", false, true},
      {"event", "Event", "", false, false},    {"verdict", "Verdict", "", false, true},
      {"ready", "Ready", "", true, true},      {"conditions", "Cond.", "", true, true},
      {"not_ready", "Not", "", true, true},    {"no_data", "No data", "", true, true},
      {"holding", "Held by", "", false, true}, {"call", "Calls", "", false, true}};
  const std::vector<model::Column> zone_columns{{"zone", "Zone", "", false, true},
                                                {"gate", "Gate", "", false, true},
                                                {"verdict", "Verdict", "", false, true},
                                                {"reason", "Because", "", false, true},
                                                {"coverage", "Coverage", "%", true, false},
                                                {"taken", "Oldest survey", "", false, false},
                                                {"statement", "Statement", "", false, false},
                                                {"findings", "Open findings", "", false, true}};
  Table gates{"gates", "Readiness by gate", gate_columns, {}, 0};
  Table next{"next_gate", "Next gate", gate_columns, {}, 0};
  Table held{"held_gates", "Later gates not ready", gate_columns, {}, 0};
  Table criteria{"criteria",
                 "Criteria",
                 {{"gate", "Gate", "", false, true},
                  {"criterion", "Criterion", "", false, true},
                  {"verdict", "Verdict", "", false, true},
                  {"reason", "Because", "", false, true},
                  {"owner", "Owner", "", false, true},
                  {"rationale", "Rationale", "", false, false}},
                 {},
                 0};
  Table conditions{"conditions",
                   "Conditions",
                   {{"gate", "Gate", "", false, true},
                    {"condition", "Condition", "", false, true},
                    {"owner", "Owner", "", false, true},
                    {"due", "Due", "", false, true},
                    {"closed_by", "Closed by", "", false, true}},
                   {},
                   0};
  Table waivers{"waivers",
                "Waivers",
                {{"waiver", "Waiver", "", false, true},
                 {"gate", "Gate", "", false, true},
                 {"criterion", "Criterion", "", false, true},
                 {"worst", "Worst accepted", "", false, true},
                 {"authority", "Authority", "", false, true},
                 {"until", "Until", "", false, true},
                 {"state", "State", "", false, true},
                 {"reason", "Reason", "", false, true}},
                {},
                0};
  Table in_force{"waivers_in_force", "Waivers in force", waivers.columns, {}, 0};
  Table zones{"zones", "Clearance by zone", zone_columns, {}, 0};
  Table open{"clearance_open", "Zones not cleared", zone_columns, {}, 6};
  Table clearance{"clearance",
                  "Clearance by gate",
                  {{"gate", "Gate", "", false, true},
                   {"verdict", "Verdict", "", false, true},
                   {"zones", "Zones", "", true, true},
                   {"ready", "Cleared", "", true, true},
                   {"conditions", "With conditions", "", true, true},
                   {"not_ready", "Not cleared", "", true, true},
                   {"no_data", "No data", "", true, true}},
                  {},
                  0};
  for (const GateResult& gate : a.now.gates) {
    if (!is_coming(a, *gate.gate)) continue;
    for (const auto& criterion : gate.criteria) {
      enter_criterion(a, "gate." + gate.gate->id + ".", criterion, criteria);
      for (const auto& zone : criterion.zones) enter_zone(a, gate, criterion, zone, zones, open);
    }
    const auto row = enter_gate(a, gate);
    for (const auto& criterion : gate.criteria) {
      enter_conditions(a, gate, criterion, conditions);
      enter_waivers(a, gate, criterion, waivers, in_force);
    }
    enter_zone_counts(a, gate, clearance);
    if (gates.rows.empty()) {
      next.rows.push_back(row);
    } else if (model::rank(gate.verdict) == 0) {
      held.rows.push_back(row);
    }
    gates.rows.push_back(row);
  }
  for (Table* table : {&gates, &next, &held, &criteria, &conditions, &waivers, &in_force, &clearance, &open, &zones})
    a.status.tables.push_back(std::move(*table));
}

}  // namespace daywright::rules
