#include "rules/handover.h"

#include <algorithm>
#include <initializer_list>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "rules/assembly.h"
#include "rules/decisions.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Instant;
using model::Log;
using model::Table;

/// Something with a time in the shift, or open and overdue.
struct Deadline {
  Instant when;
  std::string what;
  std::string about;
  std::string who;
  std::vector<model::TraceInput> rests_on;
};

/// Something that counts only up to a time.
struct Lapse {
  Instant when;
  std::string name;
  std::string who;
  model::TraceInput from;
};

constexpr const char* nobody = "-";

std::string criterion_in_words(const CriterionResult& result) {
  return fmt::format("{}: {}", result.criterion->title, result.reason);
}

class Deadlines {
 public:
  Deadlines(Assembly& a, Instant end) : a_(a), cutoff_(a.evening.cutoff), end_(end) {}

  /// Gathers them all, enters each and adds the table.
  void add_table() {
    gather_gates();
    gather_events();
    gather_days();
    gather_decisions();
    gather_actions();
    gather_transfers();
    gather_statements();
    gather_zones();
    gather_readings();
    gather_counts();
    gather_supplies();
    gather_returns();
    std::stable_sort(all_.begin(), all_.end(), [](const auto& x, const auto& y) { return x.when < y.when; });
    enter();
  }

 private:
  [[nodiscard]] bool is_in_shift(Instant when) const { return when >= cutoff_ && when <= end_; }

  /// Something that happens or ends by itself.
  void add(Instant when, const char* what, std::string about, std::string who, std::vector<model::TraceInput> inputs) {
    if (is_in_shift(when)) all_.push_back({when, what, std::move(about), std::move(who), std::move(inputs)});
  }
  /// Something that stays open until somebody closes it.
  void add_open(Instant when, const char* what, std::string about, std::string who, model::TraceInput from) {
    if (when > end_) return;
    const bool is_late = when < cutoff_;
    if (is_late) ++overdue_;
    all_.push_back({when, (is_late ? "OVERDUE " : "") + std::string(what), std::move(about), std::move(who), {from}});
  }
  /// Of many that lapse one after the other, the first.
  void add_first(const char* what, std::vector<Lapse> lapses) {
    std::erase_if(lapses, [&](const auto& lapse) { return !is_in_shift(lapse.when); });
    if (lapses.empty()) return;
    const auto& first =
        *std::min_element(lapses.begin(), lapses.end(), [](auto& x, auto& y) { return x.when < y.when; });
    std::vector<model::TraceInput> inputs;
    for (const auto& lapse : lapses) inputs.push_back(lapse.from);
    add(first.when, what, first.name + (lapses.size() == 1 ? "" : fmt::format(", then {} more", lapses.size() - 1)),
        first.who, std::move(inputs));
  }

  /// What holds the gate, with its verdict.
  [[nodiscard]] static std::string state_of(const GateResult& gate) {
    const auto* holding = gate.holding();
    return std::string(model::words(gate.verdict)) + (holding == nullptr ? "" : ", " + criterion_in_words(*holding));
  }
  [[nodiscard]] model::TraceInput verdict_of(const GateResult& gate) const {
    return from_figure(a_.figures().at("gate." + gate.gate->id + ".verdict"));
  }
  [[nodiscard]] bool is_coming(const model::Gate& gate) const {
    return model::find_by_id(a_.mission().events, gate.event)->at > cutoff_;
  }

  void gather_gates() {
    for (const auto& gate : a_.now.gates) {
      if (!is_coming(*gate.gate) || !is_in_shift(gate.gate->poll)) continue;
      const auto poll = from_file("poll", model::format_utc(gate.gate->poll), gate.gate->source);
      const auto* polled = model::find_poll(a_.evening.rules, gate.gate->id);
      add(gate.gate->poll, "poll", fmt::format("{}: {}", gate.gate->title, state_of(gate)),
          polled == nullptr ? nobody : a_.role_title(polled->chair), {poll, verdict_of(gate)});
      for (const auto& result : gate.criteria) {
        if (result.verdict != model::Verdict::ready_with_conditions) continue;
        for (const auto& condition : result.conditions)
          add(gate.gate->poll, "condition", fmt::format("{}: {}", gate.gate->title, condition.text),
              a_.role_title(result.criterion->owner), {poll, verdict_of(gate)});
      }
    }
  }

  void gather_events() {
    for (const auto& event : a_.mission().events) {
      if (!is_in_shift(event.at)) continue;
      std::vector<model::TraceInput> inputs{from_file("event", model::format_utc(event.at), event.source)};
      std::string about = event.title;
      for (const auto& gate : a_.now.gates) {
        // A poll in the shift has its own line.
        if (gate.gate->event != event.id || !is_coming(*gate.gate) || is_in_shift(gate.gate->poll)) continue;
        about += fmt::format(", to be polled before: {}", state_of(gate));
        inputs.push_back(verdict_of(gate));
      }
      add(event.at, "event", std::move(about), nobody, std::move(inputs));
    }
    for (const auto& day : a_.mission().landing_days) {
      for (const auto at : day.opportunities) {
        const auto& events = a_.mission().events;
        const bool is_told =
            std::any_of(events.begin(), events.end(), [&](const auto& event) { return event.at == at; });
        if (!is_told)
          add(at, "event", fmt::format("{}, an opportunity", a_.mission().words.landing), nobody,
              {from_file("landing day", model::format_utc(at), day.source)});
      }
    }
  }

  void gather_days() {
    const auto& days = a_.mission().flight_days;
    for (int number = days.number_at(cutoff_) + 1; days.start_of(number) <= end_; ++number)
      add(days.start_of(number), "day", fmt::format("{} {} begins", a_.mission().words.day, number), nobody,
          {from_file("first instant of the day", model::format_utc(days.start_of(number)), a_.mission().source)});
  }

  void gather_decisions() {
    for (const auto& fact : a_.facts().decisions) {
      const auto& row = fact.row;
      const auto from = from_file("decision " + row.decision, row.reason, row.from.source);
      std::string about = describe_change(a_.mission(), row.change);
      if (about.empty()) about = row.value.empty() ? row.changes : row.changes + " " + row.value;
      const auto* waived = model::find_by_id(a_.evening.rules.criteria, row.waiver.criterion);
      if (waived != nullptr) about = "waives " + waived->title;
      about = about.empty() ? row.decision : fmt::format("{}: {}", row.decision, about);
      const std::string who = row.authority.empty() ? nobody : a_.role_title(row.authority);
      if (row.state == model::DecisionState::proposed) {
        if (row.expires) add_open(*row.expires, "decision", about, who, from);
        continue;
      }
      if (row.state != model::DecisionState::approved || row.authority.empty()) continue;
      if (row.effective) add(*row.effective, "from then on", about, who, {from});
      if (row.expires) add(*row.expires, waived == nullptr ? "decision ends" : "waiver ends", about, who, {from});
    }
  }

  void gather_actions() {
    for (const auto& fact : a_.facts().actions) {
      const auto& row = fact.row;
      if (row.state != model::ActionState::open || !row.due) continue;
      add_open(*row.due, "action", fmt::format("{}: {}", row.action, row.text), row.asked_of,
               from_file("action " + row.action, row.text, row.from.source));
    }
  }

  void gather_transfers() {
    for (const auto& fact : a_.facts().transfers) {
      const auto& row = fact.row;
      if (row.state != model::TransferState::planned) continue;
      const auto& item = *model::find_by_id(a_.mission().items, row.item);
      const double quantity = model::round_to(row.quantity, item.step, model::Rounding::nearest);
      const auto* place = model::find_by_id(a_.mission().places, row.to_place);
      add_open(a_.mission().transfer_delay.of(row.when), "transfer",
               fmt::format("{}: {} {} {}, {}", row.transfer, item.title, model::format_number(quantity, item.step),
                           item.unit->spelling, place == nullptr ? "out" : "to " + place->title),
               nobody, from_file("transfer " + row.transfer, item.title, row.from.source));
    }
  }

  void gather_statements() {
    std::map<std::string, const model::StatementRow*> newest;
    for (const auto& fact : a_.facts().statements) newest[fact.row.position] = &fact.row;  // in order of time
    for (const auto& [position, row] : newest) {
      if (!row->valid_until) continue;
      add(*row->valid_until, "statement ends", fmt::format("\"{}\"", row->says), a_.role_title(position),
          {from_file("statement", row->says, row->from.source)});
    }
  }

  /// Surveys and statements that no longer hold at a poll that is still to come.
  void gather_zones() {
    for (const auto& gate : a_.now.gates) {
      for (const auto& result : gate.criteria) {
        std::vector<Lapse> surveys;
        std::vector<Lapse> statements;
        const auto* demand = std::get_if<model::ZonesCriterion>(&result.criterion->demand);
        const auto owner = a_.role_title(result.criterion->owner);
        for (const auto& zone : result.zones) {
          const std::string name = fmt::format("{}, {}", gate.gate->title, zone.zone->title);
          const auto add_lapse = [&](std::vector<Lapse>& to, Instant when, const char* what, model::Source source) {
            if (when < gate.gate->poll) to.push_back({when, name, owner, from_file(what, zone.zone->title, source)});
          };
          if (zone.oldest_taken && demand->max_age_hours)
            add_lapse(surveys, *zone.oldest_taken + model::from_days(*demand->max_age_hours / 24), "survey",
                      zone.surveys.front()->from.source);
          if (zone.statement != nullptr && zone.statement->until)
            add_lapse(statements, *zone.statement->until, "clearance", zone.statement->from.source);
        }
        add_first("survey lapses", std::move(surveys));
        add_first("clearance ends", std::move(statements));
      }
    }
  }

  void gather_readings() {
    std::map<std::string, Lapse> lapses;  // what is read -> the first time at which a gate finds it too old
    for (const auto& gate : a_.now.gates) {
      for (const auto& result : gate.criteria) {
        const auto* demand = std::get_if<model::ReadingCriterion>(&result.criterion->demand);
        if (demand == nullptr || !is_coming(*gate.gate)) continue;
        const model::ReadingRow* newest = nullptr;
        for (const auto& fact : a_.facts().readings) {
          if (fact.row.what == demand->reading) newest = &fact.row;  // in order of time
        }
        if (newest == nullptr) continue;
        const Instant when = newest->when + model::from_days(demand->max_age_hours / 24);
        const auto found = lapses.find(demand->reading);
        if (found != lapses.end() && found->second.when <= when) continue;
        lapses[demand->reading] = {when, demand->reading, a_.role_title(result.criterion->owner),
                                   from_file("reading", demand->reading, newest->from.source)};
      }
    }
    std::vector<Lapse> all;
    for (auto& [reading, lapse] : lapses) all.push_back(std::move(lapse));
    add_first("read again", std::move(all));
  }

  void gather_counts() {
    std::vector<Lapse> lapses;
    for (const auto& level : a_.now.levels) {
      const double oldest = level.item->count_every_hours.value_or(a_.evening.rules.margins.count_every_hours);
      for (const auto& place : level.places) {
        if (place.count == nullptr) continue;
        const auto& count = place.count->row;
        lapses.push_back({count.when + model::from_days(oldest / 24),
                          fmt::format("{} in {}", level.item->title, place.place->title),
                          level.item->by_hand ? "crew, by hand" : "whoever counts it",
                          from_file("count", model::format_utc(count.when), count.from.source)});
      }
    }
    add_first("count again", std::move(lapses));
  }

  void gather_supplies() {
    for (const auto& item : a_.now.margins) {
      if (!item.governing || !item.governing->lasts_to_a_time()) continue;
      const auto& plan = *item.level->item;
      if (const auto* through = a_.figures().find("item." + plan.id + ".through"))
        add(std::max(item.governing->through, cutoff_), "supply", plan.title + " falls to its reserve", nobody,
            {from_figure(*through)});
    }
  }

  void gather_returns() {
    for (const auto& home : a_.returns) {
      if (!home.latest_decision) continue;
      add(std::chrono::floor<std::chrono::minutes>(*home.latest_decision), "last decision", home.option->title,
          a_.mission().approved_by, {from_file("return option", home.option->title, home.option->source)});
    }
  }

  void enter() {
    constexpr std::size_t most = 16;
    Table table{"deadlines",
                "Deadlines in the coming shift",
                {{"when", "When", "", false, true},
                 {"what", "What", "", false, true},
                 {"about", "About", "", false, true},
                 {"who", "Who", "", false, true}},
                {},
                most};
    auto& figures = a_.figures();
    model::Trace counted{"rows of the table of deadlines",
                         {from_file("shift", model::format_utc(end_), a_.evening.day.source)}};
    for (const auto& deadline : all_) {
      const std::string id = fmt::format("handover.deadline.{}.", table.rows.size() + 1);
      const auto entry = [&](const char* name, const char* title) {
        return Entry{
            id + name, title, {"what has a time up to the end of the shift, in order of time", deadline.rests_on}, {}};
      };
      table.rows.push_back({Cell::of(figures.instant(entry("when", "when"), deadline.when)),
                            Cell::of(figures.words(entry("what", "what"), deadline.what)),
                            Cell::of(figures.words(entry("about", "about"), deadline.about)),
                            Cell::of(figures.words(entry("who", "who"), deadline.who))});
      counted.inputs.push_back(from_figure(figures.at(id + "when")));
    }
    figures.count({"handover.deadlines", "deadlines", counted, {}}, all_.size());
    figures.count({"handover.overdue", "of them overdue", std::move(counted), {}}, overdue_);
    a_.status.tables.push_back(std::move(table));
  }

  Assembly& a_;
  Instant cutoff_;
  Instant end_;
  std::vector<Deadline> all_;
  std::size_t overdue_ = 0;
};

/// Titles of the gates to come of which a criterion of this kind asks for what is looked for.
template <class Demand, class Asks>
std::string gates_that_ask(const Assembly& a, const Asks& asks) {
  std::string titles;
  for (const auto& gate : a.now.gates) {
    const bool is_coming = model::find_by_id(a.mission().events, gate.gate->event)->at > a.evening.cutoff;
    const bool asks_for_it = std::any_of(gate.criteria.begin(), gate.criteria.end(), [&](const auto& result) {
      const auto* demand = std::get_if<Demand>(&result.criterion->demand);
      return demand != nullptr && asks(*demand);
    });
    if (is_coming && asks_for_it) titles += (titles.empty() ? "" : ", ") + gate.gate->title;
  }
  return titles.empty() ? "none" : titles;
}

bool holds(const std::vector<std::string>& list, const std::string& text) {
  return std::find(list.begin(), list.end(), text) != list.end();
}

/// The table of the status with this name. Requires that it is there.
Table& table_of(Assembly& a, std::string_view name) {
  return *std::find_if(a.status.tables.begin(), a.status.tables.end(),
                       [&](const auto& table) { return table.name == name; });
}

/// Open findings get the title of their zone and the gates that ask for it.
void complete_findings(Assembly& a) {
  Table& table = table_of(a, "findings");
  table.title = "Findings under analysis";
  table.columns[3].in_brief = false;
  table.columns.push_back({"gates", "Gates", "", false, true});
  for (auto& row : table.rows) {
    const auto& zone = a.figures().at(row[1].figure);
    const std::string id = row[1].figure;
    const auto* declared = model::find_by_id(a.mission().zones, zone.text);
    const std::string gates = gates_that_ask<model::ZonesCriterion>(
        a, [&](const model::ZonesCriterion& demand) { return holds(demand.zones, zone.text); });
    const model::Trace trace{"gates to come that ask for the zone", {from_figure(zone)}};
    if (declared != nullptr) row[1] = a.quote(id + ".title", "zone", declared->title, declared->source);
    row.push_back(Cell::of(a.figures().words({id + ".gates", "gates", trace, {}}, gates)));
  }
}

/// Units that do not work, or not fully, by their newest report or by one that disagrees with it; and those that
/// work in a way that a gate to come does not take for working.
void add_off_nominal(Assembly& a) {
  Table table{"off_nominal",
              "Equipment off nominal",
              {{"unit", "Unit", "", false, true},
               {"state", "State", "", false, true},
               {"since", "Since", "", false, true},
               {"gates", "Required for", "", false, true},
               {"remark", "Remark", "", false, true}},
              {},
              4};
  std::map<std::string, const model::Merged<model::EquipmentRow>*> newest;
  for (const auto& fact : a.facts().equipment) newest[fact.row.unit] = &fact;  // in order of time
  for (const auto& [unit, fact] : newest) {
    const auto& row = fact->row;
    const auto is_nominal = [&](const model::EquipmentRow& said) {
      const bool is_working = said.state == "working" || said.state == "standby";
      const auto refused = gates_that_ask<model::EquipmentCriterion>(a, [&](const model::EquipmentCriterion& demand) {
        return holds(demand.units, said.unit) && !holds(demand.works_in, said.state);
      });
      return is_working && refused == "none";
    };
    bool is_listed = !is_nominal(row);
    std::string state = row.state;
    for (const auto& rival : fact->rivals) {
      is_listed = is_listed || !is_nominal(rival);
      state += fmt::format("; another source: {}", rival.state);
    }
    if (!is_listed) continue;
    const std::string id = fmt::format("handover.equipment.{}.", a.figures().part("off nominal", unit));
    const auto* declared = model::find_by_id(a.mission().equipment, unit);
    const auto gates = gates_that_ask<model::EquipmentCriterion>(
        a, [&](const model::EquipmentCriterion& demand) { return holds(demand.units, unit); });
    const auto& source = row.from.source;
    table.rows.push_back({a.quote(id + "unit", "unit", declared == nullptr ? unit : declared->title, source),
                          a.quote(id + "state", "state", state, source),
                          a.quote(id + "since", "since", row.when, source),
                          a.quote(id + "gates", "required for", gates, source),
                          a.quote(id + "remark", "remark", row.from.remark, source)});
  }
  a.status.tables.push_back(std::move(table));
}

void add_stale_counts(Assembly& a) {
  Table table{
      "stale_counts",
      "Stale counts",
      {{"count", "Count", "", false, true}, {"last", "Last counted", "", false, true}, {"who", "Who", "", false, true}},
      {},
      4};
  for (const auto& [level, place] : find_counts_wanted(a)) {
    const std::string id = fmt::format("handover.count.{}.", table.rows.size() + 1);
    const auto source = place->count == nullptr ? level->item->source : place->count->row.from.source;
    table.rows.push_back(
        {a.quote(id + "of", "count", fmt::format("{} in {}", level->item->title, place->place->title), source),
         place->count == nullptr ? Cell::say("never")
                                 : a.quote(id + "last", "last counted", place->count->row.when, source),
         a.quote(id + "who", "who", level->item->by_hand ? "crew, by hand" : "whoever counts it", source)});
  }
  a.status.tables.push_back(std::move(table));
}

/// Open actions that are no deadline of the shift.
void keep_other_actions(Assembly& a, Instant end) {
  Table& table = table_of(a, "actions");
  table.title = "Other open actions";
  std::erase_if(table.rows, [&](const auto& row) {
    const auto* due = std::get_if<Instant>(&a.figures().at(row[3].figure).value);
    return due != nullptr && *due <= end;
  });
}

/// What is wanted first comes first, what has no time last.
void sort_by_time(const Assembly& a, Table& table, std::size_t column) {
  const auto time_of = [&](const std::vector<Cell>& row) {
    const auto* when = std::get_if<Instant>(&a.figures().at(row[column].figure).value);
    return when == nullptr ? Instant::max() : *when;
  };
  std::stable_sort(table.rows.begin(), table.rows.end(),
                   [&](const auto& x, const auto& y) { return time_of(x) < time_of(y); });
}

/// Why a table may lack something, where its logs are not whole.
void say_what_is_unsure(const Assembly& a, const std::string& table, std::initializer_list<Log> logs) {
  std::vector<Doubt> doubts;
  for (const Log log : logs) {
    for (auto& doubt : doubts_about(a.facts(), log, {})) doubts.push_back(std::move(doubt));
  }
  if (doubts.empty()) return;
  model::Trace trace{"days on which its logs were not closed, and rows that can't be used", {}};
  add_to_trace(doubts, trace);
  const std::string more = doubts.size() == 1 ? "" : fmt::format(", and {} more", doubts.size() - 1);
  (void)a.figures().words({"handover.unsure." + table, table + ", why it may lack something", std::move(trace), {}},
                          doubts.front().text + more);
}

/// One page has no room for all rows; the brief, or its workbook, has them.
void cut_for_one_page(Assembly& a) {
  constexpr std::size_t most = 4;
  for (const char* name : {"conditions", "waivers_in_force"}) table_of(a, name).brief_rows = most;
  for (auto& table : a.status.tables) table.whole_in = "the brief";
  table_of(a, "deadlines").whole_in = "the brief and the plan";
  table_of(a, "anomalies").columns[2].in_brief = false;    // what is open counts, and not since when
  table_of(a, "actions").columns.back().in_brief = false;  // none of them is overdue
}

}  // namespace

model::DayStatus compute_handover(const Evening& evening, model::Duration shift, const Issue& issue) {
  Evaluation now = evaluate(evening, Fitting::if_asked);
  Assembly a{evening, now, {}, judge_returns(evening, now.levels, now.tasks, now.figures), nullptr, nullptr, issue, {}};
  a.status.files = issue.files;
  add_gates(a);
  add_people(a);
  add_quality(a);
  add_mission(a);
  add_supplies(a);
  const Instant end = evening.cutoff + shift;
  (void)a.figures().instant({"handover.until",
                             "end of the shift",
                             {"cut-off and the length of the shift",
                              {from_file("cut-off", model::format_utc(evening.cutoff), evening.day.cutoff_source)}},
                             {}},
                            end);
  (void)a.quote("handover.day", "day", evening.day.number, "", 1, evening.day.source);
  Deadlines(a, end).add_table();
  complete_findings(a);
  add_off_nominal(a);
  add_stale_counts(a);
  keep_other_actions(a, end);
  sort_by_time(a, table_of(a, "actions"), 3);
  sort_by_time(a, table_of(a, "needs"), 2);
  say_what_is_unsure(a, "deadlines",
                     {Log::decisions, Log::actions, Log::transfers, Log::statements, Log::surveys, Log::clearances,
                      Log::readings, Log::counts});
  say_what_is_unsure(a, "conditions", {Log::decisions, Log::clearances});
  say_what_is_unsure(a, "waivers_in_force", {Log::decisions});
  say_what_is_unsure(a, "actions", {Log::actions});
  say_what_is_unsure(a, "stale_counts", {Log::counts});
  say_what_is_unsure(a, "findings", {Log::findings});
  say_what_is_unsure(a, "off_nominal", {Log::equipment});
  say_what_is_unsure(a, "anomalies", {Log::anomalies});
  cut_for_one_page(a);
  count_hidden_rows(a);
  a.status.figures = now.figures.take();
  return std::move(a.status);
}

}  // namespace daywright::rules
