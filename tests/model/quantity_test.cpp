#include "model/quantity.h"

#include <array>
#include <cmath>
#include <cstdlib>
#include <memory>
#include <random>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>
#include <udunits2.h>

#include "catch_compat.h"

using daywright::model::convert;
using daywright::model::decimals_of;
using daywright::model::Dimension;
using daywright::model::find_unit;
using daywright::model::format_number;
using daywright::model::round_to;
using daywright::model::Rounding;
using daywright::model::Unit;
using daywright::model::units;

namespace {

/// The unit database of UDUNITS-2 (Unidata), the second answer for every conversion.
class Udunits {
 public:
  Udunits() {
    ut_set_error_message_handler(ut_ignore);
    system_.reset(ut_read_xml("/usr/share/xml/udunits/udunits2.xml"));
    REQUIRE(system_ != nullptr);
  }
  /// `value` converted; not a number when one of the names is unknown or they measure different things.
  [[nodiscard]] double convert(double value, std::string_view from, std::string_view to) const {
    const UnitPointer a = parse(from);
    const UnitPointer b = parse(to);
    if (a == nullptr || b == nullptr) return std::nan("");
    const std::unique_ptr<cv_converter, void (*)(cv_converter*)> converter(ut_get_converter(a.get(), b.get()), cv_free);
    return converter != nullptr ? cv_convert_double(converter.get(), value) : std::nan("");
  }
  [[nodiscard]] bool are_convertible(std::string_view from, std::string_view to) const {
    const UnitPointer a = parse(from);
    const UnitPointer b = parse(to);
    return a != nullptr && b != nullptr && ut_are_convertible(a.get(), b.get()) != 0;
  }

 private:
  using UnitPointer = std::unique_ptr<ut_unit, void (*)(ut_unit*)>;
  [[nodiscard]] UnitPointer parse(std::string_view name) const {
    return {ut_parse(system_.get(), std::string(name).c_str(), UT_UTF8), ut_free};
  }
  std::unique_ptr<ut_system, void (*)(ut_system*)> system_{nullptr, ut_free_system};
};

const Unit& unit(std::string_view spelling) {
  const Unit* found = find_unit(spelling);
  REQUIRE(found != nullptr);
  return *found;
}

double in(std::string_view to, double value, std::string_view from) { return convert(value, unit(from), unit(to)); }

/// What a rounded value is compared with: exactly the number that its printed text is.
double down(double value, double step) { return round_to(value, step, Rounding::down); }
double up(double value, double step) { return round_to(value, step, Rounding::up); }
double nearest(double value, double step) { return round_to(value, step, Rounding::nearest); }

constexpr double few_last_digits = 1e-13;  // of a double: the two ways multiply in another order

}  // namespace

TEST_CASE("every pair of rows with a UDUNITS-2 name converts as UDUNITS-2 does") {
  const Udunits second;
  for (const Unit& from : units()) {
    for (const Unit& to : units()) {
      if (from.udunits.empty() || to.udunits.empty() || from.dimension != to.dimension) continue;
      for (const double value : {0.0, 1.0, -40.0, 0.895, 1234.5}) {
        CAPTURE(std::string(from.spelling), std::string(to.spelling), value);
        const double expected = second.convert(value, from.udunits, to.udunits);
        // Temperatures pass through an offset of hundreds of kelvin: there the digits lost are absolute.
        const double margin = from.dimension == Dimension::temperature ? 1e-10 : 0;
        CHECK(convert(value, from, to) == Approx(expected).epsilon(few_last_digits).margin(margin));
      }
    }
  }
}

TEST_CASE("UDUNITS-2 knows every name that the table gives it, and tells the same dimensions apart") {
  const Udunits second;
  for (const Unit& from : units()) {
    for (const Unit& to : units()) {
      if (from.udunits.empty() || to.udunits.empty()) continue;
      CAPTURE(std::string(from.spelling), std::string(to.spelling));
      CHECK(second.are_convertible(from.udunits, to.udunits) == (from.dimension == to.dimension));
    }
  }
}

TEST_CASE("things that are counted convert into nothing else: meals are not cartridges") {
  std::set<Dimension> measured;
  for (const Unit& u : units()) {
    if (!u.udunits.empty()) measured.insert(u.dimension);
  }
  std::size_t counted = 0;
  for (const Unit& a : units()) {
    if (!a.udunits.empty()) continue;
    ++counted;
    CAPTURE(std::string(a.spelling));
    CHECK(measured.count(a.dimension) == 0);
    for (const Unit& b : units()) {
      if (&a == &b || b.dimension != a.dimension) continue;
      // Crew time alone has two spellings, and a day of it is 24 h of it.
      CHECK(a.dimension == Dimension::crew_time);
    }
  }
  CHECK(counted == 7);
  CHECK(in("crew-h", 2, "crew-d") == 48);
  CHECK(in("crew-d", 48, "crew-h") == 2);
}

TEST_CASE("every factor agrees with NIST SP 811 to the last digit that is printed there") {
  // NIST SP 811 (2008), appendix B.8, "to convert from ... to ... multiply by": printed digits from memory,
  // unverified here; UDUNITS-2 above is the check that does not rest on memory.
  struct Row {
    std::string_view unit;
    std::string_view base;
    std::string_view printed;
  };
  constexpr std::array<Row, 19> rows{{
      {"lb", "kg", "4.535924e-01"},   {"oz", "kg", "2.834952e-02"},  {"gal", "m3", "3.785412e-03"},
      {"ft3", "m3", "2.831685e-02"},  {"psi", "Pa", "6.894757e+03"}, {"torr", "Pa", "1.333224e+02"},
      {"mmHg", "Pa", "1.333224e+02"}, {"atm", "Pa", "1.013250e+05"}, {"kcal", "J", "4.186800e+03"},
      {"kWh", "J", "3.600000e+06"},   {"Wh", "J", "3.600000e+03"},   {"bar", "Pa", "1.000000e+05"},
      {"mbar", "Pa", "1.000000e+02"}, {"in", "m", "2.540000e-02"},   {"ft", "m", "3.048000e-01"},
      {"d", "s", "8.640000e+04"},     {"h", "s", "3.600000e+03"},    {"t", "kg", "1.000000e+03"},
      {"L", "m3", "1.000000e-03"},
  }};
  for (const Row& row : rows) {
    CAPTURE(std::string(row.unit));
    CHECK(fmt::format("{:.6e}", in(row.base, 1, row.unit)) == row.printed);
  }
}

TEST_CASE("the definitions that SP 811 prints in bold, as exact, are exact here") {
  // NIST SP 811 (2008), appendix B.8, bold factors: from memory.
  CHECK(in("kg", 1, "lb") == 0.45359237);
  CHECK(in("g", 16, "oz") == Approx(453.59237).epsilon(few_last_digits));
  CHECK(in("m", 1, "in") == 0.0254);
  CHECK(in("m", 1, "ft") == Approx(0.3048).epsilon(few_last_digits));
  CHECK(in("L", 1, "gal") == Approx(3.785411784).epsilon(few_last_digits));
  CHECK(in("L", 1, "ft3") == Approx(28.316846592).epsilon(few_last_digits));
  CHECK(in("Pa", 1, "atm") == 101325);
  CHECK(in("J", 1, "kcal") == 4186.8);
  CHECK(in("Pa", 760, "torr") == Approx(101325).epsilon(few_last_digits));
}

TEST_CASE("temperatures are converted with their zero points") {
  CHECK(in("degC", 273.15, "K") == Approx(0).margin(1e-12));
  CHECK(in("degC", 32, "degF") == Approx(0).margin(1e-12));
  CHECK(in("degC", 212, "degF") == Approx(100));
  CHECK(in("degF", -40, "degC") == Approx(-40));
  // NASA-STD-3001 volume 2 gives 18 to 27 degrees Celsius (revision F, figure 6.2-2).
  CHECK(in("degF", 18, "degC") == Approx(64.4));
  CHECK(in("degF", 27, "degC") == Approx(80.6));
}

TEST_CASE("pressures and carbon dioxide limits convert as the sources print them") {
  // NASA-STD-3001 volume 2 [6006]: 34.5 kPa is 5 psia, 103 kPa is 15 psia, to the digits printed.
  CHECK(in("kPa", 5, "psia") == Approx(34.5).margin(0.05));
  CHECK(in("kPa", 15, "psia") == Approx(103).margin(0.5));
  // OCHMO-TB-004 revision D: 3 mmHg is 3947 ppm of one atmosphere and 7079 ppm of 56.5 kPa.
  CHECK(std::round(in("Pa", 3, "mmHg") / in("Pa", 1, "atm") * 1e6) == 3947);
  CHECK(std::round(in("Pa", 3, "mmHg") / in("Pa", 56.5, "kPa") * 1e6) == 7079);
  // BVAD (NASA/TP-2015-218570 Rev 2) table 3-31: 12.778 MJ is about 3054 kcal. With the thermochemical calorie it
  // is 3054.0, with the International Table calorie of this table 3052.0: the tenth of a per cent between them.
  CHECK(in("kcal", 12.778, "MJ") == Approx(3054).epsilon(0.001));
}

TEST_CASE("a spelling stands for one unit, and its case counts") {
  std::set<std::string_view> seen;
  for (const Unit& u : units()) {
    CAPTURE(std::string(u.spelling));
    CHECK(seen.insert(u.spelling).second);
    CHECK(find_unit(u.spelling) == &u);
    CHECK(u.factor > 0);
  }
  CHECK(find_unit("mg") != nullptr);
  CHECK(find_unit("Mg") == nullptr);
  CHECK(find_unit("KG") == nullptr);
  CHECK(find_unit("") == nullptr);
  CHECK(find_unit(" kg") == nullptr);
}

TEST_CASE("a unit converted into itself does not lose a digit") {
  for (const Unit& u : units()) CHECK(convert(0.1 + 0.2, u, u) == 0.1 + 0.2);
}

TEST_CASE("a conversion there and back gives the value again") {
  for (const Unit& a : units()) {
    for (const Unit& b : units()) {
      if (a.dimension != b.dimension) continue;
      CAPTURE(std::string(a.spelling), std::string(b.spelling));
      CHECK(convert(convert(12.5, a, b), b, a) == Approx(12.5).epsilon(1e-12));
    }
  }
}

TEST_CASE("a part of a tenth is not counted as a tenth") {
  CHECK(down(0.099, 0.1) == 0);
  CHECK(down(0.1, 0.1) == 0.1);
  CHECK(down(0.1999, 0.1) == 0.1);
  CHECK(down(-0.01, 0.1) == -0.1);
  CHECK(down(-0.1, 0.1) == -0.1);
  CHECK(down(-0.11, 0.1) == -0.2);
}

TEST_CASE("a need is rounded up: a part of a step is a whole one") {
  CHECK(up(0.1, 0.1) == 0.1);
  CHECK(up(0.101, 0.1) == 0.2);
  CHECK(up(45.5, 1) == 46);
  CHECK(up(45, 1) == 45);
  CHECK(up(-0.11, 0.1) == -0.1);
}

TEST_CASE("days in hand that end on a tenth are that tenth, whatever the last binary digit says") {
  CHECK(down(91.0 / 10 - 9, 0.1) == 0.1);  // 0.0999999999999996 as a double
  CHECK(down(90.99 / 10 - 9, 0.1) == 0);
  CHECK(down(89.0 / 10 - 9, 0.1) == -0.1);
  CHECK(up(91.0 / 10 - 9, 0.1) == 0.1);
  CHECK(up(89.0 / 10 - 9, 0.1) == -0.1);
  CHECK(down(0.29, 0.01) == 0.29);  // 28.999999999999996 steps
  CHECK(up(0.07, 0.01) == 0.07);    // 7.000000000000001 steps
  CHECK(down(0.1 + 0.2, 0.1) == 0.3);
  CHECK(up(0.1 + 0.2, 0.1) == 0.3);
}

TEST_CASE("within a billionth of a step a value is on it, and beyond that it is not") {
  CHECK(down(1 - 0.5e-9, 1) == 1);
  CHECK(down(1 - 2e-9, 1) == 0);
  CHECK(up(1 + 0.5e-9, 1) == 1);
  CHECK(up(1 + 2e-9, 1) == 2);
}

TEST_CASE("a tenth stays that tenth beyond ten million steps, and what is short of it by a thousandth does not") {
  for (const int start : {10'000'000, 100'000'000, 2'000'000'000}) {
    for (int tenths = start; tenths < start + 1000; ++tenths) {
      CAPTURE(tenths);
      CHECK(down(tenths / 10.0, 0.1) == tenths / 10.0);
      CHECK(up(tenths / 10.0, 0.1) == tenths / 10.0);
      CHECK(nearest(tenths / 10.0 + 0.05, 0.1) == (tenths + 1) / 10.0);
      CHECK(down(tenths / 10.0 - 0.0001, 0.1) == (tenths - 1) / 10.0);
      CHECK(up(tenths / 10.0 + 0.0001, 0.1) == (tenths + 1) / 10.0);
    }
  }
}

TEST_CASE("halves that a binary number can hold go away from zero") {
  CHECK(nearest(0.5, 1) == 1);
  CHECK(nearest(-0.5, 1) == -1);
  CHECK(nearest(2.5, 1) == 3);
  CHECK(nearest(-2.5, 1) == -3);
  CHECK(nearest(12.5, 5) == 15);
  CHECK(nearest(-12.5, 5) == -15);
  CHECK(nearest(12.4, 5) == 10);
  CHECK(nearest(0.125, 0.25) == 0.25);
  CHECK(nearest(0.124, 0.25) == 0);
  CHECK(nearest(-0.125, 0.25) == -0.25);
}

TEST_CASE("a half of a tenth goes away from zero at every tenth, not only where the binary digits allow it") {
  std::vector<double> wrong;
  for (int k = 0; k < 200; ++k) {
    const double half = (2 * k + 1) / 20.0;  // 0.05, 0.15, 0.25 ... as a log would say it
    if (nearest(half, 0.1) != (k + 1) / 10.0 || nearest(-half, 0.1) != -(k + 1) / 10.0) wrong.push_back(half);
  }
  CHECK(wrong == std::vector<double>{});
}

TEST_CASE("steps of a quarter and of five are kept whole") {
  CHECK(down(0.74, 0.25) == 0.5);
  CHECK(down(0.75, 0.25) == 0.75);
  CHECK(up(0.76, 0.25) == 1);
  CHECK(down(14.9, 5) == 10);
  CHECK(down(15, 5) == 15);
  CHECK(up(10.1, 5) == 15);
  CHECK(down(-0.1, 5) == -5);
}

TEST_CASE("zero has no sign") {
  for (const double step : {0.01, 0.1, 0.25, 1.0, 5.0}) {
    CAPTURE(step);
    CHECK_FALSE(std::signbit(up(-step / 2, step)));
    CHECK_FALSE(std::signbit(nearest(-step / 4, step)));
    CHECK_FALSE(std::signbit(down(-0.0, step)));
    CHECK_FALSE(std::signbit(down(-step * 1e-10, step)));
  }
}

TEST_CASE("rounding brackets the value by less than a step, and rounding again changes nothing") {
  std::mt19937 random(811);  // NOLINT(cert-msc32-c,cert-msc51-cpp): the same sample every time
  std::uniform_real_distribution<double> sample(-1000, 1000);
  for (int i = 0; i < 2000; ++i) {
    for (const double step : {0.01, 0.1, 0.25, 1.0, 5.0}) {
      const double value = sample(random);
      CAPTURE(value, step);
      const double slack = 2e-9 * step;
      CHECK(down(value, step) <= value + slack);
      CHECK(down(value, step) > value - step - slack);
      CHECK(up(value, step) >= value - slack);
      CHECK(up(value, step) < value + step + slack);
      CHECK(std::abs(nearest(value, step) - value) <= step / 2 + slack);
      CHECK(up(value, step) == -down(-value, step));
      CHECK(nearest(value, step) == -nearest(-value, step));
      CHECK(down(down(value, step), step) == down(value, step));
      CHECK(up(up(value, step), step) == up(value, step));
      CHECK(nearest(nearest(value, step), step) == nearest(value, step));
      // What is printed, read again, is what is compared.
      CHECK(std::strtod(format_number(down(value, step), step).c_str(), nullptr) == down(value, step));
    }
  }
}

TEST_CASE("a step is printed with the decimals that it needs and no more") {
  CHECK(decimals_of(0.1) == 1);
  CHECK(decimals_of(0.5) == 1);
  CHECK(decimals_of(0.25) == 2);
  CHECK(decimals_of(0.01) == 2);
  CHECK(decimals_of(0.05) == 2);
  CHECK(decimals_of(0.125) == 3);
  CHECK(decimals_of(0.001) == 3);
  CHECK(decimals_of(1) == 0);
  CHECK(decimals_of(5) == 0);
  CHECK(decimals_of(100) == 0);
  CHECK(decimals_of(2.5) == 1);
}

TEST_CASE("a number is printed with the decimals of its step and a point") {
  CHECK(format_number(12, 0.1) == "12.0");
  CHECK(format_number(-3, 1) == "-3");
  CHECK(format_number(0.25, 0.25) == "0.25");
  CHECK(format_number(0.5, 0.25) == "0.50");
  CHECK(format_number(15, 5) == "15");
  CHECK(format_number(1234567.8, 0.1) == "1234567.8");
  CHECK(format_number(0.29, 0.01) == "0.29");
  CHECK(format_number(-0.0, 0.1) == "0.0");
  CHECK(format_number(-0.0, 1) == "0");
}
