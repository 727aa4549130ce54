#include "model/quantity.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <charconv>
#include <cmath>
#include <limits>

#include <fmt/format.h>

namespace daywright::model {
namespace {

// Exact definitions (NIST SP 811, 2008, appendix B.8 gives them in bold): pound, inch, foot, gallon, atmosphere, torr.
constexpr double pound = 0.45359237;                     // kg
constexpr double inch = 0.0254;                          // m
constexpr double gravity = 9.80665;                      // m/s2
constexpr double us_gallon = 231 * inch * inch * inch;   // m3
constexpr double psi = pound * gravity / (inch * inch);  // Pa
constexpr double foot = 12 * inch;                       // m

constexpr std::array table{
    // base unit: kilogram
    Unit{"kg", Dimension::mass, 1, 0, "kg"},
    Unit{"g", Dimension::mass, 1e-3, 0, "g"},
    Unit{"mg", Dimension::mass, 1e-6, 0, "mg"},
    Unit{"t", Dimension::mass, 1e3, 0, "metric_ton"},
    Unit{"lb", Dimension::mass, pound, 0, "lb"},
    Unit{"lbm", Dimension::mass, pound, 0, "lb"},
    Unit{"oz", Dimension::mass, pound / 16, 0, "lb/16"},
    // base unit: cubic metre
    Unit{"m3", Dimension::volume, 1, 0, "m3"},
    Unit{"L", Dimension::volume, 1e-3, 0, "L"},
    Unit{"l", Dimension::volume, 1e-3, 0, "L"},
    Unit{"mL", Dimension::volume, 1e-6, 0, "mL"},
    Unit{"ml", Dimension::volume, 1e-6, 0, "mL"},
    Unit{"gal", Dimension::volume, us_gallon, 0, "231 inch3"},
    Unit{"ft3", Dimension::volume, foot* foot* foot, 0, "ft3"},
    // base unit: joule
    Unit{"J", Dimension::energy, 1, 0, "J"},
    Unit{"kJ", Dimension::energy, 1e3, 0, "kJ"},
    Unit{"MJ", Dimension::energy, 1e6, 0, "MJ"},
    Unit{"Wh", Dimension::energy, 3600, 0, "W h"},
    Unit{"kWh", Dimension::energy, 3.6e6, 0, "kW h"},
    Unit{"kcal", Dimension::energy, 4186.8, 0, "kIT_calorie"},  // the International Table calorie, exact
    // base unit: watt
    Unit{"W", Dimension::power, 1, 0, "W"},
    Unit{"kW", Dimension::power, 1e3, 0, "kW"},
    // base unit: coulomb
    Unit{"Ah", Dimension::charge, 3600, 0, "A h"},
    // base unit: pascal
    Unit{"Pa", Dimension::pressure, 1, 0, "Pa"},
    Unit{"hPa", Dimension::pressure, 100, 0, "hPa"},
    Unit{"kPa", Dimension::pressure, 1e3, 0, "kPa"},
    Unit{"bar", Dimension::pressure, 1e5, 0, "bar"},
    Unit{"mbar", Dimension::pressure, 100, 0, "mbar"},
    Unit{"atm", Dimension::pressure, 101325, 0, "atm"},
    Unit{"psi", Dimension::pressure, psi, 0, "psi"},
    Unit{"psia", Dimension::pressure, psi, 0, "psi"},
    Unit{"mmHg", Dimension::pressure, 133.322387415, 0, "mmHg"},  // conventional: 13.5951 g/cm3 and standard gravity
    Unit{"torr", Dimension::pressure, 101325.0 / 760, 0, "atm/760"},
    // base unit: kelvin
    Unit{"K", Dimension::temperature, 1, 0, "K"},
    Unit{"degC", Dimension::temperature, 1, 273.15, "degC"},
    Unit{"degF", Dimension::temperature, 5.0 / 9, 459.67 * 5 / 9, "degF"},
    // base unit: second
    Unit{"s", Dimension::time, 1, 0, "s"},
    Unit{"min", Dimension::time, 60, 0, "min"},
    Unit{"h", Dimension::time, 3600, 0, "h"},
    Unit{"d", Dimension::time, 86400, 0, "day"},
    // base unit: metre
    Unit{"m", Dimension::length, 1, 0, "m"},
    Unit{"mm", Dimension::length, 1e-3, 0, "mm"},
    Unit{"cm", Dimension::length, 1e-2, 0, "cm"},
    Unit{"in", Dimension::length, inch, 0, "inch"},
    Unit{"ft", Dimension::length, foot, 0, "ft"},
    // base unit: one
    Unit{"1", Dimension::ratio, 1, 0, "1"},
    Unit{"%", Dimension::ratio, 0.01, 0, "%"},
    Unit{"ppm", Dimension::ratio, 1e-6, 0, "ppm"},
    // counted: each is a base unit of its own; a dozen of anything is not for us to guess
    Unit{"crew-h", Dimension::crew_time, 1, 0, ""},
    Unit{"crew-d", Dimension::crew_time, 24, 0, ""},
    Unit{"each", Dimension::each, 1, 0, ""},
    Unit{"meal", Dimension::meal, 1, 0, ""},
    Unit{"cartridge", Dimension::cartridge, 1, 0, ""},
    Unit{"bag", Dimension::bag, 1, 0, ""},
    Unit{"pack", Dimension::pack, 1, 0, ""},
};

}  // namespace

std::span<const Unit> units() { return table; }

const Unit* find_unit(std::string_view spelling) {
  const auto* found =
      std::find_if(table.begin(), table.end(), [&](const Unit& unit) { return unit.spelling == spelling; });
  return found == table.end() ? nullptr : found;
}

double convert(double value, const Unit& from, const Unit& to) {
  assert(from.dimension == to.dimension);
  if (&from == &to) return value;
  return (value * from.factor + from.offset - to.offset) / to.factor;
}

int decimals_of(double step) {
  int decimals = 0;
  for (double scaled = step; decimals < 6 && std::abs(scaled - std::round(scaled)) > 1e-9 * scaled; ++decimals) {
    scaled = step * std::pow(10.0, decimals + 1);
  }
  return decimals;
}

double round_to(double value, double step, Rounding rounding) {
  assert(step > 0 && std::isfinite(value));
  const double steps = value / step;
  // Value, step and division are each off by up to half a last digit: from some ten million steps on, that can be more
  // than a billionth of one.
  constexpr double billionth = 1e-9;
  constexpr double thousandth = 1e-3;
  const double last_digits = 2 * std::numeric_limits<double>::epsilon() * std::abs(steps);
  const double on_the_step = std::clamp(last_digits, billionth, thousandth);
  // Halves go away from zero, and 0.15 is a half of a tenth although its binary form lies below.
  double whole = std::copysign(std::floor(std::abs(steps) + 0.5 + on_the_step), steps);
  if (std::abs(steps - whole) > on_the_step) {
    if (rounding == Rounding::down) whole = std::floor(steps);
    if (rounding == Rounding::up) whole = std::ceil(steps);
  }
  if (whole == 0) return 0;
  // The nearest number to the decimal text that is shown, so that comparing it is comparing what is read.
  const std::string text = fmt::format("{:.{}f}", whole * step, decimals_of(step));
  double shown = 0;
  std::from_chars(text.data(), text.data() + text.size(), shown);
  return shown;
}

std::string format_number(double value, double step) {
  return fmt::format("{:.{}f}", value == 0 ? 0.0 : value, decimals_of(step));
}

}  // namespace daywright::model
