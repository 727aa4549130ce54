#include "rules/item_figures.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

#include "rules/evidence.h"

namespace daywright::rules {
namespace {

using model::Rounding;
using model::Trace;

constexpr double day_step = 0.1;

std::string basis_words(model::Basis basis, double assurance) {
  if (basis == model::Basis::assured) return fmt::format("with {:g} % assurance", assurance);
  return basis == model::Basis::plan ? "at plan" : "at the measured rate";
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
    if (level_.has_daily_use) {
      enter_basis("measured", "at the measured rate", margins_.measured, texts_of(level_.doubts),
                  prefix_ + "rate.factor");
    }
    if (item_.ledger.empty())
      enter_basis("assured", basis_words(model::Basis::assured, margins_.assurance), margins_.assured,
                  texts_of(level_.doubts), {});
    enter_governing(doubts_of(margins_));
    enter_leak();
    enter_chance();
    figures_.words(entry("sentence", "in one sentence", sum_up()), sentence());
  }

 private:
  Entry entry(const std::string& id, const std::string& title, Trace trace, std::vector<std::string> doubts = {}) {
    return {prefix_ + id, fmt::format("{}, {}", item_.title, title), std::move(trace), std::move(doubts)};
  }
  std::string quantity(Entry e, std::optional<double> value, Rounding rounding) {
    return figures_.number(std::move(e), value, item_.unit->spelling, item_.step, rounding);
  }

  /// All counts that the estimate rests on.
  [[nodiscard]] std::vector<model::TraceInput> counts_as_inputs() const {
    std::vector<model::TraceInput> inputs;
    for (const auto* count : level_.counts) {
      inputs.push_back(from_file(
          "count in " + count->row.place,
          fmt::format("{:g} {} at {}", count->row.quantity, item_.unit->spelling, model::format_utc(count->row.when)),
          count->row.from.source));
    }
    return inputs;
  }

  void enter_level() {
    Trace all{"sum over the places that can be used, each as estimated from all its counts", {}};
    for (const PlaceLevel& place : level_.places) {
      const std::string id = "place." + place.place->id + ".level";
      Trace trace{"estimated from all counts; beside it the last one, carried to the cut-off at plan", {}};
      const auto add = [&](const char* name, double value, model::Source source) {
        trace.inputs.push_back(from_file(name, fmt::format("{:.4g} {}", value, item_.unit->spelling), source));
      };
      if (place.count != nullptr) {
        const auto& row = place.count->row;
        trace.inputs.push_back(from_file("last count",
                                         fmt::format("{:g} {} by {} at {}", row.quantity, item_.unit->spelling,
                                                     row.method, model::format_utc(row.when)),
                                         row.from.source));
        add("planned use since", place.use.drawn, item_.source);
        if (place.use.made != 0) add("made since", place.use.made, item_.source);
        if (place.use.moved != 0) add("moved in since", place.use.moved, row.from.source);
        add("last count, carried", place.carried, row.from.source);
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
    if (level_.in_service_hours) {
      Trace trace{"rated crew-hours of the last planned change-out less those lived since, over the crew of now",
                  {from_file("item", item_.title, item_.source)}};
      figures_.number(entry("in_service.hours", "hours left on those in service", std::move(trace)),
                      level_.in_service_hours, "h", 1, Rounding::down);
    }
    if (!level_.is_complete) return;
    Trace ahead{"on board less what the plan leaves of the first count of each place", {}};
    ahead.inputs.push_back(from_figure(figures_.at(prefix_ + "level")));
    ahead.inputs.push_back(from_file("rates", item_.title, item_.source));
    quantity(entry("ahead.units", "ahead of plan", ahead), level_.ahead, Rounding::down);
    if (margins_.daily > 0) {
      figures_.number(entry("ahead.hours", "ahead of plan in hours", std::move(ahead)),
                      level_.ahead / margins_.daily * 24, "h", 1, Rounding::down);
    }
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
    if (!level_.has_daily_use) return;
    Trace factor{"use over planned use, estimated from all counts", counts_as_inputs()};
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
    add("less leaked up to then", -margin.leaked);
    add("made up to then", margin.made);
    add("moved by the transfers that count", margin.moved);
    add("less the reserve held then", -margin.held);
    add("less what is not sure by then", -margin.width);
    add("less what lies in places that are gone by then",
        margin.units -
            (margin.usable - margin.drawn - margin.leaked + margin.made + margin.moved - margin.held - margin.width));
  }

  Trace margin_trace(const std::string& basis, const std::optional<Margin>& margin) {
    Trace trace{fmt::format("smallest value of usable less reserve from the cut-off to the required end, {}", basis),
                {}};
    trace.inputs.push_back(from_figure(figures_.at(prefix_ + "level")));
    trace.inputs.push_back(from_figure(figures_.at(prefix_ + "rate.daily")));
    trace.inputs.push_back(from_file("required end", format_instant(mission_.required_end(), mission_),
                                     mission_.landing_days.back().source));
    for (const auto& [place, amount] : item_.residual) {
      trace.inputs.push_back(from_file("can't be drawn, " + model::find_by_id(mission_.places, place)->title,
                                       fmt::format("{:g} {}", amount, item_.unit->spelling), item_.source));
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
    for (const char* basis : {"margin.plan.units", "margin.measured.units", "margin.assured.units", "margin.plan.days",
                              "margin.measured.days", "margin.assured.days"}) {
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
                   governing ? basis_words(margins_.governing_basis, margins_.assurance) : "NO DATA");
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

  void enter_leak() {
    if (!margins_.leak_chance) return;
    Trace trace{"the weight of the explanations of all counts that hold a leak", counts_as_inputs()};
    percent(entry("leak.chance", "chance of a leak", trace), *margins_.leak_chance, Rounding::up);
    if (!margins_.shows_leak) return;
    trace.formula = "mean of the leak under the explanations that hold one";
    quantity(entry("leak.rate", "leak per 24 h, if there is one", trace), margins_.leak_rate, Rounding::up);
    trace.formula = "middle of the interval between counts in which it most likely began";
    figures_.instant(entry("leak.since", "since when it leaks, if it does", trace), margins_.leak_since);
    trace.formula = "the governing basis, if nothing leaks: shown beside the margin, never instead of it";
    const auto& without = margins_.without_leak;
    if (without && without->days) {
      figures_.number(entry("margin.without_leak", "margin if nothing leaks", std::move(trace)), without->days, "d",
                      day_step, Rounding::down);
    } else if (without) {
      quantity(entry("margin.without_leak", "margin if nothing leaks", std::move(trace)), without->units,
               Rounding::down);
    }
  }

  void enter_chance() {
    if (!margins_.lasts_chance) return;
    Trace trace{"chance that usable less reserve is not below zero where the assured margin is smallest", {}};
    trace.inputs.push_back(from_figure(figures_.at(prefix_ + "level")));
    trace.inputs.push_back(from_file("required end", format_instant(mission_.required_end(), mission_),
                                     mission_.landing_days.back().source));
    percent(entry("lasts.chance", "chance to last to the required end", std::move(trace), texts_of(level_.doubts)),
            *margins_.lasts_chance, Rounding::down);
  }

  std::string percent(Entry e, double chance, Rounding rounding) {
    return figures_.number(std::move(e), chance * 100, "%", 1, rounding);
  }

  [[nodiscard]] Trace sum_up() const {
    Trace trace{"what the figures of the item say", {}};
    for (const char* name : {"level", "rate.factor", "ahead.units", "margin.words", "leak.chance", "lasts.chance"}) {
      if (const auto* figure = figures_.find(prefix_ + name)) trace.inputs.push_back(from_figure(*figure));
    }
    trace.inputs.push_back(from_file("item", item_.title, item_.source));
    return trace;
  }

  [[nodiscard]] std::string units(double value, Rounding rounding) const {
    return fmt::format("{} {}", model::format_number(model::round_to(value, item_.step, rounding), item_.step),
                       item_.unit->spelling);
  }
  [[nodiscard]] static std::string days(double value, Rounding rounding) {
    return fmt::format("{} d", model::format_number(model::round_to(value, day_step, rounding), day_step));
  }
  [[nodiscard]] static std::string whole(double value, Rounding rounding) {
    return model::format_number(model::round_to(value, 1, rounding), 1);
  }

  [[nodiscard]] std::string in_words() const {
    if (!margins_.governing) {
      if (!level_.doubts.empty()) return "NO DATA: " + level_.doubts.front().text;
      return margins_.gaps.empty() ? "NO DATA" : "NO DATA: " + margins_.gaps.front();
    }
    return words_of(*margins_.governing);
  }

  [[nodiscard]] std::string words_of(const Margin& margin) const {
    if (!margin.is_covered()) {
      const std::string amount = margin.days ? days(-*margin.days, Rounding::up) : units(-margin.units, Rounding::up);
      return fmt::format("not covered, short by {}, first on {} {}", amount, mission_.words.day,
                         mission_.flight_days.number_at(*margin.first_short));
    }
    if (margin.days) return days(*margin.days, Rounding::down) + " over";
    return units(margin.units, Rounding::down) + " over, no daily use";
  }

  /// "leak likely, 63 %"; empty where none is shown.
  [[nodiscard]] std::string leak_words() const {
    if (!margins_.shows_leak) return {};
    constexpr double even = 0.5;
    constexpr double nearly_sure = 0.99;  // counts alone never make it certain
    const double chance = *margins_.leak_chance;
    return fmt::format("leak {}, {} %", chance > even ? "likely" : "suspected",
                       chance > nearly_sure ? "over 99" : whole(chance * 100, Rounding::up));
  }

  [[nodiscard]] std::string note() const {
    if (!margins_.governing) return in_words();
    if (!level_.doubts.empty()) return "UNSOUND: " + level_.doubts.front().text;
    const std::string leak = leak_words();
    const std::string covered = !margins_.governing->is_covered() ? in_words()
                                : margins_.governing->days        ? std::string("covered")
                                                                  : "covered, " + in_words();
    return leak.empty() ? covered : covered + "; " + leak;
  }

  /// "by gauge", with the name of the way of counting where that says more.
  [[nodiscard]] std::string way_words(const std::string& method) const {
    constexpr std::array kinds{"weighing", "tally", "gauge", "derivation"};  // as in model::CountKind
    const auto* way = model::find_by_id(mission_.methods, method);
    const std::string kind = kinds.at(static_cast<std::size_t>(way->kind));
    return method == kind || method == "weighed" ? kind : fmt::format("{} ({})", kind, method);
  }

  [[nodiscard]] std::string counted_words() const {
    const PlaceLevel* newest = nullptr;
    for (const auto& place : level_.places) {
      if (newest == nullptr || place.count->row.when > newest->count->row.when) newest = &place;
    }
    if (newest == nullptr) return "in no place that can be used";
    return fmt::format("last count by {} in {} at {}", way_words(newest->count->row.method), newest->place->title,
                       model::format_utc(newest->count->row.when));
  }

  [[nodiscard]] std::string rate_words() const {
    const bool is_cartridge = item_.rated_crew_hours > 0;
    if (is_cartridge && item_.per_event.empty()) return speed_words() + " by crew-hours over the rated life";
    if (!is_cartridge) return speed_words();
    const auto* left = figures_.find(prefix_ + "in_service.hours");
    return "changed out on the planned schedule" +
           (left == nullptr ? std::string() : fmt::format(", {} h left on those in service", left->text));
  }

  [[nodiscard]] std::string speed_words() const {
    if (!level_.has_daily_use) return "used in events only";
    if (!level_.factor) return "too few counts to say how fast it goes";
    const std::string percents = whole(std::abs(*level_.factor - 1) * 100, Rounding::nearest);
    if (percents == "0") return "goes as planned";
    return fmt::format("goes {} % {} than planned", percents, *level_.factor > 1 ? "faster" : "slower");
  }

  /// What was counted, how and when; how fast it goes; what it means; what to do about what is not sure.
  [[nodiscard]] std::string sentence() const {
    if (!level_.is_complete || level_.reads.empty()) return item_.title + ": " + in_words() + ".";
    std::string text = fmt::format("{}: {} on board, {}; {}; {}", item_.title, units(level_.total(), Rounding::nearest),
                                   counted_words(), rate_words(), in_words());
    if (margins_.governing) text += " " + basis_words(margins_.governing_basis, margins_.assurance);
    if (margins_.governing && !margins_.reading.empty()) text += ", " + margins_.reading;
    if (margins_.shows_leak) {
      text += fmt::format("; {}: {} a day since {}", leak_words(), units(margins_.leak_rate, Rounding::up),
                          format_instant(*margins_.leak_since, mission_));
      if (margins_.without_leak) text += "; if nothing leaks, " + words_of(*margins_.without_leak);
    }
    for (const SuspectCount& suspect : level_.suspects) {
      if (suspect.is_counted_again) continue;
      text += fmt::format("; the count of {} at {} is suspect ({} %): count again",
                          units(suspect.count->row.quantity, Rounding::nearest),
                          model::format_utc(suspect.count->row.when), whole(suspect.chance * 100, Rounding::nearest));
    }
    if (!item_.ledger.empty()) text += "; its uncertainty is in its ledger";
    const std::string advice = recount_words();
    return text + (advice.empty() ? "." : "; " + advice + ".");
  }

  /// What to count again.
  [[nodiscard]] std::string recount_words() const {
    if (!margins_.recount) return {};
    const Recount& recount = *margins_.recount;
    constexpr double two_sided = 1.645;  // deviations either way that hold 90 %
    const std::string before = units(two_sided * recount.sd_before, Rounding::up);
    const std::string after = units(two_sided * recount.sd_after, Rounding::up);
    if (before == after) return {};  // a count that gains nothing that could be seen is no advice
    return fmt::format("a count by {} in {} narrows the margin most, from {} to {} either way",
                       way_words(recount.method), recount.place->title, before, after);
  }

  const model::Mission& mission_;
  const ItemMargins& margins_;
  const ItemLevel& level_;
  const model::Item& item_;
  FigureBook& figures_;
  std::string prefix_;
};

/// The chance that an item lasts to the required end. Of an item with a ledger the uncertainty is in the ledger: it is
/// sure to last or sure not to.
std::optional<double> chance_to_last(const ItemMargins& item) {
  if (!item.level->item->ledger.empty() && item.governing) return item.governing->is_covered() ? 1 : 0;
  return item.lasts_chance;
}

}  // namespace

void enter_chances(const model::Mission& mission, const std::vector<ItemMargins>& margins, FigureBook& figures) {
  model::Trace trace{"product of the chances of the items", {}};
  std::vector<std::string> doubts;
  bool is_known = true;
  double all = 1;
  double missing = 0;
  for (const ItemMargins& item : margins) {
    const auto& plan = *item.level->item;
    if (!item.governing || !item.level->doubts.empty()) doubts.push_back("no sound margin for " + plan.title);
    const auto chance = chance_to_last(item);
    is_known = is_known && chance;
    all *= chance.value_or(0);
    missing += 1 - chance.value_or(0);
    if (const auto* shown = figures.find("item." + plan.id + ".lasts.chance"))
      trace.inputs.push_back(from_figure(*shown));
  }
  trace.inputs.push_back(from_file("plan", mission.name, mission.source));
  const auto in_percent = [&](double chance) { return is_known ? std::optional(chance * 100) : std::nullopt; };
  figures.number({"supplies.chance", "chance that every item lasts to the required end", trace, doubts},
                 in_percent(all), "%", 1, model::Rounding::down);
  trace.formula = "1 less the chances of the items to fall short, however they hang together (Bonferroni's inequality)";
  figures.number({"supplies.chance_at_least", "the same at the least", std::move(trace), std::move(doubts)},
                 in_percent(std::max(0.0, 1 - missing)), "%", 1, model::Rounding::down);
}

std::vector<std::string> doubts_of(const ItemMargins& margins) {
  std::vector<std::string> doubts = texts_of(margins.level->doubts);
  doubts.insert(doubts.end(), margins.gaps.begin(), margins.gaps.end());
  return doubts;
}

void enter_items(const model::Mission& mission, const std::vector<ItemMargins>& margins, FigureBook& figures) {
  for (const ItemMargins& item : margins) ItemEntries(mission, item, figures).enter();
}

}  // namespace daywright::rules
