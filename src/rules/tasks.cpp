// Tables: work, carry_over, next_day, unfit, crew_time, pace, room.

#include <algorithm>

#include <fmt/format.h>

#include "rules/assembly.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Table;

std::vector<model::Column> task_columns(const model::Mission& mission) {
  return {{"task", "Task", "", false, true},
          {"title", "What", "", false, true},
          {"day", "Planned " + mission.words.day, "", true, true},
          {"percent", "Done", "%", true, true},
          {"minutes", "Crew time", "min", true, true},
          {"gate", "Gate", "", false, true},
          {"state", "State", "", false, true},
          {"remark", "Remark", "", false, false}};
}

std::string state_words(const TaskStatus& task) {
  if (task.latest == nullptr) return "nothing logged";
  switch (task.latest->row.state) {
    case model::TaskState::started: return "started";
    case model::TaskState::partial: return "partly done";
    case model::TaskState::done: return "done";
    case model::TaskState::not_done: break;
  }
  return "not done";
}

std::vector<Cell> task_row(const Assembly& a, const TaskStatus& task) {
  const auto& plan = task.plan->row;
  const std::string id = fmt::format("task.{}.", a.figures().part("task", plan.task));
  const model::Source source = task.latest != nullptr ? task.latest->row.from.source : plan.from.source;
  if (!a.figures().has(id + "name")) {
    // A task may stand in more than one table; its figures are entered once.
    (void)a.quote(id + "name", "task", plan.task, plan.from.source);
    (void)a.quote(id + "title", "what", plan.title, plan.from.source);
    (void)a.quote(id + "day", "planned day", plan.day, "", 1, plan.from.source);
    (void)a.quote(id + "percent", "done", task.percent, "%", 1, source);
    model::Trace trace{"minutes per person x persons", {from_file("task", plan.title, plan.from.source)}};
    (void)a.figures().number({id + "minutes", "planned crew time", std::move(trace), {}}, task.planned_minutes(), "min",
                             1, model::Rounding::up);
    (void)a.quote(id + "gate", "gate", plan.gate.empty() ? "-" : a.gate_title(plan.gate), plan.from.source);
    (void)a.quote(id + "remark", "remark", task.latest != nullptr ? task.latest->row.from.remark : plan.from.remark,
                  source);
  }
  return {Cell::of(id + "name"),    Cell::of(id + "title"), Cell::of(id + "day"),         Cell::of(id + "percent"),
          Cell::of(id + "minutes"), Cell::of(id + "gate"),  Cell::say(state_words(task)), Cell::of(id + "remark")};
}

std::vector<Cell> sum_row(const std::string& id, const std::string& title) {
  return {Cell::say(title), Cell::of(id + "planned.tasks"), Cell::of(id + "done.tasks"),
          Cell::of(id + "planned.minutes"), Cell::of(id + "done.minutes")};
}

}  // namespace

void add_work(Assembly& a) {
  const int today = a.evening.day.number;
  Table sums{"work",
             "Work",
             {{"period", "Period", "", false, true},
              {"planned", "Tasks planned", "", true, true},
              {"done", "Tasks done", "", true, true},
              {"planned_minutes", "Crew time planned", "min", true, true},
              {"done_minutes", "Of it done", "min", true, true}},
             {},
             0};
  sums.rows = {sum_row("work.today.", "Today"), sum_row("work.to_date.", "To date"),
               sum_row("work.get_aheads.", "Get-aheads")};
  Table carried{"carry_over", "Carried over", task_columns(a.mission()), {}, 8};
  for (const TaskStatus* task : find_carry_over(a.now.tasks, today)) carried.rows.push_back(task_row(a, *task));
  Table next{"next_day", "Next day", task_columns(a.mission()), {}, 8};
  for (const TaskStatus& task : a.now.tasks) {
    if (task.plan->row.day == today + 1 && !task.plan->row.get_ahead && !task.is_done())
      next.rows.push_back(task_row(a, task));
  }
  Table unfit{"unfit",
              "Work without room",
              {{"task", "Task", "", false, true},
               {"title", "What", "", false, true},
               {"priority", "Priority", "", true, true},
               {"day", "Planned " + a.mission().words.day, "", true, true},
               {"minutes", "Left, each", "min", true, true},
               {"gate", "Gate", "", false, true}},
              {},
              5};
  std::vector<const TaskFit*> left_out;
  for (const TaskFit& fit : a.now.fit.tasks) {
    if (!fit.start) left_out.push_back(&fit);
  }
  std::stable_sort(left_out.begin(), left_out.end(), [](const TaskFit* x, const TaskFit* y) {
    return rank_of(x->task->plan->row) < rank_of(y->task->plan->row);
  });
  for (const TaskFit* fit : left_out) {
    const auto& row = fit->task->plan->row;
    const std::string id = fmt::format("unfit.{}.", unfit.rows.size() + 1);
    unfit.rows.push_back(
        {a.quote(id + "task", "task", row.task, row.from.source),
         a.quote(id + "title", "what", row.title, row.from.source),
         a.quote(id + "priority", "priority", row.priority, "", 1, row.from.source),
         a.quote(id + "day", "planned day", row.day, "", 1, row.from.source),
         a.quote(id + "minutes", "left to do, each", fit->minutes, "min", 1, row.from.source),
         a.quote(id + "gate", "gate", row.gate.empty() ? "-" : a.gate_title(row.gate), row.from.source)});
  }
  Table crew{"crew_time",
             "Crew time left",
             {{"day", a.mission().words.day, "", true, true},
              {"person", "Person", "", false, true},
              {"available", "Working hours left", "min", true, true},
              {"given", "Work that has room", "min", true, true}},
             {},
             0};
  for (const CrewDay& day : a.now.fit.days) {
    const std::string id = fmt::format("crew_time.{}.{}.", day.day, day.person->id);
    crew.rows.push_back({a.quote(id + "day", "day", day.day, "", 1, day.person->source),
                         a.quote(id + "person", "person", day.person->title, day.person->source),
                         a.quote(id + "available", "working hours left", day.available, "min", 1, day.person->source),
                         a.quote(id + "given", "work that has room", day.given, "min", 1, day.person->source)});
  }
  // One row where it is known and none where it is not, for what the brief says in words.
  Table pace{"pace",
             "Pace",
             {{"pace", "Done of planned", "", true, true},
              {"low", "At the least", "", true, true},
              {"high", "At the most", "", true, true}},
             {},
             0};
  if (std::holds_alternative<double>(a.figures().at("work.pace").value))
    pace.rows.push_back({Cell::of("work.pace"), Cell::of("work.pace.low"), Cell::of("work.pace.high")});
  Table room{
      "room", "Without room", {{"tasks", "Tasks", "", true, true}, {"minutes", "Crew time", "", true, true}}, {}, 0};
  if (!a.now.fit.days.empty()) room.rows.push_back({Cell::of("work.unfit.tasks"), Cell::of("work.unfit.minutes")});
  for (Table* table : {&sums, &carried, &next, &unfit, &crew, &pace, &room})
    a.status.tables.push_back(std::move(*table));
}

}  // namespace daywright::rules
