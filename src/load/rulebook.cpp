#include "load/rulebook.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "load/names.h"
#include "load/table_reader.h"
#include "model/signoff.h"

namespace daywright::load {
namespace {

using model::Diagnostics;
using model::Rulebook;

enum class CriterionKind {
  figure,
  zones,
  tasks,
  closeouts,
  anomalies,
  statement,
  equipment,
  reading,
  rest,
  sortie,
  work_fits
};

constexpr std::array<std::pair<std::string_view, CriterionKind>, 11> criterion_kinds{
    {{"figure", CriterionKind::figure},
     {"zones", CriterionKind::zones},
     {"tasks", CriterionKind::tasks},
     {"closeouts", CriterionKind::closeouts},
     {"anomalies", CriterionKind::anomalies},
     {"statement", CriterionKind::statement},
     {"equipment", CriterionKind::equipment},
     {"reading", CriterionKind::reading},
     {"rest", CriterionKind::rest},
     {"sortie", CriterionKind::sortie},
     {"work_fits", CriterionKind::work_fits}}};

/// A number that has to lie in a range, both ends included.
double number_between(TableReader& in, const char* key, double least, double most, double otherwise) {
  const double value = in.number(key, Need::optional, otherwise);
  if (value >= least && value <= most) return value;
  in.fault(in.source_of(key), fmt::format("'{}' is {:g}, expected a number from {:g} to {:g}", key, value, least, most),
           "value-range");
  return otherwise;
}

model::EstimateSettings read_estimate(TableReader& root, Diagnostics& faults) {
  model::EstimateSettings settings;
  const Node* node = root.table("estimate");
  if (node == nullptr) return settings;
  TableReader in(*node, "[estimate]", faults);
  settings.factor_sd = number_between(in, "factor_sd", 0, 10, settings.factor_sd);
  const double drift = number_between(in, "factor_drift", 0, 10, std::sqrt(settings.factor_drift));
  settings.factor_drift = drift * drift;
  constexpr double even = 0.5;  // from there on a count, or a flight, would more likely be bad than good
  settings.miscount_chance = number_between(in, "miscount_chance", 0, even, settings.miscount_chance);
  settings.miscount_sigmas = number_between(in, "miscount_sigmas", 1, 1000, settings.miscount_sigmas);
  settings.leak_chance = number_between(in, "leak_chance", 0, even, settings.leak_chance);
  settings.leak_mean = number_between(in, "leak_mean", 0, 100, settings.leak_mean);
  settings.leak_sd = number_between(in, "leak_sd", 0.001, 100, settings.leak_sd);
  in.finish();
  return settings;
}

model::MarginRules read_margins(TableReader& root, Diagnostics& faults) {
  model::MarginRules rules;
  const Node* node = root.table("margins");
  if (node == nullptr) return rules;
  TableReader in(*node, "[margins]", faults);
  rules.source = node->at;
  rules.measured_min_counts = in.whole("measured_min_counts", Need::optional, rules.measured_min_counts);
  if (rules.measured_min_counts < 2)
    in.fault(in.source_of("measured_min_counts"), "a rate can't be measured from fewer than 2 counts", "value-range");
  rules.conflict_sigmas = in.number("conflict_sigmas", Need::optional, rules.conflict_sigmas);
  if (rules.conflict_sigmas <= 0)
    in.fault(in.source_of("conflict_sigmas"), "'conflict_sigmas' is not above zero", "value-range");
  rules.count_every_hours = in.number("count_every_hours", Need::optional, rules.count_every_hours);
  if (rules.count_every_hours <= 0)
    in.fault(in.source_of("count_every_hours"), "'count_every_hours' is not above zero", "value-range");
  rules.assurance = number_between(in, "assurance", 50, 99.9, rules.assurance);
  rules.leak_shown_from = number_between(in, "leak_shown_from", 1, 100, rules.leak_shown_from);
  if (in.has("bases")) rules.bases.clear();
  for (const std::string& basis : in.has("bases") ? in.some_texts("bases") : std::vector<std::string>{}) {
    if (basis == "plan") {
      rules.bases.push_back(model::Basis::plan);
    } else if (basis == "measured") {
      rules.bases.push_back(model::Basis::measured);
    } else if (basis == "assured") {
      rules.bases.push_back(model::Basis::assured);
    } else {
      in.fault(in.source_of("bases"),
               fmt::format("unknown basis {}, expected plan, measured or assured", in_quotes(basis)), "value-unknown");
    }
  }
  in.finish();
  return rules;
}

model::FigureCriterion read_figure_demand(TableReader& in) {
  model::FigureCriterion demand;
  demand.figure = in.text("figure");
  const auto at_least = in.number_if_any("at_least");
  const auto at_most = in.number_if_any("at_most");
  if (at_least.has_value() == at_most.has_value()) {
    in.fault(in.source_of("figure"), "the criterion gives no limit or two, expected one of at_least and at_most",
             "criterion-limit");
  }
  demand.comparison = at_most ? model::Comparison::at_most : model::Comparison::at_least;
  demand.limit = at_most ? *at_most : at_least.value_or(0);
  const std::string unit = in.text("unit", Need::optional);
  demand.unit = unit.empty() ? nullptr : model::find_unit(unit);
  if (!unit.empty() && demand.unit == nullptr)
    in.fault(in.source_of("unit"), fmt::format("unknown unit {}", in_quotes(unit)), "unit-unknown");
  return demand;
}

model::ZonesCriterion read_zones_demand(TableReader& in, const Names& zones, const Names& events, const Names& roles,
                                        Diagnostics& faults) {
  model::ZonesCriterion demand;
  demand.zones = in.some_texts("zones");
  for (const auto& zone : demand.zones) zones.require(zone, in.source_of("zones"), faults);
  demand.authority = in.text("authority");
  roles.require(demand.authority, in.source_of("authority"), faults);
  demand.survey_kind = in.text("survey_kind");
  demand.coverage = in.number("coverage", Need::optional, 100);
  if (demand.coverage <= 0 || demand.coverage > 100)
    in.fault(in.source_of("coverage"), "'coverage' is a percentage, expected more than 0 and at most 100",
             "value-range");
  demand.max_age_hours = in.number_if_any("max_age_hours");
  if (demand.max_age_hours && *demand.max_age_hours <= 0)
    in.fault(in.source_of("max_age_hours"), "'max_age_hours' is not above zero", "value-range");
  demand.after_event = in.text("after_event", Need::optional);
  events.require(demand.after_event, in.source_of("after_event"), faults);
  demand.voided_by = in.texts("voided_by");
  for (const auto& event : demand.voided_by) events.require(event, in.source_of("voided_by"), faults);
  return demand;
}

/// Without a list, every task that is planned for the gate.
model::TasksCriterion read_tasks_demand(TableReader& in) {
  if (!in.has("tasks")) return {};
  return {in.some_texts("tasks")};
}

model::AnomaliesCriterion read_anomalies_demand(TableReader& in) {
  model::AnomaliesCriterion demand{in.some_texts("severities")};
  const std::vector<std::string> known(model::severities.begin(), model::severities.end());
  for (const auto& severity : demand.severities) {
    if (std::find(known.begin(), known.end(), severity) != known.end()) continue;
    in.fault(in.source_of("severities"),
             fmt::format("unknown severity {}, expected one of {}{}", in_quotes(severity), fmt::join(known, ", "),
                         model::did_you_mean(severity, known)),
             "value-unknown");
  }
  return demand;
}

model::StatementCriterion read_statement_demand(TableReader& in, const Names& roles, Diagnostics& faults) {
  model::StatementCriterion demand{in.text("position"), in.some_texts("accepts")};
  roles.require(demand.position, in.source_of("position"), faults);
  return demand;
}

/// Where the plan does not declare what a log may name, a slip of the pen there would pass for something else.
void require_declared(const Names& declared, const std::vector<std::string>& wanted, std::string_view where,
                      model::Source at, Diagnostics& faults) {
  if (!wanted.empty() && declared.empty())
    faults.push_back(
        {model::Severity::error, at,
         fmt::format("mission.toml declares no {}, expected them all, so that a misspelt one is seen", where),
         "name-unknown"});
  else
    for (const auto& name : wanted) declared.require(name, at, faults);
}

model::EquipmentCriterion read_equipment_demand(TableReader& in, const Names& equipment, Diagnostics& faults) {
  model::EquipmentCriterion demand;
  demand.units = in.some_texts("units");
  require_declared(equipment, demand.units, "[[equipment]]", in.source_of("units"), faults);
  demand.needed = in.whole("needed");
  demand.spare = in.whole("spare", Need::optional, 0);
  demand.works_in = in.some_texts("works_in");
  if (in.has("on_condition")) demand.on_condition = in.some_texts("on_condition");
  for (const auto& [key, states] :
       {std::pair("works_in", demand.works_in), std::pair("on_condition", demand.on_condition)}) {
    for (const auto& state : states) {
      if (std::find(model::equipment_states.begin(), model::equipment_states.end(), state) ==
          model::equipment_states.end())
        in.fault(in.source_of(key),
                 fmt::format("unknown state {}, expected one of {}", in_quotes(state),
                             fmt::join(model::equipment_states, ", ")),
                 "value-unknown");
    }
  }
  const auto units = static_cast<int>(demand.units.size());
  if (demand.needed < 1)
    in.fault(in.source_of("needed"), fmt::format("'needed' is {}, expected at least 1", demand.needed), "value-range");
  if (demand.spare < 0)
    in.fault(in.source_of("spare"), fmt::format("'spare' is {}, expected 0 or more", demand.spare), "value-range");
  if (!demand.units.empty() && demand.needed >= 1 && demand.spare >= 0 &&
      (demand.needed > units || demand.spare > units - demand.needed))
    in.fault(
        in.source_of("needed"),
        fmt::format("{} needed and {} to spare are more than the {} units named", demand.needed, demand.spare, units),
        "value-range");
  for (const auto& state : demand.on_condition) {
    if (std::find(demand.works_in.begin(), demand.works_in.end(), state) != demand.works_in.end())
      in.fault(in.source_of("on_condition"),
               fmt::format("{} stands in 'works_in' as well, expected it in one of the two", in_quotes(state)),
               "value-twice");
  }
  return demand;
}

model::ReadingCriterion read_reading_demand(TableReader& in, const Names& readings, Diagnostics& faults) {
  model::ReadingCriterion demand;
  demand.reading = in.text("reading");
  if (!demand.reading.empty())
    require_declared(readings, {demand.reading}, "[mission] readings", in.source_of("reading"), faults);
  demand.at_least = in.number_if_any("at_least");
  demand.at_most = in.number_if_any("at_most");
  if (!demand.at_least && !demand.at_most)
    in.fault(in.source_of("reading"), "the criterion gives no limit, expected at_least, at_most or both",
             "criterion-limit");
  if (demand.at_least && demand.at_most && *demand.at_least > *demand.at_most)
    in.fault(in.source_of("at_least"), "'at_least' is above 'at_most', so that nothing can meet both", "value-range");
  const std::string unit = in.text("unit");
  demand.unit = unit.empty() ? nullptr : model::find_unit(unit);
  if (!unit.empty() && demand.unit == nullptr)
    in.fault(in.source_of("unit"), fmt::format("unknown unit {}", in_quotes(unit)), "unit-unknown");
  demand.max_age_hours = in.number("max_age_hours");
  if (in.has("max_age_hours") && demand.max_age_hours <= 0)
    in.fault(in.source_of("max_age_hours"), "'max_age_hours' is not above zero", "value-range");
  return demand;
}

model::RestCriterion read_rest_demand(TableReader& in, const Names& persons, Diagnostics& faults) {
  model::RestCriterion demand;
  demand.persons = in.some_texts("persons");
  for (const auto& person : demand.persons) persons.require(person, in.source_of("persons"), faults);
  demand.within_hours = in.number("within_hours", Need::optional, demand.within_hours);
  constexpr double week = 168;
  if (demand.within_hours <= 0 || demand.within_hours > week)
    in.fault(in.source_of("within_hours"),
             fmt::format("'within_hours' is {:g}, expected more than 0 and at most {:g}", demand.within_hours, week),
             "value-range");
  const auto check = [&](const char* key, double hours) {
    if (hours > 0 && hours <= demand.within_hours) return;
    in.fault(in.source_of(key),
             fmt::format("'{}' is {:g}, expected more than 0 and at most 'within_hours'", key, hours), "value-range");
  };
  demand.sleep_hours = in.number("sleep_hours");
  if (in.has("sleep_hours")) check("sleep_hours", demand.sleep_hours);
  demand.duty_hours = in.number_if_any("duty_hours");
  if (demand.duty_hours) check("duty_hours", *demand.duty_hours);
  return demand;
}

model::SortieCriterion read_sortie_demand(TableReader& in, const Names& sorties, Diagnostics& faults) {
  model::SortieCriterion demand{in.some_texts("sorties"), in.number_if_any("max_minutes")};
  require_declared(sorties, demand.sorties, "[mission] sorties", in.source_of("sorties"), faults);
  if (demand.max_minutes && *demand.max_minutes <= 0)
    in.fault(in.source_of("max_minutes"), "'max_minutes' is not above zero", "value-range");
  return demand;
}

model::ReturnOption read_return(const Node& node, const model::Mission& mission,
                                const std::vector<model::Criterion>& criteria, Diagnostics& faults) {
  TableReader in(node, "[[return]]", faults);
  model::ReturnOption option;
  option.source = node.at;
  option.id = in.id();
  option.title = in.text("title");
  option.kind = in.text("kind");
  Names("day kind", mission.day_kinds).require(option.kind, in.source_of("kind"), faults);
  option.hours = in.number("hours");
  constexpr double most_hours = 366 * 24;  // far more than any way home, and few enough to be added to a time
  if (option.hours <= 0 || option.hours > most_hours)
    in.fault(in.source_of("hours"),
             fmt::format("'hours' is {:g}, expected more than 0 and at most {:g}", option.hours, most_hours),
             "value-range");
  option.minimum_hours = in.amount("minimum_hours");
  if (option.minimum_hours > option.hours)
    in.fault(in.source_of("minimum_hours"), "'minimum_hours' is above 'hours'", "value-range");
  const std::size_t faults_before = faults.size();
  option.opportunities = in.times("opportunities", mission.launch);
  if (in.has("opportunities") && option.opportunities.empty() && faults.size() == faults_before)
    in.fault(in.source_of("opportunities"), "the list 'opportunities' is empty, expected at least one", "value-empty");
  option.events = in.texts("events", Need::optional, Repeats::allowed);  // two burns are two events
  for (const auto& kind : option.events) {
    const bool is_used = std::any_of(mission.events.begin(), mission.events.end(),
                                     [&](const auto& event) { return event.kind == kind; });
    if (!is_used)
      in.fault(in.source_of("events"), fmt::format("no event of the plan is of kind {}", in_quotes(kind)),
               "name-unknown");
  }
  if (in.has("events") && option.events.empty())
    in.fault(in.source_of("events"), "'events' is an empty list, expected none at all or a kind of event",
             "value-empty");
  if (in.has("needs")) option.needs = in.some_texts("needs");
  const Names known("criterion", criteria);
  for (const auto& id : option.needs) {
    known.require(id, in.source_of("needs"), faults);
    const auto* needed = model::find_by_id(criteria, id);
    if (needed != nullptr && std::holds_alternative<model::WorkFitsCriterion>(needed->demand))
      in.fault(in.source_of("needs"),
               fmt::format("{} is about the work of the planned flight, which a way home drops", in_quotes(id)),
               "value-unknown");
  }
  option.gives_up = in.text("gives_up", Need::optional);
  in.finish();
  return option;
}

model::Role read_role(const Node& node, Diagnostics& faults) {
  TableReader in(node, "[[role]]", faults);
  model::Role role{in.id(), in.text("title"), node.at, in.yes_no("medical"), in.texts("principals")};
  for (const auto& principal : role.principals) {
    if (!model::is_principal(principal))
      in.fault(in.source_of("principals"),
               fmt::format("{} can't name a signer, expected letters, digits and . _ @ + - after a letter or a digit",
                           in_quotes(principal)),
               "principal-form");
  }
  in.finish();
  return role;
}

model::GatePoll read_poll(const Node& node, const Names& gates, const std::vector<model::Role>& roles,
                          Diagnostics& faults) {
  TableReader in(node, "[[gate_call]]", faults);
  model::GatePoll poll{in.text("gate"), in.some_texts("roles"), in.text("chair"), in.yes_no("two_roles"), node.at};
  gates.require(poll.gate, in.source_of("gate"), faults);
  const Names known("role", roles);
  const auto check = [&](const std::string& id, const char* key) {
    known.require(id, in.source_of(key), faults);
    const auto* role = model::find_by_id(roles, id);
    if (role != nullptr && role->principals.empty())
      in.fault(in.source_of(key),
               fmt::format("role {} has a call to make and names no 'principals' who may make it", in_quotes(id)),
               "role-unfilled");
  };
  for (const auto& id : poll.roles) check(id, "roles");
  check(poll.chair, "chair");
  in.finish();
  return poll;
}

}  // namespace

Rulebook parse_rulebook(std::string_view text, int file, const model::Mission& mission, Diagnostics& faults) {
  Rulebook rules;
  const std::size_t faults_before = faults.size();
  const Node tree = parse_toml(text, file, faults);
  if (faults.size() > faults_before) return rules;
  rules.source = tree.at;
  TableReader root(tree, "rules.toml", faults);
  rules.margins = read_margins(root, faults);
  rules.margins.estimate = read_estimate(root, faults);

  if (const Node* node = root.table("crew"); node != nullptr) {
    TableReader in(*node, "[crew]", faults);
    rules.hours_by_name = in.yes_no("hours_by_name");
    in.finish();
  }
  for (const Node* node : root.tables("role", Need::required)) {
    rules.roles.push_back(read_role(*node, faults));
  }
  const Names roles("role", rules.roles);
  const Names gates("gate", mission.gates);
  const Names zones("zone", mission.zones);
  const Names events("event", mission.events);
  const Names persons("person", mission.persons);
  std::set<std::string> ids;
  for (const Node* node : root.tables("criterion", Need::required)) {
    TableReader in(*node, "[[criterion]]", faults);
    model::Criterion criterion;
    criterion.source = node->at;
    criterion.id = in.id();
    if (!ids.insert(criterion.id).second)
      in.fault(in.source_of("id"),
               fmt::format("criterion {} comes twice, expected each id once", in_quotes(criterion.id)), "id-twice");
    criterion.title = in.text("title");
    criterion.gate = in.text("gate");
    gates.require(criterion.gate, in.source_of("gate"), faults);
    criterion.owner = in.text("owner");
    roles.require(criterion.owner, in.source_of("owner"), faults);
    criterion.rationale = in.text("rationale");
    criterion.limits_extension = in.yes_no("limits_extension");
    criterion.waiver_authority = in.text("waiver_authority", Need::optional);
    roles.require(criterion.waiver_authority, in.source_of("waiver_authority"), faults);
    switch (in.choice<CriterionKind>("kind", criterion_kinds, Need::required, CriterionKind::tasks)) {
      case CriterionKind::figure: criterion.demand = read_figure_demand(in); break;
      case CriterionKind::zones: criterion.demand = read_zones_demand(in, zones, events, roles, faults); break;
      case CriterionKind::tasks: criterion.demand = read_tasks_demand(in); break;
      case CriterionKind::closeouts: criterion.demand = model::CloseoutsCriterion{in.some_texts("closeouts")}; break;
      case CriterionKind::anomalies: criterion.demand = read_anomalies_demand(in); break;
      case CriterionKind::statement: criterion.demand = read_statement_demand(in, roles, faults); break;
      case CriterionKind::equipment:
        criterion.demand = read_equipment_demand(in, Names("unit of equipment", mission.equipment), faults);
        break;
      case CriterionKind::reading:
        criterion.demand = read_reading_demand(in, Names("reading", mission.readings), faults);
        break;
      case CriterionKind::rest: criterion.demand = read_rest_demand(in, persons, faults); break;
      case CriterionKind::work_fits: criterion.demand = model::WorkFitsCriterion{}; break;
      case CriterionKind::sortie:
        criterion.demand = read_sortie_demand(in, Names("sortie", mission.sorties), faults);
        break;
    }
    in.finish();
    rules.criteria.push_back(std::move(criterion));
  }
  std::set<std::string> return_ids;
  for (const Node* node : root.tables("return")) {
    rules.returns.push_back(read_return(*node, mission, rules.criteria, faults));
    const auto& option = rules.returns.back();
    if (!return_ids.insert(option.id).second) {
      faults.push_back({model::Severity::error, option.source,
                        fmt::format("return option {} comes twice, expected each id once", in_quotes(option.id)),
                        "id-twice"});
    }
  }
  std::set<std::string> polled;
  for (const Node* node : root.tables("gate_call")) {
    rules.polls.push_back(read_poll(*node, gates, rules.roles, faults));
    const auto& poll = rules.polls.back();
    if (!polled.insert(poll.gate).second)
      faults.push_back({model::Severity::error, poll.source,
                        fmt::format("the calls for gate {} come twice, expected each gate once", in_quotes(poll.gate)),
                        "id-twice"});
  }
  root.finish();
  for (const auto& gate : mission.gates) {
    const bool has_criterion =
        std::any_of(rules.criteria.begin(), rules.criteria.end(), [&](const auto& c) { return c.gate == gate.id; });
    if (!has_criterion) {
      faults.push_back({model::Severity::error, gate.source,
                        fmt::format("gate '{}' has no criterion in rules.toml, expected at least one", gate.id),
                        "gate-without-criterion"});
    }
  }
  return rules;
}

}  // namespace daywright::load
