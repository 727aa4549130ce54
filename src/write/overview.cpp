#include "write/overview.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "model/printable.h"
#include "write/caution.h"
#include "write/json_text.h"
#include "write/text_table.h"

namespace daywright::write {
namespace {

bool is_verdict_of_gate(std::string_view id) {
  return id.starts_with("gate.") && id.ends_with(".verdict") && std::count(id.begin(), id.end(), '.') == 2;
}

/// The part between the first two dots.
std::string name_in(std::string_view id) {
  const auto begin = id.find('.') + 1;
  return std::string(id.substr(begin, id.find('.', begin) - begin));
}

std::optional<double> number_of(const PastDay& day, const std::string& id) {
  const auto* figure = day.find(id);
  if (figure == nullptr || figure->kind != "number") return std::nullopt;
  double number = 0;
  const char* const end = figure->value.data() + figure->value.size();
  const auto read = std::from_chars(figure->value.data(), end, number);
  return read.ec == std::errc{} && read.ptr == end ? std::optional(number) : std::nullopt;
}

std::string words_of(const PastDay& day, const std::string& id) {
  const auto* figure = day.find(id);
  return figure == nullptr ? "" : figure->text;
}

/// The levels that a day expected of an item, from its cut-off on.
std::vector<model::LevelExpected> expected_of(const PastDay& day, const std::string& item) {
  std::vector<model::LevelExpected> expected;
  for (std::size_t i = 0;; ++i) {
    const auto* at = day.find(fmt::format("forecast.{}.at", i));
    const auto when = at == nullptr ? std::nullopt : model::parse_utc(at->value).value;
    const std::string id = fmt::format("item.{}.forecast.{}.", item, i);
    const auto low = number_of(day, id + "low");
    const auto level = number_of(day, id + "level");
    const auto high = number_of(day, id + "high");
    if (!when || !low || !level || !high) return expected;
    expected.push_back({*when, *low, *level, *high});
  }
}

/// Two digits are as many as a mean of some dozen forecasts is good for.
std::string two_digits(double value, bool is_signed) {
  constexpr double whole_from = 10;
  constexpr double nothing = 1e-4;
  if (std::abs(value) < nothing) return "0";
  const std::string text = std::abs(value) >= whole_from ? fmt::format("{:.0f}", value) : fmt::format("{:.2g}", value);
  return is_signed && value > 0 ? "+" + text : text;
}

std::string percent_of(std::size_t part, std::size_t whole) {
  return fmt::format("{:.0f} %", 100 * static_cast<double>(part) / static_cast<double>(whole));
}

}  // namespace

bool is_of_overview(std::string_view id) {
  if (id.starts_with("gate."))
    return is_verdict_of_gate(id) || (id.ends_with(".title") && std::count(id.begin(), id.end(), '.') == 2);
  if (id.starts_with("forecast.") || id.starts_with("chart.band.") || id == "words.day") return true;
  if (!id.starts_with("item.")) return false;
  const auto rest = id.substr(std::min(id.size(), id.find('.', std::string_view("item.").size())));
  return rest == ".title" || rest == ".level" || rest == ".rate.daily" || rest.starts_with(".forecast.");
}

std::vector<GateHistory> gate_histories(const std::vector<PastDay>& days) {
  std::set<std::string> ids;
  for (const auto& day : days) {
    for (const auto& figure : day.figures) {
      if (is_verdict_of_gate(figure.id)) ids.insert(figure.id);
    }
  }
  std::vector<GateHistory> gates;
  for (const auto& id : ids) {
    GateHistory gate{name_in(id), name_in(id), {}};
    for (const auto& day : days) {
      const auto* verdict = day.find(id);
      const std::string text = !day.fault.empty() ? not_as_filed : verdict == nullptr ? not_there : verdict->text;
      if (const auto title = words_of(day, "gate." + gate.id + ".title"); !title.empty()) gate.title = title;
      const bool is_first = gate.changes.empty();
      if (is_first && text == not_there) continue;
      if (!is_first && gate.changes.back().verdict == text) continue;
      const std::string word = words_of(day, "words.day");
      gate.changes.push_back({fmt::format("{} {}", word.empty() ? "day" : word, day.day), text});
    }
    gates.push_back(std::move(gate));
  }
  return gates;
}

std::vector<ItemLevels> item_levels(const std::vector<PastDay>& days, const std::vector<std::string>& plans) {
  std::set<std::string> items;
  for (const auto& day : days) {
    for (const auto& figure : day.figures) {
      if (figure.id.starts_with("item.") && figure.id.ends_with(".forecast.0.level")) items.insert(name_in(figure.id));
    }
  }
  std::vector<ItemLevels> all;
  for (const auto& item : items) {
    ItemLevels levels{item, item, "", std::nullopt, {}};
    const std::string id = "item." + item + ".";
    for (std::size_t i = 0; i < days.size(); ++i) {
      const auto& day = days[i];
      const auto at = model::parse_utc(day.cutoff).value;
      if (!at) continue;
      if (const auto title = words_of(day, id + "title"); !title.empty()) levels.title = title;
      if (const auto* level = day.find(id + "level")) levels.unit = level->unit;
      levels.daily = number_of(day, id + "rate.daily");
      // A level that rests on a count too old is a forecast itself.
      const auto* level = day.find(id + "level");
      const bool is_sound = level != nullptr && level->doubts.empty();
      levels.days.push_back(
          {*at, is_sound ? number_of(day, id + "level") : std::nullopt, expected_of(day, item), plans[i]});
    }
    std::stable_sort(levels.days.begin(), levels.days.end(), [](const auto& a, const auto& b) { return a.at < b.at; });
    all.push_back(std::move(levels));
  }
  return all;
}

std::string nominal_share(const std::vector<PastDay>& days) {
  for (auto day = days.rbegin(); day != days.rend(); ++day) {
    const auto low = number_of(*day, "chart.band.low");
    const auto high = number_of(*day, "chart.band.high");
    if (low && high) return fmt::format("{:g}", *high - *low);
  }
  return {};
}

ScoreTable score_table(const Overview& overview) {
  ScoreTable table{{"Item", "Forecasts", "In the band", "Share", "Mean error", "Without signs", "In days of use"}, {}};
  for (const auto& [levels, score] : overview.items) {
    if (score.forecasts == 0) continue;
    const auto units = [&](double value, bool is_signed) {
      return two_digits(value, is_signed) + (levels.unit.empty() ? "" : " " + levels.unit);
    };
    const bool has_rate = levels.daily && *levels.daily > 0;
    table.rows.push_back({levels.title, fmt::format("{}", score.forecasts), fmt::format("{}", score.within),
                          percent_of(score.within, score.forecasts), units(score.mean_error, true),
                          units(score.mean_distance, false),
                          has_rate ? fmt::format("{} / {} d", two_digits(score.mean_error / *levels.daily, true),
                                                 two_digits(score.mean_distance / *levels.daily, false))
                                   : "no daily use"});
  }
  return table;
}

std::string words_on_scores(const Overview& overview) {
  std::size_t forecasts = 0;
  std::size_t within = 0;
  std::size_t other_plan = 0;
  for (const auto& [levels, score] : overview.items) {
    forecasts += score.forecasts;
    within += score.within;
    other_plan += score.other_plan;
  }
  if (forecasts == 0)
    return "No forecast can be scored yet: a day has to be filed whose levels an earlier filed day has forecast.";
  std::string words = fmt::format(
      "Of {} forecasts, up to three days ahead, {} ({}) fell into their band, which is made to hold {} %. What came is "
      "the level that the later day estimated from counts; days on which that is UNSOUND are left out.",
      forecasts, within, percent_of(within, forecasts), overview.share);
  if (other_plan > 0) words += fmt::format(" Left out: {} between which mission.toml was changed.", other_plan);
  return words;
}

std::string render_overview(const Overview& overview) {
  std::string text = "Verdicts\n\n";
  for (const auto& gate : overview.gates) {
    std::string line = model::printable(gate.title) + ":";
    for (const auto& change : gate.changes)
      line += fmt::format("{} {} {}", line.ends_with(':') ? "" : ",", model::printable(change.day),
                          model::printable(change.verdict));
    text += line + "\n";
  }
  const auto table = score_table(overview);
  text += "\nForecasts against what came\n\n";
  if (!table.rows.empty()) {
    std::vector<TextColumn> columns;
    for (const auto& title : table.titles) columns.push_back({title, !columns.empty()});
    text += render_text_table(columns, table.rows) + "\n";
  }
  return text + words_on_scores(overview) + "\n";
}

std::string render_overview_json(const Overview& overview) {
  std::string out;
  JsonText json(out);
  json.begin_object();
  json.member("format", 1);
  json.member("caution", caution);
  json.key("gates");
  json.begin_list();
  for (const auto& gate : overview.gates) {
    json.new_line();
    json.begin_object();
    json.member("id", gate.id);
    json.member("title", gate.title);
    json.key("changes");
    json.begin_list();
    for (const auto& change : gate.changes) {
      json.begin_object();
      json.member("day", change.day);
      json.member("verdict", change.verdict);
      json.end_object();
    }
    json.end_list();
    json.end_object();
  }
  json.end_list();
  json.new_line();
  json.member("band", overview.share);
  json.key("items");
  json.begin_list();
  for (const auto& [levels, score] : overview.items) {
    json.new_line();
    json.begin_object();
    json.member("id", levels.id);
    json.member("title", levels.title);
    json.member("unit", levels.unit);
    json.member("forecasts", static_cast<std::int64_t>(score.forecasts));
    json.member("within", static_cast<std::int64_t>(score.within));
    json.member("other_plan", static_cast<std::int64_t>(score.other_plan));
    json.key("mean_error");
    if (score.forecasts == 0)
      json.null();
    else
      json.number(score.mean_error);
    json.key("mean_distance");
    if (score.forecasts == 0)
      json.null();
    else
      json.number(score.mean_distance);
    json.key("daily");
    if (levels.daily)
      json.number(*levels.daily);
    else
      json.null();
    json.end_object();
  }
  json.end_list();
  json.end_object();
  return out + "\n";
}

}  // namespace daywright::write
