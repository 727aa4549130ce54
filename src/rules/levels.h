// How much of an item is on board at the cut-off, place by place, and how fast it has been going.
//
//   In:  the plan, the counts and the transfers
//   Out: a level per place (the last count, carried to the cut-off at plan), the measured factor, and doubts
//
// Pure.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "model/rulebook.h"
#include "rules/evidence.h"

namespace daywright::rules {

/// What is in one place at the cut-off, and what that rests on. Quantities in the item's unit.
struct PlaceLevel {
  const model::Place* place = nullptr;
  const model::Merged<model::CountRow>* count = nullptr;  ///< null: never counted
  double drawn = 0;                                       ///< planned draw since the count
  double made = 0;                                        ///< planned make since the count
  double moved = 0;                                       ///< in by transfers done since the count, less out
  double level = 0;
  std::optional<double> other_level;  ///< by the source that disagrees, where it is the worse one
};

struct ItemLevel {
  const model::Item* item = nullptr;
  std::vector<PlaceLevel> places;  ///< those that can be used at the cut-off
  std::vector<Doubt> doubts;       ///< why the level can't support a READY verdict
  bool is_complete = false;        ///< every place has been counted
  std::optional<double> factor;    ///< measured draw over planned draw; none: too few counts or no planned use
  std::vector<const model::Merged<model::CountRow>*> rate_counts;  ///< those that the factor rests on

  [[nodiscard]] double total() const {
    double sum = 0;
    for (const auto& place : places) sum += place.level;
    return sum;
  }
};

/// Whether `place` is still there at `when`: the event at which it goes has not come.
[[nodiscard]] bool is_there(const model::Mission& mission, const model::Place& place, model::Instant when);

/// Whether `place` can be drawn from at `when`: it is there, and usable.
[[nodiscard]] bool is_available(const model::Mission& mission, const model::Place& place, model::Instant when);

/// The level of `item` at `cutoff`.
///
/// The draw since a count is charged to the first place that is drawn from, as a day's draw does not empty it.
/// The measured factor is the common slope of observed against planned draw over all counts of all places (least
/// squares, a line of its own for each place). Derived counts are not used.
[[nodiscard]] ItemLevel find_level(const model::Mission& mission, const model::Item& item,
                                   const model::MarginRules& rules, const model::Facts& facts, model::Instant cutoff);

}  // namespace daywright::rules
