#include "rules/work_fit.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "rules/fit.h"

namespace daywright::rules {
namespace {

using model::Instant;

class Fitter {
 public:
  Fitter(const model::Mission& mission, const std::vector<TaskStatus>& tasks, Instant cutoff)
      : mission_(mission), tasks_(tasks), cutoff_(cutoff), end_(minute_of(end_of_last_day())) {}

  WorkFit run() {
    add_persons();
    if (result_.days.empty()) return std::move(result_);
    add_tasks();
    add_needs();
    const Fit fit = fit_activities(problem_, FitGoal::room);
    for (std::size_t i = 0; i < result_.tasks.size(); ++i) {
      if (fit.starts[i]) take(result_.tasks[i], *fit.starts[i]);
    }
    return std::move(result_);
  }

 private:
  [[nodiscard]] std::int64_t minute_of(Instant when) const {
    return std::chrono::floor<std::chrono::minutes>(when - cutoff_).count();
  }

  [[nodiscard]] const model::DayKind& kind_at(Instant when) const {
    const model::Phase* last = &mission_.phases.front();
    for (const auto& phase : mission_.phases) {
      if (phase.start <= when) last = &phase;
    }
    return *model::find_by_id(mission_.day_kinds, last->kind);
  }

  /// Some work comes after the landing, on the same day.
  [[nodiscard]] Instant end_of_last_day() const {
    return mission_.flight_days.start_of(mission_.flight_days.number_at(mission_.landing())) + model::day_length;
  }

  /// The working hours of a day that are left; a day that begins before the cut-off counts from the cut-off on.
  [[nodiscard]] std::optional<Window> window_of(int day) const {
    const Instant start = mission_.flight_days.start_of(day);
    const model::DayKind& kind = kind_at(start);
    const Instant from = start + model::from_days(kind.work_from_hours / 24);
    const std::int64_t begin = std::max<std::int64_t>(0, minute_of(from));
    const std::int64_t end = std::min(end_, minute_of(from + model::from_days(kind.work_hours / 24)));
    return begin < end ? std::optional(Window{begin, end, 1}) : std::nullopt;
  }

  void add_persons() {
    const int today = mission_.flight_days.number_at(cutoff_);
    const int last = mission_.flight_days.number_at(mission_.landing());
    for (const auto& person : mission_.persons) {
      resource_of_person_[person.id] = problem_.resources.size();
      problem_.resources.emplace_back();
    }
    for (int day = std::max(1, today); day <= last; ++day) {
      const auto window = window_of(day);
      if (!window) continue;
      for (const auto& person : mission_.persons) {
        problem_.resources[resource_of_person_[person.id]].windows.push_back(*window);
        result_.days.push_back({day, &person, static_cast<double>(window->end - window->begin), 0});
      }
    }
  }

  /// Something that is there from the day on, so that a task that takes it does not begin before.
  std::size_t from_day(int day) {
    const auto [found, is_new] = resource_of_day_.try_emplace(day, problem_.resources.size());
    if (is_new) {
      const std::int64_t begin = std::min(end_, minute_of(mission_.flight_days.start_of(day)));
      constexpr int everybody = 1'000'000;
      problem_.resources.push_back({{{begin, end_, everybody}}});
    }
    return found->second;
  }

  void add_tasks() {
    const int today = mission_.flight_days.number_at(cutoff_);
    for (const TaskStatus& task : tasks_) {
      const model::PlanRow& row = task.plan->row;
      if (task.is_done() || row.get_ahead || row.crew.empty()) continue;
      index_of_task_[row.task] = result_.tasks.size();
      FitActivity activity;
      activity.minutes = static_cast<std::int64_t>(std::ceil(row.minutes * (100 - task.percent) / 100));
      for (const auto& person : row.crew) activity.demands.push_back({resource_of_person_.at(person), 1});
      if (row.day > today) activity.demands.push_back({from_day(row.day), 1});
      activity.priority = rank_of(row);
      // A poll that is past leaves no room, as long as its event is still to come.
      const auto* gate = model::find_by_id(mission_.gates, row.gate);
      if (gate != nullptr && model::find_by_id(mission_.events, gate->event)->at > cutoff_)
        activity.due = minute_of(gate->poll);
      result_.tasks.push_back({&task, static_cast<double>(activity.minutes), std::nullopt});
      problem_.activities.push_back(std::move(activity));
    }
  }

  /// What is done already, or not in the plan, is waited for by nobody.
  void add_needs() {
    for (std::size_t i = 0; i < result_.tasks.size(); ++i) {
      for (const auto& need : result_.tasks[i].task->plan->row.needs) {
        const auto found = index_of_task_.find(need);
        if (found != index_of_task_.end()) problem_.activities[i].needs.push_back(found->second);
      }
    }
  }

  void take(TaskFit& task, std::int64_t start) {
    task.start = cutoff_ + std::chrono::minutes(start);
    const int day = mission_.flight_days.number_at(*task.start);
    for (CrewDay& here : result_.days) {
      const auto& crew = task.task->plan->row.crew;
      if (here.day == day && std::find(crew.begin(), crew.end(), here.person->id) != crew.end())
        here.given += task.minutes;
    }
  }

  const model::Mission& mission_;
  const std::vector<TaskStatus>& tasks_;
  Instant cutoff_;
  std::int64_t end_;
  FitProblem problem_;
  std::map<std::string, std::size_t> resource_of_person_;
  std::map<int, std::size_t> resource_of_day_;
  std::map<std::string, std::size_t> index_of_task_;
  WorkFit result_;
};

}  // namespace

WorkFit fit_work(const model::Mission& mission, const std::vector<TaskStatus>& tasks, Instant cutoff) {
  if (cutoff >= mission.landing()) return {};
  return Fitter(mission, tasks, cutoff).run();
}

}  // namespace daywright::rules
