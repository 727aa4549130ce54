#include "model/instant.h"

#include <chrono>
#include <fstream>
#include <map>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "catch_compat.h"

using namespace std::chrono_literals;
using daywright::model::day_length;
using daywright::model::Duration;
using daywright::model::flight_day_by_date;
using daywright::model::FlightDays;
using daywright::model::format_elapsed;
using daywright::model::format_utc;
using daywright::model::from_days;
using daywright::model::in_days;
using daywright::model::Instant;
using daywright::model::is_time_pattern;
using daywright::model::parse_by_pattern;
using daywright::model::parse_elapsed;
using daywright::model::parse_utc;

namespace {

using Row = std::map<std::string, std::string>;

/// One line of a table cut at its commas; a cell in quotes may hold some.
std::vector<std::string> cut(const std::string& line) {
  std::vector<std::string> cells{""};
  bool quoted = false;
  for (const char c : line) {
    if (c == '"') {
      quoted = !quoted;
    } else if (c == ',' && !quoted) {
      cells.emplace_back();
    } else {
      cells.back() += c;
    }
  }
  return cells;
}

/// The rows of one of the tables in tests/data/datetime, by the names of their columns.
std::vector<Row> table(const std::string& name) {
  std::ifstream file(TEST_DATA "/datetime/" + name);
  REQUIRE(file);
  std::string line;
  std::getline(file, line);
  const auto names = cut(line);
  std::vector<Row> rows;
  while (std::getline(file, line)) {
    const auto cells = cut(line);
    REQUIRE(cells.size() == names.size());
    Row row;
    for (std::size_t i = 0; i < names.size(); ++i) row[names[i]] = cells[i];
    rows.push_back(std::move(row));
  }
  return rows;
}

Instant utc(const std::string& text) {
  const auto reading = parse_utc(text);
  CAPTURE(text, reading.expected);
  REQUIRE(reading.value.has_value());
  return *reading.value;
}

Duration elapsed(const std::string& text) {
  const auto reading = parse_elapsed(text);
  CAPTURE(text, reading.expected);
  REQUIRE(reading.value.has_value());
  return *reading.value;
}

/// True when the text is refused with a word on what would have been right.
bool is_refused(const std::string& text) {
  const auto reading = parse_utc(text);
  return !reading.value.has_value() && !reading.expected.empty() && !reading.leap_second;
}

bool is_refused_elapsed(const std::string& text) {
  const auto reading = parse_elapsed(text);
  return !reading.value.has_value() && !reading.expected.empty();
}

}  // namespace

TEST_CASE("a day is the same day in calendar and in ordinal form") {
  int pairs = 0;
  for (const Row& row : table("iso8601_dates.csv")) {
    if (row.at("ordinal").empty()) continue;
    CAPTURE(row.at("calendar"));
    CHECK(utc(row.at("calendar") + "T12:00Z") == utc(row.at("ordinal") + "T12:00Z"));
    CHECK(format_utc(utc(row.at("ordinal") + "T12:00Z")) == row.at("calendar") + "T12:00Z");
    ++pairs;
  }
  CHECK(pairs == 4);
}

TEST_CASE("week dates are refused: the plan does not know them") {
  int weeks = 0;
  for (const Row& row : table("iso8601_dates.csv")) {
    if (row.at("week").empty()) continue;
    CAPTURE(row.at("week"));
    CHECK(is_refused(row.at("week") + "T12:00Z"));
    ++weeks;
  }
  CHECK(weeks == 4);
}

TEST_CASE("the ASCII time codes are taken and refused as CCSDS 301.0-B has it") {
  int accepted = 0;
  int refused = 0;
  for (const Row& row : table("ccsds_301_ascii.csv")) {
    CAPTURE(row.at("text"), row.at("meaning_or_reason"));
    if (row.at("verdict") == "accept") {
      CHECK(parse_utc(row.at("text")).value.has_value());
      ++accepted;
    } else {
      CHECK(is_refused(row.at("text")));
      ++refused;
    }
  }
  CHECK(accepted == 7);
  CHECK(refused == 9);
}

TEST_CASE("codes A and B of one instant are equal to the microsecond") {
  // CCSDS 301.0-B-4, sections 3.5.1.1 and 3.5.1.2.
  const Instant a = utc("1988-01-18T17:20:43.123456Z");
  CHECK(a == utc("1988-018T17:20:43.123456Z"));
  CHECK(a == utc("1988-018T17:20:43.123456"));
  CHECK(a.time_since_epoch() % 1s == 123456us);
  CHECK(utc("2016-12-31T23:59:60Z") == utc("2016-366T23:59:60Z"));
}

TEST_CASE("day counts and seconds are the published ones") {
  std::map<std::string, long long> published;
  for (const Row& row : table("ccsds_301_worked_values.csv"))
    published[row.at("quantity")] = std::stoll(row.at("value"));
  const auto days_between = [](const std::string& from, const std::string& to) {
    return (utc(to + "T00:00Z") - utc(from + "T00:00Z")) / day_length;
  };
  CHECK(days_between("1958-01-01", "1988-01-18") == published.at("days from 1958-01-01 to 1988-01-18"));
  CHECK(days_between("1970-01-01", "1988-01-18") == published.at("days from 1970-01-01 to 1988-01-18"));
  CHECK(days_between("1958-01-01", "2016-12-31") == published.at("day of 2016-12-31 counted from 1958-01-01"));
  CHECK(days_between("1958-01-01", "2000-01-01") == published.at("days from 1958-01-01 to 2000-01-01"));
  CHECK(days_between("1950-01-01", "1958-01-01") == published.at("days from 1950-01-01 to 1958-01-01"));
  CHECK(utc("1988-01-18T17:20:43Z").time_since_epoch() / 1s == published.at("Unix seconds of 1988-01-18T17:20:43Z"));
  CHECK((utc("1988-01-18T17:20:43.123Z") - utc("1988-01-18T00:00Z")) / 1ms ==
        published.at("millisecond of day of 17:20:43.123"));
}

TEST_CASE("of the examples of RFC 3339 those in plain UTC are taken and those with an offset refused") {
  int plain = 0;
  int with_offset = 0;
  for (const Row& row : table("rfc3339_examples.csv")) {
    const std::string& text = row.at("text");
    CAPTURE(text);
    if (text.ends_with('Z')) {
      CHECK(utc(text) == utc(row.at("utc_equivalent")));
      ++plain;
    } else {
      CHECK(is_refused(text));
      ++with_offset;
    }
  }
  CHECK(plain == 2);
  CHECK(with_offset == 3);
  // Milliseconds since 1970 of the first example: worked out here, 5580 days and 84,050.52 s.
  CHECK(utc("1985-04-12T23:20:50.52Z").time_since_epoch() / 1ms == 482196050520);
}

TEST_CASE("29 February is there in leap years alone, and centuries count by four hundred") {
  CHECK(utc("2032-02-29T00:00Z") == utc("2032-060T00:00Z"));
  CHECK(utc("2000-02-29T00:00Z") == utc("2000-060T00:00Z"));
  CHECK(is_refused("2031-02-29T00:00Z"));
  CHECK(is_refused("1900-02-29T00:00Z"));
  CHECK(is_refused("2100-02-29T00:00Z"));
  CHECK(utc("2032-12-31T00:00Z") == utc("2032-366T00:00Z"));
  CHECK(utc("2031-12-31T00:00Z") == utc("2031-365T00:00Z"));
  CHECK(is_refused("2031-366T00:00Z"));
  CHECK(is_refused("2032-367T00:00Z"));
  CHECK(is_refused("1900-366T00:00Z"));
}

TEST_CASE("dates and clocks that do not exist are refused") {
  for (const char* text : {"2031-00-10T00:00Z", "2031-13-10T00:00Z", "2031-04-31T00:00Z", "2031-04-00T00:00Z",
                           "2031-04-32T00:00Z", "2031-05-13T25:00Z", "2031-05-13T16:60Z", "2031-05-13T16:20:61Z",
                           "2031-05-13T16:20:99Z", "2031-000T00:00Z", "2031-999T00:00Z", "2031-05-13T99:00Z"}) {
    CAPTURE(text);
    CHECK(is_refused(text));
  }
}

TEST_CASE("text that is nearly a time is refused, and nothing is guessed") {
  for (const char* text : {"",
                           "Z",
                           "2031",
                           "2031-05-13",
                           "2031-05-13T",
                           "2031-05-13T16",
                           "2031-05-13T16Z",
                           "2031-05-13T16:2Z",
                           "2031-05-13T16:20ZZ",
                           "2031-05-13T16:20z",
                           "2031-05-13t16:20Z",
                           "2031-05-13T16:20Z ",
                           " 2031-05-13T16:20Z",
                           "2031/05/13T16:20Z",
                           "20310513T1620Z",
                           "2031-05-13T1620Z",
                           "2031-05-13T16:20:Z",
                           "2031-05-13T16:20:30.Z",
                           "2031-05-13T16:20:30.1234567Z",
                           "2031-05-13T16:20:30,5Z",
                           "2031-05-13T16:20.5Z",
                           "2031-05-13T16:20+00:00",
                           "2031-05-13T16:20-00:00",
                           "-2031-05-13T16:20Z",
                           "+2031-05-13T16:20Z",
                           "02031-05-13T16:20Z",
                           "2031-0133T16:20Z",
                           "2031-05-13T+6:20Z",
                           "2031-05-13T16:20:3 Z",
                           "13.05.2031 16:20",
                           "5/16:20"}) {
    CAPTURE(text);
    CHECK(is_refused(text));
  }
  CHECK(is_refused(std::string("2031-05-13T16:20Z\0", 18)));
}

TEST_CASE("decimals of a second are read to the microsecond, whatever their number") {
  const Instant whole = utc("2031-05-13T16:20:30Z");
  CHECK(utc("2031-05-13T16:20:30.5Z") - whole == 500ms);
  CHECK(utc("2031-05-13T16:20:30.05Z") - whole == 50ms);
  CHECK(utc("2031-05-13T16:20:30.000001Z") - whole == 1us);
  CHECK(utc("2031-05-13T16:20:30.999999Z") - whole == 999999us);
  CHECK(utc("2031-05-13T16:20:30.000000Z") == whole);
}

TEST_CASE("hour 24 is refused: midnight is 00:00 of the next day") {
  CHECK(is_refused("2031-05-13T24:00Z"));
  CHECK(is_refused("2031-05-13T24:00:00Z"));
  CHECK(is_refused("2031-133T24:00Z"));
  CHECK_FALSE(parse_elapsed("5/24:00").value.has_value());
}

TEST_CASE("second 60 is the next second, and says so") {
  const auto reading = parse_utc("2016-12-31T23:59:60Z");
  REQUIRE(reading.value.has_value());
  CHECK(*reading.value == utc("2017-01-01T00:00:00Z"));
  CHECK(reading.leap_second);
  // RFC 3339, section 5.8.
  CHECK(parse_utc("1990-12-31T23:59:60Z").leap_second);
  CHECK(utc("1990-12-31T23:59:60Z") == utc("1991-01-01T00:00Z"));
  CHECK_FALSE(parse_utc("2016-12-31T23:59:59Z").leap_second);
  CHECK_FALSE(parse_utc("2017-01-01T00:00:00Z").leap_second);
}

TEST_CASE("second 60 is refused outside 23:59") {
  CHECK(is_refused("2016-12-31T23:58:60Z"));
  CHECK(is_refused("2016-12-31T22:59:60Z"));
  CHECK(is_refused("2016-12-31T00:59:60Z"));
  CHECK_FALSE(parse_elapsed("5/23:59:60").value.has_value());
}

TEST_CASE("every leap second that was ever announced can be read") {
  // Effective dates of IERS Bulletin C, as in the published leap-seconds.list up to 2017.
  const std::vector<std::string> effective{
      "1972-07-01", "1973-01-01", "1974-01-01", "1975-01-01", "1976-01-01", "1977-01-01", "1978-01-01",
      "1979-01-01", "1980-01-01", "1981-07-01", "1982-07-01", "1983-07-01", "1985-07-01", "1988-01-01",
      "1990-01-01", "1991-01-01", "1992-07-01", "1993-07-01", "1994-07-01", "1996-01-01", "1997-07-01",
      "1999-01-01", "2006-01-01", "2009-01-01", "2012-07-01", "2015-07-01", "2017-01-01"};
  CHECK(effective.size() == 27);
  for (const std::string& date : effective) {
    const Instant next = utc(date + "T00:00Z");
    std::string before = format_utc(next - 1s);  // ...T23:59:59Z
    before.replace(before.size() - 3, 3, "60Z");
    CAPTURE(before);
    const auto reading = parse_utc(before);
    CHECK(reading.leap_second);
    CHECK(reading.value == next);
  }
}

TEST_CASE("elapsed time and UTC agree with a flown mission") {
  // STS-1 mission report JSC-17378: launch day 102 of 1981, 12:00:04 GMT.
  const Instant launch = utc("1981-102T12:00:04Z");
  CHECK(utc("1981-103T05:00Z") == launch + elapsed("0/16:59:56"));
  CHECK(utc("1981-103T22:50Z") == launch + elapsed("1/10:49:56"));  // 34:49:56
  CHECK(utc("1981-104T13:15Z") == launch + elapsed("2/01:14:56"));  // 49:14:56
  CHECK(format_elapsed(utc("1981-103T05:00Z") - launch) == "0/16:59:56");
  CHECK(format_elapsed(utc("1981-103T22:50Z") - launch) == "1/10:49:56");
  CHECK(format_elapsed(utc("1981-104T13:15Z") - launch) == "2/01:14:56");
}

TEST_CASE("a duration counted from launch ends when the clock says so") {
  // STS-128: 13 days 20:54:55 from 2009-08-28 23:59:37 EDT end at 20:54:32 EDT on 11 September.
  CHECK(format_utc(utc("2009-08-29T03:59:37Z") + elapsed("13/20:54:55")) == "2009-09-12T00:54:32Z");
}

TEST_CASE("elapsed time counts its days from zero and may be before launch") {
  CHECK(elapsed("0/00:00") == 0s);
  CHECK(elapsed("5/16:20") == 5 * day_length + 16h + 20min);
  CHECK(elapsed("5/16:20:30") == 5 * day_length + 16h + 20min + 30s);
  CHECK(elapsed("05/16:20") == elapsed("5/16:20"));
  CHECK(elapsed("005/16:20") == elapsed("5/16:20"));
  CHECK(elapsed("-0/00:43") == -43min);
  CHECK(elapsed("-1/02:00") == -26h);
  CHECK(elapsed("9999/23:59:59") == 10000 * day_length - 1s);
}

TEST_CASE("text that is nearly an elapsed time is refused") {
  for (const char* text : {"",
                           "/",
                           "5",
                           "5/",
                           "/16:20",
                           "5/16",
                           "5/16:2",
                           "5/6:20",
                           "5/16:20:",
                           "5/16:20:3",
                           "5/16:20:30.5",
                           "5/24:00",
                           "5/16:60",
                           "5/16:20:60",
                           "5/16:20Z",
                           " 5/16:20",
                           "5/16:20 ",
                           "+5/16:20",
                           "--5/16:20",
                           "-/16:20",
                           "10000/00:00",
                           "5.5/16:20",
                           "5:16:20",
                           "5 16:20",
                           "5/16:20/30",
                           "T5/16:20",
                           "99999999999999999999/00:00"}) {
    CAPTURE(text);
    CHECK(is_refused_elapsed(text));
  }
}

TEST_CASE("an instant is printed with seconds and decimals only where there are some") {
  CHECK(format_utc(utc("2031-05-13T22:00Z")) == "2031-05-13T22:00Z");
  CHECK(format_utc(utc("2031-05-13T22:00:05Z")) == "2031-05-13T22:00:05Z");
  CHECK(format_utc(utc("2031-05-13T22:00:00.000001Z")) == "2031-05-13T22:00:00.000001Z");
  CHECK(format_utc(utc("2031-133T22:00Z")) == "2031-05-13T22:00Z");
  CHECK(format_utc(utc("1937-01-01T11:40:27.87Z")) == "1937-01-01T11:40:27.870000Z");  // before 1970
  CHECK(format_elapsed(7 * day_length + 12h + 46min) == "7/12:46");
  CHECK(format_elapsed(7 * day_length + 12h + 46min + 9s) == "7/12:46:09");
  CHECK(format_elapsed(-43min) == "-0/00:43");
  CHECK(format_elapsed(0s) == "0/00:00");
  CHECK(format_elapsed(59s + 999999us) == "0/00:00:59");  // parts of a second are cut off
}

TEST_CASE("what is printed reads back as the same instant") {
  std::mt19937_64 random(301);  // NOLINT(cert-msc32-c,cert-msc51-cpp): the same sample every time
  const Instant first = utc("1958-01-01T00:00Z");
  const auto span = static_cast<std::uint64_t>((utc("2157-12-31T00:00Z") - first).count());
  for (int i = 0; i < 20000; ++i) {
    Instant when = first + Duration{static_cast<Duration::rep>(random() % span)};
    if (i % 3 == 1) when = std::chrono::floor<std::chrono::seconds>(when);
    if (i % 3 == 2) when = std::chrono::floor<std::chrono::minutes>(when);
    const std::string text = format_utc(when);
    if (parse_utc(text).value != when) {
      CAPTURE(text);
      FAIL_CHECK("the text does not give the instant back");
    }
  }
  SUCCEED("20,000 instants");
}

TEST_CASE("the printed date is the one that counting days gives, every day for two centuries") {
  // The slow obvious answer: a calendar that is walked day by day.
  int year = 1958;
  int month = 1;
  int day = 1;
  int ordinal = 1;
  const auto is_leap = [](int y) { return (y % 4 == 0 && y % 100 != 0) || y % 400 == 0; };
  const auto length = [&](int y, int m) { return m == 2 ? (is_leap(y) ? 29 : 28) : 30 + (m + m / 8) % 2; };
  const auto padded = [](int value, std::size_t width) {
    const std::string digits = std::to_string(value);
    return std::string(width - digits.size(), '0') + digits;
  };
  Instant when = utc("1958-01-01T06:30Z");
  while (year < 2158) {
    const std::string calendar = padded(year, 4) + '-' + padded(month, 2) + '-' + padded(day, 2) + "T06:30Z";
    const std::string by_day = padded(year, 4) + '-' + padded(ordinal, 3) + "T06:30Z";
    if (format_utc(when) != calendar || parse_utc(calendar).value != when || parse_utc(by_day).value != when) {
      CAPTURE(calendar, by_day, format_utc(when));
      FAIL_CHECK("the two calendars differ");
    }
    when += day_length;
    ++ordinal;
    if (++day > length(year, month)) day = 1, ++month;
    if (month > 12) month = 1, ordinal = 1, ++year;
  }
  CHECK(format_utc(when) == "2158-01-01T06:30Z");
}

TEST_CASE("elapsed times read back as they were printed") {
  std::mt19937 random(525);  // NOLINT(cert-msc32-c,cert-msc51-cpp): the same sample every time
  for (int i = 0; i < 5000; ++i) {
    const auto seconds = std::chrono::seconds{static_cast<int>(random() % 60000000U) - 30000000};
    const std::string text = format_elapsed(seconds);
    if (parse_elapsed(text).value != Duration{seconds}) {
      CAPTURE(text);
      FAIL_CHECK("the text does not give the time back");
    }
  }
  SUCCEED("5000 spans");
}

TEST_CASE("days as plain numbers and lengths of time agree to the microsecond") {
  CHECK(in_days(12h) == 0.5);
  CHECK(in_days(-36h) == -1.5);
  CHECK(from_days(0.5) == 12h);
  CHECK(from_days(13) == 13 * day_length);
  CHECK(from_days(0) == 0s);
  CHECK(from_days(1.4e-11) == 1us);  // 1.2096 microseconds: the one below
}

TEST_CASE("a length of time before zero is rounded to the microsecond below as well, away from zero") {
  CHECK(from_days(-1.4e-11) == -2us);
}

TEST_CASE("a writer's own notation is read by its pattern") {
  const auto read = [](const std::string& text, const std::string& pattern) {
    return parse_by_pattern(text, pattern).value;
  };
  const Instant evening = utc("2031-05-13T16:20Z");
  CHECK(read("13.05.2031 16:20", "DD.MM.YYYY hh:mm") == evening);
  CHECK(read("05/13/2031 16:20:30", "MM/DD/YYYY hh:mm:ss") == evening + 30s);
  CHECK(read("2031-133:16:20", "YYYY-DDD:hh:mm") == evening);
  CHECK(read("133:16:20 of 2031", "DDD:hh:mm of YYYY") == evening);
  CHECK(read("20310513T1620", "YYYYMMDDThhmm") == evening);
  CHECK(read("16h20 13-05-2031", "hhhmm DD-MM-YYYY") == evening);
}

TEST_CASE("text that does not fit its pattern is refused, with the pattern as what was expected") {
  const std::string pattern = "DD.MM.YYYY hh:mm";
  for (const char* text :
       {"", "13.05.2031", "13.05.2031 16:20:30", "13.5.2031 16:20", "32.05.2031 16:20", "13.13.2031 16:20",
        "13.00.2031 16:20", "00.05.2031 16:20", "13.05.2031 24:00", "13.05.2031 16:60", "13-05-2031 16:20",
        "13.05.31 16:20", "aa.05.2031 16:20", "2031-05-13T16:20Z", "29.02.2031 16:20"}) {
    CAPTURE(text);
    const auto reading = parse_by_pattern(text, pattern);
    CHECK_FALSE(reading.value.has_value());
    CHECK(reading.expected == "a time written DD.MM.YYYY hh:mm");
  }
  CHECK_FALSE(parse_by_pattern("2031-000:16:20", "YYYY-DDD:hh:mm").value.has_value());
  CHECK_FALSE(parse_by_pattern("2031-366:16:20", "YYYY-DDD:hh:mm").value.has_value());
}

TEST_CASE("a pattern counts only when it gives a date and a time to the minute, each part once") {
  for (const char* good : {"YYYY-MM-DD hh:mm", "YYYY-MM-DDThh:mm:ss", "DD.MM.YYYY hh:mm", "YYYY-DDD hh:mm:ss"}) {
    CAPTURE(good);
    CHECK(is_time_pattern(good));
  }
  for (const char* bad : {"", "YYYY-MM-DD", "hh:mm", "YYYY-MM-DD hh", "MM-DD hh:mm", "YYYY-DDD-MM hh:mm",
                          "YYYY-MM hh:mm", "YYYY-MM-DD hh:mm:ss ss", "YYYY-YYYY-MM-DD hh:mm", "YYYY-MM-DD hh:mm hh",
                          "yyyy-mm-dd hh:mm", "YYYY-DD hh:mm"}) {
    CAPTURE(bad);
    CHECK_FALSE(is_time_pattern(bad));
  }
}

TEST_CASE("the flight day by date is the launch site's, not that of UTC") {
  // STS-128: launch 2009-08-28 23:59:37 EDT; 09-02 is FD 6, undocking 09-08 FD 12, landing 09-11 FD 15
  // (spaceflightnow sts128/090902fd6; nasa.gov). By UTC dates 09-02 would be FD 5.
  const Instant launch = utc("2009-08-29T03:59:37Z");
  const auto eastern_summer = -240min;
  CHECK(flight_day_by_date(launch, launch, eastern_summer) == 1);
  CHECK(flight_day_by_date(launch, utc("2009-08-29T04:00Z"), eastern_summer) == 2);
  CHECK(flight_day_by_date(launch, utc("2009-09-02T16:00Z"), eastern_summer) == 6);
  CHECK(flight_day_by_date(launch, utc("2009-09-08T16:00Z"), eastern_summer) == 12);
  CHECK(flight_day_by_date(launch, utc("2009-09-12T00:53Z"), eastern_summer) == 15);
  CHECK(flight_day_by_date(launch, utc("2009-09-02T16:00Z"), 0min) == 5);
}

TEST_CASE("the flight day by date fits other flights, too") {
  // STS-114: launch 2005-07-26, 07-31 is FD 6 (MCC Status Report 10). Time of day from memory.
  CHECK(flight_day_by_date(utc("2005-07-26T14:39Z"), utc("2005-07-31T16:00Z"), -240min) == 6);
  // STS-107: launch 2003-01-16, 01-17 is FD 2, 02-10 would be FD 26 (CAIB report). Time of day from memory.
  CHECK(flight_day_by_date(utc("2003-01-16T15:39Z"), utc("2003-01-17T16:00Z"), -300min) == 2);
  CHECK(flight_day_by_date(utc("2003-01-16T15:39Z"), utc("2003-02-10T16:00Z"), -300min) == 26);
  // STS-125: MET 08/18:34:02 lies in FD 10, not in FD 9 (mission report p. 23). Launch 2009-05-11 14:01:56 EDT
  // from memory.
  const Instant launch = utc("2009-05-11T18:01:56Z");
  CHECK(flight_day_by_date(launch, launch + elapsed("8/18:34:02"), -240min) == 10);
}

TEST_CASE("a mission of N planned days lands on flight day N + 1") {
  // STS-121: 2006-07-04 + 13 days = 07-17 (Status Report 7; launch date from memory, times of day made up).
  CHECK(flight_day_by_date(utc("2006-07-04T18:00Z"), utc("2006-07-17T13:00Z"), -240min) == 13 + 1);
  // STS-134 as planned: 2011-04-29 + 15 days = 05-14 (flametrench; times of day made up).
  CHECK(flight_day_by_date(utc("2011-04-29T19:00Z"), utc("2011-05-14T13:00Z"), -240min) == 15 + 1);
}

TEST_CASE("a flight day begins at wake-up, also where the date has not changed yet") {
  // STS-134: FD 6 began at 21:26 EDT on 2011-05-20, FD 5 by the date rule (cbsnews 2011-05-20). Launch
  // 2011-05-16 08:56 EDT from memory; the wake-ups between are made up.
  const Instant launch = utc("2011-05-16T12:56Z");
  const Instant sixth = utc("2011-05-21T01:26Z");
  const FlightDays days({launch, utc("2011-05-17T05:56Z"), utc("2011-05-18T05:26Z"), utc("2011-05-19T02:56Z"),
                         utc("2011-05-20T02:26Z"), sixth});
  CHECK(days.number_at(sixth) == 6);
  CHECK(days.number_at(sixth - 1us) == 5);
  CHECK(flight_day_by_date(launch, sixth, -240min) == 5);
}

TEST_CASE("flight days are counted from 1 at launch, and go on every 24 h after the table ends") {
  const Instant launch = utc("2031-05-06T12:00Z");
  const FlightDays days({launch, launch + 17h, launch + 40h});
  CHECK(days.number_at(launch - 1us) == 0);
  CHECK(days.number_at(launch) == 1);
  CHECK(days.number_at(launch + 17h - 1us) == 1);
  CHECK(days.number_at(launch + 17h) == 2);
  CHECK(days.number_at(launch + 40h) == 3);
  CHECK(days.number_at(launch + 64h - 1us) == 3);
  CHECK(days.number_at(launch + 64h) == 4);
  CHECK(days.number_at(launch + 88h) == 5);
  CHECK(days.start_of(1) == launch);
  CHECK(days.start_of(3) == launch + 40h);
  CHECK(days.start_of(4) == launch + 64h);
  for (int number = 1; number < 30; ++number) {
    CHECK(days.number_at(days.start_of(number)) == number);
    CHECK(days.number_at(days.start_of(number + 1) - 1us) == number);
  }
}

TEST_CASE("days that are added move every later flight day and no earlier one") {
  const Instant launch = utc("2031-05-06T12:00Z");
  std::vector<Instant> starts{launch};
  for (int i = 0; i < 10; ++i) starts.push_back(launch + 17h + i * day_length);
  const FlightDays days(starts);
  const Instant from = launch + 5 * day_length;  // in the middle of a flight day
  for (const int added : {1, 2, 3}) {
    const FlightDays longer = days.with_days_added(from, added);
    CAPTURE(added);
    CHECK(longer.starts().size() == starts.size() + static_cast<std::size_t>(added));
    CHECK(std::is_sorted(longer.starts().begin(), longer.starts().end()));
    for (int number = 1; number <= 20; ++number) {
      const Instant start = days.start_of(number);
      if (start < from) {
        CHECK(longer.start_of(number) == start);
      } else {
        CHECK(longer.start_of(number + added) == start + added * day_length);
        CHECK(longer.number_at(start + added * day_length) == number + added);
      }
    }
    // Wake-ups were 24 h apart, and so are the new ones.
    for (int number = 2; number < 20; ++number)
      CHECK(longer.start_of(number + 1) - longer.start_of(number) == day_length);
  }
  CHECK(days.with_days_added(from, 0).starts() == starts);
}

TEST_CASE("a flight day that begins as the added days do comes later by them") {
  const Instant launch = utc("2031-05-06T12:00Z");
  const FlightDays days({launch, launch + 17h, launch + 39h, launch + 61h});  // 22 h apart
  const FlightDays longer = days.with_days_added(launch + 39h, 1);
  // The third day is now the fourth, and the day that became free before it begins 24 h earlier.
  CHECK(longer.starts() == std::vector{launch, launch + 17h, launch + 39h, launch + 63h, launch + 85h});
}
