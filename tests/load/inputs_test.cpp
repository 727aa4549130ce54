// All files of a mission: several sheets a day, other people's columns, and what is missing. All data is invented.
#include "load/inputs.h"

#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <vector>

#include "builders.h"

using Catch::Matchers::ContainsSubstring;
using daywright::load::day_of_path;
using daywright::load::Inputs;
using daywright::load::load_inputs;
using daywright::model::CountRow;
using daywright::model::Diagnostic;
using daywright::model::InputFile;
using daywright::model::SurveyRow;
using daywright::model::TaskRow;
using daywright::test::Folder;
using daywright::test::how_many;
using daywright::test::met;
using daywright::test::only;
using daywright::test::smallest_mission;
using daywright::test::smallest_rules;
using daywright::test::swapped;
using daywright::test::with;
using namespace std::string_literals;

namespace {

/// The smallest plan in which water is counted by gauge, with other people's sheets.
std::string plan(const std::string& sources = "") {
  return with(swapped(smallest_mission, "places = [\"tank\"]", "places = [\"tank\"]\nsigma = { gauge = 3 }"),
              "[[zone]]\nid = \"nose\"\ntitle = \"Nose\"\nvehicle = \"ship\"\n" + sources);
}

Folder folder(const std::string& sources = "") { return Folder(plan(sources)); }

/// A sheet of counts in pounds by a clock four hours behind UTC, with German numbers.
constexpr auto bench = R"([[source]]
id = "bench"
title = "Bench"
log = "counts"
rank = 4
delimiter = ";"
decimal_comma = true
time = "DD.MM.YYYY hh:mm"
utc_offset_hours = -4
columns = { when = "weighed at", item = "what", quantity = "net", place = "from" }
defaults = { unit = "lb", method = "gauge" }
ignore = ["shelf mark"]
[source.values.item]
"H2O" = "water"
"drinking water" = "water"
)";

const std::string bench_columns = "weighed at;what;net;from;shelf mark";
const std::string columns = "when,item,place,quantity,unit,method";

const std::vector<CountRow>& counts_of(const Inputs& inputs) { return std::get<std::vector<CountRow>>(inputs.rows); }

const Diagnostic& first_of(const Inputs& inputs, std::string_view rule) {
  for (const auto& fault : inputs.diagnostics) UNSCOPED_INFO(fault.text << " [" << fault.rule << "]");
  REQUIRE(how_many(inputs.diagnostics, rule) > 0);
  return *std::find_if(inputs.diagnostics.begin(), inputs.diagnostics.end(),
                       [&](const auto& fault) { return fault.rule == rule; });
}

}  // namespace

// Sheets

TEST_CASE("a folder without a single log is usable and free of faults") {
  const Inputs inputs = folder().load();
  CHECK(inputs.usable);
  CHECK(inputs.diagnostics.empty());
  CHECK(inputs.days.size() == 2);
  CHECK(inputs.volumes.empty());
  CHECK(counts_of(inputs).empty());
}

TEST_CASE("several sheets of one log come in order of days, file names and lines, each with its own rank") {
  const Inputs inputs =
      folder(bench)
          .log(2, "counts-bench", {bench_columns, "07.05.2031 02:00;water;3;tank;"})
          .log(2, "counts", {columns, "1/07:00,water,tank,2,kg,gauge", "1/06:00,water,tank,1,kg,gauge"})
          .log(1, "counts", {columns, "0/06:00,water,tank,9,kg,gauge"})
          .load();
  CHECK(inputs.diagnostics.empty());
  std::vector<std::tuple<std::string, int, int>> read;
  for (const auto& row : counts_of(inputs)) read.emplace_back(row.from.origin, row.from.rank, row.from.source.line);
  // A dash sorts before a point, so the bench's sheet of a day comes before our own.
  const std::vector<std::tuple<std::string, int, int>> expected{
      {"counts", 0, 2}, {"bench", 4, 2}, {"counts", 0, 2}, {"counts", 0, 3}};
  CHECK(read == expected);
  REQUIRE(inputs.volumes.size() == 2);
  CHECK(inputs.volumes[0].recorded.size() == 1);
  CHECK(inputs.volumes[1].day == 2);
  CHECK(inputs.volumes[1].recorded.size() == 3);
  CHECK(inputs.volumes[1].is_whole);
}

TEST_CASE("a sheet with other columns, numbers, units, words and clock says the same as one of ours") {
  // 100.5 lb x 0.45359237 kg/lb = 45.586033185 kg; 02:00 four hours behind UTC is 06:00Z, which is 1/06:00.
  for (const auto what : {"H2O", "drinking water", "water"}) {
    const Inputs inputs =
        folder(bench)
            .log(2, "counts-bench", {bench_columns, "07.05.2031 02:00;"s + what + ";100,5;tank;third shelf"})
            .log(2, "counts", {columns, "1/06:00,water,tank,45.586033185,kg,gauge"})
            .load();
    CHECK(inputs.diagnostics.empty());
    REQUIRE(counts_of(inputs).size() == 2);
    const CountRow& theirs = counts_of(inputs)[0];
    const CountRow& ours = counts_of(inputs)[1];
    CHECK(theirs.from.origin == "bench");
    CHECK(theirs.item == ours.item);
    CHECK(theirs.place == ours.place);
    CHECK(theirs.when == ours.when);
    CHECK(theirs.when == met(1, 6));
    CHECK(theirs.method == ours.method);
    CHECK(theirs.quantity == Approx(ours.quantity).epsilon(1e-12));
  }
}

TEST_CASE("a decimal point in a sheet with decimal commas is refused and not taken for a thousand") {
  const Inputs inputs =
      folder(bench).log(2, "counts-bench", {bench_columns, "07.05.2031 02:00;water;1.005;tank;"}).load();
  CHECK(first_of(inputs, "number").source.column == 24);
  CHECK(counts_of(inputs).empty());
  CHECK(inputs.rejected.size() == 1);
}

TEST_CASE("a time that is not written as the sheet's pattern says is refused, ISO 8601 too") {
  for (const auto when : {"1/06:00", "2031-05-07T02:00Z", "7.5.2031 02:00", "07.05.2031 2:00", "31.04.2031 02:00"}) {
    const Inputs inputs = folder(bench).log(2, "counts-bench", {bench_columns, when + ";water;3;tank;"s}).load();
    CAPTURE(when);
    CHECK_THAT(first_of(inputs, "time").text, ContainsSubstring("a time written DD.MM.YYYY hh:mm"));
    CHECK(counts_of(inputs).empty());
  }
}

TEST_CASE("a recorded cell of a sheet is read by the sheet's clock, too") {
  const Inputs inputs =
      folder(bench)
          .log(2, "counts-bench", {bench_columns + ";recorded", "07.05.2031 02:00;water;3;tank;;07.05.2031 03:30"})
          .load();
  CHECK(inputs.diagnostics.empty());
  CHECK(counts_of(inputs).at(0).from.recorded == met(1, 7) + std::chrono::minutes{30});
}

TEST_CASE("an offset east of UTC is taken off, over midnight and over a day of the year") {
  // 01:30 on 7 May, two hours ahead of UTC, is 23:30Z on 6 May, day 126 of 2031: 0/23:30.
  for (const auto& [pattern, when] :
       {std::pair{"DD.MM.YYYY hh:mm", "07.05.2031 01:30"}, std::pair{"YYYY-DDD hh:mm:ss", "2031-127 01:30:00"}}) {
    const std::string source =
        swapped(swapped(bench, "utc_offset_hours = -4", "utc_offset_hours = 2"), "DD.MM.YYYY hh:mm", pattern);
    const Inputs inputs = folder(source).log(2, "counts-bench", {bench_columns, when + ";water;3;tank;"s}).load();
    CHECK(inputs.diagnostics.empty());
    CHECK(counts_of(inputs).at(0).when == met(0, 23) + std::chrono::minutes{30});
  }
}

TEST_CASE("their own column counts where they fill it, and the default where they leave it empty") {
  const Inputs inputs =
      folder(bench)
          .log(2, "counts-bench",
               {bench_columns + ";unit", "07.05.2031 02:00;water;1;tank;;kg", "07.05.2031 03:00;water;1;tank;;"})
          .load();
  CHECK(inputs.diagnostics.empty());
  CHECK(counts_of(inputs).at(0).quantity == 1);
  CHECK(counts_of(inputs).at(1).quantity == Approx(0.45359237));
}

TEST_CASE("one source may have words of its own for one log and none for another") {
  const std::string depot =
      "[[source]]\nid = \"depot\"\ntitle = \"Depot\"\nlog = \"tasks\"\ndelimiter = \"|\"\n"
      "[source.values.state]\n\"finished\" = \"done\"\n";
  const Inputs inputs = folder(depot)
                            .log(1, "tasks-depot", {"task|state|percent|from", "T-1|finished|100|0/06:00"})
                            .log(1, "tasks", {"task,state,percent,from", "T-1,finished,100,0/06:00"})
                            .load();
  CHECK(std::get<std::vector<TaskRow>>(inputs.rows).size() == 1);
  CHECK(only(inputs.diagnostics).rule == "value-unknown");
}

TEST_CASE("a name of theirs with a dash in it is still one name") {
  const Inputs inputs = folder(swapped(bench, "id = \"bench\"", "id = \"bench_2\""))
                            .log(2, "counts-bench_2", {bench_columns, "07.05.2031 02:00;water;3;tank;"})
                            .log(2, "counts-bench-2", {bench_columns})
                            .load();
  CHECK(counts_of(inputs).size() == 1);
  CHECK_THAT(only(inputs.diagnostics).text, ContainsSubstring("no [[source]] 'bench-2' for log 'counts'"));
}

TEST_CASE("CRLF and a byte order mark make no difference") {
  Folder sheets = folder();
  sheets.put("days/002/counts.csv", "\xEF\xBB\xBF" + columns + "\r\n1/06:00,water,tank,2,kg,gauge\r\n");
  const Inputs inputs = sheets.load();
  CHECK(inputs.diagnostics.empty());
  CHECK(counts_of(inputs).size() == 1);
}

// Faults, each with its place

TEST_CASE("a cell that can't be read is named by line and column, and the rest of the sheet is used") {
  const Inputs inputs = folder()
                            .log(2, "counts",
                                 {columns, "1/06:00,water,tank,1,kg,gauge", "1/07:00,water,tank,1O,kg,gauge",
                                  "1/08:00,water,tank,3,kg,gauge"})
                            .load();
  const auto& fault = only(inputs.diagnostics);
  CHECK(fault.source.line == 3);
  CHECK(fault.source.column == 20);  // after "1/07:00,water,tank,"
  CHECK(inputs.usable);
  CHECK(counts_of(inputs).size() == 2);
  REQUIRE(inputs.rejected.size() == 1);
  CHECK(inputs.rejected[0].why == fault.text);
  CHECK(inputs.volumes.at(0).recorded.size() == 3);
}

TEST_CASE("a row with a cell too few or too many is refused, and the one below is read") {
  for (const auto row : {"1/06:00,water,tank,1,kg", "1/06:00,water,tank,1,kg,gauge,"}) {
    const Inputs inputs = folder().log(2, "counts", {columns, row, "1/08:00,water,tank,3,kg,gauge"}).load();
    CHECK(only(inputs.diagnostics).rule == "row-width");
    CHECK(only(inputs.diagnostics).source.line == 2);
    CHECK(counts_of(inputs).size() == 1);
    CHECK(inputs.rejected.size() == 1);
  }
}

TEST_CASE("a byte that is not UTF-8 costs its own row, also in a remark") {
  const Inputs inputs = folder()
                            .log(2, "counts",
                                 {columns + ",remark", "1/06:00,water,tank,1,kg,gauge,caf\xE9",
                                  "1/08:00,water,tank,3,kg,gauge,caf\xC3\xA9"})
                            .load();
  const auto& fault = only(inputs.diagnostics);
  CHECK(fault.rule == "not-utf8");
  CHECK(fault.source.line == 2);
  CHECK(fault.source.column == 34);  // after "1/06:00,water,tank,1,kg,gauge,caf"
  CHECK(counts_of(inputs).size() == 1);
  CHECK(inputs.rejected.size() == 1);
}

TEST_CASE("a column that nobody knows is refused where it stands, and the nearest is offered") {
  const Inputs inputs = folder().log(2, "counts", {columns + ",remrak", "1/06:00,water,tank,1,kg,gauge,x"}).load();
  const auto& fault = only(inputs.diagnostics);
  CHECK(fault.rule == "column-unknown");
  CHECK(fault.source.line == 1);
  CHECK(fault.source.column == static_cast<int>(columns.size()) + 2);
  CHECK_THAT(fault.text, ContainsSubstring("did you mean 'remark'?"));
  CHECK(counts_of(inputs).empty());
  CHECK_FALSE(inputs.volumes.at(0).is_whole);
  CHECK(inputs.volumes[0].recorded.size() == 1);
}

TEST_CASE("in a sheet of theirs our own name of a mapped column is not known, and theirs is offered") {
  const Inputs inputs =
      folder(bench).log(2, "counts-bench", {swapped(bench_columns, "weighed at", "weighd at")}).load();
  CHECK_THAT(first_of(inputs, "column-unknown").text, ContainsSubstring("did you mean 'weighed at'?"));
  const Inputs ours = folder(bench).log(2, "counts-bench", {swapped(bench_columns, "weighed at", "when")}).load();
  CHECK(first_of(ours, "column-unknown").source.column == 1);
  CHECK(first_of(ours, "column-missing").text == "log 'counts' has no column 'when'");
}

TEST_CASE("each column that a log needs is missed, and those that it may have are not") {
  for (const auto& column : {"when,"s, ",item"s, ",place"s, ",quantity"s, ",unit"s, ",method"s}) {
    const Inputs inputs = folder().log(2, "counts", {swapped(columns, column, "")}).load();
    const auto& fault = only(inputs.diagnostics);
    CHECK(fault.rule == "column-missing");
    CHECK(fault.source.line == 1);
    CHECK_FALSE(inputs.volumes.at(0).is_whole);
  }
}

TEST_CASE("a column that comes twice is refused at the second one") {
  const Inputs inputs = folder().log(2, "counts", {columns + ",item"}).load();
  const auto& fault = only(inputs.diagnostics);
  CHECK(fault.rule == "column-twice");
  CHECK(fault.source.column == static_cast<int>(columns.size()) + 2);
}

TEST_CASE("an empty file is a fault, and one with columns alone is a sheet without rows") {
  Folder sheets = folder();
  const Inputs empty = sheets.put("days/002/counts.csv", "").load();
  CHECK(only(empty.diagnostics).rule == "log-empty");
  CHECK_FALSE(empty.volumes.at(0).is_whole);
  const Inputs bare = folder().log(2, "counts", {columns}).load();
  CHECK(bare.diagnostics.empty());
  CHECK(bare.volumes.at(0).is_whole);
  CHECK(bare.volumes[0].recorded.size() == 0);
}

TEST_CASE("a sheet of a source that the plan does not have is refused, and the nearest is offered") {
  const Inputs inputs = folder(bench).log(2, "counts-bnch", {bench_columns}).load();
  const auto& fault = only(inputs.diagnostics);
  CHECK(fault.rule == "source-unknown");
  CHECK_THAT(fault.text, ContainsSubstring("did you mean 'bench'?"));
  CHECK_FALSE(inputs.volumes.at(0).is_whole);
}

TEST_CASE("a source of one log is none of another") {
  const Inputs inputs = folder(bench).log(2, "surveys-bench", {"survey,zone,kind,coverage,taken"}).load();
  CHECK(only(inputs.diagnostics).rule == "source-unknown");
}

TEST_CASE("a file in a day folder that is no log is refused, and the nearest is offered") {
  for (const auto name : {"count.csv", "Counts.csv", "counts.CSV", "day.tml", "counts.csv.bak"}) {
    Folder sheets = folder();
    const Inputs inputs = sheets.put("days/002/"s + name, columns + "\n").load();
    CAPTURE(name);
    CHECK(only(inputs.diagnostics).rule == "log-name");
    CHECK(inputs.volumes.empty());
  }
  Folder sheets = folder();
  CHECK_THAT(only(sheets.put("days/002/count.csv", "").load().diagnostics).text,
             ContainsSubstring("did you mean 'counts.csv'?"));
}

// Days

TEST_CASE("a path names its day by three digits") {
  CHECK(day_of_path("days/008/counts.csv") == 8);
  CHECK(day_of_path("days/120/day.toml") == 120);
  for (const auto path : {"days/000/counts.csv", "days/8/counts.csv", "days/0008/counts.csv", "days/00a/counts.csv",
                          "days/008", "days/008/", "day/008/counts.csv", "mission.toml", ""}) {
    CAPTURE(path);
    CHECK_FALSE(day_of_path(path).has_value());
  }
}

TEST_CASE("what lies in folders after the day of the brief is not read") {
  Folder sheets = folder();
  sheets.log(2, "counts", {"nonsense"});
  sheets.put("days/003/day.toml", "nonsense");
  const Inputs inputs = sheets.load(1);
  CHECK(inputs.usable);
  CHECK(inputs.diagnostics.empty());
  CHECK(inputs.days.size() == 1);
}

TEST_CASE("every day up to the brief's has its own file, and only the last one's is needed to go on") {
  const Inputs first_missing = folder().without_day(1).load();
  CHECK(only(first_missing.diagnostics).rule == "day-missing");
  CHECK_THAT(only(first_missing.diagnostics).text, ContainsSubstring("days/001/day.toml is missing"));
  CHECK(first_missing.usable);
  CHECK(first_missing.broken_days == std::vector{1});
  const Inputs last_missing = folder().without_day(2).load();
  CHECK(only(last_missing.diagnostics).rule == "day-missing");
  CHECK_FALSE(last_missing.usable);
  const Inputs both_missing = folder().load(3);
  CHECK_FALSE(both_missing.usable);
  CHECK(both_missing.broken_days == std::vector{3});
}

TEST_CASE("a day whose own file is bad is known to be broken, and its rows are recorded when the next day begins") {
  Folder sheets = folder().without_day(1).log(1, "counts", {columns, "0/06:00,water,tank,9,kg,gauge"});
  const Inputs inputs = sheets.put("days/001/day.toml", "start = \"0/00:00\"\n[end_of_file]\n").load();
  CHECK(how_many(inputs.diagnostics, "day-missing") == 0);
  CHECK(inputs.broken_days == std::vector{1});
  CHECK(inputs.usable);
  CHECK(counts_of(inputs).at(0).from.recorded == met(1));
}

// Plan and rules

TEST_CASE("without a plan or rules nothing is usable, and each that is missing is named") {
  const std::vector<InputFile> none;
  const Inputs nothing = load_inputs(none, 1);
  CHECK_FALSE(nothing.usable);
  CHECK(how_many(nothing.diagnostics, "file-missing") == 2);
  for (const auto& [name, text] :
       {std::pair{"mission.toml", smallest_mission}, std::pair{"rules.toml", smallest_rules}}) {
    const std::vector<InputFile> one{{name, text}};
    const Inputs inputs = load_inputs(one, 1);
    CHECK_FALSE(inputs.usable);
    CHECK(only(inputs.diagnostics).rule == "file-missing");
    CHECK(only(inputs.diagnostics).text.starts_with(name == "mission.toml"s ? "rules.toml" : "mission.toml"));
  }
}

TEST_CASE("a plan or rules with an error make nothing usable") {
  const Inputs bad_plan = Folder(swapped(smallest_mission, "unit = \"kg\"", "unit = \"kgs\"")).load();
  CHECK_FALSE(bad_plan.usable);
  CHECK(only(bad_plan.diagnostics).rule == "unit-unknown");
  const Inputs bad_rules = Folder(plan(), swapped(smallest_rules, "owner = \"board\"", "owner = \"bored\"")).load();
  CHECK_FALSE(bad_rules.usable);
  CHECK(only(bad_rules.diagnostics).rule == "name-unknown");
}

TEST_CASE("a plan with no more than a warning is usable") {
  const Inputs inputs =
      Folder(swapped(smallest_mission, "planned_days", "launch_site_utc_offset_hours = 14\nplanned_days")).load();
  CHECK(inputs.usable);
  CHECK(only(inputs.diagnostics).rule == "flight-day-date");
}

TEST_CASE("a fault names the file that it is in") {
  const Folder sheets = folder().log(2, "counts", {columns, "1/06:00,water,tank,1O,kg,gauge"});
  const auto files = sheets.files();
  const Inputs inputs = sheets.load();
  CHECK(files.at(static_cast<std::size_t>(only(inputs.diagnostics).source.file)).name == "days/002/counts.csv");
}

// Rows that contradict themselves

TEST_CASE("rows that contradict themselves are refused, and their twins on the boundary are not") {
  struct Contradiction {
    std::string log;
    std::string columns;
    std::string sound;
    std::string bad;
    std::string rule;
  };
  const std::vector<Contradiction> contradictions{
      {"tasks", "task,state,percent,from", "T-1,done,100,0/01:00", "T-1,done,99.9,0/01:00", "task-percent"},
      {"tasks", "task,state,percent,from", "T-1,partial,99.9,0/01:00", "T-1,partial,100,0/01:00", "task-percent"},
      {"tasks", "task,state,percent,from,to", "T-1,started,0,0/01:00,0/01:00", "T-1,started,0,0/01:00,0/00:59",
       "task-runs-backwards"},
      {"sorties", "sortie,kind,depress,repress", "S-1,period,0/01:00,0/01:00", "S-1,period,0/01:00,0/00:59",
       "sortie-runs-backwards"},
      {"sorties", "sortie,kind,hardware,out,back,left", "S-1,hardware,clamp,4,1,3", "S-1,hardware,clamp,4,2,3",
       "hardware-sum"},
      {"closeouts", "closeout,done,of,by,when", "hatch,3,3,desk,0/01:00", "hatch,4,3,desk,0/01:00", "value-range"},
      {"closeouts", "closeout,done,of,by,when", "hatch,0,1,desk,0/01:00", "hatch,0,0,desk,0/01:00", "value-range"},
      {"surveys", "survey,zone,kind,coverage,taken,received", "V-1,nose,wide,100,0/01:00,0/01:00",
       "V-1,nose,wide,100,0/01:00,0/00:59", "survey-order"},
      {"surveys", "survey,zone,kind,coverage,taken,received,reviewed", "V-1,nose,wide,100,0/01:00,0/02:00,0/02:00",
       "V-1,nose,wide,100,0/01:00,0/02:00,0/01:59", "survey-order"},
      {"surveys", "survey,zone,kind,coverage,taken,received,reviewed", "V-1,nose,wide,100,0/01:00,,",
       "V-1,nose,wide,100,0/01:00,,0/02:00", "survey-order"},
      {"surveys", "survey,zone,kind,coverage,taken", "V-1,nose,wide,100,0/01:00", "V-1,nose,wide,100.1,0/01:00",
       "value-range"},
      {"clearances", "zone,gate,state,authority,effective,conditions", "nose,entry,cleared,board,0/01:00,",
       "nose,entry,cleared,board,0/01:00,watch it", "clearance-conditions"},
      {"clearances", "zone,gate,state,authority,effective,conditions",
       "nose,entry,cleared_with_conditions,board,0/01:00,watch it", "nose,entry,cleared_with_conditions,board,0/01:00,",
       "clearance-conditions"},
      {"crew", "person,kind,from,to", "pilot,sleep,0/01:00,0/01:00", "pilot,sleep,0/01:00,0/00:59",
       "period-runs-backwards"},
      {"transfers", "transfer,when,item,from,to,quantity,unit,state", "X-1,0/01:00,water,,tank,1,kg,done",
       "X-1,0/01:00,water,,,1,kg,done", "place-not-of-item"},
      {"anomalies", "anomaly,opened,severity,state", "A-1,0/01:00,major,open", "A-1,0/01:00,majr,open",
       "value-unknown"},
  };
  for (const auto& c : contradictions) {
    const Inputs inputs = folder().log(1, c.log, {c.columns, c.sound, c.bad}).load();
    CAPTURE(c.bad);
    const auto& fault = only(inputs.diagnostics);
    CHECK(fault.rule == c.rule);
    CHECK(fault.source.line == 3);
    CHECK(inputs.rejected.size() == 1);
  }
}

TEST_CASE("a count is refused of an item in a place, or by a way, that the plan does not have for it") {
  const std::string more =
      "[[place]]\nid = \"bag\"\ntitle = \"Bag\"\nvehicle = \"ship\"\n[[method]]\nid = \"tally\"\nkind = \"tally\"\n";
  const Inputs inputs =
      folder(more).log(2, "counts", {columns, "1/06:00,water,bag,1,kg,gauge", "1/06:00,water,tank,1,kg,tally"}).load();
  CHECK(how_many(inputs.diagnostics, "place-not-of-item") == 1);
  CHECK(how_many(inputs.diagnostics, "method-not-of-item") == 1);
  CHECK(inputs.rejected.size() == 2);
}

TEST_CASE("a survey of a part that its zone does not have is refused, and the nearest is offered") {
  const std::string parts =
      "[[zone]]\nid = \"tail\"\ntitle = \"Tail\"\nvehicle = \"ship\"\n"
      "parts = { left = 0.5, right = 0.5 }\n";
  const Inputs inputs = folder(parts)
                            .log(1, "surveys",
                                 {"survey,zone,kind,coverage,taken,part", "V-1,tail,wide,100,0/01:00,left",
                                  "V-2,tail,wide,100,0/01:00,rigth", "V-3,nose,wide,100,0/01:00,left"})
                            .load();
  CHECK(std::get<std::vector<SurveyRow>>(inputs.rows).size() == 1);
  CHECK(how_many(inputs.diagnostics, "name-unknown") == 2);
  CHECK_THAT(first_of(inputs, "name-unknown").text, ContainsSubstring("did you mean 'right'?"));
}

// What logs may name

TEST_CASE("where the plan declares what logs of vehicle and sorties may name, another name is refused") {
  const std::vector<std::tuple<std::string, std::string, std::string, std::string>> logs{
      {"equipment", "unit,state,function,when", "fan,working,air,0/01:00", "fam,working,air,0/01:00"},
      {"readings", "when,what,quantity,unit", "0/01:00,CO2,2,mmHg", "0/01:00,CO,2,mmHg"},
      {"sorties", "sortie,kind,depress", "S-1,period,0/01:00", "S-2,period,0/01:00"},
  };
  const std::string declaring =
      swapped(plan(), "[[vehicle]]",
              "readings = [\"CO2\"]\nsorties = [\"S-1\"]\n[[equipment]]\nid = \"fan\"\ntitle = \"Fan\"\n[[vehicle]]");
  for (const auto& [log, names, right, wrong] : logs) {
    CAPTURE(log);
    CHECK(folder().log(1, log, {names, right, wrong}).load().diagnostics.empty());
    const Inputs inputs = Folder(declaring).log(1, log, {names, right, wrong}).load();
    CHECK(only(inputs.diagnostics).rule == "name-unknown");
    CHECK(only(inputs.diagnostics).source.line == 3);
    REQUIRE(inputs.rejected.size() == 1);
    CHECK(inputs.rejected[0].subject.empty());  // it may bear on any
  }
}

// Decisions

namespace {

using daywright::model::DecisionRow;

const std::string decision_columns = "decision,state,reason,changes,value,waives,worst";

/// The smallest rules with a criterion on days that the board can waive, and one that nobody can.
std::string waivable() {
  return with(
      smallest_rules,
      "[[criterion]]\nid = \"days\"\ntitle = \"Days\"\ngate = \"entry\"\nowner = \"board\"\nrationale = \"invented\"\n"
      "waiver_authority = \"board\"\nkind = \"figure\"\nfigure = \"item.water.margin.days\"\nat_least = 1\nunit = "
      "\"d\"\n"
      "[[criterion]]\nid = \"work\"\ntitle = \"Work\"\ngate = \"entry\"\nowner = \"board\"\nrationale = \"invented\"\n"
      "waiver_authority = \"board\"\nkind = \"tasks\"\n");
}

Inputs decided(const std::string& cells) {
  return Folder(plan(), waivable()).log(1, "decisions", {decision_columns, "D-1,approved,why," + cells}).load();
}

DecisionRow decision_of(const std::string& cells) {
  CAPTURE(cells);
  const Inputs inputs = decided(cells);
  CHECK(inputs.diagnostics.empty());
  const auto& rows = std::get<std::vector<DecisionRow>>(inputs.rows);
  REQUIRE(rows.size() == 1);
  return rows[0];
}

}  // namespace

TEST_CASE("what a decision changes of the plan is read, and other words are left to people") {
  using namespace daywright::model;
  CHECK(std::get<DaysAdded>(decision_of("extension_days,2,,").change).days == 2);
  const auto moved = std::get<EventMoved>(decision_of("event.landing.at,3/05:00,,").change);
  CHECK(moved.event == "landing");
  CHECK(moved.at == met(3, 5));
  const auto set = std::get<PlaceSet>(decision_of("place.tank.state,isolated,,").change);
  CHECK(set.place == "tank");
  CHECK(set.state == PlaceState::isolated);
  CHECK(std::get<LeakClosed>(decision_of("item.water.leak,closed,,").change).item == "water");
  for (const auto words : {",,,", "plan,T-4 added,,", "events,2,,"})
    CHECK(std::holds_alternative<std::monostate>(decision_of(words).change));
}

TEST_CASE("a change of the plan that names nothing there is, or says nothing that can be, is refused") {
  for (const auto& [cells, rule] :
       {std::pair{"extension_days,0,,", "value-range"}, std::pair{"extension_days,11,,", "value-range"},
        std::pair{"event.landin.at,3/05:00,,", "name-unknown"}, std::pair{"event.landing.at,soon,,", "time"},
        std::pair{"place.tnk.state,isolated,,", "name-unknown"}, std::pair{"place.tank.state,shut,,", "value-unknown"},
        std::pair{"event.at,2,,", "change-unknown"}, std::pair{"place.tank.status,isolated,,", "change-unknown"},
        std::pair{"extension_day,1,,", "change-unknown"}, std::pair{"event.landing.at,9/05:00,,", "value-range"},
        std::pair{"event.landing.at,0/01:00,,", "value-range"}, std::pair{"item.watr.leak,closed,,", "name-unknown"},
        std::pair{"item.water.leak,open,,", "value-unknown"}}) {
    CAPTURE(cells);
    CHECK(only(decided(cells).diagnostics).rule == rule);
  }
}

TEST_CASE("a waiver names its criterion, what may be missing, and the worst value in the criterion's unit") {
  const auto waiver = decision_of(",,days;tank;x,12 h").waiver;
  CHECK(waiver.criterion == "days");
  CHECK(waiver.data == std::vector{"tank"s, "x"s});
  CHECK(waiver.worst == 0.5);
  CHECK(waiver.unit == "d");
  CHECK(decision_of(",,work,3").waiver.worst == 3);
  CHECK(decision_of(",,work,3").waiver.unit.empty());
  CHECK_FALSE(decision_of(",,work;T-1,").waiver.worst.has_value());
  CHECK(decision_of(",,,").waiver.criterion.empty());
}

TEST_CASE("a waiver of nothing, of what nobody can waive, or in a wrong unit is refused") {
  for (const auto& [cells, rule] :
       {std::pair{",,dais,1 d", "name-unknown"}, std::pair{",,checks,1", "waiver-not-allowed"},
        std::pair{",,,1", "cell-without-use"}, std::pair{",,days,1 kg", "unit-dimension"},
        std::pair{",,days,1", "unit-dimension"}, std::pair{",,days,x d", "number"}, std::pair{",,work,x", "number"}}) {
    CAPTURE(cells);
    CHECK(only(decided(cells).diagnostics).rule == rule);
  }
}

TEST_CASE("an unknown unit that a source gives to all of its rows is refused once, in the plan") {
  const Inputs inputs = Folder(plan(swapped(bench, "unit = \"lb\"", "unit = \"pound\"")))
                            .log(2, "counts-bench", {bench_columns, "06.05.2031 20:00;water;1;tank;"})
                            .load();
  CHECK(only(inputs.diagnostics).rule == "unit-unknown");
  CHECK(inputs.rejected.empty());
  CHECK_FALSE(inputs.usable);
}
