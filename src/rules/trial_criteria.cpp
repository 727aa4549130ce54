#include "rules/trial_criteria.h"

#include <optional>
#include <string>
#include <utility>
#include <variant>

#include "rules/evidence.h"
#include "rules/item_figures.h"

namespace daywright::rules {
namespace {

using model::Basis;

/// The margin that a criterion asks for; nothing where it asks for something else.
std::optional<model::TrialCriterion::OfMargin> margin_asked(const model::Mission& mission, const Evaluation& now,
                                                            const model::FigureCriterion& demand) {
  for (std::size_t i = 0; i < mission.items.size(); ++i) {
    const model::Item& item = mission.items[i];
    const ItemMargins& margins = now.margins[i];
    const std::string prefix = "item." + item.id + ".margin.";
    for (const auto& [name, basis] :
         {std::pair{"", std::optional<Basis>{}}, std::pair{"plan.", std::optional(Basis::plan)},
          std::pair{"measured.", std::optional(Basis::measured)},
          std::pair{"assured.", std::optional(Basis::assured)}}) {
      for (const bool in_days : {true, false}) {
        if (demand.figure != prefix + name + (in_days ? "days" : "units")) continue;
        // There is no such figure.
        if (basis == Basis::measured && !margins.level->has_daily_use) return std::nullopt;
        if (basis == Basis::assured && !item.ledger.empty()) return std::nullopt;
        const model::Unit* unit = in_days ? model::find_unit("d") : item.unit;
        if (demand.unit == nullptr || demand.unit->dimension != unit->dimension) return std::nullopt;
        const auto doubts = basis ? texts_of(margins.level->doubts) : doubts_of(margins);
        return model::TrialCriterion::OfMargin{
            i, basis, in_days, demand.comparison, model::convert(demand.limit, *demand.unit, *unit), doubts.empty()};
      }
    }
  }
  return std::nullopt;
}

}  // namespace

std::vector<model::TrialCriterion> lay_out_trial_criteria(const Evening& evening, const Evaluation& now) {
  std::vector<model::TrialCriterion> criteria;
  for (const auto& criterion : evening.rules.criteria) {
    if (!criterion.limits_extension) continue;
    model::TrialCriterion laid;
    laid.title = model::find_by_id(evening.mission.gates, criterion.gate)->title + ": " + criterion.title;
    const auto* figure = std::get_if<model::FigureCriterion>(&criterion.demand);
    if (figure != nullptr) laid.margin = margin_asked(evening.mission, now, *figure);
    laid.depends_on_changes = (figure != nullptr && !laid.margin) ||
                              std::holds_alternative<model::WorkFitsCriterion>(criterion.demand) ||
                              std::holds_alternative<model::RestCriterion>(criterion.demand);
    criteria.push_back(std::move(laid));
  }
  return criteria;
}

}  // namespace daywright::rules
