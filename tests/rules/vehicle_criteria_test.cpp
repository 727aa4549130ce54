// Criteria on equipment, readings, rest and sorties: at, just inside and just outside each limit, and that nothing
// missing reads as READY. All units, persons, sorties and limits are invented, but for those that name their source.
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"
#include "rules/criteria.h"
#include "rules/figures.h"

using Catch::Matchers::ContainsSubstring;
using daywright::model::CrewRow;
using daywright::model::Criterion;
using daywright::model::EquipmentCriterion;
using daywright::model::EquipmentRow;
using daywright::model::Facts;
using daywright::model::find_unit;
using daywright::model::Gate;
using daywright::model::Instant;
using daywright::model::Log;
using daywright::model::Merged;
using daywright::model::Mission;
using daywright::model::ReadingCriterion;
using daywright::model::ReadingRow;
using daywright::model::RestCriterion;
using daywright::model::SortieCriterion;
using daywright::model::SortieRow;
using daywright::model::Verdict;
using daywright::rules::CriterionResult;
using daywright::rules::FigureBook;
using daywright::rules::judge_criterion;
using daywright::rules::TaskStatus;
using daywright::test::day;
using daywright::test::make_mission;
using namespace std::chrono_literals;
using namespace std::string_literals;

namespace {

/// One criterion of the gate 'entry', polled on day 9, judged on day 7.
struct Scene {
  Mission mission = make_mission();
  Facts facts;
  Criterion criterion;
  std::string subject;  ///< as rejected rows of the log name it
  Log log = Log::equipment;

  [[nodiscard]] CriterionResult judged() const {
    const Gate gate{"entry", "Entry", "landing", day(9), {}};
    const std::vector<TaskStatus> tasks;
    return judge_criterion(criterion, gate, {mission, facts, tasks, FigureBook(mission), day(7)});
  }
  [[nodiscard]] Verdict verdict() const { return judged().verdict; }
  [[nodiscard]] std::string reason() const { return judged().reason; }
};

Merged<EquipmentRow> make_state(std::string unit, std::string state, Instant when = day(5)) {
  Merged<EquipmentRow> fact;
  fact.row.unit = std::move(unit);
  fact.row.state = std::move(state);
  fact.row.when = when;
  return fact;
}

/// Two of three cells have to work and one has to be left for a failure; all three do.
Scene cells() {
  Scene scene;
  scene.mission.equipment = {{"a", "Cell A", {}}, {"b", "Cell B", {}}, {"c", "Cell C", {}}};
  scene.facts.equipment = {make_state("a", "working"), make_state("b", "standby"), make_state("c", "working")};
  scene.criterion.demand = EquipmentCriterion{{"a", "b", "c"}, 2, 1, {"working", "standby"}, {"degraded"}};
  scene.subject = "c";
  return scene;
}

EquipmentCriterion& demand_of(Scene& scene) { return std::get<EquipmentCriterion>(scene.criterion.demand); }

Merged<ReadingRow> make_reading(std::string what, double quantity, std::string unit, Instant when) {
  Merged<ReadingRow> fact;
  fact.row.what = std::move(what);
  fact.row.quantity = quantity;
  fact.row.unit = std::move(unit);
  fact.row.when = when;
  return fact;
}

/// Carbon dioxide up to 3 mmHg (NASA-STD-3001 volume 2 [6004]: mean of one hour), read within the last 12 h.
Scene air(double quantity, std::string unit = "mmHg", Instant when = day(7) - 1h) {
  Scene scene;
  scene.facts.readings = {make_reading("CO2", quantity, std::move(unit), when)};
  scene.criterion.demand = ReadingCriterion{"CO2", std::nullopt, 3, find_unit("mmHg"), 12};
  scene.subject = "CO2";
  scene.log = Log::readings;
  return scene;
}

Merged<CrewRow> make_span(std::string person, bool is_sleep, Instant begin, Instant end) {
  Merged<CrewRow> fact;
  fact.row.person = std::move(person);
  fact.row.is_sleep = is_sleep;
  fact.row.begin = begin;
  fact.row.end = end;
  return fact;
}

/// Two persons slept for 8 h of the last 24, and 7 are asked for.
Scene night() {
  Scene scene;
  scene.facts.crew = {make_span("one", true, day(7) - 20h, day(7) - 12h),
                      make_span("two", true, day(7) - 20h, day(7) - 12h)};
  scene.criterion.demand = RestCriterion{{"one", "two"}, 7, 24, std::nullopt};
  scene.subject = "two";
  scene.log = Log::crew;
  return scene;
}

Merged<SortieRow> make_hardware(std::string hardware, double out, double back, double left = 0) {
  Merged<SortieRow> fact;
  fact.row.sortie = "one";
  fact.row.is_period = false;
  fact.row.hardware = std::move(hardware);
  fact.row.out = out;
  fact.row.back = back;
  fact.row.left = left;
  return fact;
}

/// One sortie of 6 h, all hardware back.
Scene sortie() {
  Scene scene;
  Merged<SortieRow> period;
  period.row.sortie = "one";
  period.row.depressurised = day(6);
  period.row.repressurised = day(6) + 6h;
  scene.facts.sorties = {make_hardware("clamp", 4, 4), period};
  scene.criterion.demand = SortieCriterion{{"one"}, 360};
  scene.subject = "one";
  scene.log = Log::sorties;
  return scene;
}

}  // namespace

// Equipment

TEST_CASE("equipment is READY with the units that are needed and those to spare, and NOT READY with one fewer") {
  Scene scene = cells();
  CHECK(scene.verdict() == Verdict::ready);
  CHECK(scene.reason() == "3 of 3 units work, 2 needed and 1 to spare");
  for (const char* state : {"failed", "off"}) {
    scene.facts.equipment[2].row.state = state;
    CHECK(scene.verdict() == Verdict::not_ready);
    CHECK(scene.reason() == "2 of 3 units work, 2 needed and 1 to spare");
  }
  demand_of(scene).spare = 0;
  CHECK(scene.verdict() == Verdict::ready);
}

TEST_CASE("a unit in a state that counts on condition counts, and the verdict says so") {
  Scene scene = cells();
  scene.facts.equipment[0].row.state = "degraded";
  CHECK(scene.verdict() == Verdict::ready_with_conditions);
  CHECK(scene.reason() == "Cell A is degraded");
  demand_of(scene).on_condition.clear();
  CHECK(scene.verdict() == Verdict::not_ready);
}

TEST_CASE("the newest state of a unit counts, better or worse") {
  for (const auto& [first, second, verdict] :
       {std::tuple{"failed", "working", Verdict::ready}, std::tuple{"working", "failed", Verdict::not_ready}}) {
    Scene scene = cells();
    scene.facts.equipment = {make_state("a", first, day(4)), make_state("a", second, day(6)),
                             make_state("b", "working"), make_state("c", "working")};
    CHECK(scene.verdict() == verdict);
  }
}

TEST_CASE("a unit that nobody reported may work: NO DATA where it matters, and of no matter where others do") {
  Scene scene = cells();
  scene.facts.equipment.pop_back();
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.reason() == "Cell C was never reported");
  scene.facts.equipment[0].row.state = "failed";
  CHECK(scene.verdict() == Verdict::not_ready);  // whatever C does, one is too few
  demand_of(scene).spare = 0;
  CHECK(scene.verdict() == Verdict::no_data);
  scene.facts.equipment[0].row.state = "working";
  CHECK(scene.verdict() == Verdict::ready);  // two are enough without it
}

TEST_CASE("doubt does not bring a failed unit back") {
  Scene scene = cells();
  scene.facts.equipment[2].row.state = "failed";
  scene.facts.gaps = {{Log::equipment, "FD 3", {}, "nobody closed it"}};
  CHECK(scene.verdict() == Verdict::not_ready);  // two at the most, and three are wanted
  demand_of(scene).spare = 0;
  CHECK(scene.verdict() == Verdict::no_data);
  scene.facts.equipment[1].row.state = "failed";
  CHECK(scene.verdict() == Verdict::not_ready);
}

// Readings

TEST_CASE("a reading is READY on its limit and within, and NOT READY just beyond") {
  CHECK(air(3).verdict() == Verdict::ready);
  CHECK(air(2.99).verdict() == Verdict::ready);
  CHECK(air(3.01).verdict() == Verdict::not_ready);
  CHECK(air(3.01).reason() == "CO2 is 3.01 mmHg, at most 3 mmHg wanted");
  Scene scene = air(3);
  scene.criterion.demand = ReadingCriterion{"CO2", 2, 3, find_unit("mmHg"), 12};
  for (const auto& [quantity, verdict] : {std::pair{2.0, Verdict::ready}, std::pair{1.99, Verdict::not_ready},
                                          std::pair{2.01, Verdict::ready}, std::pair{3.01, Verdict::not_ready}}) {
    scene.facts.readings[0].row.quantity = quantity;
    CHECK(scene.verdict() == verdict);
  }
}

TEST_CASE("a reading in another unit of the same kind is converted, and one of another kind is NO DATA") {
  // 1 mmHg is 133.322 Pa (NIST SP 811, table B.8): 3 mmHg are 0.399966 kPa.
  CHECK(air(0.3999, "kPa").verdict() == Verdict::ready);
  CHECK(air(0.4001, "kPa").verdict() == Verdict::not_ready);
  CHECK(air(1, "kg").verdict() == Verdict::no_data);
  CHECK(air(1, "").verdict() == Verdict::no_data);
}

TEST_CASE("a reading is fresh up to its age at the cut-off, and NO DATA a moment later") {
  CHECK(air(2, "mmHg", day(7) - 12h).verdict() == Verdict::ready);
  CHECK(air(2, "mmHg", day(7) - 12h - 1s).verdict() == Verdict::no_data);
  CHECK(air(2, "mmHg", day(7) - 12h - 1s).reason() == "CO2 was read 13 h ago, limit 12 h");
  CHECK(air(4, "mmHg", day(7) - 13h).verdict() == Verdict::not_ready);  // age excuses no bad reading
}

TEST_CASE("the newest reading of its name counts, and without one there is NO DATA") {
  Scene scene = air(4);
  scene.facts.readings.push_back(make_reading("CO2", 2, "mmHg", day(7)));
  scene.facts.readings.push_back(make_reading("O2", 50, "mmHg", day(7)));
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.readings.erase(scene.facts.readings.begin(), scene.facts.readings.begin() + 2);
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.reason() == "CO2 was never read");
}

// Rest

TEST_CASE("rest is met on its limit and above, and not just below, by as many as it is") {
  Scene scene = night();
  CHECK(scene.verdict() == Verdict::ready);
  CHECK(scene.reason() == "met by all 2");
  scene.facts.crew[1].row.end = day(7) - 13h;  // 7 h
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.crew[1].row.end -= 1s;
  CHECK(scene.verdict() == Verdict::not_ready);
  CHECK(scene.reason() == "not met by 1 of 2");
}

TEST_CASE("sleep in several spans adds up, an hour told twice counts once, and only the last hours count") {
  Scene scene = night();
  scene.facts.crew[1] = make_span("two", true, day(7) - 20h, day(7) - 17h);
  scene.facts.crew.push_back(make_span("two", true, day(7) - 18h, day(7) - 13h));
  CHECK(scene.verdict() == Verdict::ready);  // 7 h, one of them told twice
  scene.facts.crew.back() = make_span("two", true, day(7) - 17h, day(7) - 14h);
  CHECK(scene.verdict() == Verdict::not_ready);
  scene.facts.crew[1] = make_span("two", true, day(7) - 30h, day(7) - 20h);  // 4 h of it within the last 24
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.crew.back().row.end -= 1s;
  CHECK(scene.verdict() == Verdict::not_ready);
}

TEST_CASE("duty is met up to its limit, and nothing logged is NO DATA") {
  Scene scene = night();
  std::get<RestCriterion>(scene.criterion.demand).duty_hours = 10;
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.reason() == "nothing logged for 2 of 2");
  for (const char* person : {"one", "two"})
    scene.facts.crew.push_back(make_span(person, false, day(7) - 11h, day(7) - 1h));
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.crew.back().row.end += 1s;
  CHECK(scene.verdict() == Verdict::not_ready);
}

TEST_CASE("a person without a word in the log is NO DATA, but not where another has not rested") {
  Scene scene = night();
  scene.facts.crew.pop_back();
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.reason() == "nothing logged for 1 of 2");
  scene.facts.crew[0].row.end -= 2h;
  CHECK(scene.verdict() == Verdict::not_ready);
}

TEST_CASE("what is said of rest names no person and no hours of one") {
  for (const auto end : {day(7) - 12h, day(7) - 16h}) {
    Scene scene = night();
    scene.facts.crew[1].row.end = end;
    const CriterionResult result = scene.judged();
    for (const auto& input : result.trace.inputs) {
      CHECK(input.name.find("two") == std::string::npos);
      CHECK(input.text.find("two") == std::string::npos);
      CHECK(input.text.find('8') == std::string::npos);
    }
    CHECK(result.reason.find("two") == std::string::npos);
  }
}

TEST_CASE("hours by name are told only where the rules allow it") {
  daywright::test::EveningScene evening(day(7));
  const Scene scene = night();
  evening.facts = scene.facts;
  for (const char* person : {"one", "two"}) evening.mission.persons.push_back({person, person, {}, "ship", {}});
  auto& criterion = evening.rules.criteria.emplace_back(scene.criterion);
  criterion.id = "rest";
  criterion.gate = "entry";
  CHECK(evening.status().find_table("rest")->rows.empty());
  CHECK(evening.status().find("rest.rest.one.sleep") == nullptr);
  evening.rules.hours_by_name = true;
  CHECK(evening.status().find_table("rest")->rows.size() == 2);
  CHECK(daywright::test::number_of(evening.status(), "rest.rest.one.sleep") == 8);
  CHECK(evening.status().find("rest.rest.one.duty")->text == "NO DATA");
}

// Sorties

TEST_CASE("a sortie is READY up to its time with all hardware back, and NOT READY just beyond") {
  Scene scene = sortie();
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.sorties[1].row.repressurised = day(6) + 6h + 1s;
  CHECK(scene.verdict() == Verdict::not_ready);
  CHECK(scene.reason() == "one took 361 min, at most 360 wanted");
  std::get<SortieCriterion>(scene.criterion.demand).max_minutes.reset();
  CHECK(scene.verdict() == Verdict::ready);
}

TEST_CASE("hardware is back, left on purpose, or lost, and what is lost needs an anomaly") {
  Scene scene = sortie();
  scene.facts.sorties[0] = make_hardware("clamp", 4, 1, 3);
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.sorties[0] = make_hardware("clamp", 4, 1, 2);
  CHECK(scene.verdict() == Verdict::not_ready);
  CHECK_THAT(scene.reason(), ContainsSubstring("1 clamp lost"));
  scene.facts.anomalies.emplace_back();
  scene.facts.anomalies[0].row.anomaly = "AN-2";
  for (const auto& [remark, verdict] :
       {std::pair{"drifted off; AN-2", Verdict::ready_with_conditions},
        std::pair{"AN-2", Verdict::ready_with_conditions}, std::pair{"see AN-22", Verdict::not_ready},
        std::pair{"XAN-2", Verdict::not_ready}, std::pair{"AN-22, AN-2", Verdict::ready_with_conditions},
        std::pair{"", Verdict::not_ready}}) {
    CAPTURE(remark);
    scene.facts.sorties[0].row.from.remark = remark;
    CHECK(scene.verdict() == verdict);
  }
}

TEST_CASE("where hardware is lost the verdict rests on all anomalies that are named, and on their log") {
  Scene scene = sortie();
  scene.facts.sorties[0] = make_hardware("clamp", 4, 3);
  scene.facts.sorties[0].row.from.remark = "AN-1; AN-2";
  scene.facts.anomalies.resize(2);
  scene.facts.anomalies[0].row.anomaly = "AN-1";
  scene.facts.anomalies[1].row.anomaly = "AN-2";
  using State = daywright::model::AnomalyState;
  for (auto& fact : scene.facts.anomalies) fact.row.state = State::closed;
  REQUIRE(scene.verdict() == Verdict::ready);
  for (auto& fact : scene.facts.anomalies) {
    fact.row.state = State::open;
    CHECK(scene.verdict() == Verdict::ready_with_conditions);
    fact.row.state = State::closed;
    fact.rivals = {fact.row};
    CHECK(scene.verdict() == Verdict::no_data);
    fact.rivals.clear();
  }
  Scene gap = scene;
  gap.facts.gaps = {{Log::anomalies, "FD 3", {}, "nobody closed it"}};
  CHECK(gap.verdict() == Verdict::no_data);
  Scene lost = scene;
  lost.facts.rejected = {{Log::anomalies, "", "", "", "", {}, day(1), "why"}};
  CHECK(lost.verdict() == Verdict::no_data);
}

TEST_CASE("a sortie that is not over, or not in the log, is NO DATA") {
  Scene scene = sortie();
  scene.facts.sorties[1].row.repressurised.reset();
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.reason() == "one has no end yet");
  scene.facts.sorties.pop_back();
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.reason() == "one is not logged");
}

// Missing evidence

TEST_CASE("a gap, a lost row or a conflict in the log of vehicle or crew takes READY away") {
  const std::vector<std::pair<Scene, std::function<void(Facts&)>>> kinds{
      {cells(), [](Facts& f) { f.equipment[2].rivals = {f.equipment[2].row}; }},
      {air(2), [](Facts& f) { f.readings[0].rivals = {f.readings[0].row}; }},
      {night(), [](Facts& f) { f.crew[1].rivals = {f.crew[1].row}; }},
      {sortie(), [](Facts& f) { f.sorties[0].rivals = {f.sorties[0].row}; }},
  };
  for (const auto& [scene, contradict] : kinds) {
    CAPTURE(std::string(name_of(scene.log)));
    REQUIRE(scene.verdict() == Verdict::ready);
    for (std::size_t i = 0; i < daywright::model::log_count; ++i) {
      Scene gap = scene;
      gap.facts.gaps = {{static_cast<Log>(i), "FD 3", {}, "nobody closed it"}};
      // A decision may have changed the plan, so every verdict rests on that log.
      const bool bears_on_it = static_cast<Log>(i) == scene.log || static_cast<Log>(i) == Log::decisions;
      CHECK(gap.verdict() == (bears_on_it ? Verdict::no_data : Verdict::ready));
    }
    for (const auto& [named, verdict] : {std::pair{scene.subject, Verdict::no_data}, std::pair{""s, Verdict::no_data},
                                         std::pair{"another"s, Verdict::ready}}) {
      Scene lost = scene;
      lost.facts.rejected = {{scene.log, named, "", "", "", {}, day(1), "why"}};
      CHECK(lost.verdict() == verdict);
    }
    Scene conflict = scene;
    contradict(conflict.facts);
    CHECK(conflict.verdict() == Verdict::no_data);
  }
}
