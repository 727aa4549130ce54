// Units and rounding: the closed table of spellings, conversion, and the one place where figures are rounded.
//
//   In:  a unit as people write it; a number in one unit
//   Out: the unit, or nothing; the number in another unit; the number and text that are shown
//
// Pure. Factors are exact or the conversion factors of NIST SP 811 (2008), appendix B; each row says which.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace daywright::model {

/// What a unit measures. Things that are counted are dimensions of their own: meals are not cartridges.
enum class Dimension {
  mass,
  volume,
  energy,
  power,
  charge,
  pressure,
  temperature,
  time,
  length,
  ratio,
  crew_time,
  each,
  meal,
  cartridge,
  bag,
  pack,
};

/// One spelling of the closed table: value in base units = value * factor + offset.
struct Unit {
  std::string_view spelling;
  Dimension dimension;
  double factor;
  double offset;
  std::string_view udunits;  ///< the name the UDUNITS-2 library has for it; empty where it has none
};

/// The whole table, in the order in which it is documented.
[[nodiscard]] std::span<const Unit> units();

/// The unit with this spelling (case counts: "Mg" is not "mg"), or null. The pointer lives as long as the program.
[[nodiscard]] const Unit* find_unit(std::string_view spelling);

/// `value` of unit `from` in unit `to`. Requires the same dimension.
[[nodiscard]] double convert(double value, const Unit& from, const Unit& to);

enum class Rounding { down, up, nearest };

/// `value` rounded to a whole number of `step`s; a value within a billionth of a step counts as on it, so that
/// 89 / 10 - 9 is a tenth less than nothing and not two; beyond a few million steps, where that is less than a binary
/// number can tell, so does one within its last digits. Halves go away from zero; zero has no sign.
/// Requires step > 0 and a finite value.
[[nodiscard]] double round_to(double value, double step, Rounding rounding);

/// The decimals needed to print a whole number of `step`s: 1 for 0.1, 0 for 5, 2 for 0.25.
[[nodiscard]] int decimals_of(double step);

/// Prints a rounded value with the decimals of its step: "12.0", "-3". The decimal sign is a point everywhere.
[[nodiscard]] std::string format_number(double value, double step);

}  // namespace daywright::model
