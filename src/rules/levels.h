// How much of an item is on board at the cut-off, place by place, and how fast it has been going.
//
//   In:  the plan, the counts and the transfers
//   Out: a level per place and a use factor as estimated from all counts, and doubts
//
// Pure.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "model/rulebook.h"
#include "rules/estimate.h"
#include "rules/evidence.h"
#include "rules/item_history.h"

namespace daywright::rules {

/// What is in one place at the cut-off, and what that rests on. Quantities in the item's unit.
struct PlaceLevel {
  const model::Place* place = nullptr;
  const model::Merged<model::CountRow>* count = nullptr;  ///< the last one; null: never counted
  PlaceUse use;                                           ///< since the count
  double carried = 0;                                     ///< the last count, carried to the cut-off at plan
  double level = 0;                                       ///< as estimated from all counts
};

/// What the counts say when they are read in one way.
struct CountsRead {
  std::string how;                  ///< what is special about it; empty: as they are merged and weighed
  LevelEstimate estimate;           ///< at the cut-off
  std::vector<std::string> places;  ///< ids, in the order of the estimate
  double factor_drift = 0;          ///< variance per day, as it was estimated with

  [[nodiscard]] std::optional<std::size_t> index_of(const std::string& place) const { return index_in(places, place); }
};

/// A count that is more likely a miscount than not.
struct SuspectCount {
  const model::Merged<model::CountRow>* count = nullptr;
  double chance = 0;              ///< that it is a miscount
  bool is_counted_again = false;  ///< a later count of the place is none
};

struct ItemLevel {
  const model::Item* item = nullptr;
  std::vector<PlaceLevel> places;  ///< those that can be used at the cut-off
  std::vector<Doubt> doubts;       ///< why the level can't support a READY verdict
  bool has_daily_use = false;      ///< on some kind of day; what only events use is taken at plan
  bool is_complete = false;        ///< every place has been counted
  bool comes_in_pieces = false;   ///< used by events alone and told piece by piece: a whole number of its unit is there
  std::vector<CountsRead> reads;  ///< the first as merged and weighed; none: never counted. Each may be the truth
  std::vector<const model::Merged<model::CountRow>*> counts;  ///< that the estimate rests on, in order of time
  std::vector<CountedTotal> totals;                           ///< of its places, at each of these counts
  std::vector<SuspectCount> suspects;
  std::optional<double> factor;  ///< use over planned use; none: too few counts or no use by the day
  double factor_sd = 0;
  MadeFactor made;                         ///< of the item that this one is made from
  std::optional<double> in_service_hours;  ///< left on the cartridges of the last planned change-out, with the crew now
  double ahead = 0;                        ///< what is on board more than planned since the first counts

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

/// Whether the chance of a leak is such that levels and margins are given as if there is one.
[[nodiscard]] bool shows_leak(const model::MarginRules& rules, const LevelEstimate& estimate);

/// The level of `item` at `cutoff`; `made` is the use factor of the item that it is made from.
///
/// The estimate is that of design section 4.1 (estimate.h). It is read again with suspect counts believed, where no
/// later count has settled the matter, and with what another source says in a conflict: nobody knows yet which is
/// right, so the margins take the worst.
[[nodiscard]] ItemLevel find_level(const model::Mission& mission, const model::Item& item,
                                   const model::MarginRules& rules, const model::Facts& facts, model::Instant cutoff,
                                   const MadeFactor& made = {});

/// The levels of all items, in the order of the plan; those that others are made from are estimated before them.
[[nodiscard]] std::vector<ItemLevel> find_levels(const model::Mission& mission, const model::MarginRules& rules,
                                                 const model::Facts& facts, model::Instant cutoff);

}  // namespace daywright::rules
