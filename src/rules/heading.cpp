// What the brief says first: mission, time, supplies and extension. Tables: limiting, extension_next.

#include <algorithm>

#include <fmt/format.h>

#include "rules/assembly.h"

namespace daywright::rules {

using model::Cell;
using model::Table;

/// What the archive held, so that this brief is a witness of it.
void add_filed(Assembly& a) {
  const auto& filed = a.issue.filed;
  const auto& day = a.evening.day;
  constexpr std::size_t shown_digits = 16;
  auto& figures = a.figures();
  const auto trace = [&](const char* formula) {
    return model::Trace{formula,
                        {from_file("day", fmt::format("{} {}", a.mission().words.day, day.number), day.source)}};
  };
  figures.count({"archive.count",
                 "filed before this day",
                 trace("the longest beginning of the archive that holds only days before this one"),
                 {}},
                static_cast<std::size_t>(filed.count));
  std::string head =
      filed.count == 0 ? "none" : fmt::format("{}:{}", filed.count, filed.digest.substr(0, shown_digits));
  if (!filed.fault.empty()) head = "NOT SOUND, " + filed.fault;
  figures.words({"archive.head",
                 "count and head of the archive",
                 trace("the number of the last of these, and the first 16 digits of its digest"),
                 {}},
                head);
}

void add_mission(Assembly& a) {
  const auto& mission = a.mission();
  const auto& day = a.evening.day;
  (void)a.quote("words.day", "word for a day", mission.words.day, mission.source);
  (void)a.quote("words.elapsed", "word for elapsed time", mission.words.elapsed, mission.source);
  (void)a.quote("words.landing", "word for the end of the mission", mission.words.landing, mission.source);
  (void)a.quote("mission.name", "mission", mission.name, mission.source);
  Table destination{"destination", "Destination", {{"destination", "Destination", "", false, true}}, {}, 0};
  const Cell to = a.quote("mission.destination", "destination", mission.destination, mission.source);
  if (!mission.destination.empty()) destination.rows.push_back({to});
  a.status.tables.push_back(std::move(destination));
  (void)a.quote("mission.lead", "title of who prepares the brief", mission.lead_title, mission.source);
  (void)a.quote("mission.approved_by", "approved by", mission.approved_by, mission.source);
  (void)a.quote("mission.audience", "for", mission.audience, mission.source);
  (void)a.quote("day.prepared_by", "prepared by", day.prepared_by, day.source);
  (void)a.quote("day.start", "day starts", std::optional(day.start), day.source);
  (void)a.quote("day.end", "day ends", std::optional(day.end), day.source);
  auto& figures = a.figures();
  const auto trace = [&](const char* formula) {
    return model::Trace{formula, {from_file("cut-off", model::format_utc(a.evening.cutoff), day.cutoff_source)}};
  };
  figures.words(
      {"now.utc", "data cut-off, UTC", trace("the cut-off of the run, else of the day, else the day's end"), {}},
      model::format_utc(a.evening.cutoff));
  figures.count({"now.flight_day",
                 "day at the cut-off",
                 trace("the first day begins at the start of the mission, each later one at its planned wake-up"),
                 {}},
                static_cast<std::size_t>(std::max(0, mission.flight_days.number_at(a.evening.cutoff))));
  figures.words({"now.met", "elapsed time at the cut-off", trace("cut-off less the start of the mission"), {}},
                model::format_elapsed(a.evening.cutoff - mission.launch));
  figures.count({"brief.revision",
                 "revision",
                 {"sealed revisions of this day, plus one",
                  {from_file("day", fmt::format("{} {}", mission.words.day, day.number), day.source)}},
                 {}},
                static_cast<std::size_t>(a.issue.filed.revisions + 1));
  add_filed(a);
  (void)a.quote("plan.landing", "end as planned", std::optional(mission.landing()),
                mission.landing_days.front().source);
}

void add_supplies(Assembly& a) {
  const auto& mission = a.mission();
  auto& figures = a.figures();
  (void)a.quote("supplies.needed_through", "supplies needed through", std::optional(mission.required_end()),
                mission.landing_days.back().source);
  model::Trace trace{"the first instant at which an item falls to its reserve, on the governing basis", {}};
  std::optional<model::Instant> through;
  std::vector<std::string> doubts;
  std::string without;
  for (const ItemMargins& item : a.now.margins) {
    const auto& plan = *item.level->item;
    if (const auto* lasts = figures.find("item." + plan.id + ".through")) trace.inputs.push_back(from_figure(*lasts));
    if (!item.governing || !item.level->doubts.empty()) {
      doubts.push_back("no sound margin for " + plan.title);
      without += (without.empty() ? "" : "; ") + plan.title;
    }
    const bool is_used = item.governing && item.governing->lasts_to_a_time();
    if (is_used && (!through || item.governing->through < *through)) through = item.governing->through;
  }
  trace.inputs.push_back(from_file("plan", mission.name, mission.source));
  if (through) through = std::chrono::floor<std::chrono::hours>(*through);
  figures.instant({"supplies.through", "supplies through", trace, doubts}, through);
  figures.words({"supplies.without_margin", "items without a sound margin", trace, {}},
                without.empty() ? "none" : without);

  Table limiting{
      "limiting",
      "Limiting item",
      {{"item", "Item", "", false, true}, {"words", "Margin", "", false, true}, {"basis", "Basis", "", false, true}},
      {},
      0};
  if (const ItemMargins* item = find_limiting(a.now.margins)) {
    const std::string id = "item." + item->level->item->id + ".";
    model::Trace why{"the item with the fewest days", {from_figure(figures.at(id + "margin.words"))}};
    figures.words({"supplies.limiting", "limiting item", std::move(why), {}}, item->level->item->title);
    limiting.rows.push_back(
        {Cell::of("supplies.limiting"), Cell::of(id + "margin.words"), Cell::of(id + "margin.basis")});
  }
  a.status.tables.push_back(std::move(limiting));
}

namespace {

/// The extension by one day more than is supported: its verdict, what holds it, and the hours gained towards it.
void add_extension_line(Assembly& a) {
  Table table{"extension_next",
              "Extension",
              {{"days", "Days more", "d", true, true},
               {"verdict", "Verdict", "", false, true},
               {"reason", "Held by", "", false, true},
               {"hours", "Hours gained", "h", true, true},
               {"supported", "Supported", "d", true, true}},
              {},
              0};
  auto& figures = a.figures();
  const auto& cases = a.extension;
  const auto refused =
      std::find_if(cases.begin(), cases.end(), [](const auto& with) { return with.verdict != model::Verdict::ready; });
  const auto supported = static_cast<int>(refused - cases.begin()) - 1;  // -1: not even the flight as planned
  model::Trace trace{"the largest number of days such that it and every smaller one is supported", {}};
  for (const auto& with : cases)
    trace.inputs.push_back(from_figure(figures.at(fmt::format("extension.by_{}.verdict", with.days))));
  trace.inputs.push_back(
      from_file("event before which days are added", a.mission().extension_before, a.mission().source));
  const bool fails_as_planned = !cases.empty() && cases.front().verdict == model::Verdict::not_ready;
  if (fails_as_planned) {
    figures.words({"extension.supported", "days of extension supported", trace, {}}, "none, the plan itself is not");
  } else {
    const auto value = supported >= 0 ? std::optional<double>(supported) : std::nullopt;
    figures.number({"extension.supported", "days of extension supported", trace, {}}, value, "d", 1,
                   model::Rounding::down);
  }
  const std::size_t next = static_cast<std::size_t>(std::max(supported, 0)) + 1;
  if (next < cases.size()) {
    trace.formula =
        "room of the tightest item over the use of an extension day, in whole hours, at the flight length that is "
        "supported";
    figures.number({"extension.hours_gained", "hours gained towards the next day", trace, {}},
                   cases[next - 1].hours_gained, "h", 1, model::Rounding::down);
    figures.number({"extension.hours_wanted",
                    "hours of a day",
                    {"a day has that many", {from_file("plan", a.mission().name, a.mission().source)}},
                    {}},
                   24, "h", 1, model::Rounding::nearest);
    const std::string id = fmt::format("extension.by_{}.", cases[next].days);
    table.rows.push_back({Cell::of(id + "days"), Cell::of(id + "verdict"), Cell::of(id + "reason"),
                          Cell::of("extension.hours_gained"), Cell::of("extension.supported")});
  }
  a.status.tables.push_back(std::move(table));
}

}  // namespace

void add_heading(Assembly& a) {
  add_mission(a);
  add_supplies(a);
  add_extension_line(a);
}

}  // namespace daywright::rules
