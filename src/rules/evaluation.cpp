#include "rules/evaluation.h"

#include <algorithm>
#include <cmath>
#include <iterator>

#include <fmt/format.h>

#include "rules/evidence.h"
#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Rounding;
using model::Trace;
using model::Verdict;

constexpr double day_step = 0.1;

std::string basis_words(model::Basis basis) { return basis == model::Basis::plan ? "at plan" : "at the measured rate"; }

/// Why the governing margin of an item can't support a READY verdict; empty: it can.
std::vector<std::string> doubts_of(const ItemMargins& margins) {
  std::vector<std::string> doubts = texts_of(margins.level->doubts);
  doubts.insert(doubts.end(), margins.gaps.begin(), margins.gaps.end());
  return doubts;
}

/// Enters one item's figures; ids begin "item.<id>.".
class ItemEntries {
 public:
  ItemEntries(const model::Mission& mission, const ItemMargins& margins, FigureBook& figures)
      : mission_(mission),
        margins_(margins),
        level_(*margins.level),
        item_(*level_.item),
        figures_(figures),
        prefix_("item." + item_.id + ".") {}

  void enter() {
    enter_level();
    enter_rates();
    enter_basis("plan", "at plan", margins_.plan, texts_of(level_.doubts), {});
    enter_basis("measured", "at the measured rate", margins_.measured, texts_of(level_.doubts),
                prefix_ + "rate.factor");
    enter_governing(doubts_of(margins_));
  }

 private:
  Entry entry(const std::string& id, const std::string& title, Trace trace, std::vector<std::string> doubts = {}) {
    return {prefix_ + id, fmt::format("{}, {}", item_.title, title), std::move(trace), std::move(doubts)};
  }
  std::string quantity(Entry e, std::optional<double> value, Rounding rounding) {
    return figures_.number(std::move(e), value, item_.unit->spelling, item_.step, rounding);
  }

  void enter_level() {
    Trace all{
        "sum over the places that can be used: last count, less planned use since, plus what was made and moved in",
        {}};
    for (const PlaceLevel& place : level_.places) {
      const std::string id = "place." + place.place->id + ".level";
      Trace trace{"last count, less planned use since, plus what was made and moved in since", {}};
      if (place.count != nullptr) {
        const auto& row = place.count->row;
        trace.inputs.push_back(from_file("count",
                                         fmt::format("{:g} {} by {} at {}", row.quantity, item_.unit->spelling,
                                                     row.method, model::format_utc(row.when)),
                                         row.from.source));
        trace.inputs.push_back(
            from_file("planned use since", fmt::format("{:.4g} {}", place.drawn, item_.unit->spelling), item_.source));
        if (place.made != 0)
          trace.inputs.push_back(
              from_file("made since", fmt::format("{:.4g} {}", place.made, item_.unit->spelling), item_.source));
        if (place.moved != 0)
          trace.inputs.push_back(from_file(
              "moved in since", fmt::format("{:.4g} {}", place.moved, item_.unit->spelling), row.from.source));
      } else {
        trace.inputs.push_back(from_file("never counted", "NO DATA", place.place->source));
      }
      const auto value = place.count != nullptr ? std::optional(place.level) : std::nullopt;
      quantity(entry(id, "in " + place.place->title, std::move(trace)), value, Rounding::nearest);
      all.inputs.push_back(from_figure(figures_.at(prefix_ + id)));
    }
    all.inputs.push_back(from_file("item", item_.title, item_.source));
    add_to_trace(level_.doubts, all);
    const auto total = level_.is_complete ? std::optional(level_.total()) : std::nullopt;
    quantity(entry("level", "on board", std::move(all), texts_of(level_.doubts)), total, Rounding::nearest);
  }

  void enter_rates() {
    const auto* kind = model::find_by_id(mission_.day_kinds, mission_.margin_kind);
    Trace daily{
        "rate per crew-day x crew + rate per day + rate per kWh x kW x 24 h + events of the day, less what is made",
        {}};
    daily.inputs.push_back(
        from_file("rates", item_.rate_source.empty() ? item_.title : item_.rate_source, item_.source));
    daily.inputs.push_back(from_file("day kind", kind->title, kind->source));
    quantity(entry("rate.daily", "net planned use per 24 h of a day of kind " + kind->title, std::move(daily)),
             margins_.daily, Rounding::up);
    Trace factor{"measured draw over planned draw: the common slope of least squares over all counts", {}};
    for (const auto* count : level_.rate_counts) {
      factor.inputs.push_back(from_file(
          "count in " + count->row.place,
          fmt::format("{:g} {} at {}", count->row.quantity, item_.unit->spelling, model::format_utc(count->row.when)),
          count->row.from.source));
    }
    factor.inputs.push_back(from_file("item", item_.title, item_.source));
    constexpr double hundredth = 0.01;
    figures_.number(entry("rate.factor", "measured use over planned use", std::move(factor)), level_.factor, "",
                    hundredth, Rounding::nearest);
  }

  /// What is added up to the margin, so that it can be worked out again by hand.
  void enter_sum(const Margin& margin, Trace& trace) const {
    const auto add = [&](const char* name, double value) {
      constexpr double nothing = 1e-9;
      if (std::abs(value) < nothing) return;
      trace.inputs.push_back(from_file(name, fmt::format("{:.6g} {}", value, item_.unit->spelling), item_.source));
    };
    add("usable at the cut-off", margin.usable);
    add("less used up to then", -margin.drawn);
    add("made up to then", margin.made);
    add("moved by the transfers that count", margin.moved);
    add("less the reserve held then", -margin.held);
    add("less what lies in places that are gone by then",
        margin.units - (margin.usable - margin.drawn + margin.made + margin.moved - margin.held));
  }

  Trace margin_trace(const std::string& basis, const std::optional<Margin>& margin) {
    Trace trace{fmt::format("smallest value of usable less reserve from the cut-off to the required end, {}", basis),
                {}};
    trace.inputs.push_back(from_figure(figures_.at(prefix_ + "level")));
    trace.inputs.push_back(from_figure(figures_.at(prefix_ + "rate.daily")));
    trace.inputs.push_back(from_file("required end", format_instant(mission_.required_end(), mission_),
                                     mission_.landing_days.back().source));
    for (const auto& [place, amount] : item_.residual) {
      trace.inputs.push_back(
          from_file("can't be drawn, " + place, fmt::format("{:g} {}", amount, item_.unit->spelling), item_.source));
    }
    for (const auto& line : item_.reserve) {
      const std::string text = line.days > 0             ? fmt::format("{:g} d of kind {}", line.days, line.kind)
                               : line.event_kind.empty() ? fmt::format("{:g} {}", line.quantity, item_.unit->spelling)
                                                         : "one event of kind " + line.event_kind;
      trace.inputs.push_back(from_file("reserve: " + line.text, text, line.source));
    }
    if (margin) enter_sum(*margin, trace);
    if (margin)
      trace.inputs.push_back(from_file(
          "smallest in", fmt::format("{}, {}", margin->phase, format_instant(margin->at, mission_)), item_.source));
    return trace;
  }

  void enter_basis(const std::string& name, const std::string& words, const std::optional<Margin>& margin,
                   const std::vector<std::string>& doubts, const std::string& factor) {
    Trace trace = margin_trace(words, margin);
    if (!factor.empty()) trace.inputs.push_back(from_figure(figures_.at(factor)));
    quantity(entry("margin." + name + ".units", "margin " + words, trace, doubts),
             margin ? std::optional(margin->units) : std::nullopt, Rounding::down);
    if (margin && !margin->days) return;  // no daily use: no days
    trace.formula += "; over the net use of a day of the margin day kind";
    figures_.number(entry("margin." + name + ".days", "margin in days " + words, std::move(trace), doubts),
                    margin ? margin->days : std::nullopt, "d", day_step, Rounding::down);
  }

  void enter_governing(const std::vector<std::string>& doubts) {
    const auto& governing = margins_.governing;
    Trace trace{"the smallest of the bases that the rules name", {}};
    for (const char* basis :
         {"margin.plan.units", "margin.measured.units", "margin.plan.days", "margin.measured.days"}) {
      if (const auto* figure = figures_.find(prefix_ + basis)) trace.inputs.push_back(from_figure(*figure));
    }
    trace.inputs.push_back(from_file("item", item_.title, item_.source));
    add_to_trace(level_.doubts, trace);
    quantity(entry("margin.units", "margin", trace, doubts), governing ? std::optional(governing->units) : std::nullopt,
             Rounding::down);
    if (!governing || governing->days) {
      figures_.number(entry("margin.days", "margin in days", trace, doubts), governing ? governing->days : std::nullopt,
                      "d", day_step, Rounding::down);
    }
    if (item_.per_event.size() == 1 && (!governing || governing->events)) {
      const std::string& kind = item_.per_event.begin()->first;
      figures_.number(entry("margin.events", fmt::format("margin in events of kind {}", kind), trace, doubts),
                      governing ? governing->events : std::nullopt, "", 1, Rounding::down);
    }
    figures_.words(entry("margin.basis", "basis of the margin", trace),
                   governing ? basis_words(margins_.governing_basis) : "NO DATA");
    using std::chrono::floor;
    // Times that follow from a margin are rounded down: the margin's own to the minute, how long it lasts to the hour.
    const auto at =
        governing ? std::optional<model::Instant>(floor<std::chrono::minutes>(governing->at)) : std::nullopt;
    figures_.instant(entry("margin.at", "when the margin is smallest", trace), at);
    if (!governing || governing->lasts_to_a_time()) {
      const auto through =
          governing ? std::optional<model::Instant>(floor<std::chrono::hours>(governing->through)) : std::nullopt;
      figures_.instant(entry("through", "lasts through", trace, doubts), through);
    }
    figures_.words(entry("margin.words", "margin in words", trace), in_words());
    figures_.words(entry("margin.note", "what to know of the margin", trace), note());
    const auto& with = margins_.with_transfers;
    trace.formula = "as the governing margin, with every planned transfer carried out; never a verdict";
    const bool has_days = with && with->days;
    const auto value = has_days ? with->days : with ? std::optional(with->units) : std::nullopt;
    if (has_days || !with) {
      figures_.number(entry("margin.with_transfers", "margin with the planned transfers", std::move(trace)), value, "d",
                      day_step, Rounding::down);
    } else {
      quantity(entry("margin.with_transfers", "margin with the planned transfers", std::move(trace)), value,
               Rounding::down);
    }
  }

  [[nodiscard]] std::string in_words() const {
    if (!margins_.governing) {
      if (!level_.doubts.empty()) return "NO DATA: " + level_.doubts.front().text;
      return margins_.gaps.empty() ? "NO DATA" : "NO DATA: " + margins_.gaps.front();
    }
    const Margin& margin = *margins_.governing;
    const auto units = [&](double value, Rounding rounding) {
      return fmt::format("{} {}", model::format_number(model::round_to(value, item_.step, rounding), item_.step),
                         item_.unit->spelling);
    };
    const auto days = [&](double value, Rounding rounding) {
      return fmt::format("{} d", model::format_number(model::round_to(value, day_step, rounding), day_step));
    };
    if (!margin.is_covered()) {
      const std::string amount = margin.days ? days(-*margin.days, Rounding::up) : units(-margin.units, Rounding::up);
      return fmt::format("not covered, short by {}, first on FD {}", amount,
                         mission_.flight_days.number_at(*margin.first_short));
    }
    if (margin.days) return days(*margin.days, Rounding::down) + " over";
    return units(margin.units, Rounding::down) + " over, no daily use";
  }

  [[nodiscard]] std::string note() const {
    if (!margins_.governing) return in_words();
    if (!level_.doubts.empty()) return "UNSOUND: " + level_.doubts.front().text;
    if (!margins_.governing->is_covered()) return in_words();
    return margins_.governing->days ? "covered" : "covered, " + in_words();
  }

  const model::Mission& mission_;
  const ItemMargins& margins_;
  const ItemLevel& level_;
  const model::Item& item_;
  FigureBook& figures_;
  std::string prefix_;
};

/// The longest extension that is looked at.
constexpr int most_days = 10;

/// The smallest share of an extension day that every item still has room for, in hours; capped below a whole day.
/// Nothing where an item has no margin to tell.
std::optional<double> hours_towards_next_day(const model::Mission& mission, const std::vector<ItemMargins>& margins) {
  constexpr double cap = 23;
  double hours = cap;
  const auto* kind = model::find_by_id(mission.day_kinds, mission.extension_kind);
  for (const ItemMargins& item : margins) {
    if (!item.governing) return std::nullopt;
    const auto& plan = *item.level->item;
    const int crew = crew_aboard(mission, plan.vehicle, mission.required_end());
    const double factor = item.governing_basis == model::Basis::measured ? item.level->factor.value_or(1) : 1;
    const double daily = factor * daily_draw(plan, *kind, crew) - daily_make(mission, plan, *kind, crew);
    if (daily > 0) hours = std::min(hours, std::max(0.0, item.governing->units / daily * 24));
  }
  return std::floor(hours + 1e-9);
}

/// The items of which an extension needs figures: those that are short, and those that its criteria name. The others
/// would only cost time.
std::vector<ItemMargins> worth_entering(const model::Rulebook& rules, const std::vector<ItemMargins>& margins) {
  std::vector<ItemMargins> wanted;
  std::copy_if(margins.begin(), margins.end(), std::back_inserter(wanted), [&](const ItemMargins& item) {
    const std::string prefix = "item." + item.level->item->id + ".";
    const bool is_named = std::any_of(rules.criteria.begin(), rules.criteria.end(), [&](const auto& criterion) {
      const auto* demand = std::get_if<model::FigureCriterion>(&criterion.demand);
      return criterion.limits_extension && demand != nullptr && demand->figure.starts_with(prefix);
    });
    return is_named || (item.governing && !item.governing->is_covered());
  });
  return wanted;
}

ExtensionCase judge_extension(const Evening& evening, const std::vector<ItemLevel>& levels,
                              const std::vector<TaskStatus>& tasks, int days) {
  const model::Mission mission = extend(evening.mission, days);
  const auto margins = compute_margins(mission, evening.rules.margins, evening.facts, levels, evening.cutoff);
  FigureBook figures(mission);
  enter_items(mission, worth_entering(evening.rules, margins), figures);

  ExtensionCase result;
  result.days = days;
  result.landing = mission.landing();
  result.required_end = mission.required_end();
  std::vector<Verdict> verdicts;
  std::string failure;
  std::string gap;
  const auto weigh = [&](Verdict verdict, const std::string& reason) {
    verdicts.push_back(verdict);
    if (verdict == Verdict::not_ready && failure.empty()) failure = reason;
    if (verdict == Verdict::no_data && gap.empty()) gap = reason;
  };
  if (const ItemMargins* limiting = find_limiting(margins)) {
    result.limiting = limiting->level->item->title;
    result.margin_days = limiting->governing->days;
    if (!limiting->governing->is_covered()) {
      weigh(Verdict::not_ready, fmt::format("{}: {}", result.limiting,
                                            figures.at("item." + limiting->level->item->id + ".margin.words").text));
    }
  }
  for (const ItemMargins& item : margins) {
    const model::Item& plan = *item.level->item;
    const std::vector<std::string> doubts = doubts_of(item);
    const bool is_short = item.governing && !item.governing->is_covered();
    const Verdict verdict = is_short                             ? Verdict::not_ready
                            : !item.governing || !doubts.empty() ? Verdict::no_data
                                                                 : Verdict::ready;
    weigh(verdict,
          fmt::format("{}: {}", plan.title, verdict == Verdict::no_data && !doubts.empty() ? doubts.front() : "short"));
    const std::string units =
        item.governing ? fmt::format("{} {}",
                                     model::format_number(
                                         model::round_to(item.governing->units, plan.step, Rounding::down), plan.step),
                                     plan.unit->spelling)
                       : "NO DATA";
    result.trace.inputs.push_back(from_file(plan.title + ", margin", units, plan.source));
  }
  for (const auto& criterion : evening.rules.criteria) {
    if (!criterion.limits_extension) continue;
    // The gate as it stands in the longer flight: a later poll, which evidence has to hold to.
    const auto judged = judge_criterion(criterion, *model::find_by_id(mission.gates, criterion.gate),
                                        {mission, evening.facts, tasks, figures, evening.cutoff});
    weigh(judged.verdict, fmt::format("{}: {}", criterion.title, judged.reason));
    result.trace.inputs.push_back(
        from_file("criterion " + criterion.id, std::string(model::words(judged.verdict)), criterion.source));
  }
  result.trace.formula =
      "every item covered to the required end of the longer flight, and every criterion that limits an extension";
  result.verdict = model::combine(verdicts);
  result.reason = !failure.empty() ? failure : gap;
  result.hours_gained = hours_towards_next_day(mission, margins);
  return result;
}

}  // namespace

void enter_items(const model::Mission& mission, const std::vector<ItemMargins>& margins, FigureBook& figures) {
  for (const ItemMargins& item : margins) ItemEntries(mission, item, figures).enter();
}

Evaluation evaluate(const Evening& evening) {
  Evaluation result(evening.mission);
  for (const auto& item : evening.mission.items) {
    result.levels.push_back(find_level(evening.mission, item, evening.rules.margins, evening.facts, evening.cutoff));
  }
  result.margins =
      compute_margins(evening.mission, evening.rules.margins, evening.facts, result.levels, evening.cutoff);
  enter_items(evening.mission, result.margins, result.figures);
  result.tasks = follow_tasks(evening.facts);
  result.gates =
      judge_gates(evening.rules, {evening.mission, evening.facts, result.tasks, result.figures, evening.cutoff});
  return result;
}

std::vector<ExtensionCase> judge_extensions(const Evening& evening, const std::vector<ItemLevel>& levels,
                                            const std::vector<TaskStatus>& tasks) {
  std::vector<ExtensionCase> cases;
  const auto* before = model::find_by_id(evening.mission.events, evening.mission.extension_before);
  if (before->at <= evening.cutoff) return cases;  // too late for adding days before it
  for (int days = 0; days <= most_days; ++days) {
    cases.push_back(judge_extension(evening, levels, tasks, days));
    // One day more is shown than can be had, so that the page says what holds it.
    if (days > 0 && cases.back().verdict != Verdict::ready) break;
  }
  return cases;
}

}  // namespace daywright::rules
