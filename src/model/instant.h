// Points in time: UTC, mission elapsed time and flight days.
//
//   In:  text in ISO 8601 (calendar or ordinal date, the ASCII codes A and B of CCSDS 301.0-B-4, 3.5.1)
//        or elapsed time "days/hh:mm[:ss]" counted from zero
//   Out: instants, durations and their one printed form
//
// Pure. A day here is 86,400 s: leap seconds are mapped to the second after, as design section 3 says.
#pragma once

#include <chrono>
#include <cmath>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace daywright::model {

using Duration = std::chrono::microseconds;
using Instant = std::chrono::sys_time<Duration>;

inline constexpr Duration day_length = std::chrono::hours{24};

/// A length of time in days of 24 h, as a plain number for rates.
[[nodiscard]] constexpr double in_days(Duration span) {
  return static_cast<double>(span.count()) / static_cast<double>(day_length.count());
}

/// The length of time that is `days` days of 24 h, to the microsecond below.
[[nodiscard]] inline Duration from_days(double days) {
  return Duration{static_cast<Duration::rep>(std::floor(days * static_cast<double>(day_length.count())))};
}

/// What reading a time gave: a value, or what would have been right in its place.
template <class Value>
struct Reading {
  std::optional<Value> value;
  std::string expected;      ///< filled when there is no value
  bool leap_second = false;  ///< the text said :60; the value is the next whole second
};

/// Reads UTC in CCSDS 301.0-B-4 code A (YYYY-MM-DDThh:mm[:ss[.f]]) or B (YYYY-DDDThh:mm[:ss[.f]]), with or
/// without the closing Z, at least to the minute, at most six decimals. Second 60 is taken only at 23:59.
[[nodiscard]] Reading<Instant> parse_utc(std::string_view text);

/// Reads elapsed time "d/hh:mm[:ss]", days from zero, with an optional leading minus.
[[nodiscard]] Reading<Duration> parse_elapsed(std::string_view text);

/// Reads a time written as `pattern` says: YYYY, MM, DD, DDD (day of year), hh, mm and ss stand for numbers,
/// everything else for itself. The result is in the clock of the writer; the caller takes off its offset.
[[nodiscard]] Reading<Instant> parse_by_pattern(std::string_view text, std::string_view pattern);

/// True when `pattern` names a date and a time at least to the minute, so that it can give an instant.
[[nodiscard]] bool is_time_pattern(std::string_view pattern);

/// Prints "2031-05-13T22:00Z", with seconds and decimals only where they are not zero.
[[nodiscard]] std::string format_utc(Instant when);

/// Prints elapsed time "7/12:46", with seconds only where they are not zero; parts of a second are cut off.
[[nodiscard]] std::string format_elapsed(Duration span);

/// When each flight day begins. Flight day 1 begins at launch, each later one at a planned wake-up.
///
/// Days after the last named one begin every 24 h. An instant before launch lies in flight day 0.
class FlightDays {
 public:
  FlightDays() = default;
  /// Requires `starts` in rising order, the first one the launch.
  explicit FlightDays(std::vector<Instant> starts) : starts_(std::move(starts)) {}

  [[nodiscard]] int number_at(Instant when) const;
  [[nodiscard]] Instant start_of(int number) const;
  /// The same table in which every start at or after `from` comes later by `by`, and the days that become free
  /// before it begin every 24 h. Used when days are added to a flight.
  [[nodiscard]] FlightDays with_days_added(Instant from, int days) const;
  [[nodiscard]] const std::vector<Instant>& starts() const { return starts_; }

 private:
  std::vector<Instant> starts_;
};

/// The flight day by the date at the launch site: date there less launch date there, plus 1.
/// Source: the rule fits STS-114 and STS-128 as printed in their status reports. Only a cross-check.
[[nodiscard]] int flight_day_by_date(Instant launch, Instant when, std::chrono::minutes site_offset);

}  // namespace daywright::model
