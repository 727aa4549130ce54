// Merging the logs at one cut-off: one fact a key, corrections, conflicts, and what is missing. All data is invented.
#include "load/merge.h"

#include <algorithm>
#include <array>
#include <random>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <vector>

#include "builders.h"

using Catch::Matchers::ContainsSubstring;
using daywright::load::merge;
using daywright::model::Diagnostic;
using daywright::model::Diagnostics;
using daywright::model::Facts;
using daywright::model::Log;
using daywright::model::log_count;
using daywright::model::Severity;
using daywright::test::Folder;
using daywright::test::how_many;
using daywright::test::Merging;
using daywright::test::met;
using daywright::test::only;
using daywright::test::smallest_mission;
using daywright::test::smallest_rules;
using daywright::test::swapped;
using daywright::test::with;
using namespace std::string_literals;
using namespace std::chrono_literals;

namespace {

/// The smallest plan with a second one of everything that a log may name, and two sheets of counts, 'a' and 'b'.
/// A gauge is good to 3 kg, all other ways of counting to 4 kg.
std::string plan(int rank_of_a = 1, int rank_of_b = 1) {
  std::string text =
      swapped(smallest_mission, "places = [\"tank\"]",
              "places = [\"tank\", \"bag\"]\nsigma = { gauge = 3, tally = 4, weighed = 4, derived = 4 }");
  text = with(std::move(text), R"([[place]]
id = "bag"
title = "Bag"
vehicle = "ship"

[[person]]
id = "engineer"
title = "Engineer"
aboard = "ship"
seat = "ship"

[[method]]
id = "weighed"
kind = "weighed"
[[method]]
id = "tally"
kind = "tally"
[[method]]
id = "derived"
kind = "derived"

[[item]]
id = "oxygen"
title = "Oxygen"
sort = "stock"
unit = "kg"
vehicle = "ship"
places = ["tank", "bag"]
sigma = { gauge = 3, tally = 4 }

[[zone]]
id = "nose"
title = "Nose"
vehicle = "ship"
parts = { left = 0.5, right = 0.5 }
[[zone]]
id = "tail"
title = "Tail"
vehicle = "ship"

[[gate]]
id = "leave"
title = "Leave"
event = "landing"
poll = "3/00:00"
)");
  for (const auto& [id, rank] : {std::pair{"a", rank_of_a}, std::pair{"b", rank_of_b}}) {
    text = with(std::move(text), "[[source]]\nid = \""s + id +
                                     "\"\ntitle = \"Sheet\"\nlog = \"counts\"\nrank = " + std::to_string(rank) + "\n");
  }
  return text;
}

std::string rules(const std::string& margins = "") {
  return margins +
         with(smallest_rules,
              "[[role]]\nid = \"desk\"\ntitle = \"Desk\"\n[[criterion]]\nid = \"c\"\ntitle = \"C\"\ngate = \"leave\"\n"
              "owner = \"desk\"\nrationale = \"invented\"\nwaiver_authority = \"board\"\nkind = \"tasks\"\n");
}

Folder folder(int rank_of_a = 1, int rank_of_b = 1) { return Folder(plan(rank_of_a, rank_of_b), rules()); }

const std::string counts = "when,item,place,quantity,unit,method,recorded,ref,corrects";

/// The cells of a count that a test may be about.
struct Cells {
  std::string recorded{};
  std::string ref{};
  std::string corrects{};
  std::string method = "gauge";
  std::string when = "1/06:00";
  std::string item = "water";
};

/// One line of the log of counts: so many kg in the tank.
std::string count(const std::string& quantity, const Cells& cells = {}) {
  return cells.when + "," + cells.item + ",tank," + quantity + ",kg," + cells.method + "," + cells.recorded + "," +
         cells.ref + "," + cells.corrects;
}

/// The faults and warnings of these rules; closures are about something else and left out.
Diagnostics of_rule(const Diagnostics& faults, std::string_view rule) {
  Diagnostics found;
  std::copy_if(faults.begin(), faults.end(), std::back_inserter(found), [&](const auto& f) { return f.rule == rule; });
  return found;
}

std::vector<double> quantities(const std::vector<daywright::model::CountRow>& rows) {
  std::vector<double> all;
  for (const auto& row : rows) all.push_back(row.quantity);
  return all;
}

}  // namespace

// One fact

TEST_CASE("the same row twice is one fact, in one sheet or in two") {
  const Merging one_sheet(folder().log(2, "counts", {counts, count("50"), count("50")}));
  CHECK(one_sheet.faults.empty());
  REQUIRE(one_sheet.facts.counts.size() == 1);
  CHECK(one_sheet.facts.counts[0].superseded.empty());
  CHECK(one_sheet.facts.counts[0].rivals.empty());
  const Merging two_sheets(
      folder().log(2, "counts-a", {counts, count("50")}).log(2, "counts-b", {counts, count("50")}));
  CHECK(two_sheets.faults.empty());
  REQUIRE(two_sheets.facts.counts.size() == 1);
  CHECK(two_sheets.facts.counts[0].confirmed.size() == 1);
  CHECK(two_sheets.facts.counts[0].rivals.empty());
}

TEST_CASE("the same row on two days is one fact") {
  const Merging merged(folder()
                           .log(1, "counts", {counts, count("50", {.when = "0/06:00"})})
                           .log(2, "counts", {counts, count("50", {.when = "0/06:00"})}));
  CHECK(merged.faults.empty());
  CHECK(merged.facts.counts.size() == 1);
}

TEST_CASE("facts come in order of their keys whatever the order of the rows") {
  std::vector<std::string> rows;
  for (const auto item : {"oxygen", "water"}) {
    for (const auto when : {"0/06:00", "0/18:00", "1/02:00", "1/06:00"})
      rows.push_back(count("50", {.when = when, .item = item}));
  }
  std::mt19937 random(16);  // NOLINT: the same order every time
  for (int i = 0; i < 20; ++i) {
    std::shuffle(rows.begin(), rows.end(), random);
    const Merging merged(
        folder().log(2, "counts", {counts, rows[0], rows[1], rows[2], rows[3], rows[4], rows[5], rows[6], rows[7]}));
    REQUIRE(merged.facts.counts.size() == 8);
    CHECK(std::is_sorted(merged.facts.counts.begin(), merged.facts.counts.end(), [](const auto& a, const auto& b) {
      return std::tie(a.row.item, a.row.when) < std::tie(b.row.item, b.row.when);
    }));
  }
}

// Corrections

TEST_CASE("a row of the same source that is recorded later is a correction, wherever it stands in the file") {
  const std::string before = count("50", {"1/07:00"});
  const std::string after = count("60", {"1/07:01"});
  for (const bool is_in_order : {true, false}) {
    const Merging merged(
        folder().log(2, "counts", {counts, is_in_order ? before : after, is_in_order ? after : before}));
    CHECK(merged.faults.empty());
    REQUIRE(merged.facts.counts.size() == 1);
    CHECK(merged.facts.counts[0].row.quantity == 60);
    CHECK(quantities(merged.facts.counts[0].superseded) == std::vector{50.0});
    CHECK(merged.facts.counts[0].rivals.empty());
  }
}

TEST_CASE("within one source there is no tolerance: the smallest difference is a correction") {
  const Merging merged(folder().log(2, "counts", {counts, count("50", {"1/07:00"}), count("50.001", {"1/07:01"})}));
  CHECK(merged.facts.counts.at(0).row.quantity == 50.001);
  CHECK(merged.facts.counts[0].superseded.size() == 1);
}

TEST_CASE("of three rows of one source the last one counts and the others stay visible, oldest first") {
  const Merging merged(folder().log(
      2, "counts", {counts, count("52", {"1/09:00"}), count("50", {"1/07:00"}), count("51", {"1/08:00"})}));
  CHECK(merged.facts.counts.at(0).row.quantity == 52);
  CHECK(quantities(merged.facts.counts[0].superseded) == std::vector{50.0, 51.0});
}

TEST_CASE("two rows of one source and one time disagree, for neither is the later one") {
  const Merging merged(folder().log(2, "counts", {counts, count("50", {"1/07:00"}), count("60", {"1/07:00"})}));
  REQUIRE(merged.facts.counts.size() == 1);
  CHECK(merged.facts.counts[0].rivals.size() == 1);
  CHECK(merged.facts.counts[0].superseded.empty());
  CHECK(how_many(merged.faults, "conflict") == 2);
}

TEST_CASE("a row that names what it corrects does so at the same time of recording, too") {
  const Merging merged(
      folder().log(2, "counts", {counts, count("50", {"1/07:00", "r1"}), count("60", {"1/07:00", "", "r1"})}));
  CHECK(merged.faults.empty());
  CHECK(merged.facts.counts.at(0).row.quantity == 60);
  CHECK(quantities(merged.facts.counts[0].superseded) == std::vector{50.0});
}

TEST_CASE("a correction may change the key, and the row under the old key is no fact any more") {
  const Merging merged(folder()
                           .log(1, "counts", {counts, count("50", {.ref = "r1", .when = "0/06:00"})})
                           .log(2, "counts", {counts, count("50", {.corrects = "r1", .when = "0/07:00"})}));
  CHECK(merged.faults.empty());
  REQUIRE(merged.facts.counts.size() == 1);
  CHECK(merged.facts.counts[0].row.when == met(0, 7));
  REQUIRE(merged.facts.counts[0].superseded.size() == 1);
  CHECK(merged.facts.counts[0].superseded[0].when == met(0, 6));
}

TEST_CASE("a correction settles a conflict between two sources") {
  auto two =
      folder().log(2, "counts-a", {counts, count("50", {.ref = "r1"})}).log(2, "counts-b", {counts, count("90")});
  CHECK(Merging(two).facts.counts.at(0).rivals.size() == 1);
  const Merging settled(two.log(2, "counts-a", {counts, count("50", {.ref = "r1"}), count("90", {.corrects = "r1"})}));
  CHECK(settled.faults.empty());
  REQUIRE(settled.facts.counts.size() == 1);
  CHECK(settled.facts.counts[0].rivals.empty());
  CHECK(settled.facts.counts[0].row.quantity == 90);
}

TEST_CASE("a row that corrects a ref that no row has is warned of and counts") {
  const Merging merged(folder().log(
      2, "counts", {counts, count("50", {.ref = "r1"}), count("60", {.corrects = "r2", .when = "1/07:00"})}));
  const auto warning = only(merged.faults);
  CHECK(warning.rule == "corrects-nothing");
  CHECK(warning.severity == Severity::warning);
  CHECK(warning.source.line == 3);
  CHECK(merged.facts.counts.size() == 2);
}

TEST_CASE("a ref of another log is none to correct") {
  const Merging merged(folder()
                           .log(2, "counts", {counts, count("50", {.ref = "r1"})})
                           .log(2, "readings", {"when,what,quantity,unit,corrects", "1/06:00,ppO2,20,kPa,r1"}));
  CHECK(only(merged.faults).rule == "corrects-nothing");
  CHECK(merged.facts.counts.size() == 1);
}

// Conflicts

TEST_CASE("two sources agree up to three sigma of both together, and not a hair beyond") {
  // A gauge is good to 3 kg and a tally to 4 kg: 3 x sqrt(3 x 3 + 4 x 4) = 15 kg.
  for (const auto& [other, is_rival] : {std::pair{"115", false}, std::pair{"115.001", true}, std::pair{"85", false},
                                        std::pair{"84.999", true}, std::pair{"100", false}}) {
    const Merging merged(folder()
                             .log(2, "counts-a", {counts, count("100")})
                             .log(2, "counts-b", {counts, count(other, {.method = "tally"})}));
    CAPTURE(other);
    REQUIRE(merged.facts.counts.size() == 1);
    CHECK(merged.facts.counts[0].rivals.size() == (is_rival ? 1U : 0U));
    CHECK(merged.facts.counts[0].confirmed.size() == (is_rival ? 0U : 1U));
    CHECK(how_many(merged.faults, "conflict") == (is_rival ? 2U : 0U));
  }
}

TEST_CASE("the rules may ask for another number of sigmas") {
  // 1 x sqrt(3 x 3 + 4 x 4) = 5 kg.
  for (const auto& [other, is_rival] : {std::pair{"105", false}, std::pair{"105.001", true}}) {
    const Folder sheets = Folder(plan(), rules("[margins]\nconflict_sigmas = 1\n"))
                              .log(2, "counts-a", {counts, count("100")})
                              .log(2, "counts-b", {counts, count(other, {.method = "tally"})});
    CHECK(Merging(sheets).facts.counts.at(0).rivals.size() == (is_rival ? 1U : 0U));
  }
}

TEST_CASE("a conflict is told at the row that counts, and the other way at the other row") {
  const Merging merged(
      folder(0, 1).log(2, "counts-a", {counts, count("100")}).log(2, "counts-b", {counts, count("200")}));
  REQUIRE(merged.faults.size() == 2);
  const Diagnostic& warning = merged.faults[0];
  CHECK(warning.severity == Severity::warning);
  CHECK(warning.source == merged.facts.counts.at(0).row.from.source);
  CHECK_THAT(warning.text, ContainsSubstring("100.0 kg of 'water' in 'tank' at 2031-05-07T06:00Z (gauge)"));
  const Diagnostic& note = merged.faults[1];
  CHECK(note.severity == Severity::note);
  CHECK(note.source == merged.facts.counts.at(0).rivals.at(0).from.source);
  CHECK_THAT(note.text, ContainsSubstring("200.0 kg"));
}

TEST_CASE("of two sources that disagree, rank decides, then the way of counting, then the later record") {
  // Ways of counting from the best to the worst.
  const std::array<std::string, 4> methods{"weighed", "tally", "gauge", "derived"};
  const std::array<std::string, 2> times{"1/08:00", "1/07:00"};
  for (const int rank_a : {0, 1}) {
    for (const int rank_b : {0, 1}) {
      for (std::size_t way_a = 0; way_a < methods.size(); ++way_a) {
        for (std::size_t way_b = 0; way_b < methods.size(); ++way_b) {
          for (std::size_t age_a = 0; age_a < times.size(); ++age_a) {
            for (std::size_t age_b = 0; age_b < times.size(); ++age_b) {
              const auto a = std::tuple(rank_a, way_a, age_a);
              const auto b = std::tuple(rank_b, way_b, age_b);
              if (a == b) continue;  // nothing tells them apart
              const Merging merged(
                  folder(rank_a, rank_b)
                      .log(2, "counts-a",
                           {counts, count("100", {.recorded = times.at(age_a), .method = methods.at(way_a)})})
                      .log(2, "counts-b",
                           {counts, count("900", {.recorded = times.at(age_b), .method = methods.at(way_b)})}));
              CAPTURE(rank_a, rank_b, way_a, way_b, age_a, age_b);
              REQUIRE(merged.facts.counts.size() == 1);
              CHECK(merged.facts.counts[0].row.from.origin == (a < b ? "a" : "b"));
              REQUIRE(merged.facts.counts[0].rivals.size() == 1);
              CHECK(merged.facts.counts[0].rivals[0].from.origin == (a < b ? "b" : "a"));
            }
          }
        }
      }
    }
  }
}

TEST_CASE("a third source is held against the one that counts") {
  const Merging merged(folder()
                           .log(2, "counts", {counts, count("100")})  // our own sheet has rank 0
                           .log(2, "counts-a", {counts, count("101")})
                           .log(2, "counts-b", {counts, count("200")}));
  REQUIRE(merged.facts.counts.size() == 1);
  CHECK(merged.facts.counts[0].row.quantity == 100);
  CHECK(quantities(merged.facts.counts[0].confirmed) == std::vector{101.0});
  CHECK(quantities(merged.facts.counts[0].rivals) == std::vector{200.0});
}

TEST_CASE("only the newest word of each source takes part in a conflict") {
  const Merging merged(folder()
                           .log(2, "counts-a", {counts, count("300", {"1/07:00"}), count("101", {"1/08:00"})})
                           .log(2, "counts-b", {counts, count("100", {"1/07:30"})}));
  REQUIRE(merged.facts.counts.size() == 1);
  CHECK(merged.facts.counts[0].rivals.empty());
  CHECK(quantities(merged.facts.counts[0].confirmed) == std::vector{100.0});
  CHECK(quantities(merged.facts.counts[0].superseded) == std::vector{300.0});
}

// The cut-off

TEST_CASE("a row counts from the instant at which it was recorded") {
  const Folder sheet = folder().log(2, "counts", {counts, count("50", {"1/07:00"})});
  CHECK(Merging(sheet, met(1, 7)).facts.counts.size() == 1);
  CHECK(Merging(sheet, met(1, 7) - 1us).facts.counts.empty());
}

TEST_CASE("a row without a time of recording was recorded at the end of its day") {
  const Folder sheet = folder().log(1, "counts", {counts, count("50", {.when = "0/06:00"})});
  CHECK(Merging(sheet, met(1)).facts.counts.size() == 1);
  CHECK(Merging(sheet, met(1) - 1us).facts.counts.empty());
}

TEST_CASE("a correction that is not recorded yet corrects nothing yet") {
  for (const bool by_ref : {true, false}) {
    const Folder sheet = folder().log(
        2, "counts", {counts, count("50", {"1/07:00", "r1"}), count("60", {"1/08:00", "", by_ref ? "r1" : ""})});
    CHECK(Merging(sheet, met(1, 8) - 1us).facts.counts.at(0).row.quantity == 50);
    CHECK(Merging(sheet, met(1, 8)).facts.counts.at(0).row.quantity == 60);
  }
}

TEST_CASE("yesterday's evening is the same whatever was logged since") {
  Folder sheets = folder().log(1, "counts", {counts, count("50", {.when = "0/06:00"})});
  const Merging before(sheets, met(1));
  const Merging after(sheets.log(2, "counts", {counts, count("70", {.when = "0/06:00"}), count("40")}), met(1));
  REQUIRE(after.facts.counts.size() == before.facts.counts.size());
  CHECK(after.facts.counts[0].row.quantity == before.facts.counts[0].row.quantity);
  CHECK(after.facts.counts[0].rivals.empty());
}

namespace {

/// A row that tells of something at the time in place of @, and how many facts its log then holds.
struct Telling {
  Log log;
  std::string columns;
  std::string row;
  std::string subject;  ///< what the row would have fed
};

}  // namespace

TEST_CASE("a row that tells of something after the cut-off is refused and marks what it would have fed") {
  const std::vector<Telling> tellings{
      {Log::tasks, "task,state,percent,from", "T-1,started,0,@", "T-1"},
      {Log::tasks, "task,state,percent,from,to", "T-1,started,0,0/01:00,@", "T-1"},
      {Log::sorties, "sortie,kind,depress", "S-1,period,@", "S-1"},
      {Log::sorties, "sortie,kind,depress,repress", "S-1,period,0/01:00,@", "S-1"},
      {Log::closeouts, "closeout,done,of,by,when", "hatch,1,2,desk,@", "hatch"},
      {Log::surveys, "survey,zone,kind,coverage,taken", "V-1,nose,wide,100,@", "nose"},
      {Log::surveys, "survey,zone,kind,coverage,taken,received", "V-1,nose,wide,100,0/01:00,@", "nose"},
      {Log::surveys, "survey,zone,kind,coverage,taken,received,reviewed", "V-1,nose,wide,100,0/01:00,0/02:00,@",
       "nose"},
      {Log::findings, "finding,zone,severity,state,when", "F-1,nose,minor,open,@", "nose"},
      {Log::counts, "when,item,place,quantity,unit,method", "@,water,tank,5,kg,gauge", "water"},
      {Log::transfers, "transfer,when,item,to,quantity,unit,state", "X-1,@,water,tank,5,kg,done", "water"},
      {Log::readings, "when,what,quantity,unit", "@,ppO2,20,kPa", "ppO2"},
      {Log::equipment, "unit,state,function,when", "fan,working,air,@", "fan"},
      {Log::anomalies, "anomaly,opened,severity,state", "A-1,@,minor,open", ""},
      {Log::statements, "position,says,at", "desk,fit,@", "desk"},
      {Log::crew, "person,kind,from,to", "pilot,sleep,0/01:00,@", "pilot"},
  };
  for (const Telling& telling : tellings) {
    for (const bool is_later : {false, true}) {
      const std::string row = swapped(telling.row, "@", is_later ? "1/06:01" : "1/06:00");
      const std::string columns = telling.columns + ",recorded";
      auto sheets = folder().log(1, "plan", {"task,title,day,crew,minutes", "T-1,Check,1,pilot,30"});
      const Merging merged(sheets.log(2, std::string(name_of(telling.log)), {columns, row + ",1/05:00"}), met(1, 6));
      const auto refused = of_rule(merged.faults, "after-cutoff");
      CAPTURE(row);
      CHECK(refused.size() == (is_later ? 1U : 0U));
      CHECK(merged.facts.rejected.size() == (is_later ? 1U : 0U));
      if (!is_later || refused.size() != 1 || merged.facts.rejected.size() != 1) continue;
      CHECK(refused[0].severity == Severity::error);
      CHECK(refused[0].source.line == 2);
      CHECK(refused[0].text == "the row tells of 2031-05-07T06:01Z, after the cut-off 2031-05-07T06:00Z");
      CHECK(merged.facts.rejected[0].log == telling.log);
      CHECK(merged.facts.rejected[0].subject == telling.subject);
    }
  }
}

TEST_CASE("what is planned, due or valid from a later time on may lie after the cut-off") {
  const Merging merged(
      folder()
          .log(2, "plan", {"task,title,day,crew,minutes", "T-1,Check,9,pilot,30"})
          .log(2, "clearances",
               {"zone,gate,state,authority,effective,until", "nose,entry,cleared,board,3/00:00,3/06:00"})
          .log(2, "transfers",
               {"transfer,when,item,to,quantity,unit,state", "X-1,3/00:00,water,tank,5,kg,planned",
                "X-2,3/00:00,water,tank,5,kg,cancelled"})
          .log(2, "decisions", {"decision,state,reason,effective,expires", "D-1,proposed,why,3/00:00,3/01:00"})
          .log(2, "actions", {"action,from,to,text,state,due", "Q-1,desk,crew,count bags,open,3/00:00"})
          .log(2, "statements", {"position,says,at,valid_until", "desk,fit,1/06:00,3/00:00"}));
  CHECK(merged.faults.empty());
  CHECK(merged.facts.rejected.empty());
  CHECK(merged.facts.transfers.size() == 2);
}

// Keys and values, as the table of the README has them

namespace {

enum class Role {
  key,    ///< another value makes another fact
  value,  ///< another value is a correction
  note,   ///< another value says nothing new
};

struct ColumnCase {
  std::string name;
  std::string cell;
  std::string other;
  Role role;
};

struct LogCase {
  Log log;
  std::vector<ColumnCase> columns;
};

template <class Row>
std::pair<std::size_t, std::size_t> sizes(const std::vector<daywright::model::Merged<Row>>& facts) {
  std::size_t superseded = 0;
  for (const auto& fact : facts) superseded += fact.superseded.size();
  return {facts.size(), superseded};
}

/// Facts of a log, and rows that others took the place of.
std::pair<std::size_t, std::size_t> sizes_of(const Facts& facts, Log log) {
  switch (log) {
    case Log::plan: return sizes(facts.plan);
    case Log::tasks: return sizes(facts.tasks);
    case Log::sorties: return sizes(facts.sorties);
    case Log::closeouts: return sizes(facts.closeouts);
    case Log::surveys: return sizes(facts.surveys);
    case Log::findings: return sizes(facts.findings);
    case Log::clearances: return sizes(facts.clearances);
    case Log::counts: return sizes(facts.counts);
    case Log::transfers: return sizes(facts.transfers);
    case Log::readings: return sizes(facts.readings);
    case Log::equipment: return sizes(facts.equipment);
    case Log::anomalies: return sizes(facts.anomalies);
    case Log::decisions: return sizes(facts.decisions);
    case Log::actions: return sizes(facts.actions);
    case Log::statements: return sizes(facts.statements);
    case Log::crew: return sizes(facts.crew);
  }
  return {};
}

std::vector<LogCase> log_cases() {
  using enum Role;
  return {
      {Log::plan,
       {{"task", "T-1", "T-2", key},
        {"title", "Check", "Look", value},
        {"day", "1", "2", value},
        {"crew", "pilot", "pilot;engineer", value},
        {"minutes", "30", "31", value},
        {"priority", "1", "2", value},
        {"needs", "T-1", "T-2", value},
        {"gate", "entry", "leave", value},
        {"sort", "planned", "get_ahead", value}}},
      {Log::tasks,
       {{"task", "T-1", "T-2", key},
        {"state", "partial", "started", value},
        {"percent", "40", "50", value},
        {"who", "pilot", "engineer", value},
        {"from", "1/01:00", "1/02:00", key},
        {"to", "1/03:00", "1/04:00", value}}},
      // A row of one kind has no use for the cells of the other, so the kind alone can't change.
      {Log::sorties,
       {{"sortie", "S-1", "S-2", key},
        {"kind", "period", "period", note},
        {"who", "pilot", "engineer", key},
        {"depress", "1/01:00", "1/02:00", value},
        {"repress", "1/03:00", "1/04:00", value}}},
      {Log::sorties,
       {{"sortie", "S-1", "S-2", key},
        {"kind", "hardware", "hardware", note},
        {"hardware", "boom", "mast", key},
        {"out", "1", "2", value},
        {"back", "0", "1", value}}},
      {Log::sorties,
       {{"sortie", "S-1", "S-2", key},
        {"kind", "hardware", "hardware", note},
        {"who", "pilot", "engineer", value},
        {"hardware", "boom", "clamp", key},
        {"out", "2", "3", value},
        {"back", "2", "1", value}}},
      {Log::closeouts,
       {{"closeout", "hatch", "seat", key},
        {"done", "1", "2", value},
        {"of", "3", "4", value},
        {"by", "desk", "crew", note},
        {"when", "1/01:00", "1/02:00", key}}},
      {Log::surveys,
       {{"survey", "V-1", "V-2", key},
        {"zone", "nose", "nose", note},
        {"kind", "wide", "site", value},
        {"part", "left", "right", key},
        {"coverage", "90", "91", value},
        {"taken", "1/01:00", "1/01:01", value},
        {"received", "1/02:00", "1/02:01", value},
        {"reviewed", "1/03:00", "1/03:01", value},
        {"reviewer", "desk", "crew", note}}},
      {Log::surveys,
       {{"survey", "V-1", "V-2", key},
        {"zone", "nose", "tail", key},
        {"kind", "wide", "site", value},
        {"coverage", "90", "91", value},
        {"taken", "1/01:00", "1/01:01", value}}},
      {Log::findings,
       {{"finding", "F-1", "F-2", key},
        {"zone", "nose", "tail", value},
        {"severity", "minor", "major", value},
        {"state", "open", "closed", value},
        {"disposition", "use as is", "mend", value},
        {"when", "1/01:00", "1/02:00", key}}},
      {Log::clearances,
       {{"zone", "nose", "tail", key},
        {"gate", "entry", "leave", key},
        {"state", "cleared", "not_cleared", value},
        {"rests_on", "V-1", "V-1;V-2", value},
        {"authority", "board", "desk", value},
        {"effective", "1/01:00", "1/02:00", key},
        {"until", "3/01:00", "3/02:00", value}}},
      {Log::counts,
       {{"when", "1/01:00", "1/02:00", key},
        {"item", "water", "oxygen", key},
        {"place", "tank", "bag", key},
        {"quantity", "5", "6", value},
        {"unit", "kg", "g", value},
        {"method", "gauge", "tally", value},
        {"by", "pilot", "engineer", note}}},
      {Log::transfers,
       {{"transfer", "X-1", "X-2", key},
        {"when", "1/01:00", "1/02:00", value},
        {"item", "water", "oxygen", value},
        {"from", "tank", "bag", value},
        {"to", "bag", "tank", value},
        {"quantity", "5", "6", value},
        {"unit", "kg", "g", value},
        {"state", "planned", "done", value}}},
      {Log::readings,
       {{"when", "1/01:00", "1/02:00", key},
        {"what", "ppO2", "ppCO2", key},
        {"quantity", "20", "21", value},
        {"unit", "kPa", "hPa", value}}},
      {Log::equipment,
       {{"unit", "fan", "pump", key},
        {"state", "working", "off", value},
        {"function", "air", "water", value},
        {"when", "1/01:00", "1/02:00", key}}},
      {Log::anomalies,
       {{"anomaly", "A-1", "A-2", key},
        {"opened", "1/01:00", "1/02:00", value},
        {"severity", "minor", "major", value},
        {"gate", "entry", "leave", value},
        {"state", "open", "closed", value},
        {"disposition", "watch", "mend", value}}},
      {Log::decisions,
       {{"decision", "D-1", "D-2", key},
        {"state", "proposed", "approved", value},
        {"authority", "board", "desk", value},
        {"effective", "1/01:00", "1/02:00", value},
        {"expires", "3/01:00", "3/02:00", value},
        {"changes", "landing", "days", value},
        {"value", "1", "2", value},
        {"waives", "c", "c;T-1", value},
        {"worst", "1", "2", value},
        {"reason", "why", "because", value}}},
      {Log::actions,
       {{"action", "Q-1", "Q-2", key},
        {"from", "desk", "board", value},
        {"to", "crew", "desk", value},
        {"text", "count", "look", value},
        {"due", "3/01:00", "3/02:00", value},
        {"state", "open", "answered", value}}},
      {Log::statements,
       {{"position", "desk", "board", key},
        {"says", "fit", "unfit", value},
        {"at", "1/01:00", "1/02:00", key},
        {"valid_until", "3/01:00", "3/02:00", value}}},
      {Log::crew,
       {{"person", "pilot", "engineer", key},
        {"kind", "sleep", "duty", key},
        {"from", "1/01:00", "1/02:00", key},
        {"to", "1/05:00", "1/06:00", value}}},
  };
}

/// The cells of the first row of a case, one of them changed.
std::string row_of(const LogCase& of, std::size_t changed) {
  std::string row;
  for (std::size_t i = 0; i < of.columns.size(); ++i)
    row += (i == changed ? of.columns[i].other : of.columns[i].cell) + ",";
  return row;
}

}  // namespace

TEST_CASE("another value in a key makes another fact, in any other column a correction, in a note nothing") {
  for (const LogCase& of : log_cases()) {
    std::string columns;
    for (const auto& column : of.columns) columns += column.name + ",";
    for (std::size_t i = 0; i < of.columns.size(); ++i) {
      Folder sheets = folder();
      if (of.log == Log::tasks)
        sheets.log(1, "plan", {"task,title,day,crew,minutes", "T-1,Check,1,pilot,30", "T-2,Look,1,pilot,30"});
      sheets.log(2, std::string(name_of(of.log)),
                 {columns + "recorded,remark", row_of(of, of.columns.size()) + "1/10:00,first",
                  row_of(of, i) + "1/11:00,second"});
      const Merging merged(sheets);
      CAPTURE(std::string(name_of(of.log)), of.columns[i].name);
      CHECK(merged.facts.rejected.empty());
      const auto [facts, superseded] = sizes_of(merged.facts, of.log);
      CHECK(facts == (of.columns[i].role == Role::key ? 2U : 1U));
      CHECK(superseded == (of.columns[i].role == Role::value ? 1U : 0U));
    }
  }
}

// Closures

namespace {

bool has_gap(const Facts& facts, Log log, int day) {
  return std::any_of(facts.gaps.begin(), facts.gaps.end(),
                     [&](const auto& gap) { return gap.log == log && gap.day == "FD " + std::to_string(day); });
}

std::string closure(const std::string& complete_to, int rows) {
  return "by = \"desk\"\ncomplete_to = \"" + complete_to + "\"\nrows = " + std::to_string(rows) + "\n";
}

}  // namespace

TEST_CASE("a folder in which every log is closed has no gap, with rows or without") {
  const Merging merged(folder().log(2, "counts", {counts, count("50")}));
  CHECK(merged.faults.empty());
  CHECK(merged.facts.gaps.empty());
}

TEST_CASE("a log that nobody closed has a gap on that day and no other") {
  for (std::size_t i = 0; i < log_count; ++i) {
    const auto log = static_cast<Log>(i);
    const Merging merged(folder().close(1, log, ""));
    CAPTURE(std::string(name_of(log)));
    REQUIRE(merged.facts.gaps.size() == 1);
    CHECK(has_gap(merged.facts, log, 1));
    const auto warning = only(merged.faults);
    CHECK(warning.rule == "log-not-closed");
    CHECK(warning.severity == Severity::warning);
    CHECK(warning.source == merged.inputs.days.at(0).closed_source);
    CHECK(warning.text == "log '" + std::string(name_of(log)) + "' of FD 1: nobody closed it");
  }
}

TEST_CASE("a log holds as many rows as its owner says, or it has a gap") {
  const Folder sheets = folder().log(2, "counts", {counts, count("50"), count("50", {.when = "1/07:00"})});
  for (const int rows : {1, 2, 3}) {
    Folder said = sheets;
    const Merging merged(said.close(2, Log::counts, closure("2/00:00", rows)));
    CHECK(merged.facts.gaps.empty() == (rows == 2));
    if (rows == 2) continue;
    const auto warning = only(merged.faults);
    CHECK(warning.text == "log 'counts' of FD 2: closed with " + std::to_string(rows) + " rows, found 2");
    CHECK(warning.source == merged.inputs.days.at(1).closures.at(static_cast<std::size_t>(Log::counts)).source);
  }
}

TEST_CASE("rows of all sheets of a log are counted together, rejected ones too") {
  const Merging merged(folder()
                           .log(2, "counts", {counts, count("50")})
                           .log(2, "counts-a", {counts, count("5O")})
                           .log(2, "counts-b", {counts, count("50")})
                           .close(2, Log::counts, closure("2/00:00", 3)));
  CHECK(merged.facts.gaps.empty());
  CHECK(merged.facts.rejected.size() == 1);
}

TEST_CASE("a log with a row that was written down after the cut-off is not closed, whatever its owner says") {
  for (const auto& [recorded, is_closed] :
       {std::pair{"2/00:00", true}, std::pair{"2/00:01", false}, std::pair{"600/00:00", false}}) {
    const Merging merged(
        folder().log(2, "counts", {counts, count("50", {recorded})}).close(2, Log::counts, closure("2/00:00", 1)));
    CAPTURE(recorded);
    CHECK(merged.facts.gaps.empty() == is_closed);
    if (!is_closed) CHECK_THAT(only(merged.faults).text, ContainsSubstring("1 of its 1 rows were written down after"));
  }
}

TEST_CASE("nothing to report is a gap where there is a row after all") {
  const std::string nothing = "by = \"desk\"\ncomplete_to = \"2/00:00\"\nnothing_to_report = true\n";
  CHECK(Merging(folder().close(2, Log::counts, nothing)).facts.gaps.empty());
  CHECK(Merging(folder().log(2, "counts", {counts}).close(2, Log::counts, nothing)).facts.gaps.empty());
  CHECK(Merging(folder().log(2, "counts", {counts, count("50")}).close(2, Log::counts, nothing)).facts.gaps.size() ==
        1);
}

TEST_CASE("a log is complete to the end of its day, or to the cut-off where that comes first, and not beyond it") {
  for (const auto& [complete_to, cutoff, is_closed] :
       {std::tuple{"2/00:00", met(2), true}, std::tuple{"1/23:59", met(2), false},
        std::tuple{"1/12:00", met(1, 12), true}, std::tuple{"1/11:59", met(1, 12), false},
        std::tuple{"1/12:01", met(1, 12), false}, std::tuple{"2/00:00", met(2, 6), true}}) {
    Folder sheets = folder();
    const Merging merged(sheets.close(2, Log::anomalies, closure(complete_to, 0)), cutoff);
    CAPTURE(complete_to);
    CHECK(has_gap(merged.facts, Log::anomalies, 2) == !is_closed);
  }
}

TEST_CASE("a day without its own file has a gap in every log") {
  const Merging merged(folder().without_day(1));
  CHECK(merged.facts.gaps.size() == log_count);
  for (std::size_t i = 0; i < log_count; ++i) CHECK(has_gap(merged.facts, static_cast<Log>(i), 1));
}

TEST_CASE("a file that may have been cut is a gap, whatever its number of rows") {
  Folder sheets = folder();
  sheets.put("days/002/counts.csv", counts + "\n" + count("50"));
  const Merging merged(sheets);
  CHECK(has_gap(merged.facts, Log::counts, 2));
  CHECK(how_many(merged.faults, "no-final-line-break") == 1);
  CHECK(merged.facts.counts.size() == 1);
}

// Rejected rows

TEST_CASE("a row that can't be used marks what it speaks of, or everything where that can't be told") {
  for (const auto& [row, subject] :
       {std::pair{count("5O"), "water"}, std::pair{count("50", {.item = "watr"}), ""},
        std::pair{"1/06:00,water,tank,50"s, ""}, std::pair{count("-1"), "water"},
        std::pair{count("50", {.when = "noon"}), "water"}, std::pair{count("50", {.method = "guess"}), "water"},
        std::pair{"\"1/06:00,water"s, ""}}) {
    const Merging merged(folder().log(2, "counts", {counts, row, count("50", {.item = "oxygen"})}));
    CAPTURE(row);
    REQUIRE(merged.facts.rejected.size() == 1);
    CHECK(merged.facts.rejected[0].log == Log::counts);
    CHECK(merged.facts.rejected[0].subject == subject);
    CHECK(merged.facts.rejected[0].source.line == 2);
    CHECK_FALSE(merged.facts.rejected[0].why.empty());
    REQUIRE(merged.facts.counts.size() == 1);  // the rest is used
    CHECK(merged.facts.counts[0].row.item == "oxygen");
  }
}

TEST_CASE("a rejected row that is not recorded yet marks nothing yet") {
  const Folder sheets = folder().log(2, "counts", {counts, count("5O", {"1/07:00"})});
  CHECK(Merging(sheets, met(1, 7)).facts.rejected.size() == 1);
  CHECK(Merging(sheets, met(1, 7) - 1us).facts.rejected.empty());
}

TEST_CASE("a rejected row that a later one corrects marks nothing, and its fault stays in sight as a note") {
  const Folder sheets =
      folder().log(2, "counts", {counts, count("5O", {"1/07:00", "r1"}), count("50", {"1/08:00", "", "r1"})});
  const Merging before(sheets, met(1, 8) - 1us);
  CHECK(before.facts.rejected.size() == 1);
  CHECK(only(of_rule(before.faults, "number")).severity == Severity::error);
  const Merging after(sheets);
  CHECK(after.facts.rejected.empty());
  const auto note = only(after.faults);
  CHECK(note.severity == Severity::note);
  CHECK_THAT(note.text, ContainsSubstring("; a later row corrects it"));
  CHECK(after.facts.counts.at(0).row.quantity == 50);
}

TEST_CASE("a row of something else, or of another source, sets no rejected row right") {
  const auto bad = count("5O", {"1/07:00", "r1"});
  const Merging of_oxygen(
      folder().log(2, "counts", {counts, bad, count("50", {"1/08:00", "", "r1", "gauge", "1/06:00", "oxygen"})}));
  CHECK(of_oxygen.facts.rejected.size() == 1);
  const Merging of_another(
      folder().log(2, "counts-a", {counts, bad}).log(2, "counts-b", {counts, count("50", {"1/08:00", "", "r1"})}));
  CHECK(of_another.facts.rejected.size() == 1);
}

TEST_CASE("a row of the future is set right by a correction like any other bad row") {
  const Merging merged(folder().log(2, "counts",
                                    {counts, count("50", {"1/07:00", "r1", "", "gauge", "2/06:00"}),
                                     count("50", {"1/08:00", "", "r1", "gauge", "1/06:00"})}));
  CHECK(merged.facts.rejected.empty());
  CHECK(only(merged.faults).severity == Severity::note);
  CHECK(merged.facts.counts.size() == 1);
}

TEST_CASE("a task that is not planned is refused with the nearest that is, and bears on any of them") {
  const Merging merged(folder()
                           .log(1, "plan", {"task,title,day,crew,minutes", "T-101,Check,1,pilot,30"})
                           .log(2, "tasks", {"task,state,percent,from", "T-l01,done,100,1/01:00"}));
  CHECK(merged.facts.tasks.empty());
  const auto fault = only(merged.faults);
  CHECK(fault.rule == "task-unknown");
  CHECK(fault.severity == Severity::error);
  CHECK_THAT(fault.text, ContainsSubstring("did you mean 'T-101'?"));
  REQUIRE(merged.facts.rejected.size() == 1);
  CHECK(merged.facts.rejected[0].subject.empty());
}

TEST_CASE("a task that comes after one that is not planned is warned of") {
  const Merging merged(folder().log(
      1, "plan", {"task,title,day,crew,minutes,needs", "T-101,Check,1,pilot,30,T-102", "T-103,Look,1,pilot,30,T-101"}));
  const auto warning = only(merged.faults);
  CHECK(warning.rule == "task-unknown");
  CHECK(warning.severity == Severity::warning);
  CHECK(warning.source.line == 2);
}

// Refs

namespace {

std::vector<double> quantities_of(const std::vector<daywright::model::CountRow>& rows) {
  std::vector<double> all;
  for (const auto& row : rows) all.push_back(row.quantity);
  std::sort(all.begin(), all.end());
  return all;
}

}  // namespace

TEST_CASE("along a chain of corrections the last row counts and all before it stay in sight") {
  const Merging merged(folder().log(2, "counts",
                                    {counts, count("50", {"1/07:00", "r1"}), count("60", {"1/08:00", "r2", "r1"}),
                                     count("70", {"1/09:00", "", "r2"})}));
  REQUIRE(merged.facts.counts.size() == 1);
  CHECK(merged.facts.counts[0].row.quantity == 70);
  CHECK(quantities_of(merged.facts.counts[0].superseded) == std::vector{50.0, 60.0});
}

TEST_CASE("a row that corrects itself, or rows that correct each other, stay and are told of") {
  const Merging alone(folder().log(2, "counts", {counts, count("50", {"1/07:00", "r1", "r1"})}));
  CHECK(alone.facts.counts.size() == 1);
  CHECK(of_rule(alone.faults, "corrects-nothing").size() == 1);
  const Merging both(
      folder().log(2, "counts", {counts, count("50", {"1/07:00", "r1", "r2"}), count("60", {"1/08:00", "r2", "r1"})}));
  CHECK(both.facts.counts.size() == 1);
  CHECK(of_rule(both.faults, "corrects-nothing").size() == 2);
}

TEST_CASE("two sources may number their rows alike: a correction is of the own source's row") {
  const Merging merged(folder()
                           .log(2, "counts-a", {counts, count("50", {"1/07:00", "1"})})
                           .log(2, "counts-b",
                                {counts, count("500", {"1/07:00", "1", "", "gauge", "1/06:00", "oxygen"}),
                                 count("501", {"1/08:00", "", "1", "gauge", "1/06:00", "oxygen"})}));
  CHECK(merged.facts.counts.size() == 2);
  CHECK(of_rule(merged.faults, "corrects-nothing").empty());
}

TEST_CASE("a later row of the same source settles a conflict within it") {
  const auto first = count("50", {"1/07:00"});
  const auto second = count("60", {"1/07:00"});
  CHECK(Merging(folder().log(2, "counts", {counts, first, second})).facts.counts.at(0).rivals.size() == 1);
  const Merging merged(folder().log(2, "counts", {counts, first, second, count("55", {"1/08:00"})}));
  CHECK(merged.facts.counts.at(0).row.quantity == 55);
  CHECK(merged.facts.counts.at(0).rivals.empty());
  CHECK(quantities_of(merged.facts.counts.at(0).superseded) == std::vector{50.0, 60.0});
}

TEST_CASE("a bad row of a task that is not planned may bear on any task") {
  const Merging merged(folder()
                           .log(1, "plan", {"task,title,day,crew,minutes", "T-101,Check,1,pilot,30"})
                           .log(2, "tasks", {"task,state,percent,from", "T-l01,not_done,O,1/02:00"}));
  REQUIRE(merged.facts.rejected.size() == 1);
  CHECK(merged.facts.rejected[0].subject.empty());
}
