// Tables: work, carry_over, next_day.

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
  sums.rows = {sum_row("work.today.", "Today"), sum_row("work.to_date.", "To date")};
  Table carried{"carry_over", "Carried over", task_columns(a.mission()), {}, 8};
  for (const TaskStatus* task : find_carry_over(a.now.tasks, today)) carried.rows.push_back(task_row(a, *task));
  Table next{"next_day", "Next day", task_columns(a.mission()), {}, 8};
  for (const TaskStatus& task : a.now.tasks) {
    if (task.plan->row.day == today + 1 && !task.plan->row.get_ahead && !task.is_done())
      next.rows.push_back(task_row(a, task));
  }
  for (Table* table : {&sums, &carried, &next}) a.status.tables.push_back(std::move(*table));
}

}  // namespace daywright::rules
