// The flight as something to try cases on: days more, another crew, other rates, transfers made or not.
//
// What the live sheets of the workbook are built from. It holds the terms of every margin at plan and at the measured
// rate, with the results for the flight as planned, and the assured margins case by case, since no spreadsheet can work
// those out. Quantities in the item's unit, rates per 24 h. Plain values.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "model/instant.h"
#include "model/rulebook.h"
#include "model/verdict.h"

namespace daywright::model {

/// Whether a planned transfer is carried out: it can be tried the other way.
struct TrialSwitch {
  std::string transfer;  ///< its name in the logs
  std::string title;
  bool is_on = false;  ///< as the margins of record have it
};

/// A stretch in which nothing changes for any item, up to what happens at its end.
struct TrialStretch {
  std::string phase;
  std::string ends_with;  ///< events and transfers at its end
  Instant begin;          ///< as planned
  Instant end;
  bool is_added = false;    ///< the days added, none of them as planned
  bool ends_later = false;  ///< its end moves with the days added
  std::size_t kind = 0;     ///< of day
  std::vector<int> crew;    ///< aboard each vehicle as planned
};

/// What is drawn or made on a day of one kind: fixed + per_person * crew.
struct TrialRate {
  double fixed = 0;
  double per_person = 0;
};

/// What is held in reserve for a while.
struct TrialReserve {
  struct Days {
    double days = 0;
    std::size_t kind = 0;

    friend bool operator==(const Days&, const Days&) = default;
  };

  double fixed = 0;
  double events = 0;  ///< drawn by the events it is held for, times the rate factor
  std::vector<Days> days;
  bool is_made = false;  ///< what is made on those days is taken off

  friend bool operator==(const TrialReserve&, const TrialReserve&) = default;
};

/// What a transfer brings to a place of an item, and what it does when it is tried the other way.
struct TrialMove {
  std::size_t place = 0;
  double on = 0;
  double off = 0;
  std::optional<std::size_t> by;  ///< the switch; none: it can't be turned
};

/// What happens at the end of a stretch.
struct TrialStep {
  double draw = 0;
  double make = 0;
  std::vector<TrialMove> moves;
  double moved = 0;  ///< all moves together, as planned
};

/// A place of an item, and whether what is in it counts.
struct TrialPlace {
  std::string title;
  std::vector<bool> counts_at_end;  ///< of each leg, before what happens there
  std::vector<bool> counts_after;   ///< after it
};

/// One item along stretches between which nothing happens to it; together the legs are all stretches in their order.
struct TrialLeg {
  std::size_t first = 0;  ///< stretch
  std::size_t last = 0;
  std::vector<std::size_t> order;  ///< the places drawn from, first one first
  TrialReserve held;
  bool is_made = false;  ///< it can be made then
  TrialStep step;
  // As planned:
  double per_day = 0;  ///< drawn
  double used = 0;
  double made = 0;
  double reserve = 0;  ///< all of `held` together
};

/// What there is at a turn of the flight.
struct TrialAmounts {
  double usable = 0;           ///< in all places that count, less what is short
  double shortfall = 0;        ///< what was wanted and no place had
  std::vector<double> places;  ///< in each place, whether it counts or not
};

/// An item on one basis, by one reading of its counts, as planned.
struct TrialCourse {
  double factor = 1;       ///< use over planned use
  double made_factor = 1;  ///< the same of what it is made from
  TrialAmounts start;      ///< at the cut-off
  TrialAmounts begin;      ///< and after what is overdue then
  std::vector<TrialAmounts> at_end;
  std::vector<TrialAmounts> after;
  double daily = 0;            ///< net use per 24 h that turns units into days
  double units = 0;            ///< the margin
  std::optional<double> days;  ///< none: nothing is used by the day
};

/// One reading of the counts of an item.
struct TrialReading {
  std::string how;            ///< empty: as merged
  std::vector<double> leaks;  ///< per day, by place
  TrialCourse plan;
  std::optional<TrialCourse> measured;  ///< none: too few counts
};

/// A margin that was worked out for one case.
struct TrialMargin {
  double units = 0;
  std::optional<double> days;
};

struct TrialItem {
  std::string id;
  std::string title;
  std::string unit;
  double step = 1;
  std::size_t vehicle = 0;
  std::optional<std::size_t> made_from;  ///< item
  std::size_t made_into = 0;             ///< place; only where it is made
  std::vector<TrialRate> draws;          ///< by kind of day
  std::vector<TrialRate> makes;
  std::vector<TrialPlace> places;
  TrialStep at_start;  ///< what is overdue
  std::vector<TrialLeg> legs;
  TrialReserve held_at_end;
  double reserve_at_end = 0;  ///< as planned
  bool is_made_at_end = false;
  std::vector<TrialReading> readings;  ///< none: the item has no margin
  std::vector<std::size_t> switches;   ///< of its transfers
  bool has_ledger = false;             ///< its uncertainty is there: no assured margin
  /// By state of its switches, the first one the lowest bit, set: turned; then by days more. Empty where there is none.
  std::vector<std::vector<TrialMargin>> assured;
  std::string doubt;  ///< what stands against READY besides the margins themselves; empty: nothing
  // As planned; of the margins the worst of the readings:
  std::optional<TrialMargin> plan;
  std::optional<TrialMargin> measured;
  std::optional<TrialMargin> governing;
  Basis governing_basis = Basis::plan;
  Verdict verdict = Verdict::no_data;  ///< that it lasts
};

/// A criterion that limits how long the flight can be.
struct TrialCriterion {
  /// The margin that it asks for, which the sheets work out themselves.
  struct OfMargin {
    std::size_t item = 0;
    std::optional<Basis> basis;  ///< none: the governing one
    bool in_days = false;
    Comparison comparison = Comparison::at_least;
    double limit = 0;       ///< in the unit of the figure
    bool is_sound = false;  ///< nothing but its size stands against READY
  };

  std::string title;  ///< of the gate, and its own
  std::optional<OfMargin> margin;
  bool depends_on_changes = false;  ///< on crew, rates or transfers, in a way that only the program can tell
  std::vector<Verdict> verdicts;    ///< with so many days more, all else as planned; of a margin only as planned
};

struct TrialPlan {
  static constexpr int most_days = 10;

  int days_possible = 0;     ///< most days that can be added: 0 when it is too late
  std::string added_before;  ///< the event before which they are
  Instant cutoff;
  Instant landing;           ///< as planned
  bool lands_later = false;  ///< with days added
  std::vector<std::string> vehicles;
  std::size_t own_vehicle = 0;      ///< the one whose crew can be tried
  std::vector<int> crew_elsewhere;  ///< aboard each vehicle, once another crew is tried
  std::vector<std::string> kinds;   ///< of day
  std::size_t margin_kind = 0;      ///< turns units into days
  std::vector<TrialStretch> stretches;
  std::vector<int> crew_at_end;  ///< aboard each vehicle at the required end
  std::vector<TrialSwitch> switches;
  std::vector<TrialItem> items;
  std::vector<Basis> bases;  ///< that govern
  double assurance = 95;     ///< percent
  std::vector<TrialCriterion> criteria;
  bool are_decisions_sound = true;
  // As planned:
  Verdict verdict = Verdict::no_data;
  std::optional<std::size_t> limiting;                    ///< item, by the governing margins; none: nothing limits
  std::array<std::optional<std::size_t>, 3> limiting_on;  ///< by basis
};

}  // namespace daywright::model
