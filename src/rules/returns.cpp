#include "rules/returns.h"

#include <algorithm>

#include <fmt/format.h>

#include "rules/decisions.h"
#include "rules/evidence.h"
#include "rules/item_figures.h"
#include "rules/timeline.h"

namespace daywright::rules {
namespace {

using model::Instant;
using model::Verdict;

/// The margins of every item if the return begins at `decide`; nothing when no opportunity is left.
std::optional<std::vector<ItemMargins>> margins_of_return(const Evening& evening, const std::vector<ItemLevel>& levels,
                                                          const model::ReturnOption& option, Instant decide) {
  const auto mission = plan_return(evening.mission, option, decide);
  if (!mission) return std::nullopt;
  return compute_margins(*mission, evening.rules.margins, evening.facts, levels, evening.cutoff, Detail::margins);
}

/// What an item has in the places that come along: those that no event takes away.
double level_aboard(const ItemLevel& level) {
  double sum = 0;
  for (const auto& place : level.places) {
    if (place.place->until.empty()) sum += place.level;
  }
  return sum;
}

/// The level at which the margin would be used up; nothing where there is no margin.
std::optional<double> redline_of(const ItemMargins& item) {
  if (!item.governing) return std::nullopt;
  const double sign = item.level->item->sort == model::ItemSort::capacity ? 1 : -1;
  return level_aboard(*item.level) + sign * item.governing->units;
}

/// The item that is short, or null; an item without a margin says nothing here.
const ItemMargins* find_short(const std::vector<ItemMargins>& margins) {
  const auto found = std::find_if(margins.begin(), margins.end(),
                                  [](const auto& item) { return item.governing && !item.governing->is_covered(); });
  return found == margins.end() ? nullptr : &*found;
}

class ReturnJudge {
 public:
  ReturnJudge(const Evening& evening, const std::vector<ItemLevel>& levels, const std::vector<TaskStatus>& tasks,
              const FigureBook& figures, const model::ReturnOption& option)
      : evening_(evening), levels_(levels), tasks_(tasks), figures_(figures), option_(option) {
    result_.option = &option;
  }

  ReturnCase run() {
    result_.trace = {
        "the flight with this return begun at the cut-off: every item covered to its landing, reserves kept",
        {from_file("return option", option_.title, option_.source)}};
    const auto now = margins_of_return(evening_, levels_, option_, evening_.cutoff);
    if (!now) {
      weigh(Verdict::not_ready, "no opportunity to land is left");
    } else {
      judge_now(*now);
      find_redlines(*now);
      find_latest();
    }
    for (const Doubt& doubt : doubts_about_decisions(evening_.facts)) weigh(Verdict::no_data, doubt.text);
    for (const auto& id : option_.needs) judge_need(*model::find_by_id(evening_.rules.criteria, id));
    result_.verdict = model::combine(verdicts_);
    result_.reason = !failure_.empty() ? failure_ : gap_;
    return std::move(result_);
  }

 private:
  void weigh(Verdict verdict, const std::string& reason) {
    verdicts_.push_back(verdict);
    if (verdict == Verdict::not_ready && failure_.empty()) failure_ = reason;
    if (verdict == Verdict::no_data && gap_.empty()) gap_ = reason;
  }

  void judge_now(const std::vector<ItemMargins>& margins) {
    result_.landing = landing_after(evening_.cutoff);
    for (const ItemMargins& item : margins) {
      const auto doubts = doubts_of(item);
      const std::string& title = item.level->item->title;
      if (item.governing && !item.governing->is_covered()) {
        weigh(Verdict::not_ready, title + " is short on the way");
      } else if (!item.governing || !doubts.empty()) {
        weigh(Verdict::no_data, fmt::format("{}: {}", title, doubts.empty() ? "no margin" : doubts.front()));
      } else {
        weigh(Verdict::ready, {});
      }
    }
    if (const ItemMargins* limiting = find_limiting(margins)) {
      result_.limiting = limiting->level->item;
      result_.margin = limiting->governing;
      result_.trace.inputs.push_back(from_file(result_.limiting->title + ", level",
                                               fmt::format("{:.6g}", limiting->level->total()),
                                               result_.limiting->source));
      result_.trace.inputs.push_back(from_file(result_.limiting->title + ", margin on the way",
                                               fmt::format("{:.6g}", limiting->governing->units),
                                               result_.limiting->source));
    }
  }

  void find_redlines(const std::vector<ItemMargins>& planned) {
    model::ReturnOption fastest = option_;
    fastest.hours = option_.minimum_hours;
    const auto at_least =
        option_.minimum_hours > 0 ? margins_of_return(evening_, levels_, fastest, evening_.cutoff) : std::nullopt;
    for (std::size_t i = 0; i < planned.size(); ++i) {
      const ItemMargins& item = planned[i];
      result_.redlines.push_back({item.level->item, level_aboard(*item.level), redline_of(item),
                                  at_least ? redline_of((*at_least)[i]) : std::nullopt, doubts_of(item)});
    }
  }

  [[nodiscard]] std::optional<Instant> landing_after(Instant decide) const {
    const auto earliest = decide + model::from_days(option_.hours / 24);
    const auto found = std::lower_bound(option_.opportunities.begin(), option_.opportunities.end(), earliest);
    return found == option_.opportunities.end() ? std::nullopt : std::optional(*found);
  }

  /// Every opportunity is tried, the last one first: a decision that finds a reserve released, or something made, can
  /// leave more than an earlier one. Once they have landed as planned there is nothing left to decide.
  void find_latest() {
    bool is_last = true;
    for (auto opportunity = option_.opportunities.rbegin(); opportunity != option_.opportunities.rend();
         ++opportunity) {
      const Instant decide = *opportunity - model::from_days(option_.hours / 24);
      if (decide < evening_.cutoff) return;
      if (decide >= evening_.mission.landing()) continue;
      const auto margins = margins_of_return(evening_, levels_, option_, decide);
      const ItemMargins* missing = margins ? find_short(*margins) : nullptr;
      if (missing == nullptr) {
        result_.latest_decision = decide;
        result_.is_last_opportunity = is_last;
        return;
      }
      is_last = false;
      result_.set_by = missing->level->item;
    }
  }

  void judge_need(const model::Criterion& criterion) {
    const auto judged =
        judge_criterion(criterion, *model::find_by_id(evening_.mission.gates, criterion.gate),
                        {evening_.mission, evening_.facts, tasks_, figures_, evening_.cutoff, evening_.rules.roles});
    weigh(judged.verdict, fmt::format("{}: {}", criterion.title, judged.reason));
    result_.trace.inputs.push_back(
        from_file("criterion " + criterion.id, std::string(model::words(judged.verdict)), criterion.source));
  }

  const Evening& evening_;
  const std::vector<ItemLevel>& levels_;
  const std::vector<TaskStatus>& tasks_;
  const FigureBook& figures_;
  const model::ReturnOption& option_;
  ReturnCase result_;
  std::vector<Verdict> verdicts_;
  std::string failure_;
  std::string gap_;
};

}  // namespace

const Redline* ReturnCase::limiting_redline() const {
  const auto found =
      std::find_if(redlines.begin(), redlines.end(), [&](const auto& line) { return line.item == limiting; });
  return found == redlines.end() ? nullptr : &*found;
}

std::optional<model::Mission> plan_return(const model::Mission& mission, const model::ReturnOption& option,
                                          Instant decide) {
  const auto earliest = decide + model::from_days(option.hours / 24);
  const auto opportunity = std::lower_bound(option.opportunities.begin(), option.opportunities.end(), earliest);
  if (opportunity == option.opportunities.end()) return std::nullopt;
  model::Mission home = mission;
  std::erase_if(home.phases, [&](const auto& phase) { return phase.start >= decide; });
  home.phases.push_back({"", option.title, decide, option.kind, option.source});
  for (const auto& place : home.places) {
    auto* until = model::find_by_id(home.events, place.until);
    if (until != nullptr && until->at > decide) until->at = decide;
  }
  std::erase_if(home.events, [&](const auto& event) {
    const bool ends_a_place =
        std::any_of(home.places.begin(), home.places.end(), [&](const auto& place) { return place.until == event.id; });
    return event.at > decide && !ends_a_place;
  });
  for (std::size_t i = 0; i < option.events.size(); ++i) {
    // An id that no plan can hold, so that nothing is released by it.
    const std::string id = fmt::format("return {} {}", option.id, i);
    home.events.push_back({id, option.title, *opportunity, option.events[i], option.source});
  }
  for (auto& person : home.persons) {
    std::erase_if(person.stays, [&](const auto& stay) { return stay.from > decide; });
    if (!person.stays.empty()) person.stays.push_back({decide, person.seat});
  }
  home.landing_days = {{"planned", {*opportunity}, option.source}};
  return home;
}

std::vector<ReturnCase> judge_returns(const Evening& evening, const std::vector<ItemLevel>& levels,
                                      const std::vector<TaskStatus>& tasks, const FigureBook& figures) {
  std::vector<ReturnCase> cases;
  for (const auto& option : evening.rules.returns)
    cases.push_back(ReturnJudge(evening, levels, tasks, figures, option).run());
  return cases;
}

}  // namespace daywright::rules
