// What the note to the crew can say: times as they are spoken, what is asked of those aboard, what was decided.
// Tables: crew_supplies, crew_unsure, crew_work, crew_asks, crew_overdue, crew_to_decide, crew_decided, crew_moved,
// crew_gates.
//
// It is read up by voice over a loop that others hear: no verdict, nothing medical, nobody by name who is late.

#include <algorithm>
#include <array>
#include <set>

#include <fmt/format.h>

#include "rules/assembly.h"
#include "rules/decisions.h"
#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Table;

std::string spoken_day(model::Instant when, const model::Mission& mission) {
  return fmt::format("{} {}", mission.words.day, mission.flight_days.number_at(when));
}

/// "FD 9, MET 7 days 14 hours 30": a time as it is said, to the minute.
std::string spoken(model::Instant when, const model::Mission& mission) {
  const auto minutes = std::chrono::floor<std::chrono::minutes>(when - mission.launch).count();
  constexpr std::int64_t hour = 60;
  constexpr std::int64_t day = 24 * hour;
  const auto plural = [](std::int64_t n, const char* word) {
    return fmt::format("{} {}{}", n, word, n == 1 ? "" : "s");
  };
  std::string text = fmt::format("{} {}, {} {}", mission.words.day, mission.flight_days.number_at(when),
                                 mission.words.elapsed, plural(minutes / day, "day"));
  if (minutes % day != 0) text += " " + plural(minutes % day / hour, "hour");
  if (minutes % hour != 0) text += fmt::format(" {}", minutes % hour);
  return text;
}

/// "A; B; and 3 more".
std::string listed(const std::vector<std::string>& things, std::size_t most) {
  std::string text;
  for (std::size_t i = 0; i < std::min(most, things.size()); ++i) text += (i == 0 ? "" : "; ") + things[i];
  if (things.size() > most) text += fmt::format("; and {} more", things.size() - most);
  return text;
}

std::string in_words(std::string text) {
  std::replace(text.begin(), text.end(), '_', ' ');
  return text;
}

bool is_same_name(const std::string& a, const std::string& b) {
  const auto small = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; };
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [&](char x, char y) { return small(x) == small(y); });
}

class CrewNote {
 public:
  explicit CrewNote(Assembly& a)
      : a_(a), since_(a.evening_before != nullptr ? a.evening_before->cutoff : a.mission().launch) {
    for (const auto& criterion : a.evening.rules.criteria) {
      const auto* demand = std::get_if<model::TasksCriterion>(&criterion.demand);
      if (demand == nullptr || !is_medical(criterion.owner)) continue;
      medical_tasks_.insert(demand->tasks.begin(), demand->tasks.end());
      for (const auto& fact : a.facts().plan) {
        if (demand->tasks.empty() && fact.row.gate == criterion.gate) medical_tasks_.insert(fact.row.task);
      }
    }
  }

  void add() {
    say_time("note.landing", "end as planned, spoken", a_.mission().landing(),
             a_.mission().landing_days.front().source);
    add_supplies();
    add_work();
    add_asks();
    add_decisions();
    add_moved();
    add_gates();
  }

 private:
  // -- words and times, each a figure

  Cell say(std::string id, std::string title, std::string text, model::Trace trace) {
    return Cell::of(a_.figures().words({std::move(id), std::move(title), std::move(trace), {}}, std::move(text)));
  }
  Cell say_time(std::string id, std::string title, model::Instant when, model::Source source) {
    model::Trace trace{"the time as it is spoken, to the minute",
                       {from_file("time", format_instant(when, a_.mission()), source)}};
    return say(std::move(id), std::move(title), spoken(when, a_.mission()), std::move(trace));
  }
  Cell say_day(std::string id, std::string title, model::Instant when, model::Source source) {
    model::Trace trace{"the day that the time lies in",
                       {from_file("time", format_instant(when, a_.mission()), source)}};
    return say(std::move(id), std::move(title), spoken_day(when, a_.mission()), std::move(trace));
  }
  void add_table(std::string name, std::string title, const std::vector<const char*>& keys,
                 std::vector<std::vector<Cell>> rows) {
    Table table{std::move(name), std::move(title), {}, std::move(rows), 0};
    for (const char* key : keys) table.columns.push_back({key, key, "", false, true});
    a_.status.tables.push_back(std::move(table));
  }
  /// A table of one row with all of it in words, or of none where there is nothing.
  void add_listed(const std::string& name, const std::string& title, const std::vector<std::string>& things,
                  std::size_t most, model::Trace trace) {
    std::vector<std::vector<Cell>> rows;
    if (!things.empty()) rows.push_back({say("note." + name, title, listed(things, most), std::move(trace))});
    add_table("crew_" + name, title, {"what"}, std::move(rows));
  }

  // -- who may hear what

  /// What such a role owns, states or asks for tells how somebody is.
  [[nodiscard]] bool is_medical(const std::string& role) const {
    const auto& rules = a_.evening.rules;
    const auto is_named = [&](const model::Role& r) { return is_same_name(r.id, role) || is_same_name(r.title, role); };
    const auto found = std::find_if(rules.roles.begin(), rules.roles.end(), is_named);
    if (found == rules.roles.end()) return false;
    return found->is_medical || std::any_of(rules.criteria.begin(), rules.criteria.end(), [&](const auto& criterion) {
             return criterion.owner == found->id && std::holds_alternative<model::RestCriterion>(criterion.demand);
           });
  }
  [[nodiscard]] bool is_medical(const model::Criterion& criterion) const {
    const auto* statement = std::get_if<model::StatementCriterion>(&criterion.demand);
    return is_medical(criterion.owner) || std::holds_alternative<model::RestCriterion>(criterion.demand) ||
           (statement != nullptr && is_medical(statement->position));
  }
  [[nodiscard]] bool is_aboard(const model::Person& person) const {
    const std::string* where = vehicle_of(person, a_.evening.cutoff);
    return where != nullptr && *where == a_.mission().vehicle;
  }
  /// Who of those aboard is meant by what a log calls them; empty: nobody.
  [[nodiscard]] std::string title_aboard(const std::string& name) const {
    if (is_same_name(name, "crew") || is_same_name(name, "the crew")) return "All of you";
    for (const auto& person : a_.mission().persons) {
      if (is_aboard(person) && (is_same_name(name, person.id) || is_same_name(name, person.title))) return person.title;
    }
    return {};
  }
  /// Work for those aboard; a task that names nobody may be.
  [[nodiscard]] bool is_for_crew(const model::PlanRow& row) const {
    const bool is_theirs =
        row.crew.empty() || std::any_of(row.crew.begin(), row.crew.end(), [&](const std::string& id) {
          const auto* person = model::find_by_id(a_.mission().persons, id);
          return person != nullptr && is_aboard(*person);
        });
    return is_theirs && !medical_tasks_.contains(row.task);
  }

  // -- the sentences' matter

  void add_supplies() {
    std::vector<std::string> unsure;
    bool is_short = false;
    for (const ItemMargins& item : a_.now.margins) {
      if (!item.governing || !item.level->doubts.empty()) unsure.push_back(item.level->item->title);
      is_short = is_short || (item.governing && !item.governing->is_covered());
    }
    const model::Trace trace{"the margins of all items", {from_figure(a_.figures().at("supplies.through"))}};
    std::vector<std::vector<Cell>> rows;
    if (const auto* through = std::get_if<model::Instant>(&a_.figures().at("supplies.through").value)) {
      const char* standing = is_short         ? "not long enough"
                             : unsure.empty() ? "long enough"
                                              : "long enough as far as we know";
      rows.push_back({say("note.supplies.through", "supplies through, spoken", spoken(*through, a_.mission()), trace),
                      say_time("note.supplies.needed", "supplies needed through, spoken", a_.mission().required_end(),
                               a_.mission().landing_days.back().source),
                      say("note.supplies.standing", "how supplies stand", standing, trace)});
    }
    add_table("crew_supplies", "Supplies, for the crew", {"through", "needed", "standing"}, std::move(rows));
    constexpr std::size_t most = 3;
    add_listed("unsure", "Supplies that are not sure", unsure, most,
               {"items without a sound margin", {from_figure(a_.figures().at("supplies.without_margin"))}});
  }

  void add_work() {
    const int next = a_.evening.day.number + 1;
    std::vector<std::string> titles;
    model::Trace trace{"what is planned for the next day and not done, the more important first",
                       {from_file("day", a_.mission().words.day, a_.evening.day.source)}};
    for (const TaskStatus& task : a_.now.tasks) {
      const auto& row = task.plan->row;
      if (row.day != next || row.get_ahead || task.is_done() || !is_for_crew(row)) continue;
      titles.push_back(row.title);
      trace.inputs.push_back(from_file("task " + row.task, row.title, row.from.source));
    }
    (void)say("note.next_day", "next day", fmt::format("{} {}", a_.mission().words.day, next),
              {"the day of the brief and one", {trace.inputs.front()}});
    constexpr std::size_t most = 2;
    add_listed("work", "Main work of the next day", titles, most, std::move(trace));
  }

  struct Ask {
    std::string who;
    std::string what;
    std::optional<model::Instant> by;
    model::Source source;
  };

  [[nodiscard]] std::vector<Ask> find_asks() const {
    std::vector<Ask> asks;
    for (const auto& fact : a_.facts().actions) {
      const auto& row = fact.row;
      const std::string who = title_aboard(row.asked_of);
      if (row.state != model::ActionState::open || who.empty() || is_medical(row.asked_by)) continue;
      asks.push_back({who, row.text, row.due ? row.due : next_poll(a_), row.from.source});
    }
    for (const auto& count : find_counts_wanted(a_)) {
      const auto& item = *count.level->item;
      if (!item.by_hand) continue;
      asks.push_back({"Any of you", fmt::format("count {} in {}", item.title, count.place->place->title), next_poll(a_),
                      item.source});
    }
    std::stable_sort(asks.begin(), asks.end(),
                     [](const Ask& x, const Ask& y) { return x.by && (!y.by || *x.by < *y.by); });
    return asks;
  }

  void add_asks() {
    std::vector<std::vector<Cell>> open;
    std::vector<std::vector<Cell>> overdue;
    std::size_t number = 0;
    for (const Ask& ask : find_asks()) {
      const std::string id = fmt::format("note.ask.{}.", ++number);
      const Cell what = a_.quote(id + "what", "asked of the crew", ask.what, ask.source);
      const Cell by =
          ask.by ? say_time(id + "by", "wanted by, spoken", *ask.by, ask.source) : Cell::say("tomorrow evening");
      if (ask.by && *ask.by < a_.evening.cutoff) {
        overdue.push_back({what, by});
      } else {
        open.push_back({a_.quote(id + "who", "asked of", ask.who, ask.source), what, by});
      }
    }
    add_table("crew_asks", "Asked of the crew", {"who", "what", "by"}, std::move(open));
    add_table("crew_overdue", "Asked of the crew, overdue", {"what", "by"}, std::move(overdue));
  }

  /// What a decision speaks of, with titles in place of the names that only the logs use.
  [[nodiscard]] std::string describe(const model::DecisionRow& row) const {
    if (const std::string change = describe_change(a_.mission(), row.change); !change.empty()) return change;
    if (row.changes.empty()) {
      const auto* waived = model::find_by_id(a_.evening.rules.criteria, row.waiver.criterion);
      return "waiver of " + (waived == nullptr ? row.waiver.criterion : waived->title);
    }
    // What changes "the plan" says all in its value.
    const std::string text = row.value.empty()       ? row.changes
                             : row.changes == "plan" ? row.value
                                                     : row.changes + ": " + row.value;
    std::string result;
    for (std::size_t begin = 0; begin <= text.size();) {
      const std::size_t end = std::min(text.find_first_of(" :,;", begin), text.size());
      result += title_of(text.substr(begin, end - begin));
      if (end < text.size()) result += text[end];
      begin = end + 1;
    }
    return in_words(result);
  }
  [[nodiscard]] std::string title_of(const std::string& name) const {
    for (const auto& fact : a_.facts().plan) {
      if (fact.row.task == name) return fact.row.title;
    }
    for (const auto& fact : a_.facts().transfers) {
      if (fact.row.transfer != name) continue;
      const auto* place = model::find_by_id(a_.mission().places, fact.row.to_place);
      return fmt::format("of {} {}", model::find_by_id(a_.mission().items, fact.row.item)->title,
                         place == nullptr ? "out" : "to " + place->title);
    }
    return name;
  }

  void add_decisions() {
    std::vector<std::vector<Cell>> open;
    std::vector<std::vector<Cell>> taken;
    for (const auto& fact : a_.facts().decisions) {
      const auto& row = fact.row;
      const auto* waived = model::find_by_id(a_.evening.rules.criteria, row.waiver.criterion);
      if (is_medical(row.authority) || (waived != nullptr && is_medical(*waived))) continue;
      const std::string id = fmt::format("note.decision.{}.", a_.figures().part("decision", row.decision));
      const auto what = [&] { return a_.quote(id + "what", "decision, spoken", describe(row), row.from.source); };
      const bool is_lapsed = row.expires && *row.expires < a_.evening.cutoff;
      if (row.state == model::DecisionState::proposed && !is_lapsed) {
        const Cell by = row.expires ? say_time(id + "by", "decide by, spoken", *row.expires, row.from.source)
                                    : Cell::say("tonight");
        open.push_back({what(), by});
      }
      const bool is_approved = row.state == model::DecisionState::approved;
      if ((is_approved || row.state == model::DecisionState::refused) && row.from.recorded > since_)
        taken.push_back({what(), Cell::say(is_approved ? "Approved" : "Refused")});
    }
    add_table("crew_to_decide", "To decide, for the crew", {"what", "by"}, std::move(open));
    add_table("crew_decided", "Decided, for the crew", {"what", "state"}, std::move(taken));
  }

  void add_moved() {
    std::vector<std::string> moved;
    model::Trace trace{"transfers done that were written down since the last brief", {}};
    for (const auto& fact : a_.facts().transfers) {
      const auto& row = fact.row;
      if (row.state != model::TransferState::done || row.from.recorded <= since_) continue;
      const auto& item = *model::find_by_id(a_.mission().items, row.item);
      const double quantity = model::round_to(row.quantity, item.step, model::Rounding::nearest);
      const auto* place = model::find_by_id(a_.mission().places, row.to_place);
      moved.push_back(fmt::format("{}, {} {}, {}", item.title, model::format_number(quantity, item.step),
                                  item.unit->spelling, place == nullptr ? "out" : "to " + place->title));
      trace.inputs.push_back(from_file("transfer " + row.transfer, moved.back(), row.from.source));
    }
    constexpr std::size_t most = 2;
    add_listed("moved", "Moved, for the crew", moved, most, std::move(trace));
  }

  /// What is not done aboard for a gate, and whether the logs of it are whole.
  struct Open {
    std::vector<std::string> things;
    bool is_sure = true;
    model::Trace trace;
  };

  [[nodiscard]] Open find_open(const GateResult& gate) const {
    Open open;
    open.is_sure = doubts_about_work(a_.facts(), a_.now.tasks).empty();
    open.trace = {"tasks and close-outs of the gate that are not done", {}};
    std::set<std::string> tasks;
    std::vector<std::string> closeouts;
    for (const auto& result : gate.criteria) {
      const auto* of_tasks = std::get_if<model::TasksCriterion>(&result.criterion->demand);
      const auto* of_closeouts = std::get_if<model::CloseoutsCriterion>(&result.criterion->demand);
      if ((of_tasks == nullptr && of_closeouts == nullptr) || is_medical(*result.criterion)) continue;
      const std::string verdict = fmt::format("gate.{}.{}.verdict", gate.gate->id, result.criterion->id);
      open.trace.inputs.push_back(from_figure(a_.figures().at(verdict)));
      open.is_sure = open.is_sure && result.lacking.empty();
      if (of_tasks != nullptr) tasks.insert(of_tasks->tasks.begin(), of_tasks->tasks.end());
      if (of_closeouts != nullptr)
        closeouts.insert(closeouts.end(), of_closeouts->closeouts.begin(), of_closeouts->closeouts.end());
    }
    for (const TaskStatus& task : a_.now.tasks) {
      const auto& row = task.plan->row;
      const bool is_asked = row.gate == gate.gate->id || tasks.contains(row.task);
      if (!is_asked || row.get_ahead || task.is_done() || !is_for_crew(row)) continue;
      open.things.push_back(row.title);
      open.trace.inputs.push_back(from_file("task " + row.task, row.title, row.from.source));
    }
    for (const auto& name : closeouts) add_closeout(name, open);
    open.trace.inputs.push_back(from_file("gate", gate.gate->title, gate.gate->source));
    return open;
  }
  void add_closeout(const std::string& name, Open& open) const {
    const model::CloseoutRow* latest = nullptr;
    for (const auto& fact : a_.facts().closeouts) {
      if (fact.row.closeout == name) latest = &fact.row;  // in order of time
    }
    if (latest != nullptr && latest->done >= latest->of) return;
    open.things.push_back("close-out " + in_words(name));
    if (latest == nullptr) return;
    const std::string done = fmt::format("{:g} of {:g}", latest->done, latest->of);
    open.trace.inputs.push_back(from_file("close-out " + name, done, latest->from.source));
  }

  /// The next gate with the time of its poll, later ones with the day: nobody notes down four times by ear.
  void add_gates() {
    std::vector<std::vector<Cell>> rows;
    for (const GateResult& gate : a_.now.gates) {
      if (model::find_by_id(a_.mission().events, gate.gate->event)->at <= a_.evening.cutoff) continue;
      Open open = find_open(gate);
      constexpr std::size_t most = 1;
      const std::string words = !open.things.empty() ? "open aboard: " + listed(open.things, most)
                                : open.is_sure       ? "by our logs nothing is open aboard"
                                                     : "what is open aboard we can't tell";
      const std::string id = "note.gate." + gate.gate->id + ".";
      rows.push_back(
          {Cell::of("gate." + gate.gate->id + ".title"),
           rows.empty()
               ? say_time(id + "poll", gate.gate->title + ", poll, spoken", gate.gate->poll, gate.gate->source)
               : say_day(id + "poll", gate.gate->title + ", day of the poll", gate.gate->poll, gate.gate->source),
           say(id + "open", gate.gate->title + ", open aboard", words, std::move(open.trace))});
    }
    add_table("crew_gates", "Gates, for the crew", {"gate", "poll", "open"}, std::move(rows));
  }

  Assembly& a_;
  model::Instant since_;
  std::set<std::string> medical_tasks_;
};

}  // namespace

void add_crew_note(Assembly& a) { CrewNote(a).add(); }

}  // namespace daywright::rules
