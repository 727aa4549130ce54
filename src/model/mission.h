// The plan of the flight, as mission.toml gives it: who, where, when, and how much of what is planned to be used.
//
// Plain values. Ids are unique within their kind; load refuses a mission in which a named thing does not exist.
#pragma once

#include <array>
#include <chrono>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/diagnostic.h"
#include "model/instant.h"
#include "model/log.h"
#include "model/plan_change.h"
#include "model/quantity.h"

namespace daywright::model {

struct Vehicle {
  std::string id;
  std::string title;
  Source source;
};

/// Where something is held: a tank, a locker, a rack.
struct Place {
  std::string id;
  std::string title;
  std::string vehicle;
  PlaceState state = PlaceState::usable;
  std::string until;  ///< the event at which it is no longer there; empty: it stays
  Source source;
  std::optional<Instant> state_since = std::nullopt;  ///< a decision set `state` then; none: it always was so
  PlaceState state_before = PlaceState::usable;       ///< up to then

  [[nodiscard]] PlaceState state_at(Instant when) const {
    return state_since && when < *state_since ? state_before : state;
  }
};

/// From when on a person is aboard which vehicle.
struct Stay {
  Instant from;
  std::string vehicle;
};

struct Person {
  std::string id;
  std::string title;        ///< what the person does aboard; names of people stay out of the plan
  std::vector<Stay> stays;  ///< in order of time
  std::string seat;         ///< the vehicle in which the person comes home
  Source source;
};

/// How a kind of day uses things up: the power drawn, and rates and events where it differs from the items' own.
struct DayKind {
  std::string id;
  std::string title;
  double power_kw = 0;                           ///< average
  double work_from_hours = 0;                    ///< when scheduled work begins, after the day begins
  double work_hours = 0;                         ///< of scheduled work for each person; 0: nothing is said of it
  std::optional<int> crew;                       ///< in place of the persons aboard
  std::map<std::string, double> per_crew_day;    ///< item -> rate in the item's unit
  std::map<std::string, double> per_day;         ///< item -> rate in the item's unit
  std::map<std::string, double> events_per_day;  ///< kind of event -> number per 24 h
  Source source;
};

/// A stretch of the flight, from its start to the start of the next one.
struct Phase {
  std::string id;
  std::string title;
  Instant start;
  std::string kind;  ///< day kind
  Source source;
};

/// Something that happens once: an EVA, a burn, undocking, landing.
struct Event {
  std::string id;
  std::string title;
  Instant at;
  std::string kind;
  Source source;
};

/// A day on which the flight can land, and its opportunities in order of time.
struct LandingDay {
  std::string kind;  ///< "planned", or the day kind flown while waiting for it
  std::vector<Instant> opportunities;
  Source source;
};

enum class ItemSort { stock, cartridge, capacity };

/// One line of what is held back before a margin is counted.
struct ReserveLine {
  std::string text;
  double quantity = 0;      ///< in the item's unit
  double days = 0;          ///< or: so many days ...
  std::string kind;         ///< ... of this day kind
  std::string event_kind;   ///< or: one event of this kind
  std::string released_by;  ///< event after which it is no longer held; empty: held to the end
  std::string rationale;
  Source source;
};

/// What a line of a ledger is for. A load adds to what is left, every other kind takes away.
enum class LedgerKind { load, unusable, gauging, nominal, contingency, dispersion };

/// The kinds as plans spell them, in the order of the enum.
inline constexpr std::array<std::string_view, 6> ledger_kind_names{"load",    "unusable",    "gauging",
                                                                   "nominal", "contingency", "dispersion"};

[[nodiscard]] constexpr std::string_view name_of(LedgerKind kind) {
  return ledger_kind_names[static_cast<std::size_t>(kind)];
}

/// One line of an item's budget.
struct LedgerLine {
  std::string text;
  LedgerKind kind = LedgerKind::load;
  double quantity = 0;  ///< in the item's unit, above zero whatever the kind
  Source source;
};

/// Which places the use is charged to from a phase on, in the order in which they are drawn down.
struct DrawRule {
  std::string phase;
  std::vector<std::string> places;
};

/// Something that is used up or filled up.
struct Item {
  std::string id;
  std::string title;
  ItemSort sort = ItemSort::stock;
  const Unit* unit = nullptr;
  double step = 0.1;                ///< quantities are shown in whole steps of this
  std::string vehicle;              ///< whose crew uses it
  std::vector<std::string> places;  ///< in the order in which they are drawn down
  std::vector<DrawRule> draw;       ///< where another order holds from a phase on
  double per_crew_day = 0;
  double per_day = 0;
  double per_kwh = 0;
  std::map<std::string, double> per_event;  ///< kind of event -> quantity
  std::string made_from;                    ///< item whose use makes this one; empty: none
  double made_ratio = 0;                    ///< so much of this per unit of that one's use
  std::string made_into;                    ///< the place it goes to
  double rated_crew_hours = 0;              ///< cartridges: rated life
  std::map<std::string, double> residual;   ///< place -> what can't be drawn (or filled)
  std::map<std::string, double> capacity;   ///< place -> what it holds, for sort capacity
  std::map<std::string, double> sigma;      ///< way of counting -> standard deviation of one count
  std::map<std::string, double> bias;       ///< way of counting -> standard deviation of the error all its counts share
  double transfer_sigma = 0;                ///< standard deviation of what one transfer brings
  double event_sigma = 0;                   ///< of what one event draws
  std::vector<ReserveLine> reserve;
  std::vector<LedgerLine> ledger;           ///< in the order in which it is read, a load first; empty: none
  std::optional<double> count_every_hours;  ///< a count older than this is stale
  bool by_hand = false;                     ///< only the crew can count it
  std::string rate_source;                  ///< where the planned rate was published
  Source source;
};

/// The amount of `amounts` for a place; 0 where the plan says nothing.
[[nodiscard]] inline double amount_in(const std::map<std::string, double>& amounts, const std::string& place) {
  const auto found = amounts.find(place);
  return found == amounts.end() ? 0 : found->second;
}

/// A unit of equipment whose state the log of equipment tells.
struct EquipmentUnit {
  std::string id;
  std::string title;
  Source source;
};

struct Zone {
  std::string id;
  std::string title;
  std::string vehicle;
  std::map<std::string, double> parts;  ///< named disjoint parts -> share of the zone; empty: one whole
  Source source;
};

/// An event that has to be decided: poll time, and what has to be true in rules.toml.
struct Gate {
  std::string id;
  std::string title;
  std::string event;
  Instant poll;
  Source source;
};

enum class CountKind { weighed, tally, gauge, derived };

/// A declared way of counting.
struct CountMethod {
  std::string id;
  CountKind kind = CountKind::tally;
  Source source;
  std::vector<std::string> phases = {};  ///< in which alone it is valid; empty: always
};

/// How other people's sheets map onto our columns; one per source and log.
struct LogSource {
  std::string id;
  std::string title;
  Log log = Log::plan;
  int rank = 0;  ///< lower is better
  char delimiter = ',';
  bool decimal_comma = false;
  std::string time_pattern;                     ///< empty: ISO 8601 or elapsed time, told apart by their form
  std::chrono::minutes utc_offset{0};           ///< of the clock behind `time_pattern`
  std::map<std::string, std::string> columns;   ///< our column -> theirs
  std::map<std::string, std::string> defaults;  ///< our column -> value where they have no such column
  std::map<std::string, std::map<std::string, std::string>> values;  ///< our column -> their word -> ours
  std::vector<std::string> ignore;                                   ///< their columns that say nothing to us
  Source source;
};

/// What a mission calls things; the defaults are the words of a flight.
struct Words {
  std::string day = "FD";           ///< before the number of a day
  std::string elapsed = "MET";      ///< before elapsed time
  std::string landing = "Landing";  ///< the end of the mission
  std::string sortie = "EVA";       ///< going out
};

/// Days put in to see what a longer flight would be: what was planned for `at` or later comes `by` later.
struct Delay {
  Instant at = Instant::max();
  Duration by{};

  [[nodiscard]] Instant of(Instant planned) const { return planned >= at ? planned + by : planned; }
};

/// A shift that is longer than that is a mistake; what is due later is in the brief.
inline constexpr int longest_shift_hours = 72;
[[nodiscard]] constexpr bool is_shift_length(double hours) { return hours > 0 && hours <= longest_shift_hours; }

struct Mission {
  Words words;
  std::string name;
  std::string destination;
  std::string vehicle;      ///< the one the crew comes home in
  std::string lead_title;   ///< what the person who prepares the brief is called
  std::string approved_by;  ///< title of who approves it
  std::string audience;     ///< for whom
  Instant launch;
  int planned_days = 0;
  double shift_hours = 12;  ///< how long whoever takes over is on shift
  std::chrono::minutes site_offset{0};
  FlightDays flight_days;
  std::string extension_before;  ///< the event before which days are added
  std::string extension_kind;    ///< day kind of an added day
  std::string margin_kind;       ///< day kind whose use turns units into days
  Delay transfer_delay;          ///< of planned transfers, whose times stand in the logs
  std::vector<Vehicle> vehicles;
  std::vector<Place> places;
  std::vector<Person> persons;
  std::vector<DayKind> day_kinds;
  std::vector<Phase> phases;
  std::vector<Event> events;
  std::vector<LandingDay> landing_days;
  std::vector<CountMethod> methods;
  std::vector<Item> items;
  std::vector<EquipmentUnit> equipment;  ///< none: the log may name any
  std::vector<std::string> readings;     ///< what is read off; likewise
  std::vector<std::string> sorties;      ///< likewise
  std::vector<Zone> zones;
  std::vector<Gate> gates;
  std::vector<LogSource> sources;
  Source source;

  /// The planned landing: the first opportunity of the planned landing day. Requires a checked mission.
  [[nodiscard]] Instant landing() const { return landing_days.front().opportunities.front(); }
  /// The last opportunity of the last landing day: what supplies have to last to. Requires a checked mission.
  [[nodiscard]] Instant required_end() const { return landing_days.back().opportunities.back(); }
};

/// The element of `things` with this id, or null.
template <class Things>
[[nodiscard]] auto* find_by_id(Things& things, const std::string& id) {
  for (auto& thing : things) {
    if (thing.id == id) return &thing;
  }
  return decltype(&*things.begin()){nullptr};
}

}  // namespace daywright::model
