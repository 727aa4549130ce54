// Whether a zone is cleared for a gate: each condition in turn, from one scene in which all of them hold.
// Zones, surveys and findings are invented.
#include "rules/clearance.h"

#include <algorithm>
#include <array>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "builders.h"

using Catch::Matchers::ContainsSubstring;
using daywright::model::ClearanceState;
using daywright::model::Facts;
using daywright::model::FindingState;
using daywright::model::Gate;
using daywright::model::Instant;
using daywright::model::Log;
using daywright::model::Merged;
using daywright::model::Mission;
using daywright::model::rank;
using daywright::model::Verdict;
using daywright::model::ZonesCriterion;
using daywright::rules::judge_zones;
using daywright::rules::ZoneClearance;
using daywright::test::add_event;
using daywright::test::day;
using daywright::test::make_clearance;
using daywright::test::make_mission;
using daywright::test::make_survey;
using namespace std::chrono_literals;

namespace {

/// Zone 'nose', surveyed on day 5 (reviewed two hours later) and cleared by the board on day 6 for the gate 'entry',
/// which is polled on day 9; it is day 7. Undocking was on day 4.
struct Scene {
  Mission mission = make_mission();
  Gate gate{"entry", "Entry", "landing", day(9), {}};
  ZonesCriterion demand;
  Facts facts;
  Instant cutoff = day(7);

  Scene() {
    add_event(mission, "undock", day(4));
    mission.zones = {{"nose", "Nose", "ship", {}, {}}, {"tail", "Tail", "ship", {}, {}}};
    demand.zones = {"nose"};
    demand.authority = "board";
    demand.survey_kind = "wide";
    demand.coverage = 95;
    facts.surveys = {make_survey("v1", "nose", 95, day(5))};
    facts.clearances = {make_clearance("nose", ClearanceState::cleared, day(6))};
  }

  [[nodiscard]] ZoneClearance judged() const { return judge_zones(mission, gate, demand, facts, cutoff).at(0); }
  [[nodiscard]] Verdict verdict() const { return judged().verdict; }
};

Merged<daywright::model::FindingRow> make_finding(std::string finding, FindingState state, Instant when,
                                                  std::string zone = "nose") {
  Merged<daywright::model::FindingRow> row;
  row.row.finding = std::move(finding);
  row.row.zone = std::move(zone);
  row.row.severity = "minor";
  row.row.state = state;
  row.row.when = when;
  return row;
}

}  // namespace

TEST_CASE("a zone that was surveyed, reviewed and then cleared is READY, and says what that rests on") {
  const Scene scene;
  const ZoneClearance zone = scene.judged();
  CHECK(zone.verdict == Verdict::ready);
  CHECK(zone.zone->id == "nose");
  CHECK(zone.coverage == 95);
  CHECK(zone.oldest_taken == day(5));
  REQUIRE(zone.surveys.size() == 1);
  CHECK(zone.surveys[0]->survey == "v1");
  CHECK(zone.statement == &scene.facts.clearances[0].row);
  CHECK(zone.doubts.empty());
}

TEST_CASE("zones are judged one by one, in the order of the demand") {
  Scene scene;
  scene.demand.zones = {"tail", "nose"};
  const auto zones = judge_zones(scene.mission, scene.gate, scene.demand, scene.facts, scene.cutoff);
  REQUIRE(zones.size() == 2);
  CHECK(zones[0].zone->id == "tail");
  CHECK(zones[0].verdict == Verdict::no_data);
  CHECK(zones[1].verdict == Verdict::ready);
}

// The survey

TEST_CASE("without a survey of the demanded kind there is NO DATA") {
  Scene scene;
  scene.facts.surveys[0].row.kind = "site";
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.judged().reason == "no survey of kind wide counts");
  scene.facts.surveys.clear();
  CHECK(scene.verdict() == Verdict::no_data);
  scene.facts.surveys = {make_survey("v1", "tail", 100, day(5))};
  CHECK(scene.verdict() == Verdict::no_data);
}

TEST_CASE("a survey counts only when it was received and reviewed") {
  Scene scene;
  scene.facts.surveys[0].row.reviewed.reset();
  CHECK(rank(scene.verdict()) == 0);
  CHECK(scene.judged().reason == "survey v1 is not reviewed yet");
  scene.facts.surveys[0].row.received.reset();
  CHECK(rank(scene.verdict()) == 0);
  CHECK(scene.judged().reason == "survey v1 is not received yet");
}

TEST_CASE("a survey that waits for review takes nothing from one that counts") {
  Scene scene;
  scene.facts.surveys.push_back(make_survey("v2", "nose", 100, day(5)));
  scene.facts.surveys[1].row.reviewed.reset();
  CHECK(scene.verdict() == Verdict::ready);
  CHECK(scene.judged().coverage == 95);
}

TEST_CASE("coverage is enough at what is demanded and not a tenth below") {
  Scene scene;
  scene.facts.surveys[0].row.coverage = 94.9;
  CHECK(scene.verdict() == Verdict::not_ready);
  CHECK(scene.judged().reason == "covered 94.9 of 95 %");
  scene.demand.coverage = 94.9;
  CHECK(scene.verdict() == Verdict::ready);
}

TEST_CASE("coverages are never added: two surveys cover as much as the larger one") {
  Scene scene;
  for (const auto& [first, second] : {std::pair{50.0, 50.0}, std::pair{94.0, 94.0}, std::pair{94.0, 95.0}}) {
    scene.facts.surveys = {make_survey("v1", "nose", first, day(5)), make_survey("v2", "nose", second, day(5))};
    CHECK(scene.judged().coverage == std::max(first, second));
    CHECK((scene.verdict() == Verdict::ready) == (std::max(first, second) >= 95));
  }
}

TEST_CASE("named parts are added by their weights, and each part counts by its largest survey") {
  Scene scene;
  scene.mission.zones[0].parts = {{"left", 0.3}, {"right", 0.7}};
  const auto part = [](const char* survey, const char* name, double coverage) {
    auto row = make_survey(survey, "nose", coverage, day(5));
    row.row.part = name;
    return row;
  };
  scene.facts.surveys = {part("v1", "left", 100)};
  CHECK(scene.judged().coverage == Approx(30));
  scene.facts.surveys.push_back(part("v2", "left", 100));
  CHECK(scene.judged().coverage == Approx(30));
  scene.facts.surveys.push_back(part("v3", "right", 90));
  CHECK(scene.judged().coverage == Approx(0.3 * 100 + 0.7 * 90));  // 93 of 95
  CHECK(scene.verdict() == Verdict::not_ready);
  scene.facts.surveys.push_back(part("v4", "right", 100));
  CHECK(scene.judged().coverage == Approx(100));
  scene.demand.coverage = 100;  // 0.3 + 0.7 need not be 1 to the last binary digit
  CHECK(scene.verdict() == Verdict::ready);
}

TEST_CASE("a survey of the whole and surveys of parts are not added: the more counts") {
  Scene scene;
  scene.mission.zones[0].parts = {{"left", 0.3}, {"right", 0.7}};
  scene.facts.surveys = {make_survey("v1", "nose", 60, day(5)), make_survey("v2", "nose", 100, day(5))};
  scene.facts.surveys[1].row.part = "right";
  CHECK(scene.judged().coverage == Approx(70));
  scene.facts.surveys[1].row.part = "left";
  CHECK(scene.judged().coverage == Approx(60));
}

// Freshness and order of events

TEST_CASE("a survey is fresh up to its age at the poll, then it lapses before the poll, then it is stale now") {
  Scene scene;
  // Taken on day 5, polled on day 9, asked on day 7.
  for (const auto& [hours, verdict, reason] : {std::tuple{96.0, Verdict::ready, "cleared by the authority"},
                                               std::tuple{95.9, Verdict::no_data, "fresh now, lapses before the poll"},
                                               std::tuple{48.0, Verdict::no_data, "fresh now, lapses before the poll"},
                                               std::tuple{47.9, Verdict::no_data, "its survey is stale"}}) {
    scene.demand.max_age_hours = hours;
    CAPTURE(hours);
    CHECK(scene.verdict() == verdict);
    CHECK(scene.judged().reason == reason);
  }
}

TEST_CASE("without a demand for freshness a survey of any age will do") {
  Scene scene;
  scene.facts.surveys[0] = make_survey("v1", "nose", 100, day(0));
  CHECK(scene.verdict() == Verdict::ready);
}

TEST_CASE("a survey that has to follow an event is taken after it, not with it") {
  Scene scene;
  scene.demand.after_event = "undock";
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.surveys[0].row.taken = day(4) + 1us;
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.surveys[0].row.taken = day(4);
  CHECK(scene.verdict() == Verdict::not_ready);
  CHECK(scene.judged().reason == "survey v1 has to be taken after undock");
}

TEST_CASE("an event that voids surveys does so from its time on, also where it is still to come before the poll") {
  Scene scene;
  scene.demand.voided_by = {"undock"};
  const auto verdict_with_event_at = [&](Instant when) {
    scene.mission.events.back().at = when;
    return scene.verdict();
  };
  CHECK(verdict_with_event_at(day(5) - 1us) == Verdict::ready);
  CHECK(verdict_with_event_at(day(5)) == Verdict::not_ready);
  CHECK(verdict_with_event_at(day(6)) == Verdict::not_ready);
  CHECK(scene.judged().reason == "survey v1 is void after undock");
  CHECK(verdict_with_event_at(day(9)) == Verdict::not_ready);
  CHECK(verdict_with_event_at(day(9) + 1us) == Verdict::ready);  // after the poll
}

TEST_CASE("of several events the last before the poll decides") {
  Scene scene;
  add_event(scene.mission, "bump", day(6));
  scene.demand.after_event = "undock";
  scene.demand.voided_by = {"bump", "landing"};
  CHECK(scene.judged().reason == "survey v1 is void after bump");
  scene.facts.surveys.push_back(make_survey("v2", "nose", 100, day(6) + 1h));
  scene.facts.clearances = {make_clearance("nose", ClearanceState::cleared, day(6) + 4h)};
  CHECK(scene.verdict() == Verdict::ready);
  CHECK(scene.judged().surveys.size() == 1);
}

// The statement

TEST_CASE("surveys alone clear nothing: without a statement there is NO DATA") {
  Scene scene;
  scene.facts.clearances.clear();
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.judged().reason == "no statement of the authority");
}

TEST_CASE("a statement counts of this zone, for this gate, by the named authority, from its time on") {
  const Scene sound;
  std::array<Scene, 4> scenes;
  scenes[0].facts.clearances[0].row.zone = "tail";
  scenes[1].facts.clearances[0].row.gate = "leave";
  scenes[2].facts.clearances[0].row.authority = "desk";
  scenes[3].facts.clearances[0].row.effective = sound.cutoff + 1us;
  for (const Scene& scene : scenes) {
    CHECK(scene.verdict() == Verdict::no_data);
    CHECK(scene.judged().statement == nullptr);
  }
  Scene just_now;
  just_now.facts.clearances[0].row.effective = just_now.cutoff;
  CHECK(just_now.verdict() == Verdict::ready);
}

TEST_CASE("a statement comes after the last review, whatever kind of survey that was of") {
  for (const auto kind : {"wide", "site"}) {
    Scene scene;
    scene.facts.surveys.push_back(make_survey("v2", "nose", 10, day(6) - 2h));  // reviewed with the statement
    scene.facts.surveys[1].row.kind = kind;
    CHECK(scene.verdict() == Verdict::no_data);
    CHECK(scene.judged().reason == "the statement is older than the last review or finding");
    scene.facts.clearances[0].row.effective = day(6) + 1us;
    CHECK(scene.verdict() == Verdict::ready);
  }
}

TEST_CASE("a statement comes after the last word on any finding of the zone, closed or not") {
  for (const auto state : {FindingState::open, FindingState::under_analysis, FindingState::closed}) {
    Scene scene;
    scene.facts.findings = {make_finding("f1", state, day(6) - 1us)};
    CHECK(scene.verdict() == Verdict::ready);
    scene.facts.findings[0].row.when = day(6);
    CHECK(scene.verdict() == Verdict::no_data);
    scene.facts.findings[0].row.zone = "tail";
    CHECK(scene.verdict() == Verdict::ready);
  }
}

TEST_CASE("findings that are not closed are named beside the verdict, by their last word") {
  Scene scene;
  scene.facts.findings = {
      make_finding("f1", FindingState::open, day(5)), make_finding("f1", FindingState::closed, day(5) + 1h),
      make_finding("f2", FindingState::under_analysis, day(5)), make_finding("f3", FindingState::open, day(5), "tail")};
  const auto open = scene.judged().open_findings;
  REQUIRE(open.size() == 1);
  CHECK(open[0]->finding == "f2");
}

TEST_CASE("a statement holds to the poll or it is NO DATA") {
  Scene scene;
  scene.facts.clearances[0].row.until = day(9);
  CHECK(scene.verdict() == Verdict::ready);
  scene.facts.clearances[0].row.until = day(9) - 1us;
  CHECK(scene.verdict() == Verdict::no_data);
  CHECK(scene.judged().reason == "the statement ends before the poll");
}

TEST_CASE("the newest statement counts, better or worse than the one before") {
  const std::array states{ClearanceState::cleared, ClearanceState::cleared_with_conditions,
                          ClearanceState::not_cleared};
  const std::array verdicts{Verdict::ready, Verdict::ready_with_conditions, Verdict::not_ready};
  for (std::size_t older = 0; older < 3; ++older) {
    for (std::size_t newer = 0; newer < 3; ++newer) {
      Scene scene;
      scene.facts.clearances = {make_clearance("nose", states.at(older), day(6)),
                                make_clearance("nose", states.at(newer), day(6) + 1h)};
      CHECK(scene.verdict() == verdicts.at(newer));
      CHECK(scene.judged().statement == &scene.facts.clearances[1].row);
    }
  }
}

TEST_CASE("a clearance with conditions says them") {
  Scene scene;
  scene.facts.clearances = {make_clearance("nose", ClearanceState::cleared_with_conditions, day(6))};
  CHECK(scene.judged().reason == "on condition: look again");
}

TEST_CASE("not cleared is NOT READY whatever else is missing") {
  Scene scene;
  scene.facts.clearances = {make_clearance("nose", ClearanceState::not_cleared, day(6))};
  CHECK(scene.verdict() == Verdict::not_ready);
  scene.facts.surveys.clear();
  CHECK(scene.verdict() == Verdict::not_ready);
  scene.facts.gaps = {{Log::surveys, "FD 3", {}, "nobody closed it"}};
  CHECK(scene.verdict() == Verdict::not_ready);
}

// Evidence

TEST_CASE("a log of surveys, findings or clearances that is not closed takes READY away, any other log does not") {
  for (std::size_t i = 0; i < daywright::model::log_count; ++i) {
    const auto log = static_cast<Log>(i);
    const bool bears_on_it = log == Log::surveys || log == Log::findings || log == Log::clearances;
    for (const auto state : {ClearanceState::cleared, ClearanceState::cleared_with_conditions}) {
      Scene scene;
      scene.facts.clearances = {make_clearance("nose", state, day(6))};
      const Verdict before = scene.verdict();
      scene.facts.gaps = {{log, "FD 3", {}, "nobody closed it"}};
      CHECK(scene.verdict() == (bears_on_it ? Verdict::no_data : before));
      if (bears_on_it) CHECK_THAT(scene.judged().reason, ContainsSubstring("nobody closed it"));
    }
  }
}

TEST_CASE("a rejected row takes READY away from the zone it names, and from all where it names none") {
  for (const auto log : {Log::surveys, Log::findings, Log::clearances}) {
    for (const auto& [subject, verdict] :
         {std::pair{"nose", Verdict::no_data}, std::pair{"", Verdict::no_data}, std::pair{"tail", Verdict::ready}}) {
      Scene scene;
      scene.facts.rejected = {{log, subject, "", "", "", {}, day(6), "why"}};
      CHECK(scene.verdict() == verdict);
    }
  }
}

TEST_CASE("two ways of telling a survey, a finding or a clearance of the zone take READY away") {
  Scene survey;
  survey.facts.surveys[0].rivals = {survey.facts.surveys[0].row};
  CHECK(survey.verdict() == Verdict::no_data);
  Scene finding;
  finding.facts.findings = {make_finding("f1", FindingState::closed, day(5))};
  CHECK(finding.verdict() == Verdict::ready);
  finding.facts.findings[0].rivals = {finding.facts.findings[0].row};
  CHECK(finding.verdict() == Verdict::no_data);
  finding.facts.findings[0].row.zone = "tail";
  CHECK(finding.verdict() == Verdict::ready);
  Scene clearance;
  clearance.facts.clearances[0].rivals = {clearance.facts.clearances[0].row};
  CHECK(clearance.verdict() == Verdict::no_data);
}

TEST_CASE("taking any one row away never raises the rank") {
  Scene full;
  full.mission.zones[0].parts = {{"left", 0.5}, {"right", 0.5}};
  for (const auto part : {"", "left", "right"}) {
    full.facts.surveys.push_back(make_survey(std::string("v") + part, "nose", 100, day(5)));
    full.facts.surveys.back().row.part = part;
  }
  full.facts.findings = {make_finding("f1", FindingState::open, day(5))};
  full.facts.clearances.push_back(make_clearance("nose", ClearanceState::cleared_with_conditions, day(6) + 1h));
  full.facts.clearances.erase(full.facts.clearances.begin());
  const int whole = rank(full.verdict());
  CHECK(whole == 1);
  for (std::size_t i = 0; i < full.facts.surveys.size(); ++i) {
    Scene less = full;
    less.facts.surveys.erase(less.facts.surveys.begin() + static_cast<std::ptrdiff_t>(i));
    CHECK(rank(less.verdict()) <= whole);
  }
  Scene less = full;
  less.facts.clearances.clear();
  CHECK(rank(less.verdict()) <= whole);
}

TEST_CASE("a new survey makes a zone fresh again, whatever older ones there are") {
  Scene scene;
  scene.demand.max_age_hours = 72;
  scene.facts.surveys = {make_survey("v1", "nose", 100, day(1)), make_survey("v2", "nose", 100, day(6) + 1h)};
  scene.facts.clearances = {make_clearance("nose", ClearanceState::cleared, day(6) + 4h)};
  CHECK(scene.verdict() == Verdict::ready);
  CHECK(scene.judged().oldest_taken == day(6) + 1h);
  scene.facts.surveys[1].row.coverage = 90;  // the fresh one does not suffice, so the zone is as old as the other
  CHECK(scene.verdict() == Verdict::no_data);
}

TEST_CASE("a statement that does not count says why: another authority's, or one that does not hold yet") {
  Scene scene;
  scene.facts.clearances[0].row.authority = "eva_lead";
  CHECK(scene.judged().reason == "no statement of board, one of eva_lead");
  scene.facts.clearances[0].row.authority = "board";
  scene.facts.clearances[0].row.effective = day(8);
  CHECK(scene.judged().reason.starts_with("the statement holds only from "));
  CHECK(scene.verdict() == Verdict::no_data);
  scene.facts.clearances.clear();
  CHECK(scene.judged().reason == "no statement of the authority");
}
