// One way in which an item may go from the cut-off to the required end: its level at every turn of the plan.
//
//   In:  the plan of the item; levels now, use factor, leaks
//   Out: waypoints: what can be used, what is held in reserve, what came and went up to there
//
// Pure.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "rules/item_plan.h"

namespace daywright::rules {

/// What is on board and how fast it goes.
struct Course {
  struct Start {
    std::string place;
    double level = 0;
    double drawn = 0;  ///< planned draw since the count, which a place below its residual can't have given
    double leak = 0;   ///< per day
  };

  std::vector<Start> starts;
  double factor = 1;       ///< use over planned use
  double made_factor = 1;  ///< the same of the item that this one is made from
};

/// What a place has given and got up to a waypoint.
struct PlaceTurnover {
  double drawn = 0;     ///< day by day, at plan: the use factor is not in it
  double known = 0;     ///< made, moved and found at the cut-off, less what events drew
  double amount = 0;    ///< that is in it and can be used
  bool counts = false;  ///< its level is part of what can be used: it is there, or was empty when it went
};

/// An instant at which the margin can be smallest or changes its slope. Quantities in the item's unit.
struct Waypoint {
  model::Instant at;
  std::string_view phase;
  double usable = 0;  ///< what can be used then, after residuals
  double held = 0;    ///< in reserve
  // Since the cut-off.
  double drawn = 0;
  double leaked = 0;
  double made = 0;
  double moved = 0;
  double step_variance = 0;           ///< of events and transfers up to there
  std::vector<PlaceTurnover> places;  ///< as in the plan; only where they were asked for

  [[nodiscard]] double margin() const { return usable - held; }
};

enum class Turnover { left_out, kept };

/// Goes along `course`; the first waypoint is the cut-off as counted. Between two waypoints everything runs straight;
/// two at one instant are before and after what happens then.
///
/// Use is taken from the places in the order of the plan. What a place has when it goes is lost.
[[nodiscard]] std::vector<Waypoint> follow(const ItemPlan& plan, const Course& course,
                                           Turnover turnover = Turnover::left_out);

}  // namespace daywright::rules
