#include "rules/levels.h"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "rules/line.h"
#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Instant;
using Count = model::Merged<model::CountRow>;

/// The counts of one place that say something of their own, in order of time.
std::vector<const Count*> counts_of(const model::Mission& mission, const model::Item& item, const std::string& place,
                                    const model::Facts& facts) {
  std::vector<const Count*> counts;
  for (const Count& count : facts.counts) {
    if (count.row.item != item.id || count.row.place != place) continue;
    if (model::find_by_id(mission.methods, count.row.method)->kind == model::CountKind::derived) continue;
    counts.push_back(&count);
  }
  return counts;  // facts come in order of item, place and time
}

/// The first place of the draw order that can be drawn from at `when`; empty when there is none.
std::string first_drawn(const model::Mission& mission, const model::Item& item, Instant when) {
  for (const auto& id : draw_order(mission, item, when)) {
    if (is_available(mission, *model::find_by_id(mission.places, id), when)) return id;
  }
  return {};
}

/// Planned use that falls to `place`: the draw while it is the first one drawn from, the make that goes into it.
PlannedUse use_of_place(const model::Mission& mission, const model::Item& item, const std::string& place, Instant from,
                        Instant to) {
  std::set<Instant> cuts{from, to};
  for (const auto& phase : mission.phases) {
    if (phase.start > from && phase.start < to) cuts.insert(phase.start);
  }
  for (const auto& id : item.places) {
    const auto* event = model::find_by_id(mission.events, model::find_by_id(mission.places, id)->until);
    if (event != nullptr && event->at > from && event->at < to) cuts.insert(event->at);
  }
  PlannedUse use;
  for (auto begin = cuts.begin(), end = std::next(begin); end != cuts.end(); begin = end, ++end) {
    const PlannedUse part = planned_use(mission, item, *begin, *end);
    if (first_drawn(mission, item, *begin) == place) use.draw += part.draw;
    if (item.made_into == place) use.make += part.make;
  }
  return use;
}

/// What transfers brought into `place` after `from` up to `to`, less what they took out.
double moved_between(const model::Facts& facts, const std::string& item, const std::string& place, Instant from,
                     Instant to) {
  double moved = 0;
  for (const auto& fact : facts.transfers) {
    const auto& row = fact.row;
    if (row.item != item || row.state != model::TransferState::done || row.when <= from || row.when > to) continue;
    if (row.to_place == place) moved += row.quantity;
    if (row.from_place == place) moved -= row.quantity;
  }
  return moved;
}

void measure_rate(const model::Mission& mission, const model::MarginRules& rules, const model::Facts& facts,
                  ItemLevel& level) {
  const model::Item& item = *level.item;
  const double direction = item.sort == model::ItemSort::capacity ? 1 : -1;  // a capacity fills as it is used
  std::vector<std::vector<Point>> groups;
  for (const std::string& place : item.places) {
    const auto counts = counts_of(mission, item, place, facts);
    if (counts.size() < 2) continue;
    std::vector<Point> points;
    double planned = 0;
    double known = 0;  // made and moved since the first count: not part of the draw
    for (std::size_t i = 0; i < counts.size(); ++i) {
      if (i > 0) {
        const Instant before = counts[i - 1]->row.when;
        const Instant now = counts[i]->row.when;
        const PlannedUse use = use_of_place(mission, item, place, before, now);
        planned += use.draw;
        known += use.make + moved_between(facts, item.id, place, before, now);
      }
      points.push_back({planned, direction * (counts[i]->row.quantity - known)});
    }
    if (!(planned > 0)) continue;
    level.rate_counts.insert(level.rate_counts.end(), counts.begin(), counts.end());
    groups.push_back(std::move(points));
  }
  if (level.rate_counts.size() < static_cast<std::size_t>(rules.measured_min_counts)) return;
  const auto slope = fit_common_slope(groups);
  // A stock that seems to grow by being used is noise or an unlogged transfer: never better than no use at all.
  if (slope) level.factor = std::max(0.0, *slope);
}

/// A stock does not grow, nor does a filled tank empty, unless something was made, moved in or moved out. More than
/// the scatter of the two counts explains is a slip of the pen or a transfer that nobody logged.
void doubt_what_appeared(const model::Mission& mission, const model::Item& item, const model::MarginRules& rules,
                         const model::Facts& facts, const Count& before, const Count& now, std::vector<Doubt>& doubts) {
  const bool fills_up = item.sort == model::ItemSort::capacity;
  const double moved = moved_between(facts, item.id, now.row.place, before.row.when, now.row.when);
  const double made = fills_up ? 0 : use_of_place(mission, item, now.row.place, before.row.when, now.row.when).make;
  const double appeared = (now.row.quantity - before.row.quantity - moved - made) * (fills_up ? -1 : 1);
  const auto sigma_of = [&](const Count& count) {
    const auto sigma = item.sigma.find(count.row.method);
    return sigma == item.sigma.end() ? 0 : sigma->second;
  };
  const double scatter = rules.conflict_sigmas * std::hypot(sigma_of(before), sigma_of(now));
  constexpr double hair = 1e-9;
  if (appeared <= scatter + hair) return;
  doubts.push_back({fmt::format("count in {} is {:.4g} {} {} than what can be there", now.row.place, appeared,
                                item.unit->spelling, fills_up ? "less" : "more"),
                    now.row.from.source});
}

}  // namespace

bool is_there(const model::Mission& mission, const model::Place& place, Instant when) {
  const auto* event = model::find_by_id(mission.events, place.until);
  return event == nullptr || when < event->at;
}

bool is_available(const model::Mission& mission, const model::Place& place, Instant when) {
  return place.state == model::PlaceState::usable && is_there(mission, place, when);
}

ItemLevel find_level(const model::Mission& mission, const model::Item& item, const model::MarginRules& rules,
                     const model::Facts& facts, Instant cutoff) {
  ItemLevel level;
  level.item = &item;
  level.is_complete = true;
  level.doubts = doubts_about(facts, model::Log::counts, item.id);
  for (const Doubt& doubt : doubts_about(facts, model::Log::transfers, item.id)) level.doubts.push_back(doubt);
  for (const auto& fact : facts.transfers) {
    if (fact.row.item == item.id) add_conflicts(fact, "transfer " + fact.row.transfer, level.doubts);
  }
  if (cutoff > mission.required_end())
    level.doubts.push_back({"the last landing opportunity is past", mission.landing_days.back().source});
  const double oldest_hours = item.count_every_hours.value_or(rules.count_every_hours);
  const bool fills_up = item.sort == model::ItemSort::capacity;
  for (const std::string& id : item.places) {
    PlaceLevel here;
    here.place = model::find_by_id(mission.places, id);
    if (!is_available(mission, *here.place, cutoff)) continue;
    const auto counts = counts_of(mission, item, id, facts);
    if (counts.empty()) {
      level.is_complete = false;
      level.doubts.push_back({fmt::format("never counted in {}", here.place->title), item.source});
      level.places.push_back(here);
      continue;
    }
    here.count = counts.back();
    if (counts.size() > 1)
      doubt_what_appeared(mission, item, rules, facts, *counts[counts.size() - 2], *here.count, level.doubts);
    const auto& row = here.count->row;
    const PlannedUse use = use_of_place(mission, item, id, row.when, cutoff);
    here.drawn = use.draw;
    here.made = use.make;
    here.moved = moved_between(facts, item.id, id, row.when, cutoff);
    const double change = (fills_up ? here.drawn : here.made - here.drawn) + here.moved;
    here.level = row.quantity + change;
    for (const auto& rival : here.count->rivals) {
      const double other = rival.quantity + change;
      const bool is_worse =
          fills_up ? other > here.other_level.value_or(here.level) : other < here.other_level.value_or(here.level);
      if (is_worse) here.other_level = other;
    }
    add_conflicts(*here.count, fmt::format("count in {}", here.place->title), level.doubts);
    const double age_hours = model::in_days(cutoff - row.when) * 24;
    if (age_hours > oldest_hours) {
      level.doubts.push_back(
          {fmt::format("count in {} is {:.0f} h old, limit {:g} h", here.place->title, age_hours, oldest_hours),
           row.from.source});
    }
    level.places.push_back(here);
  }
  measure_rate(mission, rules, facts, level);
  return level;
}

}  // namespace daywright::rules
