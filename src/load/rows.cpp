#include "load/rows.h"
#include "model/suggest.h"

#include <array>

#include <fmt/format.h>

#include "load/utf8.h"

namespace daywright::load {
namespace {

using namespace std::string_view_literals;

template <class Value, std::size_t n>
using Words = std::array<std::pair<std::string_view, Value>, n>;

/// Words that stand for themselves.
template <std::size_t n>
constexpr Words<std::string_view, n> as_spelt(const std::array<std::string_view, n>& spellings) {
  Words<std::string_view, n> words;
  for (std::size_t i = 0; i < n; ++i) words[i] = {spellings[i], spellings[i]};
  return words;
}

constexpr Words<bool, 2> plan_sorts{{{"planned", false}, {"get_ahead", true}}};
constexpr Words<model::TaskState, 4> task_states{{{"started", model::TaskState::started},
                                                  {"partial", model::TaskState::partial},
                                                  {"done", model::TaskState::done},
                                                  {"not_done", model::TaskState::not_done}}};
constexpr Words<bool, 2> sortie_kinds{{{"period", true}, {"hardware", false}}};
constexpr Words<model::FindingState, 3> finding_states{{{"open", model::FindingState::open},
                                                        {"under_analysis", model::FindingState::under_analysis},
                                                        {"closed", model::FindingState::closed}}};
constexpr Words<model::ClearanceState, 3> clearance_states{
    {{"cleared", model::ClearanceState::cleared},
     {"cleared_with_conditions", model::ClearanceState::cleared_with_conditions},
     {"not_cleared", model::ClearanceState::not_cleared}}};
constexpr Words<model::TransferState, 3> transfer_states{{{"planned", model::TransferState::planned},
                                                          {"done", model::TransferState::done},
                                                          {"cancelled", model::TransferState::cancelled}}};
constexpr Words<model::AnomalyState, 2> anomaly_states{
    {{"open", model::AnomalyState::open}, {"closed", model::AnomalyState::closed}}};
constexpr Words<model::DecisionState, 4> decision_states{{{"proposed", model::DecisionState::proposed},
                                                          {"approved", model::DecisionState::approved},
                                                          {"refused", model::DecisionState::refused},
                                                          {"withdrawn", model::DecisionState::withdrawn}}};
constexpr Words<model::ActionState, 3> action_states{{{"open", model::ActionState::open},
                                                      {"answered", model::ActionState::answered},
                                                      {"closed", model::ActionState::closed}}};
constexpr Words<bool, 2> crew_kinds{{{"sleep", true}, {"duty", false}}};
// Closed lists: a misspelt word would otherwise slip past the criteria that name one.
constexpr auto severities = as_spelt(model::severities);

constexpr auto equipment_states = as_spelt(model::equipment_states);

constexpr std::array plan_required{"task"sv, "title"sv, "day"sv, "crew"sv, "minutes"sv};
constexpr std::array plan_optional{"priority"sv, "needs"sv, "gate"sv, "sort"sv};
constexpr std::array tasks_required{"task"sv, "state"sv, "percent"sv, "from"sv};
constexpr std::array tasks_optional{"who"sv, "to"sv};
constexpr std::array sorties_required{"sortie"sv, "kind"sv};
constexpr std::array sorties_optional{"who"sv, "depress"sv, "repress"sv, "hardware"sv, "out"sv, "back"sv, "left"sv};
constexpr std::array closeouts_required{"closeout"sv, "done"sv, "of"sv, "by"sv, "when"sv};
constexpr std::array surveys_required{"survey"sv, "zone"sv, "kind"sv, "coverage"sv, "taken"sv};
constexpr std::array surveys_optional{"part"sv, "received"sv, "reviewed"sv, "reviewer"sv};
constexpr std::array findings_required{"finding"sv, "zone"sv, "severity"sv, "state"sv, "when"sv};
constexpr std::array findings_optional{"disposition"sv};
constexpr std::array clearances_required{"zone"sv, "gate"sv, "state"sv, "authority"sv, "effective"sv};
constexpr std::array clearances_optional{"rests_on"sv, "conditions"sv, "until"sv};
constexpr std::array counts_required{"when"sv, "item"sv, "place"sv, "quantity"sv, "unit"sv, "method"sv};
constexpr std::array counts_optional{"by"sv};
constexpr std::array transfers_required{"transfer"sv, "when"sv, "item"sv, "quantity"sv, "unit"sv, "state"sv};
constexpr std::array transfers_optional{"from"sv, "to"sv};
constexpr std::array readings_required{"when"sv, "what"sv, "quantity"sv, "unit"sv};
constexpr std::array equipment_required{"unit"sv, "state"sv, "function"sv, "when"sv};
constexpr std::array anomalies_required{"anomaly"sv, "opened"sv, "severity"sv, "state"sv};
constexpr std::array anomalies_optional{"gate"sv, "disposition"sv};
constexpr std::array decisions_required{"decision"sv, "state"sv, "reason"sv};
constexpr std::array decisions_optional{"authority"sv, "effective"sv, "expires"sv, "changes"sv,
                                        "value"sv,     "waives"sv,    "worst"sv};
constexpr std::array actions_required{"action"sv, "from"sv, "to"sv, "text"sv, "state"sv};
constexpr std::array actions_optional{"due"sv};
constexpr std::array statements_required{"position"sv, "says"sv, "at"sv};
constexpr std::array statements_optional{"valid_until"sv};
constexpr std::array crew_required{"person"sv, "kind"sv, "from"sv, "to"sv};

constexpr std::array<LogColumns, model::log_count> log_columns{{
    {plan_required, plan_optional, "task"},
    {tasks_required, tasks_optional, "task"},
    {sorties_required, sorties_optional, "sortie"},
    {closeouts_required, {}, "closeout"},
    {surveys_required, surveys_optional, "zone"},
    {findings_required, findings_optional, "zone"},
    {clearances_required, clearances_optional, "zone"},
    {counts_required, counts_optional, "item"},
    {transfers_required, transfers_optional, "item"},
    {readings_required, {}, "what"},
    {equipment_required, {}, "unit"},
    {anomalies_required, anomalies_optional, ""},
    {decisions_required, decisions_optional, ""},
    {actions_required, actions_optional, "action"},
    {statements_required, statements_optional, "position"},
    {crew_required, {}, "person"},
}};

}  // namespace

const LogColumns& columns_of(model::Log log) { return log_columns.at(static_cast<std::size_t>(log)); }

std::vector<std::string> names_of_columns(model::Log log) {
  const LogColumns& columns = columns_of(log);
  std::vector<std::string> names(columns.required.begin(), columns.required.end());
  names.insert(names.end(), columns.optional.begin(), columns.optional.end());
  names.insert(names.end(), common_columns.begin(), common_columns.end());
  return names;
}

void read_row(RowReader& in, const LogFile& file, model::PlanRow& row) {
  row.task = in.text("task");
  row.title = in.text("title");
  row.day = in.whole("day", 1, 1000);
  row.crew = in.names("crew", file.names.persons);
  row.minutes = in.amount("minutes");
  row.priority = in.raw("priority").empty() ? 0 : in.whole("priority", 1, 99);
  row.needs = in.list("needs");
  row.gate = in.name_or_empty("gate", file.names.gates);
  row.get_ahead = !in.raw("sort").empty() && in.choice<bool>("sort", plan_sorts);
}

void read_row(RowReader& in, const LogFile& file, model::TaskRow& row) {
  row.task = in.text("task");
  row.state = in.choice<model::TaskState>("state", task_states);
  row.percent = in.percent("percent");
  row.who = in.names("who", file.names.persons);
  row.begin = in.time("from");
  row.end = in.time_if_any("to");
  if (in.is_sound() && row.end && *row.end < row.begin)
    in.fault("to", "the task ends before it starts", "task-runs-backwards");
  if (in.is_sound() && (row.state == model::TaskState::done) != (row.percent == 100)) {
    in.fault("percent",
             fmt::format("state and percent disagree: {} at {} %, expected done exactly at 100 %", in.raw("state"),
                         row.percent),
             "task-percent");
  }
}

void read_row(RowReader& in, const LogFile& file, model::SortieRow& row) {
  row.sortie = in.name_if_declared("sortie", file.names.sorties);
  row.is_period = in.choice<bool>("kind", sortie_kinds);
  row.who = in.names("who", file.names.persons);
  if (row.is_period) {
    row.depressurised = in.time("depress");
    row.repressurised = in.time_if_any("repress");
    for (const auto column : {"hardware", "out", "back", "left"}) in.expect_empty(column, "a period of a sortie");
    if (in.is_sound() && row.repressurised && *row.repressurised < *row.depressurised)
      in.fault("repress", "the sortie ends before it starts", "sortie-runs-backwards");
  } else {
    row.hardware = in.text("hardware");
    row.out = in.amount("out");
    row.back = in.amount("back");
    row.left = in.raw("left").empty() ? 0 : in.amount("left");
    if (in.is_sound() && row.back + row.left > row.out)
      in.fault("back", fmt::format("{:g} back and {:g} left are more than {:g} out", row.back, row.left, row.out),
               "hardware-sum");
    for (const auto column : {"depress", "repress"}) in.expect_empty(column, "hardware");
  }
}

void read_row(RowReader& in, const LogFile&, model::CloseoutRow& row) {
  row.closeout = in.text("closeout");
  row.done = in.whole("done", 0, 100000);
  row.of = in.whole("of", 1, 100000);
  row.by = in.text("by");
  row.when = in.time("when");
  if (in.is_sound() && row.done > row.of)
    in.fault("done", fmt::format("{} done of {}, expected no more than there are", row.done, row.of), "value-range");
}

void read_row(RowReader& in, const LogFile& file, model::SurveyRow& row) {
  row.survey = in.text("survey");
  row.zone = in.name("zone", file.names.zones);
  row.kind = in.text("kind");
  row.part = in.text_or_empty("part");
  row.coverage = in.percent("coverage");
  row.taken = in.time("taken");
  row.received = in.time_if_any("received");
  row.reviewed = in.time_if_any("reviewed");
  row.reviewer = in.text_or_empty("reviewer");
  const auto* zone = model::find_by_id(file.mission.zones, row.zone);
  if (zone != nullptr && !row.part.empty() && !zone->parts.contains(row.part)) {
    std::vector<std::string> known;
    for (const auto& [part, weight] : zone->parts) known.push_back(part);
    in.fault(
        "part",
        fmt::format("zone '{}' has no part {}{}", row.zone, in_quotes(row.part), model::did_you_mean(row.part, known)),
        "name-unknown");
  }
  if (in.is_sound() && row.received && *row.received < row.taken)
    in.fault("received", "the survey was received before it was taken", "survey-order");
  if (in.is_sound() && row.reviewed && (!row.received || *row.reviewed < *row.received))
    in.fault("reviewed", "the survey was reviewed before it was received", "survey-order");
}

void read_row(RowReader& in, const LogFile& file, model::FindingRow& row) {
  row.finding = in.text("finding");
  row.zone = in.name("zone", file.names.zones);
  row.severity = in.choice<std::string_view>("severity", severities);
  row.state = in.choice<model::FindingState>("state", finding_states);
  row.disposition = in.text_or_empty("disposition");
  row.when = in.time("when");
}

void read_row(RowReader& in, const LogFile& file, model::ClearanceRow& row) {
  row.zone = in.name("zone", file.names.zones);
  row.gate = in.name("gate", file.names.gates);
  row.state = in.choice<model::ClearanceState>("state", clearance_states);
  row.rests_on = in.list("rests_on");
  row.conditions = in.text_or_empty("conditions");
  row.authority = in.name("authority", file.names.roles);
  row.effective = in.time("effective");
  row.until = in.time_if_any("until");
  if (in.is_sound() && (row.state == model::ClearanceState::cleared_with_conditions) == row.conditions.empty()) {
    in.fault("conditions",
             "conditions and state disagree, expected conditions exactly where the zone is cleared with conditions",
             "clearance-conditions");
  }
}

void read_row(RowReader& in, const LogFile& file, model::CountRow& row) {
  row.when = in.time("when");
  row.item = in.name("item", file.names.items);
  row.place = in.name("place", file.names.places);
  row.by = in.text_or_empty("by");
  row.method = in.name("method", file.names.methods);
  const auto* item = model::find_by_id(file.mission.items, row.item);
  if (item == nullptr) return;
  row.quantity = in.quantity_in(*item->unit);
  if (std::find(item->places.begin(), item->places.end(), row.place) == item->places.end()) {
    in.fault("place",
             fmt::format("item '{}' is not held in place {}, expected one of {}", row.item, in_quotes(row.place),
                         fmt::join(item->places, ", ")),
             "place-not-of-item");
  }
  const auto holds = item->capacity.find(row.place);
  const auto sigma = item->sigma.find(row.method);
  const double scatter = sigma == item->sigma.end() ? 0 : 3 * sigma->second;
  if (in.is_sound() && holds != item->capacity.end() && row.quantity > holds->second + scatter) {
    in.fault("quantity",
             fmt::format("{:g} {} in {}, expected no more than the {:g} that it holds", row.quantity,
                         item->unit->spelling, in_quotes(row.place), holds->second),
             "value-range");
  }
  if (!item->sigma.contains(row.method)) {
    in.fault(
        "method",
        fmt::format("item '{}' is not counted by {}, expected a way its sigma names", row.item, in_quotes(row.method)),
        "method-not-of-item");
  }
}

void read_row(RowReader& in, const LogFile& file, model::TransferRow& row) {
  row.transfer = in.text("transfer");
  row.when = in.time("when");
  row.item = in.name("item", file.names.items);
  row.from_place = in.name_or_empty("from", file.names.places);
  row.to_place = in.name_or_empty("to", file.names.places);
  row.state = in.choice<model::TransferState>("state", transfer_states);
  const auto* item = model::find_by_id(file.mission.items, row.item);
  if (item == nullptr) return;
  row.quantity = in.quantity_in(*item->unit);
  const auto held = [&](const std::string& place) {
    return std::find(item->places.begin(), item->places.end(), place) != item->places.end();
  };
  if (in.is_sound() && !held(row.from_place) && !held(row.to_place)) {
    in.fault("to",
             fmt::format("neither end of the transfer is a place of item '{}', expected one of {}", row.item,
                         fmt::join(item->places, ", ")),
             "place-not-of-item");
  }
}

void read_row(RowReader& in, const LogFile& file, model::ReadingRow& row) {
  row.when = in.time("when");
  row.what = in.name_if_declared("what", file.names.readings);
  row.quantity = in.number("quantity");
  if (const model::Unit* unit = in.unit()) row.unit = unit->spelling;
}

void read_row(RowReader& in, const LogFile& file, model::EquipmentRow& row) {
  row.unit = in.name_if_declared("unit", file.names.equipment);
  row.state = in.choice<std::string_view>("state", equipment_states);
  row.function = in.text("function");
  row.when = in.time("when");
}

void read_row(RowReader& in, const LogFile& file, model::AnomalyRow& row) {
  row.anomaly = in.text("anomaly");
  row.opened = in.time("opened");
  row.severity = in.choice<std::string_view>("severity", severities);
  row.gate = in.name_or_empty("gate", file.names.gates);
  row.state = in.choice<model::AnomalyState>("state", anomaly_states);
  row.disposition = in.text_or_empty("disposition");
}

namespace {

/// An event has to stay within the flight and ahead of the decision, and the one before which days are added ahead of
/// the landing; whatever else it says would take demands out of sight.
void check_move(RowReader& in, const model::Mission& mission, const model::EventMoved& moved, model::Instant since) {
  if (mission.landing_days.empty()) return;
  const model::Instant latest = moved.event == mission.extension_before ? mission.landing() : mission.required_end();
  if (moved.at >= since && moved.at <= latest) return;
  in.fault("value",
           fmt::format("the event is moved to {}, expected a time from {} to {}", model::format_utc(moved.at),
                       model::format_utc(since), model::format_utc(latest)),
           "value-range");
}

/// What `changes` and `value` say, where `changes` names something of the plan; else they are words for people.
/// `since`: when the decision takes effect, or was written down.
model::PlanChange read_change(RowReader& in, const LogFile& file, model::Instant since) {
  const std::string changes = in.text_or_empty("changes");
  const auto name_between = [&](std::string_view prefix, std::string_view suffix) -> std::optional<std::string> {
    if (changes.size() <= prefix.size() + suffix.size() || !changes.starts_with(prefix) || !changes.ends_with(suffix))
      return std::nullopt;
    return changes.substr(prefix.size(), changes.size() - prefix.size() - suffix.size());
  };
  const auto check = [&](const Names& names, const std::string& name) {
    if (!names.contains(name)) in.fault("changes", names.complaint(name), "name-unknown");
  };
  if (changes == "extension_days") return model::DaysAdded{in.whole("value", 1, 10)};
  if (const auto event = name_between("event.", ".at")) {
    check(file.names.events, *event);
    model::EventMoved moved{*event, in.time("value")};
    if (in.is_sound()) check_move(in, file.mission, moved, since);
    return moved;
  }
  if (const auto place = name_between("place.", ".state")) {
    check(file.names.places, *place);
    return model::PlaceSet{*place, in.choice<model::PlaceState>("value", model::place_states)};
  }
  if (const auto item = name_between("item.", ".leak")) {
    check(file.names.items, *item);
    constexpr Words<bool, 1> closed{{{"closed", true}}};
    (void)in.choice<bool>("value", closed);
    return model::LeakClosed{*item};
  }
  const bool names_the_plan = changes.starts_with("event.") || changes.starts_with("place.") ||
                              changes.starts_with("item.") ||
                              !model::did_you_mean(changes, std::array{std::string("extension_days")}).empty();
  if (names_the_plan)
    in.fault("changes",
             fmt::format("{} is no change that can be read, expected extension_days, event.ID.at, place.ID.state, "
                         "item.ID.leak, or words for people",
                         in_quotes(changes)),
             "change-unknown");
  return {};
}

/// What the unit of a criterion's value is; null: a bare number.
const model::Unit* unit_of(const model::Criterion& criterion) {
  if (const auto* figure = std::get_if<model::FigureCriterion>(&criterion.demand)) return figure->unit;
  if (const auto* reading = std::get_if<model::ReadingCriterion>(&criterion.demand)) return reading->unit;
  return nullptr;
}

/// `waives` is a criterion, then the data that may be missing; `worst` a number, with the criterion's unit.
model::Waiver read_waiver(RowReader& in, const LogFile& file) {
  model::Waiver waiver;
  waiver.data = in.list("waives");
  if (waiver.data.empty()) {
    in.expect_empty("worst", "a decision that waives nothing");
    return waiver;
  }
  waiver.criterion = waiver.data.front();
  waiver.data.erase(waiver.data.begin());
  const auto* criterion = model::find_by_id(file.rules.criteria, waiver.criterion);
  if (criterion == nullptr) {
    in.fault("waives", file.names.criteria.complaint(waiver.criterion), "name-unknown");
    return waiver;
  }
  if (criterion->waiver_authority.empty())
    in.fault("waives",
             fmt::format("rules.toml names no waiver_authority for criterion '{}', so nobody can waive it",
                         waiver.criterion),
             "waiver-not-allowed");
  if (in.raw("worst").empty()) return waiver;
  std::tie(waiver.worst, waiver.unit) = in.number_with_unit("worst", unit_of(*criterion));
  return waiver;
}

}  // namespace

void read_row(RowReader& in, const LogFile& file, model::DecisionRow& row) {
  row.decision = in.text("decision");
  row.state = in.choice<model::DecisionState>("state", decision_states);
  row.authority = in.name_or_empty("authority", file.names.roles);
  row.effective = in.time_if_any("effective");
  row.expires = in.time_if_any("expires");
  row.changes = in.text_or_empty("changes");
  row.value = in.text_or_empty("value");
  row.change = read_change(in, file, row.effective.value_or(row.from.recorded));
  row.waiver = read_waiver(in, file);
  row.reason = in.text("reason");
}

void read_row(RowReader& in, const LogFile&, model::ActionRow& row) {
  row.action = in.text("action");
  row.asked_by = in.text("from");
  row.asked_of = in.text("to");
  row.text = in.text("text");
  row.due = in.time_if_any("due");
  row.state = in.choice<model::ActionState>("state", action_states);
}

void read_row(RowReader& in, const LogFile& file, model::StatementRow& row) {
  row.position = in.name("position", file.names.roles);
  row.says = in.text("says");
  row.at = in.time("at");
  row.valid_until = in.time_if_any("valid_until");
}

void read_row(RowReader& in, const LogFile& file, model::CrewRow& row) {
  row.person = in.name("person", file.names.persons);
  row.is_sleep = in.choice<bool>("kind", crew_kinds);
  row.begin = in.time("from");
  row.end = in.time("to");
  if (in.is_sound() && row.end < row.begin) in.fault("to", "the period ends before it starts", "period-runs-backwards");
}

}  // namespace daywright::load
