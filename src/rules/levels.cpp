#include "rules/levels.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "rules/normal_mixture.h"
#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Instant;
using Count = model::Merged<model::CountRow>;

CountReading as_merged(const Count& count) { return {count.row.quantity, false}; }

/// The worst that any source says of the count: the least of a stock, the most of what fills up.
double worst_of(const Count& count, bool fills_up) {
  double worst = count.row.quantity;
  for (const auto& rival : count.rivals)
    worst = fills_up ? std::max(worst, rival.quantity) : std::min(worst, rival.quantity);
  return worst;
}

/// Estimates an item, in each way in which its counts can be read.
class Estimator {
 public:
  Estimator(const model::Mission& mission, const model::MarginRules& rules, const model::Facts& facts, Instant cutoff,
            ItemLevel& level)
      : mission_(mission), rules_(rules), facts_(facts), cutoff_(cutoff), level_(level) {}

  /// `merged`: the history as merged and weighed.
  void run(const CountedItem& merged) {
    estimate({}, merged);
    find_suspects();
    find_factor();
    const bool fills_up = level_.item->sort == model::ItemSort::capacity;
    const auto is_last_of_place = [&](const Count& count) {
      return std::any_of(level_.places.begin(), level_.places.end(), [&](const auto& p) { return p.count == &count; });
    };
    std::vector<const Count*> believed;
    for (const SuspectCount& suspect : level_.suspects) {
      if (!suspect.is_counted_again && would_hurt(merged, suspect)) believed.push_back(suspect.count);
    }
    const ReadCount with_suspects = [&](const Count& count) {
      return CountReading{count.row.quantity, std::find(believed.begin(), believed.end(), &count) != believed.end()};
    };
    if (!believed.empty()) read("with the suspect count as it stands", with_suspects);
    const auto has_worse = [&](const Count* count) {
      return is_last_of_place(*count) && worst_of(*count, fills_up) != count->row.quantity;
    };
    if (std::any_of(level_.counts.begin(), level_.counts.end(), has_worse)) {
      read("with the count that another source gives", [&](const Count& count) {
        return has_worse(&count) ? CountReading{worst_of(count, fills_up), true} : with_suspects(count);
      });
    }
  }

 private:
  void read(std::string how, const ReadCount& reading) {
    estimate(std::move(how), *gather_history(mission_, *level_.item, facts_, cutoff_, level_.made, reading));
  }

  void estimate(std::string how, const CountedItem& counted) {
    model::EstimateSettings settings = rules_.estimate;
    if (!level_.has_daily_use) {
      // What only events use is taken at plan: nobody uses a tenth of a cartridge more.
      settings.factor_sd = 0;
      settings.factor_drift = 0;
    }
    level_.reads.push_back(
        {std::move(how), estimate_level(settings, counted.history), counted.places, settings.factor_drift});
  }

  void find_suspects() {
    constexpr double likely = 0.5;
    const auto& chances = level_.reads.front().estimate.miscount_chances;
    for (std::size_t i = 0; i < chances.size(); ++i) {
      if (chances[i] <= likely) continue;
      bool is_counted_again = false;
      for (std::size_t later = i + 1; later < chances.size(); ++later) {
        is_counted_again = is_counted_again ||
                           (level_.counts[later]->row.place == level_.counts[i]->row.place && chances[later] <= likely);
      }
      level_.suspects.push_back({level_.counts[i], chances[i], is_counted_again});
    }
  }

  /// Whether the count, carried to the cut-off at plan, leaves less than all counts together do. The others would only
  /// hide what this one takes away, were they believed beside it.
  [[nodiscard]] bool would_hurt(const CountedItem& merged, const SuspectCount& suspect) const {
    const CountsRead& read = level_.reads.front();
    const auto& row = suspect.count->row;
    const auto found = std::find(merged.counts.begin(), merged.counts.end(), suspect.count);
    const auto index = static_cast<std::size_t>(found - merged.counts.begin());
    const double carried = carry(*level_.item, row.quantity, merged.since(index));
    const double level = middle_of(read.estimate.level(*read.index_of(row.place)));
    return level_.item->sort == model::ItemSort::capacity ? carried > level : carried < level;
  }

  void find_factor() {
    const bool has_enough = level_.counts.size() >= static_cast<std::size_t>(rules_.measured_min_counts);
    if (!has_enough || !level_.has_daily_use) return;
    const LevelEstimate& estimate = level_.reads.front().estimate;
    // A stock that seems to grow by being used is noise or an unlogged transfer: never better than no use at all.
    level_.factor = std::max(0.0, expected(estimate, estimate.layout.factor(), shows_leak(rules_, estimate)));
    level_.factor_sd = sd_of(estimate.factor());
  }

  const model::Mission& mission_;
  const model::MarginRules& rules_;
  const model::Facts& facts_;
  Instant cutoff_;
  ItemLevel& level_;
};

/// What is on board more than the plan wants since each place was first counted.
double ahead_of_plan(const CountedItem& counted, const ItemLevel& level) {
  double ahead = 0;
  for (const PlaceLevel& here : level.places) {
    const auto first = std::find_if(counted.counts.begin(), counted.counts.end(),
                                    [&](const Count* count) { return count->row.place == here.place->id; });
    if (first == counted.counts.end()) continue;
    const auto use = counted.since(static_cast<std::size_t>(first - counted.counts.begin()));
    ahead += here.level - carry(*level.item, (*first)->row.quantity, use);
  }
  return level.item->sort == model::ItemSort::capacity ? -ahead : ahead;
}

/// A stock does not grow, nor does a filled tank empty, unless something was made, moved in or moved out. More than
/// the scatter of the two counts explains is a slip of the pen or a transfer that nobody logged. `use` is that between
/// the two.
void doubt_what_appeared(const model::Mission& mission, const model::Item& item, const model::MarginRules& rules,
                         const Count& before, const Count& now, const PlaceUse& use, std::vector<Doubt>& doubts) {
  const bool fills_up = item.sort == model::ItemSort::capacity;
  const double made = fills_up ? 0 : use.made;
  const double appeared = (now.row.quantity - before.row.quantity - use.moved - made) * (fills_up ? -1 : 1);
  const double scatter = rules.conflict_sigmas * std::hypot(sigma_of(mission, item, before.row.method),
                                                            sigma_of(mission, item, now.row.method));
  constexpr double hair = 1e-9;
  if (appeared <= scatter + hair) return;
  doubts.push_back({fmt::format("count in {} is {:.4g} {} {} than what can be there", now.row.place, appeared,
                                item.unit->spelling, fills_up ? "less" : "more"),
                    now.row.from.source});
}

/// Whether all that is known of the item comes in whole pieces: what events use, what can't be drawn, what is held and
/// what was counted, each time by tally. A gauge knows no pieces.
bool comes_in_pieces(const model::Mission& mission, const model::Item& item, const std::vector<const Count*>& counts) {
  const auto is_whole = [](double amount) { return amount == std::floor(amount); };
  const auto all_whole = [&](const std::map<std::string, double>& amounts) {
    return std::all_of(amounts.begin(), amounts.end(), [&](const auto& amount) { return is_whole(amount.second); });
  };
  return item.step == 1 && !has_daily_use(mission, item) && all_whole(item.per_event) && all_whole(item.residual) &&
         std::all_of(item.reserve.begin(), item.reserve.end(),
                     [&](const auto& line) { return is_whole(line.quantity); }) &&
         std::all_of(counts.begin(), counts.end(), [&](const Count* count) {
           return is_whole(count->row.quantity) &&
                  model::find_by_id(mission.methods, count->row.method)->kind == model::CountKind::tally;
         });
}

/// Hours that the cartridges of the last planned change-out still have with the crew of now: their rated crew-hours
/// less those lived since. Nothing where there is no schedule, or no change-out yet.
std::optional<double> hours_in_service(const model::Mission& mission, const model::Item& item, Instant cutoff) {
  if (!(item.rated_crew_hours > 0)) return std::nullopt;
  const model::Event* last = nullptr;
  for (const auto& event : mission.events) {
    if (event.at <= cutoff && event_draw(item, event.kind) > 0 && (last == nullptr || event.at >= last->at))
      last = &event;
  }
  const int crew = crew_aboard(mission, item.vehicle, cutoff);
  if (last == nullptr || crew == 0) return std::nullopt;
  double lived = 0;  // crew-hours
  for (const Stretch& stretch : stretches(mission, last->at, cutoff))
    lived += stretch.days() * 24 * stretch.kind->crew.value_or(crew_aboard(mission, item.vehicle, stretch.begin));
  return std::max(0.0, item.rated_crew_hours * event_draw(item, last->kind) - lived) / crew;
}

}  // namespace

bool is_there(const model::Mission& mission, const model::Place& place, Instant when) {
  const auto* event = model::find_by_id(mission.events, place.until);
  return event == nullptr || when < event->at;
}

bool is_available(const model::Mission& mission, const model::Place& place, Instant when) {
  return place.state_at(when) == model::PlaceState::usable && is_there(mission, place, when);
}

ItemLevel find_level(const model::Mission& mission, const model::Item& item, const model::MarginRules& rules,
                     const model::Facts& facts, Instant cutoff, const MadeFactor& made) {
  ItemLevel level;
  level.item = &item;
  level.made = made;
  level.has_daily_use = has_daily_use(mission, item);
  level.is_complete = true;
  level.doubts = doubts_about(facts, model::Log::counts, item.id);
  for (const Doubt& doubt : doubts_about(facts, model::Log::transfers, item.id)) level.doubts.push_back(doubt);
  for (const auto& fact : facts.transfers) {
    if (fact.row.item == item.id) add_conflicts(fact, "transfer " + fact.row.transfer, level.doubts);
  }
  if (cutoff > mission.required_end())
    level.doubts.push_back(
        {fmt::format("{}: the last opportunity is past", mission.words.landing), mission.landing_days.back().source});
  const double oldest_hours = item.count_every_hours.value_or(rules.count_every_hours);
  const auto counted = gather_history(mission, item, facts, cutoff, made, as_merged).value_or(CountedItem{});
  level.counts = counted.counts;
  level.comes_in_pieces = comes_in_pieces(mission, item, counted.counts);
  for (const std::string& id : item.places) {
    PlaceLevel here;
    here.place = model::find_by_id(mission.places, id);
    if (!is_available(mission, *here.place, cutoff)) continue;
    std::vector<std::size_t> counts;  // of this place
    for (std::size_t i = 0; i < counted.counts.size(); ++i) {
      if (counted.counts[i]->row.place == id) counts.push_back(i);
    }
    if (counts.empty()) {
      level.is_complete = false;
      level.doubts.push_back({fmt::format("never counted in {}", here.place->title), item.source});
      level.places.push_back(here);
      continue;
    }
    const std::size_t last = counts.back();
    here.count = counted.counts[last];
    if (counts.size() > 1) {
      const std::size_t before = counts[counts.size() - 2];
      doubt_what_appeared(mission, item, rules, *counted.counts[before], *here.count,
                          counted.up_to_count[last] - counted.up_to_count[before], level.doubts);
    }
    const auto& row = here.count->row;
    here.use = counted.since(last);
    here.carried = carry(item, row.quantity, here.use);
    add_conflicts(*here.count, fmt::format("count in {}", here.place->title), level.doubts);
    const double age_hours = model::in_days(cutoff - row.when) * 24;
    if (age_hours > oldest_hours) {
      level.doubts.push_back(
          {fmt::format("count in {} is {:.0f} h old, limit {:g} h", here.place->title, age_hours, oldest_hours),
           row.from.source});
    }
    level.places.push_back(here);
  }
  std::vector<std::string> places;
  for (const auto& here : level.places) places.push_back(here.place->id);
  level.totals = total_at_counts(counted, places);
  if (!counted.counts.empty()) Estimator(mission, rules, facts, cutoff, level).run(counted);
  for (PlaceLevel& here : level.places) {
    if (here.count == nullptr) continue;
    const CountsRead& read = level.reads.front();
    here.level = best_level(read.estimate, *read.index_of(here.place->id), rules.leak_shown_from / 100);
  }
  level.in_service_hours = hours_in_service(mission, item, cutoff);
  level.ahead = ahead_of_plan(counted, level);
  return level;
}

bool shows_leak(const model::MarginRules& rules, const LevelEstimate& estimate) {
  return estimate.leak_chance() >= rules.leak_shown_from / 100;
}

std::vector<ItemLevel> find_levels(const model::Mission& mission, const model::MarginRules& rules,
                                   const model::Facts& facts, Instant cutoff) {
  std::vector<ItemLevel> levels(mission.items.size());
  // An item can be made from one that is itself made, so whoever has all it needs goes first.
  for (bool goes_on = true; goes_on;) {
    goes_on = false;
    for (std::size_t i = 0; i < levels.size(); ++i) {
      const model::Item& item = mission.items[i];
      if (levels[i].item != nullptr) continue;
      MadeFactor made;
      if (!item.made_from.empty()) {
        const auto source = std::find_if(levels.begin(), levels.end(), [&](const ItemLevel& level) {
          return level.item != nullptr && level.item->id == item.made_from;
        });
        if (source == levels.end()) continue;
        if (source->factor) made = {*source->factor, source->factor_sd};
      }
      levels[i] = find_level(mission, item, rules, facts, cutoff, made);
      goes_on = true;
    }
  }
  return levels;
}

}  // namespace daywright::rules
