#include "rules/evaluation.h"

#include <algorithm>
#include <cmath>
#include <iterator>

#include <fmt/format.h>

#include "rules/decisions.h"
#include "rules/evidence.h"
#include "rules/item_figures.h"
#include "rules/ledger.h"
#include "rules/timeline.h"
#include "rules/work_figures.h"

namespace daywright::rules {
namespace {

using model::Rounding;
using model::Verdict;

/// The smallest share of an extension day that every item still has room for, in hours; capped below a whole day.
/// Nothing where an item has no margin to tell.
std::optional<double> hours_towards_next_day(const model::Mission& mission, const std::vector<ItemMargins>& margins) {
  constexpr double cap = 23;
  double hours = cap;
  const auto* kind = model::find_by_id(mission.day_kinds, mission.extension_kind);
  // Added days are flown up to that event; on a way home it may have fallen away.
  const auto* before = model::find_by_id(mission.events, mission.extension_before);
  const model::Instant flown_to = before == nullptr ? mission.landing() : before->at;
  for (const ItemMargins& item : margins) {
    if (!item.governing) return std::nullopt;
    const auto& plan = *item.level->item;
    const int crew = kind->crew.value_or(crew_aboard(mission, plan.vehicle, flown_to - model::Duration{1}));
    const bool at_plan = item.governing_basis == model::Basis::plan;
    const double factor = at_plan ? 1 : item.level->factor.value_or(1);
    const double made = at_plan ? 1 : item.level->made.mean;
    const double leak = item.shows_leak ? item.leak_rate : 0;
    const double daily = factor * daily_draw(plan, *kind, crew) - made * daily_make(mission, plan, *kind, crew) + leak;
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

/// `of_extension`: only criteria that limit an extension count.
bool asks_for_fit(const model::Rulebook& rules, bool of_extension = false) {
  return std::any_of(rules.criteria.begin(), rules.criteria.end(), [&](const auto& criterion) {
    if (of_extension && !criterion.limits_extension) return false;
    const auto* figure = std::get_if<model::FigureCriterion>(&criterion.demand);
    return std::holds_alternative<model::WorkFitsCriterion>(criterion.demand) ||
           (figure != nullptr && figure->figure.starts_with("work.unfit."));
  });
}

}  // namespace

Verdict judge_item(const ItemMargins& item) {
  if (item.governing && !item.governing->is_covered()) return Verdict::not_ready;
  return item.governing && doubts_of(item).empty() ? Verdict::ready : Verdict::no_data;
}

ExtensionCase judge_flight(const Evening& evening, const model::Mission& mission,
                           const std::vector<ItemMargins>& margins, const std::vector<TaskStatus>& tasks) {
  FigureBook figures(mission);
  enter_items(mission, worth_entering(evening.rules, margins), figures);
  enter_chances(mission, margins, figures);
  enter_ledgers(mission, figures);
  enter_work(mission, evening.facts, tasks, evening.day, figures);
  std::optional<WorkFit> fit;  // of this flight, if anything that limits it asks for it
  if (asks_for_fit(evening.rules, true)) {
    fit = fit_work(mission, tasks, evening.cutoff);
    enter_fit(mission, evening.facts, tasks, *fit, evening.day, figures);
  }

  ExtensionCase result;
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
    const Verdict verdict = judge_item(item);
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
  for (const Doubt& doubt : doubts_about_decisions(evening.facts)) weigh(Verdict::no_data, doubt.text);
  for (const auto& criterion : evening.rules.criteria) {
    if (!criterion.limits_extension) continue;
    // The gate as it stands in the longer flight: a later poll, which evidence has to hold to.
    const auto judged = judge_criterion(
        criterion, *model::find_by_id(mission.gates, criterion.gate),
        {mission, evening.facts, tasks, figures, evening.cutoff, evening.rules.roles, fit ? &*fit : nullptr});
    weigh(judged.verdict, fmt::format("{}: {}", criterion.title, judged.reason));
    result.criteria.push_back(judged.verdict);
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

Evaluation evaluate(const Evening& evening, Fitting fitting) {
  Evaluation result(evening.mission);
  result.levels = find_levels(evening.mission, evening.rules.margins, evening.facts, evening.cutoff);
  result.margins =
      compute_margins(evening.mission, evening.rules.margins, evening.facts, result.levels, evening.cutoff);
  enter_items(evening.mission, result.margins, result.figures);
  result.tasks = follow_tasks(evening.facts);
  enter_chances(evening.mission, result.margins, result.figures);
  enter_ledgers(evening.mission, result.figures);
  enter_work(evening.mission, evening.facts, result.tasks, evening.day, result.figures);
  if (fitting == Fitting::always || asks_for_fit(evening.rules)) {
    result.fit = fit_work(evening.mission, result.tasks, evening.cutoff);
    enter_fit(evening.mission, evening.facts, result.tasks, result.fit, evening.day, result.figures);
  }
  result.gates = judge_gates(evening.rules, {evening.mission, evening.facts, result.tasks, result.figures,
                                             evening.cutoff, evening.rules.roles, &result.fit});
  return result;
}

std::vector<ExtensionCase> judge_extensions(const Evening& evening, const Evaluation& now) {
  std::vector<ExtensionCase> cases;
  const auto* before = model::find_by_id(evening.mission.events, evening.mission.extension_before);
  if (before->at <= evening.cutoff) return cases;  // too late for adding days before it
  for (int days = 0; days <= most_days_added; ++days) {
    if (days == 0) {
      cases.push_back(judge_flight(evening, evening.mission, now.margins, now.tasks));
    } else {
      const model::Mission longer = extend(evening.mission, days);
      const auto margins =
          compute_margins(longer, evening.rules.margins, evening.facts, now.levels, evening.cutoff, Detail::margins);
      cases.push_back(judge_flight(evening, longer, margins, now.tasks));
    }
    cases.back().days = days;
    // One day more is shown than can be had, so that the page says what holds it.
    if (days > 0 && cases.back().verdict != Verdict::ready) break;
  }
  return cases;
}

}  // namespace daywright::rules
