#include "rules/status.h"

#include <future>
#include <optional>

#include "rules/assembly.h"
#include "rules/trial.h"

namespace daywright::rules {

void count_hidden_rows(Assembly& a) {
  for (const auto& table : a.status.tables) {
    if (table.brief_rows == 0 || table.rows.size() <= table.brief_rows) continue;
    model::Trace trace{"rows of the table that the brief leaves out", {}};
    for (std::size_t i = table.brief_rows; i < table.rows.size(); ++i) {
      for (const auto& cell : table.rows[i]) {
        if (cell.figure.empty()) continue;
        trace.inputs.push_back(from_figure(a.figures().at(cell.figure)));
        break;
      }
    }
    a.figures().count({"table." + table.name + ".more", table.title + ", rows left out", std::move(trace), {}},
                      table.rows.size() - table.brief_rows);
  }
}

model::DayStatus compute_status(const Evening& evening, const Evening* before, const Issue& issue) {
  std::future<Evaluation> evaluating_before;  // beside tonight's: the two share nothing that changes
  if (before != nullptr)
    evaluating_before = std::async(std::launch::async, [&] { return evaluate(*before, Fitting::if_asked); });
  Evaluation now = evaluate(evening);
  std::optional<Evaluation> then;
  if (before != nullptr) then.emplace(evaluating_before.get());

  // The way home does not depend on a longer flight, nor the other way round.
  auto judging_returns =
      std::async(std::launch::async, [&] { return judge_returns(evening, now.levels, now.tasks, now.figures); });
  auto trying = std::async(std::launch::async,
                           [&] { return issue.is_to_be_tried ? lay_out_trial(evening, now) : model::TrialPlan{}; });
  auto extension = judge_extensions(evening, now);
  Assembly assembly{evening, now, std::move(extension), judging_returns.get(), before, then ? &*then : nullptr,
                    issue,   {}};
  assembly.status.files = issue.files;
  add_gates(assembly);
  add_consumables(assembly);
  add_ledgers(assembly);
  add_credibility(assembly);
  add_work(assembly);
  add_people(assembly);
  add_quality(assembly);
  add_changes(assembly);
  add_heading(assembly);  // after the others: the five lines rest on all of the above
  add_charts(assembly);
  add_crew_note(assembly);
  count_hidden_rows(assembly);
  assembly.status.trial = trying.get();
  assembly.status.figures = now.figures.take();
  return std::move(assembly.status);
}

}  // namespace daywright::rules
