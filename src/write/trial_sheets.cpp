#include "write/trial_sheets.h"

#include <algorithm>
#include <array>
#include <map>
#include <set>
#include <string_view>

#include <fmt/format.h>

#include "model/printable.h"
#include "model/quantity.h"

namespace daywright::write {
namespace {

using model::Basis;
using model::TrialCourse;
using model::TrialItem;
using model::TrialLeg;
using model::TrialPlan;
using model::TrialReading;

constexpr std::array both_bases{Basis::plan, Basis::measured};

/// What stands in place of the days of an item that is not used by the day.
constexpr const char* no_days = "-";
constexpr const char* in_the_ledger = "in the ledger";

/// "A" for 0, "AB" for 27.
std::string column_name(std::size_t index) {
  std::string name;
  for (std::size_t rest = index + 1; rest > 0; rest = (rest - 1) / 26)
    name.insert(name.begin(), static_cast<char>('A' + (rest - 1) % 26));
  return name;
}

std::string number(double value) { return value < 0 ? fmt::format("({})", value) : fmt::format("{}", value); }

/// Joins terms of a sum; empty ones are left out, and a sum of none is nothing.
std::string sum(const std::vector<std::string>& terms) {
  std::string text;
  for (const auto& term : terms) {
    if (term.empty()) continue;
    if (!text.empty() && !term.starts_with('-')) text += '+';
    text += term;
  }
  return text.empty() ? "0" : text;
}

/// "a*b", where a factor of 1 is left out.
std::string times(double factor, const std::string& of) { return factor == 1 ? of : number(factor) + "*" + of; }

SheetCell live(std::string formula, FormulaResult result, int decimals = 0, std::string name = {}) {
  return SheetFormula{std::move(formula), std::move(result), decimals, std::move(name)};
}

const TrialCourse* course_on(const TrialReading& reading, Basis basis) {
  if (basis == Basis::plan) return &reading.plan;
  return reading.measured ? &*reading.measured : nullptr;
}

/// Whether it matters in which place an item lies: one of them does not count all the way.
bool goes_by_place(const TrialItem& item) {
  const auto always = [](const std::vector<bool>& counts) {
    return std::all_of(counts.begin(), counts.end(), [](bool c) { return c; });
  };
  return !std::all_of(item.places.begin(), item.places.end(),
                      [&](const auto& place) { return always(place.counts_at_end) && always(place.counts_after); });
}

/// Words that name a thing in formulas: letters, digits and underscores, each name once.
class Names {
 public:
  std::string make(std::string_view kind, std::string_view name) {
    std::string made = std::string(kind) + "_";
    for (const char c : name) {
      const bool is_plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
      made += is_plain ? c : '_';
    }
    constexpr std::size_t longest = 200;  // of 255 that spreadsheets take
    made.resize(std::min(made.size(), longest));
    std::string free = made;
    for (int next = 2; !taken_.insert(lower(free)).second; ++next) free = fmt::format("{}_{}", made, next);
    return free;
  }

 private:
  /// Names differ in more than small and capital letters.
  static std::string lower(std::string text) {
    for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    return text;
  }

  std::set<std::string> taken_;
};

/// Where the sheets have what other sheets refer to. Rows are those of formulas, from 1.
struct Whereabouts {
  std::vector<std::string> rates;                                   ///< name of the rate factor, by item
  std::vector<std::string> switches;                                ///< name, by switch
  std::vector<std::vector<std::size_t>> course;                     ///< first row, by item and reading
  std::vector<std::vector<std::map<Basis, std::size_t>>> by_place;  ///< likewise, by basis
  std::vector<std::vector<std::size_t>> readings;                   ///< row in Margins, by item and reading
  std::vector<std::size_t> items;                                   ///< row in Margins, by item
  std::vector<std::size_t> cases;                                   ///< first row in Cases, by item
  std::vector<std::size_t> criteria;                                ///< row in Cases, by criterion
  std::size_t first_item = 0;                                       ///< row in Options
  std::size_t first_criterion = 0;                                  ///< likewise
};

class TrialSheets {
 public:
  explicit TrialSheets(const model::DayStatus& status) : status_(status), trial_(status.trial) { find_places(); }

  std::vector<Sheet> run() {
    std::vector<Sheet> sheets;
    sheets.push_back(options());
    sheets.push_back(margins());
    sheets.push_back(course());
    if (places_width_ > 0) sheets.push_back(places());
    sheets.push_back(phases());
    sheets.push_back(cases());
    for (Sheet& sheet : sheets) sheet.fit_widths();
    return sheets;
  }

 private:
  [[nodiscard]] std::size_t stretches() const { return trial_.stretches.size(); }

  // ---- Where things stand ----

  void find_places() {
    for (const auto& item : trial_.items) {
      by_place_.push_back(goes_by_place(item));
      if (by_place_.back()) places_width_ = std::max(places_width_, item.places.size());
    }
    Names names;
    for (const auto& item : trial_.items) where_.rates.push_back(names.make("rate", item.id));
    for (const auto& turn : trial_.switches) where_.switches.push_back(names.make("transfer", turn.transfer));
    std::size_t in_course = Sheet::first_row;
    std::size_t in_places = Sheet::first_row;
    std::size_t in_margins = Sheet::first_row;
    std::size_t in_cases = Sheet::first_row;
    for (const auto& item : trial_.items) {
      auto& of_course = where_.course.emplace_back();
      auto& of_places = where_.by_place.emplace_back();
      auto& of_readings = where_.readings.emplace_back();
      for (const auto& reading : item.readings) {
        of_course.push_back(in_course);
        in_course += item.legs.size() + 2;  // the cut-off before them, the required end behind
        auto& of_bases = of_places.emplace_back();
        for (const Basis basis : both_bases) {
          if (!by_place_[where_.course.size() - 1] || course_on(reading, basis) == nullptr) continue;
          of_bases[basis] = in_places + 1;  // below a row of headings
          in_places += item.legs.size() + 2;
        }
        of_readings.push_back(in_margins++);
      }
      where_.cases.push_back(in_cases);
      in_cases += item.assured.size();
    }
    ++in_margins;  // headings
    for (std::size_t i = 0; i < trial_.items.size(); ++i) where_.items.push_back(in_margins++);
    ++in_cases;  // headings
    for (std::size_t c = 0; c < trial_.criteria.size(); ++c) where_.criteria.push_back(in_cases++);
    where_.first_criterion = Sheet::first_row + 16 + trial_.switches.size();
    where_.first_item = where_.first_criterion + trial_.criteria.size() + 2;
  }

  /// Row of a stretch in Phases; that of the cut-off is the one before the first, that of the end the one behind.
  [[nodiscard]] static std::size_t phase_row(std::size_t stretch) { return Sheet::first_row + 1 + stretch; }
  /// How many days a leg takes.
  [[nodiscard]] static std::string days_of(const TrialLeg& leg) {
    if (leg.first == leg.last) return fmt::format("Phases!$E${}", phase_row(leg.last));
    return fmt::format("(Phases!$C${}-Phases!$C${})", phase_row(leg.last), phase_row(leg.first) - 1);
  }
  [[nodiscard]] std::string crew_at(const TrialItem& item, std::size_t stretch) const {
    return fmt::format("Phases!${}${}", column_name(6 + item.vehicle), phase_row(stretch));
  }
  [[nodiscard]] std::string option_rows(const char* column) const {
    return fmt::format("${0}${1}:${0}${2}", column, where_.first_item, where_.first_item + trial_.items.size() - 1);
  }
  [[nodiscard]] std::string margin_rows(const char* column) const {
    return fmt::format("Margins!${0}${1}:${0}${2}", column, where_.items.front(), where_.items.back());
  }

  // ---- What an item uses ----

  /// What an item draws per 24 h on a day of a kind.
  [[nodiscard]] std::string draw_per_day(std::size_t index, std::size_t kind, const std::string& crew) const {
    return where_.rates[index] + "*" + rate(trial_.items[index].draws[kind], crew);
  }
  /// What is made of it; only where something is.
  [[nodiscard]] std::string make_per_day(std::size_t index, std::size_t kind, const std::string& crew) const {
    const auto& item = trial_.items[index];
    return where_.rates[*item.made_from] + "*" + rate(item.makes[kind], crew);
  }
  [[nodiscard]] static std::string rate(const model::TrialRate& rate, const std::string& crew) {
    if (rate.per_person == 0) return number(rate.fixed);
    if (rate.fixed == 0) return fmt::format("{}*{}", number(rate.per_person), crew);
    return fmt::format("({}+{}*{})", number(rate.fixed), number(rate.per_person), crew);
  }

  [[nodiscard]] std::string held(std::size_t index, const model::TrialReserve& reserve, const std::string& crew) const {
    std::vector<std::string> terms;
    if (reserve.fixed != 0) terms.push_back(number(reserve.fixed));
    if (reserve.events != 0) terms.push_back(where_.rates[index] + "*" + number(reserve.events));
    for (const auto& [days, kind] : reserve.days) {
      std::string net = draw_per_day(index, kind, crew);
      if (reserve.is_made) net += "-" + make_per_day(index, kind, crew);
      terms.push_back(fmt::format("{}*MAX(0,{})", number(days), net));
    }
    return sum(terms);
  }

  [[nodiscard]] std::string moved_in(const model::TrialStep& step, std::optional<std::size_t> place) const {
    std::vector<std::string> terms;
    for (const auto& move : step.moves) {
      if (place && move.place != *place) continue;
      if (!move.by) {
        if (move.on != 0) terms.push_back(number(move.on));
      } else if (move.on != move.off) {
        terms.push_back(fmt::format("IF({}=\"yes\",{},{})", where_.switches[*move.by], move.on, move.off));
      }
    }
    return terms.empty() ? std::string() : sum(terms);
  }

  // ---- Options ----

  [[nodiscard]] bool governs(Basis basis) const {
    return std::find(trial_.bases.begin(), trial_.bases.end(), basis) != trial_.bases.end();
  }
  [[nodiscard]] std::string words_of(Basis basis) const {
    if (basis == Basis::assured) return fmt::format("with {:g} % assurance", trial_.assurance);
    return basis == Basis::plan ? "at plan" : "at the measured rate";
  }

  /// A number of the status, as it is rounded there; words where it has none.
  [[nodiscard]] FormulaResult result_of(const std::string& figure) const {
    const auto* found = status_.find(figure);
    if (found == nullptr) return std::string();
    if (const auto* value = std::get_if<double>(&found->value)) return *value;
    return std::string("NO DATA");
  }

  /// The content of `cell` rounded down as figures are (model::round_to); words as they are.
  [[nodiscard]] static std::string rounded_down(const std::string& cell, double step) {
    const std::string steps = fmt::format("{}/{}", cell, step);
    return fmt::format(
        "IF(ISNUMBER({0}),ROUND(IF(ABS({1}-ROUND({1},0))>0.000000001,INT({1}),ROUND({1},0))*{2},{3}),{0})", cell, steps,
        step, model::decimals_of(step));
  }

  Sheet options() {
    Sheet sheet{"Options", "Options: change a marked cell to try a case", std::vector<SheetColumn>(15), {}};
    for (const std::size_t c : {1U, 3U, 4U, 5U, 6U, 7U, 8U, 9U, 10U, 13U}) sheet.columns[c].is_number = true;
    auto& rows = sheet.rows;
    rows.push_back({SheetHeading{"Try"}, SheetHeading{"Input"}, SheetHeading{"As planned"}});
    const double most_days = trial_.days_possible;
    rows.push_back({std::string("Days more"), SheetInput{"extra_days", SheetInput::Kind::whole, 0, most_days, 0.0},
                    SheetNumber{0, 0, ""},
                    SheetNote{trial_.days_possible > 0
                                  ? fmt::format("before {}, up to {}", model::printable(trial_.added_before), most_days)
                                  : "it is too late for that"}});
    constexpr double most_persons = 99;
    rows.push_back({"Persons aboard " + model::printable(trial_.vehicles[trial_.own_vehicle]),
                    SheetInput{"crew_aboard", SheetInput::Kind::whole, 0, most_persons, {}}, std::string("empty"),
                    SheetNote{"from the cut-off on; empty: as planned"}});
    for (std::size_t s = 0; s < trial_.switches.size(); ++s) {
      const auto& turn = trial_.switches[s];
      const std::string planned = turn.is_on ? "yes" : "no";
      rows.push_back({"Transfer " + model::printable(turn.transfer) + " is made",
                      SheetInput{where_.switches[s], SheetInput::Kind::yes_or_no, 0, 0, planned}, planned,
                      SheetNote{model::printable(turn.title)}});
    }
    add_state(rows);
    rows.emplace_back();
    add_flight(rows);
    rows.emplace_back();
    rows.push_back({SheetHeading{"Criteria that limit how long the flight can be"}, SheetHeading{"Verdict"}});
    for (std::size_t c = 0; c < trial_.criteria.size(); ++c) rows.push_back(criterion_row(c));
    rows.emplace_back();
    add_items(sheet);
    return sheet;
  }

  [[nodiscard]] std::string switches_range(char column) const {
    return fmt::format("${0}${1}:${0}${2}", column, Sheet::first_row + 3,
                       Sheet::first_row + 2 + trial_.switches.size());
  }

  [[nodiscard]] std::string any_switch_turned() const {
    return fmt::format("SUMPRODUCT(--({}<>{}))>0", switches_range('B'), switches_range('C'));
  }

  /// Whether the inputs can be used, and whether they are those of record.
  void add_state(std::vector<std::vector<SheetCell>>& rows) const {
    const std::string rates = option_rows("B");
    std::string in_order = fmt::format(
        "AND(ISNUMBER(extra_days),N(extra_days)>=0,N(extra_days)<={},N(extra_days)=INT(N(extra_days)),"
        "OR(crew_aboard=\"\",AND(ISNUMBER(crew_aboard),N(crew_aboard)>=0,N(crew_aboard)=INT(N(crew_aboard)))),"
        "COUNT({})={},COUNTIF({},\"<0\")=0",
        trial_.days_possible, rates, trial_.items.size(), rates);
    std::string is_changed =
        fmt::format("OR(extra_days<>0,crew_aboard<>\"\",COUNTIF({0},1)<>{1}", rates, trial_.items.size());
    if (!trial_.switches.empty()) {
      in_order +=
          fmt::format(",COUNTIF({0},\"yes\")+COUNTIF({0},\"no\")={1}", switches_range('B'), trial_.switches.size());
      is_changed += "," + any_switch_turned();
    }
    rows.push_back({std::string("Inputs"), live(fmt::format("IF({}),\"in order\",\"NOT IN ORDER\")", in_order),
                                                std::string("in order"), 0, "inputs")});
    rows.push_back(
        {std::string("State"), live(fmt::format("IF({}),\"{}\",\"{}\")", is_changed, not_of_record, of_record),
                                    std::string(of_record), 0, "what_if")});
  }

  void add_flight(std::vector<std::vector<SheetCell>>& rows) const {
    rows.push_back({SheetHeading{"The flight"}, SheetHeading{"As tried"}});
    const std::string landing =
        fmt::format("Phases!$D${}{}{}", Sheet::first_row, "+" + number(model::in_days(trial_.landing - trial_.cutoff)),
                    trial_.lands_later ? "+extra_days" : "");
    rows.push_back({word("words.landing", "Landing") + ", UTC", live(landing, trial_.landing, 0, "landing")});
    rows.push_back({std::string("Needed through, UTC"), live(fmt::format("Phases!$D${}", phase_row(stretches() - 1)),
                                                             trial_.stretches.back().end, 0, "needed_through")});
    rows.push_back({std::string("Verdict"), live(verdict(), std::string(model::words(trial_.verdict)), 0, "verdict"),
                    std::string(), SheetNote{"that everything lasts and every criterion below holds"}});
    add_limiting(rows, "Limited by", "O", "limiting_item", trial_.limiting, std::nullopt);
    for (const Basis basis : {Basis::plan, Basis::measured, Basis::assured}) {
      const char* key = basis == Basis::plan ? "L" : basis == Basis::measured ? "M" : "N";
      add_limiting(rows, "Limited by, " + words_of(basis), key, {},
                   trial_.limiting_on.at(static_cast<std::size_t>(basis)), basis);
    }
  }

  /// The tightest item by a column of keys in Margins, and its days beside it.
  void add_limiting(std::vector<std::vector<SheetCell>>& rows, std::string title, const char* key, std::string name,
                    std::optional<std::size_t> item, std::optional<Basis> basis) const {
    const bool is_governing = !basis;
    const std::string keys = margin_rows(key);
    const std::string asks = basis == Basis::assured ? margin_rows("H") : margin_rows("K");
    const bool can_ask = is_governing || basis == Basis::assured;
    const auto found = [&](const std::string& of, const std::string& none) {
      const std::string tightest =
          fmt::format("IF(COUNT({0})=0,\"{1}\",INDEX({2},MATCH(MIN({0}),{0},0)))", keys, none, of);
      return can_ask ? fmt::format("IF(COUNTIF({},\"{}\")>0,\"{}\",{})", asks, ask_the_program,
                                   of == option_rows("A") ? ask_the_program : "", tightest)
                     : tightest;
    };
    const char* days_column = is_governing ? "K" : basis == Basis::plan ? "E" : basis == Basis::measured ? "G" : "I";
    const std::string days_figure = is_governing               ? "margin.days"
                                    : basis == Basis::plan     ? "margin.plan.days"
                                    : basis == Basis::measured ? "margin.measured.days"
                                                               : "margin.assured.days";
    const FormulaResult days =
        item ? result_of("item." + trial_.items[*item].id + "." + days_figure) : FormulaResult(std::string());
    rows.push_back({std::move(title),
                    live(found(option_rows("A"), "none"),
                         item ? model::printable(trial_.items[*item].title) : std::string("none"), 0, std::move(name)),
                    live(found(option_rows(days_column), ""), days, 1), SheetNote{"d"}});
  }

  [[nodiscard]] std::string verdict() const {
    const std::string items = option_rows("M");
    const std::string criteria =
        trial_.criteria.empty()
            ? items
            : fmt::format("$B${}:$B${}", where_.first_criterion, where_.first_criterion + trial_.criteria.size() - 1);
    const auto any = [&](model::Verdict wanted) {
      const auto words = model::words(wanted);
      return fmt::format("COUNTIF({},\"{}\")+COUNTIF({},\"{}\")", items, words, criteria, words);
    };
    const auto words = [](model::Verdict v) { return fmt::format("\"{}\"", model::words(v)); };
    return fmt::format("IF(inputs<>\"in order\",{0},IF({1}>0,{2},IF({3}{4}>0,{0},IF({5}>0,{6},{7}))))",
                       words(model::Verdict::no_data), any(model::Verdict::not_ready), words(model::Verdict::not_ready),
                       any(model::Verdict::no_data), trial_.are_decisions_sound ? "" : "+1",
                       any(model::Verdict::ready_with_conditions), words(model::Verdict::ready_with_conditions),
                       words(model::Verdict::ready));
  }

  [[nodiscard]] std::vector<SheetCell> criterion_row(std::size_t index) const {
    const auto& criterion = trial_.criteria[index];
    const std::string of_record(model::words(criterion.verdicts.front()));
    std::string formula;
    if (criterion.margin) {
      formula = margin_verdict(*criterion.margin);
    } else {
      const std::size_t row = where_.criteria[index];
      formula = fmt::format("INDEX(Cases!$C${0}:${1}${0},extra_days+1)", row,
                            column_name(2 + static_cast<std::size_t>(trial_.days_possible)));
      if (criterion.depends_on_changes) formula = fmt::format("IF({},\"NO DATA\",{})", other_change(), formula);
    }
    return {model::printable(criterion.title), live(formula, of_record)};
  }

  /// Whether anything but the number of days is changed.
  [[nodiscard]] std::string other_change() const {
    std::string changed = fmt::format("OR(crew_aboard<>\"\",COUNTIF({},1)<>{}", option_rows("B"), trial_.items.size());
    if (!trial_.switches.empty()) changed += "," + any_switch_turned();
    return changed + ")";
  }

  [[nodiscard]] std::string margin_verdict(const model::TrialCriterion::OfMargin& asked) const {
    const char* column = !asked.basis                      ? (asked.in_days ? "K" : "J")
                         : *asked.basis == Basis::plan     ? (asked.in_days ? "E" : "D")
                         : *asked.basis == Basis::measured ? (asked.in_days ? "G" : "F")
                                                           : (asked.in_days ? "I" : "H");
    const std::string cell = fmt::format("${}${}", column, where_.first_item + asked.item);
    const bool at_least = asked.comparison == model::Comparison::at_least;
    const std::string fails = fmt::format("{0}{1}{2}{3}0.000000001*MAX(ABS({0}),{4})", cell, at_least ? "<" : ">",
                                          number(asked.limit), at_least ? "-" : "+", std::abs(asked.limit));
    return fmt::format("IF(ISNUMBER({}),IF({},\"NOT READY\",\"{}\"),\"NO DATA\")", cell, fails,
                       asked.is_sound ? "READY" : "NO DATA");
  }

  void add_items(Sheet& sheet) const {
    auto& rows = sheet.rows;
    rows.push_back({SheetHeading{"Item"}, SheetHeading{"Rate factor"}, SheetHeading{"Unit"}, SheetHeading{"At plan"},
                    SheetHeading{"At plan, d"}, SheetHeading{"Measured"}, SheetHeading{"Measured, d"},
                    SheetHeading{"Assured"}, SheetHeading{"Assured, d"}, SheetHeading{"Margin"},
                    SheetHeading{"Margin, d"}, SheetHeading{"Basis"}, SheetHeading{"Verdict"},
                    SheetHeading{"As recorded, d"}, SheetHeading{"Because"}});
    const std::size_t first = rows.size();
    for (std::size_t i = 0; i < trial_.items.size(); ++i) rows.push_back(item_row(i));
    SheetChart chart{"Margins in days", "d", false, first + trial_.items.size() + 1, 0, {}};
    for (const auto& [column, name] :
         {std::pair{"E", "at plan"}, std::pair{"G", "at the measured rate"}, std::pair{"I", "assured"}}) {
      chart.series.push_back({name, "=Options!" + option_rows("A"), "=Options!" + option_rows(column)});
    }
    sheet.charts.push_back(std::move(chart));
    if (auto along = limiting_chart(sheet.charts.back().row)) sheet.charts.push_back(std::move(*along));
  }

  [[nodiscard]] std::vector<SheetCell> item_row(std::size_t index) const {
    const TrialItem& item = trial_.items[index];
    const std::size_t row = where_.items[index];
    const std::string figure = "item." + item.id + ".margin.";
    const auto shown = [&](const char* column, const std::string& id, double step) {
      return live(rounded_down(fmt::format("Margins!${}${}", column, row), step), margin_result(item, id),
                  model::decimals_of(step));
    };
    constexpr double day_step = 0.1;
    const std::string basis = item.governing ? words_of(item.governing_basis) : std::string("NO DATA");
    constexpr double most_factor = 1000;
    return {model::printable(item.title),
            SheetInput{where_.rates[index], SheetInput::Kind::decimal, 0, most_factor, 1.0},
            item.unit,
            shown("C", figure + "plan.units", item.step),
            shown("D", figure + "plan.days", day_step),
            shown("E", figure + "measured.units", item.step),
            shown("F", figure + "measured.days", day_step),
            shown("G", figure + "assured.units", item.step),
            shown("H", figure + "assured.days", day_step),
            shown("I", figure + "units", item.step),
            shown("J", figure + "days", day_step),
            live(fmt::format("Margins!$K${}", row), basis),
            item.governing ? live(item_verdict(index), std::string(model::words(item.verdict)))
                           : SheetCell(std::string(model::words(item.verdict))),
            recorded(figure + "days"),
            model::printable(item.doubt)};
  }

  [[nodiscard]] SheetCell recorded(const std::string& id) const {
    const auto result = result_of(id);
    if (const auto* value = std::get_if<double>(&result)) return SheetNumber{*value, 1, ""};
    return std::get<std::string>(result);
  }

  /// What the cell of a margin shows as planned: the figure, or the words that Margins has in its place.
  [[nodiscard]] FormulaResult margin_result(const TrialItem& item, const std::string& id) const {
    const auto* figure = status_.find(id);
    if (figure != nullptr && std::holds_alternative<double>(figure->value)) return std::get<double>(figure->value);
    const bool is_assured = id.find(".assured.") != std::string::npos;
    const bool is_measured = id.find(".measured.") != std::string::npos;
    if (is_assured && item.has_ledger && item.plan) return std::string(in_the_ledger);
    if (figure != nullptr || !item.plan || (is_measured && !item.measured)) return std::string("NO DATA");
    // The status has no measured margin of what is taken at plan, and no days of what is not used by the day.
    return id.ends_with(".days")
               ? FormulaResult(std::string(no_days))
               : FormulaResult(model::round_to(item.measured->units, item.step, model::Rounding::down));
  }

  [[nodiscard]] std::string item_verdict(std::size_t index) const {
    const TrialItem& item = trial_.items[index];
    const std::size_t row = where_.items[index];
    std::string lowest;
    for (const Basis basis : trial_.bases) {
      if (basis == Basis::assured && item.has_ledger) continue;
      const char* column = basis == Basis::plan ? "C" : basis == Basis::measured ? "E" : "G";
      lowest += fmt::format("{}Margins!${}${}", lowest.empty() ? "" : ",", column, row);
    }
    return fmt::format("IF(MIN({0})<-{1},\"NOT READY\",IF(ISNUMBER(Margins!$I${2}),\"{3}\",\"NO DATA\"))", lowest,
                       item.step * 1e-9, row, item.doubt.empty() ? "READY" : "NO DATA");
  }

  [[nodiscard]] std::string word(const std::string& id, const std::string& otherwise) const {
    const auto* figure = status_.find(id);
    return figure == nullptr ? otherwise : model::printable(figure->text);
  }

  // ---- Margins ----

  Sheet margins() {
    Sheet sheet{"Margins", "Margins, unrounded", {}, {}};
    for (const char* header :
         {"Item", "Counts read", "Use / plan", "Made / plan", "Leak per 24 h", "At plan: net use per 24 h",
          "At plan: margin", "At plan, d", "Measured: net use per 24 h", "Measured: margin", "Measured, d"})
      sheet.columns.push_back({header, 8, sheet.columns.size() > 1});
    for (int more = 0; more < 4; ++more) sheet.columns.push_back({"", 8, true});
    for (std::size_t i = 0; i < trial_.items.size(); ++i) {
      for (std::size_t r = 0; r < trial_.items[i].readings.size(); ++r) sheet.rows.push_back(reading_row(i, r));
    }
    sheet.rows.push_back({SheetHeading{"Item"}, SheetHeading{"Unit"}, SheetHeading{"At plan"},
                          SheetHeading{"At plan, d"}, SheetHeading{"Measured"}, SheetHeading{"Measured, d"},
                          SheetHeading{"Assured"}, SheetHeading{"Assured, d"}, SheetHeading{"Margin"},
                          SheetHeading{"Margin, d"}, SheetHeading{"Basis"}, SheetHeading{"Order at plan"},
                          SheetHeading{"Order, measured"}, SheetHeading{"Order, assured"}, SheetHeading{"Order"}});
    for (std::size_t i = 0; i < trial_.items.size(); ++i) sheet.rows.push_back(item_margins(i));
    return sheet;
  }

  std::vector<SheetCell> reading_row(std::size_t index, std::size_t r) const {
    const TrialItem& item = trial_.items[index];
    const TrialReading& reading = item.readings[r];
    const std::size_t row = where_.readings[index][r];
    double leak = 0;
    for (const double of_place : reading.leaks) leak += of_place;
    std::vector<SheetCell> cells{model::printable(item.title),
                                 reading.how.empty() ? std::string("as merged") : model::printable(reading.how)};
    cells.push_back(reading.measured ? SheetCell(SheetNumber{reading.measured->factor, 4, ""}) : SheetCell(""));
    cells.push_back(reading.measured ? SheetCell(SheetNumber{reading.measured->made_factor, 4, ""}) : SheetCell(""));
    cells.push_back(SheetNumber{leak, 4, ""});
    const std::size_t first = where_.course[index][r];
    const std::string crew = crew_at(item, stretches());
    for (const Basis basis : both_bases) {
      const TrialCourse* course = course_on(reading, basis);
      if (course == nullptr) {
        for (int i = 0; i < 3; ++i) cells.emplace_back(std::string("NO DATA"));
        continue;
      }
      const bool at_plan = basis == Basis::plan;
      std::string net = (at_plan ? "" : fmt::format("$C{}*", row)) + draw_per_day(index, trial_.margin_kind, crew);
      if (item.is_made_at_end)
        net += (at_plan ? "-" : fmt::format("-$D{}*", row)) + make_per_day(index, trial_.margin_kind, crew);
      net += fmt::format("+$E{}", row);
      const char* net_column = at_plan ? "F" : "I";
      const char* units_column = at_plan ? "G" : "J";
      const int decimals = model::decimals_of(item.step) + 2;
      cells.push_back(live(net, course->daily, 4));
      cells.push_back(
          live(fmt::format("MIN(Course!${0}${1}:${0}${2})", at_plan ? "N" : "Q", first, first + item.legs.size()),
               course->units, decimals));
      cells.push_back(
          live(fmt::format("IF({0}{2}>0.000000000001,{1}{2}/{0}{2},\"{3}\")", net_column, units_column, row, no_days),
               days_or_none(course->days), 3));
    }
    return cells;
  }

  [[nodiscard]] static FormulaResult days_or_none(const std::optional<double>& days) {
    return days ? FormulaResult(*days) : FormulaResult(std::string(no_days));
  }

  std::vector<SheetCell> item_margins(std::size_t index) const {
    const TrialItem& item = trial_.items[index];
    const std::size_t row = where_.items[index];
    const int decimals = model::decimals_of(item.step) + 2;
    std::vector<SheetCell> cells{model::printable(item.title), item.unit};
    const auto say = [&](const std::string& words, int times_over) {
      for (int i = 0; i < times_over; ++i) cells.emplace_back(words);
    };
    for (const Basis basis : both_bases) {
      const auto& margin = basis == Basis::plan ? item.plan : item.measured;
      if (!margin) {
        say("NO DATA", 2);
        continue;
      }
      const auto range = [&](const char* column) {
        return fmt::format("${0}${1}:${0}${2}", column, where_.readings[index].front(), where_.readings[index].back());
      };
      const std::string units = range(basis == Basis::plan ? "G" : "J");
      const std::string days = range(basis == Basis::plan ? "H" : "K");
      // Of several readings the one with the fewest days.
      cells.push_back(live(fmt::format("IF(COUNT({1})=0,MIN({0}),INDEX({0},MATCH(MIN({1}),{1},0)))", units, days),
                           margin->units, decimals));
      cells.push_back(
          live(fmt::format("IF(COUNT({0})=0,\"{1}\",MIN({0}))", days, no_days), days_or_none(margin->days), 3));
    }
    if (item.has_ledger && !item.readings.empty()) {
      say(in_the_ledger, 2);
    } else if (item.assured.empty()) {
      say("NO DATA", 2);
    } else {
      const auto& of_record = item.assured.front().front();
      cells.push_back(live(assured(index, 0), of_record.units, decimals));
      cells.push_back(live(assured(index, 1), days_or_none(of_record.days), 3));
    }
    add_governing(index, row, decimals, cells);
    return cells;
  }

  /// The assured margin of the case that is tried; `part` 0: in units, 1: in days.
  [[nodiscard]] std::string assured(std::size_t index, std::size_t part) const {
    const TrialItem& item = trial_.items[index];
    const std::size_t first = where_.cases[index];
    const auto width = static_cast<std::size_t>(trial_.days_possible) + 1;
    const std::size_t column = 2 + part * width;
    std::vector<std::string> state{"1"};
    for (std::size_t bit = 0; bit < item.switches.size(); ++bit) {
      const std::size_t turn = item.switches[bit];
      state.push_back(fmt::format("{}*({}<>\"{}\")", std::size_t{1} << bit, where_.switches[turn],
                                  trial_.switches[turn].is_on ? "yes" : "no"));
    }
    std::string changed = fmt::format("crew_aboard<>\"\",{}<>1", where_.rates[index]);
    if (item.made_from) changed += fmt::format(",{}<>1", where_.rates[*item.made_from]);
    return fmt::format("IF(OR({}),\"{}\",INDEX(Cases!${}${}:${}${},{},extra_days+1))", changed, ask_the_program,
                       column_name(column), first, column_name(column + width - 1), first + item.assured.size() - 1,
                       sum(state));
  }

  /// The tightest of the bases that govern, and the keys by which items are put in order.
  void add_governing(std::size_t index, std::size_t row, int decimals, std::vector<SheetCell>& cells) const {
    const TrialItem& item = trial_.items[index];
    struct Candidate {
      std::string units;
      std::string days;
      std::string words;
    };
    std::vector<Candidate> candidates;
    for (const Basis basis : trial_.bases) {
      if (basis == Basis::assured && item.has_ledger) continue;
      const std::size_t column = 2 + 2 * static_cast<std::size_t>(basis);
      candidates.push_back({fmt::format("${}{}", column_name(column), row),
                            fmt::format("${}{}", column_name(column + 1), row), words_of(basis)});
    }
    if (!item.governing || candidates.empty()) {
      cells.emplace_back(std::string("NO DATA"));
      cells.emplace_back(std::string("NO DATA"));
      cells.emplace_back(std::string("NO DATA"));
    } else {
      const auto all = [&](auto member) {
        std::string list;
        for (const auto& candidate : candidates) list += (list.empty() ? "" : ",") + candidate.*member;
        return list;
      };
      const std::string units = all(&Candidate::units);
      const std::string days = all(&Candidate::days);
      const auto of_tightest = [&](auto give) {
        std::string by_days = give(candidates.back());
        std::string by_units = by_days;
        for (auto candidate = std::next(candidates.rbegin()); candidate != candidates.rend(); ++candidate) {
          by_days = fmt::format("IF(AND(ISNUMBER({0}),{0}=MIN({1})),{2},{3})", candidate->days, days, give(*candidate),
                                by_days);
          by_units = fmt::format("IF({}=MIN({}),{},{})", candidate->units, units, give(*candidate), by_units);
        }
        return fmt::format("IF(COUNT({})=0,{},{})", days, by_units, by_days);
      };
      const auto unless_asked = [&](const std::string& formula) {
        return fmt::format("IF(COUNT({})<{},\"{}\",{})", units, candidates.size(), ask_the_program, formula);
      };
      cells.push_back(
          live(unless_asked(of_tightest([](const Candidate& c) { return c.units; })), item.governing->units, decimals));
      cells.push_back(live(unless_asked(fmt::format("IF(COUNT({0})=0,\"{1}\",MIN({0}))", days, no_days)),
                           days_or_none(item.governing->days), 3));
      cells.push_back(live(unless_asked(of_tightest([](const Candidate& c) { return "\"" + c.words + "\""; })),
                           words_of(item.governing_basis)));
    }
    const auto assured = item.assured.empty() ? std::nullopt : std::optional(item.assured.front().front());
    for (const auto& [units_column, days_column, margin] :
         {std::tuple{"C", "D", item.plan}, std::tuple{"E", "F", item.measured}, std::tuple{"G", "H", assured},
          std::tuple{"I", "J", item.governing}}) {
      cells.push_back(live(key(row, units_column, days_column, item.step), key_result(margin, item.step), 3));
    }
  }

  /// The days; of what is short and not used by the day a number just below every covered margin and above every short
  /// one.
  [[nodiscard]] static std::string key(std::size_t row, const char* units, const char* days, double step) {
    return fmt::format("IF(ISNUMBER({0}{2}),{0}{2},IF(N({1}{2})<-{3},-0.000000001+{1}{2}*1E-15,\"\"))", days, units,
                       row, step * 1e-9);
  }
  [[nodiscard]] static FormulaResult key_result(const std::optional<model::TrialMargin>& margin, double step) {
    if (!margin) return std::string();
    if (margin->days) return *margin->days;
    if (margin->units < -step * 1e-9) return -1e-9 + margin->units * 1e-15;
    return std::string();
  }

  // ---- Course ----

  Sheet course() {
    Sheet sheet{"Course", "Each item through each stretch of the flight", {}, {}};
    for (const char* header :
         {"Item", "Counts read", "Phase", "To, UTC", "Drawn per 24 h", "Used", "Made", "Used by events",
          "Made by events", "Transfers", "In reserve", "At plan: usable", "and after events", "At plan: margin",
          "Measured: usable", "and after events", "Measured: margin"})
      sheet.columns.push_back({header, 8, sheet.columns.size() > 3});
    for (std::size_t i = 0; i < trial_.items.size(); ++i) {
      for (std::size_t r = 0; r < trial_.items[i].readings.size(); ++r) add_course(i, r, sheet.rows);
    }
    return sheet;
  }

  /// The margin of the limiting item along the flight.
  [[nodiscard]] std::optional<SheetChart> limiting_chart(std::size_t row) const {
    if (!trial_.limiting) return std::nullopt;
    const TrialItem& item = trial_.items[*trial_.limiting];
    const std::size_t first = where_.course[*trial_.limiting].front();
    const auto range = [&](const char* column) {
      return fmt::format("=Course!${0}${1}:${0}${2}", column, first, first + item.legs.size());
    };
    SheetChart chart{"Margin along the flight: " + model::printable(item.title), item.unit, true, row, 8, {}};
    chart.series.push_back({"at plan", range("D"), range("N")});
    if (item.measured) chart.series.push_back({"at the measured rate", range("D"), range("Q")});
    return chart;
  }

  void add_course(std::size_t index, std::size_t r, std::vector<std::vector<SheetCell>>& rows) const {
    const TrialItem& item = trial_.items[index];
    const TrialReading& reading = item.readings[r];
    const std::size_t first = where_.course[index][r];
    const int decimals = model::decimals_of(item.step) + 2;
    const auto begin_row = [&](const std::string& phase, SheetCell to) {
      return std::vector<SheetCell>{model::printable(item.title),
                                    reading.how.empty() ? std::string("as merged") : model::printable(reading.how),
                                    model::printable(phase), std::move(to)};
    };
    const auto reserve_cell = [&](const model::TrialReserve& reserve, std::size_t stretch, double result) {
      const std::string formula = held(index, reserve, crew_at(item, stretch));
      const bool is_live = reserve.events != 0 || !reserve.days.empty();
      return is_live ? live(formula, result, decimals) : SheetCell(SheetNumber{result, decimals, ""});
    };
    const auto moves_cell = [&](const model::TrialStep& step) {
      const std::string formula = moved_in(step, std::nullopt);
      return formula.empty() ? SheetCell(std::string()) : live(formula, step.moved, decimals);
    };
    const auto phase_to = [&](std::size_t row, model::Instant when) {
      return live(fmt::format("Phases!$D${}", row), when);
    };

    auto now = begin_row("Cut-off", phase_to(Sheet::first_row, trial_.cutoff));
    now.resize(9);
    now.push_back(moves_cell(item.at_start));
    now.push_back(reserve_cell(item.legs.front().held, 0, item.legs.front().reserve));
    add_turn(index, r, first, 0, now);
    rows.push_back(std::move(now));
    for (std::size_t i = 0; i < item.legs.size(); ++i) {
      const TrialLeg& leg = item.legs[i];
      const auto& stretch = trial_.stretches[leg.last];
      const std::size_t row = first + 1 + i;
      const std::string days = days_of(leg);
      const std::string crew = crew_at(item, leg.first);
      auto cells = begin_row(stretch.phase, phase_to(phase_row(leg.last), stretch.end));
      cells.push_back(live(draw_per_day(index, stretch.kind, crew), leg.per_day, decimals));
      cells.push_back(live(fmt::format("E{}*{}", row, days), leg.used, decimals));
      cells.push_back(leg.is_made ? live(make_per_day(index, stretch.kind, crew) + "*" + days, leg.made, decimals)
                                  : SheetCell(std::string()));
      cells.push_back(leg.step.draw == 0
                          ? SheetCell(std::string())
                          : live(where_.rates[index] + "*" + number(leg.step.draw), leg.step.draw, decimals));
      cells.push_back(leg.step.make == 0
                          ? SheetCell(std::string())
                          : live(where_.rates[*item.made_from] + "*" + number(leg.step.make), leg.step.make, decimals));
      cells.push_back(moves_cell(leg.step));
      cells.push_back(reserve_cell(leg.held, leg.first, leg.reserve));
      add_turn(index, r, row, i + 1, cells);
      rows.push_back(std::move(cells));
    }
    auto end = begin_row("Required end", phase_to(phase_row(stretches() - 1), trial_.stretches.back().end));
    end.resize(10);
    end.push_back(reserve_cell(item.held_at_end, stretches(), item.reserve_at_end));
    rows.push_back(std::move(end));
  }

  /// What can be used at a turn, before and after what happens there, and the smaller margin. Turn 0 is the cut-off.
  void add_turn(std::size_t index, std::size_t r, std::size_t row, std::size_t turn,
                std::vector<SheetCell>& cells) const {
    const TrialItem& item = trial_.items[index];
    const TrialReading& reading = item.readings[r];
    const int decimals = model::decimals_of(item.step) + 2;
    for (const Basis basis : both_bases) {
      const TrialCourse* course = course_on(reading, basis);
      if (course == nullptr) continue;
      const bool at_plan = basis == Basis::plan;
      const char* end_column = at_plan ? "L" : "O";
      const char* after_column = at_plan ? "M" : "P";
      const auto& at_end = turn == 0 ? course->start : course->at_end[turn - 1];
      const auto& after = turn == 0 ? course->begin : course->after[turn - 1];
      if (by_place_[index]) {
        const std::size_t there = where_.by_place[index][r].at(basis) + turn;
        const std::size_t width = places_width_;
        cells.push_back(live(fmt::format("Places!${}${}", column_name(3 + width + 1), there), at_end.usable, decimals));
        cells.push_back(
            live(fmt::format("Places!${}${}", column_name(3 + 2 * width + 3), there), after.usable, decimals));
      } else {
        cells.push_back(turn == 0
                            ? SheetCell(SheetNumber{at_end.usable, decimals, ""})
                            : live(flow(index, r, *course, row, turn - 1, after_column), at_end.usable, decimals));
        const auto& step = turn == 0 ? item.at_start : item.legs[turn - 1].step;
        std::vector<std::string> terms{fmt::format("{}{}", end_column, row)};
        if (step.draw != 0) terms.push_back(fmt::format("-H{}", row));
        if (step.make != 0) terms.push_back(times(course->made_factor, fmt::format("I{}", row)));
        if (!moved_in(step, std::nullopt).empty()) terms.push_back(fmt::format("J{}", row));
        cells.push_back(live(sum(terms), after.usable, decimals));
      }
      const double reserve = turn == 0 ? item.legs.front().reserve : item.legs[turn - 1].reserve;
      const double reserve_then = turn == 0                 ? reserve
                                  : turn < item.legs.size() ? item.legs[turn].reserve
                                                            : item.reserve_at_end;
      cells.push_back(
          live(fmt::format("MIN({0}{2}-$K{2},{1}{2}-$K{3})", end_column, after_column, row, turn == 0 ? row : row + 1),
               std::min(at_end.usable - reserve, after.usable - reserve_then), decimals));
    }
  }

  /// What can be used at the end of a leg, where it does not matter in which place it lies.
  [[nodiscard]] std::string flow(std::size_t index, std::size_t r, const TrialCourse& course, std::size_t row,
                                 std::size_t leg, const char* after_column) const {
    const TrialReading& reading = trial_.items[index].readings[r];
    double leak = 0;
    for (const double of_place : reading.leaks) leak += of_place;
    std::vector<std::string> terms{fmt::format("{}{}", after_column, row - 1),
                                   "-" + times(course.factor, fmt::format("F{}", row))};
    if (trial_.items[index].legs[leg].is_made) terms.push_back(times(course.made_factor, fmt::format("G{}", row)));
    if (leak > 0) terms.push_back(fmt::format("-{}*{}", number(leak), days_of(trial_.items[index].legs[leg])));
    return sum(terms);
  }

  // ---- Places ----

  Sheet places() {
    const std::size_t width = places_width_;
    Sheet sheet{"Places", "What lies in which place, where some go on the way", {}, {}};
    sheet.columns = {{"Item", 8, false}, {"Basis", 8, false}, {"Phase", 8, false}};
    for (const char* when : {"at the end", "after events"}) {
      for (std::size_t p = 0; p < width; ++p)
        sheet.columns.push_back({fmt::format("Place {} {}", p + 1, when), 8, true});
      sheet.columns.push_back({fmt::format("Short {}", when), 8, true});
      sheet.columns.push_back({fmt::format("Usable {}", when), 8, true});
    }
    for (std::size_t i = 0; i < trial_.items.size(); ++i) {
      if (!by_place_[i]) continue;
      for (std::size_t r = 0; r < trial_.items[i].readings.size(); ++r) {
        for (const auto& [basis, row] : where_.by_place[i][r]) add_places(i, r, basis, row, sheet.rows);
      }
    }
    return sheet;
  }

  void add_places(std::size_t index, std::size_t r, Basis basis, std::size_t first,
                  std::vector<std::vector<SheetCell>>& rows) const {
    const TrialItem& item = trial_.items[index];
    const std::size_t width = places_width_;
    const TrialCourse& course = *course_on(item.readings[r], basis);
    const std::string title = model::printable(item.title);
    std::vector<SheetCell> head{SheetHeading{title}, SheetHeading{words_of(basis)}, std::string()};
    for (int half = 0; half < 2; ++half) {
      for (std::size_t p = 0; p < width; ++p)
        head.push_back(SheetHeading{p < item.places.size() ? model::printable(item.places[p].title) : ""});
      head.resize(head.size() + 2);
    }
    rows.push_back(std::move(head));
    for (std::size_t turn = 0; turn <= item.legs.size(); ++turn) {
      const std::string phase = turn == 0 ? "Cut-off" : trial_.stretches[item.legs[turn - 1].last].phase;
      std::vector<SheetCell> cells{title, words_of(basis), model::printable(phase)};
      const Turn here{index, r, basis, first + turn, turn};
      add_amounts(here, false, turn == 0 ? course.start : course.at_end[turn - 1], cells);
      add_amounts(here, true, turn == 0 ? course.begin : course.after[turn - 1], cells);
      rows.push_back(std::move(cells));
    }
  }

  /// Where a row of Places stands: turn 0 is the cut-off.
  struct Turn {
    std::size_t item;
    std::size_t reading;
    Basis basis;
    std::size_t row;
    std::size_t turn;
  };

  [[nodiscard]] std::string place_cell(std::size_t place, bool after, std::size_t row) const {
    const std::size_t width = places_width_;
    return fmt::format("{}{}", column_name(3 + place + (after ? width + 2 : 0)), row);
  }
  [[nodiscard]] std::string short_cell(bool after, std::size_t row) const {
    return place_cell(places_width_, after, row);
  }

  /// Amounts place by place and what is short, as formulas that grow step by step.
  struct Amounts {
    std::vector<std::string> places;
    std::string shortfall;
  };

  void add_amounts(const Turn& here, bool after, const model::TrialAmounts& result,
                   std::vector<SheetCell>& cells) const {
    const TrialItem& item = trial_.items[here.item];
    const int decimals = model::decimals_of(item.step) + 2;
    const bool is_given = here.turn == 0 && !after;  // what there is at the cut-off
    const Amounts amounts = is_given ? Amounts{} : after ? after_events(here) : at_end(here);
    for (std::size_t p = 0; p < places_width_; ++p) {
      if (p >= item.places.size()) {
        cells.emplace_back(std::string());
      } else if (is_given) {
        cells.push_back(SheetNumber{result.places[p], decimals, ""});
      } else {
        cells.push_back(live(amounts.places[p], result.places[p], decimals));
      }
    }
    cells.push_back(is_given ? SheetCell(SheetNumber{result.shortfall, decimals, ""})
                             : live(amounts.shortfall, result.shortfall, decimals));
    std::vector<std::string> terms;
    for (std::size_t p = 0; p < item.places.size(); ++p) {
      if (counts(item.places[p], here.turn, after)) terms.push_back(place_cell(p, after, here.row));
    }
    terms.push_back("-" + short_cell(after, here.row));
    cells.push_back(live(sum(terms), result.usable, decimals));
  }

  [[nodiscard]] static bool counts(const model::TrialPlace& place, std::size_t turn, bool after) {
    if (turn == 0) return place.counts_at_end.front();  // nothing goes within a stretch
    return after ? place.counts_after[turn - 1] : place.counts_at_end[turn - 1];
  }

  [[nodiscard]] Amounts at_end(const Turn& here) const {
    const TrialItem& item = trial_.items[here.item];
    const TrialReading& reading = item.readings[here.reading];
    const TrialCourse& course = *course_on(reading, here.basis);
    const TrialLeg& leg = item.legs[here.turn - 1];
    const std::size_t in_course = where_.course[here.item][here.reading] + here.turn;
    Amounts amounts = read(here.item, true, here.row - 1);
    for (std::size_t p = 0; p < item.places.size(); ++p) {
      if (!(reading.leaks[p] > 0) || !item.places[p].counts_at_end[here.turn - 1]) continue;
      const std::string leak = fmt::format("{}*{}", number(reading.leaks[p]), days_of(leg));
      amounts.shortfall += fmt::format("+MAX(0,{}-{})", leak, amounts.places[p]);
      amounts.places[p] = fmt::format("MAX(0,{}-{})", amounts.places[p], leak);
    }
    if (leg.is_made) make(times(course.made_factor, fmt::format("Course!$G${}", in_course)), item.made_into, amounts);
    draw(times(course.factor, fmt::format("Course!$F${}", in_course)), leg.order, amounts);
    return amounts;
  }

  [[nodiscard]] Amounts after_events(const Turn& here) const {
    const TrialItem& item = trial_.items[here.item];
    const TrialCourse& course = *course_on(item.readings[here.reading], here.basis);
    const auto& step = here.turn == 0 ? item.at_start : item.legs[here.turn - 1].step;
    const std::size_t in_course = where_.course[here.item][here.reading] + here.turn;
    Amounts amounts = read(here.item, false, here.row);
    if (step.make != 0)
      make(times(course.made_factor, fmt::format("Course!$I${}", in_course)), item.made_into, amounts);
    if (step.draw != 0) draw(fmt::format("Course!$H${}", in_course), item.legs[here.turn - 1].order, amounts);
    for (std::size_t p = 0; p < item.places.size(); ++p) {
      const std::string moved = moved_in(step, p);
      if (moved.empty()) continue;
      const std::string then = amounts.places[p] + (moved.starts_with('-') ? "" : "+") + moved;
      amounts.shortfall += fmt::format("+MAX(0,-({}))", then);
      amounts.places[p] = fmt::format("MAX(0,{})", then);
    }
    return amounts;
  }

  [[nodiscard]] Amounts read(std::size_t item, bool after, std::size_t row) const {
    Amounts amounts;
    for (std::size_t p = 0; p < trial_.items[item].places.size(); ++p)
      amounts.places.push_back(place_cell(p, after, row));
    amounts.shortfall = short_cell(after, row);
    return amounts;
  }

  /// What was short is made good first.
  static void make(const std::string& made, std::size_t into, Amounts& amounts) {
    amounts.places[into] += fmt::format("+MAX(0,{}-({}))", made, amounts.shortfall);
    amounts.shortfall = fmt::format("MAX(0,{}-{})", amounts.shortfall, made);
  }

  static void draw(const std::string& drawn, const std::vector<std::size_t>& order, Amounts& amounts) {
    std::string left = drawn;  // to be drawn from the places that come next
    for (const std::size_t place : order) {
      const std::string had = amounts.places[place];
      amounts.places[place] = fmt::format("MAX(0,{}-{})", had, left);
      left = fmt::format("MAX(0,{}-({}))", left, had);
    }
    amounts.shortfall += "+" + left;
  }

  // ---- Phases and cases ----

  Sheet phases() const {
    Sheet sheet{"Phases", "The flight from the cut-off on", {}, {}};
    for (const char* header : {"Phase", "Kind of day", "After the cut-off, d", "To, UTC", "Days", "Ends with"})
      sheet.columns.push_back({header, 8, false});
    for (const std::size_t c : {2U, 4U}) sheet.columns[c].is_number = true;
    for (const auto& vehicle : trial_.vehicles)
      sheet.columns.push_back({"Aboard " + model::printable(vehicle), 8, true});
    sheet.rows.push_back({std::string("Cut-off"), std::string(), SheetNumber{0, 4, ""}, trial_.cutoff});
    for (std::size_t i = 0; i < stretches(); ++i) {
      const auto& stretch = trial_.stretches[i];
      const std::size_t row = phase_row(i);
      const double after = model::in_days(stretch.end - trial_.cutoff);
      std::vector<SheetCell> cells{model::printable(stretch.phase), model::printable(trial_.kinds[stretch.kind])};
      cells.push_back(stretch.ends_later && trial_.days_possible > 0 ? live(number(after) + "+extra_days", after, 4)
                                                                     : SheetCell(SheetNumber{after, 4, ""}));
      cells.push_back(live(fmt::format("$D${}+C{}", Sheet::first_row, row), stretch.end));
      cells.push_back(live(fmt::format("C{}-C{}", row, row - 1), model::in_days(stretch.end - stretch.begin), 4));
      cells.emplace_back(model::printable(stretch.ends_with));
      add_crew(stretch.crew, cells);
      sheet.rows.push_back(std::move(cells));
    }
    std::vector<SheetCell> end{std::string("Required end"), model::printable(trial_.kinds[trial_.margin_kind])};
    end.resize(6);
    add_crew(trial_.crew_at_end, end);
    sheet.rows.push_back(std::move(end));
    return sheet;
  }

  void add_crew(const std::vector<int>& crew, std::vector<SheetCell>& cells) const {
    for (std::size_t v = 0; v < crew.size(); ++v) {
      const std::string otherwise =
          v == trial_.own_vehicle ? std::string("crew_aboard") : fmt::format("{}", trial_.crew_elsewhere[v]);
      cells.push_back(
          live(fmt::format("IF(crew_aboard=\"\",{},{})", crew[v], otherwise), static_cast<double>(crew[v])));
    }
  }

  Sheet cases() const {
    Sheet sheet{"Cases", "What only the program can work out, for so many days more", {}, {}};
    sheet.columns = {{"Item", 8, false}, {"Transfers", 8, false}};
    for (const char* what : {"margin", "margin, d"}) {
      for (int days = 0; days <= trial_.days_possible; ++days)
        sheet.columns.push_back({fmt::format("{} more: {}", days, what), 8, true});
    }
    for (const TrialItem& item : trial_.items) {
      for (std::size_t state = 0; state < item.assured.size(); ++state) {
        std::vector<SheetCell> cells{model::printable(item.title), turned(item, state)};
        const int decimals = model::decimals_of(item.step) + 2;
        for (const auto& margin : item.assured[state]) cells.push_back(SheetNumber{margin.units, decimals, ""});
        for (const auto& margin : item.assured[state])
          cells.push_back(margin.days ? SheetCell(SheetNumber{*margin.days, 3, ""}) : SheetCell(std::string(no_days)));
        sheet.rows.push_back(std::move(cells));
      }
    }
    sheet.rows.push_back({SheetHeading{"Criterion"}});
    for (const auto& criterion : trial_.criteria) {
      const bool is_live = criterion.margin.has_value();
      std::vector<SheetCell> cells{model::printable(criterion.title),
                                   std::string(is_live ? "see Options" : "as planned")};
      if (!is_live) {
        for (const auto verdict : criterion.verdicts) cells.emplace_back(std::string(model::words(verdict)));
      }
      sheet.rows.push_back(std::move(cells));
    }
    return sheet;
  }

  [[nodiscard]] std::string turned(const TrialItem& item, std::size_t state) const {
    std::string words;
    for (std::size_t bit = 0; bit < item.switches.size(); ++bit) {
      if ((state >> bit & 1) == 0) continue;
      const auto& turn = trial_.switches[item.switches[bit]];
      words += (words.empty() ? "" : "; ") + model::printable(turn.transfer) + (turn.is_on ? " not made" : " made");
    }
    return words.empty() ? "as planned" : words;
  }

  const model::DayStatus& status_;
  const TrialPlan& trial_;
  Whereabouts where_;
  std::vector<bool> by_place_;    ///< by item
  std::size_t places_width_ = 0;  ///< the most places that an item in Places has; 0: there is no such sheet
};

}  // namespace

std::vector<Sheet> lay_out_trial_sheets(const model::DayStatus& status) {
  if (status.trial.items.empty()) return {};
  return TrialSheets(status).run();
}

}  // namespace daywright::write
