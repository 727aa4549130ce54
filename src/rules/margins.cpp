#include "rules/margins.h"

#include <algorithm>
#include <cmath>

#include "rules/course.h"
#include "rules/item_plan.h"
#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Instant;

/// A stock that lasts exactly to the required end is not short: the last binary digits of a long sum are noise.
/// The same share of a step as in rounding, so that the verdict is that of the figure that is shown.
double without_noise(double margin, double step) { return std::abs(margin) < step * 1e-9 ? 0 : margin; }

/// When the margin falls below zero between two waypoints; it runs straight from `before` to `now`.
Instant crossing(const Waypoint& before, double margin_before, const Waypoint& now, double margin_now) {
  const double share = margin_before > 0 ? margin_before / (margin_before - margin_now) : 0;
  return before.at + model::from_days(share * model::in_days(now.at - before.at));
}

/// The smallest margin along the way. `daily` is the net use that turns units into days.
Margin smallest_margin(const ItemPlan& plan, const std::vector<Waypoint>& way, double daily) {
  Margin margin;
  double before = 0;
  for (std::size_t i = 0; i < way.size(); ++i) {
    const Waypoint& here = way[i];
    const double units = without_noise(here.margin(), plan.item->step);
    if (i == 0 || units < margin.units) {
      margin.units = units;
      margin.at = here.at;
      margin.phase = here.phase;
      margin.drawn = here.drawn;
      margin.made = here.made;
      margin.moved = here.moved;
      margin.held = here.held;
    }
    if (units < 0 && !margin.first_short)
      margin.first_short = i == 0 ? here.at : crossing(way[i - 1], before, here, units);
    before = units;
  }
  margin.usable = way.front().usable;
  constexpr double nothing = 1e-12;
  const auto& per_event = plan.item->per_event;
  if (daily > nothing) {
    margin.days = margin.units / daily;
  } else if (per_event.size() == 1 && per_event.begin()->second > 0) {
    margin.events = margin.units / per_event.begin()->second;
  }
  constexpr double far = 36500;  // days: beyond any flight, within what an instant can hold
  margin.through = margin.first_short ? *margin.first_short
                                      : plan.end + model::from_days(margin.days ? std::min(*margin.days, far) : far);
  return margin;
}

Margin margin_on(const ItemPlan& plan, const Course& course) {
  return smallest_margin(plan, follow(plan, course), course.factor * plan.last_draw - plan.last_make);
}

Course course_of(const ItemLevel& level, double factor) {
  Course course;
  course.factor = factor;
  for (const auto& place : level.places)
    course.starts.push_back({place.place->id, place.other_level.value_or(place.level), place.drawn, 0});
  return course;
}

/// Whether anything of the item is used day by day on any kind of day. What is used in events alone has no rate to
/// measure: it is taken at plan.
bool needs_measured_rate(const model::Mission& mission, const model::Item& item) {
  return std::any_of(mission.day_kinds.begin(), mission.day_kinds.end(),
                     [&](const model::DayKind& kind) { return daily_draw(item, kind, 1) > 0; });
}

}  // namespace

bool is_tighter(const Margin& a, const Margin& b) {
  if (a.days && b.days) return *a.days < *b.days;
  if (a.is_covered() != b.is_covered()) return !a.is_covered();
  if (a.days.has_value() != b.days.has_value()) return a.days.has_value();
  return a.units < b.units;
}

std::vector<ItemMargins> compute_margins(const model::Mission& mission, const model::MarginRules& rules,
                                         const model::Facts& facts, const std::vector<ItemLevel>& levels,
                                         Instant cutoff) {
  const std::vector<Stretch> flight = stretches(mission, cutoff, mission.required_end());
  std::vector<ItemMargins> all;
  for (const ItemLevel& level : levels) {
    ItemMargins margins;
    margins.level = &level;
    const auto* kind = model::find_by_id(mission.day_kinds, mission.margin_kind);
    const int crew = crew_aboard(mission, level.item->vehicle, mission.required_end());
    margins.daily = daily_draw(*level.item, *kind, crew) - daily_make(mission, *level.item, *kind, crew);
    if (level.is_complete && cutoff <= mission.required_end()) {
      const auto factor = needs_measured_rate(mission, *level.item) ? level.factor : std::optional(1.0);
      const ItemPlan plan = plan_item(mission, flight, *level.item, facts, {}, cutoff);
      margins.plan = margin_on(plan, course_of(level, 1));
      if (factor) margins.measured = margin_on(plan, course_of(level, *factor));
      bool has_all = true;
      for (const model::Basis basis : rules.bases) {
        const auto& margin = basis == model::Basis::plan ? margins.plan : margins.measured;
        if (!margin) {
          has_all = false;
          margins.gaps.emplace_back("too few counts for a measured rate");
        } else if (!margins.governing || is_tighter(*margin, *margins.governing)) {
          margins.governing = margin;
          margins.governing_basis = basis;
        }
      }
      if (!has_all) margins.governing.reset();
      if (margins.governing) {
        const bool at_plan = margins.governing_basis == model::Basis::plan;
        const ItemPlan with = plan_item(mission, flight, *level.item, facts, {.all_in = true}, cutoff);
        margins.with_transfers = margin_on(with, course_of(level, at_plan ? 1.0 : *factor));
      }
    }
    all.push_back(std::move(margins));
  }
  return all;
}

const ItemMargins* find_limiting(const std::vector<ItemMargins>& margins) {
  const ItemMargins* limiting = nullptr;
  for (const ItemMargins& item : margins) {
    if (!item.governing || (!item.governing->days && item.governing->is_covered())) continue;
    if (limiting == nullptr || is_tighter(*item.governing, *limiting->governing)) limiting = &item;
  }
  return limiting;
}

}  // namespace daywright::rules
