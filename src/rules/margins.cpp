#include "rules/margins.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <deque>
#include <limits>

#include "rules/assurance.h"
#include "rules/course.h"
#include "rules/item_plan.h"
#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Instant;

constexpr double far = 36500;  // days: beyond any flight, within what an instant can hold

/// A stock that lasts exactly to the required end is not short: the last binary digits of a long sum are noise.
/// The same share of a step as in rounding, so that the verdict is that of the figure that is shown.
double without_noise(double margin, double step) { return std::abs(margin) < step * 1e-9 ? 0 : margin; }

/// When the margin falls below zero between two waypoints; it runs straight from `before` to `now`.
Instant crossing(const Waypoint& before, double margin_before, const Waypoint& now, double margin_now) {
  const double share = margin_before > 0 ? margin_before / (margin_before - margin_now) : 0;
  return before.at + model::from_days(share * model::in_days(now.at - before.at));
}

/// The smallest of `margins`, one for each waypoint. `daily` is the net use that turns units into days.
Margin smallest_margin(const ItemPlan& plan, const std::vector<Waypoint>& way, const std::vector<double>& margins,
                       double daily) {
  Margin margin;
  for (std::size_t i = 0; i < way.size(); ++i) {
    const Waypoint& here = way[i];
    const double units = without_noise(margins[i], plan.item->step);
    if (i == 0 || units < margin.units) {
      margin.units = units;
      margin.at = here.at;
      margin.phase = here.phase;
      margin.drawn = here.drawn;
      margin.leaked = here.leaked;
      margin.made = here.made;
      margin.moved = here.moved;
      margin.held = here.held;
      margin.width = here.margin() - margins[i];
      margin.waypoint = i;
    }
    if (units < 0 && !margin.first_short)
      margin.first_short = i == 0 ? here.at : crossing(way[i - 1], margins[i - 1], here, units);
  }
  margin.usable = way.front().usable;
  constexpr double nothing = 1e-12;
  const auto& per_event = plan.item->per_event;
  if (daily > nothing) {
    margin.days = margin.units / daily;
  } else if (per_event.size() == 1 && per_event.begin()->second > 0) {
    margin.events = margin.units / per_event.begin()->second;
  }
  return margin;
}

/// How long what is covered lasts follows from its days past the required end.
void find_through(const ItemPlan& plan, Margin& margin) {
  margin.through = margin.first_short ? *margin.first_short
                                      : plan.end + model::from_days(margin.days ? std::min(*margin.days, far) : far);
}

double leak_per_day(const Course& course) {
  double leak = 0;
  for (const auto& start : course.starts) leak += start.leak;
  return leak;
}

double daily_use(const ItemPlan& plan, const Course& course) {
  return course.factor * plan.last_draw - course.made_factor * plan.last_make + leak_per_day(course);
}

std::vector<double> margins_along(const std::vector<Waypoint>& way) {
  std::vector<double> margins;
  for (const auto& here : way) margins.push_back(here.margin());
  return margins;
}

Margin expected_margin(const ItemPlan& plan, const Course& course) {
  const auto way = follow(plan, course);
  const auto margins = margins_along(way);
  Margin margin = smallest_margin(plan, way, margins, daily_use(plan, course));
  find_through(plan, margin);
  return margin;
}

/// What is taken for true while margins are worked out: one reading of the counts, with or without a leak.
struct Assumption {
  const CountsRead* read = nullptr;
  const LevelEstimate* estimate = nullptr;
  std::vector<Course::Start> starts = {};  ///< as expected
  double factor = 1;                       ///< likewise
};

Assumption make_assumption(const ItemLevel& level, const CountsRead& read, const LevelEstimate& estimate, bool leaks) {
  Assumption assumed{&read, &estimate};
  for (const auto& place : level.places) {
    const std::size_t index = *read.index_of(place.place->id);
    double leak = 0;
    for (const auto& [onset, weight, state] : estimate.explanations) {
      if (leaks && onset && onset->place == index) leak += weight * state.mean[estimate.layout.leak()];
    }
    assumed.starts.push_back({place.place->id, expected(estimate, index, leaks), place.use.drawn, std::max(0.0, leak)});
  }
  // A stock that seems to grow by being used is noise or an unlogged transfer: never better than no use at all.
  assumed.factor = std::max(0.0, expected(estimate, estimate.layout.factor(), leaks));
  return assumed;
}

Course course_of(const ItemLevel& level, const Assumption& assumed, model::Basis basis) {
  Course course;
  course.starts = assumed.starts;
  if (basis == model::Basis::plan) return course;
  course.made_factor = level.made.mean;
  course.factor = assumed.factor;
  return course;
}

/// The margin that is there with the chance `assurance`, and what belongs to the same forecast.
class AssuredMargin {
 public:
  AssuredMargin(const ItemLevel& level, const ItemPlan& plan, const Assumption& assumed, double assurance)
      : plan_(plan),
        course_(course_of(level, assumed, model::Basis::assured)),
        way_(follow(plan, course_, Turnover::kept)),
        forecast_(plan, *assumed.read, *assumed.estimate, level.made, way_),
        short_chance_(1 - assurance / 100),
        whole_piece_(level.comes_in_pieces ? 1 : 0) {}
  AssuredMargin(const AssuredMargin&) = delete;  // the forecast goes along the way beside it
  AssuredMargin(AssuredMargin&&) = delete;
  AssuredMargin& operator=(const AssuredMargin&) = delete;
  AssuredMargin& operator=(AssuredMargin&&) = delete;
  ~AssuredMargin() = default;

  [[nodiscard]] Margin find() const {
    const std::vector<double> margins = find_margins();
    Margin margin = smallest_margin(plan_, way_, margins, daily_use(plan_, course_));
    // Days on, it is the end that runs short, also where the margin is smallest before it: whichever comes sooner.
    if (margin.days && margin.is_covered()) margin.days = std::min(*margin.days, days_past_end());
    find_through(plan_, margin);
    return margin;
  }

  /// The margin at every waypoint.
  [[nodiscard]] std::vector<double> all_margins() const {
    std::vector<double> margins;
    for (std::size_t i = 0; i < way_.size(); ++i) margins.push_back(margin_at(i));
    return margins;
  }

  /// What can be used at a waypoint: the value that the margin counts on, the middle one, and the one as far above it.
  struct Usable {
    double low = 0;
    double middle = 0;
    double high = 0;
  };
  [[nodiscard]] Usable usable_at(std::size_t waypoint) const {
    const auto usable = forecast_.usable_at(waypoint);
    return {margin_at(waypoint, usable) + way_[waypoint].held, quantile_of(usable, 0.5),
            quantile_of(usable, 1 - short_chance_)};
  }
  /// The same around what is expected in place of the middle, which is there already, as fine as can be shown.
  [[nodiscard]] Usable usable_around(std::size_t waypoint) const {
    constexpr double of_step = 1e-3;
    const auto usable = forecast_.usable_at(waypoint);
    const double enough = of_step * plan_.item->step;
    return {margin_at(waypoint, usable, enough) + way_[waypoint].held, way_[waypoint].usable,
            quantile_of(usable, 1 - short_chance_, enough)};
  }

  [[nodiscard]] const Forecast& forecast() const { return forecast_; }
  [[nodiscard]] const std::vector<Waypoint>& way() const { return way_; }

 private:
  /// Of what comes in pieces there is a whole number: the normal distribution stands for the pieces around its mean,
  /// each with half a piece on either side.
  [[nodiscard]] double margin_at(std::size_t waypoint) const {
    return margin_at(waypoint, forecast_.usable_at(waypoint));
  }
  [[nodiscard]] double margin_at(std::size_t waypoint, const std::vector<WeightedNormal>& usable,
                                 double enough = 0) const {
    const double margin = quantile_of(usable, short_chance_, enough) - way_[waypoint].held;
    return whole_piece_ > 0 ? std::floor(margin / whole_piece_ + 0.5) * whole_piece_ : margin;
  }

  /// The margin at every waypoint at which it can be the smallest, and a number above all of them at the others. Where
  /// the smallest is below zero, also at the first waypoint that is, and at the one before it.
  [[nodiscard]] std::vector<double> find_margins() const {
    struct Candidate {
      std::size_t waypoint;
      double guess;
      double least;
    };
    // Cantelli's inequality: no distribution with this mean and deviation has a lower quantile.
    const double farthest = std::sqrt((1 - short_chance_) / short_chance_);
    std::vector<Candidate> candidates;
    for (std::size_t i = 0; i < way_.size(); ++i) {
      const auto [mean, sd] = forecast_.moments_at(i);
      constexpr double usual = 1.645;  // where the quantile of a single normal distribution is
      candidates.push_back({i, mean - usual * sd - way_[i].held, mean - farthest * sd - way_[i].held - whole_piece_});
    }
    std::stable_sort(candidates.begin(), candidates.end(),
                     [](const auto& a, const auto& b) { return a.guess < b.guess; });
    std::vector<double> margins(way_.size(), std::numeric_limits<double>::infinity());
    double smallest = margins.front();
    for (const auto& [waypoint, guess, least] : candidates) {
      if (least > smallest) continue;
      // To know that a quantile is above a value takes one look at the chance of lying below that value.
      const double known = smallest + way_[waypoint].held + whole_piece_;
      if (std::isfinite(smallest) && chance_below(forecast_.usable_at(waypoint), known) < short_chance_) continue;
      margins[waypoint] = margin_at(waypoint);
      smallest = std::min(smallest, margins[waypoint]);
    }
    if (smallest < 0) find_first_short(margins);
    return margins;
  }

  void find_first_short(std::vector<double>& margins) const {
    for (std::size_t i = 0; i < way_.size(); ++i) {
      constexpr double hair = 1e-6;  // of the chance: the margin itself decides
      const double zero = way_[i].held - whole_piece_ / 2;
      if (chance_below(forecast_.usable_at(i), zero) < short_chance_ * (1 - hair)) continue;
      margins[i] = margin_at(i);
      if (!(margins[i] < 0)) continue;
      if (i > 0) margins[i - 1] = margin_at(i - 1);
      return;
    }
  }

  /// When the chance of being short reaches what is allowed. By the time at which nothing is left on average it has,
  /// unless counts that rise make it fall with time.
  [[nodiscard]] double days_past_end() const {
    const auto excess = [&](double days) {
      return chance_below(forecast_.usable_after_end(days), plan_.held_at_end) - short_chance_;
    };
    double covered = 0;
    double covered_by = excess(covered);
    if (covered_by > 0) return covered;
    double too_late = std::max(0.0, way_.back().margin() / daily_use(plan_, course_));
    double late_by = excess(too_late);
    while (too_late < far && late_by < 0) {
      too_late = 2 * too_late + 1;
      late_by = excess(too_late);
    }
    // The secant where it closes in quickly, halving where it does not (Dekker's method, from memory).
    constexpr double precise = 1e-4;  // days: what is shown is a thousand times coarser
    for (bool halve = false; too_late - covered > precise; halve = !halve) {
      double next = covered + (too_late - covered) / 2;
      if (!halve && late_by > covered_by) next = covered - covered_by * (too_late - covered) / (late_by - covered_by);
      // Half a step inside, so that both ends come in.
      next = std::clamp(next, covered + precise / 2, too_late - precise / 2);
      const double now = excess(next);
      if (now > 0) {
        too_late = next;
        late_by = now;
      } else {
        covered = next;
        covered_by = now;
      }
    }
    return covered;
  }

  const ItemPlan& plan_;
  Course course_;
  std::vector<Waypoint> way_;
  Forecast forecast_;
  double short_chance_;
  double whole_piece_;  ///< 0: it comes in any amount
};

/// The count, of those that can be made, that takes most off the deviation of what can be used at `waypoint`.
std::optional<Recount> best_recount(const model::Mission& mission, const ItemLevel& level, const CountsRead& read,
                                    const Forecast& forecast, std::size_t waypoint) {
  std::optional<Recount> best;
  for (const auto& place : level.places) {
    const auto index = read.index_of(place.place->id);
    if (!index) continue;
    for (const auto& [method, declared] : level.item->sigma) {
      if (model::find_by_id(mission.methods, method)->kind == model::CountKind::derived) continue;
      // An error that all counts of this way share is no news: it is left in.
      const auto bias = level.item->bias.find(method);
      const double bias_sd = bias == level.item->bias.end() ? 0 : bias->second;
      const double sigma = sigma_of(mission, *level.item, method);
      const double after = forecast.sd_after_count(waypoint, *index, sigma * sigma + bias_sd * bias_sd);
      if (!best || after < best->sd_after) best = Recount{place.place, method, forecast.moments_at(waypoint).sd, after};
    }
  }
  return best;
}

/// The margins of one item.
class ItemJudge {
 public:
  ItemJudge(const model::Mission& mission, const model::MarginRules& rules, const std::vector<Stretch>& flight,
            const model::Facts& facts, const ItemLevel& level, Instant cutoff, const PlanChoice& choice)
      : mission_(mission),
        rules_(rules),
        flight_(flight),
        facts_(facts),
        level_(level),
        cutoff_(cutoff),
        choice_(choice) {
    for (const auto& event : mission.events) {
      const bool ends_a_place = std::any_of(mission.places.begin(), mission.places.end(),
                                            [&](const auto& place) { return place.until == event.id; });
      if (ends_a_place && event.at > cutoff && event.at < mission.required_end()) partings_.push_back(&event);
    }
    std::stable_sort(partings_.begin(), partings_.end(), [](const auto* a, const auto* b) { return a->at < b->at; });
    const auto same = [](const auto* a, const auto* b) { return a->at == b->at; };
    partings_.erase(std::unique(partings_.begin(), partings_.end(), same), partings_.end());
  }

  ItemMargins run(Detail detail) {
    margins_.level = &level_;
    margins_.assurance = rules_.assurance;
    const model::Item& item = *level_.item;
    const auto* kind = model::find_by_id(mission_.day_kinds, mission_.margin_kind);
    const int crew = crew_aboard(mission_, item.vehicle, mission_.required_end());
    margins_.daily = daily_draw(item, *kind, crew) - daily_make(mission_, item, *kind, crew);
    if (!level_.is_complete || level_.reads.empty() || cutoff_ > mission_.required_end()) return margins_;
    const ItemPlan plan = plan_item(mission_, flight_, item, facts_, choice_, cutoff_);
    for (const CountsRead& read : level_.reads) weigh(plan, read);
    margins_.assured_read = taken_[static_cast<std::size_t>(model::Basis::assured)].read;
    find_governing();
    if (detail == Detail::everything) find_details(plan);
    return std::move(margins_);
  }

 private:
  /// One reading of the counts; where a leak is likely enough to be shown, as if it were there.
  Assumption assume(const CountsRead& read) {
    if (!rules::shows_leak(rules_, read.estimate)) return make_assumption(level_, read, read.estimate, false);
    return make_assumption(level_, read, split_.emplace_back(*given_leak(read.estimate, true)), true);
  }

  [[nodiscard]] Margin margin_on(model::Basis basis, const ItemPlan& plan, const Assumption& assumed) const {
    if (basis == model::Basis::assured) return AssuredMargin(level_, plan, assumed, rules_.assurance).find();
    return expected_margin(plan, course_of(level_, assumed, basis));
  }

  void weigh(const ItemPlan& plan, const CountsRead& read) {
    const Assumption assumed = assume(read);
    const auto take = [&](model::Basis basis, std::optional<Margin>& worst) {
      Margin margin = margin_on(basis, plan, assumed);
      if (&read == &level_.reads.front()) merged_worst_ = margin.waypoint;
      if (worst && !is_tighter(margin, *worst)) return;
      worst = std::move(margin);
      taken_[static_cast<std::size_t>(basis)] = assumed;
    };
    take(model::Basis::plan, margins_.plan);
    if (is_measured(level_)) take(model::Basis::measured, margins_.measured);
    // An item with a ledger has its uncertainty there, line by line.
    if (level_.item->ledger.empty()) take(model::Basis::assured, margins_.assured);  // last: its waypoint is wanted
  }

  void find_governing() {
    bool has_all = true;
    for (const model::Basis basis : rules_.bases) {
      if (basis == model::Basis::assured && !level_.item->ledger.empty()) continue;
      const auto& margin = margins_.on(basis);
      if (!margin) {
        has_all = false;
        margins_.gaps.emplace_back("too few counts for a measured rate");
      } else if (!margins_.governing || is_tighter(*margin, *margins_.governing)) {
        margins_.governing = margin;
        margins_.governing_basis = basis;
        margins_.reading = taken_[static_cast<std::size_t>(basis)].read->how;
      }
    }
    if (!has_all) margins_.governing.reset();
  }

  void find_details(const ItemPlan& plan) {
    const CountsRead& merged = level_.reads.front();
    if (margins_.governing) find_by_configuration(plan);
    if (!level_.item->ledger.empty()) return find_with_transfers();
    find_leak(plan, merged);
    // Where no leak is shown, this is what the assured margin rests on already.
    const AssuredMargin assured(level_, plan, make_assumption(level_, merged, merged.estimate, false),
                                rules_.assurance);
    const std::size_t worst = margins_.shows_leak ? assured.find().waypoint : merged_worst_;
    margins_.lasts_chance = 1 - chance_below(assured.forecast().usable_at(worst), assured.way()[worst].held);
    if (const auto tight = given_leak(merged.estimate, false))
      margins_.sd = Forecast(plan, merged, *tight, level_.made, assured.way()).moments_at(worst).sd;
    margins_.recount = best_recount(mission_, level_, merged, assured.forecast(), worst);
    find_with_transfers();
  }

  void find_by_configuration(const ItemPlan& plan) {
    const Assumption& assumed = taken_[static_cast<std::size_t>(margins_.governing_basis)];
    if (margins_.governing_basis == model::Basis::assured) {
      const AssuredMargin assured(level_, plan, assumed, rules_.assurance);
      split_by_configuration(assured.way(), assured.all_margins());
    } else {
      const auto way = follow(plan, course_of(level_, assumed, margins_.governing_basis));
      split_by_configuration(way, margins_along(way));
    }
  }

  /// Of two waypoints at the instant of a parting the first still belongs to what was before.
  void split_by_configuration(const std::vector<Waypoint>& way, const std::vector<double>& margins) {
    auto& parts = margins_.by_configuration;
    parts.push_back({nullptr, margins.front(), way.front().at});
    auto next = partings_.begin();
    for (std::size_t i = 0; i < way.size(); ++i) {
      if (next != partings_.end() && (way[i].at > (*next)->at || (i > 0 && way[i - 1].at == (*next)->at))) {
        parts.push_back({*next, margins[i], way[i].at});
        ++next;
      }
      if (margins[i] < parts.back().units) parts.back() = {parts.back().from, margins[i], way[i].at};
    }
    for (auto& part : parts) part.units = without_noise(part.units, level_.item->step);
  }

  void find_with_transfers() {
    if (!margins_.governing) return;
    PlanChoice all_in = choice_;
    all_in.all_in = true;
    const ItemPlan with = plan_item(mission_, flight_, *level_.item, facts_, all_in, cutoff_);
    margins_.with_transfers =
        margin_on(margins_.governing_basis, with, taken_[static_cast<std::size_t>(margins_.governing_basis)]);
  }

  void find_leak(const ItemPlan& plan, const CountsRead& merged) {
    margins_.leak_chance = merged.estimate.leak_chance();
    const auto leaking = given_leak(merged.estimate, true);
    if (!leaking) return;
    margins_.leak_rate = mean_of(leaking->leak());
    const auto likeliest = std::max_element(leaking->explanations.begin(), leaking->explanations.end(),
                                            [](const auto& a, const auto& b) { return a.weight < b.weight; });
    const double since = likeliest->onset->from + (likeliest->onset->to - likeliest->onset->from) / 2;
    margins_.leak_since = std::chrono::floor<std::chrono::minutes>(mission_.launch + model::from_days(since));
    margins_.shows_leak = rules::shows_leak(rules_, merged.estimate);
    if (!margins_.shows_leak || !margins_.governing) return;
    const LevelEstimate& tight = split_.emplace_back(*given_leak(merged.estimate, false));
    margins_.without_leak = margin_on(margins_.governing_basis, plan, make_assumption(level_, merged, tight, false));
  }

  const model::Mission& mission_;
  const model::MarginRules& rules_;
  const std::vector<Stretch>& flight_;
  const model::Facts& facts_;
  const ItemLevel& level_;
  Instant cutoff_;
  const PlanChoice& choice_;
  std::vector<const model::Event*> partings_;  ///< at which places go, in order of time
  std::size_t merged_worst_ = 0;               ///< the waypoint of the assured margin of the counts as merged
  std::deque<LevelEstimate> split_;  ///< estimates that take a leak, or none, for true; they stay where they are
  std::array<Assumption, 3> taken_;  ///< by basis: what its margin rests on
  ItemMargins margins_;
};

/// The first item with the tightest margin of those that `margin_of` gives; what lasts and is not used by the day
/// limits nothing.
template <class MarginOf>
const ItemMargins* find_tightest(const std::vector<ItemMargins>& margins, const MarginOf& margin_of) {
  const ItemMargins* tightest = nullptr;
  for (const ItemMargins& item : margins) {
    const std::optional<Margin>& margin = margin_of(item);
    if (!margin || (!margin->days && margin->is_covered())) continue;
    if (tightest == nullptr || is_tighter(*margin, *margin_of(*tightest))) tightest = &item;
  }
  return tightest;
}

/// What usable at a waypoint leaves on board: what can't be drawn lies below it; what fills up is full without it.
class LevelScale {
 public:
  LevelScale(const ItemPlan& plan, Instant as_of) : sign_(plan.fills_up() ? -1 : 1) {
    for (const auto& place : plan.places) {
      if (place.is_available(as_of)) base_ += plan.fills_up() ? place.capacity - place.residual : place.residual;
    }
  }
  [[nodiscard]] double level(double usable) const { return base_ + sign_ * usable; }

 private:
  double sign_;
  double base_ = 0;
};

ItemPlan plan_ahead(const model::Mission& mission, const model::Facts& facts, const ItemMargins& margins,
                    Instant cutoff, const PlanChoice& choice, const std::vector<Instant>& also_cut_at) {
  return plan_item(mission, stretches(mission, cutoff, mission.required_end()), *margins.level->item, facts, choice,
                   cutoff, also_cut_at);
}

/// What will be on board at each waypoint, with what the assured margin leaves on either side.
class WayAhead {
 public:
  WayAhead(const model::MarginRules& rules, const ItemMargins& margins, ItemPlan plan)
      : plan_(std::move(plan)),
        has_band_(margins.assured.has_value()),
        read_(margins.assured_read != nullptr ? *margins.assured_read : margins.level->reads.front()),
        leaks_(shows_leak(rules, read_.estimate)),
        leaking_(leaks_ ? given_leak(read_.estimate, true) : std::nullopt),
        assured_(*margins.level, plan_,
                 make_assumption(*margins.level, read_, leaking_ ? *leaking_ : read_.estimate, leaks_),
                 rules.assurance) {}

  [[nodiscard]] const std::vector<Waypoint>& way() const { return assured_.way(); }

  /// Between the quantiles, and with the middle one.
  [[nodiscard]] model::LevelAhead level_at(std::size_t i) const {
    const double usable = way()[i].usable;
    return on_board(i, has_band_ ? assured_.usable_at(i) : AssuredMargin::Usable{usable, usable, usable});
  }
  /// Between the same, and with what is expected. Requires a band.
  [[nodiscard]] model::LevelAhead expected_at(std::size_t i) const { return on_board(i, assured_.usable_around(i)); }

 private:
  [[nodiscard]] model::LevelAhead on_board(std::size_t i, const AssuredMargin::Usable& usable) const {
    const auto& point = way()[i];
    const bool is_second = i > 0 && point.at == way()[i - 1].at;
    const bool is_before_jump = i + 1 < way().size() && way()[i + 1].at == point.at && !is_second;
    const LevelScale scale(plan_, is_before_jump ? point.at - model::Duration{1} : point.at);
    const auto [low, high] = std::minmax({scale.level(usable.low), scale.level(usable.high)});
    return {point.at, low, scale.level(usable.middle), high, scale.level(point.held)};
  }

  ItemPlan plan_;
  bool has_band_;
  const CountsRead& read_;
  bool leaks_;
  std::optional<LevelEstimate> leaking_;
  AssuredMargin assured_;
};

}  // namespace

bool is_tighter(const Margin& a, const Margin& b) {
  if (a.days && b.days) return *a.days < *b.days;
  if (a.is_covered() != b.is_covered()) return !a.is_covered();
  if (a.days.has_value() != b.days.has_value()) return a.days.has_value();
  return a.units < b.units;
}

std::vector<ItemMargins> compute_margins(const model::Mission& mission, const model::MarginRules& rules,
                                         const model::Facts& facts, const std::vector<ItemLevel>& levels,
                                         Instant cutoff, Detail detail, const PlanChoice& choice) {
  const std::vector<Stretch> flight = stretches(mission, cutoff, mission.required_end());
  std::vector<ItemMargins> all;
  for (const ItemLevel& level : levels)
    all.push_back(compute_item_margins(mission, rules, flight, facts, level, cutoff, detail, choice));
  return all;
}

std::vector<const ItemMargins*> by_tightness(const std::vector<ItemMargins>& margins) {
  std::vector<const ItemMargins*> sorted;
  for (const ItemMargins& item : margins) sorted.push_back(&item);
  std::stable_sort(sorted.begin(), sorted.end(), [](const ItemMargins* x, const ItemMargins* y) {
    if (!x->governing || !y->governing) return !x->governing && y->governing;
    return is_tighter(*x->governing, *y->governing);
  });
  return sorted;
}

std::vector<model::LevelAhead> levels_ahead(const model::Mission& mission, const model::MarginRules& rules,
                                            const model::Facts& facts, const ItemMargins& margins, Instant cutoff) {
  if (!margins.plan) return {};
  const WayAhead ahead(rules, margins, plan_ahead(mission, facts, margins, cutoff, {}, {}));
  const auto& way = ahead.way();
  std::vector<model::LevelAhead> levels;
  for (std::size_t i = 0; i < way.size(); ++i) {
    const bool is_second = i > 0 && way[i].at == way[i - 1].at;
    if (is_second && way[i].usable == way[i - 1].usable && way[i].held == way[i - 1].held) continue;
    levels.push_back(ahead.level_at(i));
  }
  return levels;
}

std::vector<model::LevelAhead> levels_with_transfers(const model::Mission& mission, const model::MarginRules& rules,
                                                     const model::Facts& facts, const ItemMargins& margins,
                                                     Instant cutoff, const std::vector<Instant>& when) {
  if (!margins.assured) return {};
  PlanChoice choice;
  choice.all_in = true;
  const WayAhead ahead(rules, margins, plan_ahead(mission, facts, margins, cutoff, choice, when));
  const auto& way = ahead.way();
  std::vector<model::LevelAhead> levels;
  for (const Instant at : when) {
    // The last one of an instant is behind all that happens then.
    const auto after = std::find_if(way.rbegin(), way.rend(), [&](const Waypoint& point) { return point.at <= at; });
    levels.push_back(ahead.expected_at(static_cast<std::size_t>(way.rend() - after) - 1));
  }
  return levels;
}

ItemMargins compute_item_margins(const model::Mission& mission, const model::MarginRules& rules,
                                 const std::vector<Stretch>& flight, const model::Facts& facts, const ItemLevel& level,
                                 Instant cutoff, Detail detail, const PlanChoice& choice) {
  return ItemJudge(mission, rules, flight, facts, level, cutoff, choice).run(detail);
}

std::vector<Course> find_courses(const model::MarginRules& rules, const ItemLevel& level, model::Basis basis) {
  std::vector<Course> courses;
  for (const CountsRead& read : level.reads) {
    const bool leaks = shows_leak(rules, read.estimate);
    const auto with_leak = leaks ? given_leak(read.estimate, true) : std::nullopt;
    courses.push_back(
        course_of(level, make_assumption(level, read, with_leak ? *with_leak : read.estimate, leaks), basis));
  }
  return courses;
}

bool is_measured(const ItemLevel& level) { return level.factor.has_value() || !level.has_daily_use; }

const ItemMargins* find_limiting(const std::vector<ItemMargins>& margins) {
  return find_tightest(margins, [](const ItemMargins& item) -> const auto& { return item.governing; });
}

const ItemMargins* find_limiting(const std::vector<ItemMargins>& margins, model::Basis basis) {
  return find_tightest(margins, [&](const ItemMargins& item) -> const auto& { return item.on(basis); });
}

}  // namespace daywright::rules
