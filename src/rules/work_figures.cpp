#include "rules/work_figures.h"

#include <fmt/format.h>

#include "rules/evidence.h"
#include "rules/pace.h"

namespace daywright::rules {
namespace {

class WorkEntries {
 public:
  WorkEntries(const model::Mission& mission, const model::Facts& facts, const std::vector<TaskStatus>& tasks,
              const model::Day& today, FigureBook& figures)
      : mission_(mission),
        facts_(facts),
        tasks_(tasks),
        today_(today),
        figures_(figures),
        doubts_(texts_of(doubts_about_work(facts, tasks))) {}

  void enter() {
    enter_days("work.today.", "Today", today_.number);
    enter_days("work.to_date.", "To date", 1);
    enter_sum("work.get_aheads.", "Get-aheads", sum_get_aheads(tasks_),
              [](const model::PlanRow& row) { return row.get_ahead; });
    enter_carry_over();
    enter_pace();
  }

 private:
  void add_task(const TaskStatus& task, model::Trace& trace) const {
    const auto& row = task.plan->row;
    const model::Source source = task.latest != nullptr ? task.latest->row.from.source : row.from.source;
    trace.inputs.push_back(
        from_file("task " + row.task, fmt::format("{:g} % of {:g} min", task.percent, task.planned_minutes()), source));
  }

  template <class IsAsked>
  void enter_sum(const std::string& id, const std::string& title, const WorkSum& sum, const IsAsked& is_asked) {
    model::Trace trace{"sum over these tasks; done minutes are planned minutes by percentage done",
                       {from_file("day", title, today_.source)}};
    for (const TaskStatus& task : tasks_) {
      if (is_asked(task.plan->row)) add_task(task, trace);
    }
    const auto entry = [&](const std::string& name, const std::string& words) {
      return Entry{id + name, title + ", " + words, trace, doubts_};
    };
    figures_.count(entry("planned.tasks", "tasks planned"), sum.planned_tasks);
    figures_.count(entry("done.tasks", "tasks done"), sum.done_tasks);
    figures_.number(entry("planned.minutes", "crew time planned"), sum.planned_minutes, "min", 1, model::Rounding::up);
    figures_.number(entry("done.minutes", "crew time of what was done"), sum.done_minutes, "min", 1,
                    model::Rounding::down);
  }

  void enter_days(const std::string& id, const std::string& title, int first) {
    enter_sum(id, title, sum_work(tasks_, first, today_.number), [&](const model::PlanRow& row) {
      return !row.get_ahead && row.day >= first && row.day <= today_.number;
    });
  }

  void enter_carry_over() {
    model::Trace trace{"tasks planned up to this day that are not done",
                       {from_file("day", mission_.words.day, today_.source)}};
    const auto open = find_carry_over(tasks_, today_.number);
    for (const TaskStatus* task : open) add_task(*task, trace);
    figures_.count({"work.carried_over", "tasks carried over", std::move(trace), doubts_}, open.size());
  }

  void enter_pace() {
    const auto days = days_of_work(mission_, facts_, tasks_, today_.number);
    model::Trace trace{"crew time achieved on a day over crew time planned for it, mean of the days", {}};
    for (const auto& day : days) {
      trace.inputs.push_back(from_file(fmt::format("{} {}", mission_.words.day, day.day),
                                       fmt::format("{:.0f} of {:.0f} min", day.achieved, day.planned), today_.source));
    }
    trace.inputs.push_back(from_file("day", mission_.words.day, today_.source));
    const auto pace = pace_of(days);
    const auto in_percent = [&](double Pace::* part) {
      return pace ? std::optional(100 * (*pace).*part) : std::nullopt;
    };
    const auto enter = [&](const char* id, const char* title, double Pace::* part, model::Rounding rounding) {
      figures_.number({id, title, trace, doubts_}, in_percent(part), "%", 1, rounding);
    };
    enter("work.pace", "crew time done of crew time planned, a day", &Pace::mean, model::Rounding::nearest);
    trace.formula = "one more day, between the two in nine cases of ten: mean -+ t x deviation x root (1 + 1/days)";
    enter("work.pace.low", "the same on the next day, at the least", &Pace::low, model::Rounding::down);
    enter("work.pace.high", "the same on the next day, at the most", &Pace::high, model::Rounding::up);
  }

  const model::Mission& mission_;
  const model::Facts& facts_;
  const std::vector<TaskStatus>& tasks_;
  const model::Day& today_;
  FigureBook& figures_;
  std::vector<std::string> doubts_;
};

}  // namespace

void enter_work(const model::Mission& mission, const model::Facts& facts, const std::vector<TaskStatus>& tasks,
                const model::Day& today, FigureBook& figures) {
  WorkEntries(mission, facts, tasks, today, figures).enter();
}

void enter_fit(const model::Mission& mission, const model::Facts& facts, const std::vector<TaskStatus>& tasks,
               const WorkFit& fit, const model::Day& today, FigureBook& figures) {
  std::vector<std::string> doubts = texts_of(doubts_about_work(facts, tasks));
  if (fit.days.empty()) doubts.emplace_back("the plan gives no working hours");
  const auto enter = [&](const std::string& id, const std::string& title, const std::string* gate) {
    double left_out = 0;
    double minutes = 0;
    model::Trace trace{
        "tasks not done that have no room in the working hours of their persons, before their gate's poll",
        {from_file("working hours", mission.words.day, today.source)}};
    for (const TaskFit& task : fit.tasks) {
      const auto& row = task.task->plan->row;
      if (task.start || (gate != nullptr && row.gate != *gate)) continue;
      ++left_out;
      minutes += task.minutes * static_cast<double>(row.crew.size());
      trace.inputs.push_back(
          from_file("task " + row.task, fmt::format("{:g} min left", task.minutes), row.from.source));
    }
    const auto known = [&](double value) { return fit.days.empty() ? std::nullopt : std::optional(value); };
    figures.number({id + "tasks", title + ", tasks without room", trace, doubts}, known(left_out), "", 1,
                   model::Rounding::up);
    figures.number({id + "minutes", title + ", crew time without room", trace, doubts}, known(minutes), "min", 1,
                   model::Rounding::up);
  };
  enter("work.unfit.", "All work left", nullptr);
  for (const auto& gate : mission.gates) enter("work.unfit." + gate.id + ".", gate.title, &gate.id);
}

}  // namespace daywright::rules
