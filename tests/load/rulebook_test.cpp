// The rules: limits, criteria and how margins are judged. All names and limits are invented.
#include "load/rulebook.h"

#include <cmath>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <variant>
#include <vector>

#include <fmt/format.h>

#include "builders.h"
#include "load/mission.h"

using Catch::Matchers::ContainsSubstring;
using daywright::load::parse_mission;
using daywright::load::parse_rulebook;
using daywright::model::AnomaliesCriterion;
using daywright::model::Basis;
using daywright::model::CloseoutsCriterion;
using daywright::model::Comparison;
using daywright::model::Criterion;
using daywright::model::Diagnostics;
using daywright::model::EquipmentCriterion;
using daywright::model::FigureCriterion;
using daywright::model::Mission;
using daywright::model::ReadingCriterion;
using daywright::model::RestCriterion;
using daywright::model::ReturnOption;
using daywright::model::Rulebook;
using daywright::model::Severity;
using daywright::model::SortieCriterion;
using daywright::model::Source;
using daywright::model::StatementCriterion;
using daywright::model::TasksCriterion;
using daywright::model::ZonesCriterion;
using daywright::test::how_many;
using daywright::test::line_of;
using daywright::test::lines_of;
using daywright::test::met;
using daywright::test::only;
using daywright::test::smallest_mission;
using daywright::test::smallest_rules;
using daywright::test::swapped;
using daywright::test::text_of;
using daywright::test::with;
using namespace std::string_literals;

namespace {

constexpr int this_file = 6;

/// The smallest plan with a zone, a second event, and what logs of vehicle and crew may name.
std::string plan() {
  return with(swapped(smallest_mission, "[[vehicle]]",
                      "readings = [\"CO2 pressure\"]\nsorties = [\"first\"]\n\n[[equipment]]\nid = \"cell_1\"\n"
                      "title = \"Cell 1\"\n[[equipment]]\nid = \"cell_2\"\ntitle = \"Cell 2\"\n[[vehicle]]"),
              "[[zone]]\nid = \"nose\"\ntitle = \"Nose\"\nvehicle = \"ship\"\n"
              "[[event]]\nid = \"undock\"\ntitle = \"Undocking\"\nat = \"2/12:00\"\nkind = \"undocking\"\n");
}

struct Rules {
  explicit Rules(const std::string& text, const std::string& mission_text = plan())
      : mission(parse_mission(mission_text, 0, in_the_plan)) {
    REQUIRE(in_the_plan.empty());
    rules = parse_rulebook(text, this_file, mission, faults);
  }

  Diagnostics in_the_plan;
  Mission mission;
  Diagnostics faults;
  Rulebook rules;
};

/// The smallest rules with a criterion of another kind.
std::string demanding(const std::string& lines) { return swapped(smallest_rules, "kind = \"tasks\"", lines); }

template <class Demand>
Demand demand_of(const std::string& text) {
  const Rules read(text);
  CHECK(read.faults.empty());
  REQUIRE(read.rules.criteria.size() == 1);
  const auto* demand = std::get_if<Demand>(&read.rules.criteria[0].demand);
  REQUIRE(demand != nullptr);
  return *demand;
}

constexpr auto figure_lines = "kind = \"figure\"\nfigure = \"item.water.margin.days\"\nat_least = 0.5\nunit = \"d\"";
constexpr auto zones_lines =
    "kind = \"zones\"\nzones = [\"nose\"]\nauthority = \"board\"\nsurvey_kind = \"wide\"\ncoverage = 95\n"
    "max_age_hours = 48\nafter_event = \"undock\"\nvoided_by = [\"undock\"]";
constexpr auto closeouts_lines = "kind = \"closeouts\"\ncloseouts = [\"hatch\"]";
constexpr auto anomalies_lines = "kind = \"anomalies\"\nseverities = [\"major\"]";
constexpr auto equipment_lines =
    "kind = \"equipment\"\nunits = [\"cell_1\", \"cell_2\"]\nneeded = 1\nspare = 1\nworks_in = [\"working\"]\n"
    "on_condition = [\"degraded\"]";
constexpr auto reading_lines =
    "kind = \"reading\"\nreading = \"CO2 pressure\"\nat_least = 0\nat_most = 3\nunit = \"mmHg\"\nmax_age_hours = 12";
constexpr auto rest_lines =
    "kind = \"rest\"\npersons = [\"pilot\"]\nsleep_hours = 7\nwithin_hours = 30\nduty_hours = 16";
constexpr auto sortie_lines = "kind = \"sortie\"\nsorties = [\"first\"]\nmax_minutes = 420";
constexpr auto statement_lines = "kind = \"statement\"\nposition = \"board\"\naccepts = [\"fit\"]";

/// A way home with every key.
const std::string whole_return = R"([[return]]
id = "soon"
title = "Home soon"
kind = "work"
hours = 16
minimum_hours = 9
opportunities = ["1/18:00", "2/06:00"]
events = ["touchdown", "touchdown"]
needs = ["checks"]
gives_up = "the rest"
)";

/// The smallest rules with a way home.
std::string returning(const std::string& lines = whole_return) { return with(smallest_rules, lines); }

}  // namespace

TEST_CASE("the smallest rules are read without a word, and margins are judged by the defaults") {
  const Rules read(smallest_rules);
  CHECK(read.faults.empty());
  CHECK(read.rules.margins.bases == std::vector{Basis::plan, Basis::measured, Basis::assured});
  CHECK(read.rules.margins.measured_min_counts == 3);
  CHECK(read.rules.margins.conflict_sigmas == 3);
  CHECK(read.rules.margins.count_every_hours == 36);
  REQUIRE(read.rules.criteria.size() == 1);
  const Criterion& criterion = read.rules.criteria[0];
  CHECK(criterion.gate == "entry");
  CHECK(criterion.owner == "board");
  CHECK_FALSE(criterion.limits_extension);
  CHECK(criterion.source == Source{this_file, 5, 1});
  CHECK(std::get<TasksCriterion>(criterion.demand).tasks.empty());
}

TEST_CASE("every key and table of the smallest rules is required") {
  const auto lines = lines_of(smallest_rules);
  int keys = 0;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (lines[i].find(" = ") == std::string::npos) continue;
    auto fewer = lines;
    fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
    const Rules read(text_of(fewer));
    CAPTURE(lines[i]);
    REQUIRE(how_many(read.faults, "key-missing") == 1);
    CHECK(read.faults.front().severity == Severity::error);
    CHECK(read.faults.front().source == Source{this_file, i < 4 ? 1 : 5, 1});
    ++keys;
  }
  CHECK(keys == 8);
  CHECK(how_many(Rules("[end_of_file]\n").faults, "key-missing") == 2);
}

TEST_CASE("each kind of criterion is read as it is written") {
  const auto figure = demand_of<FigureCriterion>(demanding(figure_lines));
  CHECK(figure.figure == "item.water.margin.days");
  CHECK(figure.comparison == Comparison::at_least);
  CHECK(figure.limit == 0.5);
  CHECK(figure.unit->spelling == "d");
  const auto at_most = demand_of<FigureCriterion>(demanding("kind = \"figure\"\nfigure = \"f\"\nat_most = 3"));
  CHECK(at_most.comparison == Comparison::at_most);
  CHECK(at_most.limit == 3);
  CHECK(at_most.unit == nullptr);
  const auto zones = demand_of<ZonesCriterion>(demanding(zones_lines));
  CHECK(zones.zones == std::vector{"nose"s});
  CHECK(zones.authority == "board");
  CHECK(zones.coverage == 95);
  CHECK(zones.max_age_hours == 48);
  CHECK(zones.after_event == "undock");
  CHECK(zones.voided_by == std::vector{"undock"s});
  CHECK(demand_of<CloseoutsCriterion>(demanding(closeouts_lines)).closeouts == std::vector{"hatch"s});
  CHECK(demand_of<AnomaliesCriterion>(demanding(anomalies_lines)).severities == std::vector{"major"s});
  const auto statement = demand_of<StatementCriterion>(demanding(statement_lines));
  CHECK(statement.position == "board");
  CHECK(statement.accepts == std::vector{"fit"s});
  const auto equipment = demand_of<EquipmentCriterion>(demanding(equipment_lines));
  CHECK(equipment.units == std::vector{"cell_1"s, "cell_2"s});
  CHECK(equipment.needed == 1);
  CHECK(equipment.spare == 1);
  CHECK(equipment.works_in == std::vector{"working"s});
  CHECK(equipment.on_condition == std::vector{"degraded"s});
  const auto reading = demand_of<ReadingCriterion>(demanding(reading_lines));
  CHECK(reading.reading == "CO2 pressure");
  CHECK(reading.at_least == 0);
  CHECK(reading.at_most == 3);
  CHECK(reading.unit->spelling == "mmHg");
  CHECK(reading.max_age_hours == 12);
  const auto rest = demand_of<RestCriterion>(demanding(rest_lines));
  CHECK(rest.persons == std::vector{"pilot"s});
  CHECK(rest.sleep_hours == 7);
  CHECK(rest.within_hours == 30);
  CHECK(rest.duty_hours == 16);
  const auto sortie = demand_of<SortieCriterion>(demanding(sortie_lines));
  CHECK(sortie.sorties == std::vector{"first"s});
  CHECK(sortie.max_minutes == 420);
}

TEST_CASE("what a criterion on vehicle or crew says is refused where nothing could meet it, or no plan declares it") {
  const std::vector<std::tuple<const char*, const char*, const char*, const char*>> slips{
      {equipment_lines, "needed = 1", "needed = 0", "value-range"},
      {equipment_lines, "needed = 1", "needed = 2", "value-range"},
      {equipment_lines, "spare = 1", "spare = -1", "value-range"},
      {equipment_lines, "spare = 1", "spare = 2", "value-range"},
      {equipment_lines, "[\"degraded\"]", "[]", "value-empty"},
      {equipment_lines, "[\"degraded\"]", "[\"working\"]", "value-twice"},
      {equipment_lines, "[\"degraded\"]", "[\"tired\"]", "value-unknown"},
      {equipment_lines, "\"cell_2\"", "\"cell_3\"", "name-unknown"},
      {reading_lines, "at_least = 0", "at_least = 3.1", "value-range"},
      {reading_lines, "\nat_least = 0\nat_most = 3", "", "criterion-limit"},
      {reading_lines, "mmHg", "mmHq", "unit-unknown"},
      {reading_lines, "max_age_hours = 12", "max_age_hours = 0", "value-range"},
      {reading_lines, "CO2 pressure", "CO2 presure", "name-unknown"},
      {rest_lines, "sleep_hours = 7", "sleep_hours = 31", "value-range"},
      {rest_lines, "sleep_hours = 7", "sleep_hours = 0", "value-range"},
      {rest_lines, "duty_hours = 16", "duty_hours = 31", "value-range"},
      {rest_lines, "within_hours = 30", "within_hours = 169", "value-range"},
      {rest_lines, "\"pilot\"", "\"pilt\"", "name-unknown"},
      {sortie_lines, "max_minutes = 420", "max_minutes = 0", "value-range"},
      {sortie_lines, "\"first\"", "\"frst\"", "name-unknown"},
  };
  for (const auto& [lines, old_text, new_text, rule] : slips) {
    CAPTURE(old_text, new_text);
    CHECK(only(Rules(demanding(swapped(lines, old_text, new_text))).faults).rule == rule);
  }
}

TEST_CASE("a zones criterion without more asks for all of each zone, at any age") {
  const auto zones = demand_of<ZonesCriterion>(
      demanding("kind = \"zones\"\nzones = [\"nose\"]\nauthority = \"board\"\nsurvey_kind = \"wide\""));
  CHECK(zones.coverage == 100);
  CHECK_FALSE(zones.max_age_hours.has_value());
  CHECK(zones.after_event.empty());
  CHECK(zones.voided_by.empty());
}

TEST_CASE("each kind of criterion has keys that it can't do without") {
  const std::vector<std::pair<const char*, std::vector<std::string>>> needed{
      {figure_lines, {"\nfigure = \"item.water.margin.days\""}},
      {zones_lines, {"\nzones = [\"nose\"]", "\nauthority = \"board\"", "\nsurvey_kind = \"wide\""}},
      {closeouts_lines, {"\ncloseouts = [\"hatch\"]"}},
      {anomalies_lines, {"\nseverities = [\"major\"]"}},
      {statement_lines, {"\nposition = \"board\"", "\naccepts = [\"fit\"]"}},
      {equipment_lines, {"\nunits = [\"cell_1\", \"cell_2\"]", "\nneeded = 1", "\nworks_in = [\"working\"]"}},
      {reading_lines, {"\nreading = \"CO2 pressure\"", "\nunit = \"mmHg\"", "\nmax_age_hours = 12"}},
      {rest_lines, {"\npersons = [\"pilot\"]", "\nsleep_hours = 7"}},
      {sortie_lines, {"\nsorties = [\"first\"]"}},
  };
  for (const auto& [lines, keys] : needed) {
    for (const auto& key : keys) {
      CAPTURE(key);
      CHECK(how_many(Rules(demanding(swapped(lines, key, ""))).faults, "key-missing") == 1);
    }
  }
}

TEST_CASE("a key of one kind of criterion is no key of another") {
  const auto fault = only(Rules(demanding(statement_lines + "\nclosouts = [\"hatch\"]"s)).faults);
  CHECK(fault.rule == "key-unknown");
  const auto other = only(Rules(demanding(closeouts_lines + "\nat_least = 1"s)).faults);
  CHECK(other.rule == "key-unknown");
  CHECK(other.source == Source{this_file, line_of(demanding(closeouts_lines), "closeouts = [") + 1, 1});
}

TEST_CASE("a figure is held against one limit, not none and not two") {
  for (const auto limits : {"", "\nat_least = 1\nat_most = 2"}) {
    const std::string text = demanding("kind = \"figure\"\nfigure = \"f\""s + limits);
    const auto fault = only(Rules(text).faults);
    CHECK(fault.rule == "criterion-limit");
    CHECK(fault.source == Source{this_file, line_of(text, "figure = \"f\""), 10});
  }
}

TEST_CASE("a limit may be nothing or below") {
  for (const auto limit : {"0", "-1.5"})
    CHECK(Rules(demanding("kind = \"figure\"\nfigure = \"f\"\nat_least = "s + limit)).faults.empty());
}

TEST_CASE("an unknown unit of a limit is refused at its value") {
  const std::string text = demanding(swapped(figure_lines, "\"d\"", "\"dd\""));
  const auto fault = only(Rules(text).faults);
  CHECK(fault.rule == "unit-unknown");
  CHECK(fault.source == Source{this_file, line_of(text, "\"dd\""), 8});
}

TEST_CASE("names that the plan does not have are refused at their value, and the nearest is offered") {
  struct Slip {
    std::string_view from;
    std::string_view to;
    std::string_view offered;
    int column;
  };
  for (const Slip& slip : {Slip{"gate = \"entry\"", "gate = \"entri\"", "entry", 8},
                           Slip{"zones = [\"nose\"]", "zones = [\"noze\"]", "nose", 9},
                           Slip{"after_event = \"undock\"", "after_event = \"undok\"", "undock", 15},
                           Slip{"voided_by = [\"undock\"]", "voided_by = [\"undick\"]", "undock", 13}}) {
    const std::string text = swapped(demanding(zones_lines), slip.from, slip.to);
    const Rules read(text);
    CAPTURE(std::string(slip.to));
    REQUIRE(how_many(read.faults, "name-unknown") == 1);
    const auto& fault = read.faults.front();
    CHECK(fault.rule == "name-unknown");
    CHECK(fault.source == Source{this_file, line_of(text, slip.to), slip.column});
    CHECK_THAT(fault.text, ContainsSubstring("did you mean '" + std::string(slip.offered) + "'?"));
  }
}

TEST_CASE("the owner of a criterion is a role of the rules") {
  const std::string text = swapped(smallest_rules, "owner = \"board\"", "owner = \"desk\"");
  const auto fault = only(Rules(text).faults);
  CHECK(fault.rule == "name-unknown");
  CHECK(fault.source == Source{this_file, line_of(text, "owner"), 9});
  CHECK_THAT(fault.text, ContainsSubstring("unknown role 'desk'"));
}

TEST_CASE("an unknown kind of criterion is refused, and the nearest is offered") {
  const auto fault = only(Rules(demanding("kind = \"task\"")).faults);
  CHECK(fault.rule == "value-unknown");
  CHECK_THAT(fault.text, ContainsSubstring("did you mean 'tasks'?"));
}

TEST_CASE("a criterion that comes twice is refused at the second one") {
  const std::string second = smallest_rules.substr(smallest_rules.find("[[criterion]]"),
                                                   smallest_rules.find("[end") - smallest_rules.find("[[criterion]]"));
  const auto fault = only(Rules(with(smallest_rules, second)).faults);
  CHECK(fault.rule == "id-twice");
  CHECK(fault.source.line == line_of(smallest_rules, "[end_of_file]") + 1);
  CHECK(fault.source.column == 6);
}

TEST_CASE("a gate without a criterion is refused at the gate, for it would have nothing to be judged on") {
  const std::string second = "[[gate]]\nid = \"leave\"\ntitle = \"Leave\"\nevent = \"undock\"\npoll = \"2/00:00\"\n";
  const std::string mission = with(plan(), second);
  const auto fault = only(Rules(smallest_rules, mission).faults);
  CHECK(fault.rule == "gate-without-criterion");
  CHECK(fault.source == Source{0, line_of(mission, "id = \"leave\"") - 1, 1});
}

TEST_CASE("a list of zones is not empty") {
  const auto fault = only(Rules(demanding(swapped(zones_lines, "[\"nose\"]", "[]"))).faults);
  CHECK(fault.rule == "value-empty");
}

TEST_CASE("coverage is more than nothing and at most the whole") {
  for (const auto& [coverage, is_sound] :
       {std::pair{"0", false}, std::pair{"0.1", true}, std::pair{"100", true}, std::pair{"100.1", false}}) {
    const Rules read(demanding(swapped(zones_lines, "coverage = 95", "coverage = "s + coverage)));
    CAPTURE(coverage);
    CHECK(read.faults.empty() == is_sound);
    if (!is_sound) CHECK(only(read.faults).rule == "value-range");
  }
}

TEST_CASE("how margins are judged is read, and each number has its least value") {
  const auto margins = [](const std::string& lines) { return Rules("[margins]\n" + lines + "\n" + smallest_rules); };
  const Rules read =
      margins("bases = [\"measured\"]\nmeasured_min_counts = 2\nconflict_sigmas = 0.1\ncount_every_hours = 0.1");
  CHECK(read.faults.empty());
  CHECK(read.rules.margins.bases == std::vector{Basis::measured});
  CHECK(read.rules.margins.measured_min_counts == 2);
  CHECK(read.rules.margins.conflict_sigmas == 0.1);
  CHECK(read.rules.margins.count_every_hours == 0.1);
  for (const auto line : {"measured_min_counts = 1", "conflict_sigmas = 0", "count_every_hours = 0"}) {
    const auto fault = only(margins(line).faults);
    CAPTURE(line);
    CHECK(fault.rule == "value-range");
    CHECK(fault.source.line == 2);
  }
  CHECK(only(margins("bases = [\"plan\", \"mesured\"]").faults).rule == "value-unknown");
  CHECK(only(margins("basis = [\"plan\"]").faults).rule == "key-unknown");
}

TEST_CASE("without named bases all of them govern, and an empty list is refused") {
  const Rules read("[margins]\n" + smallest_rules);
  CHECK(read.rules.margins.bases == std::vector{Basis::plan, Basis::measured, Basis::assured});
  CHECK(how_many(Rules("[margins]\nbases = []\n" + smallest_rules).faults, "value-empty") == 1);
}

TEST_CASE("the bases are read in their order, and one that is misspelt leaves the others") {
  const auto bases = [](const std::string& list) {
    return Rules("[margins]\nbases = " + list + "\n" + smallest_rules);
  };
  CHECK(bases("[\"assured\"]").rules.margins.bases == std::vector{Basis::assured});
  CHECK(bases("[\"assured\", \"plan\"]").rules.margins.bases == std::vector{Basis::assured, Basis::plan});
  const Rules misspelt = bases("[\"asured\", \"plan\"]");
  CHECK(misspelt.rules.margins.bases == std::vector{Basis::plan});
  const auto fault = only(misspelt.faults);
  CHECK(fault.rule == "value-unknown");
  CHECK(fault.text == "unknown basis 'asured', expected plan, measured or assured");
  CHECK(fault.source == Source{this_file, 2, 9});
}

TEST_CASE("what is not said of assurance, leaks and the estimate has the default") {
  const auto& margins = Rules("[margins]\n[estimate]\n" + smallest_rules).rules.margins;
  CHECK(margins.assurance == 95);
  CHECK(margins.leak_shown_from == 10);
  const daywright::model::EstimateSettings defaults;
  CHECK(margins.estimate.factor_sd == defaults.factor_sd);
  CHECK(margins.estimate.factor_drift == Approx(defaults.factor_drift));
  CHECK(margins.estimate.miscount_chance == defaults.miscount_chance);
  CHECK(margins.estimate.miscount_sigmas == defaults.miscount_sigmas);
  CHECK(margins.estimate.leak_chance == defaults.leak_chance);
  CHECK(margins.estimate.leak_mean == defaults.leak_mean);
  CHECK(margins.estimate.leak_sd == defaults.leak_sd);
}

TEST_CASE("each number that margins and the estimate rest on has a range with both ends in it") {
  struct Range {
    const char* table;
    const char* key;
    double least;
    double most;
    double (*read)(const daywright::model::MarginRules&);
  };
  using Margins = daywright::model::MarginRules;
  const Range ranges[] = {
      {"margins", "assurance", 50, 99.9, [](const Margins& m) { return m.assurance; }},
      {"margins", "leak_shown_from", 1, 100, [](const Margins& m) { return m.leak_shown_from; }},
      {"estimate", "factor_sd", 0, 10, [](const Margins& m) { return m.estimate.factor_sd; }},
      // A standard deviation in the file, a variance in the filter.
      {"estimate", "factor_drift", 0, 10, [](const Margins& m) { return std::sqrt(m.estimate.factor_drift); }},
      {"estimate", "miscount_chance", 0, 0.5, [](const Margins& m) { return m.estimate.miscount_chance; }},
      {"estimate", "miscount_sigmas", 1, 1000, [](const Margins& m) { return m.estimate.miscount_sigmas; }},
      {"estimate", "leak_chance", 0, 0.5, [](const Margins& m) { return m.estimate.leak_chance; }},
      {"estimate", "leak_mean", 0, 100, [](const Margins& m) { return m.estimate.leak_mean; }},
      {"estimate", "leak_sd", 0.001, 100, [](const Margins& m) { return m.estimate.leak_sd; }},
  };
  for (const Range& range : ranges) {
    const auto given = [&](double value) {
      return Rules(fmt::format("[{}]\n{} = {}\n", range.table, range.key, value) + smallest_rules);
    };
    const double otherwise = range.read(Margins{});
    CAPTURE(range.key);
    for (const double value : {range.least, range.most}) {
      const Rules read = given(value);
      CHECK(read.faults.empty());
      CHECK(range.read(read.rules.margins) == Approx(value));
    }
    for (const double value : {range.least - 1e-4, range.most + 1e-4}) {
      const Rules read = given(value);
      const auto fault = only(read.faults);
      CHECK(fault.rule == "value-range");
      CHECK(fault.source.line == 2);
      CHECK_THAT(fault.text, ContainsSubstring(fmt::format("from {:g} to {:g}", range.least, range.most)));
      CHECK(range.read(read.rules.margins) == Approx(otherwise));
    }
  }
  CHECK(only(Rules("[margins]\nassurance = nan\n" + smallest_rules).faults).source.line == 2);
  CHECK(only(Rules("[estimate]\nleak_chances = 0.1\n" + smallest_rules).faults).rule == "key-unknown");
}

TEST_CASE("a criterion over an empty list is refused, since over nothing everything is true") {
  for (const std::string demand :
       {"kind = \"closeouts\"\ncloseouts = []", "kind = \"anomalies\"\nseverities = []",
        "kind = \"statement\"\nposition = \"board\"\naccepts = []", "kind = \"tasks\"\ntasks = []"}) {
    CAPTURE(demand);
    CHECK(how_many(Rules(demanding(demand)).faults, "value-empty") == 1);
  }
}

TEST_CASE("a criterion on anomalies names severities of the closed list, and statements a known position") {
  const auto faults_of = [](const std::string& demand) { return Rules(demanding(demand)).faults; };
  CHECK(how_many(faults_of("kind = \"anomalies\"\nseverities = [\"majr\"]"), "value-unknown") == 1);
  CHECK(faults_of("kind = \"anomalies\"\nseverities = [\"major\"]").empty());
  CHECK(how_many(faults_of("kind = \"statement\"\nposition = \"bord\"\naccepts = [\"go\"]"), "name-unknown") == 1);
}

TEST_CASE("a way home is read with every key, and what is not said of it is nothing") {
  const Rules read(returning());
  CHECK(read.faults.empty());
  REQUIRE(read.rules.returns.size() == 1);
  const ReturnOption& option = read.rules.returns[0];
  CHECK(option.id == "soon");
  CHECK(option.title == "Home soon");
  CHECK(option.kind == "work");
  CHECK(option.hours == 16);
  CHECK(option.minimum_hours == 9);
  CHECK(option.opportunities == std::vector{met(1, 18), met(2, 6)});
  CHECK(option.events == std::vector{"touchdown"s, "touchdown"s});
  CHECK(option.needs == std::vector{"checks"s});
  CHECK(option.gives_up == "the rest");
  CHECK(option.source == Source{this_file, line_of(returning(), "[[return]]"), 1});
  const Rules least(
      returning("[[return]]\nid = \"soon\"\ntitle = \"Home\"\nkind = \"work\"\nhours = 0.1\n"
                "opportunities = [\"1/18:00\"]\n"));
  CHECK(least.faults.empty());
  CHECK(least.rules.returns.at(0).minimum_hours == 0);
  CHECK(least.rules.returns.at(0).events.empty());
  CHECK(least.rules.returns.at(0).needs.empty());
  CHECK(Rules(smallest_rules).rules.returns.empty());
}

TEST_CASE("a way home can't do without name, title, kind of day, hours and opportunities") {
  for (const std::string key : {"id", "title", "kind", "hours", "opportunities"}) {
    auto lines = lines_of(whole_return);
    std::erase_if(lines, [&](const auto& line) { return line.starts_with(key + " = "); });
    CAPTURE(key);
    CHECK(how_many(Rules(returning(text_of(lines))).faults, "key-missing") == 1);
  }
}

TEST_CASE("the hours of a way home are above zero and within a year, and at the least no more than as a rule") {
  struct Try {
    const char* from;
    const char* to;
    bool is_sound;
  };
  for (const Try& attempt :
       {Try{"hours = 16", "hours = 0", false}, Try{"hours = 16", "hours = -1", false},
        Try{"hours = 16", "hours = 8784", true}, Try{"hours = 16", "hours = 8784.1", false},
        Try{"hours = 16", "hours = 1e300", false}, Try{"minimum_hours = 9", "minimum_hours = 16", true},
        Try{"minimum_hours = 9", "minimum_hours = 16.1", false}, Try{"minimum_hours = 9", "minimum_hours = 0", true},
        Try{"minimum_hours = 9", "minimum_hours = -0.1", false}}) {
    const std::string text = returning(swapped(whole_return, "\n"s + attempt.from + "\n", "\n"s + attempt.to + "\n"));
    const Rules read(text);
    CAPTURE(attempt.to);
    CHECK(how_many(read.faults, "value-range") == read.faults.size());
    CHECK(read.faults.empty() == attempt.is_sound);
    const auto before = text.substr(0, text.find("\n"s + attempt.to + "\n") + 1);
    if (!attempt.is_sound) CHECK(read.faults.at(0).source.line == static_cast<int>(lines_of(before).size()) + 1);
  }
}

TEST_CASE("the opportunities of a way home rise, and there is at least one") {
  const auto faults_of = [](const std::string& list) {
    return Rules(returning(swapped(whole_return, "[\"1/18:00\", \"2/06:00\"]", list))).faults;
  };
  CHECK(faults_of("[\"1/18:00\", \"1/18:00:01\"]").empty());
  for (const char* list : {"[\"1/18:00\", \"1/18:00\"]", "[\"2/06:00\", \"1/18:00\"]"}) {
    const auto fault = only(faults_of(list));
    CHECK(fault.rule == "time-order");
    CHECK(fault.source == Source{this_file, line_of(returning(), "opportunities"), 29});
  }
  CHECK(only(faults_of("[]")).rule == "value-empty");
  CHECK(how_many(faults_of("[\"soon\"]"), "time") == 1);
}

TEST_CASE("a way home names a day kind, kinds of events and criteria that there are") {
  const std::vector<std::pair<std::string, std::string>> slips{{"kind = \"work\"", "kind = \"wrok\""},
                                                               {"\"touchdown\", \"touch", "\"touchdwn\", \"touch"},
                                                               {"needs = [\"checks\"]", "needs = [\"check\"]"}};
  for (const auto& [from, to] : slips) {
    const std::string text = returning(swapped(whole_return, from, to));
    CAPTURE(to);
    const auto fault = only(Rules(text).faults);
    CHECK(fault.rule == "name-unknown");
    CHECK(fault.severity == Severity::error);
    CHECK(fault.source.line == line_of(text, to));
  }
}

TEST_CASE("a way home that comes twice is refused at the second one, and an unknown key at its place") {
  const auto twice = only(Rules(returning(whole_return + whole_return)).faults);
  CHECK(twice.rule == "id-twice");
  CHECK(twice.source.line == line_of(returning(), "[[return]]") + 10);
  CHECK(only(Rules(returning(whole_return + "give_up = \"all\"\n")).faults).rule == "key-unknown");
}

namespace {

/// The smallest rules with calls for the gate.
std::string polling(const std::string& lines = "gate = \"entry\"\nroles = [\"board\"]\nchair = \"board\"\n") {
  const std::string filled =
      swapped(smallest_rules, "title = \"Board\"", "title = \"Board\"\nprincipals = [\"b-1@ship.example\", \"b-2\"]");
  return with(filled, "[[gate_call]]\n" + lines);
}

}  // namespace

TEST_CASE("the rules say who is polled for a gate and who may fill a role") {
  const Rules read(polling("gate = \"entry\"\nroles = [\"board\"]\nchair = \"board\"\ntwo_roles = true\n"));
  CHECK(read.faults.empty());
  CHECK(read.rules.roles.at(0).principals == std::vector{"b-1@ship.example"s, "b-2"s});
  const auto& poll = read.rules.polls.at(0);
  CHECK(poll.gate == "entry");
  CHECK(poll.roles == std::vector{"board"s});
  CHECK(poll.chair == "board");
  CHECK(poll.allows_two_roles);
  CHECK_FALSE(Rules(polling()).rules.polls.at(0).allows_two_roles);
  CHECK(Rules(smallest_rules).rules.polls.empty());
}

TEST_CASE("what is wrong with calls and signers is named at its place") {
  const auto check = [](const std::string& text, const std::string& rule, const std::string& at) {
    const auto fault = only(Rules(text).faults);
    CAPTURE(fault.text);
    CHECK(fault.rule == rule);
    CHECK(fault.source.line == line_of(text, at));
  };
  check(swapped(polling(), "roles = [\"board\"]", "roles = [\"bord\"]"), "name-unknown", "\"bord\"");
  check(swapped(polling(), "chair = \"board\"", "chair = \"bord\""), "name-unknown", "\"bord\"");
  check(polling("gate = \"exit\"\nroles = [\"board\"]\nchair = \"board\"\n"), "name-unknown", "\"exit\"");
  check(swapped(polling(), "roles = [\"board\"]", "roles = []"), "value-empty", "roles");
  check(swapped(polling(), "\"b-2\"", "\"b 2\""), "principal-form", "principals");
  check(swapped(polling(), "\"b-2\"", "\"b\u0430\""), "principal-form", "principals");
  check(swapped(polling(), "\"b-2\"", "\"b-1@ship.example\""), "value-twice", "principals");
  const std::string twice =
      with(polling(), "[[gate_call]]\ngate = \"entry\"\nroles = [\"board\"]\nchair = \"board\"\n");
  CHECK(only(Rules(twice).faults).rule == "id-twice");
  const auto unfilled =
      Rules(with(smallest_rules, "[[gate_call]]\ngate = \"entry\"\nroles = [\"board\"]\nchair = \"board\"\n"));
  CHECK(how_many(unfilled.faults, "role-unfilled") == 2);
  CHECK(unfilled.faults.size() == 2);
}

TEST_CASE("all faults of the rules come in one go") {
  std::string text = swapped(smallest_rules, "gate = \"entry\"", "gate = \"exit\"");
  text = swapped(text, "title = \"Board\"", "titel = \"Board\"");
  const Rules read(text);
  CHECK(how_many(read.faults, "name-unknown") == 1);
  CHECK(how_many(read.faults, "key-unknown") == 1);
  CHECK(how_many(read.faults, "key-missing") == 1);
  CHECK(how_many(read.faults, "gate-without-criterion") == 1);
}
