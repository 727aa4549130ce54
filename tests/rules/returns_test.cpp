// Ways home: the plan with a return begun, the margin, the latest decision, the redline, and what holds them.
#include "rules/returns.h"

#include <algorithm>
#include <optional>
#include <random>
#include <string>
#include <tuple>
#include <vector>

#include "builders.h"
#include "rules/timeline.h"

using Catch::Matchers::ContainsSubstring;
using daywright::model::find_by_id;
using daywright::model::Instant;
using daywright::model::Item;
using daywright::model::Mission;
using daywright::model::ReturnOption;
using daywright::model::Verdict;
using daywright::rules::compute_margins;
using daywright::rules::crew_aboard;
using daywright::rules::Detail;
using daywright::rules::draw_order;
using daywright::rules::evaluate;
using daywright::rules::find_levels;
using daywright::rules::judge_returns;
using daywright::rules::plan_return;
using daywright::rules::ReturnCase;
using daywright::test::add_day_kind;
using daywright::test::add_event;
using daywright::test::add_phase;
using daywright::test::add_place;
using daywright::test::day;
using daywright::test::EveningScene;
using daywright::test::make_capacity;
using daywright::test::make_count;
using daywright::test::make_item;
using daywright::test::make_limit;
using daywright::test::make_mission;
using daywright::test::make_reserve;
using daywright::test::make_return;
using namespace std::chrono_literals;
using namespace std::string_literals;

namespace {

/// Three persons who drink 1 kg a day each. It is day 2, everything was just counted, and home can be reached in 12 h,
/// on any of the days 3 to 9. The planned landing is on day 10.
struct Scene : EveningScene {
  Scene() : EveningScene(day(2)) {
    rules.returns = {make_return({day(3), day(4), day(5), day(6), day(7), day(8), day(9)})};
    mission.items = {make_item("water", "kg", 1)};
    hold("water", 20);
  }

  ReturnOption& option() { return rules.returns.front(); }
  void hold(const std::string& item, double quantity) {
    std::erase_if(facts.counts, [&](const auto& count) { return count.row.item == item; });
    facts.counts.push_back(make_count(item, quantity, cutoff));
  }
  /// The option needs `figure` to be at least `limit` days.
  void need(const std::string& figure, double limit) {
    auto& criterion = rules.criteria.emplace_back(make_limit(figure, limit));
    criterion.id = criterion.title = "limit " + std::to_string(rules.criteria.size() - 1);
    option().needs.push_back(criterion.id);
  }

  [[nodiscard]] ReturnCase judged() const {
    const auto now = evaluate(evening());
    return judge_returns(evening(), now.levels, now.tasks, now.figures).at(0);
  }
  /// Whether nothing is short if the return is decided at `when`; nothing where no opportunity is left.
  [[nodiscard]] std::optional<bool> is_covered(Instant when) const {
    const auto home = plan_return(mission, rules.returns.front(), when);
    if (!home) return std::nullopt;
    const auto levels = find_levels(mission, rules.margins, facts, cutoff);
    const auto margins = compute_margins(*home, rules.margins, facts, levels, cutoff, Detail::margins);
    return std::none_of(margins.begin(), margins.end(),
                        [](const auto& m) { return m.governing && !m.governing->is_covered(); });
  }
};

/// A plan with something of everything that a return changes: a depot that goes on day 8, an EVA on day 5.
Mission busy_mission() {
  Mission mission = make_mission();
  add_day_kind(mission, "back");
  add_event(mission, "eva", day(5));
  add_event(mission, "undock", day(8));
  add_phase(mission, "eva_day", day(5));
  add_phase(mission, "undocked", day(8));
  add_place(mission, "depot", "undock", "depot_ship");
  mission.items = {make_item("water", "kg", 1)};
  mission.items[0].places = {"tank", "depot"};
  return mission;
}

std::vector<std::string> ids_of(const Mission& mission) {
  std::vector<std::string> ids;
  for (const auto& event : mission.events) ids.push_back(event.kind);
  return ids;
}

}  // namespace

// The plan of a return

TEST_CASE("a return replaces the later phases by its own kind of day, and what was planned later does not happen") {
  const Mission mission = busy_mission();
  ReturnOption option = make_return({day(4) + 12h});
  option.kind = "back";
  option.events = {"burn", "burn"};
  const auto home = plan_return(mission, option, day(4));
  REQUIRE(home);
  REQUIRE(home->phases.size() == 2);
  CHECK(home->phases[0].id == "flight");
  CHECK(home->phases[1].start == day(4));
  CHECK(home->phases[1].kind == "back");
  CHECK(ids_of(*home) == std::vector{"undock"s, "burn"s, "burn"s});  // neither the EVA nor the planned landing
  CHECK(home->events[1].at == day(4) + 12h);
  CHECK(home->landing() == day(4) + 12h);
  CHECK(home->required_end() == day(4) + 12h);
}

TEST_CASE(
    "what is planned for the time of the decision itself has happened, and a phase that begins then is not flown") {
  const Mission mission = busy_mission();
  const ReturnOption option = make_return({day(9)});
  const auto kinds = [&](Instant decide) { return ids_of(*plan_return(mission, option, decide)); };
  CHECK(kinds(day(5)) == std::vector{"eva"s, "undock"s});
  CHECK(kinds(day(5) - 1us) == std::vector{"undock"s});
  CHECK(plan_return(mission, option, day(5))->phases.size() == 2);
  CHECK(plan_return(mission, option, day(5) + 1us)->phases.size() == 3);
}

TEST_CASE("a place that goes with a later event goes at the decision, and one that has gone stays gone") {
  const Mission mission = busy_mission();
  const ReturnOption option = make_return({day(9)});
  CHECK(find_by_id(plan_return(mission, option, day(4))->events, "undock")->at == day(4));
  CHECK(find_by_id(plan_return(mission, option, day(8) + 6h)->events, "undock")->at == day(8));
}

TEST_CASE("whoever has a seat goes to its vehicle, and whoever is not there yet does not come") {
  Mission mission = busy_mission();
  mission.persons[0].seat = "depot_ship";
  mission.persons[1].stays = {{day(0), "depot_ship"}};  // comes home in the ship
  mission.persons[2].stays = {{day(6), "ship"}};        // arrives on day 6
  mission.persons.push_back({"p4", "Crew", {{day(0), "ship"}, {day(6), "depot_ship"}}, "ship", {}});
  const auto home = plan_return(mission, make_return({day(9)}), day(4));
  CHECK(crew_aboard(*home, "ship", day(4) - 1us) == 2);  // the first and the fourth
  CHECK(crew_aboard(*home, "ship", day(4)) == 2);        // the second and the fourth
  CHECK(crew_aboard(*home, "ship", day(9)) == 2);
  CHECK(crew_aboard(*home, "depot_ship", day(9)) == 1);
}

TEST_CASE("the landing is the first opportunity that lies the hours of the option after the decision") {
  const Mission mission = make_mission();
  const ReturnOption option = make_return({day(3), day(4)});
  const auto landing = [&](Instant decide) -> std::optional<Instant> {
    const auto home = plan_return(mission, option, decide);
    return home ? std::optional(home->landing()) : std::nullopt;
  };
  CHECK(landing(day(3) - 12h) == day(3));
  CHECK(landing(day(3) - 12h + 1us) == day(4));
  CHECK(landing(day(4) - 12h) == day(4));
  CHECK_FALSE(landing(day(4) - 12h + 1us));
}

TEST_CASE("the rule of drawing of a phase that is not flown any more does not hold") {
  Mission mission = busy_mission();
  mission.items[0].draw = {{"flight", {"depot", "tank"}}, {"undocked", {"tank"}}};
  const Item& water = mission.items[0];
  const auto home = plan_return(mission, make_return({day(9)}), day(4));
  CHECK(draw_order(mission, water, day(8)) == std::vector{"tank"s});
  CHECK(draw_order(*home, water, day(8)) == std::vector{"depot"s, "tank"s});
}

// If it began now

TEST_CASE("the margin of a return that begins now is what is left at its landing, places that go left behind") {
  Scene scene;
  scene.mission = busy_mission();
  scene.mission.gates = {{"entry", "Entry", "landing", day(9), {}}};
  find_by_id(scene.mission.day_kinds, "back")->per_crew_day["water"] = 2;
  Item& water = scene.mission.items[0];
  water.per_event = {{"burn", 1}};
  water.reserve = {make_reserve(2, "eva"), make_reserve(0.5, "undock")};
  scene.facts.counts = {make_count("water", 7, day(2), "depot"), make_count("water", 20, day(2))};
  scene.option().kind = "back";
  scene.option().events = {"burn"};
  const ReturnCase home = scene.judged();
  CHECK(home.verdict == Verdict::ready);
  CHECK(home.landing == day(3));
  REQUIRE(home.margin);
  // 20 aboard, the depot's 7 lost; one day at 3 x 2; the burn 1; 2 still held, as nobody has been out yet.
  CHECK(home.margin->units == Approx(20 - 6 - 1 - 2));
  CHECK(*home.margin->days == Approx(11.0 / 3));  // at 3 kg a wave-off day
  REQUIRE(home.limiting != nullptr);
  CHECK(home.limiting->id == "water");
}

TEST_CASE("of several items the one with the fewest days limits the return") {
  Scene scene;
  scene.mission.items.push_back(make_item("food", "kg", 2));
  scene.hold("food", 12);  // one day 6, so 1 day is left; of water 17 kg, 5.7 days
  const ReturnCase home = scene.judged();
  REQUIRE(home.limiting != nullptr);
  CHECK(home.limiting->id == "food");
  CHECK(*home.margin->days == Approx(1));
}

TEST_CASE("a return that is short is NOT READY and says of what") {
  Scene scene;
  scene.hold("water", 3);
  CHECK(scene.judged().verdict == Verdict::ready);
  scene.hold("water", 2.99);
  const ReturnCase home = scene.judged();
  CHECK(home.verdict == Verdict::not_ready);
  CHECK(home.reason == "water is short on the way");
  CHECK_FALSE(home.latest_decision);
}

TEST_CASE("where no opportunity is left a return is NOT READY and has nothing else to tell") {
  Scene scene;
  scene.cutoff = day(9) - 12h;
  scene.hold("water", 20);
  CHECK(scene.judged().latest_decision == day(9) - 12h);
  scene.cutoff += 1us;
  const ReturnCase home = scene.judged();
  CHECK(home.verdict == Verdict::not_ready);
  CHECK(home.reason == "no opportunity to land is left");
  CHECK_FALSE(home.landing);
  CHECK_FALSE(home.margin);
  CHECK_FALSE(home.latest_decision);
  CHECK(home.redlines.empty());
  CHECK(home.limiting == nullptr);
}

TEST_CASE("an item that was never counted, or whose count is stale, makes a return NO DATA") {
  Scene uncounted;
  uncounted.mission.items.push_back(make_item("food", "kg", 1));
  CHECK(uncounted.judged().verdict == Verdict::no_data);
  CHECK_THAT(uncounted.judged().reason, ContainsSubstring("food: never counted in Tank"));
  uncounted.hold("water", 1);  // what is known to be short is said first
  CHECK(uncounted.judged().verdict == Verdict::not_ready);
  CHECK(uncounted.judged().reason == "water is short on the way");
  Scene stale;
  stale.cutoff = day(2) + 36h;
  CHECK(stale.judged().verdict == Verdict::ready);
  stale.cutoff += 1min;
  CHECK(stale.judged().verdict == Verdict::no_data);
  CHECK_THAT(stale.judged().reason, ContainsSubstring("36 h old"));
}

TEST_CASE("a return needs each criterion that it names, judged as on the planned flight") {
  Scene scene;
  scene.hold("water", 60);  // planned: 36 left, 12 days
  scene.need("item.water.margin.days", 12);
  CHECK(scene.judged().verdict == Verdict::ready);
  scene.need("item.water.margin.day", 12);
  CHECK(scene.judged().verdict == Verdict::no_data);
  CHECK_THAT(scene.judged().reason, ContainsSubstring("limit 1: ") && ContainsSubstring("no figure"));
  scene.need("item.water.margin.days", 12.1);
  const ReturnCase home = scene.judged();
  CHECK(home.verdict == Verdict::not_ready);
  CHECK_THAT(home.reason, ContainsSubstring("limit 2: "));
  CHECK(home.margin->is_covered());  // what is aboard is another matter
  CHECK(home.latest_decision);
  scene.option().needs.clear();
  CHECK(scene.judged().verdict == Verdict::ready);
}

// The latest decision

TEST_CASE("the latest decision lies the hours of the option before the last opportunity that is covered") {
  Scene scene;
  auto& back = add_day_kind(scene.mission, "back");
  back.per_crew_day["water"] = 2;
  scene.option().kind = "back";
  // Landing on day n: n - 2.5 days at 3 kg, half a day at 6 kg.
  for (int n = 3; n <= 9; ++n) {
    CAPTURE(n);
    scene.hold("water", 3 * (n - 2.5) + 3);
    CHECK(scene.judged().latest_decision == day(n) - 12h);
    CHECK(scene.judged().is_last_opportunity == (n == 9));
    CHECK((scene.judged().set_by == nullptr) == (n == 9));
    scene.hold("water", 3 * (n - 2.5) + 3 - 0.001);
    CHECK(scene.judged().latest_decision == (n == 3 ? std::nullopt : std::optional(day(n - 1) - 12h)));
    REQUIRE(scene.judged().set_by != nullptr);
    CHECK(scene.judged().set_by->id == "water");
  }
}

TEST_CASE("a decision that lies before the cut-off is none, and one at the cut-off is") {
  Scene scene;
  scene.option().opportunities = {day(2) + 11h, day(2) + 12h};
  CHECK(scene.judged().latest_decision == day(2));
  scene.option().opportunities = {day(2) + 12h - 1us, day(9)};  // the last is short, the one before is missed
  CHECK_FALSE(scene.judged().latest_decision);
}

TEST_CASE("a later decision leaves no more of what is used all the time") {
  Scene scene;
  std::vector<double> margins;
  for (const Instant opportunity : scene.option().opportunities) {
    const auto home = plan_return(scene.mission, scene.option(), opportunity - 12h);
    margins.push_back(daywright::test::Balance(*home, scene.facts, scene.cutoff).at_plan("water").units);
  }
  for (std::size_t i = 1; i < margins.size(); ++i) CHECK(margins[i] == Approx(margins[i - 1] - 3));
}

TEST_CASE("a later decision that finds a reserve released is covered where earlier ones are not") {
  Scene scene;
  add_event(scene.mission, "eva", day(8));
  scene.mission.items = {make_item("propellant")};
  scene.mission.items[0].per_event = {{"burn", 20}};
  scene.mission.items[0].reserve = {make_reserve(15, "eva")};
  scene.option().events = {"burn"};
  scene.hold("propellant", 30);  // 30 - 20 is less than the 15 that are held until day 8
  const ReturnCase home = scene.judged();
  CHECK(home.verdict == Verdict::not_ready);
  CHECK(scene.is_covered(day(8) - 12h) == false);
  CHECK(scene.is_covered(day(9) - 12h) == true);
  CHECK(home.latest_decision == day(9) - 12h);
  CHECK(home.is_last_opportunity);
}

TEST_CASE("the latest decision is the one that trying every opportunity finds") {
  int found = 0;
  int none = 0;
  for (unsigned seed = 0; seed < 300; ++seed) {
    std::mt19937 random(seed);
    const auto up_to = [&](int most) { return static_cast<int>(random() % static_cast<unsigned>(most + 1)); };
    Scene scene;
    scene.mission = busy_mission();
    scene.mission.gates = {{"entry", "Entry", "landing", day(9), {}}};
    find_by_id(scene.mission.day_kinds, "back")->per_crew_day["water"] = up_to(3);
    scene.mission.persons[0].stays.push_back({day(3 + up_to(5)), "depot_ship"});
    scene.mission.persons[1].seat = up_to(1) == 0 ? "ship" : "depot_ship";
    Item& water = scene.mission.items[0];
    water.per_event = {{"burn", up_to(9)}, {"eva", up_to(2)}};
    water.reserve = {make_reserve(up_to(9), "eva")};
    scene.mission.items.push_back(make_capacity("waste", 20, 0.5));
    scene.option().kind = up_to(1) == 0 ? "work" : "back";
    scene.option().events = {"burn"};
    std::erase_if(scene.option().opportunities, [&](Instant) { return up_to(3) == 0; });
    scene.facts.counts = {make_count("waste", up_to(15), day(2)), make_count("water", up_to(5), day(2), "depot"),
                          make_count("water", up_to(40), day(2))};
    std::optional<Instant> latest;
    for (const Instant opportunity : scene.option().opportunities) {
      if (scene.is_covered(opportunity - 12h) == true) latest = opportunity - 12h;
    }
    CAPTURE(seed);
    CHECK(scene.judged().latest_decision == latest);
    ++(latest ? found : none);
  }
  CHECK(found > 50);
  CHECK(none > 50);
}

// The redline

TEST_CASE("at the redline a return is still covered, and one step beyond it is not") {
  for (unsigned seed = 0; seed < 100; ++seed) {
    std::mt19937 random(seed);
    const auto up_to = [&](int most) { return static_cast<double>(random() % static_cast<unsigned>(most + 1)); };
    const bool fills_up = seed % 2 == 1;
    Scene scene;
    scene.mission.items = {fills_up ? make_capacity("it", 40, 0.1 * (1 + up_to(9)))
                                    : make_item("it", "kg", 0.1 * (1 + up_to(9)))};
    Item& item = scene.mission.items[0];
    item.residual["tank"] = up_to(3);
    item.reserve = {make_reserve(up_to(3))};
    item.per_event = {{"burn", up_to(3)}};
    scene.option().events = {"burn"};
    scene.facts.counts.clear();
    scene.hold("it", 10 + up_to(20));
    CAPTURE(seed);
    const auto redline_of = [](const ReturnCase& home) {
      REQUIRE(home.limiting_redline() != nullptr);
      REQUIRE(home.limiting_redline()->plan);
      return *home.limiting_redline()->plan;
    };
    const double redline = redline_of(scene.judged());
    scene.hold("it", redline);
    CHECK(scene.judged().verdict == Verdict::ready);
    CHECK(redline_of(scene.judged()) == Approx(redline));
    scene.hold("it", redline + (fills_up ? 1 : -1) * item.step);
    CHECK(scene.judged().verdict == Verdict::not_ready);
  }
}

TEST_CASE("each item has two redlines: one for the hours that are planned, one for the least that are needed") {
  Scene scene;
  scene.mission.items.push_back(make_item("food", "kg", 2));
  scene.option().opportunities = {day(2) + 6h, day(2) + 12h};
  scene.hold("food", 50);
  CHECK_FALSE(scene.judged().redlines.at(0).begin);  // nothing is known of a faster way
  scene.option().minimum_hours = 6;
  const ReturnCase home = scene.judged();
  REQUIRE(home.redlines.size() == 2);
  const auto& [water, food] = std::tie(home.redlines[0], home.redlines[1]);
  CHECK(water.aboard == 20);
  CHECK(*water.plan == Approx(3 * 0.5));
  CHECK(*water.begin == Approx(3 * 0.25));
  CHECK(food.aboard == 50);
  CHECK(*food.plan == Approx(6 * 0.5));
  CHECK(*food.begin == Approx(6 * 0.25));
  CHECK(home.limiting_redline() == &water);
}

TEST_CASE("a redline is the level of what comes along, whatever is left behind") {
  Scene scene;
  add_event(scene.mission, "undock", day(8));
  add_place(scene.mission, "depot", "undock");
  scene.mission.items[0].places = {"tank", "depot"};
  const Scene tank = scene;
  for (const double left : {0.0, 5.0, 100.0}) {
    scene.facts = tank.facts;
    scene.facts.counts.push_back(make_count("water", left, scene.cutoff, "depot"));
    const ReturnCase home = scene.judged();
    CHECK(home.redlines.at(0).aboard == 20);
    CHECK(*home.redlines.at(0).plan == Approx(3 * 1));
  }
}

TEST_CASE("an item that was never counted has no redline, and one in doubt has its doubts") {
  Scene scene;
  scene.mission.items.push_back(make_item("food", "kg", 1));
  const ReturnCase home = scene.judged();
  CHECK_FALSE(home.redlines.at(1).plan);
  CHECK_FALSE(home.redlines.at(1).doubts.empty());
  CHECK(home.redlines.at(0).doubts.empty());
}
