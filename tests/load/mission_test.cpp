// The plan: every flight, item and name in these tests is invented.
#include "load/mission.h"

#include <array>
#include <map>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <vector>

#include "builders.h"

using Catch::Matchers::ContainsSubstring;
using daywright::load::parse_mission;
using daywright::model::Diagnostic;
using daywright::model::Diagnostics;
using daywright::model::ItemSort;
using daywright::model::ledger_kind_names;
using daywright::model::LedgerKind;
using daywright::model::Mission;
using daywright::model::PlaceState;
using daywright::model::Severity;
using daywright::model::Source;
using daywright::test::how_many;
using daywright::test::line_of;
using daywright::test::lines_of;
using daywright::test::met;
using daywright::test::only;
using daywright::test::smallest_mission;
using daywright::test::swapped;
using daywright::test::text_of;
using daywright::test::with;
using namespace std::string_literals;
using namespace std::string_view_literals;

namespace {

constexpr int this_file = 5;

/// The smallest plan and one of everything else that a plan may hold.
std::string fuller_mission() {
  return with(smallest_mission, R"([[vehicle]]
id = "depot"
title = "Depot"

[[place]]
id = "shelf"
title = "Shelf"
vehicle = "depot"
state = "isolated"
until = "undock"

[[person]]
id = "guest"
title = "Guest"
aboard = "depot"
seat = "ship"
[[person.move]]
at = "1/12:00"
vehicle = "ship"

[[day_kind]]
id = "waiting"
title = "Waiting day"
power_kw = 1.5
crew = 2
per_crew_day = { food = 1 }
per_day = { water = 2 }
events_per_day = { dump = 3 }

[[event]]
id = "undock"
title = "Undocking"
at = "2/12:00"
kind = "undocking"

[[phase]]
id = "home"
title = "On the way home"
start = "2/12:00"
kind = "waiting"

[[landing_day]]
kind = "waiting"
opportunities = ["4/06:00", "4/08:00"]

[[method]]
id = "lever"
kind = "gauge"
phases = ["home"]

[[item]]
id = "food"
title = "Food"
sort = "capacity"
unit = "meal"
step = 1
vehicle = "ship"
places = ["shelf", "tank"]
made_from = "water"
made_ratio = 0.5
made_into = "shelf"
residual = { tank = 4 }
capacity = { shelf = 30, tank = 20 }
sigma = { gauge = 2 }
bias = { gauge = 0.5 }
transfer_sigma = 0.25
event_sigma = 0.125
per_event = { undocking = 5 }
count_every_hours = 12
by_hand = true
[[item.draw]]
phase = "home"
places = ["tank"]
[[item.reserve]]
text = "a day more"
days = 1.5
kind = "waiting"
released_by = "undock"
rationale = "invented"
[[item.reserve]]
text = "a dump more"
event_kind = "dump"
rationale = "invented"

[[item.ledger]]
text = "stowed"
kind = "load"
quantity = 40.5
[[item.ledger]]
text = "spoilt"
kind = "unusable"
quantity = 2

[[zone]]
id = "nose"
title = "Nose"
vehicle = "ship"
parts = { left = 0.4, right = 0.6 }

[[source]]
id = "bench"
title = "Bench"
log = "counts"
rank = 2
delimiter = ";"
decimal_comma = true
time = "DD.MM.YYYY hh:mm"
utc_offset_hours = -4.5
columns = { quantity = "net" }
defaults = { unit = "lb" }
ignore = ["shelf mark"]
[source.values.item]
"H2O" = "water"
)");
}

struct Plan {
  explicit Plan(const std::string& text) : mission(parse_mission(text, this_file, faults)) {}

  Diagnostics faults;
  Mission mission;
};

/// The only fault of the smallest plan with one text in place of another.
Diagnostic fault_of(const std::string& text, std::string_view from, std::string_view to) {
  return only(Plan(swapped(text, from, to)).faults);
}

/// One line of a ledger as it stands below its [[item.ledger]].
std::string ledger_line(const std::string& kind, const std::string& quantity) {
  return "text = \"a line\"\nkind = \"" + kind + "\"\nquantity = " + quantity + "\n";
}

/// The smallest plan with a ledger for its item.
std::string with_ledger(const std::vector<std::string>& lines) {
  std::string text = "places = [\"tank\"]\n";
  for (const auto& line : lines) text += "[[item.ledger]]\n" + line;
  return swapped(smallest_mission, "places = [\"tank\"]\n", text);
}

bool is_key(const std::string& line) { return line.find(" = ") != std::string::npos; }
std::string key_of(const std::string& line) { return line.substr(0, line.find(" = ")); }

/// The line of the header above line `index`, from 1.
int header_above(const std::vector<std::string>& lines, std::size_t index) {
  while (!lines[index].starts_with('[')) --index;
  return static_cast<int>(index) + 1;
}

/// The smallest plan's own table under `header`, with its header.
std::string block(std::string_view header) {
  const auto lines = lines_of(smallest_mission);
  const auto first = static_cast<std::size_t>(line_of(smallest_mission, header)) - 1;
  std::string text;
  for (std::size_t i = first; i < lines.size() && !lines[i].empty(); ++i) text += lines[i] + "\n";
  return text;
}

constexpr std::array tables{"[[vehicle]]"sv, "[[place]]"sv,       "[[person]]"sv, "[[day_kind]]"sv, "[[phase]]"sv,
                            "[[event]]"sv,   "[[landing_day]]"sv, "[[method]]"sv, "[[item]]"sv,     "[[gate]]"sv};

}  // namespace

TEST_CASE("the smallest plan is read without a word, and what it does not say has its default") {
  const Plan plan(smallest_mission);
  CHECK(plan.faults.empty());
  const Mission& m = plan.mission;
  CHECK(m.name == "Tern");
  CHECK(m.lead_title == "shift lead");
  CHECK(m.launch == met(0));
  CHECK(m.flight_days.starts() == std::vector{met(0), met(1), met(2), met(3)});
  CHECK(m.landing() == met(3, 6));
  CHECK(m.required_end() == met(3, 6));
  CHECK(m.places.at(0).state == PlaceState::usable);
  CHECK(m.items.at(0).step == 0.1);
  CHECK_FALSE(m.items.at(0).count_every_hours.has_value());
  CHECK(m.items.at(0).ledger.empty());
  CHECK(m.items.at(0).bias.empty());
  CHECK(m.items.at(0).transfer_sigma == 0);
  CHECK(m.items.at(0).event_sigma == 0);
  CHECK(m.methods.at(0).phases.empty());
  CHECK_FALSE(m.day_kinds.at(0).crew.has_value());
  CHECK(m.persons.at(0).stays.size() == 1);
  CHECK(m.zones.empty());
  CHECK(m.sources.empty());
  CHECK(m.items.at(0).source == Source{this_file, line_of(smallest_mission, "[[item]]"), 1});
}

TEST_CASE("a plan with one of everything is read as it is written") {
  const Plan plan(fuller_mission());
  CHECK(plan.faults.empty());
  const Mission& m = plan.mission;
  CHECK(m.places.at(1).state == PlaceState::isolated);
  CHECK(m.places.at(1).until == "undock");
  REQUIRE(m.persons.at(1).stays.size() == 2);
  CHECK(m.persons.at(1).stays[1].from == met(1, 12));
  CHECK(m.persons.at(1).stays[1].vehicle == "ship");
  CHECK(m.day_kinds.at(1).crew == 2);
  CHECK(m.day_kinds.at(1).power_kw == 1.5);
  CHECK(m.day_kinds.at(1).events_per_day.at("dump") == 3);
  CHECK(m.landing() == met(3, 6));
  CHECK(m.required_end() == met(4, 8));
  const auto& food = m.items.at(1);
  CHECK(food.sort == ItemSort::capacity);
  CHECK(food.unit->spelling == "meal");
  CHECK(food.draw.at(0).places == std::vector{"tank"s});
  CHECK(food.reserve.at(0).days == 1.5);
  CHECK(food.reserve.at(0).released_by == "undock");
  CHECK(food.reserve.at(1).event_kind == "dump");
  REQUIRE(food.ledger.size() == 2);
  CHECK(food.ledger[0].kind == LedgerKind::load);
  CHECK(food.ledger[0].quantity == 40.5);
  CHECK(food.ledger[1].text == "spoilt");
  CHECK(food.ledger[1].kind == LedgerKind::unusable);
  CHECK(food.ledger[1].source == Source{this_file, line_of(fuller_mission(), "\"spoilt\"") - 1, 1});
  CHECK(food.sigma == std::map<std::string, double>{{"gauge", 2}});
  CHECK(food.bias == std::map<std::string, double>{{"gauge", 0.5}});
  CHECK(food.transfer_sigma == 0.25);
  CHECK(food.event_sigma == 0.125);
  CHECK(m.methods.at(1).phases == std::vector{"home"s});
  CHECK(food.count_every_hours == 12);
  CHECK(food.by_hand);
  CHECK(m.zones.at(0).parts.at("right") == 0.6);
  const auto& bench = m.sources.at(0);
  CHECK(bench.rank == 2);
  CHECK(bench.delimiter == ';');
  CHECK(bench.utc_offset == std::chrono::minutes{-270});
  CHECK(bench.values.at("item").at("H2O") == "water");
}

TEST_CASE("every key of the smallest plan is required, and its table is where its absence is told") {
  const auto lines = lines_of(smallest_mission);
  int keys = 0;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (!is_key(lines[i])) continue;
    auto fewer = lines;
    fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
    const Plan plan(text_of(fewer));
    CAPTURE(i, lines[i]);
    REQUIRE(how_many(plan.faults, "key-missing") == 1);
    const auto& fault = plan.faults.front();
    CHECK(fault.rule == "key-missing");
    CHECK(fault.severity == Severity::error);
    CHECK(fault.source == Source{this_file, header_above(lines, i), 1});
    CHECK_THAT(fault.text, ContainsSubstring(lines[static_cast<std::size_t>(fault.source.line) - 1] + " has no '" +
                                             key_of(lines[i]) + "'"));
    ++keys;
  }
  CHECK(keys == 43);
}

TEST_CASE("every table of the smallest plan is required") {
  CHECK(how_many(Plan(swapped(smallest_mission, block("[mission]"), "")).faults, "key-missing") == 1);
  for (const auto table : tables) {
    const Plan plan(swapped(smallest_mission, block(table), ""));
    CAPTURE(std::string(table));
    REQUIRE(how_many(plan.faults, "key-missing") == 1);
    CHECK(plan.faults.front().text == "mission.toml has no '" + std::string(table.substr(2, table.size() - 4)) +
                                          "', expected at least one " + std::string(table));
  }
}

TEST_CASE("a key with a letter too many is refused where it stands, and the right one is offered") {
  const auto lines = lines_of(smallest_mission);
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (!is_key(lines[i])) continue;
    auto misspelt = lines;
    const std::string key = key_of(lines[i]);
    misspelt[i].insert(key.size(), 1, key.back());
    const Plan plan(text_of(misspelt));
    CAPTURE(lines[i]);
    REQUIRE(how_many(plan.faults, "key-unknown") == 1);
    for (const auto& fault : plan.faults) {
      if (fault.rule != "key-unknown") continue;
      CHECK(fault.source == Source{this_file, static_cast<int>(i) + 1, 1});
      CHECK_THAT(fault.text, ContainsSubstring("did you mean '" + key + "'?"));
    }
  }
}

TEST_CASE("an id that comes twice is refused at the second one") {
  for (const auto table : tables) {
    if (table == "[[landing_day]]") continue;  // has no id
    const Plan plan(with(smallest_mission, block(table)));
    CAPTURE(std::string(table));
    REQUIRE(how_many(plan.faults, "id-twice") == 1);
    const auto& fault = plan.faults.front();
    CHECK(fault.rule == "id-twice");
    // Its header has taken the line of the closing marker.
    CHECK(fault.source == Source{this_file, line_of(smallest_mission, "[end_of_file]") + 1, 6});
  }
}

TEST_CASE("a name of nothing is refused at the table that uses it, and the nearest is offered") {
  struct Slip {
    std::string_view from;
    std::string_view to;
    std::string_view offered;
    std::string_view kind;
    std::string_view table;  ///< a part of its header's line, or of a line below it
    int lines_up = 0;        ///< from that line to the header
  };
  const std::vector<Slip> slips{
      {"name = \"Tern\"\nvehicle = \"ship\"", "name = \"Tern\"\nvehicle = \"shipp\"", "ship", "vehicle", "[mission]"},
      {"extension_before = \"landing\"", "extension_before = \"landng\"", "landing", "event", "[mission]"},
      {"extension_kind = \"work\"", "extension_kind = \"wrok\"", "work", "day kind", "[mission]"},
      {"margin_kind = \"work\"", "margin_kind = \"worc\"", "work", "day kind", "[mission]"},
      {"vehicle = \"depot\"\nstate", "vehicle = \"depto\"\nstate", "depot", "vehicle", "id = \"shelf\"", 1},
      {"until = \"undock\"", "until = \"undok\"", "undock", "event", "id = \"shelf\"", 1},
      {"aboard = \"depot\"", "aboard = \"deport\"", "depot", "vehicle", "id = \"guest\"", 1},
      {"seat = \"ship\"\n[[person.move", "seat = \"hip\"\n[[person.move", "ship", "vehicle", "id = \"guest\"", 1},
      {"at = \"1/12:00\"\nvehicle = \"ship\"", "at = \"1/12:00\"\nvehicle = \"shop\"", "ship", "vehicle",
       "id = \"guest\"", 1},
      {"per_crew_day = { food = 1 }", "per_crew_day = { fodo = 1 }", "food", "item", "id = \"waiting\"", 1},
      {"per_day = { water = 2 }", "per_day = { wter = 2 }", "water", "item", "id = \"waiting\"", 1},
      {"start = \"2/12:00\"\nkind = \"waiting\"", "start = \"2/12:00\"\nkind = \"witing\"", "waiting", "day kind",
       "id = \"home\"", 1},
      {"kind = \"waiting\"\nopportunities", "kind = \"waitting\"\nopportunities", "waiting", "day kind",
       "opportunities = [\"4/06:00\"", 2},
      {"made_from = \"water\"", "made_from = \"watre\"", "water", "item", "id = \"food\"", 1},
      {"places = [\"shelf\", \"tank\"]", "places = [\"shelf\", \"tank\", \"tankk\"]", "tank", "place", "id = \"food\"",
       1},
      {"phase = \"home\"", "phase = \"hime\"", "home", "phase", "id = \"food\"", 1},
      {"sigma = { gauge = 2 }", "sigma = { guage = 2 }", "gauge", "way of counting", "id = \"food\"", 1},
      {"bias = { gauge = 0.5 }", "bias = { gague = 0.5 }", "gauge", "way of counting", "id = \"food\"", 1},
      {"phases = [\"home\"]", "phases = [\"hone\"]", "home", "phase", "id = \"lever\"", 1},
      {"per_event = { undocking = 5 }", "per_event = { undoking = 5 }", "undocking", "no event is of kind",
       "id = \"food\"", 1},
      {"kind = \"waiting\"\nreleased_by", "kind = \"waitin\"\nreleased_by", "waiting", "day kind",
       "text = \"a day more\"", 1},
      {"released_by = \"undock\"", "released_by = \"undick\"", "undock", "event", "text = \"a day more\"", 1},
      {"event_kind = \"dump\"", "event_kind = \"dum\"", "dump", "no event is of kind", "text = \"a dump more\"", 1},
      {"vehicle = \"ship\"\nparts", "vehicle = \"shp\"\nparts", "ship", "vehicle", "id = \"nose\"", 1},
      {"event = \"landing\"\npoll", "event = \"landin\"\npoll", "landing", "event", "id = \"entry\"", 1},
  };
  for (const Slip& slip : slips) {
    const std::string text = swapped(fuller_mission(), slip.from, slip.to);
    const Plan plan(text);
    CAPTURE(std::string(slip.to));
    const auto found = std::find_if(plan.faults.begin(), plan.faults.end(), [&](const Diagnostic& f) {
      return f.text.find("did you mean '" + std::string(slip.offered) + "'?") != std::string::npos;
    });
    REQUIRE(found != plan.faults.end());
    CHECK(found->rule == "name-unknown");
    CHECK(found->severity == Severity::error);
    CHECK(found->source == Source{this_file, line_of(text, slip.table) - slip.lines_up, 1});
    CHECK_THAT(found->text, ContainsSubstring(std::string(slip.kind)));
  }
}

TEST_CASE("a place that the item is not held in is refused wherever the item names it") {
  for (const auto& [from, to] : {std::pair{"made_into = \"shelf\"", "made_into = \"rack\""},
                                 std::pair{"residual = { tank = 4 }", "residual = { rack = 4 }"},
                                 std::pair{"tank = 20 }", "tank = 20, rack = 1 }"},
                                 std::pair{"\"home\"\nplaces = [\"tank\"]", "\"home\"\nplaces = [\"rack\"]"}}) {
    const std::string place = "[[place]]\nid = \"rack\"\ntitle = \"Rack\"\nvehicle = \"ship\"\n";
    const auto fault = only(Plan(with(swapped(fuller_mission(), from, to), place)).faults);
    CHECK(fault.rule == "place-not-of-item");
    CHECK_THAT(fault.text, ContainsSubstring("item 'food' is not held in place 'rack'"));
  }
}

TEST_CASE("an unknown unit is refused at its value, and the nearest is offered") {
  const auto fault = fault_of(smallest_mission, "unit = \"kg\"", "unit = \"kgs\"");
  CHECK(fault.rule == "unit-unknown");
  CHECK(fault.source == Source{this_file, line_of(smallest_mission, "unit = \"kg\""), 8});
  CHECK_THAT(fault.text, ContainsSubstring("did you mean 'kg'?"));
}

TEST_CASE("the step of an item is a millionth or more") {
  CHECK(Plan(swapped(smallest_mission, "unit = \"kg\"", "unit = \"kg\"\nstep = 0.000001")).faults.empty());
  for (const auto step : {"0", "-1", "0.0000009"})
    CHECK(fault_of(smallest_mission, "unit = \"kg\"", "unit = \"kg\"\nstep = "s + step).rule == "value-range");
}

TEST_CASE("a mission of three planned days lands in FD 4, from its first minute to its last") {
  for (const auto& [landing, day] :
       {std::pair{"2/23:59", 3}, std::pair{"3/00:00", 4}, std::pair{"3/23:59", 4}, std::pair{"4/00:00", 5}}) {
    const std::string text =
        swapped(smallest_mission, "opportunities = [\"3/06:00\"]", "opportunities = [\""s + landing + "\"]");
    const Plan plan(text);
    CAPTURE(landing);
    CHECK(plan.faults.empty() == (day == 4));
    if (day == 4) continue;
    const auto fault = only(plan.faults);
    CHECK(fault.rule == "landing-flight-day");
    CHECK(fault.source == Source{this_file, line_of(text, "[[landing_day]]"), 1});
    CHECK_THAT(fault.text, ContainsSubstring("lies in FD " + std::to_string(day) + ", expected FD 4"));
  }
}

TEST_CASE("a shift is 12 h where nothing is said, and more than none and at most three days") {
  const auto with = [](const std::string& hours) {
    return Plan(swapped(smallest_mission, "planned_days", "shift_hours = " + hours + "\nplanned_days"));
  };
  CHECK(Plan(smallest_mission).mission.shift_hours == 12);
  CHECK(with("8.5").mission.shift_hours == 8.5);
  CHECK(with("72").faults.empty());
  for (const char* hours : {"0", "-1", "72.1"}) {
    const auto plan = with(hours);
    CHECK(only(plan.faults).rule == "value-range");
    CHECK(only(plan.faults).source == Source{this_file, line_of(smallest_mission, "planned_days"), 15});
  }
}

TEST_CASE("a mission has at least one planned day") {
  const Plan plan(swapped(smallest_mission, "planned_days = 3", "planned_days = 0"));
  REQUIRE(how_many(plan.faults, "value-range") == 1);
  CHECK(plan.faults.front().source == Source{this_file, line_of(smallest_mission, "planned_days"), 16});
}

TEST_CASE("the first phase starts at launch and not a minute later or earlier") {
  for (const auto start : {"0/00:01", "-0/00:01"}) {
    const auto fault = fault_of(smallest_mission, "start = \"0/00:00\"", "start = \""s + start + "\"");
    CHECK(fault.rule == "phase-order");
    CHECK(fault.source == Source{this_file, line_of(smallest_mission, "[[phase]]"), 1});
  }
}

TEST_CASE("a phase starts after the one above it and before the planned landing") {
  const auto second_phase = [](const std::string& start) {
    return Plan(
        with(smallest_mission, "[[phase]]\nid = \"b\"\ntitle = \"B\"\nkind = \"work\"\nstart = \"" + start + "\"\n"));
  };
  CHECK(second_phase("0/00:01").faults.empty());
  CHECK(only(second_phase("0/00:00").faults).rule == "phase-order");
  CHECK(second_phase("3/05:59").faults.empty());
  CHECK(only(second_phase("3/06:00").faults).rule == "phase-order");
}

TEST_CASE("landing days come one after the other, the planned one first and no other planned") {
  const auto landing = [](const std::string& kind, const std::string& times) {
    const std::string day = "[[landing_day]]\nkind = \"" + kind + "\"\nopportunities = [" + times + "]\n";
    return Plan(with(smallest_mission, day)).faults;
  };
  CHECK(landing("work", "\"3/06:01\"").empty());
  CHECK(only(landing("work", "\"3/06:00\"")).rule == "landing-day");
  CHECK(only(landing("planned", "\"4/06:00\"")).rule == "landing-day");
  CHECK(only(landing("work", "")).rule == "landing-day");
  CHECK(how_many(landing("work", "\"4/06:00\", \"4/05:59\""), "time-order") == 1);
  CHECK(only(Plan(swapped(smallest_mission, "kind = \"planned\"", "kind = \"work\"")).faults).rule == "landing-day");
}

TEST_CASE("a gate is polled before its event or with it, not a minute after") {
  CHECK(Plan(swapped(smallest_mission, "poll = \"3/00:00\"", "poll = \"3/06:00\"")).faults.empty());
  const auto fault = fault_of(smallest_mission, "poll = \"3/00:00\"", "poll = \"3/06:01\"");
  CHECK(fault.rule == "gate-order");
  CHECK(fault.source == Source{this_file, line_of(smallest_mission, "[[gate]]"), 1});
}

TEST_CASE("wake-ups lie after launch and rise") {
  CHECK(how_many(Plan(swapped(smallest_mission, "[\"1/00:00\", ", "[\"0/00:00\", ")).faults, "time-order") == 1);
  CHECK(how_many(Plan(swapped(smallest_mission, "\"2/00:00\", ", "\"1/00:00\", ")).faults, "time-order") == 1);
}

TEST_CASE("a person moves after coming aboard, and each move comes after the one above it") {
  const auto moves = [](const std::string& first, const std::string& second) {
    const std::string move = "[[person.move]]\nvehicle = \"ship\"\nat = ";
    return Plan(swapped(smallest_mission, "seat = \"ship\"",
                        "seat = \"ship\"\n" + move + "\"" + first + "\"\n" + move + "\"" + second + "\""))
        .faults;
  };
  CHECK(moves("0/00:01", "0/00:02").empty());
  CHECK(only(moves("0/00:00", "0/00:02")).rule == "time-order");
  CHECK(only(moves("0/00:02", "0/00:02")).rule == "time-order");
}

TEST_CASE("a reserve line gives its amount in one way, and days need their kind") {
  const auto reserve = [](const std::string& amount) {
    return Plan(swapped(smallest_mission, "places = [\"tank\"]",
                        "places = [\"tank\"]\n[[item.reserve]]\ntext = \"spare\"\nrationale = \"invented\"\n" + amount))
        .faults;
  };
  for (const auto sound : {"quantity = 0.1", "days = 0.1\nkind = \"work\"", "event_kind = \"touchdown\""})
    CHECK(reserve(sound).empty());
  for (const auto bad :
       {"", "quantity = 0", "quantity = 1\ndays = 1\nkind = \"work\"", "quantity = 1\nevent_kind = \"touchdown\"",
        "days = 1\nkind = \"work\"\nevent_kind = \"touchdown\""}) {
    CAPTURE(bad);
    const auto fault = only(reserve(bad));
    CHECK(fault.rule == "reserve-amount");
    CHECK(fault.source.line == line_of(smallest_mission, "places = ") + 1);
  }
  CHECK(only(reserve("days = 1")).rule == "key-missing");
  CHECK(how_many(reserve("quantity = -1"), "value-range") == 1);
}

TEST_CASE("every kind of ledger line is read as itself") {
  for (std::size_t i = 0; i < ledger_kind_names.size(); ++i) {
    CAPTURE(i);
    const Plan plan(with_ledger({ledger_line("load", "9"), ledger_line(std::string(ledger_kind_names.at(i)), "1")}));
    CHECK(plan.faults.empty());
    CHECK(plan.mission.items.at(0).ledger.at(1).kind == static_cast<LedgerKind>(i));
  }
}

TEST_CASE("a misspelt kind of ledger line is refused at its word, the nearest is offered, and nothing else is said") {
  const auto text = with_ledger({ledger_line("loade", "9"), ledger_line("gauging", "1")});
  const auto fault = only(Plan(text).faults);
  CHECK(fault.rule == "value-unknown");
  CHECK(fault.source == Source{this_file, line_of(text, "\"loade\""), 8});
  CHECK_THAT(fault.text,
             ContainsSubstring("'kind' of [[item.ledger]] of 'water' is 'loade', expected one of load, "
                               "unusable, gauging, nominal, contingency, dispersion; did you mean 'load'?"));
}

TEST_CASE("a ledger begins with what is loaded, and more may be loaded later") {
  const auto load = ledger_line("load", "9");
  const auto use = ledger_line("nominal", "1");
  CHECK(Plan(with_ledger({load})).faults.empty());
  CHECK(Plan(with_ledger({load, use, load})).faults.empty());
  const auto text = with_ledger({use, load, use});
  const auto fault = only(Plan(text).faults);
  CHECK(fault.rule == "ledger-start");
  CHECK(fault.source == Source{this_file, line_of(smallest_mission, "places = ") + 3, 8});
  CHECK(fault.text == "the ledger of 'water' begins with a line of kind \"nominal\", expected what is loaded");
}

TEST_CASE("a ledger line takes something, however little") {
  CHECK(Plan(with_ledger({ledger_line("load", "9"), ledger_line("gauging", "1e-9")})).faults.empty());
  for (const auto bad : {"0", "0.0", "-1e-9", "-3"}) {
    CAPTURE(bad);
    const auto text = with_ledger({ledger_line("load", "9"), ledger_line("gauging", bad)});
    const auto fault = only(Plan(text).faults);
    CHECK(fault.rule == "value-range");
    CHECK(fault.source == Source{this_file, line_of(text, "quantity = "s + bad), 12});
  }
}

TEST_CASE("a ledger line that lacks a key or has one too many is told once") {
  CHECK(only(Plan(with_ledger({"text = \"a\"\nkind = \"load\"\n"})).faults).rule == "key-missing");
  CHECK(only(Plan(with_ledger({"text = \"a\"\nquantity = 1\n"})).faults).rule == "key-missing");
  CHECK(only(Plan(with_ledger({"kind = \"load\"\nquantity = 1\n"})).faults).rule == "key-missing");
  CHECK(only(Plan(with_ledger({ledger_line("load", "\"9\"")})).faults).rule == "value-type");
  CHECK(only(Plan(with_ledger({ledger_line("load", "inf")})).faults).rule == "value-type");
  const auto fault = only(Plan(with_ledger({ledger_line("load", "9") + "unit = \"kg\"\n"})).faults);
  CHECK(fault.rule == "key-unknown");
  CHECK(fault.source.line == line_of(smallest_mission, "places = ") + 5);
}

TEST_CASE("no error of a count, a transfer or an event is below zero, and none of them is no error") {
  for (const auto line : {"bias = { gauge = 0.5 }", "transfer_sigma = 0.25", "event_sigma = 0.125"}) {
    const std::string text(line);
    const std::string key = text.substr(0, text.find(' '));
    const bool is_by_name = text.find('{') != std::string::npos;
    const auto with_value = [&](const std::string& value) {
      return key + " = " + (is_by_name ? "{ gauge = " + value + " }" : value);
    };
    CAPTURE(key);
    CHECK(Plan(swapped(fuller_mission(), text, with_value("0"))).faults.empty());
    const std::string below = swapped(fuller_mission(), text, with_value("-0.001"));
    const auto fault = only(Plan(below).faults);
    CHECK(fault.source.line == line_of(below, "-0.001"));
  }
}

TEST_CASE("a cartridge has a rated life or change-outs, or it would never be used") {
  const auto cartridge = [](const std::string& more) {
    return Plan(swapped(smallest_mission, "sort = \"stock\"", "sort = \"cartridge\"\n" + more)).faults;
  };
  CHECK(cartridge("rated_crew_hours = 48").empty());
  CHECK(cartridge("per_event = { touchdown = 1 }").empty());
  CHECK(only(cartridge("")).rule == "item-use");
  CHECK(only(cartridge("rated_crew_hours = 0")).rule == "item-use");
}

TEST_CASE("an item that fills up has a capacity for each of its places") {
  const auto capacity = [](const std::string& more) {
    return Plan(swapped(smallest_mission, "sort = \"stock\"", "sort = \"capacity\"\n" + more)).faults;
  };
  CHECK(capacity("capacity = { tank = 5 }").empty());
  CHECK(only(capacity("")).rule == "item-capacity");
  CHECK(only(Plan(swapped(fuller_mission(), "{ shelf = 30, tank = 20 }", "{ shelf = 30 }")).faults).rule ==
        "item-capacity");
}

TEST_CASE("nothing is made from itself, be it through others") {
  const auto making = [](const std::vector<std::pair<std::string, std::string>>& items) {
    std::string text;
    for (const auto& [id, from] : items) {
      text += "[[item]]\nid = \"" + id + "\"\ntitle = \"T\"\nsort = \"stock\"\nunit = \"kg\"\nvehicle = \"ship\"\n" +
              "places = [\"tank\"]\nmade_from = \"" + from + "\"\nmade_ratio = 1\nmade_into = \"tank\"\n";
    }
    return Plan(with(smallest_mission, text)).faults;
  };
  CHECK(making({{"a", "water"}, {"b", "a"}}).empty());
  CHECK(how_many(making({{"a", "a"}}), "made-from-itself") == 1);
  CHECK(how_many(making({{"a", "b"}, {"b", "a"}}), "made-from-itself") == 2);
  CHECK(how_many(making({{"a", "b"}, {"b", "c"}, {"c", "b"}}), "made-from-itself") == 3);
}

TEST_CASE("what is made says how much and into which place") {
  for (const auto line : {"made_ratio = 0.5\n", "made_into = \"shelf\"\n"})
    CHECK(fault_of(fuller_mission(), line, "").rule == "key-missing");
}

TEST_CASE("a sheet with decimal commas is parted by something else") {
  CHECK(fault_of(fuller_mission(), "delimiter = \";\"\n", "").rule == "value-range");
  for (const auto delimiter : {"|", "\\t"})
    CHECK(Plan(swapped(fuller_mission(), "delimiter = \";\"", "delimiter = \""s + delimiter + "\"")).faults.empty());
  for (const auto delimiter : {"x", ";;", " "}) {
    const Plan plan(swapped(fuller_mission(), "delimiter = \";\"", "delimiter = \""s + delimiter + "\""));
    CHECK(how_many(plan.faults, "value-range") >= 1);
  }
}

TEST_CASE("the time of a sheet names a date and a minute") {
  CHECK(Plan(swapped(fuller_mission(), "DD.MM.YYYY hh:mm", "YYYY-DDD hh:mm:ss")).faults.empty());
  for (const auto pattern : {"DD.MM.YYYY", "DD.MM. hh:mm", "YYYY-DDD hh", "MM/YYYY hh:mm"})
    CHECK(fault_of(fuller_mission(), "DD.MM.YYYY hh:mm", pattern).rule == "time-pattern");
}

TEST_CASE("a clock is at most 14 hours off UTC") {
  for (const auto hours : {"14", "-14", "5.75"})
    CHECK(Plan(swapped(fuller_mission(), "utc_offset_hours = -4.5", "utc_offset_hours = "s + hours)).faults.empty());
  for (const auto hours : {"14.1", "-14.1"})
    CHECK(fault_of(fuller_mission(), "utc_offset_hours = -4.5", "utc_offset_hours = "s + hours).rule == "value-range");
}

TEST_CASE("words out of a closed list are refused with the nearest of the list") {
  for (const auto& [from, to, offered] :
       {std::tuple{"sort = \"stock\"", "sort = \"stok\"", "stock"},
        std::tuple{"id = \"gauge\"\nkind = \"gauge\"", "id = \"gauge\"\nkind = \"gage\"", "gauge"},
        std::tuple{"state = \"isolated\"", "state = \"isolate\"", "isolated"},
        std::tuple{"log = \"counts\"", "log = \"count\"", "counts"}}) {
    const auto fault = fault_of(fuller_mission(), from, to);
    CHECK(fault.rule == "value-unknown");
    CHECK_THAT(fault.text, ContainsSubstring("did you mean '"s + offered + "'?"));
  }
}

TEST_CASE("the date at the launch site is a cross-check that warns once and stops nothing") {
  // At launch it is 14:00 there. The middle of FD 2 is 36 h later, on the second date after launch: by dates FD 3.
  const Plan plan(swapped(smallest_mission, "planned_days", "launch_site_utc_offset_hours = 14\nplanned_days"));
  const auto warning = only(plan.faults);
  CHECK(warning.rule == "flight-day-date");
  CHECK(warning.severity == Severity::warning);
  CHECK_THAT(warning.text, ContainsSubstring("its middle lies in FD 3"));
  CHECK(plan.mission.flight_days.number_at(met(1)) == 2);
}

TEST_CASE("all faults of a plan come in one go") {
  std::string text = swapped(smallest_mission, "unit = \"kg\"", "unit = \"kgs\"");
  text = swapped(text, "aboard = \"ship\"", "aboard = \"shipp\"");
  text = swapped(text, "poll = \"3/00:00\"", "poll = \"soon\"");
  const Plan plan(text);
  CHECK(how_many(plan.faults, "unit-unknown") == 1);
  CHECK(how_many(plan.faults, "name-unknown") == 1);
  CHECK(how_many(plan.faults, "time") == 1);
}

TEST_CASE("a plan that is no TOML is one fault, and nothing more is asked of it") {
  const auto fault = fault_of(smallest_mission, "[[gate]]", "[[gate]");
  CHECK(fault.rule == "toml-syntax");
  CHECK(fault.source.line == line_of(smallest_mission, "[[gate]]"));
}

TEST_CASE("a list that has to hold something holds it once") {
  const auto rules_of = [](const std::string& places) {
    Diagnostics faults;
    std::ignore = parse_mission(swapped(smallest_mission, "places = [\"tank\"]", "places = " + places), 0, faults);
    std::vector<std::string> rules;
    for (const auto& fault : faults) rules.push_back(fault.rule);
    return rules;
  };
  CHECK(rules_of("[\"tank\"]").empty());
  CHECK(rules_of("[]") == std::vector{"value-empty"s});
  CHECK(rules_of("[\"tank\", \"tank\"]") == std::vector{"value-twice"s});
}

TEST_CASE("the parts of a zone add up to the whole of it") {
  const auto is_refused = [](const std::string& parts) {
    Diagnostics faults;
    std::ignore =
        parse_mission(with(smallest_mission,
                           "[[zone]]\nid = \"nose\"\ntitle = \"Nose\"\nvehicle = \"ship\"\nparts = " + parts + "\n"),
                      0, faults);
    return !faults.empty();
  };
  CHECK_FALSE(is_refused("{ left = 0.1, middle = 0.2, right = 0.7 }"));
  CHECK(is_refused("{ left = 0.6, right = 0.6 }"));
  CHECK(is_refused("{ left = 0.4, right = 0.4 }"));
}

TEST_CASE("one source may keep several logs, one table each, and maps only columns that the log has") {
  const auto rules_of = [](const std::string& sources) {
    Diagnostics faults;
    std::ignore = parse_mission(with(smallest_mission, sources), 0, faults);
    std::vector<std::string> rules;
    for (const auto& fault : faults) rules.push_back(fault.rule);
    return rules;
  };
  const auto source = [](const std::string& log, const std::string& more = "") {
    return "[[source]]\nid = \"arm\"\ntitle = \"Arm\"\nlog = \"" + log + "\"\n" + more;
  };
  CHECK(rules_of(source("surveys") + source("findings")).empty());
  CHECK(rules_of(source("surveys") + source("surveys")) == std::vector{"id-twice"s});
  CHECK(rules_of(source("surveys", "columns = { zoen = \"where\" }\n")) == std::vector{"column-unknown"s});
  CHECK(rules_of(source("surveys", "defaults = { kidn = \"wide\" }\n")) == std::vector{"column-unknown"s});
}

TEST_CASE("what a mission calls things is its own, and what it does not say is called as in a flight") {
  const Plan plain(smallest_mission);
  CHECK(plain.mission.words.day == "FD");
  CHECK(plain.mission.words.elapsed == "MET");
  CHECK(plain.mission.words.landing == "Landing");
  CHECK(plain.mission.words.sortie == "EVA");
  const Plan own(with(smallest_mission, "[words]\nday = \"Day\"\nelapsed = \"ET\"\nlanding = \"Surfacing\"\n"));
  CHECK(own.faults.empty());
  CHECK(own.mission.words.day == "Day");
  CHECK(own.mission.words.elapsed == "ET");
  CHECK(own.mission.words.landing == "Surfacing");
  CHECK(own.mission.words.sortie == "EVA");
  CHECK(only(Plan(with(smallest_mission, "[words]\nday = \"\"\n")).faults).rule == "value-empty");
  CHECK(only(Plan(with(smallest_mission, "[words]\ndya = \"Day\"\n")).faults).rule == "key-unknown");
}
