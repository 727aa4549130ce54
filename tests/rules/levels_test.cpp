// How much is on board at the cut-off, what speaks against relying on it, and how fast it has been going.
#include "rules/levels.h"

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"

using daywright::model::CountKind;
using daywright::model::Facts;
using daywright::model::Instant;
using daywright::model::Item;
using daywright::model::Log;
using daywright::model::Mission;
using daywright::model::Place;
using daywright::model::PlaceState;
using daywright::model::TransferState;
using daywright::rules::find_level;
using daywright::rules::find_levels;
using daywright::rules::is_available;
using daywright::rules::ItemLevel;
using daywright::rules::mean_of;
using daywright::rules::sd_of;
using daywright::test::add_cells;
using daywright::test::add_event;
using daywright::test::add_phase;
using daywright::test::at_plan_only;
using daywright::test::count_daily;
using daywright::test::day;
using daywright::test::launch;
using daywright::test::make_capacity;
using daywright::test::make_count;
using daywright::test::make_done_transfer;
using daywright::test::make_drinkers;
using daywright::test::make_item;
using daywright::test::make_mission;
using daywright::test::make_transfer;
using daywright::test::set_made_from;
using namespace std::chrono_literals;
using namespace std::string_literals;

namespace {

ItemLevel level_of(const Mission& mission, const Facts& facts, Instant cutoff) {
  return find_level(mission, mission.items[0], at_plan_only(), facts, cutoff);
}

daywright::model::CountRow rival(double quantity) { return make_count("water", quantity).row; }

}  // namespace

// Places

TEST_CASE("only a usable place can be drawn from, and only until its event") {
  Mission mission = make_mission();
  add_event(mission, "undock", day(4));
  Place place{"shelf", "Shelf", "ship", PlaceState::usable, "undock", {}};
  CHECK(is_available(mission, place, launch));
  CHECK(is_available(mission, place, day(4) - 1us));
  CHECK_FALSE(is_available(mission, place, day(4)));
  place.until = "";
  CHECK(is_available(mission, place, day(400)));
  for (const auto state : {PlaceState::isolated, PlaceState::expired, PlaceState::reserved}) {
    place.state = state;
    CHECK_FALSE(is_available(mission, place, launch));
  }
}

TEST_CASE("what lies in a place that can't be used is not on board") {
  Mission mission = make_drinkers(1);
  add_event(mission, "undock", day(4));
  mission.items[0].places = {"tank", "bag"};
  mission.places[1].until = "undock";
  Facts facts;
  facts.counts = {make_count("water", 5, day(3), "bag"), make_count("water", 50, day(3))};
  CHECK(level_of(mission, facts, day(3)).total() == Approx(55));
  CHECK(level_of(mission, facts, day(4)).total() == Approx(49));  // 50 less one day's drinking
  mission.places[1].state = PlaceState::isolated;
  CHECK(level_of(mission, facts, day(3)).total() == Approx(50));
}

// Level

TEST_CASE("a level is the last count, less planned use since, plus what was moved in since") {
  Mission mission = make_drinkers(1);
  Facts facts;
  facts.counts = {make_count("water", 51, day(1)), make_count("water", 50, day(2))};
  facts.transfers = {make_done_transfer("water", 7, day(3), "", "tank"),
                     make_done_transfer("water", 2, day(4), "tank", "")};
  const ItemLevel level = level_of(mission, facts, day(5));
  REQUIRE(level.places.size() == 1);
  CHECK(level.places[0].count == &facts.counts[1]);
  CHECK(level.places[0].use.drawn == Approx(3));  // three days of one person
  CHECK(level.places[0].use.moved == 5);          // 7 - 2
  CHECK(level.total() == Approx(50 - 3 + 5));
  CHECK(level.is_complete);
}

TEST_CASE("a transfer counts when it is done, after the count and up to the cut-off") {
  const Mission mission = make_drinkers(1);
  Facts facts;
  facts.counts = {make_count("water", 50, day(2))};
  const auto moved_in = [&](Instant when, TransferState state) {
    facts.transfers = {make_done_transfer("water", 7, when, "", "tank")};
    facts.transfers[0].row.state = state;
    return level_of(mission, facts, day(4)).places.at(0).use.moved;
  };
  CHECK(moved_in(day(2), TransferState::done) == 0);  // what is there already was counted
  CHECK(moved_in(day(2) + 1us, TransferState::done) == 7);
  CHECK(moved_in(day(4), TransferState::done) == 7);
  CHECK(moved_in(day(4) + 1us, TransferState::done) == 0);
  CHECK(moved_in(day(3), TransferState::planned) == 0);
  CHECK(moved_in(day(3), TransferState::cancelled) == 0);
}

TEST_CASE("a transfer between two places of the item changes neither more nor less than both") {
  Mission mission = make_drinkers(1);
  mission.items[0].places = {"tank", "bag"};
  Facts facts;
  facts.counts = {make_count("water", 5, day(1), "bag"), make_count("water", 50, day(1))};
  const double before = level_of(mission, facts, day(2)).total();
  facts.transfers = {make_done_transfer("water", 3, day(2), "bag", "tank")};
  const ItemLevel after = level_of(mission, facts, day(2));
  CHECK(after.total() == Approx(before));
  CHECK(after.places.at(0).use.moved == 3);
  CHECK(after.places.at(1).use.moved == -3);
}

TEST_CASE("use is charged to the place that is drawn from first, as long as it is there") {
  Mission mission = make_drinkers(1);
  add_event(mission, "undock", day(3));
  add_phase(mission, "late", day(5));
  mission.items[0].places = {"bag", "tank"};
  mission.items[0].draw = {{"late", {"tank"}}};
  Facts facts;
  facts.counts = {make_count("water", 20, launch, "bag"), make_count("water", 50, launch)};
  {
    // From the bag for five days, from the tank since.
    const ItemLevel level = level_of(mission, facts, day(7));
    CHECK(level.places.at(0).use.drawn == Approx(5));
    CHECK(level.places.at(1).use.drawn == Approx(2));
  }
  mission.places[1].until = "undock";
  {
    // The bag is gone on day 3, after three days of drinking from it.
    const ItemLevel level = level_of(mission, facts, day(7));
    REQUIRE(level.places.size() == 1);
    CHECK(level.places[0].place->id == "tank");
    CHECK(level.places[0].use.drawn == Approx(4));
  }
}

TEST_CASE("what is made goes into its own place and into no other") {
  Mission mission = make_drinkers(1);
  mission.items[0].places = {"tank", "bag"};
  add_cells(mission, 4, 0.5, "bag");
  Facts facts;
  facts.counts = {make_count("water", 20, launch, "bag"), make_count("water", 50, launch)};
  const ItemLevel level = find_level(mission, mission.items[0], at_plan_only(), facts, day(3));
  CHECK(level.places.at(0).use.made == 0);
  CHECK(level.places.at(1).use.made == Approx(0.5 * 4 * 3));
  CHECK(level.total() == Approx(70 + 6 - 3));
}

TEST_CASE("an item that fills up is fuller by what was used") {
  Mission mission = make_mission({.crew = 2});
  mission.items = {make_capacity("waste", 100, 3)};
  Facts facts;
  facts.counts = {make_count("waste", 10)};
  CHECK(level_of(mission, facts, day(2)).total() == Approx(10 + 2 * 3 * 2));
}

TEST_CASE("a derived value is shown and never counted on") {
  Mission mission = make_drinkers(1);
  mission.methods.push_back({"derived", CountKind::derived, {}});
  Facts facts;
  facts.counts = {make_count("water", 50, day(1)), make_count("water", 99, day(2))};
  facts.counts[1].row.method = "derived";
  const ItemLevel level = level_of(mission, facts, day(2));
  CHECK(level.total() == Approx(49));
  CHECK(level.counts == std::vector<decltype(level.counts)::value_type>{&facts.counts[0]});
}

// Doubts

TEST_CASE("an item of which one place was never counted is incomplete and says so") {
  Mission mission = make_drinkers(1);
  mission.items[0].places = {"tank", "bag"};
  Facts facts;
  facts.counts = {make_count("water", 50)};
  {
    const ItemLevel level = level_of(mission, facts, launch);
    CHECK_FALSE(level.is_complete);
    REQUIRE(level.doubts.size() == 1);
    CHECK(level.doubts[0].text == "never counted in bag");
  }
  // A place that can't be used needs no count.
  mission.places[1].state = PlaceState::reserved;
  CHECK(level_of(mission, facts, launch).is_complete);
  CHECK(level_of(mission, facts, launch).doubts.empty());
}

TEST_CASE("a count is stale after its hours and not at them, the item's own before those of the rules") {
  Mission mission = make_drinkers(1);
  Facts facts;
  facts.counts = {make_count("water", 50)};
  auto rules = at_plan_only();
  rules.count_every_hours = 36;
  const auto is_stale = [&](Instant cutoff) {
    return !find_level(mission, mission.items[0], rules, facts, cutoff).doubts.empty();
  };
  CHECK_FALSE(is_stale(launch + 36h));
  CHECK(is_stale(launch + 36h + 1min));
  mission.items[0].count_every_hours = 12;
  CHECK_FALSE(is_stale(launch + 12h));
  CHECK(is_stale(launch + 12h + 1min));
  mission.items[0].count_every_hours = 48;
  CHECK_FALSE(is_stale(launch + 48h));
}

TEST_CASE("one stale place is a doubt, however fresh the others are") {
  Mission mission = make_drinkers(1);
  mission.items[0].places = {"tank", "bag"};
  Facts facts;
  facts.counts = {make_count("water", 5, launch, "bag"), make_count("water", 50, day(2))};
  CHECK(level_of(mission, facts, day(2)).doubts.size() == 1);
  CHECK(level_of(mission, facts, day(2)).is_complete);
}

TEST_CASE("a log of counts or transfers that is not closed is a doubt about every item, any other log about none") {
  const Mission mission = make_drinkers(1);
  for (std::size_t i = 0; i < daywright::model::log_count; ++i) {
    const auto log = static_cast<Log>(i);
    Facts facts;
    facts.counts = {make_count("water", 50)};
    facts.gaps = {{log, "FD 1", {}, "nobody closed it"}};
    CHECK(level_of(mission, facts, launch).doubts.empty() == (log != Log::counts && log != Log::transfers));
  }
}

TEST_CASE("a rejected row is a doubt about the item it names, and about every item where it names none") {
  const Mission mission = make_drinkers(1);
  for (const auto log : {Log::counts, Log::transfers, Log::readings}) {
    for (const auto& [subject, bears_on_it] :
         {std::pair{"water", true}, std::pair{"", true}, std::pair{"food", false}}) {
      Facts facts;
      facts.counts = {make_count("water", 50)};
      facts.rejected = {{log, subject, "", "", "", {}, launch, "why"}};
      CHECK(level_of(mission, facts, launch).doubts.empty() == !(bears_on_it && log != Log::readings));
    }
  }
}

TEST_CASE("two ways of telling a transfer are a doubt about its item alone") {
  const Mission mission = make_drinkers(1);
  Facts facts;
  facts.counts = {make_count("water", 50)};
  facts.transfers = {make_transfer("water", 5, day(3), "", "tank")};
  facts.transfers[0].rivals.push_back(facts.transfers[0].row);
  CHECK(level_of(mission, facts, launch).doubts.size() == 1);
  facts.transfers[0].row.item = "food";
  CHECK(level_of(mission, facts, launch).doubts.empty());
}

// Conflicts

TEST_CASE("of several counts that disagree the worst is kept beside the one that counts, and each is a doubt") {
  Mission stock = make_drinkers(1);
  Mission room = make_drinkers(1);
  room.items = {make_capacity("water", 100, 1)};
  Facts facts;
  facts.counts = {make_count("water", 50)};
  facts.counts[0].rivals = {rival(60), rival(40), rival(45)};
  {
    const ItemLevel level = level_of(stock, facts, day(2));
    CHECK(level.total() == Approx(48));
    REQUIRE(level.reads.size() == 2);
    CHECK(mean_of(level.reads[1].estimate.level()) == Approx(38));  // 40, carried like the other: 2 kg drunk since
    CHECK(std::count_if(level.doubts.begin(), level.doubts.end(), [](const auto& doubt) {
            return doubt.text == "count in Tank told in two ways that disagree";
          }) == 3);
  }
  {
    const ItemLevel level = level_of(room, facts, day(2));
    REQUIRE(level.reads.size() == 2);
    CHECK(mean_of(level.reads[1].estimate.level()) == Approx(62));
  }
}

TEST_CASE("a count that disagrees to the better changes no level and is a doubt all the same") {
  const Mission mission = make_drinkers(1);
  Facts facts;
  facts.counts = {make_count("water", 50)};
  facts.counts[0].rivals = {rival(60)};
  const ItemLevel level = level_of(mission, facts, launch);
  CHECK(level.reads.size() == 1);
  CHECK(level.doubts.size() == 1);
}

TEST_CASE("a conflict about an older count is past") {
  const Mission mission = make_drinkers(1);
  Facts facts;
  facts.counts = {make_count("water", 50, day(1)), make_count("water", 49, day(2))};
  facts.counts[0].rivals = {rival(10)};
  const ItemLevel level = level_of(mission, facts, day(2));
  CHECK(level.reads.size() == 1);
  CHECK(level.doubts.empty());
}

// The measured rate

TEST_CASE("the measured rate is what was drawn over what was planned") {
  const Mission mission = make_drinkers(1);
  for (const double factor : {1.0, 0.5, 2.0, 1.25}) {
    Facts facts;
    for (int number = 0; number <= 4; ++number)
      facts.counts.push_back(make_count("water", 50 - factor * number, day(number)));
    const ItemLevel level = level_of(mission, facts, day(4));
    REQUIRE(level.factor.has_value());
    CHECK(*level.factor == Approx(factor));
    CHECK(level.counts.size() == 5);
  }
}

TEST_CASE("a rate needs as many counts as the rules ask for, over all places together") {
  Mission mission = make_drinkers(1);
  mission.items[0].places = {"tank", "bag"};
  add_phase(mission, "late", day(2));
  mission.items[0].draw = {{"late", {"bag"}}};
  auto rules = at_plan_only();
  Facts facts;
  facts.counts = {make_count("water", 20, day(2), "bag"), make_count("water", 18, day(4), "bag"),
                  make_count("water", 50, launch), make_count("water", 48, day(2))};
  rules.measured_min_counts = 4;
  CHECK(find_level(mission, mission.items[0], rules, facts, day(4)).factor == Approx(1));
  rules.measured_min_counts = 5;
  CHECK_FALSE(find_level(mission, mission.items[0], rules, facts, day(4)).factor.has_value());
}

TEST_CASE("places that differ only in how much they hold give one rate") {
  Mission mission = make_drinkers(1);
  mission.items[0].places = {"tank", "bag"};
  add_phase(mission, "late", day(2));
  mission.items[0].draw = {{"late", {"bag"}}};
  Facts facts;
  // 1.5 times the plan from the tank for two days, then from the bag for two.
  facts.counts = {make_count("water", 20, day(2), "bag"), make_count("water", 17, day(4), "bag"),
                  make_count("water", 500, launch), make_count("water", 497, day(2))};
  CHECK(*level_of(mission, facts, day(4)).factor == Approx(1.5));
}

TEST_CASE("what was moved or made is no use, so it does not change the measured rate") {
  Mission mission = make_drinkers(1);
  add_cells(mission, 3, 1);
  Facts facts;
  facts.transfers = {make_done_transfer("water", 10, day(1), "", "tank"),
                     make_done_transfer("water", 4, day(2), "tank", "")};
  // Drawn 2 a day, made 3 a day, and moved: 50, then 50 - 2 + 3 + 10 = 61, then 61 - 2 + 3 - 4 = 58.
  facts.counts = {make_count("water", 50), make_count("water", 61, day(1)), make_count("water", 58, day(2))};
  const ItemLevel level = find_level(mission, mission.items[0], at_plan_only(), facts, day(2));
  CHECK(*level.factor == Approx(2));
}

TEST_CASE("a stock that seems to grow by being used has a rate of nothing and not below") {
  const Mission mission = make_drinkers(1);
  Facts facts;
  for (int number = 0; number <= 3; ++number) facts.counts.push_back(make_count("water", 50 + number, day(number)));
  CHECK(*level_of(mission, facts, day(3)).factor == 0);
}

TEST_CASE("an item that fills up has its rate by how fast it fills") {
  Mission mission = make_mission({.crew = 2});
  mission.items = {make_capacity("waste", 100, 3)};
  Facts facts;
  for (int number = 0; number <= 3; ++number)
    facts.counts.push_back(make_count("waste", 10 + 1.5 * 6 * number, day(number)));
  CHECK(*level_of(mission, facts, day(3)).factor == Approx(1.5));
}

TEST_CASE("without planned use between its counts an item has no rate") {
  Mission mission = make_mission({.crew = 1});
  mission.items = {make_item("suits", "each")};
  Facts facts;
  for (int number = 0; number <= 3; ++number) facts.counts.push_back(make_count("suits", 4, day(number)));
  const ItemLevel level = level_of(mission, facts, day(3));
  CHECK_FALSE(level.factor.has_value());
}

TEST_CASE("a stock that grows by more than its counts scatter, with nothing moved in, is doubted") {
  Mission mission = make_drinkers(1);
  mission.items[0].sigma = {{"gauge", 0.5}};
  // Three sigma of two counts: 3 x sqrt(0.5^2 + 0.5^2) = 2.12.
  for (const auto& [second, is_doubted] : {std::pair{12.1, false}, std::pair{12.2, true}, std::pair{93.4, true}}) {
    Facts facts;
    facts.counts = {make_count("water", 10, day(1)), make_count("water", second, day(2))};
    CAPTURE(second);
    CHECK(level_of(mission, facts, day(2)).doubts.empty() == !is_doubted);
    facts.transfers = {make_done_transfer("water", second - 10, day(1) + 1h, "", "tank")};
    CHECK(level_of(mission, facts, day(2)).doubts.empty());
  }
}

TEST_CASE("a tank that empties by more than its counts scatter, with nothing moved out, is doubted") {
  Mission mission = make_mission({.crew = 1});
  mission.items = {make_capacity("waste", 100, 1)};
  mission.items[0].sigma = {{"gauge", 0.5}};
  for (const auto& [second, is_doubted] : {std::pair{8.0, false}, std::pair{7.8, true}}) {
    Facts facts;
    facts.counts = {make_count("waste", 10, day(1)), make_count("waste", second, day(2))};
    CAPTURE(second);
    CHECK(level_of(mission, facts, day(2)).doubts.empty() == !is_doubted);
  }
}

// Ways of reading the counts

namespace {

/// Water counted once a day as planned, by a gauge that is off by 0.2 kg; judged by the defaults.
Facts watched(const std::vector<double>& values) {
  Facts facts;
  count_daily(facts, "water", values);
  return facts;
}

ItemLevel by_default(const Mission& mission, const Facts& facts, Instant cutoff) {
  return find_level(mission, mission.items[0], daywright::model::MarginRules{}, facts, cutoff);
}

Mission gauged_drinker() {
  Mission mission = make_drinkers(1);
  mission.items[0].sigma = {{"gauge", 0.2}};
  return mission;
}

}  // namespace

TEST_CASE("a count that more likely is a miscount than not is suspect, until a later one of its place is none") {
  Mission mission = gauged_drinker();
  mission.items[0].places = {"tank", "bag"};
  Facts facts = watched({30, 29.1, 27.9, 27, 23});
  const auto suspects = [&](Instant cutoff) { return by_default(mission, facts, cutoff).suspects; };
  REQUIRE(suspects(day(4)).size() == 1);
  CHECK(suspects(day(4))[0].count == &facts.counts[4]);
  CHECK(suspects(day(4))[0].chance > 0.9);
  CHECK_FALSE(suspects(day(4))[0].is_counted_again);
  CHECK(suspects(day(3)).empty());
  // Another place says nothing of this one.
  facts.counts.insert(facts.counts.begin(), make_count("water", 9, day(4) + 1h, "bag"));
  REQUIRE(suspects(day(5)).size() == 1);
  CHECK_FALSE(suspects(day(5))[0].is_counted_again);
  facts.counts.push_back(make_count("water", 26, day(4) + 2h));
  CHECK(suspects(day(5)).at(0).is_counted_again);
}

TEST_CASE("a suspect count is read as it stands where it says less than all counts together, and the level is not") {
  const Mission mission = gauged_drinker();
  const auto read = [&](double last) { return by_default(mission, watched({30, 29.1, 27.9, 27, last}), day(4)); };
  const ItemLevel low = read(23);
  REQUIRE(low.reads.size() == 2);
  CHECK(low.reads[1].how == "with the suspect count as it stands");
  CHECK(mean_of(low.reads[1].estimate.level()) == Approx(23).margin(0.01));
  CHECK(low.total() == Approx(26).margin(0.2));
  CHECK(low.places[0].carried == 23);
  CHECK(read(29).reads.size() == 1);
  CHECK(read(29).suspects.size() == 1);
  CHECK(read(26).suspects.empty());
}

TEST_CASE("a conflict is read at its worst with the other counts as they are, and its place alone is changed") {
  Mission mission = gauged_drinker();
  mission.items[0].places = {"bag", "tank"};
  Facts facts = watched({30, 30, 30});
  count_daily(facts, "water", {12, 11, 10}, "bag");
  facts.counts.back().rivals = {rival(33), rival(25)};
  const ItemLevel level = by_default(mission, facts, day(2));
  REQUIRE(level.reads.size() == 2);
  const auto& worst = level.reads[1];
  CHECK(mean_of(worst.estimate.level(*worst.index_of("tank"))) == Approx(25).margin(0.01));
  CHECK(mean_of(worst.estimate.level(*worst.index_of("bag"))) == Approx(10).margin(0.1));
  CHECK_FALSE(worst.index_of("shelf").has_value());
}

// From one item to another

TEST_CASE("an item is estimated after what it is made from, in whatever order the plan has them") {
  for (const bool is_first : {false, true}) {
    CAPTURE(is_first);
    Mission mission = make_drinkers(1);
    Item cells = make_item("cells");
    cells.per_day = 4;
    set_made_from(mission.items[0], "cells", 0.5);
    mission.items.insert(is_first ? mission.items.begin() : mission.items.end(), cells);
    Facts facts;
    for (int number = 0; number <= 3; ++number)
      facts.counts.push_back(make_count("cells", 50 - 1.5 * 4 * number, day(number)));
    // Made 1.5 x 2 = 3 a day, drawn 1 a day.
    for (int number = 0; number <= 3; ++number)
      facts.counts.push_back(make_count("water", 20 + 2 * number, day(number)));
    const auto levels = find_levels(mission, at_plan_only(), facts, day(3));
    REQUIRE(levels.size() == 2);
    const ItemLevel& water = levels[is_first ? 1 : 0];
    CHECK(water.item->id == "water");
    CHECK(water.made.mean == Approx(1.5));
    CHECK(water.made.sd > 0);
    CHECK(*water.factor == Approx(1).margin(1e-6));
  }
}

TEST_CASE("what is made from an item without a measured rate is taken at plan") {
  Mission mission = make_drinkers(1);
  add_cells(mission, 4, 0.5);
  Facts facts;
  facts.counts = {make_count("cells", 50), make_count("cells", 30, day(1)), make_count("water", 20)};
  const auto levels = find_levels(mission, at_plan_only(), facts, day(1));
  CHECK(levels[0].made.mean == 1);
  CHECK(levels[0].made.sd == 0);
}

TEST_CASE("what only events use has no use factor to estimate, however its counts scatter") {
  Mission mission = make_mission({.crew = 1});
  mission.items = {make_item("water", "each")};
  mission.items[0].per_event = {{"landing", 2}};
  const ItemLevel level = by_default(mission, watched({9, 8, 9, 7}), day(3));
  CHECK_FALSE(level.has_daily_use);
  CHECK_FALSE(level.factor.has_value());
  CHECK(sd_of(level.reads.at(0).estimate.factor()) == 0);
  CHECK(level.reads.at(0).estimate.leak_chance() == 0);
}

// Ahead or behind

TEST_CASE("ahead of plan is what is on board more than the first counts leave by plan, and less in what fills up") {
  Mission mission = make_drinkers(1);
  Facts facts;
  for (int number = 0; number <= 4; ++number)
    facts.counts.push_back(make_count("water", 50 - 0.5 * number, day(number)));
  CHECK(level_of(mission, facts, day(4)).ahead == Approx(2));
  facts.transfers = {make_done_transfer("water", 3, day(2) + 1h, "", "tank")};
  CHECK(level_of(mission, facts, day(4)).ahead < 0);
  facts.transfers.clear();
  mission.items = {make_capacity("water", 100, 1)};
  for (auto& count : facts.counts) count.row.quantity = 60 - count.row.quantity;
  CHECK(level_of(mission, facts, day(4)).ahead == Approx(2));
}
