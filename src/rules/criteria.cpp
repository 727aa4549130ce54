#include "rules/criteria.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace daywright::rules {

using model::Log;
using model::Verdict;

void Case::holds(std::string name, std::string text, model::Source source) {
  result_.trace.inputs.push_back(from_file(std::move(name), std::move(text), source));
  ++seen_;
}

void Case::doubt(const std::vector<Doubt>& doubts, const std::string& datum) {
  add_to_trace(doubts, result_.trace);
  for (const Doubt& d : doubts) lacks(d.text, datum);
}

CriterionResult Case::close(const model::Criterion& criterion, std::string formula, std::string all_well) {
  result_.criterion = &criterion;
  if (!is_measured_) result_.value = static_cast<double>(failures_.size());
  result_.trace.formula = std::move(formula);
  result_.trace.inputs.push_back(from_file("criterion", criterion.title, criterion.source));
  if (!failures_.empty()) return say(Verdict::not_ready, failures_);
  if (!gaps_.empty()) return say(Verdict::no_data, gaps_);
  if (!conditions_.empty()) return say(Verdict::ready_with_conditions, conditions_);
  return say(Verdict::ready, {std::move(all_well)});
}

CriterionResult Case::say(Verdict verdict, const std::vector<std::string>& reasons) {
  result_.verdict = verdict;
  result_.reason = reasons.front();
  if (reasons.size() > 1) result_.reason += fmt::format("; and {} more", reasons.size() - 1);
  return std::move(result_);
}

bool fits(const model::FigureCriterion& demand, const model::Figure& figure) {
  const model::Unit* unit = model::find_unit(figure.unit);
  if (unit == nullptr || demand.unit == nullptr) return unit == demand.unit;
  return unit->dimension == demand.unit->dimension;
}

CriterionResult judge_figure(const model::Criterion& criterion, const model::FigureCriterion& demand,
                             const model::Figure* figure) {
  Case c;
  const bool at_least = demand.comparison == model::Comparison::at_least;
  const std::string limit =
      fmt::format("{} {:g}{}{}", at_least ? "at least" : "at most", demand.limit, demand.unit != nullptr ? " " : "",
                  demand.unit != nullptr ? demand.unit->spelling : "");
  std::string shown = "NO DATA";
  if (figure == nullptr) {
    c.lacks(fmt::format("there is no figure {}", demand.figure), demand.figure);
    return c.close(criterion, limit, {});
  }
  shown = fmt::format("{} is {}, {} wanted", figure->title, model::with_unit(*figure), limit);
  const model::Unit* unit = model::find_unit(figure->unit);
  const auto* value = std::get_if<double>(&figure->value);
  if (!fits(demand, *figure)) {
    c.lacks(fmt::format("{} is not in a unit that the limit converts to", figure->title), demand.figure);
  } else if (value == nullptr) {
    c.lacks(fmt::format("{}: {}", figure->title, figure->doubts.empty() ? "NO DATA" : figure->doubts.front()),
            demand.figure);
  } else {
    // The rounded figure that is shown is the one that is compared.
    const double shown_value =
        unit != nullptr && demand.unit != nullptr ? model::convert(*value, *unit, *demand.unit) : *value;
    // A figure that was converted meets its limit also where the last binary digits of the conversion do not.
    const double hair = 1e-9 * std::max(std::abs(shown_value), std::abs(demand.limit));
    if (at_least ? shown_value < demand.limit - hair : shown_value > demand.limit + hair) c.fails(shown);
    for (const auto& doubt : figure->doubts) c.lacks(fmt::format("{}: {}", figure->title, doubt), demand.figure);
    c.measures(shown_value, !at_least);
  }
  CriterionResult result = c.close(criterion, fmt::format("the figure, as shown, is {}", limit), shown);
  result.trace.inputs.push_back(from_figure(*figure));
  return result;
}

CriterionResult judge(const model::Criterion& criterion, const model::FigureCriterion& demand, const model::Gate&,
                      const Grounds& grounds) {
  return judge_figure(criterion, demand, grounds.figures.find(demand.figure));
}

CriterionResult judge(const model::Criterion& criterion, const model::ZonesCriterion& demand, const model::Gate& gate,
                      const Grounds& grounds) {
  Case c;
  auto zones = judge_zones(grounds.mission, gate, demand, grounds.facts, grounds.cutoff, grounds.roles);
  for (const ZoneClearance& zone : zones) {
    const std::string reason = fmt::format("{}: {}", zone.zone->title, zone.reason);
    if (zone.verdict == Verdict::not_ready) c.fails(reason);
    if (zone.verdict == Verdict::no_data) c.lacks(reason, zone.zone->id);
    if (zone.verdict == Verdict::ready_with_conditions) c.on_condition(reason, "a statement without conditions");
    const model::Source source = zone.statement != nullptr ? zone.statement->from.source : zone.zone->source;
    c.holds("zone " + zone.zone->id, std::string(model::words(zone.verdict)), source);
  }
  CriterionResult result =
      c.close(criterion, "every zone cleared for the gate by the named authority, on surveys that count",
              fmt::format("{} zones cleared", zones.size()));
  result.zones = std::move(zones);
  return result;
}

CriterionResult judge(const model::Criterion& criterion, const model::TasksCriterion& demand, const model::Gate& gate,
                      const Grounds& grounds) {
  Case c;
  const auto is_asked = [&](const model::PlanRow& row) {
    if (demand.tasks.empty()) return row.gate == gate.id;
    return std::find(demand.tasks.begin(), demand.tasks.end(), row.task) != demand.tasks.end();
  };
  // A planned task that was lost could have been one of them, so the plan has to be whole.
  c.doubt(doubts_about(grounds.facts, Log::plan, {}), "plan");
  c.doubt(doubts_about(grounds.facts, Log::tasks, "?"), "tasks");  // closed on every day, and no row of an unknown task
  for (const TaskStatus& task : grounds.tasks) {
    const auto& row = task.plan->row;
    if (!is_asked(row)) continue;
    std::vector<Doubt> doubts;
    add_conflicts(*task.plan, "task " + row.task, doubts);
    if (task.latest != nullptr) add_conflicts(*task.latest, "task " + row.task, doubts);
    for (const auto& rejected : grounds.facts.rejected) {
      if (rejected.log == Log::tasks && rejected.subject == row.task)
        doubts.push_back({fmt::format("a row of task {} is rejected", row.task), rejected.source});
    }
    c.doubt(doubts, row.task);
    const model::Source source = task.latest != nullptr ? task.latest->row.from.source : row.from.source;
    c.holds("task " + row.task, task.is_done() ? "done" : fmt::format("{:g} % done", task.percent), source);
    if (!task.is_done()) c.fails(fmt::format("task {} is not done: {}", row.task, row.title));
  }
  for (const auto& name : demand.tasks) {
    const bool is_planned = std::any_of(grounds.tasks.begin(), grounds.tasks.end(),
                                        [&](const TaskStatus& t) { return t.plan->row.task == name; });
    if (!is_planned) c.lacks(fmt::format("task {} is not in the plan", name), name);
  }
  if (c.seen() == 0) c.lacks("no task is planned for the gate", "plan");
  const std::size_t seen = c.seen();
  return c.close(criterion, "every task asked for is done", fmt::format("{} tasks done", seen));
}

CriterionResult judge(const model::Criterion& criterion, const model::CloseoutsCriterion& demand, const model::Gate&,
                      const Grounds& grounds) {
  Case c;
  for (const auto& name : demand.closeouts) {
    const model::Merged<model::CloseoutRow>* latest = nullptr;
    for (const auto& fact : grounds.facts.closeouts) {
      if (fact.row.closeout == name) latest = &fact;  // in order of time
    }
    c.doubt(doubts_about(grounds.facts, Log::closeouts, name), name);
    if (latest == nullptr) {
      c.lacks(fmt::format("close-out {} was never reported", name), name);
      continue;
    }
    std::vector<Doubt> doubts;
    add_conflicts(*latest, "close-out " + name, doubts);
    c.doubt(doubts, name);
    const std::string text = fmt::format("{:g} of {:g}", latest->row.done, latest->row.of);
    c.holds("close-out " + name, text, latest->row.from.source);
    if (latest->row.done < latest->row.of) c.fails(fmt::format("close-out {}: {} done", name, text));
  }
  return c.close(criterion, "every close-out reported with all of its steps done",
                 fmt::format("{} close-outs complete", demand.closeouts.size()));
}

CriterionResult judge(const model::Criterion& criterion, const model::AnomaliesCriterion& demand,
                      const model::Gate& gate, const Grounds& grounds) {
  Case c;
  c.doubt(doubts_about(grounds.facts, Log::anomalies, {}), "anomalies");
  for (const auto& fact : grounds.facts.anomalies) {
    const auto& row = fact.row;
    std::vector<Doubt> doubts;
    add_conflicts(fact, "anomaly " + row.anomaly, doubts);
    c.doubt(doubts, row.anomaly);
    const bool is_asked =
        std::find(demand.severities.begin(), demand.severities.end(), row.severity) != demand.severities.end();
    if (!is_asked || (!row.gate.empty() && row.gate != gate.id)) continue;
    const bool is_open = row.state == model::AnomalyState::open;
    c.holds("anomaly " + row.anomaly, fmt::format("{}, {}", row.severity, is_open ? "open" : "closed"),
            row.from.source);
    if (is_open)
      c.fails(
          fmt::format("anomaly {} is open: {}", row.anomaly, row.disposition.empty() ? row.severity : row.disposition));
  }
  return c.close(criterion, "no open anomaly of the named severities bears on the gate; the log is closed on every day",
                 "none open");
}

CriterionResult judge(const model::Criterion& criterion, const model::StatementCriterion& demand,
                      const model::Gate& gate, const Grounds& grounds) {
  Case c;
  const std::string position = grounds.role_title(demand.position);
  const model::Merged<model::StatementRow>* latest = nullptr;
  for (const auto& fact : grounds.facts.statements) {
    if (fact.row.position == demand.position) latest = &fact;  // in order of time
  }
  c.doubt(doubts_about(grounds.facts, Log::statements, demand.position), demand.position);
  if (latest == nullptr) {
    c.lacks(fmt::format("no statement of {}", position), demand.position);
  } else {
    std::vector<Doubt> doubts;
    add_conflicts(*latest, "the statement of " + position, doubts);
    c.doubt(doubts, demand.position);
    const auto& row = latest->row;
    c.holds("statement of " + position, row.says, row.from.source);
    const bool is_accepted = std::find(demand.accepts.begin(), demand.accepts.end(), row.says) != demand.accepts.end();
    if (!is_accepted) c.fails(fmt::format("{} says {}", position, row.says));
    if (row.valid_until && *row.valid_until < gate.poll)
      c.lacks(fmt::format("the statement of {} ends before the poll", position), demand.position);
  }
  return c.close(criterion, "the newest statement of the position is one that is accepted, and holds at the poll",
                 fmt::format("{} says so", position));
}

CriterionResult judge(const model::Criterion& criterion, const model::WorkFitsCriterion&, const model::Gate& gate,
                      const Grounds& grounds) {
  Case c;
  // All tasks compete for room, so what is not sure of any of them makes this unsure.
  c.doubt(doubts_about_work(grounds.facts, grounds.tasks), "tasks");
  if (grounds.fit == nullptr) {
    c.lacks("whether the work fits is not worked out for this flight", "plan");
  } else if (grounds.fit->days.empty()) {
    c.lacks("the plan gives no working hours", "plan");
  } else {
    for (const TaskFit& fit : grounds.fit->tasks) {
      const auto& row = fit.task->plan->row;
      if (row.gate != gate.id) continue;
      const std::string what = fmt::format("{:g} min for each of {}", fit.minutes, row.crew.size());
      c.holds("task " + row.task, fit.start ? what + " from " + model::format_utc(*fit.start) : what + ", no room",
              row.from.source);
      if (!fit.start) c.fails(fmt::format("task {} has no room before the poll: {}", row.task, row.title));
    }
  }
  const std::size_t seen = c.seen();
  return c.close(criterion, "what is left to do for the gate has room in the crew time before its poll",
                 fmt::format("{} tasks have room", seen));
}

}  // namespace daywright::rules
