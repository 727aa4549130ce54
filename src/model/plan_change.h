// What a decision can change of the plan, and what it can waive. Plain values.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "model/instant.h"

namespace daywright::model {

enum class PlaceState { usable, isolated, expired, reserved };

/// The states as plans and logs spell them.
inline constexpr std::array<std::pair<std::string_view, PlaceState>, 4> place_states{
    {{"usable", PlaceState::usable},
     {"isolated", PlaceState::isolated},
     {"expired", PlaceState::expired},
     {"reserved", PlaceState::reserved}}};

/// So many days are added before the event that the plan names for it.
struct DaysAdded {
  int days = 0;
};
/// An event takes place at another time.
struct EventMoved {
  std::string event;
  Instant at;
};
/// A place is isolated, set aside, or given free.
struct PlaceSet {
  std::string place;
  PlaceState state = PlaceState::usable;
};
/// What leaked is mended.
struct LeakClosed {
  std::string item;
};
/// Nothing: it says in words what people have to enter in the plan.
using PlanChange = std::variant<std::monostate, DaysAdded, EventMoved, PlaceSet, LeakClosed>;

/// What a decision accepts although a criterion does not hold.
struct Waiver {
  std::string criterion;          ///< empty: none
  std::vector<std::string> data;  ///< what is allowed to be missing, by name
  std::optional<double> worst;    ///< the worst value that is accepted, in `unit`
  std::string unit;               ///< empty: a bare number
};

}  // namespace daywright::model
