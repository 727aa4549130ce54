// Tables: consumables, counts, transfers, extension.

#include <algorithm>

#include <fmt/format.h>

#include "rules/assembly.h"
#include "rules/item_figures.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Table;

void add_items(Assembly& a) {
  Table table{"consumables",
              "Consumables",
              {{"item", "Item", "", false, true},
               {"level", "On board", "", true, true, true},
               {"unit", "Unit", "", false, false},
               {"factor", "Use / plan", "", true, true},
               {"plan", "At plan", "d", true, true},
               {"measured", "Measured", "d", true, true},
               {"assured", "Assured", "d", true, true},
               {"margin", "Margin", "d", true, true},
               {"with", "With transfers", "", true, true, true},
               {"units", "Margin in units", "", true, false},
               {"basis", "Basis", "", false, false},
               {"note", "Note", "", false, true},
               {"through", "Lasts through", "", false, false},
               {"ahead", "Ahead of plan", "", true, false, true},
               {"chance", "Chance to last", "%", true, false},
               {"leak", "Chance of a leak", "%", true, false},
               {"sentence", "In words", "", false, false}},
              {},
              6};
  for (const ItemMargins* margins : by_tightness(a.now.margins)) {
    const model::Item& item = *margins->level->item;
    const std::string id = "item." + item.id + ".";
    const auto cell = [&](const std::string& name) {
      return a.figures().has(id + name) ? Cell::of(id + name) : Cell::say("-");
    };
    const Cell title = a.quote(id + "title", "item", item.title, item.source);
    table.rows.push_back({title, cell("level"),
                          a.quote(id + "unit", "unit", std::string(item.unit->spelling), item.source),
                          cell("rate.factor"), cell("margin.plan.days"), cell("margin.measured.days"),
                          cell("margin.assured.days"), cell("margin.days"), cell("margin.with_transfers"),
                          cell("margin.units"), cell("margin.basis"), cell("margin.note"), cell("through"),
                          cell("ahead.units"), cell("lasts.chance"), cell("leak.chance"), cell("sentence")});
  }
  a.status.tables.push_back(std::move(table));
}

/// The margin of each item before and after each parting, for the workbook.
void add_configurations(Assembly& a) {
  Table table{"configurations",
              "Margin by configuration",
              {{"item", "Item", "", false, true},
               {"vehicle", "Vehicle", "", false, true},
               {"from", "From", "", false, true},
               {"units", "Margin", "", true, true, true},
               {"at", "Smallest at", "", false, true},
               {"basis", "Basis", "", false, true}},
              {},
              0};
  for (const ItemMargins& margins : a.now.margins) {
    const model::Item& item = *margins.level->item;
    const auto& vehicle = *model::find_by_id(a.mission().vehicles, item.vehicle);
    const std::string prefix = "item." + item.id + ".";
    const Cell in_vehicle = a.quote(prefix + "vehicle", "vehicle", vehicle.title, vehicle.source);
    for (const ConfigurationMargin& part : margins.by_configuration) {
      const std::string id = prefix + (part.from == nullptr ? std::string("now_on.") : "from." + part.from->id + ".");
      const std::string since = part.from == nullptr ? "the cut-off" : part.from->title;
      model::Trace trace{
          "smallest value of usable less reserve from " + since + " to the next parting, else the end",
          {from_figure(a.figures().at(prefix + "margin.units")), from_file("vehicle", vehicle.title, vehicle.source)}};
      if (part.from != nullptr) trace.inputs.push_back(from_file("event", part.from->title, part.from->source));
      const auto entry = [&](const char* name) {
        return Entry{id + name, fmt::format("{}, margin from {}", item.title, since), trace, doubts_of(margins)};
      };
      table.rows.push_back({Cell::of(prefix + "title"), in_vehicle, Cell::say(since),
                            Cell::of(a.figures().number(entry("units"), part.units, item.unit->spelling, item.step,
                                                        model::Rounding::down)),
                            Cell::of(a.figures().instant(entry("at"), part.at)), Cell::of(prefix + "margin.basis")});
    }
  }
  a.status.tables.push_back(std::move(table));
}

/// What the brief says in words: the limiting item, and whatever leaks or has a count that is not to be trusted.
void add_watch(Assembly& a) {
  Table table{"watch", "To watch", {{"sentence", "In words", "", false, true}}, {}, 0};
  const ItemMargins* limiting = find_limiting(a.now.margins);
  const auto add = [&](const ItemMargins& item) {
    table.rows.push_back({Cell::of("item." + item.level->item->id + ".sentence")});
  };
  if (limiting != nullptr) add(*limiting);
  for (const ItemMargins& item : a.now.margins) {
    const auto& suspects = item.level->suspects;
    const bool is_open =
        std::any_of(suspects.begin(), suspects.end(), [](const auto& s) { return !s.is_counted_again; });
    if (&item != limiting && (item.shows_leak || is_open)) add(item);
  }
  a.status.tables.push_back(std::move(table));
}

void add_counts(Assembly& a) {
  Table table{"counts",
              "Counts",
              {{"item", "Item", "", false, true},
               {"place", "Place", "", false, true},
               {"when", "Counted", "", false, true},
               {"quantity", "Quantity", "", true, true},
               {"unit", "Unit", "", false, true},
               {"method", "Way of counting", "", false, true},
               {"by", "By", "", false, true},
               {"source", "Source", "", false, true},
               {"agreement", "Agreement", "", false, true}},
              {},
              0};
  std::size_t number = 0;
  for (const auto& fact : a.facts().counts) {
    const auto& row = fact.row;
    if (row.when < a.evening.day.start) continue;  // the day's own rows: the history stays in the logs
    const auto* item = model::find_by_id(a.mission().items, row.item);
    const auto* place = model::find_by_id(a.mission().places, row.place);
    const std::string id = fmt::format("count.{}.", ++number);
    const std::string agreement = !fact.rivals.empty()       ? "disagrees with another source"
                                  : !fact.superseded.empty() ? "corrected"
                                  : !fact.confirmed.empty()  ? "confirmed by another source"
                                                             : "one source";
    table.rows.push_back(
        {Cell::of("item." + item->id + ".title"), a.quote(id + "place", "place", place->title, row.from.source),
         a.quote(id + "when", "counted", row.when, row.from.source),
         a.quote(id + "quantity", "quantity", row.quantity, item->unit->spelling, item->step, row.from.source),
         Cell::of("item." + item->id + ".unit"), a.quote(id + "method", "way of counting", row.method, row.from.source),
         a.quote(id + "by", "by", row.by, row.from.source),
         a.quote(id + "source", "source", a.place_of(row.from.source), row.from.source), Cell::say(agreement)});
  }
  a.status.tables.push_back(std::move(table));
}

void add_transfers(Assembly& a) {
  Table table{"transfers",
              "Transfers still to come",
              {{"transfer", "Transfer", "", false, true},
               {"item", "Item", "", false, true},
               {"from", "From", "", false, true},
               {"to", "To", "", false, true},
               {"quantity", "Quantity", "", true, true},
               {"unit", "Unit", "", false, true},
               {"when", "Planned", "", false, true},
               {"state", "State", "", false, true}},
              {},
              0};
  for (const auto& fact : a.facts().transfers) {
    const auto& row = fact.row;
    if (row.state != model::TransferState::planned) continue;
    const auto* item = model::find_by_id(a.mission().items, row.item);
    const auto title_of = [&](const std::string& place) {
      const auto* found = model::find_by_id(a.mission().places, place);
      return found == nullptr ? std::string("outside") : found->title;
    };
    const std::string id = fmt::format("transfer.{}.", a.figures().part("transfer", row.transfer));
    table.rows.push_back(
        {a.quote(id + "name", "transfer", row.transfer, row.from.source), Cell::of("item." + item->id + ".title"),
         a.quote(id + "from", "from", title_of(row.from_place), row.from.source),
         a.quote(id + "to", "to", title_of(row.to_place), row.from.source),
         a.quote(id + "quantity", "quantity", row.quantity, item->unit->spelling, item->step, row.from.source),
         Cell::of("item." + item->id + ".unit"), a.quote(id + "when", "planned for", row.when, row.from.source),
         Cell::say(row.when <= a.evening.cutoff ? "overdue" : "planned")});
  }
  a.status.tables.push_back(std::move(table));
}

void add_extension(Assembly& a) {
  Table table{"extension",
              "Extension",
              {{"days", "Days more", "", true, true},
               {"verdict", "Verdict", "", false, true},
               {"landing", a.mission().words.landing, "", false, true},
               {"needed", "Needed through", "", false, false},
               {"limiting", "Limited by", "", false, true},
               {"margin", "Margin", "d", true, true},
               {"reason", "Held by", "", false, true}},
              {},
              0};
  for (const ExtensionCase& with : a.extension) {
    const std::string id = fmt::format("extension.by_{}.", with.days);
    auto& figures = a.figures();
    const auto entry = [&](const std::string& name, const std::string& title) {
      return Entry{id + name, fmt::format("with {} days more, {}", with.days, title), with.trace, {}};
    };
    const model::Mission longer_clock = [&] {
      model::Mission clock;  // only what printing a time needs: launch and the table of flight days
      clock.words = a.mission().words;
      clock.launch = a.mission().launch;
      clock.flight_days = a.mission().flight_days.with_days_added(
          model::find_by_id(a.mission().events, a.mission().extension_before)->at, with.days);
      return clock;
    }();
    figures.words(entry("landing", "landing"), format_instant(with.landing, longer_clock));
    figures.words(entry("needed", "needed through"), format_instant(with.required_end, longer_clock));
    table.rows.push_back(
        {Cell::of(figures.count(entry("days", "days more"), static_cast<std::size_t>(with.days))),
         Cell::of(figures.verdict(entry("verdict", "verdict"), with.verdict)), Cell::of(id + "landing"),
         Cell::of(id + "needed"),
         Cell::of(figures.words(entry("limiting", "limiting item"), with.limiting.empty() ? "none" : with.limiting)),
         Cell::of(figures.number(entry("margin", "margin of the limiting item"), with.margin_days, "d", 0.1,
                                 model::Rounding::down)),
         Cell::of(figures.words(entry("reason", "held by"), with.reason.empty() ? "nothing" : with.reason))});
  }
  a.status.tables.push_back(std::move(table));
}

/// Towards the level that is reached sooner.
model::Rounding safe_rounding(const model::Item& item) {
  return item.sort == model::ItemSort::capacity ? model::Rounding::down : model::Rounding::up;
}

/// The redlines of one way home, a row for each item.
void enter_redlines(Assembly& a, const ReturnCase& home, Table& table) {
  auto& figures = a.figures();
  for (const Redline& line : home.redlines) {
    const model::Item& item = *line.item;
    const std::string id = fmt::format("return.{}.item.{}.", home.option->id, item.id);
    model::Trace trace{"the level of what comes along, less the margin with this return begun at the cut-off", {}};
    if (item.sort == model::ItemSort::capacity)
      trace.formula = "the level of what comes along, plus the margin with this return begun at the cut-off";
    trace.inputs.push_back(from_figure(figures.at("item." + item.id + ".level")));
    trace.inputs.push_back(from_file("return option", home.option->title, home.option->source));
    const auto enter = [&](const char* name, const char* title, std::optional<double> level, model::Rounding rounding) {
      return Cell::of(figures.number(
          {id + name, fmt::format("{}, {}: {}", home.option->title, item.title, title), trace, line.doubts}, level,
          item.unit->spelling, item.step, rounding));
    };
    table.rows.push_back({Cell::of("return." + home.option->id + ".title"), Cell::of("item." + item.id + ".title"),
                          enter("aboard", "on board and coming along", line.aboard, model::Rounding::nearest),
                          enter("plan", "level at which to plan it", line.plan, safe_rounding(item)),
                          home.option->minimum_hours > 0
                              ? enter("begin", "level at which to begin it", line.begin, safe_rounding(item))
                              : Cell::say("not given")});
  }
}

/// The ways home, and of the first one, what line 3 of the brief says.
void add_returns(Assembly& a) {
  Table table{"returns",
              "Return",
              {{"option", "Way home", "", false, true},
               {"verdict", "Verdict", "", false, true},
               {"landing", a.mission().words.landing + " if begun now", "", false, true},
               {"limiting", "Limited by", "", false, true},
               {"margin", "Margin", "d", true, true},
               {"latest", "Latest decision", "", false, true},
               {"redline", "Redline", "", true, true, true},
               {"set_by", "Set by", "", false, false},
               {"gives_up", "Gives up", "", false, false},
               {"reason", "Held by", "", false, true}},
              {},
              0};
  Table now{"return_now", "Return now", table.columns, {}, 0};
  Table redlines{"redlines",
                 "Redlines",
                 {{"option", "Way home", "", false, true},
                  {"item", "Item", "", false, true},
                  {"aboard", "Coming along", "", true, true, true},
                  {"plan", "Plan it at", "", true, true, true},
                  {"begin", "Begin it at", "", true, true, true}},
                 {},
                 0};
  auto& figures = a.figures();
  for (const ReturnCase& home : a.returns) {
    const model::ReturnOption& option = *home.option;
    const std::string id = "return." + option.id + ".";
    const std::vector<std::string> doubts =
        home.verdict == model::Verdict::no_data ? std::vector{home.reason} : std::vector<std::string>{};
    const auto entry = [&](const std::string& name, const std::string& title) {
      return Entry{id + name, option.title + ", " + title, home.trace, doubts};
    };
    const auto title_of = [](const model::Item* item) { return item == nullptr ? std::string("none") : item->title; };
    (void)a.quote(id + "title", "way home", option.title, option.source);
    (void)a.quote(id + "hours", "hours from the decision to the end", option.hours, "h", 0.1, option.source);
    (void)a.quote(id + "minimum_hours", "the same at the least", option.minimum_hours, "h", 0.1, option.source);
    (void)a.quote(id + "gives_up", "gives up", option.gives_up.empty() ? "nothing" : option.gives_up, option.source);
    figures.verdict(entry("verdict", "verdict"), home.verdict);
    figures.instant(entry("landing", "landing if begun now"), home.landing);
    figures.words(entry("limiting", "limiting item"), title_of(home.limiting));
    figures.number(entry("margin", "margin of the limiting item"), home.margin ? home.margin->days : std::nullopt, "d",
                   0.1, model::Rounding::down);
    figures.instant(entry("latest", "latest decision that keeps every reserve"),
                    home.latest_decision
                        ? std::optional<model::Instant>(std::chrono::floor<std::chrono::minutes>(*home.latest_decision))
                        : std::nullopt);
    figures.words(entry("set_by", "what sets the latest decision"),
                  home.is_last_opportunity ? "the last opportunity" : title_of(home.set_by));
    enter_redlines(a, home, redlines);
    const Redline* limit = home.limiting_redline();
    figures.number(entry("redline", "level of the limiting item from which it is no longer covered"),
                   limit == nullptr ? std::nullopt : limit->plan, limit == nullptr ? "" : home.limiting->unit->spelling,
                   limit == nullptr ? 1 : home.limiting->step,
                   limit == nullptr ? model::Rounding::up : safe_rounding(*home.limiting));
    figures.words(entry("reason", "held by"), home.reason.empty() ? "nothing" : home.reason);
    table.rows.push_back({Cell::of(id + "title"), Cell::of(id + "verdict"), Cell::of(id + "landing"),
                          Cell::of(id + "limiting"), Cell::of(id + "margin"), Cell::of(id + "latest"),
                          Cell::of(id + "redline"), Cell::of(id + "set_by"), Cell::of(id + "gives_up"),
                          Cell::of(id + "reason")});
  }
  if (!table.rows.empty()) now.rows.push_back(table.rows.front());
  a.status.tables.push_back(std::move(table));
  a.status.tables.push_back(std::move(now));
  a.status.tables.push_back(std::move(redlines));
}

}  // namespace

void add_consumables(Assembly& a) {
  add_items(a);
  add_configurations(a);
  add_watch(a);
  add_extension(a);
  add_returns(a);
  add_counts(a);
  add_transfers(a);
}

}  // namespace daywright::rules
