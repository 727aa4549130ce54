#include "model/instant.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cctype>

#include <fmt/format.h>

namespace daywright::model {
namespace {

using std::chrono::days;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;
using std::chrono::sys_days;

constexpr std::string_view expected_utc = "a UTC time such as 2031-05-13T16:20Z or 2031-133T16:20:30Z (hours 00 to 23)";
constexpr std::string_view expected_elapsed = "an elapsed time such as 5/16:20 (days/hours:minutes)";

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// Takes fixed-width numbers and letters off the front of a text.
class Scanner {
 public:
  explicit Scanner(std::string_view text) : rest_(text) {}

  /// The next `width` characters as a number; nothing when one of them is no digit.
  std::optional<int> number(std::size_t width) {
    if (rest_.size() < width) return std::nullopt;
    int value = 0;
    for (const char c : rest_.substr(0, width)) {
      if (!is_digit(c)) return std::nullopt;
      value = value * 10 + (c - '0');
    }
    rest_.remove_prefix(width);
    return value;
  }
  bool take(char wanted) {
    if (rest_.empty() || rest_.front() != wanted) return false;
    rest_.remove_prefix(1);
    return true;
  }
  [[nodiscard]] std::size_t digits_ahead() const {
    return static_cast<std::size_t>(std::find_if_not(rest_.begin(), rest_.end(), is_digit) - rest_.begin());
  }
  [[nodiscard]] bool at_end() const { return rest_.empty(); }

 private:
  std::string_view rest_;
};

/// Date parts as written; day_of_year and month/day exclude each other.
struct Fields {
  int year = 0;
  int month = 1;
  int day = 1;
  int day_of_year = 0;
  int hour = 0;
  int minute = 0;
  int second = 0;
  int micro = 0;
};

/// The instant these fields name, or nothing when there is no such date or time.
/// `leap` is set for 23:59:60, which becomes the next second: the last day of June or December is asked for,
/// since announced leap seconds lie nowhere else (CCSDS 301.0-B-4 annex A; IERS Bulletin C).
std::optional<Instant> to_instant(const Fields& f, bool& leap) {
  const std::chrono::year year{f.year};
  sys_days date;
  if (f.day_of_year > 0) {
    if (f.day_of_year > (year.is_leap() ? 366 : 365)) return std::nullopt;
    date = sys_days{year / std::chrono::January / 1} + days{f.day_of_year - 1};
  } else {
    const auto calendar =
        year / std::chrono::month{static_cast<unsigned>(f.month)} / std::chrono::day{static_cast<unsigned>(f.day)};
    if (!calendar.ok()) return std::nullopt;
    date = sys_days{calendar};
  }
  if (f.hour > 23 || f.minute > 59 || f.second > 60) return std::nullopt;
  if (f.second == 60) {
    const std::chrono::year_month_day next{date + days{1}};
    const bool month_fits = next.month() == std::chrono::January || next.month() == std::chrono::July;
    if (f.hour != 23 || f.minute != 59 || next.day() != std::chrono::day{1} || !month_fits) return std::nullopt;
    leap = true;
    return Instant{date + days{1}};
  }
  return Instant{date} + hours{f.hour} + minutes{f.minute} + seconds{f.second} + Duration{f.micro};
}

/// Reads "hh:mm[:ss[.ffffff]]" into `f`; false when it is not that.
bool read_clock(Scanner& in, Fields& f, bool decimals_allowed) {
  const auto hour = in.number(2);
  if (!hour || !in.take(':')) return false;
  const auto minute = in.number(2);
  if (!minute) return false;
  f.hour = *hour;
  f.minute = *minute;
  if (!in.take(':')) return true;
  const auto second = in.number(2);
  if (!second) return false;
  f.second = *second;
  if (!decimals_allowed || !in.take('.')) return true;
  const std::size_t width = in.digits_ahead();
  if (width == 0 || width > 6) return false;
  int micro = *in.number(width);
  for (std::size_t i = width; i < 6; ++i) micro *= 10;
  f.micro = micro;
  return true;
}

/// One token of a time pattern and the field it fills.
struct PatternToken {
  std::string_view letters;
  int Fields::* field;
};
constexpr std::array<PatternToken, 7> pattern_tokens{{{"YYYY", &Fields::year},
                                                      {"DDD", &Fields::day_of_year},
                                                      {"MM", &Fields::month},
                                                      {"DD", &Fields::day},
                                                      {"hh", &Fields::hour},
                                                      {"mm", &Fields::minute},
                                                      {"ss", &Fields::second}}};

const PatternToken* token_at(std::string_view pattern) {
  const auto* found = std::find_if(pattern_tokens.begin(), pattern_tokens.end(),
                                   [&](const PatternToken& t) { return pattern.starts_with(t.letters); });
  return found == pattern_tokens.end() ? nullptr : found;
}

}  // namespace

Reading<Instant> parse_utc(std::string_view text) {
  const auto refused = [] { return Reading<Instant>{std::nullopt, std::string(expected_utc)}; };
  Scanner in(text);
  Fields f;
  const auto year = in.number(4);
  if (!year || !in.take('-')) return refused();
  f.year = *year;
  if (in.digits_ahead() == 3) {
    f.day_of_year = *in.number(3);
    if (f.day_of_year == 0) return refused();
  } else {
    const auto month = in.number(2);
    if (!month || !in.take('-')) return refused();
    const auto day = in.number(2);
    if (!day) return refused();
    f.month = *month;
    f.day = *day;
  }
  if (!in.take('T') || !read_clock(in, f, true)) return refused();
  in.take('Z');
  if (!in.at_end()) return refused();
  Reading<Instant> result;
  result.value = to_instant(f, result.leap_second);
  if (!result.value) return refused();
  return result;
}

Reading<Duration> parse_elapsed(std::string_view text) {
  const auto refused = [] { return Reading<Duration>{std::nullopt, std::string(expected_elapsed)}; };
  Scanner in(text);
  const bool before_launch = in.take('-');
  const std::size_t width = in.digits_ahead();
  if (width == 0 || width > 4) return refused();
  const int day_count = *in.number(width);
  if (!in.take('/')) return refused();
  Fields f;
  if (!read_clock(in, f, false) || !in.at_end() || f.hour > 23 || f.minute > 59 || f.second > 59) return refused();
  const Duration span = days{day_count} + hours{f.hour} + minutes{f.minute} + seconds{f.second};
  return {before_launch ? -span : span, {}};
}

Reading<Instant> parse_by_pattern(std::string_view text, std::string_view pattern) {
  const auto refused = [&] { return Reading<Instant>{std::nullopt, fmt::format("a time written {}", pattern)}; };
  Scanner in(text);
  Fields f;
  for (std::string_view rest = pattern; !rest.empty();) {
    if (const PatternToken* token = token_at(rest)) {
      const auto value = in.number(token->letters.size());
      if (!value || (token->letters == "DDD" && *value == 0)) return refused();
      f.*(token->field) = *value;
      rest.remove_prefix(token->letters.size());
    } else {
      if (!in.take(rest.front())) return refused();
      rest.remove_prefix(1);
    }
  }
  if (!in.at_end()) return refused();
  Reading<Instant> result;
  result.value = to_instant(f, result.leap_second);
  if (!result.value) return refused();
  return result;
}

bool is_time_pattern(std::string_view pattern) {
  std::array<int, pattern_tokens.size()> seen{};
  for (std::string_view rest = pattern; !rest.empty();) {
    const PatternToken* token = token_at(rest);
    if (token != nullptr) ++seen.at(static_cast<std::size_t>(token - pattern_tokens.data()));
    rest.remove_prefix(token != nullptr ? token->letters.size() : 1);
  }
  const auto [year, ordinal, month, day, hour, minute, second] = seen;
  const bool has_date =
      year == 1 && ((ordinal == 1 && month == 0 && day == 0) || (ordinal == 0 && month == 1 && day == 1));
  return has_date && hour == 1 && minute == 1 && second <= 1;
}

std::string format_utc(Instant when) {
  const auto date = std::chrono::floor<days>(when);
  const std::chrono::year_month_day ymd{date};
  const auto clock = when - Instant{date};
  const auto whole = std::chrono::floor<seconds>(clock);
  const auto micro = (clock - whole).count();
  std::string text =
      fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}", static_cast<int>(ymd.year()), static_cast<unsigned>(ymd.month()),
                  static_cast<unsigned>(ymd.day()), whole.count() / 3600, whole.count() / 60 % 60);
  if (whole.count() % 60 != 0 || micro != 0) text += fmt::format(":{:02}", whole.count() % 60);
  if (micro != 0) text += fmt::format(".{:06}", micro);
  return text + "Z";
}

std::string format_elapsed(Duration span) {
  const bool negative = span < Duration::zero();
  const auto whole = std::chrono::floor<seconds>(negative ? -span : span).count();
  std::string text =
      fmt::format("{}{}/{:02}:{:02}", negative ? "-" : "", whole / 86400, whole / 3600 % 24, whole / 60 % 60);
  if (whole % 60 != 0) text += fmt::format(":{:02}", whole % 60);
  return text;
}

int FlightDays::number_at(Instant when) const {
  if (starts_.empty() || when < starts_.front()) return 0;
  const auto after = std::upper_bound(starts_.begin(), starts_.end(), when);
  int number = static_cast<int>(after - starts_.begin());
  if (after == starts_.end()) number += static_cast<int>((when - starts_.back()) / day_length);
  return number;
}

Instant FlightDays::start_of(int number) const {
  assert(!starts_.empty() && number >= 1);
  const auto index = static_cast<std::size_t>(number - 1);
  if (index < starts_.size()) return starts_[index];
  return starts_.back() + day_length * static_cast<int>(index - (starts_.size() - 1));
}

FlightDays FlightDays::with_days_added(Instant from, int added) const {
  if (added == 0 || starts_.empty()) return *this;
  std::vector<Instant> starts;
  const auto later = std::find_if(starts_.begin() + 1, starts_.end(), [&](Instant s) { return s > from; });
  starts.assign(starts_.begin(), later);
  for (int i = 0; i < added; ++i) starts.push_back(starts.back() + day_length);
  for (auto it = later; it != starts_.end(); ++it) starts.push_back(*it + day_length * added);
  return FlightDays(std::move(starts));
}

int flight_day_by_date(Instant launch, Instant when, std::chrono::minutes site_offset) {
  const auto date_at = [&](Instant t) { return std::chrono::floor<days>(t + site_offset); };
  return static_cast<int>((date_at(when) - date_at(launch)).count()) + 1;
}

}  // namespace daywright::model
