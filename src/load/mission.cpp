#include "load/mission.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "load/names.h"
#include "load/rows.h"
#include "load/table_reader.h"
#include "model/suggest.h"

namespace daywright::load {
namespace {

using model::Diagnostics;
using model::Mission;
using model::Severity;
using Launch = std::optional<model::Instant>;

constexpr std::array<std::pair<std::string_view, model::ItemSort>, 3> item_sorts{
    {{"stock", model::ItemSort::stock},
     {"cartridge", model::ItemSort::cartridge},
     {"capacity", model::ItemSort::capacity}}};
constexpr std::array<std::pair<std::string_view, model::CountKind>, 4> count_kinds{
    {{"weighed", model::CountKind::weighed},
     {"tally", model::CountKind::tally},
     {"gauge", model::CountKind::gauge},
     {"derived", model::CountKind::derived}}};

/// The words of an enum, from its names in the order of its values.
template <class Value, std::size_t count>
constexpr auto words_of(const std::array<std::string_view, count>& names) {
  std::array<std::pair<std::string_view, Value>, count> words{};
  for (std::size_t i = 0; i < count; ++i) words.at(i) = {names.at(i), static_cast<Value>(i)};
  return words;
}
constexpr auto log_words = words_of<model::Log>(model::log_names);
constexpr auto ledger_words = words_of<model::LedgerKind>(model::ledger_kind_names);

/// Reads every [[key]] of the file with `read_one` and checks that no id comes twice.
template <class Thing, class ReadOne>
std::vector<Thing> read_all(TableReader& root, std::string_view key, Need need, Diagnostics& faults,
                            const ReadOne& read_one) {
  std::vector<Thing> things;
  std::set<std::string> ids;
  for (const Node* node : root.tables(key, need)) {
    TableReader in(*node, fmt::format("[[{}]]", key), faults);
    Thing thing = read_one(in);
    thing.source = node->at;
    if constexpr (requires { thing.id; }) {
      std::string name = thing.id;
      if constexpr (requires { thing.log; }) name += model::name_of(thing.log);  // one source may keep several logs
      if (!ids.insert(name).second) {
        in.fault(in.source_of("id"), fmt::format("{} {} comes twice, expected each id once", key, in_quotes(thing.id)),
                 "id-twice");
      }
    }
    in.finish();
    things.push_back(std::move(thing));
  }
  return things;
}

std::chrono::minutes read_offset(TableReader& in, std::string_view key) {
  const double hours = in.number(key, Need::optional);
  if (std::abs(hours) <= 14) return std::chrono::minutes{std::lround(hours * 60)};
  in.fault(in.source_of(key), fmt::format("'{}' is {} hours, expected -14 to 14", key, hours), "value-range");
  return {};
}

model::Words read_words(TableReader& root, Diagnostics& faults) {
  model::Words words;
  const Node* node = root.table("words");
  if (node == nullptr) return words;
  TableReader in(*node, "[words]", faults);
  for (auto [key, word] : {std::pair("day", &words.day), std::pair("elapsed", &words.elapsed),
                           std::pair("landing", &words.landing), std::pair("sortie", &words.sortie)}) {
    if (in.has(key)) *word = in.text(key);
  }
  in.finish();
  return words;
}

void read_heading(TableReader& root, Mission& mission, Launch& launch, Diagnostics& faults) {
  const Node* node = root.table("mission", Need::required);
  if (node == nullptr) return;
  TableReader in(*node, "[mission]", faults);
  mission.source = node->at;
  mission.name = in.text("name");
  mission.destination = in.text("destination", Need::optional);
  mission.vehicle = in.text("vehicle");
  mission.lead_title = in.text("lead_title", Need::optional);
  if (mission.lead_title.empty()) mission.lead_title = "shift lead";
  mission.approved_by = in.text("approved_by");
  mission.audience = in.text("audience");
  launch = in.time("launch", std::nullopt);
  mission.launch = launch.value_or(model::Instant{});
  mission.planned_days = in.whole("planned_days");
  if (mission.planned_days < 1) in.fault(in.source_of("planned_days"), "'planned_days' is below 1", "value-range");
  mission.shift_hours = in.number("shift_hours", Need::optional, mission.shift_hours);
  if (!model::is_shift_length(mission.shift_hours))
    in.fault(in.source_of("shift_hours"),
             fmt::format("'shift_hours' is {:g}, expected more than 0 and at most {}", mission.shift_hours,
                         model::longest_shift_hours),
             "value-range");
  mission.site_offset = read_offset(in, "launch_site_utc_offset_hours");
  mission.extension_before = in.text("extension_before");
  mission.extension_kind = in.text("extension_kind");
  mission.margin_kind = in.text("margin_kind");
  std::vector<model::Instant> starts{mission.launch};
  for (const auto when : in.times("wake_ups", launch)) {
    if (when <= starts.back()) in.fault(in.source_of("wake_ups"), "a wake-up lies before launch", "time-order");
    starts.push_back(when);
  }
  mission.flight_days = model::FlightDays(std::move(starts));
  mission.readings = in.texts("readings");
  mission.sorties = in.texts("sorties");
  in.finish();
}

model::Person read_person(TableReader& in, const Mission& mission, Launch launch, Diagnostics& faults) {
  model::Person person;
  person.id = in.id();
  person.title = in.text("title");
  person.seat = in.text("seat");
  person.stays.push_back({mission.launch, in.text("aboard")});
  for (const Node* node : in.tables("move")) {
    TableReader move(*node, fmt::format("[[person.move]] of '{}'", person.id), faults);
    const auto at = move.time("at", launch);
    const std::string vehicle = move.text("vehicle");
    if (at && *at <= person.stays.back().from)
      move.fault(move.source_of("at"), "the move comes before the one above it", "time-order");
    if (at) person.stays.push_back({*at, vehicle});
    move.finish();
  }
  return person;
}

model::DayKind read_day_kind(TableReader& in) {
  model::DayKind kind;
  kind.id = in.id();
  kind.title = in.text("title");
  kind.power_kw = in.amount("power_kw");
  kind.work_from_hours = in.amount("work_from_hours");
  kind.work_hours = in.amount("work_hours");
  if (kind.work_from_hours + kind.work_hours > 24)
    in.fault(in.source_of("work_hours"),
             fmt::format("work from {:g} h on for {:g} h is more than a day", kind.work_from_hours, kind.work_hours),
             "value-range");
  if (in.number_if_any("crew")) kind.crew = in.whole("crew");
  kind.per_crew_day = in.amounts_by_name("per_crew_day");
  kind.per_day = in.amounts_by_name("per_day");
  kind.events_per_day = in.amounts_by_name("events_per_day");
  return kind;
}

model::ReserveLine read_reserve(const Node& node, const std::string& item, Diagnostics& faults) {
  TableReader in(node, fmt::format("[[item.reserve]] of '{}'", item), faults);
  model::ReserveLine line;
  line.source = node.at;
  line.text = in.text("text");
  line.quantity = in.amount("quantity");
  line.days = in.amount("days");
  line.kind = in.text("kind", line.days > 0 ? Need::required : Need::optional);
  line.event_kind = in.text("event_kind", Need::optional);
  line.released_by = in.text("released_by", Need::optional);
  line.rationale = in.text("rationale");
  const int ways = (line.quantity > 0 ? 1 : 0) + (line.days > 0 ? 1 : 0) + (line.event_kind.empty() ? 0 : 1);
  if (ways != 1) {
    in.fault(
        node.at,
        fmt::format("the reserve line {} gives {} amounts, expected one of quantity, days with kind, or event_kind",
                    in_quotes(line.text), ways),
        "reserve-amount");
  }
  in.finish();
  return line;
}

/// Reads the next line of the item's ledger.
model::LedgerLine read_ledger_line(const Node& node, const model::Item& item, Diagnostics& faults) {
  TableReader in(node, fmt::format("[[item.ledger]] of '{}'", item.id), faults);
  model::LedgerLine line;
  line.source = node.at;
  line.text = in.text("text");
  // A kind or a quantity that can't be read has its fault, and is not to bring another one with it.
  line.kind = in.choice<model::LedgerKind>("kind", ledger_words, Need::required, model::LedgerKind::load);
  line.quantity = in.number("quantity", Need::required, 1);
  if (line.quantity <= 0) {
    in.fault(in.source_of("quantity"),
             fmt::format("the ledger line {} is of {}, expected a number above zero; its kind says whether it adds",
                         in_quotes(line.text), line.quantity),
             "value-range");
  }
  if (item.ledger.empty() && line.kind != model::LedgerKind::load) {
    in.fault(in.source_of("kind"),
             fmt::format("the ledger of '{}' begins with a line of kind \"{}\", expected what is loaded", item.id,
                         model::name_of(line.kind)),
             "ledger-start");
  }
  in.finish();
  return line;
}

model::Item read_item(TableReader& in, Diagnostics& faults) {
  model::Item item;
  item.id = in.id();
  item.title = in.text("title");
  item.sort = in.choice<model::ItemSort>("sort", item_sorts, Need::required, model::ItemSort::stock);
  const std::string unit = in.text("unit");
  item.unit = model::find_unit(unit);
  if (item.unit == nullptr) {
    std::vector<std::string> known;
    for (const auto& u : model::units()) known.emplace_back(u.spelling);
    if (!unit.empty())
      in.fault(in.source_of("unit"),
               fmt::format("unknown unit {}, expected one of the README's table{}", in_quotes(unit),
                           model::did_you_mean(unit, known)),
               "unit-unknown");
    item.unit = &model::units().front();
  }
  item.step = in.number("step", Need::optional, 0.1);
  if (item.step < 1e-6) {
    in.fault(in.source_of("step"), "'step' is too small, expected a millionth or more", "value-range");
    item.step = 1;
  }
  item.vehicle = in.text("vehicle");
  item.places = in.some_texts("places");
  item.per_crew_day = in.amount("per_crew_day");
  item.per_day = in.amount("per_day");
  item.per_kwh = in.amount("per_kwh");
  item.per_event = in.amounts_by_name("per_event");
  item.made_from = in.text("made_from", Need::optional);
  item.made_ratio = in.amount("made_ratio", item.made_from.empty() ? Need::optional : Need::required);
  item.made_into = in.text("made_into", item.made_from.empty() ? Need::optional : Need::required);
  item.rated_crew_hours = in.amount("rated_crew_hours");
  item.residual = in.amounts_by_name("residual");
  item.capacity = in.amounts_by_name("capacity");
  item.sigma = in.amounts_by_name("sigma");
  item.bias = in.amounts_by_name("bias");
  item.transfer_sigma = in.amount("transfer_sigma");
  item.event_sigma = in.amount("event_sigma");
  item.count_every_hours = in.number_if_any("count_every_hours");
  if (item.count_every_hours && *item.count_every_hours <= 0)
    in.fault(in.source_of("count_every_hours"), "'count_every_hours' is not above zero", "value-range");
  item.by_hand = in.yes_no("by_hand");
  item.rate_source = in.text("rate_source", Need::optional);
  for (const Node* node : in.tables("draw")) {
    TableReader draw(*node, fmt::format("[[item.draw]] of '{}'", item.id), faults);
    item.draw.push_back({draw.text("phase"), draw.some_texts("places")});
    draw.finish();
  }
  for (const Node* node : in.tables("reserve")) item.reserve.push_back(read_reserve(*node, item.id, faults));
  for (const Node* node : in.tables("ledger")) item.ledger.push_back(read_ledger_line(*node, item, faults));
  if (item.sort == model::ItemSort::cartridge && item.rated_crew_hours <= 0 && item.per_event.empty()) {
    in.fault(in.source_of("sort"),
             fmt::format("cartridge '{}' has no use, expected rated_crew_hours or a per_event change-out", item.id),
             "item-use");
  }
  if (item.sort == model::ItemSort::capacity) {
    for (const std::string& place : item.places) {
      if (!item.capacity.contains(place))
        in.fault(in.source_of("capacity"),
                 fmt::format("item '{}' fills up but has no capacity for place '{}'", item.id, place), "item-capacity");
    }
  }
  return item;
}

model::Zone read_zone(TableReader& in) {
  model::Zone zone{in.id(), in.text("title"), in.text("vehicle"), in.amounts_by_name("parts"), {}};
  double whole = 0;
  for (const auto& [part, share] : zone.parts) whole += share;
  constexpr double hair = 1e-9;  // 0.1 + 0.2 + 0.7
  if (!zone.parts.empty() && std::abs(whole - 1) > hair)
    in.fault(in.source_of("parts"), fmt::format("the parts of the zone add up to {:g}, expected 1", whole),
             "value-range");
  return zone;
}

model::LogSource read_source(TableReader& in, Diagnostics& faults) {
  model::LogSource source;
  source.id = in.id();
  source.title = in.text("title");
  const std::size_t faults_before = faults.size();
  source.log = in.choice<model::Log>("log", log_words, Need::required, model::Log::plan);
  const bool is_log_known = faults.size() == faults_before;
  source.rank = in.whole("rank", Need::optional);
  const std::string delimiter = in.text("delimiter", Need::optional);
  constexpr std::string_view delimiters = ",;\t|";
  if (!delimiter.empty()) {
    if (delimiter.size() == 1 && delimiters.find(delimiter.front()) != std::string_view::npos) {
      source.delimiter = delimiter.front();
    } else {
      in.fault(in.source_of("delimiter"), "'delimiter' is another character, expected comma, semicolon, tab or |",
               "value-range");
    }
  }
  source.decimal_comma = in.yes_no("decimal_comma");
  if (source.decimal_comma && source.delimiter == ',') {
    in.fault(in.source_of("decimal_comma"), "a decimal comma needs another delimiter than the comma", "value-range");
  }
  source.time_pattern = in.text("time", Need::optional);
  if (!source.time_pattern.empty() && !model::is_time_pattern(source.time_pattern)) {
    in.fault(in.source_of("time"),
             fmt::format("'time' is {}, expected a pattern of YYYY, MM and DD (or DDD), hh, mm and perhaps ss, such as "
                         "\"DD.MM.YYYY hh:mm\"",
                         in_quotes(source.time_pattern)),
             "time-pattern");
  }
  source.utc_offset = read_offset(in, "utc_offset_hours");
  source.columns = in.texts_by_name("columns");
  source.defaults = in.texts_by_name("defaults");
  source.ignore = in.texts("ignore");
  if (const Node* node = in.table("values")) {
    TableReader values(*node, fmt::format("[source.values] of '{}'", source.id), faults);
    for (const Node& child : node->children) source.values[child.key] = values.texts_by_name(child.key);
  }
  if (!is_log_known) return source;
  const auto known = names_of_columns(source.log);
  const auto check = [&](const char* table, const auto& by_column) {
    for (const auto& [column, ignored] : by_column) {
      if (std::find(known.begin(), known.end(), column) != known.end()) continue;
      in.fault(in.source_of(table),
               fmt::format("log '{}' has no column {}{}", model::name_of(source.log), in_quotes(column),
                           model::did_you_mean(column, known)),
               "column-unknown");
    }
  };
  check("columns", source.columns);
  check("defaults", source.defaults);
  check("values", source.values);
  if (const auto unit = source.defaults.find("unit"); unit != source.defaults.end()) {
    if (model::find_unit(unit->second) == nullptr)
      in.fault(in.source_of("defaults"), fmt::format("unknown unit {} in 'defaults'", in_quotes(unit->second)),
               "unit-unknown");
  }
  return source;
}

/// Every name used in the plan must be the name of something in it.
class ReferenceCheck {
 public:
  ReferenceCheck(const Mission& m, Diagnostics& faults)
      : mission_(m),
        faults_(faults),
        vehicles_("vehicle", m.vehicles),
        places_("place", m.places),
        kinds_("day kind", m.day_kinds),
        phases_("phase", m.phases),
        events_("event", m.events),
        items_("item", m.items),
        methods_("way of counting", m.methods) {
    for (const auto& event : m.events) event_kinds_.insert(event.kind);
    for (const auto& kind : m.day_kinds) {
      for (const auto& [event_kind, number] : kind.events_per_day) event_kinds_.insert(event_kind);
    }
  }

  void run() {
    const Mission& m = mission_;
    vehicles_.require(m.vehicle, m.source, faults_);
    events_.require(m.extension_before, m.source, faults_);
    kinds_.require(m.extension_kind, m.source, faults_);
    kinds_.require(m.margin_kind, m.source, faults_);
    for (const auto& place : m.places) {
      vehicles_.require(place.vehicle, place.source, faults_);
      events_.require(place.until, place.source, faults_);
    }
    for (const auto& person : m.persons) {
      vehicles_.require(person.seat, person.source, faults_);
      for (const auto& stay : person.stays) vehicles_.require(stay.vehicle, person.source, faults_);
    }
    for (const auto& kind : m.day_kinds) {
      for (const auto* rates : {&kind.per_crew_day, &kind.per_day}) {
        for (const auto& [item, rate] : *rates) items_.require(item, kind.source, faults_);
      }
    }
    for (const auto& phase : m.phases) kinds_.require(phase.kind, phase.source, faults_);
    for (const auto& day : m.landing_days) {
      if (day.kind != "planned") kinds_.require(day.kind, day.source, faults_);
    }
    for (const auto& zone : m.zones) vehicles_.require(zone.vehicle, zone.source, faults_);
    for (const auto& gate : m.gates) events_.require(gate.event, gate.source, faults_);
    for (const auto& method : m.methods) {
      for (const auto& phase : method.phases) phases_.require(phase, method.source, faults_);
    }
    for (const auto& item : m.items) check_item(item);
  }

 private:
  void fault(model::Source at, std::string text, std::string rule) {
    faults_.push_back({Severity::error, at, std::move(text), std::move(rule)});
  }

  void check_item(const model::Item& item) {
    vehicles_.require(item.vehicle, item.source, faults_);
    items_.require(item.made_from, item.source, faults_);
    for (const auto& place : item.places) places_.require(place, item.source, faults_);
    const auto held_here = [&](const std::string& place) {
      if (std::find(item.places.begin(), item.places.end(), place) == item.places.end()) {
        fault(
            item.source,
            fmt::format("item '{}' is not held in place {}, expected one of its own places", item.id, in_quotes(place)),
            "place-not-of-item");
      }
    };
    if (!item.made_into.empty()) held_here(item.made_into);
    for (const auto& [place, amount] : item.residual) held_here(place);
    for (const auto& [place, amount] : item.capacity) held_here(place);
    for (const auto& draw : item.draw) {
      phases_.require(draw.phase, item.source, faults_);
      for (const auto& place : draw.places) held_here(place);
    }
    for (const auto& [method, sigma] : item.sigma) methods_.require(method, item.source, faults_);
    for (const auto& [method, bias] : item.bias) methods_.require(method, item.source, faults_);
    for (const auto& [kind, amount] : item.per_event) require_event_kind(kind, item.source);
    for (const auto& line : item.reserve) {
      kinds_.require(line.kind, line.source, faults_);
      events_.require(line.released_by, line.source, faults_);
      if (!line.event_kind.empty()) require_event_kind(line.event_kind, line.source);
    }
    std::set<std::string> seen;
    for (const model::Item* at = &item; at != nullptr && !at->made_from.empty();
         at = model::find_by_id(mission_.items, at->made_from)) {
      if (seen.insert(at->id).second) continue;
      fault(item.source, fmt::format("item '{}' is made from itself", item.id), "made-from-itself");
      break;
    }
  }

  void require_event_kind(const std::string& kind, model::Source at) {
    if (event_kinds_.contains(kind)) return;
    const std::vector<std::string> known(event_kinds_.begin(), event_kinds_.end());
    fault(at, fmt::format("no event is of kind {}{}", in_quotes(kind), model::did_you_mean(kind, known)),
          "name-unknown");
  }

  const Mission& mission_;
  Diagnostics& faults_;
  Names vehicles_, places_, kinds_, phases_, events_, items_, methods_;
  std::set<std::string> event_kinds_;
};

void check_order(const Mission& m, Diagnostics& faults) {
  const auto fault = [&](model::Source at, std::string text, std::string rule) {
    faults.push_back({Severity::error, at, std::move(text), std::move(rule)});
  };
  for (std::size_t i = 0; i < m.phases.size(); ++i) {
    if (i == 0 && m.phases[i].start != m.launch)
      fault(m.phases[i].source, "the first phase does not start at launch", "phase-order");
    if (i > 0 && m.phases[i].start <= m.phases[i - 1].start)
      fault(m.phases[i].source, "the phase starts before the one above it", "phase-order");
  }
  if (m.landing_days.empty()) return;
  for (std::size_t i = 0; i < m.landing_days.size(); ++i) {
    const auto& day = m.landing_days[i];
    if ((i == 0) != (day.kind == "planned"))
      fault(day.source, "the first [[landing_day]] and no other is of kind \"planned\"", "landing-day");
    if (day.opportunities.empty()) {
      fault(day.source, "a landing day without an opportunity", "landing-day");
      return;
    }
    if (i > 0 && day.opportunities.front() <= m.landing_days[i - 1].opportunities.back())
      fault(day.source, "the landing day comes before the one above it", "landing-day");
  }
  if (!m.phases.empty() && m.phases.back().start >= m.landing())
    fault(m.phases.back().source, "the last phase starts after the planned landing", "phase-order");
  const int landing_day = m.flight_days.number_at(m.landing());
  if (landing_day != m.planned_days + 1) {
    fault(m.landing_days.front().source,
          fmt::format(
              "the planned landing lies in {0} {1}, expected {0} {2}: a mission of {3} planned days lands the day "
              "after the last of them",
              m.words.day, landing_day, m.planned_days + 1, m.planned_days),
          "landing-flight-day");
  }
  for (const auto& gate : m.gates) {
    const auto* event = model::find_by_id(m.events, gate.event);
    if (event != nullptr && gate.poll > event->at)
      fault(gate.source, fmt::format("gate '{}' is polled after its event", gate.id), "gate-order");
  }
}

/// The launch-site date rule is no more than a cross-check of the table of wake-ups: it warns, once.
void cross_check_flight_days(const Mission& m, Diagnostics& faults) {
  const int last = static_cast<int>(m.flight_days.starts().size());
  for (int number = 2; number <= last; ++number) {
    const auto middle = m.flight_days.start_of(number) + model::day_length / 2;
    const int by_date = model::flight_day_by_date(m.launch, middle, m.site_offset);
    if (by_date == number) continue;
    faults.push_back({Severity::warning, m.source,
                      fmt::format("{0} {1} begins {2}, but by dates at the launch site its middle lies in {0} {3}; the "
                                  "table of wake-ups is used",
                                  m.words.day, number, model::format_utc(m.flight_days.start_of(number)), by_date),
                      "flight-day-date"});
    return;
  }
}

}  // namespace

Mission parse_mission(std::string_view text, int file, Diagnostics& faults) {
  Mission mission;
  const std::size_t faults_before = faults.size();
  const Node tree = parse_toml(text, file, faults);
  if (faults.size() > faults_before) return mission;
  TableReader root(tree, "mission.toml", faults);
  Launch launch;
  mission.words = read_words(root, faults);
  read_heading(root, mission, launch, faults);

  mission.vehicles = read_all<model::Vehicle>(root, "vehicle", Need::required, faults, [&](TableReader& in) {
    return model::Vehicle{in.id(), in.text("title"), {}};
  });
  mission.places = read_all<model::Place>(root, "place", Need::required, faults, [&](TableReader& in) {
    return model::Place{
        in.id(),
        in.text("title"),
        in.text("vehicle"),
        in.choice<model::PlaceState>("state", model::place_states, Need::optional, model::PlaceState::usable),
        in.text("until", Need::optional),
        {}};
  });
  mission.persons = read_all<model::Person>(root, "person", Need::required, faults,
                                            [&](TableReader& in) { return read_person(in, mission, launch, faults); });
  mission.day_kinds = read_all<model::DayKind>(root, "day_kind", Need::required, faults,
                                               [&](TableReader& in) { return read_day_kind(in); });
  mission.phases = read_all<model::Phase>(root, "phase", Need::required, faults, [&](TableReader& in) {
    return model::Phase{
        in.id(), in.text("title"), in.time("start", launch).value_or(mission.launch), in.text("kind"), {}};
  });
  mission.events = read_all<model::Event>(root, "event", Need::required, faults, [&](TableReader& in) {
    return model::Event{in.id(), in.text("title"), in.time("at", launch).value_or(mission.launch), in.text("kind"), {}};
  });
  mission.landing_days = read_all<model::LandingDay>(root, "landing_day", Need::required, faults, [&](TableReader& in) {
    return model::LandingDay{in.text("kind"), in.times("opportunities", launch), {}};
  });
  mission.equipment = read_all<model::EquipmentUnit>(root, "equipment", Need::optional, faults, [&](TableReader& in) {
    return model::EquipmentUnit{in.id(), in.text("title"), {}};
  });
  mission.methods = read_all<model::CountMethod>(root, "method", Need::required, faults, [&](TableReader& in) {
    return model::CountMethod{in.id(),
                              in.choice<model::CountKind>("kind", count_kinds, Need::required, model::CountKind::tally),
                              {},
                              in.texts("phases")};
  });
  mission.items = read_all<model::Item>(root, "item", Need::required, faults,
                                        [&](TableReader& in) { return read_item(in, faults); });
  mission.zones = read_all<model::Zone>(root, "zone", Need::optional, faults, read_zone);
  mission.gates = read_all<model::Gate>(root, "gate", Need::required, faults, [&](TableReader& in) {
    return model::Gate{
        in.id(), in.text("title"), in.text("event"), in.time("poll", launch).value_or(mission.launch), {}};
  });
  mission.sources = read_all<model::LogSource>(root, "source", Need::optional, faults,
                                               [&](TableReader& in) { return read_source(in, faults); });
  root.finish();

  ReferenceCheck(mission, faults).run();
  check_order(mission, faults);
  const auto is_error = [](const model::Diagnostic& d) { return d.severity == Severity::error; };
  if (std::none_of(faults.begin() + static_cast<std::ptrdiff_t>(faults_before), faults.end(), is_error)) {
    cross_check_flight_days(mission, faults);
  }
  return mission;
}

}  // namespace daywright::load
