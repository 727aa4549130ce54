// One criterion at a time: how each kind of demand is judged.
//
//   In:  a criterion, its gate, the facts and figures
//   Out: the verdict with its reason and trace
//
// Pure. Whatever is missing, stale, rejected or told in two ways makes a criterion NO DATA unless it is NOT READY
// already.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rules/evidence.h"
#include "rules/readiness.h"

namespace daywright::rules {

/// Gathers what speaks for and against one criterion, then says its verdict.
class Case {
 public:
  void holds(std::string name, std::string text, model::Source source);
  void fails(std::string reason) { failures_.push_back(std::move(reason)); }
  /// `datum`: the name by which a waiver can accept that it is missing.
  void lacks(std::string reason, const std::string& datum) {
    gaps_.push_back(std::move(reason));
    result_.lacking.push_back(datum);
  }
  void doubt(const std::vector<Doubt>& doubts, const std::string& datum);
  /// `closed_by`: what ends the condition.
  void on_condition(std::string reason, std::string closed_by) {
    conditions_.push_back(reason);
    result_.conditions.push_back({std::move(reason), std::move(closed_by)});
  }
  /// What is held against a limit; without it, the number of failures is.
  void measures(double value, bool higher_is_worse) {
    result_.value = value;
    result_.higher_is_worse = higher_is_worse;
    is_measured_ = true;
  }
  [[nodiscard]] std::size_t seen() const { return seen_; }

  /// The verdict: NOT READY if anything fails, else NO DATA if anything is lacking, else on condition, else READY.
  [[nodiscard]] CriterionResult close(const model::Criterion& criterion, std::string formula, std::string all_well);

 private:
  CriterionResult say(model::Verdict verdict, const std::vector<std::string>& reasons);

  CriterionResult result_;
  std::size_t seen_ = 0;
  bool is_measured_ = false;
  std::vector<std::string> failures_, gaps_, conditions_;
};

/// Whether the limit's unit converts to the figure's.
[[nodiscard]] bool fits(const model::FigureCriterion& demand, const model::Figure& figure);

/// What the log says of one person in the hours before the cut-off that a demand looks at; nothing: it says nothing.
struct RestHours {
  std::optional<double> slept;
  std::optional<double> on_duty;
};
[[nodiscard]] RestHours rest_of(const std::string& person, const model::RestCriterion& demand,
                                const model::Facts& facts, model::Instant cutoff);

// One for each kind of demand.
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::FigureCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::ZonesCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::TasksCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::CloseoutsCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::AnomaliesCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::StatementCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::EquipmentCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::ReadingCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::RestCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::SortieCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);
[[nodiscard]] CriterionResult judge(const model::Criterion& criterion, const model::WorkFitsCriterion& demand,
                                    const model::Gate& gate, const Grounds& grounds);

}  // namespace daywright::rules
