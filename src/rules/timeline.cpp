#include "rules/timeline.h"

#include <algorithm>
#include <cassert>

namespace daywright::rules {
namespace {

using model::Instant;

/// From when on which day kind holds.
struct KindStart {
  Instant begin;
  const model::DayKind* kind;
  std::string_view title;
};

std::vector<KindStart> kind_starts(const model::Mission& mission) {
  std::vector<KindStart> starts;
  for (const auto& phase : mission.phases) {
    starts.push_back({phase.start, model::find_by_id(mission.day_kinds, phase.kind), phase.title});
  }
  for (std::size_t i = 1; i < mission.landing_days.size(); ++i) {
    const auto* kind = model::find_by_id(mission.day_kinds, mission.landing_days[i].kind);
    starts.push_back({mission.landing_days[i - 1].opportunities.back(), kind, kind->title});
  }
  const auto* after = model::find_by_id(mission.day_kinds, mission.margin_kind);
  starts.push_back({mission.required_end(), after, after->title});
  return starts;
}

double override_or(const std::map<std::string, double>& overrides, const std::string& item, double otherwise) {
  const auto found = overrides.find(item);
  return found == overrides.end() ? otherwise : found->second;
}

}  // namespace

std::vector<Stretch> stretches(const model::Mission& mission, Instant from, Instant to) {
  std::vector<Stretch> result;
  if (to <= from) return result;
  const auto starts = kind_starts(mission);
  std::vector<Instant> cuts{from, to};
  const auto add_cut = [&](Instant when) {
    if (when > from && when < to) cuts.push_back(when);
  };
  for (const auto& start : starts) add_cut(start.begin);
  for (const auto& person : mission.persons) {
    for (const auto& stay : person.stays) add_cut(stay.from);
  }
  std::sort(cuts.begin(), cuts.end());
  cuts.erase(std::unique(cuts.begin(), cuts.end()), cuts.end());
  for (std::size_t i = 1; i < cuts.size(); ++i) {
    const auto after = std::upper_bound(starts.begin(), starts.end(), cuts[i - 1],
                                        [](Instant t, const KindStart& s) { return t < s.begin; });
    const KindStart& holds = after == starts.begin() ? starts.front() : *std::prev(after);
    result.push_back({cuts[i - 1], cuts[i], holds.kind, holds.title});
  }
  return result;
}

const std::string* vehicle_of(const model::Person& person, Instant when) {
  const std::string* where = nullptr;
  for (const auto& stay : person.stays) {
    if (stay.from <= when) where = &stay.vehicle;
  }
  return where;
}

int crew_aboard(const model::Mission& mission, const std::string& vehicle, Instant when) {
  int aboard = 0;
  for (const auto& person : mission.persons) {
    const std::string* where = vehicle_of(person, when);
    if (where != nullptr && *where == vehicle) ++aboard;
  }
  return aboard;
}

double event_draw(const model::Item& item, const std::string& kind) {
  const auto found = item.per_event.find(kind);
  return found == item.per_event.end() ? 0 : found->second;
}

double daily_draw(const model::Item& item, const model::DayKind& kind, int crew) {
  const int persons = kind.crew.value_or(crew);
  double draw = override_or(kind.per_crew_day, item.id, item.per_crew_day) * persons +
                override_or(kind.per_day, item.id, item.per_day) + item.per_kwh * kind.power_kw * 24;
  // Change-outs on a schedule waste part of a rated life, so where there is a schedule it alone counts.
  if (item.rated_crew_hours > 0 && item.per_event.empty()) draw += persons * 24 / item.rated_crew_hours;
  for (const auto& [event, number] : kind.events_per_day) draw += number * event_draw(item, event);
  return draw;
}

double daily_make(const model::Mission& mission, const model::Item& item, const model::DayKind& kind, int crew) {
  if (item.made_from.empty()) return 0;
  const auto* from = model::find_by_id(mission.items, item.made_from);
  return item.made_ratio * daily_draw(*from, kind, crew);
}

PlannedUse planned_use(const model::Mission& mission, const model::Item& item, Instant from, Instant to) {
  PlannedUse use;
  for (const Stretch& stretch : stretches(mission, from, to)) {
    const int crew = crew_aboard(mission, item.vehicle, stretch.begin);
    use.draw += daily_draw(item, *stretch.kind, crew) * stretch.days();
    use.make += daily_make(mission, item, *stretch.kind, crew) * stretch.days();
  }
  const auto* made_from = item.made_from.empty() ? nullptr : model::find_by_id(mission.items, item.made_from);
  for (const auto& event : mission.events) {
    if (event.at <= from || event.at > to) continue;
    use.draw += event_draw(item, event.kind);
    if (made_from != nullptr) use.make += item.made_ratio * event_draw(*made_from, event.kind);
  }
  return use;
}

const std::vector<std::string>& draw_order(const model::Mission& mission, const model::Item& item, Instant when) {
  const std::vector<std::string>* order = &item.places;
  Instant latest = Instant::min();
  for (const auto& rule : item.draw) {
    const auto* phase = model::find_by_id(mission.phases, rule.phase);
    if (phase == nullptr) continue;  // it is not flown any more
    if (phase->start <= when && phase->start >= latest) {
      order = &rule.places;
      latest = phase->start;
    }
  }
  return *order;
}

model::Mission extend(const model::Mission& mission, int days) {
  assert(days >= 0);
  if (days == 0) return mission;
  model::Mission longer = mission;
  const Instant at = model::find_by_id(mission.events, mission.extension_before)->at;
  const auto added = model::day_length * days;
  const auto shift = [&](Instant& when) {
    if (when >= at) when += added;
  };
  for (auto& gate : longer.gates) {
    // A gate moves with its event, also where its poll lies before the added days.
    if (model::find_by_id(mission.events, gate.event)->at >= at) gate.poll += added;
  }
  for (auto& event : longer.events) shift(event.at);
  for (auto& person : longer.persons) {
    for (auto& stay : person.stays) shift(stay.from);
  }
  for (auto& day : longer.landing_days) {
    for (auto& opportunity : day.opportunities) shift(opportunity);
  }
  longer.flight_days = mission.flight_days.with_days_added(at, days);
  longer.planned_days += days;
  longer.transfer_delay = {std::min(at, mission.transfer_delay.at), mission.transfer_delay.by + added};

  longer.phases.clear();
  for (const auto& phase : mission.phases) {
    if (phase.start < at) longer.phases.push_back(phase);
  }
  const auto* kind = model::find_by_id(mission.day_kinds, mission.extension_kind);
  const bool splits_a_phase =
      std::none_of(mission.phases.begin(), mission.phases.end(), [&](const auto& p) { return p.start == at; });
  model::Phase resumed = longer.phases.back();
  longer.phases.push_back({"", kind->title, at, kind->id, kind->source});
  if (splits_a_phase) {
    resumed.start = at + added;
    resumed.id.clear();  // draw rules start with the first part
    longer.phases.push_back(resumed);
  }
  for (auto phase : mission.phases) {
    if (phase.start < at) continue;
    phase.start += added;
    longer.phases.push_back(std::move(phase));
  }
  return longer;
}

}  // namespace daywright::rules
