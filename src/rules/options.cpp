#include "rules/options.h"

#include <algorithm>
#include <vector>

#include <fmt/format.h>

#include "model/suggest.h"
#include "rules/assembly.h"
#include "rules/item_figures.h"
#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Table;

template <class Things>
std::string unknown(std::string_view what, const std::string& id, const Things& things) {
  std::vector<std::string> known;
  for (const auto& thing : things) known.push_back(thing.id);
  return fmt::format("there is no {} '{}'{}", what, id, model::did_you_mean(id, known));
}

/// Why the names in `what_if` can't be used; empty: they can.
std::string find_wrong_name(const Evening& evening, const WhatIf& what_if) {
  std::vector<std::string> transfers;
  for (const auto& fact : evening.facts.transfers) {
    if (fact.row.state == model::TransferState::planned) transfers.push_back(fact.row.transfer);
  }
  for (const auto* named : {&what_if.choice.in, &what_if.choice.not_out}) {
    for (const auto& id : *named) {
      if (std::find(transfers.begin(), transfers.end(), id) == transfers.end())
        return fmt::format("there is no planned transfer '{}'{}", id, model::did_you_mean(id, transfers));
    }
  }
  for (const auto& [item, factor] : what_if.choice.rates) {
    if (model::find_by_id(evening.mission.items, item) == nullptr) return unknown("item", item, evening.mission.items);
  }
  if (what_if.going_home && model::find_by_id(evening.rules.returns, what_if.going_home->option) == nullptr)
    return unknown("return option", what_if.going_home->option, evening.rules.returns);
  return {};
}

/// So many persons aboard the vehicle that comes home from `from` on, whoever they are; all others are elsewhere.
void change_crew(model::Mission& mission, const WhatIf::Crew& crew) {
  int aboard = 0;
  for (auto& person : mission.persons) {
    std::erase_if(person.stays, [&](const auto& stay) { return stay.from >= crew.from; });
    const bool is_aboard = !person.stays.empty() && person.stays.back().vehicle == mission.vehicle;
    if (is_aboard && ++aboard > crew.persons) person.stays.push_back({crew.from, {}});
    // A return that is decided later takes home whoever is aboard then, and nobody else.
    person.seat = person.stays.empty() ? std::string{} : person.stays.back().vehicle;
  }
  for (; aboard < crew.persons; ++aboard)
    mission.persons.push_back({fmt::format("one more {}", aboard),
                               "one more",
                               {{crew.from, mission.vehicle}},
                               mission.vehicle,
                               mission.source});
}

/// In one line, what is changed.
std::string in_words(const WhatIf& what_if, const model::Mission& mission) {
  std::string words;
  const auto add = [&](const std::string& change) { words += (words.empty() ? "" : "; ") + change; };
  if (what_if.extra_days != 0) add(fmt::format("{} d more", what_if.extra_days));
  for (const auto& id : what_if.choice.in) add(fmt::format("with transfer {} in", id));
  for (const auto& id : what_if.choice.not_out) add(fmt::format("without transfer {} out", id));
  for (const auto& [item, factor] : what_if.choice.rates) add(fmt::format("{} at {:g} times its rate", item, factor));
  if (what_if.crew)
    add(fmt::format("{} persons aboard from {}", what_if.crew->persons, format_instant(what_if.crew->from, mission)));
  if (what_if.going_home)
    add(fmt::format("return {} decided at {}", what_if.going_home->option,
                    format_instant(what_if.going_home->at, mission)));
  return words;
}

/// Two flights side by side: verdict, landing, limiting item.
void add_flights(Assembly& a, const ExtensionCase& plain, const ExtensionCase& changed, const std::string& change,
                 const model::Mission& mission) {
  Table table{"what_if",
              "What if",
              {{"flight", "Flight", "", false, true},
               {"verdict", "Verdict", "", false, true},
               {"landing", a.mission().words.landing, "", false, true},
               {"needed", "Needed through", "", false, true},
               {"limiting", "Limited by", "", false, true},
               {"margin", "Margin", "d", true, true},
               {"reason", "Held by", "", false, true}},
              {},
              0};
  const auto add = [&](const std::string& name, const std::string& title, const ExtensionCase& flight,
                       const model::Mission& clock) {
    const std::string id = "what_if." + name + ".";
    auto& figures = a.figures();
    const auto entry = [&](const std::string& what, const std::string& words) {
      return Entry{id + what, fmt::format("{}, {}", title, words), flight.trace, {}};
    };
    table.rows.push_back(
        {Cell::of(figures.words(entry("flight", "what is changed"), title)),
         Cell::of(figures.verdict(entry("verdict", "verdict"), flight.verdict)),
         Cell::of(figures.words(entry("landing", "landing"), format_instant(flight.landing, clock))),
         Cell::of(figures.words(entry("needed", "needed through"), format_instant(flight.required_end, clock))),
         Cell::of(
             figures.words(entry("limiting", "limiting item"), flight.limiting.empty() ? "none" : flight.limiting)),
         Cell::of(figures.number(entry("margin", "margin of the limiting item"), flight.margin_days, "d", 0.1,
                                 model::Rounding::down)),
         Cell::of(figures.words(entry("reason", "held by"), flight.reason.empty() ? "nothing" : flight.reason))});
  };
  add("plain", "as planned", plain, a.mission());
  add("changed", change, changed, mission);
  a.status.tables.push_back(std::move(table));
}

/// Each item's margin in both flights.
void add_items(Assembly& a, const std::vector<ItemMargins>& changed, const model::Mission& mission) {
  Table table{"what_if_items",
              "What if, item by item",
              {{"item", "Item", "", false, true},
               {"plain", "As planned", "", false, true},
               {"plain_basis", "Basis", "", false, true},
               {"changed", "What if", "", false, true},
               {"changed_basis", "Basis", "", false, true},
               {"plan", "At plan", "", true, true},
               {"measured", "Measured", "", true, true},
               {"assured", "Assured", "", true, true}},
              {},
              0};
  FigureBook figures(mission);
  enter_items(mission, changed, figures);
  for (const ItemMargins& item : changed) {
    const model::Item& plan = *item.level->item;
    const std::string id = "item." + plan.id + ".";
    const auto copy = [&](const std::string& name) {
      const model::Figure& figure = figures.at(id + name);
      return Cell::of(a.figures().words(
          {fmt::format("what_if.{}{}", id, name), fmt::format("{}, what if", figure.title), figure.trace, {}},
          model::with_unit(figure)));
    };
    // In days; what is not used by the day in its own unit; what has no such basis not at all.
    const auto on_basis = [&](const std::string& basis) {
      for (const char* unit : {".days", ".units"}) {
        const std::string name = fmt::format("margin.{}{}", basis, unit);
        if (figures.has(id + name)) return copy(name);
      }
      return Cell::say("-");
    };
    table.rows.push_back({a.quote("what_if." + id + "title", "item", plan.title, plan.source),
                          Cell::of(id + "margin.words"), Cell::of(id + "margin.basis"), copy("margin.words"),
                          copy("margin.basis"), on_basis("plan"), on_basis("measured"), on_basis("assured")});
  }
  a.status.tables.push_back(std::move(table));
}

}  // namespace

bool WhatIf::changes_anything() const {
  return extra_days != 0 || !choice.in.empty() || !choice.not_out.empty() || !choice.rates.empty() || crew ||
         going_home;
}

std::variant<model::Mission, std::string> change_plan(const Evening& evening, const WhatIf& what_if) {
  if (auto why = find_wrong_name(evening, what_if); !why.empty()) return why;
  const auto* before = model::find_by_id(evening.mission.events, evening.mission.extension_before);
  if (what_if.extra_days > 0 && before->at <= evening.cutoff)
    return fmt::format("days can be added before {} only, and that is past", before->title);
  model::Mission mission = extend(evening.mission, what_if.extra_days);
  if (what_if.crew) {
    if (what_if.crew->from < evening.cutoff) return std::string("the crew can't change before the cut-off");
    if (what_if.going_home && what_if.crew->from > what_if.going_home->at)
      return std::string("the crew can't change after the return is decided");
    change_crew(mission, *what_if.crew);
  }
  if (what_if.going_home) {
    if (what_if.going_home->at < evening.cutoff) return std::string("a return can't be decided before the cut-off");
    const auto& option = *model::find_by_id(evening.rules.returns, what_if.going_home->option);
    auto home = plan_return(mission, option, what_if.going_home->at);
    if (!home) return fmt::format("decided then, return option '{}' has no opportunity to land", option.id);
    mission = std::move(*home);
  }
  return mission;
}

std::variant<model::DayStatus, std::string> compute_options(const Evening& evening, const WhatIf& what_if,
                                                            const Issue& issue) {
  auto changed = change_plan(evening, what_if);
  if (const auto* why = std::get_if<std::string>(&changed)) return *why;
  const auto& mission = std::get<model::Mission>(changed);
  Evaluation now = evaluate(evening);
  Assembly assembly{evening,
                    now,
                    judge_extensions(evening, now),
                    judge_returns(evening, now.levels, now.tasks, now.figures),
                    nullptr,
                    nullptr,
                    issue,
                    {}};
  assembly.status.files = issue.files;
  add_consumables(assembly);
  if (what_if.changes_anything()) {
    const auto margins = compute_margins(mission, evening.rules.margins, evening.facts, now.levels, evening.cutoff,
                                         Detail::everything, what_if.choice);
    add_flights(assembly, judge_flight(evening, evening.mission, now.margins, now.tasks),
                judge_flight(evening, mission, margins, now.tasks), in_words(what_if, evening.mission), mission);
    add_items(assembly, margins, mission);
  }
  assembly.status.figures = now.figures.take();
  return std::move(assembly.status);
}

}  // namespace daywright::rules
