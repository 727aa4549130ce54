// The columns of the live sheets, counted from 0, each list in the order in which they stand. Who fills a cell and who
// refers to it take its column from here.
//
// Pure.
#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "model/rulebook.h"

namespace daywright::write {

/// The bases that formulas can follow; the assured margins are looked up.
inline constexpr std::array live_bases{model::Basis::plan, model::Basis::measured};
/// A margin by its basis; without one it is that which governs.
using MarginOf = std::optional<model::Basis>;
inline constexpr MarginOf governing{};
/// In the order of their columns.
inline constexpr std::array<MarginOf, 4> all_margins{model::Basis::plan, model::Basis::measured, model::Basis::assured,
                                                     governing};

/// A turn of the flight has two: before and after what happens there.
enum class Moment { at_end, after_events };
inline constexpr std::array both_moments{Moment::at_end, Moment::after_events};

/// The columns of a margin.
struct MarginColumns {
  std::size_t units;
  std::size_t days;
};

/// Which of `all_margins` it is.
[[nodiscard]] constexpr std::size_t rank_of(MarginOf basis) {
  return basis ? static_cast<std::size_t>(*basis) : all_margins.size() - 1;
}

/// All margins side by side from `first` on.
[[nodiscard]] constexpr MarginColumns margin_columns(std::size_t first, MarginOf of) {
  const std::size_t units = first + 2 * rank_of(of);
  return {units, units + 1};
}

namespace in_options {

/// Above the items: what can be tried, what follows for the flight and its criteria.
enum : std::size_t { label, value, planned, note };
/// The items.
enum : std::size_t { item, rate, unit, margins, basis = margins + 8, verdict, recorded, because, width };

[[nodiscard]] constexpr MarginColumns margin(MarginOf of) { return margin_columns(margins, of); }

}  // namespace in_options

namespace in_margins {

/// The readings of each item's counts.
enum : std::size_t { how = 1, factor, made_factor, leak, courses };

struct CourseColumns {
  std::size_t net_use;
  MarginColumns margin;
};
[[nodiscard]] constexpr CourseColumns course(model::Basis of) {
  const std::size_t net_use = courses + 3 * rank_of(of);
  return {net_use, {net_use + 1, net_use + 2}};
}

/// The items.
enum : std::size_t { item, unit, margins, basis = margins + 8, orders, width = orders + 4 };

[[nodiscard]] constexpr MarginColumns margin(MarginOf of) { return margin_columns(margins, of); }
/// What puts the items in order by a margin of theirs.
[[nodiscard]] constexpr std::size_t order(MarginOf of) { return orders + rank_of(of); }

}  // namespace in_margins

namespace in_course {

enum : std::size_t {
  item,
  how,
  phase,
  until,
  per_day,
  used,
  made,
  used_by_events,
  made_by_events,
  moved,
  reserve,
  courses,
  width = courses + 6
};

[[nodiscard]] constexpr std::size_t usable(model::Basis on, Moment moment) {
  return courses + 3 * rank_of(on) + static_cast<std::size_t>(moment);
}
[[nodiscard]] constexpr std::size_t margin(model::Basis on) { return courses + 3 * rank_of(on) + 2; }

}  // namespace in_course

namespace in_places {

enum : std::size_t { item, basis, phase, amounts };

/// What lies in a place at a moment, where there are columns for so many `places`.
[[nodiscard]] constexpr std::size_t amount(std::size_t places, std::size_t place, Moment moment) {
  return amounts + place + (moment == Moment::after_events ? places + 2 : 0);
}
[[nodiscard]] constexpr std::size_t shortfall(std::size_t places, Moment moment) {
  return amount(places, places, moment);
}
[[nodiscard]] constexpr std::size_t usable(std::size_t places, Moment moment) { return shortfall(places, moment) + 1; }

}  // namespace in_places

namespace in_phases {

enum : std::size_t { phase, kind, after_cutoff, end, days, ends_with, crew };

}  // namespace in_phases

namespace in_cases {

enum : std::size_t { title, transfers, cases };

/// An item's margin with so many days more.
[[nodiscard]] constexpr std::size_t units(std::size_t more) { return cases + more; }
/// The same in days, where so many days more are `possible`.
[[nodiscard]] constexpr std::size_t days(std::size_t more, std::size_t possible) { return cases + possible + 1 + more; }
/// The verdict on a criterion with so many days more.
[[nodiscard]] constexpr std::size_t verdict(std::size_t more) { return cases + more; }

}  // namespace in_cases

}  // namespace daywright::write
