#include "rules/trial_steps.h"

#include <algorithm>
#include <optional>
#include <set>
#include <string>
#include <string_view>

#include <fmt/format.h>

#include "rules/trial.h"

namespace daywright::rules {
namespace {

/// What a transfer does to an item: at which turn, in which place, how much.
struct Effect {
  std::size_t turn = 0;
  const model::Place* place = nullptr;
  double quantity = 0;

  bool operator==(const Effect&) const = default;
};

const PlanJump& jump_at(const ItemPlan& plan, std::size_t turn) {
  return turn == 0 ? plan.at_start : plan.jumps[turn - 1];
}

std::vector<Effect> effects_of(const ItemPlan& plan, std::string_view transfer) {
  std::vector<Effect> effects;
  for (std::size_t turn = 0; turn <= plan.jumps.size(); ++turn) {
    for (const auto& move : jump_at(plan, turn).moves) {
      if (move.transfer == transfer) effects.push_back({turn, plan.places[move.place].place, move.quantity});
    }
  }
  return effects;
}

std::string describe(const model::Mission& mission, const model::Item& item, const model::TransferRow& row) {
  const auto title_of = [&](const std::string& id) {
    const auto* place = model::find_by_id(mission.places, id);
    return place == nullptr ? std::string("outside") : place->title;
  };
  return fmt::format("{} {} {}, {} to {}, {}", model::format_number(row.quantity, item.step), item.unit->spelling,
                     item.title, title_of(row.from_place), title_of(row.to_place), model::format_utc(row.when));
}

/// The index of a place among `places`; one that only `plan` has is added.
std::size_t place_index(std::vector<PlaceAhead>& places, const ItemPlan& plan, const model::Place* place) {
  const auto is_it = [&](const PlaceAhead& ahead) { return ahead.place == place; };
  const auto found = std::find_if(places.begin(), places.end(), is_it);
  if (found != places.end()) return static_cast<std::size_t>(found - places.begin());
  places.push_back(*std::find_if(plan.places.begin(), plan.places.end(), is_it));
  return places.size() - 1;
}

/// Adds what a transfer does in `plan`, where it is made or turned by the switch `by`.
void add_moves(const std::vector<Effect>& effects, const ItemPlan& plan, std::optional<std::size_t> by, bool on,
               TrialSteps& steps) {
  for (const Effect& effect : effects) {
    const std::size_t place = place_index(steps.places, plan, effect.place);
    auto& moves = steps.by_turn[effect.turn].moves;
    auto found = std::find_if(moves.begin(), moves.end(),
                              [&](const auto& move) { return move.place == place && by && move.by == by; });
    if (found == moves.end()) found = moves.insert(moves.end(), {place, 0, 0, by});
    (on ? found->on : found->off) += effect.quantity;
  }
}

void add_transfer(const TrialFlight& flight, const ItemPlan& plan, const model::TransferRow& row, TrialSteps& steps,
                  std::vector<model::TrialSwitch>& switches) {
  const model::Item& item = *plan.item;
  const auto of_record = effects_of(plan, row.transfer);
  const ItemPlan without = flight.plan_of(item, {.not_out = {row.transfer}});
  const ItemPlan with = flight.plan_of(item, {.in = {row.transfer}});
  const bool is_on = effects_of(without, row.transfer) != of_record;
  const ItemPlan& turned = is_on ? without : with;
  const auto otherwise = effects_of(turned, row.transfer);
  if (otherwise == of_record || steps.switches.size() == most_switches_of_item) {
    add_moves(of_record, plan, std::nullopt, true, steps);
    return;
  }
  const std::size_t by = switches.size();
  steps.switches.push_back(by);
  switches.push_back({row.transfer, describe(flight.evening.mission, item, row), is_on});
  add_moves(of_record, plan, by, is_on, steps);
  add_moves(otherwise, turned, by, !is_on, steps);
}

}  // namespace

TrialSteps lay_out_steps(const TrialFlight& flight, const ItemPlan& plan, std::vector<model::TrialSwitch>& switches) {
  TrialSteps steps{std::vector<model::TrialStep>(plan.pieces.size() + 1), plan.places, {}};
  for (std::size_t turn = 0; turn < steps.by_turn.size(); ++turn) {
    const PlanJump& jump = jump_at(plan, turn);
    steps.by_turn[turn].draw = jump.draw;
    steps.by_turn[turn].make = jump.make;
    for (const auto& move : jump.moves) steps.by_turn[turn].moved += move.quantity;
  }
  std::set<std::string_view> seen;
  for (const auto& fact : flight.evening.facts.transfers) {
    const auto& row = fact.row;
    const bool is_planned = row.item == plan.item->id && row.state == model::TransferState::planned;
    if (is_planned && seen.insert(row.transfer).second) add_transfer(flight, plan, row, steps, switches);
  }
  return steps;
}

}  // namespace daywright::rules
