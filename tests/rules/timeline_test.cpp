// The flight as stretches of constant rates, what an item uses in them, and the flight with days added.
#include "rules/timeline.h"

#include <map>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"

using daywright::model::day_length;
using daywright::model::in_days;
using daywright::model::Instant;
using daywright::model::Item;
using daywright::model::Mission;
using daywright::rules::crew_aboard;
using daywright::rules::daily_draw;
using daywright::rules::daily_make;
using daywright::rules::draw_order;
using daywright::rules::event_draw;
using daywright::rules::extend;
using daywright::rules::planned_use;
using daywright::rules::Stretch;
using daywright::rules::stretches;
using daywright::test::add_day_kind;
using daywright::test::add_event;
using daywright::test::add_phase;
using daywright::test::add_place;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_item;
using daywright::test::make_mission;
using daywright::test::set_made_from;
using namespace std::chrono_literals;
using namespace std::string_literals;

namespace {

constexpr double few_last_digits = 1e-9;

/// Ten planned days and two of waiting: work to day 4, 'rest' to day 6, work again; one of three persons leaves the
/// ship on day 3; an event 'eva' on day 5 and one, 'undock', on day 7.
Mission eventful() {
  Mission mission = make_mission({.crew = 3, .waiting_days = 2});
  add_day_kind(mission, "rest");
  add_phase(mission, "pause", day(4), "rest");
  add_phase(mission, "again", day(6));
  mission.vehicles.push_back({"depot", "Depot", {}});
  mission.persons[2].stays.push_back({day(3), "depot"});
  add_event(mission, "eva", day(5));
  add_event(mission, "undock", day(7));
  return mission;
}

/// Water of which every term of planned use draws something.
Item thirsty() {
  Item water = make_item("water", "kg", 2.5);
  water.per_day = 1.25;
  water.per_kwh = 0.5;
  water.per_event["eva"] = 4;
  water.per_event["landing"] = 1;
  return water;
}

/// How many days of each kind lie between launch and the required end.
std::map<std::string, double> days_by_kind(const Mission& mission) {
  std::map<std::string, double> days;
  for (const Stretch& stretch : stretches(mission, launch, mission.required_end()))
    days[stretch.kind->id] += stretch.days();
  return days;
}

}  // namespace

// Stretches

TEST_CASE("stretches follow each other without gap or overlap, whatever the two ends") {
  const Mission mission = eventful();
  std::mt19937 random(4);  // NOLINT: the same sample every time
  std::uniform_int_distribution<int> hours(-30, 400);
  for (int i = 0; i < 200; ++i) {
    const Instant from = launch + std::chrono::hours{hours(random)};
    const Instant to = launch + std::chrono::hours{hours(random)};
    const auto all = stretches(mission, from, to);
    CAPTURE(in_days(from - launch), in_days(to - launch));
    CHECK(all.empty() == (to <= from));
    if (all.empty()) continue;
    CHECK(all.front().begin == from);
    CHECK(all.back().end == to);
    for (std::size_t k = 0; k < all.size(); ++k) {
      CHECK(all[k].begin < all[k].end);
      if (k > 0) CHECK(all[k].begin == all[k - 1].end);
    }
  }
}

TEST_CASE("a new stretch begins with each phase, with each move and after each landing day's last opportunity") {
  Mission mission = eventful();
  mission.landing_days[1].opportunities.push_back(day(11) + 4h);
  std::vector<std::pair<Instant, std::string>> begins;
  for (const Stretch& stretch : stretches(mission, launch, day(13)))
    begins.emplace_back(stretch.begin, std::string(stretch.title));
  const std::vector<std::pair<Instant, std::string>> expected{
      {launch, "Flight"},        {day(3), "Flight"},        {day(4), "pause"},
      {day(6), "again"},         {day(10), "Wave-off day"}, {day(11) + 4h, "Wave-off day"},
      {day(12), "Wave-off day"},
  };
  CHECK(begins == expected);
}

TEST_CASE("while waiting each landing day's own kind holds, and after the last the kind that margins are counted in") {
  Mission mission = eventful();
  add_day_kind(mission, "spare");
  mission.landing_days[2].kind = "rest";
  mission.margin_kind = "spare";
  const auto kind_at = [&](Instant when) { return stretches(mission, when, when + 1us).at(0).kind->id; };
  CHECK(kind_at(day(10) - 1us) == "work");
  CHECK(kind_at(day(10)) == "wave_off");
  CHECK(kind_at(day(11) - 1us) == "wave_off");
  CHECK(kind_at(day(11)) == "rest");
  CHECK(kind_at(day(12) - 1us) == "rest");
  CHECK(kind_at(day(12)) == "spare");
  CHECK(kind_at(day(100)) == "spare");
  CHECK(kind_at(launch - 24h) == "work");
}

// Crew

TEST_CASE("a person is aboard from the instant of boarding, and moves at the instant of moving") {
  Mission mission = eventful();
  CHECK(crew_aboard(mission, "ship", launch - 1us) == 0);
  CHECK(crew_aboard(mission, "ship", launch) == 3);
  CHECK(crew_aboard(mission, "ship", day(3) - 1us) == 3);
  CHECK(crew_aboard(mission, "ship", day(3)) == 2);
  CHECK(crew_aboard(mission, "depot", day(3) - 1us) == 0);
  CHECK(crew_aboard(mission, "depot", day(3)) == 1);
  mission.persons[2].stays.push_back({day(5), "ship"});
  CHECK(crew_aboard(mission, "ship", day(5)) == 3);
}

TEST_CASE("moving changes where persons are and not how many there are") {
  const Mission mission = eventful();
  for (int number = 0; number <= 12; ++number)
    CHECK(crew_aboard(mission, "ship", day(number)) + crew_aboard(mission, "depot", day(number)) == 3);
}

// Rates

TEST_CASE("each term of planned use is counted once, and all of them add up") {
  Mission mission = make_mission({.power_kw = 2});
  auto& kind = mission.day_kinds[0];
  kind.events_per_day["dump"] = 3;
  Item item = make_item("water", "kg");
  CHECK(daily_draw(item, kind, 3) == 0);
  item.per_crew_day = 2.5;  // x 3 persons
  CHECK(daily_draw(item, kind, 3) == Approx(7.5));
  item.per_day = 1.25;
  CHECK(daily_draw(item, kind, 3) == Approx(7.5 + 1.25));
  item.per_kwh = 0.5;  // x 2 kW x 24 h
  CHECK(daily_draw(item, kind, 3) == Approx(7.5 + 1.25 + 24));
  item.per_event["dump"] = 4;  // x 3 a day
  CHECK(daily_draw(item, kind, 3) == Approx(7.5 + 1.25 + 24 + 12));
  item.per_event["eva"] = 100;  // none of these on such a day
  CHECK(daily_draw(item, kind, 3) == Approx(7.5 + 1.25 + 24 + 12));
}

TEST_CASE("a day kind's own rates and crew take the place of the item's, for that item alone") {
  Mission mission = make_mission();
  auto& kind = mission.day_kinds[0];
  Item water = make_item("water", "kg", 2.5);
  water.per_day = 1;
  const Item food = make_item("food", "kg", 2.5);
  kind.per_crew_day["water"] = 3;
  CHECK(daily_draw(water, kind, 2) == Approx(3 * 2 + 1));
  CHECK(daily_draw(food, kind, 2) == Approx(2.5 * 2));
  kind.per_day["water"] = 0;
  CHECK(daily_draw(water, kind, 2) == Approx(3 * 2));
  kind.crew = 5;
  CHECK(daily_draw(water, kind, 2) == Approx(3 * 5));
  CHECK(daily_draw(food, kind, 2) == Approx(2.5 * 5));
  kind.crew = 0;
  CHECK(daily_draw(water, kind, 2) == 0);
}

TEST_CASE("what an event draws is what the item says for its kind, and nothing for any other") {
  const Item item = thirsty();
  CHECK(event_draw(item, "eva") == 4);
  CHECK(event_draw(item, "dump") == 0);
  CHECK(event_draw(item, "") == 0);
}

TEST_CASE("what is made follows the use of what it is made from, its events too") {
  Mission mission = make_mission({.planned = 2 * day_length});
  Item cells = make_item("reactants", "kg");
  cells.per_day = 3;
  cells.per_event["purge"] = 10;
  Item water = make_item("water", "kg");
  set_made_from(water, "reactants", 0.5);
  mission.items = {cells, water};
  add_event(mission, "purge", day(1));
  CHECK(daily_make(mission, water, mission.day_kinds[0], 3) == Approx(1.5));
  CHECK(daily_make(mission, cells, mission.day_kinds[0], 3) == 0);
  // 0.5 x (3 x 2 days + 10)
  CHECK(planned_use(mission, water, launch, day(2)).make == Approx(8));
  CHECK(planned_use(mission, water, launch, day(2)).draw == 0);
}

// Planned use

TEST_CASE("what is used from one instant to a third is what is used to the second and from there on") {
  Mission mission = eventful();
  mission.items = {thirsty()};
  std::mt19937 random(5);  // NOLINT: the same sample every time
  std::uniform_int_distribution<int> quarters(0, 4 * 14);
  for (int i = 0; i < 200; ++i) {
    std::vector<Instant> times;  // quarters of a day, so that events and phases are met exactly, too
    for (int k = 0; k < 3; ++k) times.push_back(launch + quarters(random) * 6h);
    std::sort(times.begin(), times.end());
    const auto draw = [&](Instant from, Instant to) { return planned_use(mission, mission.items[0], from, to).draw; };
    CHECK(draw(times[0], times[1]) + draw(times[1], times[2]) ==
          Approx(draw(times[0], times[2])).epsilon(few_last_digits));
  }
}

TEST_CASE("an event counts in the stretch that it ends and not in the one that it begins") {
  Mission mission = eventful();
  Item item = make_item("suit", "kg");
  item.per_event["eva"] = 4;
  mission.items = {item};
  const auto draw = [&](Instant from, Instant to) { return planned_use(mission, mission.items[0], from, to).draw; };
  CHECK(draw(day(4), day(5)) == 4);
  CHECK(draw(day(4), day(5) - 1us) == 0);
  CHECK(draw(day(5), day(6)) == 0);
  CHECK(draw(day(5) - 1us, day(6)) == 4);
}

TEST_CASE("use by the crew of one vehicle does not follow the crew of another") {
  Mission mission = eventful();
  mission.items = {make_item("water", "kg", 1), make_item("depot_water", "kg", 1)};
  mission.items[1].vehicle = "depot";
  // Three persons for three days and two for seven in the ship; one for seven in the depot.
  CHECK(planned_use(mission, mission.items[0], launch, day(10)).draw == Approx(3 * 3 + 2 * 7));
  CHECK(planned_use(mission, mission.items[1], launch, day(10)).draw == Approx(7));
}

// Draw order

TEST_CASE("an order of drawing holds from its phase on, to the next phase that has one") {
  Mission mission = eventful();
  add_place(mission, "bag");
  Item item = make_item("water");
  item.places = {"tank", "bag"};
  item.draw = {{"pause", {"bag"}}, {"again", {"bag", "tank"}}};
  using Places = std::vector<std::string>;
  CHECK(draw_order(mission, item, launch) == Places{"tank", "bag"});
  CHECK(draw_order(mission, item, day(4) - 1us) == Places{"tank", "bag"});
  CHECK(draw_order(mission, item, day(4)) == Places{"bag"});
  CHECK(draw_order(mission, item, day(6)) == Places{"bag", "tank"});
  // In whatever order the plan lists them.
  std::swap(item.draw[0], item.draw[1]);
  CHECK(draw_order(mission, item, day(5)) == Places{"bag"});
  CHECK(draw_order(mission, item, day(6)) == Places{"bag", "tank"});
}

// The flight with days added

TEST_CASE("no day added changes nothing") {
  Mission mission = eventful();
  mission.items = {thirsty()};
  const Mission same = extend(mission, 0);
  CHECK(same.landing() == mission.landing());
  CHECK(same.phases.size() == mission.phases.size());
  CHECK(planned_use(same, same.items[0], launch, same.required_end()).draw ==
        planned_use(mission, mission.items[0], launch, mission.required_end()).draw);
}

TEST_CASE("added days are days of the extension kind, and every other kind has as many as before") {
  for (const auto before : {"eva", "undock", "landing"}) {  // inside a phase, inside another, at the end
    Mission mission = eventful();
    add_day_kind(mission, "extra");
    mission.extension_kind = "extra";
    mission.extension_before = before;
    for (int days = 1; days <= 10; ++days) {
      auto expected = days_by_kind(mission);
      expected["extra"] = days;
      const auto longer = days_by_kind(extend(mission, days));
      CAPTURE(before, days);
      REQUIRE(longer.size() == expected.size());
      for (const auto& [kind, length] : expected) CHECK(longer.at(kind) == Approx(length).epsilon(few_last_digits));
    }
  }
}

TEST_CASE("days added before an event with which a phase begins come before that phase") {
  Mission mission = eventful();
  add_day_kind(mission, "extra");
  mission.extension_kind = "extra";
  mission.extension_before = "turn";
  add_event(mission, "turn", day(6));
  const Mission longer = extend(mission, 2);
  std::vector<std::pair<Instant, std::string>> begins;
  for (const auto& phase : longer.phases) begins.emplace_back(phase.start, phase.title);
  const std::vector<std::pair<Instant, std::string>> expected{
      {launch, "Flight"}, {day(4), "pause"}, {day(6), "extra"}, {day(8), "again"}};
  CHECK(begins == expected);
}

TEST_CASE("a phase that the added days part goes on after them") {
  Mission mission = eventful();
  mission.extension_before = "eva";  // on day 5, in the phase from day 4 to day 6
  const Mission longer = extend(mission, 3);
  std::vector<std::pair<Instant, std::string>> begins;
  for (const auto& phase : longer.phases) begins.emplace_back(phase.start, phase.title);
  const std::vector<std::pair<Instant, std::string>> expected{
      {launch, "Flight"}, {day(4), "pause"}, {day(5), "Work day"}, {day(8), "pause"}, {day(9), "again"}};
  CHECK(begins == expected);
}

TEST_CASE("what lies before the added days stays, and what lies with or after them moves by as much") {
  Mission mission = eventful();
  mission.extension_before = "undock";  // day 7
  mission.persons[1].stays.push_back({day(8), "depot"});
  mission.gates = {{"early", "Early", "eva", day(4), {}},
                   {"leave", "Leave", "undock", day(6), {}},  // polled before the added days
                   {"entry", "Entry", "landing", day(9), {}}};
  const Mission longer = extend(mission, 2);
  const auto at = [&](const char* id) { return daywright::model::find_by_id(longer.events, id)->at; };
  CHECK(at("eva") == day(5));
  CHECK(at("undock") == day(9));
  CHECK(at("landing") == day(12));
  CHECK(longer.landing() == day(12));
  CHECK(longer.required_end() == day(14));
  CHECK(longer.gates[0].poll == day(4));
  CHECK(longer.gates[1].poll == day(8));
  CHECK(longer.gates[2].poll == day(11));
  CHECK(longer.persons[2].stays[1].from == day(3));
  CHECK(longer.persons[1].stays[1].from == day(10));
  CHECK(longer.planned_days == mission.planned_days + 2);
}

TEST_CASE("a longer flight still lands the day after its last planned one") {
  for (const auto before : {"eva", "undock", "landing"}) {
    Mission mission = eventful();
    mission.flight_days = daywright::model::FlightDays({launch, launch + 15h, launch + 38h});
    mission.planned_days = mission.flight_days.number_at(mission.landing()) - 1;
    mission.extension_before = before;
    for (int days = 0; days <= 10; ++days) {
      const Mission longer = extend(mission, days);
      CAPTURE(before, days);
      CHECK(longer.flight_days.number_at(longer.landing()) == longer.planned_days + 1);
    }
  }
}

TEST_CASE("two days added at once are the same as one and then another") {
  for (const auto before : {"eva", "undock", "landing"}) {
    Mission mission = eventful();
    mission.items = {thirsty()};
    mission.extension_before = before;
    const Mission at_once = extend(mission, 2);
    const Mission one_by_one = extend(extend(mission, 1), 1);
    CAPTURE(before);
    CHECK(at_once.required_end() == one_by_one.required_end());
    CHECK(at_once.planned_days == one_by_one.planned_days);
    for (int number = 0; number <= 12; ++number)
      CHECK(at_once.transfer_delay.of(day(number)) == one_by_one.transfer_delay.of(day(number)));
    for (int number = 0; number <= 14; ++number) {
      CHECK(planned_use(at_once, at_once.items[0], launch, day(number)).draw ==
            Approx(planned_use(one_by_one, one_by_one.items[0], launch, day(number)).draw).epsilon(few_last_digits));
    }
  }
}

TEST_CASE("in added days the order of drawing is that of the phase before, and later ones move with their phase") {
  Mission mission = eventful();
  add_place(mission, "bag");
  Item item = make_item("water");
  item.places = {"tank", "bag"};
  item.draw = {{"pause", {"bag"}}, {"again", {"bag", "tank"}}};
  mission.extension_before = "eva";  // day 5
  const Mission longer = extend(mission, 2);
  using Places = std::vector<std::string>;
  CHECK(draw_order(longer, item, day(6)) == Places{"bag"});
  CHECK(draw_order(longer, item, day(8) - 1us) == Places{"bag"});
  CHECK(draw_order(longer, item, day(8)) == Places{"bag", "tank"});
}
