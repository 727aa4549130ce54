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

void add_sum(const Assembly& a, const std::string& id, const std::string& title, int first, int last, Table& table) {
  const WorkSum sum = sum_work(a.now.tasks, first, last);
  model::Trace trace{
      "tasks planned for these days, get-aheads left out; done minutes are planned minutes by percentage done", {}};
  trace.inputs.push_back(from_file("day", title, a.evening.day.source));
  for (const TaskStatus& task : a.now.tasks) {
    const auto& row = task.plan->row;
    if (row.get_ahead || row.day < first || row.day > last) continue;
    const model::Source source = task.latest != nullptr ? task.latest->row.from.source : row.from.source;
    trace.inputs.push_back(
        from_file("task " + row.task, fmt::format("{:g} % of {:g} min", task.percent, task.planned_minutes()), source));
  }
  std::vector<std::string> doubts;
  for (const auto log : {model::Log::plan, model::Log::tasks}) {
    for (const auto& text : texts_of(doubts_about(a.facts(), log, {}))) doubts.push_back(text);
  }
  auto& figures = a.figures();
  const auto entry = [&](const std::string& name, const std::string& words) {
    return Entry{id + name, title + ", " + words, trace, doubts};
  };
  constexpr double one = 1;
  table.rows.push_back({Cell::say(title),
                        Cell::of(figures.count(entry("planned.tasks", "tasks planned"), sum.planned_tasks)),
                        Cell::of(figures.count(entry("done.tasks", "tasks done"), sum.done_tasks)),
                        Cell::of(figures.number(entry("planned.minutes", "crew time planned"), sum.planned_minutes,
                                                "min", one, model::Rounding::up)),
                        Cell::of(figures.number(entry("done.minutes", "crew time of what was done"), sum.done_minutes,
                                                "min", one, model::Rounding::down))});
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
  add_sum(a, "work.today.", "Today", today, today, sums);
  add_sum(a, "work.to_date.", "To date", 1, today, sums);
  Table carried{"carry_over", "Carried over", task_columns(a.mission()), {}, 8};
  model::Trace trace{"tasks planned up to this day that are not done",
                     {from_file("day", a.mission().words.day, a.evening.day.source)}};
  for (const TaskStatus* task : find_carry_over(a.now.tasks, today)) {
    carried.rows.push_back(task_row(a, *task));
    trace.inputs.push_back(
        from_figure(a.figures().at(fmt::format("task.{}.percent", a.figures().part("task", task->plan->row.task)))));
  }
  a.figures().count({"work.carried_over", "tasks carried over", std::move(trace), {}}, carried.rows.size());
  Table next{"next_day", "Next day", task_columns(a.mission()), {}, 8};
  for (const TaskStatus& task : a.now.tasks) {
    if (task.plan->row.day == today + 1 && !task.plan->row.get_ahead && !task.is_done())
      next.rows.push_back(task_row(a, task));
  }
  for (Table* table : {&sums, &carried, &next}) a.status.tables.push_back(std::move(*table));
}

}  // namespace daywright::rules
