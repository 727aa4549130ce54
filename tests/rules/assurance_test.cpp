// What can be used with a given chance, in one step, held against the filter that goes there step by step.
#include "rules/assurance.h"

#include <algorithm>
#include <functional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"
#include "rules/timeline.h"

using daywright::model::Basis;
using daywright::model::Facts;
using daywright::model::in_days;
using daywright::model::Instant;
using daywright::model::MarginRules;
using daywright::model::Mission;
using daywright::model::TransferState;
using namespace daywright::rules;
using daywright::test::add_cells;
using daywright::test::add_day_kind;
using daywright::test::add_event;
using daywright::test::add_phase;
using daywright::test::add_place;
using daywright::test::Balance;
using daywright::test::count_daily;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_capacity;
using daywright::test::make_count;
using daywright::test::make_item;
using daywright::test::make_mission;
using daywright::test::make_reserve;
using daywright::test::make_transfer;
using namespace std::chrono_literals;

namespace {

/// It is day 4 of ten, with a day of waiting after them. Two persons drink 2 kg a day each from the tank, counted once
/// a day, a little off plan and with a dent that a leak may have made. Everything is estimated by the defaults.
struct Scene {
  Mission mission = make_mission({.crew = 2, .waiting_days = 1});
  Facts facts;
  MarginRules rules;
  MadeFactor made;

  Scene() {
    rules.bases = {Basis::assured};
    mission.items = {make_item("water", "kg", 2)};
    mission.items[0].sigma = {{"gauge", 0.4}};
    count_daily(facts, "water", {70, 65.9, 62.3, 57.0, 52.1});
  }
};

/// The bag, from which nothing is drawn as long as the tank comes before it.
void add_bag(Scene& scene) {
  add_place(scene.mission, "bag");
  scene.mission.items[0].places = {"tank", "bag"};
  scene.mission.items[0].residual = {{"bag", 1.5}, {"tank", 2}};
  count_daily(scene.facts, "water", {9, 9.2, 8.9}, "bag");
}

/// The forecast of a scene at its cut-off, in closed form.
struct ClosedForm {
  explicit ClosedForm(const Scene& scene)
      : level(find_level(scene.mission, scene.mission.items[0], scene.rules, scene.facts, day(4), scene.made)),
        plan(plan_item(scene.mission, stretches(scene.mission, day(4), scene.mission.required_end()),
                       scene.mission.items[0], scene.facts, {}, day(4))),
        way(follow(plan, course(), Turnover::kept)),
        forecast(plan, read(), read().estimate, level.made, way) {}

  [[nodiscard]] const CountsRead& read() const { return level.reads.front(); }
  [[nodiscard]] Course course() const {
    Course course;
    for (const auto& place : level.places)
      course.starts.push_back({place.place->id, middle_of(read().estimate.level(*read().index_of(place.place->id)))});
    course.factor = middle_of(read().estimate.factor());
    course.made_factor = level.made.mean;
    return course;
  }
  /// The last waypoint at this instant: after what happens then.
  [[nodiscard]] std::size_t at(Instant when) const {
    const auto after = std::find_if(way.begin(), way.end(), [&](const auto& w) { return w.at > when; });
    REQUIRE(after != way.begin());
    return static_cast<std::size_t>(after - way.begin()) - 1;
  }

  ItemLevel level;
  ItemPlan plan;
  std::vector<Waypoint> way;
  Forecast forecast;
};

/// What the filter says of the levels at `when`, with the future as it would have been gathered had it happened as
/// planned: the transfers are done, and the spans are those of the past.
LevelEstimate filtered(const Scene& scene, const LevelEstimate& now, Instant when) {
  Facts happened = scene.facts;
  for (auto& transfer : happened.transfers) transfer.row.state = TransferState::done;
  const auto counted = gather_history(scene.mission, scene.mission.items[0], happened, when, scene.made,
                                      [](const auto& count) { return CountReading{count.row.quantity, false}; });
  REQUIRE(counted.has_value());
  return forecast_level(scene.rules.estimate, now, counted->history.spans, counted->history.changes,
                        in_days(when - launch));
}

/// Mean and deviation of a mixture are those of what can be used out of a level: room in what fills up.
void check_same(const std::vector<WeightedNormal>& usable, const std::vector<WeightedNormal>& level, const Scene& scene,
                double residual) {
  const auto& item = scene.mission.items[0];
  const bool fills_up = item.sort == daywright::model::ItemSort::capacity;
  const double mean = fills_up ? item.capacity.at("tank") - mean_of(level) : mean_of(level);
  CHECK(mean_of(usable) == Approx(mean - residual).epsilon(1e-9));
  CHECK(sd_of(usable) == Approx(sd_of(level)).epsilon(1e-9));
}

/// At every turn of the plan the closed form says of all places together what the filter says.
void check_all(const Scene& scene) {
  const ClosedForm closed(scene);
  double residual = 0;
  for (const auto& [place, amount] : scene.mission.items[0].residual) residual += amount;
  std::vector<Instant> turns;
  for (const auto& waypoint : closed.way) {
    if (turns.empty() || turns.back() < waypoint.at) turns.push_back(waypoint.at);
  }
  REQUIRE(turns.size() >= 3);
  for (const Instant when : turns) {
    CAPTURE(in_days(when - launch));
    const auto later = filtered(scene, closed.read().estimate, when);
    check_same(closed.forecast.usable_at(closed.at(when)), later.level(), scene, residual);
  }
  for (const int days : {1, 4}) {
    CAPTURE(days);
    const Instant when = scene.mission.required_end() + days * daywright::model::day_length;
    const auto later = filtered(scene, closed.read().estimate, when);
    check_same(closed.forecast.usable_after_end(days), later.level(), scene, residual);
  }
}

}  // namespace

// The closed form against the filter

TEST_CASE("in one step the forecast is what the filter says going step by step") {
  struct Part {
    const char* name;
    std::function<void(Scene&)> add;
  };
  const Part parts[] = {
      {"one place", [](Scene&) {}},
      {"a residual", [](Scene& s) { s.mission.items[0].residual = {{"tank", 3}}; }},
      {"two places", add_bag},
      {"a transfer between them",
       [](Scene& s) {
         add_bag(s);
         s.mission.items[0].transfer_sigma = 0.5;
         s.facts.transfers = {make_transfer("water", 3, day(6), "bag", "tank")};
       }},
      {"a transfer out",
       [](Scene& s) {
         s.mission.items[0].transfer_sigma = 0.5;
         s.facts.transfers = {make_transfer("water", 3, day(6) + 5h, "tank", "")};
       }},
      {"an event that draws more or less",
       [](Scene& s) {
         add_event(s.mission, "burn", day(7));
         s.mission.items[0].per_event = {{"burn", 4}};
         s.mission.items[0].event_sigma = 0.7;
       }},
      {"another kind of day",
       [](Scene& s) {
         add_day_kind(s.mission, "busy").per_crew_day["water"] = 3.5;
         add_phase(s.mission, "late", day(6) + 7h, "busy");
       }},
      {"a crew that grows smaller",
       [](Scene& s) {
         s.mission.vehicles.push_back({"depot", "Depot", {}});
         s.mission.persons[1].stays.push_back({day(8), "depot"});
       }},
      {"another place from a phase on",
       [](Scene& s) {
         add_bag(s);
         add_phase(s.mission, "late", day(6));
         s.mission.items[0].draw = {{"late", {"bag", "tank"}}};
       }},
      {"something made",
       [](Scene& s) {
         add_cells(s.mission, 3, 0.5);
         s.made = {1.2, 0};
       }},
      {"something made in an event",
       [](Scene& s) {
         add_cells(s.mission, 0, 0.5);
         s.mission.items[1].per_event = {{"burn", 3}};
         add_event(s.mission, "burn", day(7));
         s.made = {1.2, 0};
       }},
      {"a gauge whose error repeats", [](Scene& s) { s.mission.items[0].bias = {{"gauge", 0.6}}; }},
      {"a likely leak",
       [](Scene& s) {
         s.rules.estimate.leak_chance = 0.5;
         for (auto& count : s.facts.counts) count.row.quantity -= 2 * std::max(0.0, in_days(count.row.when - day(2)));
       }},
      {"room",
       [](Scene& s) {
         s.mission.items = {make_capacity("waste", 120, 2)};
         s.mission.items[0].sigma = {{"gauge", 0.4}};
         s.facts.counts.clear();
         count_daily(s.facts, "waste", {5, 9.2, 12.8, 17.4, 21});
       }},
  };
  for (const Part& part : parts) {
    CAPTURE(part.name);
    Scene scene;
    part.add(scene);
    check_all(scene);
  }
}

TEST_CASE("a leak of one place drains that place and no other in the forecast") {
  Scene scene;
  add_bag(scene);
  add_event(scene.mission, "undock", day(7));
  scene.mission.places[1].until = "undock";
  scene.rules.estimate.leak_chance = 0.5;
  for (auto& count : scene.facts.counts) {
    if (count.row.place == "bag") count.row.quantity -= 1.5 * in_days(count.row.when - launch);
  }
  const ClosedForm closed(scene);
  REQUIRE(closed.read().estimate.leak_chance() > 0.5);
  const auto later = filtered(scene, closed.read().estimate, day(10));
  check_same(closed.forecast.usable_at(closed.at(day(10))), later.level(*closed.read().index_of("tank")), scene, 2);
}

TEST_CASE("a place that goes with its content is no part of what can be used, one that was emptied before still is") {
  for (const bool is_emptied : {false, true}) {
    CAPTURE(is_emptied);
    Scene scene;
    add_bag(scene);
    add_event(scene.mission, "undock", day(8));
    add_phase(scene.mission, "late", day(5));
    scene.mission.places[1].until = "undock";
    // From day 5 on 4 kg a day: by day 8 the bag's 7.5 kg are gone, and without that order none of them.
    if (is_emptied) scene.mission.items[0].draw = {{"late", {"bag", "tank"}}};
    const ClosedForm closed(scene);
    const auto later = filtered(scene, closed.read().estimate, day(10));
    const auto usable = closed.forecast.usable_at(closed.at(day(10)));
    if (is_emptied)
      check_same(usable, later.level(), scene, 3.5);
    else
      check_same(usable, later.level(*closed.read().index_of("tank")), scene, 2);
  }
}

TEST_CASE("what is made is as uncertain as the rate of what it is made from, all along the way") {
  Scene scene;
  add_cells(scene.mission, 3, 0.5);
  scene.facts.counts = {make_count("water", 60, day(4))};
  const auto variance_at = [&](double sd, Instant when) {
    scene.made = {1.2, sd};
    const ClosedForm closed(scene);
    const double deviation = sd_of(closed.forecast.usable_at(closed.at(when)));
    return deviation * deviation;
  };
  for (const int days : {6, 7}) {
    const double made = 0.5 * 3 * days;  // at plan, from day 4 on
    CHECK(variance_at(0.1, day(4 + days)) - variance_at(0, day(4 + days)) == Approx(made * made * 0.01));
  }
}

// Mean and deviation without the mixture

TEST_CASE("mean and deviation in one step are those of the mixture") {
  Scene scene;
  add_bag(scene);
  scene.rules.estimate.leak_chance = 0.4;
  const ClosedForm closed(scene);
  REQUIRE_FALSE(closed.way.empty());
  for (std::size_t i = 0; i < closed.way.size(); ++i) {
    const auto usable = closed.forecast.usable_at(i);
    CHECK(closed.forecast.moments_at(i).mean == Approx(mean_of(usable)).epsilon(1e-9));
    CHECK(closed.forecast.moments_at(i).sd == Approx(sd_of(usable)).epsilon(1e-9));
  }
}

TEST_CASE("what a count would take off the deviation is what the filter says once it is taken") {
  Scene scene;
  add_bag(scene);
  scene.mission.items[0].bias = {{"gauge", 0.6}};
  scene.rules.estimate.leak_chance = 0;
  scene.rules.estimate.miscount_chance = 0;
  const ClosedForm closed(scene);
  REQUIRE(closed.read().estimate.explanations.size() == 1);
  REQUIRE_FALSE(closed.way.empty());
  for (std::size_t place = 0; place < 2; ++place) {
    for (const double variance : {0.01, 0.25, 9.0}) {
      LevelEstimate counted = closed.read().estimate;
      CountFilter filter(counted.layout);
      auto& state = counted.explanations.front().state;
      // Whatever it shows: of a normal distribution only the noise matters.
      (void)filter.take_count(state, {.value = state.mean[place] + 3, .variance = variance, .place = place});
      const Forecast after(closed.plan, closed.read(), counted, closed.level.made, closed.way);
      for (std::size_t i = 0; i < closed.way.size(); ++i) {
        CAPTURE(place, variance, i);
        CHECK(closed.forecast.sd_after_count(i, place, variance) == Approx(after.moments_at(i).sd).epsilon(1e-9));
      }
    }
  }
}

// The smallest margin

TEST_CASE("the assured margin is the smallest that any waypoint has, wherever that is") {
  std::set<Instant> worst;
  int covered = 0;
  int is_short = 0;
  const auto check = [&](double until_undocking, double until_burn, double assurance, double leak_chance) {
    CAPTURE(until_undocking, until_burn, assurance, leak_chance);
    Scene scene;
    add_event(scene.mission, "undock", day(5));
    add_event(scene.mission, "burn", day(8));
    scene.mission.items[0].per_event = {{"burn", 2}};
    scene.mission.items[0].event_sigma = 1;
    scene.mission.items[0].reserve = {make_reserve(until_undocking, "undock"), make_reserve(until_burn, "burn")};
    scene.rules.assurance = assurance;
    scene.rules.leak_shown_from = 100;
    scene.rules.estimate.leak_chance = leak_chance;
    const ClosedForm closed(scene);
    std::vector<double> margins;
    for (std::size_t i = 0; i < closed.way.size(); ++i)
      margins.push_back(quantile_of(closed.forecast.usable_at(i), 1 - assurance / 100) - closed.way[i].held);
    const auto smallest = std::min_element(margins.begin(), margins.end());
    const Balance balance(scene.mission, scene.facts, day(4), scene.rules);
    const Margin& margin = *balance.of("water").assured;
    CHECK(margin.units == Approx(*smallest).margin(1e-9));
    CHECK(margin.at == closed.way[static_cast<std::size_t>(smallest - margins.begin())].at);
    const auto first_short = std::find_if(margins.begin(), margins.end(), [](double m) { return m < 0; });
    REQUIRE(margin.first_short.has_value() == (first_short != margins.end()));
    if (margin.first_short)
      CHECK(*margin.first_short <= closed.way[static_cast<std::size_t>(first_short - margins.begin())].at);
    worst.insert(margin.at);
    ++(margin.first_short ? is_short : covered);
  };
  for (const double assurance : {50.0, 80.0, 95.0, 99.9}) {
    // From a small reserve to one that is short: which waypoint is the worst is for the tail to decide.
    for (double held = 18; held <= 34; held += 0.5) {
      for (const double leak_chance : {0.0, 0.3}) {
        check(held, held / 2, assurance, leak_chance);
        check(held / 4, held, assurance, leak_chance);
      }
    }
  }
  // Before undocking, before the burn and at the end, each was the worst of some.
  CHECK(worst == std::set{day(5), day(8), day(11)});
  CHECK(covered > 100);
  CHECK(is_short > 100);
}

TEST_CASE("past the required end supplies last as long as the chance of being short stays within what is allowed") {
  Scene scene;
  for (const double assurance : {60.0, 95.0, 99.0}) {
    CAPTURE(assurance);
    scene.rules.assurance = assurance;
    scene.rules.leak_shown_from = 100;
    const ClosedForm closed(scene);
    const Balance balance(scene.mission, scene.facts, day(4), scene.rules);
    const Margin& margin = *balance.of("water").assured;
    REQUIRE(margin.is_covered());
    const auto chance_after = [&](double days) { return chance_below(closed.forecast.usable_after_end(days), 0); };
    CHECK(chance_after(*margin.days) <= 1 - assurance / 100);
    CHECK(chance_after(*margin.days + 2e-4) > 1 - assurance / 100);
  }
}
