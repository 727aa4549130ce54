// Small plans and facts for the tests of the rules, with defaults that say what they are.
//
// A test names only what it is about: one vehicle, one tank, a crew, ten planned days from launch to landing.
#pragma once

#include <algorithm>
#include <chrono>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <variant>
#include <vector>

#include "catch_compat.h"
#include "model/instant.h"
#include "model/log.h"
#include "model/mission.h"
#include "model/quantity.h"
#include "model/rulebook.h"
#include "model/status.h"
#include "rules/evaluation.h"
#include "rules/levels.h"
#include "rules/margins.h"
#include "rules/status.h"

namespace daywright::test {

/// 2031-05-06T12:00Z, made up.
inline const model::Instant launch =
    std::chrono::sys_days{std::chrono::year{2031} / std::chrono::May / 6} + std::chrono::hours{12};

/// So many days of 24 h after launch.
inline model::Instant day(int number) { return launch + number * model::day_length; }

/// What the plan of make_mission() looks like.
struct MissionShape {
  int crew = 3;
  model::Duration planned = 10 * model::day_length;  ///< from launch to the planned landing
  int waiting_days = 0;                              ///< landing days after the planned one, 24 h apart
  double power_kw = 0;                               ///< on every kind of day
};

/// One vehicle 'ship' with one place 'tank'; persons 'p1' ... aboard from launch to the end; day kinds 'work' and
/// 'wave_off' that differ in nothing but their name; one phase 'flight'; the event 'landing'; ways of counting
/// 'gauge' and 'tally'. Margins are turned into days at 'wave_off' rates.
inline model::Mission make_mission(const MissionShape& shape = {}) {
  model::Mission mission;
  mission.name = "Tern";
  mission.vehicle = "ship";
  mission.launch = launch;
  mission.planned_days = static_cast<int>(shape.planned / model::day_length);
  mission.flight_days = model::FlightDays({launch});
  mission.extension_before = "landing";
  mission.extension_kind = "work";
  mission.margin_kind = "wave_off";
  mission.vehicles.push_back({"ship", "Ship", {}});
  mission.places.push_back({"tank", "Tank", "ship", model::PlaceState::usable, "", {}});
  for (int i = 1; i <= shape.crew; ++i)
    mission.persons.push_back({"p" + std::to_string(i), "Crew", {{launch, "ship"}}, "ship", {}});
  for (const auto& [id, title] : {std::pair{"work", "Work day"}, std::pair{"wave_off", "Wave-off day"}}) {
    model::DayKind kind;
    kind.id = id;
    kind.title = title;
    kind.power_kw = shape.power_kw;
    mission.day_kinds.push_back(std::move(kind));
  }
  mission.phases.push_back({"flight", "Flight", launch, "work", {}});
  const model::Instant landing = launch + shape.planned;
  mission.events.push_back({"landing", "Landing", landing, "landing", {}});
  mission.landing_days.push_back({"planned", {landing}, {}});
  for (int i = 1; i <= shape.waiting_days; ++i)
    mission.landing_days.push_back({"wave_off", {landing + i * model::day_length}, {}});
  mission.methods.push_back({"gauge", model::CountKind::gauge, {}});
  mission.methods.push_back({"tally", model::CountKind::tally, {}});
  return mission;
}

/// A stock in the tank that nothing draws from: the test adds its rates.
inline model::Item make_item(std::string id, std::string_view unit = "kg") {
  model::Item item;
  item.title = id;
  item.id = std::move(id);
  item.unit = model::find_unit(unit);
  REQUIRE(item.unit != nullptr);
  item.vehicle = "ship";
  item.places = {"tank"};
  return item;
}

/// A stock in the tank that every person draws from at `rate` a day.
inline model::Item make_item(std::string id, std::string_view unit, double rate_per_crew_day) {
  model::Item item = make_item(std::move(id), unit);
  item.per_crew_day = rate_per_crew_day;
  return item;
}

/// Room in the tank, empty at first, that every person fills at `rate` a day.
inline model::Item make_capacity(std::string id, double room, double rate_per_crew_day) {
  model::Item item = make_item(std::move(id), "kg", rate_per_crew_day);
  item.sort = model::ItemSort::capacity;
  item.capacity["tank"] = room;
  return item;
}

/// Makes `item` out of what is used of `source`, `ratio` for each unit, into `place`.
inline void set_made_from(model::Item& item, std::string source, double ratio, std::string place = "tank") {
  item.made_from = std::move(source);
  item.made_ratio = ratio;
  item.made_into = std::move(place);
}

/// A further item 'cells' that `per_day` is used of. The first item of the plan is made out of it.
inline void add_cells(model::Mission& mission, double per_day, double ratio, std::string place = "tank") {
  mission.items.push_back(make_item("cells"));
  mission.items.back().per_day = per_day;
  set_made_from(mission.items.front(), "cells", ratio, std::move(place));
}

/// A reserve of so much, held to the end where no event releases it.
inline model::ReserveLine make_reserve(double quantity, std::string released_by = "") {
  model::ReserveLine line;
  line.quantity = quantity;
  line.released_by = std::move(released_by);
  return line;
}

/// A reserve of so many days of waiting.
inline model::ReserveLine make_day_reserve(double days) {
  model::ReserveLine line;
  line.days = days;
  line.kind = "wave_off";
  return line;
}

/// A reserve of one event.
inline model::ReserveLine make_event_reserve(std::string kind) {
  model::ReserveLine line;
  line.event_kind = std::move(kind);
  return line;
}

inline model::Merged<model::CountRow> make_count(std::string item, double quantity, model::Instant when = launch,
                                                 std::string place = "tank") {
  model::Merged<model::CountRow> count;
  count.row.item = std::move(item);
  count.row.quantity = quantity;
  count.row.when = when;
  count.row.place = std::move(place);
  count.row.method = "gauge";
  return count;
}

/// Adds one count a day from launch on. Facts come in order of item, place and time.
inline void count_daily(model::Facts& facts, const std::string& item, const std::vector<double>& values,
                        const std::string& place = "tank") {
  for (std::size_t i = 0; i < values.size(); ++i)
    facts.counts.push_back(make_count(item, values[i], day(static_cast<int>(i)), place));
  std::stable_sort(facts.counts.begin(), facts.counts.end(), [](const auto& a, const auto& b) {
    return std::tie(a.row.item, a.row.place) < std::tie(b.row.item, b.row.place);
  });
}

/// A transfer that is planned.
inline model::Merged<model::TransferRow> make_transfer(std::string item, double quantity, model::Instant when,
                                                       std::string from, std::string to) {
  model::Merged<model::TransferRow> transfer;
  transfer.row.transfer = "t";
  transfer.row.item = std::move(item);
  transfer.row.quantity = quantity;
  transfer.row.when = when;
  transfer.row.from_place = std::move(from);
  transfer.row.to_place = std::move(to);
  return transfer;
}

/// A transfer that was made.
inline model::Merged<model::TransferRow> make_done_transfer(std::string item, double quantity, model::Instant when,
                                                            std::string from, std::string to) {
  auto transfer = make_transfer(std::move(item), quantity, when, std::move(from), std::move(to));
  transfer.row.state = model::TransferState::done;
  return transfer;
}

/// An approved decision that the leak of water is closed.
inline model::Merged<model::DecisionRow> make_repair(model::Instant effective, std::string authority = "board") {
  model::Merged<model::DecisionRow> decision;
  decision.row.state = model::DecisionState::approved;
  decision.row.authority = std::move(authority);
  decision.row.effective = effective;
  decision.row.change = model::LeakClosed{"water"};
  return decision;
}

/// Another place of the ship, there until `until` where that is not empty.
inline void add_place(model::Mission& mission, std::string id, std::string until = "", std::string vehicle = "ship") {
  mission.places.push_back({id, id, std::move(vehicle), model::PlaceState::usable, std::move(until), {}});
}

/// An event that is of its own kind.
inline void add_event(model::Mission& mission, const std::string& id, model::Instant at) {
  mission.events.push_back({id, id, at, id, {}});
}

/// A further phase; phases are added in order of time.
inline void add_phase(model::Mission& mission, const std::string& id, model::Instant start,
                      const std::string& kind = "work") {
  mission.phases.push_back({id, id, start, kind, {}});
}

/// So many persons who drink 1 kg a day each from the tank, the only place of the water; a bag stands beside it.
inline model::Mission make_drinkers(int crew) {
  model::Mission mission = make_mission({.crew = crew});
  add_place(mission, "bag");
  mission.items = {make_item("water", "kg", 1)};
  return mission;
}

/// The same beside a depot with a shelf, which is out of reach after undocking on day 4.
inline model::Mission make_docked_drinkers(int crew) {
  model::Mission mission = make_drinkers(crew);
  mission.vehicles.push_back({"depot", "Depot", {}});
  add_event(mission, "undock", day(4));
  add_place(mission, "shelf", "undock", "depot");
  return mission;
}

/// A kind of day without power and without rates of its own.
inline model::DayKind& add_day_kind(model::Mission& mission, const std::string& id) {
  model::DayKind kind;
  kind.id = id;
  kind.title = id;
  return mission.day_kinds.emplace_back(std::move(kind));
}

/// A way home that is flown as 'work' and lands 12 h after the decision, on one of `opportunities`.
inline model::ReturnOption make_return(std::vector<model::Instant> opportunities) {
  model::ReturnOption option;
  option.id = "home";
  option.title = "Home at once";
  option.kind = "work";
  option.hours = 12;
  option.opportunities = std::move(opportunities);
  return option;
}

/// A planned task for one person without a name.
inline model::Merged<model::PlanRow> make_plan(std::string task, int flight_day = 1, std::string gate = "") {
  model::Merged<model::PlanRow> plan;
  plan.row.task = std::move(task);
  plan.row.title = "Task";
  plan.row.day = flight_day;
  plan.row.minutes = 30;
  plan.row.gate = std::move(gate);
  return plan;
}

/// How far a task is, by a row that begins at `begin`. Facts come in order of task and beginning.
inline model::Merged<model::TaskRow> make_task(std::string task, model::TaskState state, double percent,
                                               model::Instant begin = launch) {
  model::Merged<model::TaskRow> row;
  row.row.task = std::move(task);
  row.row.state = state;
  row.row.percent = percent;
  row.row.begin = begin;
  return row;
}

/// A survey that was taken, received and reviewed within an hour each.
inline model::Merged<model::SurveyRow> make_survey(std::string survey, std::string zone, double coverage,
                                                   model::Instant taken) {
  model::Merged<model::SurveyRow> row;
  row.row.survey = std::move(survey);
  row.row.zone = std::move(zone);
  row.row.kind = "wide";
  row.row.coverage = coverage;
  row.row.taken = taken;
  row.row.received = taken + std::chrono::hours{1};
  row.row.reviewed = taken + std::chrono::hours{2};
  return row;
}

/// What the board says of a zone, for the gate 'entry'.
inline model::Merged<model::ClearanceRow> make_clearance(std::string zone, model::ClearanceState state,
                                                         model::Instant effective) {
  model::Merged<model::ClearanceRow> row;
  row.row.zone = std::move(zone);
  row.row.gate = "entry";
  row.row.state = state;
  if (state == model::ClearanceState::cleared_with_conditions) row.row.conditions = "look again";
  row.row.authority = "board";
  row.row.effective = effective;
  return row;
}

/// Settings by which the counts alone speak: nothing is known of the rate before them, none is a miscount, and nothing
/// leaks. Then the estimate is the straight line of least squares, and a single count is carried at plan.
inline model::EstimateSettings counts_alone() {
  model::EstimateSettings settings;
  settings.factor_sd = 1e3;
  settings.factor_drift = 0;
  settings.miscount_chance = 0;
  settings.leak_chance = 0;
  return settings;
}

/// Rules by which only the plan governs: most tests have one count, and no rate can be measured.
inline model::MarginRules at_plan_only() {
  model::MarginRules rules;
  rules.bases = {model::Basis::plan};
  rules.estimate = counts_alone();
  return rules;
}

/// The zone 'nose', which was surveyed in full on day 1 and cleared by the board for the gate 'entry' after it.
inline void add_cleared_nose(model::Mission& mission, model::Facts& facts) {
  mission.zones = {{"nose", "Nose", "ship", {}, {}}};
  facts.surveys = {make_survey("v1", "nose", 100, day(1))};
  facts.clearances = {make_clearance("nose", model::ClearanceState::cleared, day(1) + std::chrono::hours{4})};
}

/// A criterion of the gate 'entry' that wants a figure to be at least `limit`.
inline model::Criterion make_limit(const std::string& figure, double limit, std::string_view unit = "d") {
  model::Criterion criterion;
  criterion.id = criterion.title = "limit";
  criterion.gate = "entry";
  criterion.demand = model::FigureCriterion{figure, model::Comparison::at_least, limit, model::find_unit(unit)};
  return criterion;
}

/// All that one evening is worked out from: no items and no facts yet, margins by the plan alone, and the gate 'entry',
/// polled on day 9. The scenes of the tests add what they are about.
struct EveningScene {
  model::Mission mission;
  model::Rulebook rules;
  model::Facts facts;
  model::Day today;
  model::Instant cutoff;

  explicit EveningScene(model::Instant at, const MissionShape& shape = {}) : mission(make_mission(shape)), cutoff(at) {
    rules.margins = at_plan_only();
    mission.gates = {{"entry", "Entry", "landing", day(9), {}}};
  }

  [[nodiscard]] daywright::rules::Evening evening() const { return {mission, rules, facts, today, cutoff}; }
  /// What a first brief shows, with none before it.
  [[nodiscard]] model::DayStatus status() const { return daywright::rules::compute_status(evening(), nullptr, {}); }
};

inline double number_of(const model::DayStatus& status, const std::string& id) {
  CAPTURE(id);
  const auto* figure = status.find(id);
  REQUIRE(figure != nullptr);
  REQUIRE(std::holds_alternative<double>(figure->value));
  return std::get<double>(figure->value);
}

/// Levels and margins of every item of a plan at one cut-off.
class Balance {
 public:
  /// `mission` and `facts` must outlive the balance.
  Balance(const model::Mission& mission, const model::Facts& facts, model::Instant cutoff = launch,
          const model::MarginRules& rules = at_plan_only()) {
    levels_ = rules::find_levels(mission, rules, facts, cutoff);
    margins_ = rules::compute_margins(mission, rules, facts, levels_, cutoff);
  }
  Balance(const Balance&) = delete;
  Balance(Balance&&) = delete;
  Balance& operator=(const Balance&) = delete;
  Balance& operator=(Balance&&) = delete;
  ~Balance() = default;

  [[nodiscard]] const std::vector<rules::ItemLevel>& levels() const { return levels_; }
  [[nodiscard]] const std::vector<rules::ItemMargins>& margins() const { return margins_; }
  /// All margins of the item with this id.
  [[nodiscard]] const rules::ItemMargins& of(std::string_view id) const {
    const auto found =
        std::find_if(margins_.begin(), margins_.end(), [&](const auto& m) { return m.level->item->id == id; });
    REQUIRE(found != margins_.end());
    return *found;
  }
  /// The margin at plan of the item with this id.
  [[nodiscard]] const rules::Margin& at_plan(std::string_view id) const {
    REQUIRE(of(id).plan.has_value());
    return *of(id).plan;
  }
  /// Its margin in the item's unit as it is shown: rounded down to the item's step.
  [[nodiscard]] double shown(std::string_view id) const {
    return model::round_to(at_plan(id).units, of(id).level->item->step, model::Rounding::down);
  }
  [[nodiscard]] std::string limiting() const {
    const auto* item = rules::find_limiting(margins_);
    return item != nullptr ? item->level->item->id : std::string{};
  }

 private:
  std::vector<rules::ItemLevel> levels_;
  std::vector<rules::ItemMargins> margins_;
};

}  // namespace daywright::test
