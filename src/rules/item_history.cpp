#include "rules/item_history.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <utility>

#include "rules/decisions.h"
#include "rules/levels.h"

namespace daywright::rules {
namespace {

using model::Instant;
using Count = model::Merged<model::CountRow>;

/// Sigmas of a count that leave it to the count to decide, and to the arithmetic its digits.
constexpr double wide = 1e3;

/// Gathers the history of one item.
class Gatherer {
 public:
  Gatherer(const model::Mission& mission, const model::Item& item, const model::Facts& facts, Instant cutoff,
           const MadeFactor& made)
      : mission_(mission),
        item_(item),
        facts_(facts),
        cutoff_(cutoff),
        made_(made),
        direction_(item.sort == model::ItemSort::capacity ? -1 : 1) {}

  std::optional<CountedItem> run(const ReadCount& read) {
    take_counts(read);
    if (result_.counts.empty()) return std::nullopt;
    start_ = result_.counts.front()->row.when;
    ItemHistory& history = result_.history;
    history.start = in_days_of_flight(start_);
    history.now = in_days_of_flight(cutoff_);
    made_in_all_ = planned_use(mission_, item_, start_, cutoff_).make;
    take_plan();
    std::stable_sort(history.changes.begin(), history.changes.end(),
                     [](const auto& a, const auto& b) { return a.at < b.at; });
    take_repairs();
    for (const std::string& place : result_.places) history.places.push_back(start_of(place));
    size_leaks();
    return std::move(result_);
  }

 private:
  [[nodiscard]] double in_days_of_flight(Instant when) const { return model::in_days(when - mission_.launch); }

  [[nodiscard]] std::optional<std::size_t> index_of(const std::string& place) const {
    return index_in(result_.places, place);
  }

  void take_counts(const ReadCount& read) {
    for (const Count& count : facts_.counts) {
      if (count.row.item == item_.id && is_evidence(mission_, count.row, cutoff_)) result_.counts.push_back(&count);
    }
    std::stable_sort(result_.counts.begin(), result_.counts.end(),
                     [](const Count* a, const Count* b) { return a->row.when < b->row.when; });
    std::vector<std::string> biased;
    for (const Count* count : result_.counts) {
      const auto& row = count->row;
      if (!index_of(row.place)) result_.places.push_back(row.place);
      CountedValue value;
      value.at = in_days_of_flight(row.when);
      const CountReading reading = read(*count);
      value.value = reading.value;
      value.is_believed = reading.is_believed;
      value.sigma = sigma_of(mission_, item_, row.method);
      value.place = *index_of(row.place);
      if (const auto bias = item_.bias.find(row.method); bias != item_.bias.end()) {
        const auto known = std::find(biased.begin(), biased.end(), row.method);
        value.bias = static_cast<std::size_t>(known - biased.begin());
        if (known == biased.end()) {
          biased.push_back(row.method);
          result_.history.bias_sds.push_back(bias->second);
        }
      }
      if (reading.is_believed) {
        // Taken as it stands, whatever came before: something happened that nobody logged.
        result_.history.changes.push_back({value.at, {value.place, 0, 0, wide * value.sigma}});
      }
      result_.history.counts.push_back(value);
    }
  }

  /// Goes along the plan from cut to cut. A place gives what it has by its last count and no more: when it is empty the
  /// next one is drawn from, and that is no leak of the next one.
  void take_plan() {
    left_.assign(result_.places.size(), std::numeric_limits<double>::infinity());
    result_.up_to_now.resize(result_.places.size());
    result_.up_to_count.resize(result_.counts.size());
    std::set<Instant> cuts{start_, cutoff_};
    const auto add_cut = [&](Instant when) {
      if (when > start_ && when < cutoff_) cuts.insert(when);
    };
    const auto flight = stretches(mission_, start_, cutoff_);
    for (const auto& stretch : flight) add_cut(stretch.begin);
    for (const auto& event : mission_.events) add_cut(event.at);
    for (const Count* count : result_.counts) add_cut(count->row.when);
    for (const auto& fact : facts_.transfers) add_cut(fact.row.when);
    auto stretch = flight.begin();
    for (auto begin = cuts.begin(); begin != cuts.end(); ++begin) {
      // What happened at the start is in the first count.
      if (*begin > start_) {
        take_events_at(*begin);
        take_transfers_at(*begin);
      }
      for (std::size_t i = 0; i < result_.counts.size(); ++i) {
        const auto& row = result_.counts[i]->row;
        if (row.when != *begin) continue;
        left_[*index_of(row.place)] = usable_of(row.place, result_.history.counts[i].value);
        result_.up_to_count[i] = result_.up_to_now[*index_of(row.place)];
      }
      const auto next = std::next(begin);
      if (next == cuts.end()) break;
      while (stretch->end <= *begin) ++stretch;
      const double days = model::in_days(*next - *begin);
      const int crew = crew_aboard(mission_, item_.vehicle, *begin);
      PlannedSpan span{in_days_of_flight(*begin), in_days_of_flight(*next), {}};
      add_make(daily_make(mission_, item_, *stretch->kind, crew) * days, span.flows);
      charge(daily_draw(item_, *stretch->kind, crew) * days, *begin,
             [&](std::size_t place, double drawn) { span.flows.push_back({place, direction_ * drawn, 0, 0}); });
      result_.history.spans.push_back(std::move(span));
    }
  }

  /// What a place that holds `quantity` has to be drawn, or to be filled.
  [[nodiscard]] double usable_of(const std::string& place, double quantity) const {
    const double whole = direction_ < 0 ? model::amount_in(item_.capacity, place) - quantity : quantity;
    return whole - model::amount_in(item_.residual, place);
  }

  /// Charges a draw to the places in their order: to each as much as it has left, to the last one the rest. Of a place
  /// that was never counted nobody knows, so it ends the search.
  template <typename Charge>
  void charge(double draw, Instant when, const Charge& add) {
    const auto take = [&](std::size_t place, double taken) {
      add(place, taken);
      left_[place] -= taken;
      result_.up_to_now[place].drawn += taken;
    };
    std::optional<std::size_t> last;
    for (const auto& id : draw_order(mission_, item_, when)) {
      if (!(draw > 0)) return;
      if (!is_available(mission_, *model::find_by_id(mission_.places, id), when)) continue;
      last = index_of(id);
      if (!last) return;
      const double taken = std::min(draw, std::max(0.0, left_[*last]));
      if (taken > 0) take(*last, taken);
      draw -= taken;
    }
    if (draw > 0 && last) take(*last, draw);
  }

  void add_make(double make, std::vector<Flow>& flows) {
    const auto made_into = index_of(item_.made_into);
    if (make == 0 || !made_into) return;
    // The rate is off by the same all along, but the filter takes errors of parts that know nothing of each other. They
    // are widened so that they come to the same in the end, into whatever parts the flight is cut.
    const double sigma = made_.sd * std::sqrt(make * made_in_all_);
    flows.push_back({*made_into, 0, direction_ * make * made_.mean, sigma});
    left_[*made_into] += make;
    result_.up_to_now[*made_into].made += make;
  }

  /// Events are known steps: the use factor tells how people live from day to day, not how long a burn is.
  void take_events_at(Instant when) {
    const auto* from = item_.made_from.empty() ? nullptr : model::find_by_id(mission_.items, item_.made_from);
    for (const auto& event : mission_.events) {
      if (event.at != when) continue;
      std::vector<Flow> flows;
      if (from != nullptr) add_make(item_.made_ratio * event_draw(*from, event.kind), flows);
      double sigma = item_.event_sigma;  // of the whole event, so of the first place that gives
      charge(event_draw(item_, event.kind), when - model::Duration{1}, [&](std::size_t place, double drawn) {
        flows.push_back({place, 0, -direction_ * drawn, std::exchange(sigma, 0)});
      });
      for (const Flow& flow : flows) result_.history.changes.push_back({in_days_of_flight(when), flow});
    }
  }

  void take_transfers_at(Instant when) {
    for (const auto& fact : facts_.transfers) {
      const auto& row = fact.row;
      if (row.item != item_.id || row.state != model::TransferState::done || row.when != when) continue;
      const auto move = [&](const std::string& place, double quantity) {
        const auto index = index_of(place);
        if (!index) return;
        result_.history.changes.push_back({in_days_of_flight(when), {*index, 0, quantity, item_.transfer_sigma}});
        left_[*index] += direction_ * quantity;
        result_.up_to_now[*index].moved += quantity;
      };
      move(row.to_place, row.quantity);
      move(row.from_place, -row.quantity);
    }
  }

  void take_repairs() {
    for (const auto& fact : facts_.decisions) {
      const auto& row = fact.row;
      const auto* closed = std::get_if<model::LeakClosed>(&row.change);
      const Instant when = effective_from(row);
      const bool closes = closed != nullptr && closed->item == item_.id && !why_without_effect(fact, cutoff_);
      if (closes && when > start_) result_.history.repairs.push_back(in_days_of_flight(when));
    }
    std::sort(result_.history.repairs.begin(), result_.history.repairs.end());
  }

  /// What the place held at the start: its first count, carried back at plan.
  [[nodiscard]] ItemHistory::Level start_of(const std::string& place) const {
    const std::size_t index = *index_of(place);
    const auto& counts = result_.history.counts;
    const auto first =
        std::find_if(counts.begin(), counts.end(), [&](const CountedValue& c) { return c.place == index; });
    const PlaceUse& before = result_.up_to_count[static_cast<std::size_t>(first - counts.begin())];
    return {first->value - carry(item_, 0, before), wide * first->sigma};
  }

  /// A leak is sized by what is drawn on a mean day of the flight. What fills up, is changed out in whole units, or is
  /// used in events alone does not leak.
  void size_leaks() {
    if (item_.sort != model::ItemSort::stock || !has_daily_use(mission_, item_)) return;
    const Instant end = mission_.required_end();
    const PlannedUse use = planned_use(mission_, item_, mission_.launch, end);
    result_.history.daily_draw = use.draw / in_days_of_flight(end);
  }

  const model::Mission& mission_;
  const model::Item& item_;
  const model::Facts& facts_;
  Instant cutoff_;
  Instant start_;
  MadeFactor made_;
  double made_in_all_ = 0;    ///< at plan, over the whole history
  std::vector<double> left_;  ///< in each place at plan, of what can be drawn or filled
  double direction_;          ///< a capacity fills as it is used
  CountedItem result_;
};

}  // namespace

bool is_evidence(const model::Mission& mission, const model::CountRow& count, Instant cutoff) {
  if (count.when > cutoff) return false;
  const auto* method = model::find_by_id(mission.methods, count.method);
  if (method->kind == model::CountKind::derived) return false;
  if (method->phases.empty()) return true;
  const model::Phase* holds = nullptr;
  for (const auto& phase : mission.phases) {
    if (phase.start <= count.when) holds = &phase;
  }
  return holds != nullptr && std::find(method->phases.begin(), method->phases.end(), holds->id) != method->phases.end();
}

double sigma_of(const model::Mission& mission, const model::Item& item, const std::string& method) {
  const auto declared = item.sigma.find(method);
  const bool is_tally = model::find_by_id(mission.methods, method)->kind == model::CountKind::tally;
  // A value rounded to steps is off evenly by up to half a step; pieces are told one by one.
  const double finest = item.step * (is_tally ? 0.01 : 1 / std::sqrt(12.0));
  return std::max(finest, declared == item.sigma.end() ? 0 : declared->second);
}

std::optional<CountedItem> gather_history(const model::Mission& mission, const model::Item& item,
                                          const model::Facts& facts, Instant cutoff, const MadeFactor& made,
                                          const ReadCount& read) {
  return Gatherer(mission, item, facts, cutoff, made).run(read);
}

std::vector<CountedTotal> total_at_counts(const CountedItem& counted, const std::vector<std::string>& places) {
  const ItemHistory& history = counted.history;
  std::vector<double> levels(counted.places.size());
  std::vector<bool> is_counted(counted.places.size());
  std::vector<CountedTotal> totals;
  auto span = history.spans.begin();
  auto change = history.changes.begin();
  for (std::size_t i = 0; i < history.counts.size(); ++i) {
    const CountedValue& count = history.counts[i];
    for (; span != history.spans.end() && span->end <= count.at; ++span) {  // a count ends a span
      for (const Flow& flow : span->flows) levels[flow.place] += flow.make - flow.draw;
    }
    for (; change != history.changes.end() && change->at <= count.at; ++change)
      levels[change->flow.place] += change->flow.make - change->flow.draw;
    levels[count.place] = count.value;
    is_counted[count.place] = true;
    double total = 0;
    bool has_all = true;
    bool is_asked_for = false;
    for (const auto& place : places) {
      const auto index = index_in(counted.places, place);
      has_all = has_all && index && is_counted[*index];
      if (!has_all) break;
      is_asked_for = is_asked_for || *index == count.place;
      total += levels[*index];
    }
    if (has_all && is_asked_for) totals.push_back({total, i});
  }
  return totals;
}

std::optional<std::size_t> index_in(const std::vector<std::string>& places, const std::string& place) {
  const auto found = std::find(places.begin(), places.end(), place);
  if (found == places.end()) return std::nullopt;
  return static_cast<std::size_t>(found - places.begin());
}

PlaceUse CountedItem::since(std::size_t count) const {
  return up_to_now[*index_in(places, counts[count]->row.place)] - up_to_count[count];
}

double carry(const model::Item& item, double quantity, const PlaceUse& use) {
  const double drawn = use.drawn - use.made;
  return quantity + use.moved + (item.sort == model::ItemSort::capacity ? drawn : -drawn);
}

bool has_daily_use(const model::Mission& mission, const model::Item& item) {
  return std::any_of(mission.day_kinds.begin(), mission.day_kinds.end(),
                     [&](const model::DayKind& kind) { return daily_draw(item, kind, 1) > 0; });
}

}  // namespace daywright::rules
