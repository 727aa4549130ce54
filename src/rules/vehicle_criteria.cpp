// Criteria on what is read off and logged of vehicle and crew: equipment, readings, rest, sorties.

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "rules/criteria.h"

namespace daywright::rules {
namespace {

using model::Instant;
using model::Log;

/// The newest fact of those for which `is_meant` holds; facts come in order of key and time. Null: none.
template <class Row, class IsMeant>
const model::Merged<Row>* find_newest(const std::vector<model::Merged<Row>>& facts, const IsMeant& is_meant) {
  const auto found = std::find_if(facts.rbegin(), facts.rend(), [&](const auto& fact) { return is_meant(fact.row); });
  return found == facts.rend() ? nullptr : &*found;
}

/// Hours of a log of spans that lie between two instants; of spans that overlap each hour counts once.
double hours_between(std::vector<std::pair<Instant, Instant>> spans, Instant from, Instant to) {
  std::sort(spans.begin(), spans.end());
  double hours = 0;
  Instant counted = from;
  for (const auto& [begin, end] : spans) {
    const Instant first = std::max(begin, counted);
    const Instant last = std::min(end, to);
    if (last > first) hours += model::in_days(last - first) * 24;
    counted = std::max(counted, last);
  }
  return hours;
}

bool is_one_of(const std::vector<std::string>& list, const std::string& text) {
  return std::find(list.begin(), list.end(), text) != list.end();
}

/// Whatever the locale is; bytes of other scripts count as letters.
bool is_letter_or_digit(char c) {
  const auto byte = static_cast<unsigned char>(c);
  return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || byte >= 0x80;
}

/// Whether `name` stands in `text` as a word of its own.
bool names(const std::string& text, const std::string& name) {
  const auto is_part_of_word = [&](std::size_t i) { return i < text.size() && is_letter_or_digit(text[i]); };
  for (auto at = text.find(name); at != std::string::npos; at = text.find(name, at + 1)) {
    if ((at == 0 || !is_part_of_word(at - 1)) && !is_part_of_word(at + name.size())) return true;
  }
  return false;
}

/// The anomalies whose names stand in `text`.
std::vector<const model::Merged<model::AnomalyRow>*> find_named_anomalies(const model::Facts& facts,
                                                                          const std::string& text) {
  std::vector<const model::Merged<model::AnomalyRow>*> named;
  for (const auto& fact : facts.anomalies) {
    if (names(text, fact.row.anomaly)) named.push_back(&fact);
  }
  return named;
}

const std::string& title_of(const model::Mission& mission, const std::string& unit) {
  const auto* declared = model::find_by_id(mission.equipment, unit);
  return declared == nullptr ? unit : declared->title;
}

constexpr double hair = 1e-9;  // hours and converted readings: their last binary digits are noise

}  // namespace

CriterionResult judge(const model::Criterion& criterion, const model::EquipmentCriterion& demand, const model::Gate&,
                      const Grounds& grounds) {
  Case c;
  int working = 0;
  std::vector<std::pair<std::string, std::vector<Doubt>>> unknown;
  for (const auto& unit : demand.units) {
    const std::string& title = title_of(grounds.mission, unit);
    std::vector<Doubt> of_unit = doubts_about(grounds.facts, Log::equipment, unit);
    const auto* fact =
        find_newest(grounds.facts.equipment, [&](const model::EquipmentRow& row) { return row.unit == unit; });
    if (fact == nullptr) {
      of_unit.push_back({fmt::format("{} was never reported", title), criterion.source});
    } else {
      add_conflicts(*fact, "the state of " + title, of_unit);
      c.holds(title, fact->row.state, fact->row.from.source);
    }
    const bool is_conditional = fact != nullptr && is_one_of(demand.on_condition, fact->row.state);
    const bool works = fact != nullptr && (is_conditional || is_one_of(demand.works_in, fact->row.state));
    if (!of_unit.empty()) {
      // A unit that is known to have failed stays failed, whatever else is in doubt.
      if (fact == nullptr || works) unknown.emplace_back(unit, std::move(of_unit));
    } else if (works) {
      ++working;
      if (is_conditional) c.on_condition(fmt::format("{} is {}", title, fact->row.state), title + " working again");
    }
  }
  const int wanted = demand.needed + demand.spare;
  const std::string what = fmt::format("{} of {} units work, {} needed{}", working, demand.units.size(), demand.needed,
                                       demand.spare > 0 ? fmt::format(" and {} to spare", demand.spare) : "");
  if (working + static_cast<int>(unknown.size()) < wanted) c.fails(what);
  c.measures(working, false);
  if (working < wanted)
    for (const auto& [unit, doubts] : unknown) c.doubt(doubts, unit);
  return c.close(criterion, "units in a working state, the needed ones and those to spare; the log is closed", what);
}

CriterionResult judge(const model::Criterion& criterion, const model::ReadingCriterion& demand, const model::Gate&,
                      const Grounds& grounds) {
  Case c;
  c.doubt(doubts_about(grounds.facts, Log::readings, demand.reading), demand.reading);
  const auto* fact =
      find_newest(grounds.facts.readings, [&](const model::ReadingRow& row) { return row.what == demand.reading; });
  if (fact == nullptr) {
    c.lacks(fmt::format("{} was never read", demand.reading), demand.reading);
    return c.close(criterion, "the newest reading lies between its limits", {});
  }
  const auto& row = fact->row;
  std::vector<Doubt> doubts;
  add_conflicts(*fact, "the reading of " + demand.reading, doubts);
  c.doubt(doubts, demand.reading);
  const model::Unit* unit = model::find_unit(row.unit);
  std::string shown = fmt::format("{} is {:g} {}", demand.reading, row.quantity, row.unit);
  c.holds("reading", shown + " at " + model::format_utc(row.when), row.from.source);
  const auto limit = [&](const char* words, double value) {
    return fmt::format("{}, {} {:g} {} wanted", shown, words, value, demand.unit->spelling);
  };
  if (unit == nullptr || demand.unit == nullptr || unit->dimension != demand.unit->dimension) {
    c.lacks(fmt::format("{} is not in a unit that the limit converts to", demand.reading), demand.reading);
  } else {
    const double value = model::convert(row.quantity, *unit, *demand.unit);
    const double slack = hair * std::max(1.0, std::abs(value));
    if (demand.at_least && value < *demand.at_least - slack) c.fails(limit("at least", *demand.at_least));
    const bool is_high = demand.at_most && value > *demand.at_most + slack;
    if (is_high) c.fails(limit("at most", *demand.at_most));
    c.measures(value, is_high);
  }
  const double age = model::in_days(grounds.cutoff - row.when) * 24;
  if (age > demand.max_age_hours + hair)
    c.lacks(fmt::format("{} was read {:.0f} h ago, limit {:g} h", demand.reading, std::ceil(age), demand.max_age_hours),
            demand.reading);
  return c.close(criterion, "the newest reading lies between its limits and is fresh at the cut-off", shown);
}

RestHours rest_of(const std::string& person, const model::RestCriterion& demand, const model::Facts& facts,
                  Instant cutoff) {
  const Instant from = cutoff - model::from_days(demand.within_hours / 24);
  std::vector<std::pair<Instant, Instant>> sleep;
  std::vector<std::pair<Instant, Instant>> duty;
  for (const auto& fact : facts.crew) {
    const auto& row = fact.row;
    if (row.person == person && row.end > from) (row.is_sleep ? sleep : duty).emplace_back(row.begin, row.end);
  }
  RestHours hours;
  if (!sleep.empty()) hours.slept = hours_between(sleep, from, cutoff);
  if (!duty.empty()) hours.on_duty = hours_between(duty, from, cutoff);
  return hours;
}

CriterionResult judge(const model::Criterion& criterion, const model::RestCriterion& demand, const model::Gate&,
                      const Grounds& grounds) {
  // Hours by name stay out of what is said: reasons count persons, traces lead to the rows.
  Case c;
  const Instant from = grounds.cutoff - model::from_days(demand.within_hours / 24);
  std::size_t unmet = 0;
  std::size_t unknown = 0;
  std::vector<Doubt> doubts;
  for (const auto& person : demand.persons) {
    const RestHours hours = rest_of(person, demand, grounds.facts, grounds.cutoff);
    std::vector<Doubt> of_person = doubts_about(grounds.facts, Log::crew, person);
    for (const auto& fact : grounds.facts.crew) {
      const auto& row = fact.row;
      if (row.person != person || row.end <= from) continue;
      add_conflicts(fact, "a span of sleep or duty", of_person);
      c.holds(row.is_sleep ? "a span of sleep" : "a span of duty", "counted", row.from.source);
    }
    const bool is_over = demand.duty_hours && hours.on_duty > *demand.duty_hours + hair;
    if ((hours.slept && *hours.slept < demand.sleep_hours - hair) || is_over) {
      ++unmet;
    } else if (!hours.slept || (demand.duty_hours && !hours.on_duty) || !of_person.empty()) {
      ++unknown;
      doubts.insert(doubts.end(), of_person.begin(), of_person.end());
    }
  }
  const std::size_t all = demand.persons.size();
  if (unmet > 0) c.fails(fmt::format("not met by {} of {}", unmet, all));
  c.measures(static_cast<double>(unmet), true);
  if (unknown > 0 && doubts.empty()) c.lacks(fmt::format("nothing logged for {} of {}", unknown, all), "crew");
  c.doubt(doubts, "crew");
  return c.close(
      criterion,
      fmt::format("each person slept at least {:g} h{} in the {:g} h before the cut-off; the log is closed",
                  demand.sleep_hours,
                  demand.duty_hours ? fmt::format(" and was at most {:g} h on duty", *demand.duty_hours) : "",
                  demand.within_hours),
      fmt::format("met by all {}", all));
}

CriterionResult judge(const model::Criterion& criterion, const model::SortieCriterion& demand, const model::Gate&,
                      const Grounds& grounds) {
  Case c;
  for (const auto& sortie : demand.sorties) {
    c.doubt(doubts_about(grounds.facts, Log::sorties, sortie), sortie);
    bool has_period = false;
    for (const auto& fact : grounds.facts.sorties) {
      const auto& row = fact.row;
      if (row.sortie != sortie) continue;
      std::vector<Doubt> doubts;
      add_conflicts(fact, sortie, doubts);
      c.doubt(doubts, sortie);
      if (!row.is_period) {
        c.holds(row.hardware, fmt::format("{:g} out, {:g} back, {:g} left on purpose", row.out, row.back, row.left),
                row.from.source);
        const double lost = row.out - row.back - row.left;
        if (lost <= hair) continue;
        const std::string what = fmt::format("{}: {:g} {} lost", sortie, lost, row.hardware);
        // From here on the verdict rests on the anomalies, and on what their log does not say.
        c.doubt(doubts_about(grounds.facts, Log::anomalies, {}), sortie);
        const auto named = find_named_anomalies(grounds.facts, row.from.remark);
        if (named.empty()) c.fails(what + ", and its remark names no anomaly of the log");
        for (const auto* anomaly : named) {
          std::vector<Doubt> told_in_two_ways;
          add_conflicts(*anomaly, "anomaly " + anomaly->row.anomaly, told_in_two_ways);
          c.doubt(told_in_two_ways, sortie);
          if (anomaly->row.state == model::AnomalyState::open)
            c.on_condition(fmt::format("{}, see {}", what, anomaly->row.anomaly), anomaly->row.anomaly + " closed");
        }
        continue;
      }
      has_period = true;
      if (!row.depressurised || !row.repressurised) {
        c.lacks(fmt::format("{} has no end yet", sortie), sortie);
        continue;
      }
      const double minutes = model::in_days(*row.repressurised - *row.depressurised) * 24 * 60;
      c.holds(sortie, fmt::format("{:.0f} min", minutes), row.from.source);
      if (demand.max_minutes && minutes > *demand.max_minutes + hair)
        c.fails(fmt::format("{} took {:.0f} min, at most {:g} wanted", sortie, std::ceil(minutes - hair),
                            *demand.max_minutes));
    }
    if (!has_period) c.lacks(fmt::format("{} is not logged", sortie), sortie);
  }
  return c.close(criterion, "each sortie over within its time, all hardware back or left on purpose; the log is closed",
                 fmt::format("{} over, all hardware accounted for", demand.sorties.size()));
}

}  // namespace daywright::rules
