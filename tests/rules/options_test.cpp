// What if: each change alone gives what the brief of a mission says whose files say so.
#include "rules/options.h"

#include <string>
#include <variant>
#include <vector>

#include "builders.h"
#include "rules/item_figures.h"
#include "rules/returns.h"
#include "rules/timeline.h"

using Catch::Matchers::ContainsSubstring;
using daywright::model::Criterion;
using daywright::model::DayStatus;
using daywright::model::find_by_id;
using daywright::model::Instant;
using daywright::model::Item;
using daywright::model::Mission;
using daywright::model::Table;
using daywright::model::TransferState;
using daywright::rules::change_plan;
using daywright::rules::compute_options;
using daywright::rules::crew_aboard;
using daywright::rules::evaluate;
using daywright::rules::extend;
using daywright::rules::format_instant;
using daywright::rules::judge_extensions;
using daywright::rules::judge_flight;
using daywright::rules::plan_return;
using daywright::rules::WhatIf;
using daywright::test::add_cleared_nose;
using daywright::test::add_event;
using daywright::test::day;
using daywright::test::EveningScene;
using daywright::test::make_capacity;
using daywright::test::make_count;
using daywright::test::make_day_reserve;
using daywright::test::make_event_reserve;
using daywright::test::make_item;
using daywright::test::make_return;
using daywright::test::make_transfer;
using daywright::test::set_made_from;
using namespace std::chrono_literals;
using namespace std::string_literals;

namespace {

/// Three persons who drink 1 kg a day each and fill a tank with as much. It is noon of day 2, everything was counted at
/// its beginning, the planned landing is on day 10, the last one on day 11, and home can be reached in 12 h.
struct Scene : EveningScene {
  Scene() : EveningScene(day(2) + 12h, {.waiting_days = 1}) {
    rules.returns = {make_return({day(4), day(9)})};
    mission.items = {make_item("water", "kg", 1), make_capacity("waste", 60, 1)};
    facts.counts = {make_count("waste", 10, day(2)), make_count("water", 40, day(2))};
  }

  void plan_transfer(const std::string& id, Instant when, const std::string& from, const std::string& to) {
    auto transfer = make_transfer("water", 5, when, from, to);
    transfer.row.transfer = id;
    facts.transfers.push_back(transfer);
  }

  /// Why it can't be.
  [[nodiscard]] std::string refusal_of(const WhatIf& what_if) const {
    auto status = compute_options(evening(), what_if, {});
    REQUIRE(std::holds_alternative<std::string>(status));
    return std::get<std::string>(status);
  }
  [[nodiscard]] DayStatus status_of(const WhatIf& what_if) const {
    auto status = compute_options(evening(), what_if, {});
    if (const auto* why = std::get_if<std::string>(&status)) FAIL(*why);
    return std::get<DayStatus>(status);
  }
};

std::string text_of(const DayStatus& status, const std::string& id) {
  CAPTURE(id);
  const auto* figure = status.find(id);
  REQUIRE(figure != nullptr);
  return figure->text;
}

/// Holds the flight changed by `what_if` against the flight `other`, which is planned so.
void check_same(const Scene& scene, const WhatIf& what_if, const Scene& other) {
  const DayStatus status = scene.status_of(what_if);
  const auto now = evaluate(other.evening());
  const auto flight = judge_flight(other.evening(), other.mission, now.margins, now.tasks);
  CHECK(text_of(status, "what_if.changed.verdict") == words(flight.verdict));
  CHECK(text_of(status, "what_if.changed.landing") == format_instant(flight.landing, other.mission));
  CHECK(text_of(status, "what_if.changed.needed") == format_instant(flight.required_end, other.mission));
  CHECK(text_of(status, "what_if.changed.limiting") == (flight.limiting.empty() ? "none" : flight.limiting));
  CHECK(text_of(status, "what_if.changed.reason") == (flight.reason.empty() ? "nothing" : flight.reason));
  const auto plain = evaluate(scene.evening());
  bool differs = false;
  for (const Item& item : scene.mission.items) {
    const std::string margin = "item." + item.id + ".margin.";
    CHECK(text_of(status, "what_if." + margin + "words") == now.figures.at(margin + "words").text);
    CHECK(text_of(status, "what_if." + margin + "basis") == now.figures.at(margin + "basis").text);
    differs = differs || now.figures.at(margin + "words").text != plain.figures.at(margin + "words").text;
  }
  CHECK(differs);  // else nothing was held against anything
}

}  // namespace

TEST_CASE("where nothing is asked there is no what-if, and the ways home and the extension are shown") {
  const DayStatus status = Scene().status_of({});
  CHECK(status.find_table("what_if") == nullptr);
  CHECK(status.find_table("what_if_items") == nullptr);
  REQUIRE(status.find_table("extension") != nullptr);
  REQUIRE(status.find_table("returns") != nullptr);
  CHECK(status.find_table("returns")->rows.size() == 1);
}

TEST_CASE("beside the changed flight stands the plain one, and the tables of the plan stay as they are") {
  const Scene scene;
  const DayStatus plain = scene.status_of({});
  WhatIf what_if;
  what_if.extra_days = 2;
  const DayStatus status = scene.status_of(what_if);
  const auto now = evaluate(scene.evening());
  CHECK(text_of(status, "what_if.plain.flight") == "as planned");
  CHECK(text_of(status, "what_if.changed.flight") == "2 d more");
  CHECK(text_of(status, "what_if.plain.landing") == format_instant(scene.mission.landing(), scene.mission));
  for (const char* name : {"extension", "returns"}) {
    const Table& before = *plain.find_table(name);
    const Table& after = *status.find_table(name);
    REQUIRE_FALSE(before.rows.empty());
    REQUIRE(before.rows.size() == after.rows.size());
    for (std::size_t row = 0; row < before.rows.size(); ++row) {
      for (std::size_t at = 0; at < before.columns.size(); ++at)
        CHECK(plain.text_of(before.rows[row][at], before.columns[at]) ==
              status.text_of(after.rows[row][at], after.columns[at]));
    }
  }
  const Table& items = *status.find_table("what_if_items");
  REQUIRE(items.rows.size() == 2);
  CHECK(status.text_of(items.rows[0][1], items.columns[1]) == now.figures.at("item.water.margin.words").text);
}

// Each change alone

TEST_CASE("days added are the extension with so many days") {
  const Scene scene;
  const auto now = evaluate(scene.evening());
  const auto cases = judge_extensions(scene.evening(), now);
  REQUIRE(cases.size() == 6);  // 40 kg at 3 a day from day 2: enough to day 15 and one third
  for (int days = 1; days <= 5; ++days) {
    CAPTURE(days);
    WhatIf what_if;
    what_if.extra_days = days;
    Scene other = scene;
    other.mission = extend(scene.mission, days);
    check_same(scene, what_if, other);
    const auto& with = cases[static_cast<std::size_t>(days)];
    const DayStatus status = scene.status_of(what_if);
    CHECK(text_of(status, "what_if.changed.verdict") == words(with.verdict));
    CHECK(text_of(status, "what_if.changed.reason") == (with.reason.empty() ? "nothing" : with.reason));
    CHECK(text_of(status, "what_if.changed.landing") == format_instant(with.landing, other.mission));
  }
}

TEST_CASE("a smaller crew is a mission in which the others leave then") {
  const Scene scene;
  WhatIf what_if;
  what_if.crew = WhatIf::Crew{1, day(5)};
  Scene other = scene;
  for (const std::size_t person : {std::size_t{1}, std::size_t{2}})
    other.mission.persons[person].stays.push_back({day(5), ""});
  check_same(scene, what_if, other);
  what_if.crew->persons = 0;
  other.mission.persons[0].stays.push_back({day(5), ""});
  check_same(scene, what_if, other);
}

TEST_CASE("a larger crew is a mission in which others come aboard then") {
  const Scene scene;
  WhatIf what_if;
  what_if.crew = WhatIf::Crew{5, day(5)};
  Scene other = scene;
  for (const char* id : {"p4", "p5"}) other.mission.persons.push_back({id, "Crew", {{day(5), "ship"}}, "ship", {}});
  check_same(scene, what_if, other);
}

TEST_CASE("so many persons are aboard from then on, whoever was to come and go later") {
  Scene scene;
  scene.mission.persons[0].stays.push_back({day(6), "depot"});                                         // would leave
  scene.mission.persons.push_back({"p4", "Crew", {{day(0), "depot"}, {day(6), "ship"}}, "ship", {}});  // would come
  WhatIf what_if;
  what_if.crew = WhatIf::Crew{3, day(5)};
  const auto changed = std::get<Mission>(change_plan(scene.evening(), what_if));
  for (int number = 5; number <= 11; ++number) CHECK(crew_aboard(changed, "ship", day(number)) == 3);
}

TEST_CASE("a rate is a mission in which so much is used from the cut-off on, and what has been used stays") {
  for (const double factor : {0.0, 0.5, 1.4}) {
    CAPTURE(factor);
    Scene scene;
    Item& water = scene.mission.items[0];
    add_event(scene.mission, "wash", day(6));
    water.per_event["wash"] = 2;
    water.reserve = {make_day_reserve(1), make_event_reserve("wash")};
    WhatIf what_if;
    what_if.choice.rates["water"] = factor;
    Scene other = scene;
    for (const char* id : {"work", "wave_off"}) {
      auto changed = *find_by_id(scene.mission.day_kinds, id);
      changed.id += "_changed";
      changed.per_crew_day["water"] = factor;
      other.mission.day_kinds.push_back(changed);
    }
    other.mission.phases.push_back({"later", "Later", scene.cutoff, "work_changed", {}});
    other.mission.landing_days[1].kind = other.mission.margin_kind = "wave_off_changed";
    other.mission.items[0].per_event["wash"] = 2 * factor;
    other.mission.items[0].reserve[0].kind = "wave_off_changed";
    check_same(scene, what_if, other);
  }
}

TEST_CASE("what is made follows the rate of what it is made from") {
  Scene scene;
  Item power = make_item("power", "kg", 1);
  set_made_from(scene.mission.items[0], "power", 0.5);
  scene.mission.items.push_back(power);
  scene.facts.counts = {make_count("power", 99, day(2)), make_count("waste", 10, day(2)),
                        make_count("water", 20, day(2))};
  WhatIf what_if;
  what_if.choice.rates["power"] = 1.2;
  Scene other = scene;
  for (auto& kind : other.mission.day_kinds) kind.per_crew_day["power"] = 1.2;
  // The half day since the counts is flown as planned: 1.5 kg of power, 0.75 kg of water.
  other.facts.counts[0].row.quantity += 1.5 * 0.2;
  other.facts.counts[2].row.quantity -= 0.75 * 0.2;
  check_same(scene, what_if, other);
}

TEST_CASE("a transfer in that counts is one that is done") {
  Scene scene;
  scene.plan_transfer("t1", day(5), "", "tank");
  WhatIf what_if;
  what_if.choice.in = {"t1"};
  Scene other = scene;
  other.facts.transfers[0].row.state = TransferState::done;
  other.facts.transfers[0].row.when = day(2) + 1h;
  check_same(scene, what_if, other);
}

TEST_CASE("a transfer out that is not made is one that is not planned") {
  Scene scene;
  scene.plan_transfer("t1", day(5), "tank", "");
  scene.plan_transfer("t2", day(6), "tank", "");
  WhatIf what_if;
  what_if.choice.not_out = {"t2"};
  Scene other = scene;
  other.facts.transfers.pop_back();
  check_same(scene, what_if, other);
}

TEST_CASE("a return begun at the cut-off is the way home as it is judged") {
  const Scene scene;
  WhatIf what_if;
  what_if.going_home = WhatIf::Return{"home", scene.cutoff};
  Scene other = scene;
  other.mission = *plan_return(scene.mission, scene.rules.returns[0], scene.cutoff);
  check_same(scene, what_if, other);
  const DayStatus status = scene.status_of(what_if);
  CHECK(text_of(status, "what_if.changed.landing") == text_of(status, "return.home.landing"));
  CHECK(text_of(status, "what_if.changed.limiting") == text_of(status, "return.home.limiting"));
  CHECK(text_of(status, "what_if.changed.margin") == text_of(status, "return.home.margin"));
}

TEST_CASE("a return can be decided later, and lands on the next opportunity then") {
  const Scene scene;
  WhatIf what_if;
  what_if.going_home = WhatIf::Return{"home", day(4)};
  Scene other = scene;
  other.mission = *plan_return(scene.mission, scene.rules.returns[0], day(4));
  CHECK(other.mission.landing() == day(9));
  check_same(scene, what_if, other);
}

// Changes together

TEST_CASE("who has left before a return is decided does not come home with it") {
  const Scene scene;
  for (const Instant decide : {day(5), day(6)}) {
    WhatIf what_if;
    what_if.crew = WhatIf::Crew{1, day(5)};
    what_if.going_home = WhatIf::Return{"home", decide};
    const auto home = std::get<Mission>(change_plan(scene.evening(), what_if));
    CHECK(crew_aboard(home, "ship", day(5) - 1us) == 3);
    CHECK(crew_aboard(home, "ship", day(5)) == 1);
    CHECK(crew_aboard(home, "ship", day(9)) == 1);
  }
}

TEST_CASE("so many as are asked for come home, whosever seats they are") {
  Scene scene;
  scene.mission.persons[0].seat = "depot";  // aboard, and to go to the depot
  scene.mission.persons.push_back({"p4", "Crew", {{day(0), "depot"}}, "ship", {}});
  WhatIf what_if;
  what_if.going_home = WhatIf::Return{"home", day(6)};
  for (const int persons : {2, 3, 5}) {
    what_if.crew = WhatIf::Crew{persons, day(5)};
    CHECK(crew_aboard(std::get<Mission>(change_plan(scene.evening(), what_if)), "ship", day(9)) == persons);
  }
}

TEST_CASE("a crew that would change after the return is decided is refused") {
  const Scene scene;
  WhatIf what_if;
  what_if.going_home = WhatIf::Return{"home", day(5)};
  what_if.crew = WhatIf::Crew{1, day(5)};
  CHECK(std::holds_alternative<Mission>(change_plan(scene.evening(), what_if)));
  what_if.crew->from += 1us;
  CHECK(scene.refusal_of(what_if) == "the crew can't change after the return is decided");
}

TEST_CASE("changes together are those of one plan, and are all named") {
  Scene scene;
  scene.plan_transfer("t1", day(5), "", "tank");
  scene.plan_transfer("t2", day(6), "tank", "");
  WhatIf what_if;
  what_if.extra_days = 1;
  what_if.choice.in = {"t1"};
  what_if.choice.not_out = {"t2"};
  what_if.choice.rates["waste"] = 1.5;
  what_if.crew = WhatIf::Crew{2, day(4)};
  CHECK(text_of(scene.status_of(what_if), "what_if.changed.flight") ==
        "1 d more; with transfer t1 in; without transfer t2 out; waste at 1.5 times its rate; 2 persons aboard from " +
            format_instant(day(4), scene.mission));
  // 40 and 5 in on day 2; 3 a day to day 4, then 2 a day to day 12: 23 are left at 2 a day, 11.5 days.
  CHECK(text_of(scene.status_of(what_if), "what_if.item.water.margin.words") == "11.5 d over");
}

TEST_CASE("a return leaves the criteria that limit an extension to be judged without the events that fall away") {
  Scene scene;
  add_event(scene.mission, "eva", day(6));
  add_cleared_nose(scene.mission, scene.facts);
  Criterion criterion;
  criterion.id = criterion.title = "surface";
  criterion.gate = "entry";
  criterion.limits_extension = true;
  WhatIf what_if;
  what_if.going_home = WhatIf::Return{"home", day(3)};
  // An EVA that is not made voids no survey, and no survey can be taken after it.
  criterion.demand = daywright::model::ZonesCriterion{{"nose"}, "board", "wide", 95, {}, "", {"eva"}};
  scene.rules.criteria = {criterion};
  CHECK(text_of(scene.status_of(what_if), "what_if.plain.verdict") != "READY");
  CHECK(text_of(scene.status_of(what_if), "what_if.changed.verdict") == "READY");
  criterion.demand = daywright::model::ZonesCriterion{{"nose"}, "board", "wide", 95, {}, "eva", {}};
  scene.rules.criteria = {criterion};
  CHECK(text_of(scene.status_of(what_if), "what_if.changed.verdict") != "READY");
}

// What can't be

TEST_CASE("a name that is not there is refused, and the nearest is offered") {
  Scene scene;
  scene.plan_transfer("X-9", day(5), "", "tank");
  scene.plan_transfer("done", day(1), "", "tank");
  scene.facts.transfers[1].row.state = TransferState::done;
  WhatIf in;
  in.choice.in = {"X-8"};
  CHECK(scene.refusal_of(in) == "there is no planned transfer 'X-8'; did you mean 'X-9'?");
  in.choice.in = {"done"};
  CHECK(scene.refusal_of(in) == "there is no planned transfer 'done'");
  WhatIf out;
  out.choice.not_out = {"X-99"};
  CHECK(scene.refusal_of(out) == "there is no planned transfer 'X-99'; did you mean 'X-9'?");
  WhatIf rate;
  rate.choice.rates["watr"] = 1.1;
  CHECK(scene.refusal_of(rate) == "there is no item 'watr'; did you mean 'water'?");
  WhatIf home;
  home.going_home = WhatIf::Return{"hoem", scene.cutoff};
  CHECK(scene.refusal_of(home) == "there is no return option 'hoem'; did you mean 'home'?");
}

TEST_CASE("nothing changes before the cut-off") {
  const Scene scene;
  WhatIf crew;
  crew.crew = WhatIf::Crew{2, scene.cutoff};
  CHECK(std::holds_alternative<Mission>(change_plan(scene.evening(), crew)));
  crew.crew->from -= 1us;
  CHECK(scene.refusal_of(crew) == "the crew can't change before the cut-off");
  WhatIf home;
  home.going_home = WhatIf::Return{"home", scene.cutoff};
  CHECK(std::holds_alternative<Mission>(change_plan(scene.evening(), home)));
  home.going_home->at -= 1us;
  CHECK(scene.refusal_of(home) == "a return can't be decided before the cut-off");
}

TEST_CASE("a return that is decided too late for any opportunity is refused") {
  const Scene scene;
  WhatIf what_if;
  what_if.going_home = WhatIf::Return{"home", day(9) - 12h};
  CHECK(std::holds_alternative<Mission>(change_plan(scene.evening(), what_if)));
  what_if.going_home->at += 1us;
  CHECK_THAT(scene.refusal_of(what_if), ContainsSubstring("'home' has no opportunity to land"));
}

TEST_CASE("days can't be added once the event before which they would come is past") {
  Scene scene;
  add_event(scene.mission, "undock", scene.cutoff + 1us);
  scene.mission.extension_before = "undock";
  WhatIf what_if;
  what_if.extra_days = 1;
  CHECK(std::holds_alternative<Mission>(change_plan(scene.evening(), what_if)));
  scene.cutoff += 1us;
  CHECK_THAT(scene.refusal_of(what_if), ContainsSubstring("before undock only, and that is past"));
  what_if.extra_days = 0;
  CHECK(std::holds_alternative<Mission>(change_plan(scene.evening(), what_if)));
}
