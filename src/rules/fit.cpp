#include "rules/fit.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <optional>
#include <tuple>
#include <utility>

#include "rules/free_capacity.h"

namespace daywright::rules {
namespace {

// The search. Twice the passes take twice the time, a third off the gap to the optima of PSPLIB, and a quarter off the
// work that is needlessly left out in weeks with more to do than time; the other numbers matter less.
constexpr int passes = 1000;
constexpr int anew_every = 3;         // so many passes one begins at a rule and not at the best so far
constexpr double anew_spread = 0.5;   // of the whole order: how far an activity then moves back
constexpr double shaken_share = 0.5;  // of the whole order: the most that is shuffled of the best so far
constexpr double drawn_forward = 4;   // so many left-out activities at a time, on average

using Order = std::vector<std::size_t>;
using Starts = std::vector<std::optional<Minutes>>;

struct Demand {
  std::size_t resource = 0;
  std::int64_t amount = 0;
};

/// An activity as the search takes it.
struct Job {
  Minutes minutes = 0;
  Minutes due = never;
  std::vector<Demand> demands;  ///< one a resource, above 0
  Order needs;
  Order successors;
  std::size_t priority = 0;    ///< which of the priorities in use, the most important first
  std::size_t urgency = 0;     ///< the most important priority of it and of all that need it
  double weight = 0;           ///< minutes x amounts
  Minutes earliest_start = 0;  ///< if all resources were its own
  Minutes latest_end = 0;      ///< likewise, that all which needs it still fits
  bool is_sound = true;        ///< its numbers make sense
  bool can_fit = false;        ///< if all resources were its own
};

/// What is free of all resources, in one direction of time.
class Board {
 public:
  explicit Board(std::vector<FreeCapacity> all) : all_(std::move(all)), free_(all_) {}

  void clear() { free_ = all_; }

  /// The first start at or after `ready` that ends `job` by `due`.
  [[nodiscard]] std::optional<Minutes> find(const Job& job, Minutes ready, Minutes due) const {
    Minutes start = ready;
    for (bool has_moved = true; has_moved;) {
      if (job.minutes > due - start) return std::nullopt;
      has_moved = false;
      if (job.minutes == 0) break;
      for (const auto& demand : job.demands) {
        const auto found = free_[demand.resource].find(start, job.minutes, demand.amount);
        if (!found) return std::nullopt;
        has_moved = has_moved || *found > start;
        start = *found;
      }
    }
    return start;
  }

  void take(const Job& job, Minutes start) {
    if (job.minutes == 0) return;
    for (const auto& demand : job.demands) free_[demand.resource].take(start, start + job.minutes, demand.amount);
  }

 private:
  std::vector<FreeCapacity> all_;
  std::vector<FreeCapacity> free_;
};

/// Numbers that look as if drawn from 0 to 1, the same ones every time: what varies a search needs no chance. Knuth's
/// linear congruential sequence for MMIX (The Art of Computer Programming, volume 2, section 3.3.4, from memory).
class FixedSequence {
 public:
  [[nodiscard]] double next() {
    state_ = state_ * 6364136223846793005U + 1442695040888963407U;
    return static_cast<double>(state_ >> 11U) * 0x1p-53;
  }

 private:
  std::uint64_t state_ = 1;
};

struct Schedule {
  Fit fit;
  std::vector<double> left_out;  ///< weight by priority

  [[nodiscard]] auto cost() const { return std::tie(left_out, fit.end); }
};

std::vector<FreeCapacity> free_of(const std::vector<FitResource>& resources) {
  return {resources.begin(), resources.end()};
}

std::vector<FreeCapacity> mirrored(const std::vector<FreeCapacity>& forward) {
  std::vector<FreeCapacity> backward;
  for (const auto& free : forward) backward.push_back(free.mirrored());
  return backward;
}

Job read_job(const FitActivity& activity, std::size_t resources) {
  Job job;
  job.minutes = activity.minutes;
  job.needs = activity.needs;
  job.is_sound = activity.minutes >= 0;
  if (activity.due) job.due = std::clamp(*activity.due, -never, never);
  std::map<std::size_t, std::int64_t> amounts;
  for (const auto& demand : activity.demands) {
    if (demand.resource >= resources || demand.amount < 0)
      job.is_sound = false;
    else if (demand.amount > 0)
      amounts[demand.resource] += demand.amount;
  }
  std::int64_t total = 0;
  for (const auto& [resource, amount] : amounts) {
    job.demands.push_back({resource, amount});
    total += amount;
  }
  job.weight =
      static_cast<double>(std::max<Minutes>(job.minutes, 1)) * static_cast<double>(std::max<Minutes>(total, 1));
  return job;
}

std::vector<Job> read_jobs(const FitProblem& problem) {
  std::map<int, std::size_t> priorities;
  for (const auto& activity : problem.activities) priorities[activity.priority] = 0;
  std::size_t number = 0;
  for (auto& [priority, place] : priorities) place = number++;
  std::vector<Job> jobs;
  for (const auto& activity : problem.activities) {
    jobs.push_back(read_job(activity, problem.resources.size()));
    jobs.back().priority = jobs.back().urgency = priorities[activity.priority];
  }
  for (std::size_t i = 0; i < jobs.size(); ++i)
    for (const auto need : jobs[i].needs)
      if (need < jobs.size()) jobs[need].successors.push_back(i);
  return jobs;
}

class Fitter {
 public:
  explicit Fitter(const FitProblem& problem) : Fitter(read_jobs(problem), free_of(problem.resources)) {}

  [[nodiscard]] Fit search(FitGoal goal);

 private:
  Fitter(std::vector<Job> jobs, const std::vector<FreeCapacity>& free)
      : jobs_(std::move(jobs)), forward_(free), backward_(mirrored(free)) {
    for (const auto& job : jobs_) priorities_ = std::max(priorities_, job.priority + 1);
    find_span(free);
    find_earliest();
    find_latest();
  }
  void find_span(const std::vector<FreeCapacity>& free);
  void find_earliest();
  void find_latest();

  [[nodiscard]] std::vector<Order> orders_by_rule() const;
  [[nodiscard]] Order order_by(const std::vector<double>& keys) const;
  [[nodiscard]] Order vary(const Order& order);
  [[nodiscard]] Order shake_best();

  [[nodiscard]] std::optional<Minutes> find_ready(std::size_t i, const Starts& starts) const;
  void rate(Schedule& schedule) const;
  [[nodiscard]] Schedule schedule(const Order& order);
  [[nodiscard]] Order justify(const Schedule& schedule);
  void keep(const Order& order, Schedule schedule);
  void consider(const Order& order);
  [[nodiscard]] bool make_way();

  std::vector<Job> jobs_;
  std::size_t priorities_ = 0;
  Board forward_;
  Board backward_;
  Minutes begin_ = 0;
  Minutes end_ = 0;                ///< by then all is over that can be
  Order order_;                    ///< those that can fit, each after what it needs
  std::vector<std::size_t> rank_;  ///< the places in it
  Order best_order_;
  std::optional<Schedule> best_;
  FixedSequence sequence_;
};

void Fitter::find_span(const std::vector<FreeCapacity>& free) {
  bool is_first = true;
  for (const auto& one : free) {
    if (one.is_empty()) continue;
    begin_ = is_first ? one.begin() : std::min(begin_, one.begin());
    end_ = is_first ? one.end() : std::max(end_, one.end());
    is_first = false;
  }
}

/// Finds which jobs can fit at all, and when at the earliest: with all resources to itself.
void Fitter::find_earliest() {
  std::vector<std::size_t> open(jobs_.size());  // needs not dealt with; it stays above 0 in a cycle
  for (std::size_t i = 0; i < jobs_.size(); ++i) {
    open[i] = jobs_[i].needs.size();
    if (open[i] == 0) order_.push_back(i);
  }
  for (std::size_t k = 0; k < order_.size(); ++k)
    for (const auto next : jobs_[order_[k]].successors)
      if (--open[next] == 0) order_.push_back(next);

  for (const auto i : order_) {
    auto& job = jobs_[i];
    const auto fits = [&](std::size_t need) { return jobs_[need].can_fit; };
    if (!job.is_sound || !std::all_of(job.needs.begin(), job.needs.end(), fits)) continue;
    Minutes ready = begin_;
    for (const auto need : job.needs) ready = std::max(ready, jobs_[need].earliest_start + jobs_[need].minutes);
    const auto start = forward_.find(job, ready, job.due);
    if (!start) continue;
    job.can_fit = true;
    job.earliest_start = *start;
    end_ = std::max(end_, *start + job.minutes);
  }
  std::erase_if(order_, [&](auto i) { return !jobs_[i].can_fit; });
  rank_.resize(jobs_.size());
  for (std::size_t k = 0; k < order_.size(); ++k) rank_[order_[k]] = k;
}

/// Finds when jobs can end at the latest, and how urgent they are for the sake of what needs them.
void Fitter::find_latest() {
  for (auto i = order_.rbegin(); i != order_.rend(); ++i) {
    auto& job = jobs_[*i];
    std::erase_if(job.successors, [&](auto next) { return !jobs_[next].can_fit; });
    Minutes latest = std::min(job.due, end_);
    for (const auto next : job.successors) {
      latest = std::min(latest, jobs_[next].latest_end - jobs_[next].minutes);
      job.urgency = std::min(job.urgency, jobs_[next].urgency);
    }
    job.latest_end = -*backward_.find(job, -latest, 2 * never);  // there is one: its earliest start is no later
  }
}

/// The orders of priority rules, those of Kolisch and Hartmann (Heuristic algorithms for the resource-constrained
/// project scheduling problem, in Weglarz (ed.), Project Scheduling, 1999, from memory): latest start, latest finish,
/// slack, number of all successors, rank positional weight; and the greatest work, as large pieces go into a full day
/// only early. What is more urgent goes first in each.
std::vector<Order> Fitter::orders_by_rule() const {
  std::vector<double> successors(jobs_.size());
  std::vector<double> work_with_successors(jobs_.size());
  std::vector<std::vector<bool>> follows(jobs_.size(), std::vector<bool>(jobs_.size()));
  for (auto i = order_.rbegin(); i != order_.rend(); ++i) {
    auto& after = follows[*i];
    for (const auto next : jobs_[*i].successors) {
      after[next] = true;
      for (const auto far : order_) after[far] = after[far] || follows[next][far];
    }
    work_with_successors[*i] = static_cast<double>(jobs_[*i].minutes);
    for (const auto far : order_) {
      if (!after[far]) continue;
      successors[*i] += 1;
      work_with_successors[*i] += static_cast<double>(jobs_[far].minutes);
    }
  }

  std::vector<Order> orders;
  const auto add = [&](auto rule) {
    std::vector<double> values(jobs_.size());
    for (const auto i : order_) values[i] = rule(i);
    Order sorted = order_;
    std::stable_sort(sorted.begin(), sorted.end(), [&](auto a, auto b) {
      return std::pair(jobs_[a].urgency, values[a]) < std::pair(jobs_[b].urgency, values[b]);
    });
    std::vector<double> keys(jobs_.size());
    for (std::size_t k = 0; k < sorted.size(); ++k) keys[sorted[k]] = static_cast<double>(k);
    orders.push_back(order_by(keys));
  };
  const auto latest_start = [&](std::size_t i) { return static_cast<double>(jobs_[i].latest_end - jobs_[i].minutes); };
  add(latest_start);
  add([&](std::size_t i) { return static_cast<double>(jobs_[i].latest_end); });
  add([&](std::size_t i) { return latest_start(i) - static_cast<double>(jobs_[i].earliest_start); });
  add([&](std::size_t i) { return -successors[i]; });
  add([&](std::size_t i) { return -work_with_successors[i]; });
  add([&](std::size_t i) { return -jobs_[i].weight; });
  return orders;
}

/// The jobs with the smallest key first, but each after what it needs.
Order Fitter::order_by(const std::vector<double>& keys) const {
  std::vector<std::pair<double, std::size_t>> ready;  // a heap
  std::vector<std::size_t> open(jobs_.size());
  const auto push = [&](std::size_t i) {
    ready.emplace_back(keys[i], i);
    std::push_heap(ready.begin(), ready.end(), std::greater<>());
  };
  for (const auto i : order_) {
    open[i] = jobs_[i].needs.size();
    if (open[i] == 0) push(i);
  }
  Order order;
  while (!ready.empty()) {
    std::pop_heap(ready.begin(), ready.end(), std::greater<>());
    order.push_back(ready.back().second);
    ready.pop_back();
    for (const auto next : jobs_[order.back()].successors)
      if (--open[next] == 0) push(next);
  }
  return order;
}

/// `order` with every job moved back by some part of it.
Order Fitter::vary(const Order& order) {
  const double spread = anew_spread * static_cast<double>(order.size());
  std::vector<double> keys(jobs_.size());
  for (std::size_t k = 0; k < order.size(); ++k) keys[order[k]] = static_cast<double>(k) + spread * sequence_.next();
  return order_by(keys);
}

/// The best order so far, with a stretch of it shuffled and some of what is left out drawn forward.
Order Fitter::shake_best() {
  const auto size = static_cast<double>(best_order_.size());
  const double half = 1 + shaken_share / 2 * size * sequence_.next();
  const double middle = size * sequence_.next();
  const auto& starts = best_->fit.starts;
  const auto left_out = std::count_if(order_.begin(), order_.end(), [&](auto i) { return !starts[i]; });
  std::vector<double> keys(jobs_.size());
  for (std::size_t k = 0; k < best_order_.size(); ++k) {
    const auto i = best_order_[k];
    auto& key = keys[i];
    key = static_cast<double>(k);
    if (!starts[i]) {
      const bool is_drawn = sequence_.next() * static_cast<double>(left_out) < drawn_forward;
      key = is_drawn ? size * sequence_.next() : size + key;
    } else if (std::abs(key - middle) < half) {
      key = middle + half * (2 * sequence_.next() - 1);
    }
  }
  return order_by(keys);
}

/// Sums up what is left out, and sets the end.
void Fitter::rate(Schedule& schedule) const {
  schedule.fit.end = begin_;
  schedule.left_out.assign(priorities_, 0);
  for (const auto i : order_) {
    const auto& start = schedule.fit.starts[i];
    if (start)
      schedule.fit.end = std::max(schedule.fit.end, *start + jobs_[i].minutes);
    else
      schedule.left_out[jobs_[i].priority] += jobs_[i].weight;
  }
}

/// When all that job `i` needs has ended; nothing if some of it has no start.
std::optional<Minutes> Fitter::find_ready(std::size_t i, const Starts& starts) const {
  Minutes ready = jobs_[i].earliest_start;
  for (const auto need : jobs_[i].needs) {
    if (!starts[need]) return std::nullopt;
    ready = std::max(ready, *starts[need] + jobs_[need].minutes);
  }
  return ready;
}

/// Serial generation (Kelley 1963; Kolisch and Hartmann 1999, from memory): takes jobs one by one and starts each as
/// early as what it needs and the resources left allow. Some order leads to a best schedule, whatever the windows:
/// in the order of the starts of any schedule no job comes out later than there, as what then still runs ran there.
Schedule Fitter::schedule(const Order& order) {
  forward_.clear();
  Schedule schedule;
  auto& starts = schedule.fit.starts;
  starts.resize(jobs_.size());
  for (const auto i : order) {
    const auto& job = jobs_[i];
    const auto ready = find_ready(i, starts);
    if (!ready) continue;
    starts[i] = forward_.find(job, *ready, job.due);
    if (starts[i]) forward_.take(job, *starts[i]);
  }
  rate(schedule);
  return schedule;
}

/// Justification (Valls, Ballestin and Quintanilla, Justification and RCPSP: a technique that pays, European Journal of
/// Operational Research 165, 2005, from memory): starts everything as late as the end of `schedule` allows, the last
/// first, and returns the order of those starts. Scheduled in that order nothing comes out later than it then was, so
/// no due time is missed and the end never moves out; what was left out is tried in what has become free. Windows
/// change nothing in that, so gaps between them need no care.
Order Fitter::justify(const Schedule& schedule) {
  auto starts = schedule.fit.starts;
  Order order;
  Order left_out;
  for (const auto i : order_) (starts[i] ? order : left_out).push_back(i);
  const auto end_of = [&](std::size_t i) { return *schedule.fit.starts[i] + jobs_[i].minutes; };
  std::sort(order.begin(), order.end(),
            [&](auto a, auto b) { return std::pair(end_of(a), rank_[a]) > std::pair(end_of(b), rank_[b]); });
  backward_.clear();
  for (const auto i : order) {
    const auto& job = jobs_[i];
    Minutes latest = std::min(job.due, schedule.fit.end);
    for (const auto next : job.successors)
      if (starts[next]) latest = std::min(latest, *starts[next]);
    const Minutes start = *backward_.find(job, -latest, 2 * never);  // there is one: where it was, or later
    backward_.take(job, start);
    starts[i] = -(start + job.minutes);
  }
  std::sort(order.begin(), order.end(),
            [&](auto a, auto b) { return std::pair(*starts[a], rank_[a]) < std::pair(*starts[b], rank_[b]); });
  std::stable_sort(left_out.begin(), left_out.end(),
                   [&](auto a, auto b) { return jobs_[a].urgency < jobs_[b].urgency; });
  order.insert(order.end(), left_out.begin(), left_out.end());
  return order;
}

/// Keeps `schedule` if none is better. Equal ones replace each other, so that the search moves on.
void Fitter::keep(const Order& order, Schedule schedule) {
  if (best_ && best_->cost() < schedule.cost()) return;
  best_order_ = order;
  best_ = std::move(schedule);
}

void Fitter::consider(const Order& order) {
  Schedule plain = schedule(order);
  const Order justified = justify(plain);
  keep(order, std::move(plain));
  keep(justified, schedule(justified));
}

/// Finds a job that is left out and would fit if all that is less important gave way, and lets it have the place. What
/// something as important as the job needs does not give way. Returns whether that made the schedule better, which it
/// does wherever there is such a job and a double tells the sums apart.
bool Fitter::make_way() {
  const Schedule before = *best_;
  auto starts = before.fit.starts;
  Order waiting = order_;
  std::erase_if(waiting, [&](auto i) { return starts[i] || !find_ready(i, starts); });
  std::stable_sort(waiting.begin(), waiting.end(),
                   [&](auto a, auto b) { return jobs_[a].priority < jobs_[b].priority; });
  for (const auto i : waiting) {
    const auto stays = [&](std::size_t other) { return starts[other] && jobs_[other].urgency <= jobs_[i].priority; };
    forward_.clear();
    for (const auto other : order_)
      if (stays(other)) forward_.take(jobs_[other], *starts[other]);
    const auto start = forward_.find(jobs_[i], *find_ready(i, starts), jobs_[i].due);
    if (!start) continue;
    starts[i] = start;
    Order order = order_;
    std::sort(order.begin(), order.end(), [&](auto a, auto b) {
      const auto place = [&](std::size_t k) {
        return std::tuple(!starts[k], k != i && !stays(k), starts[k].value_or(0), rank_[k]);
      };
      return place(a) < place(b);
    });
    keep(order, schedule(order));
    return best_->cost() < before.cost();
  }
  return false;
}

Fit Fitter::search(FitGoal goal) {
  Schedule ideal;  // each with all resources to itself: nothing can be better
  ideal.fit.starts.resize(jobs_.size());
  for (const auto i : order_) ideal.fit.starts[i] = jobs_[i].earliest_start;
  rate(ideal);
  const auto can_be_better = [&] {
    return goal == FitGoal::room ? ideal.left_out < best_->left_out : ideal.cost() < best_->cost();
  };
  const auto orders = orders_by_rule();
  for (const auto& order : orders) consider(order);
  for (std::size_t pass = 0; pass < passes && can_be_better(); ++pass)
    consider(pass % anew_every == 0 ? vary(orders[pass / anew_every % orders.size()]) : shake_best());
  while (make_way()) {
  }
  return best_->fit;
}

}  // namespace

Fit fit_activities(const FitProblem& problem, FitGoal goal) { return Fitter(problem).search(goal); }

}  // namespace daywright::rules
