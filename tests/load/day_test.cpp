// The own file of a day: start, end, cut-off and how each log is closed. All names are invented.
#include "load/day.h"

#include <optional>
#include <string>
#include <string_view>
#include <utility>

#include "builders.h"
#include "load/mission.h"

using Catch::Matchers::ContainsSubstring;
using daywright::load::parse_day;
using daywright::load::parse_mission;
using daywright::model::Day;
using daywright::model::Diagnostics;
using daywright::model::Log;
using daywright::model::log_names;
using daywright::model::Severity;
using daywright::model::Source;
using daywright::test::lines_of;
using daywright::test::met;
using daywright::test::only;
using daywright::test::smallest_day;
using daywright::test::smallest_mission;
using daywright::test::swapped;
using daywright::test::text_of;
using daywright::test::with;
using namespace std::string_literals;

namespace {

constexpr int this_file = 9;

/// The file of one day folder, FD 2 unless the test says otherwise.
struct DayFile {
  explicit DayFile(const std::string& text, int number = 2) {
    Diagnostics in_the_plan;
    const auto mission = parse_mission(smallest_mission, 0, in_the_plan);
    REQUIRE(in_the_plan.empty());
    day = parse_day(text, this_file, number, mission, faults);
  }

  std::optional<Day> day;
  Diagnostics faults;
};

/// The smallest day with one log closed as the test says.
std::string closed(const std::string& lines, const std::string& log = "counts") {
  return with(smallest_day, "[closed." + log + "]\n" + lines);
}

constexpr auto soundly = "by = \"stowage desk\"\ncomplete_to = \"2/00:00\"\nrows = 3";

}  // namespace

TEST_CASE("the smallest day is read without a word, and its cut-off is its end") {
  const DayFile file(smallest_day);
  CHECK(file.faults.empty());
  REQUIRE(file.day.has_value());
  CHECK(file.day->number == 2);
  CHECK(file.day->start == met(1));
  CHECK(file.day->end == met(2));
  CHECK(file.day->cutoff == met(2));
  CHECK(file.day->cutoff_source == Source{this_file, 2, 7});
  CHECK(file.day->prepared_by == "third shift lead");
  CHECK(file.day->closures.empty());
}

TEST_CASE("every key of the smallest day is required, and without one the day is not used") {
  const auto lines = lines_of(smallest_day);
  int keys = 0;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (lines[i].find(" = ") == std::string::npos) continue;
    auto fewer = lines;
    fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
    const DayFile file(text_of(fewer));
    CAPTURE(lines[i]);
    CHECK_FALSE(file.day.has_value());
    const auto fault = only(file.faults);
    CHECK(fault.rule == "key-missing");
    CHECK(fault.source == Source{this_file, 1, 1});
    ++keys;
  }
  CHECK(keys == 3);
}

TEST_CASE("the cut-off of the file counts, and one before the end of the day is warned of") {
  for (const auto& [cutoff, is_early] :
       {std::pair{"1/23:59", true}, std::pair{"2/00:00", false}, std::pair{"2/00:01", false}}) {
    const DayFile file("cutoff = \""s + cutoff + "\"\n" + smallest_day);
    REQUIRE(file.day.has_value());
    CHECK(file.day->cutoff == met(0) + *daywright::model::parse_elapsed(cutoff).value);
    CHECK(file.day->cutoff_source == Source{this_file, 1, 10});
    CHECK(file.faults.empty() == !is_early);
    if (!is_early) continue;
    CHECK(only(file.faults).rule == "cutoff-early");
    CHECK(only(file.faults).severity == Severity::warning);
  }
}

TEST_CASE("a day ends at least a microsecond after it starts") {
  CHECK(DayFile(swapped(smallest_day, "2/00:00", "2031-05-07T00:00:00.000001Z")).day.has_value());
  for (const auto end : {"1/00:00", "0/23:59"}) {
    const DayFile file(swapped(smallest_day, "2/00:00", end));
    CHECK_FALSE(file.day.has_value());
    const auto fault = only(file.faults);
    CHECK(fault.rule == "day-order");
    CHECK(fault.source == Source{this_file, 2, 7});
  }
}

TEST_CASE("a day starts in the flight day that its folder is named after") {
  // FD 2 is from 1/00:00 until just before 2/00:00.
  for (const auto& [start, number] :
       {std::pair{"1/00:00", 2}, std::pair{"1/23:59", 2}, std::pair{"0/23:59", 1}, std::pair{"2/00:00", 3}}) {
    const std::string text = swapped(swapped(smallest_day, "2/00:00", "3/00:00"), "1/00:00", start);
    CAPTURE(start);
    for (int folder = 1; folder <= 3; ++folder) {
      const DayFile file(text, folder);
      CHECK(file.day.has_value() == (folder == number));
      if (folder == number) continue;
      const auto fault = only(file.faults);
      CHECK(fault.rule == "day-number");
      CHECK(fault.source == Source{this_file, 1, 9});
      CHECK(fault.text == "the day starts in FD " + std::to_string(number) + ", expected FD " + std::to_string(folder) +
                              " as the name of its folder says");
    }
  }
}

TEST_CASE("a log is closed by somebody, to a time, with a number of rows") {
  const DayFile file(closed(soundly));
  CHECK(file.faults.empty());
  REQUIRE(file.day.has_value());
  REQUIRE(file.day->closures.size() == 1);
  const auto& closure = file.day->closures[0];
  CHECK(closure.log == Log::counts);
  CHECK(closure.by == "stowage desk");
  CHECK(closure.complete_to == met(2));
  CHECK(closure.rows == 3);
  CHECK(closure.source == Source{this_file, 5, 1});
}

TEST_CASE("each key of a closure is required, and without one the day is not used") {
  for (const auto line : {"by = \"stowage desk\"\n", "complete_to = \"2/00:00\"\n", "\nrows = 3"}) {
    const DayFile file(closed(swapped(soundly, line, "")));
    CAPTURE(line);
    CHECK_FALSE(file.day.has_value());
    const auto fault = only(file.faults);
    CHECK(fault.rule == "key-missing");
    CHECK(fault.source == Source{this_file, 5, 1});
    CHECK_THAT(fault.text, ContainsSubstring("[closed.counts] has no '"));
  }
}

TEST_CASE("nothing to report is a closure without rows") {
  const std::string nothing = swapped(soundly, "rows = 3", "nothing_to_report = true");
  const DayFile file(closed(nothing));
  CHECK(file.faults.empty());
  REQUIRE(file.day.has_value());
  CHECK(file.day->closures.at(0).rows == 0);
  CHECK(DayFile(closed(nothing + "\nrows = 0")).faults.empty());
  const auto contradiction = only(DayFile(closed(nothing + "\nrows = 1")).faults);
  CHECK(contradiction.rule == "closure-rows");
  CHECK(contradiction.source == Source{this_file, 9, 8});
  CHECK(only(DayFile(closed(swapped(nothing, "true", "false"))).faults).rule == "key-missing");
}

TEST_CASE("every log can be closed by its name") {
  std::string text = smallest_day;
  for (const auto log : log_names) text = with(text, "[closed." + std::string(log) + "]\n" + soundly);
  const DayFile file(text);
  CHECK(file.faults.empty());
  REQUIRE(file.day.has_value());
  REQUIRE(file.day->closures.size() == log_names.size());
  for (std::size_t i = 0; i < log_names.size(); ++i) CHECK(name_of(file.day->closures[i].log) == log_names.at(i));
}

TEST_CASE("a log that there is none of is refused where it stands, and the nearest is offered") {
  const DayFile file(closed(soundly, "count"));
  CHECK_FALSE(file.day.has_value());
  const auto fault = only(file.faults);
  CHECK(fault.rule == "log-unknown");
  CHECK(fault.source == Source{this_file, 5, 9});
  CHECK_THAT(fault.text, ContainsSubstring("unknown log 'count'; did you mean 'counts'?"));
}

TEST_CASE("an unknown key is refused where it stands, in the file and in a closure") {
  const auto in_file = only(DayFile(swapped(smallest_day, "prepared_by", "cutof = \"2/00:00\"\nprepared_by")).faults);
  CHECK(in_file.rule == "key-unknown");
  CHECK(in_file.source == Source{this_file, 3, 1});
  CHECK_THAT(in_file.text, ContainsSubstring("did you mean 'cutoff'?"));
  const auto in_closure = only(DayFile(closed(soundly + "\nrow = 3"s)).faults);
  CHECK(in_closure.rule == "key-unknown");
  CHECK(in_closure.source == Source{this_file, 9, 1});
  CHECK_THAT(in_closure.text, ContainsSubstring("did you mean 'rows'?"));
}

TEST_CASE("a time that is none is refused at its value, and the day is not used") {
  for (const auto time : {"1/24:00", "noon", "2031-05-07", "2031-05-07T24:00Z"}) {
    const DayFile file(swapped(smallest_day, "1/00:00", time));
    CAPTURE(time);
    CHECK_FALSE(file.day.has_value());
    const auto fault = only(file.faults);
    CHECK(fault.rule == "time");
    CHECK(fault.source == Source{this_file, 1, 9});
  }
}

TEST_CASE("a day of which a part is cut off is not used") {
  const std::string whole = closed(soundly);
  for (std::size_t size = 0; size + 1 < whole.size(); ++size) {
    const DayFile file(whole.substr(0, size));
    CAPTURE(size);
    CHECK_FALSE(file.day.has_value());
    CHECK_FALSE(file.faults.empty());
  }
}
