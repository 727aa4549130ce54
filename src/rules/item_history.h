// One item's counts, planned flows and known changes as the plain numbers that the estimate takes.
//
//   In:  the plan, the counts, the transfers, the decisions
//   Out: the history of the item up to the cut-off, and which facts stand where in it
//
// Pure.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "model/log.h"
#include "model/mission.h"
#include "model/rulebook.h"
#include "rules/estimate.h"
#include "rules/timeline.h"

namespace daywright::rules {

/// What became of an item that another one is made from: use over planned use, as estimated.
struct MadeFactor {
  double mean = 1;
  double sd = 0;
};

/// Which value a count is given in the history, and whether it is beyond doubt. The default takes it as it is merged.
struct CountReading {
  double value = 0;
  bool is_believed = false;
};
using ReadCount = std::function<CountReading(const model::Merged<model::CountRow>&)>;

/// What the plan drew from a place and made into it, and what transfers moved into it less what they took out.
struct PlaceUse {
  double drawn = 0;
  double made = 0;
  double moved = 0;

  friend PlaceUse operator-(const PlaceUse& a, const PlaceUse& b) {
    return {a.drawn - b.drawn, a.made - b.made, a.moved - b.moved};
  }
};

struct CountedItem {
  ItemHistory history;
  std::vector<std::string> places;                            ///< ids, in the order of history.places
  std::vector<const model::Merged<model::CountRow>*> counts;  ///< in the order of history.counts
  std::vector<PlaceUse> up_to_count;                          ///< of each count's place, from the start to the count
  std::vector<PlaceUse> up_to_now;                            ///< of each place, from the start to the cut-off

  /// What the plan did with the place of a count since that count.
  [[nodiscard]] PlaceUse since(std::size_t count) const;
};

/// What was on board at a count: what it says, and the last counts of the other places carried to its time at plan.
struct CountedTotal {
  double level = 0;
  std::size_t count = 0;  ///< index
};

/// The totals of `places` (ids) at each of their counts, from the first one on at which all of them were counted.
[[nodiscard]] std::vector<CountedTotal> total_at_counts(const CountedItem& counted,
                                                        const std::vector<std::string>& places);

/// Where the place with this id stands in `places`; nothing where it does not.
[[nodiscard]] std::optional<std::size_t> index_in(const std::vector<std::string>& places, const std::string& place);

/// `quantity` of `item` after such a use.
[[nodiscard]] double carry(const model::Item& item, double quantity, const PlaceUse& use);

/// Whether the count is one that the estimate may take: made by the cut-off, not derived, and counted in a way that is
/// valid at that time.
[[nodiscard]] bool is_evidence(const model::Mission& mission, const model::CountRow& count, model::Instant cutoff);

/// The standard deviation of a count: as the plan declares it, and never finer than the step that it is read in.
[[nodiscard]] double sigma_of(const model::Mission& mission, const model::Item& item, const std::string& method);

/// The history of `item` from its first count to `cutoff`; nothing where it was never counted.
///
/// Each place starts as its first count says, carried back at plan, with a deviation so wide that the counts decide.
/// Draw is charged to the places in their order, to each as much as its last count and the plan leave in it. A decision
/// that says so closes a leak.
[[nodiscard]] std::optional<CountedItem> gather_history(const model::Mission& mission, const model::Item& item,
                                                        const model::Facts& facts, model::Instant cutoff,
                                                        const MadeFactor& made, const ReadCount& read);

/// Whether anything of the item is used day by day on any kind of day. What is used in events alone has no rate to
/// measure: it is taken at plan.
[[nodiscard]] bool has_daily_use(const model::Mission& mission, const model::Item& item);

}  // namespace daywright::rules
