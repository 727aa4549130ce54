// Activities fitted into limited resources over time: who does what when, and what does not fit.
//
//   In:  windows in which resources are there; activities with what they take, what they need first, and by when
//   Out: a start for every activity that fits
//
// Pure. No chance and no clock either: the search takes a fixed number of steps in a fixed order, so the same problem
// has the same fit on every machine.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

namespace daywright::rules {

/// A span in which `capacity` of a resource is there: the working time of a person on one day, or all the time for a
/// machine. Whole minutes from any zero, the end not included; what is 2^40 or more away counts as never.
struct Window {
  std::int64_t begin = 0;
  std::int64_t end = 0;
  int capacity = 1;
};

/// A person, or so many alike of anything. Outside all windows nothing is there.
struct FitResource {
  std::vector<Window> windows;  ///< in order, disjoint; where two touch, an activity can run across
};

/// What an activity takes of one resource as long as it runs.
struct FitDemand {
  std::size_t resource = 0;
  int amount = 1;
};

/// Something to be done without a break, with all it takes at once.
struct FitActivity {
  std::int64_t minutes = 0;  ///< 0: a milestone, which takes nothing
  std::vector<FitDemand> demands = {};
  std::vector<std::size_t> needs = {};             ///< indices of activities that have to end before it starts
  int priority = 1;                                ///< 1 is the most important
  std::optional<std::int64_t> due = std::nullopt;  ///< ended by then, or it does not fit
};

/// Indices are places in these lists.
struct FitProblem {
  std::vector<FitResource> resources;
  std::vector<FitActivity> activities;
};

/// What is looked for when nothing has to be left out: the earliest end too, or any end, which takes a fraction of the
/// time.
enum class FitGoal { earliest_end, room };

/// When every activity starts.
struct Fit {
  std::vector<std::optional<std::int64_t>> starts;  ///< nothing: it does not fit
  std::int64_t end = 0;                             ///< of the last that fits; nothing fits: where time begins
};

/// Fits the activities of `problem`. Time begins with the first window, or at 0 without any.
///
/// Left out is what has no room in the windows or by its due time, what needs something left out or itself, and what
/// names an activity or a resource that is not there or asks for less than nothing. What is left out is measured in
/// minutes x amounts, either at least 1: as little as possible of the most important priority, then of the next, and
/// so on; among those the earliest end. That is searched for and not proved: DEVELOPERS.md says how near it comes. What
/// holds always: nothing is left out that would fit if everything less important gave way, but for what something as
/// important needs.
[[nodiscard]] Fit fit_activities(const FitProblem& problem, FitGoal goal = FitGoal::earliest_end);

}  // namespace daywright::rules
