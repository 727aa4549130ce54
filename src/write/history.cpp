#include "write/history.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "model/instant.h"
#include "model/printable.h"
#include "write/caution.h"
#include "write/json_text.h"
#include "write/text_table.h"

namespace daywright::write {
namespace {

std::optional<double> read_number(const std::string& text) {
  double number = 0;
  const char* const end = text.data() + text.size();
  const auto read = std::from_chars(text.data(), end, number);
  return read.ec == std::errc{} && read.ptr == end ? std::optional(number) : std::nullopt;
}

std::optional<double> number_in(const PastFigure& figure) {
  return figure.kind == "number" ? read_number(figure.value) : std::nullopt;
}

/// A cell of RFC 4180.
std::string quoted(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos && !text.starts_with(' ') && !text.ends_with(' ')) return text;
  std::string cell = "\"";
  for (const char c : text) cell += c == '"' ? std::string("\"\"") : std::string(1, c);
  return cell + '"';
}

/// Words as a cell that no spreadsheet takes for a formula. Source: OWASP, CSV Injection; the wide forms of the signs
/// are taken for them in some.
std::string words_as_cell(const std::string& words) {
  constexpr std::array<std::string_view, 10> signs{"=",  "+",      "-",      "@",      "\t",
                                                   "\r", "\uFF1D", "\uFF0B", "\uFF0D", "\uFF20"};
  const std::string shown = model::printable(words);
  const bool is_formula =
      std::any_of(signs.begin(), signs.end(), [&](auto sign) { return std::string_view(words).starts_with(sign); });
  return quoted(is_formula ? "'" + shown : shown);
}

/// What is a number stays one, whatever its sign.
std::string as_cell(const std::string& text) { return read_number(text) ? text : words_as_cell(text); }

std::string joined(const std::vector<std::string>& words) {
  std::string text;
  for (const auto& word : words) text += (text.empty() ? "" : "; ") + word;
  return text;
}

/// A plot of characters, each point a mark at its place.
std::string render_plot(const PastPlot& plot, const Terminal& terminal) {
  constexpr std::size_t height = 9;
  constexpr std::size_t widest = 72;
  constexpr std::size_t narrowest = 10;
  const auto& points = plot.points;
  const std::string high = model::printable(plot.high);
  const std::string low = model::printable(plot.low);
  const std::size_t label = std::max(model::display_width(high), model::display_width(low));
  const std::size_t taken = label + 3;
  const std::size_t width = std::clamp(terminal.width - std::min(terminal.width, taken), narrowest, widest);
  std::vector<std::vector<std::string>> cells(height, std::vector<std::string>(width, " "));
  bool is_any_unsound = false;
  const std::string sound_mark = terminal.is_utf8 ? "\u25CF" : "*";
  const std::string unsound_mark = terminal.is_utf8 ? "\u25CB" : "?";
  for (const auto& point : points) {
    const auto column = static_cast<std::size_t>(std::lround(point.across * static_cast<double>(width - 1)));
    const auto row = static_cast<std::size_t>(std::lround((1 - point.up) * static_cast<double>(height - 1)));
    auto& cell = cells[row][column];
    const bool is_unsound = !point.figure->doubts.empty();
    is_any_unsound = is_any_unsound || is_unsound;
    if (cell != unsound_mark) cell = is_unsound ? unsound_mark : sound_mark;
  }
  std::string text;
  for (std::size_t row = 0; row < height; ++row) {
    const std::string& words = row == 0 ? high : row + 1 == height && low != high ? low : std::string();
    std::string line = std::string(label - model::display_width(words), ' ') + words;
    line += terminal.is_utf8 ? " \u2502" : " |";
    for (const auto& cell : cells[row]) line += cell;
    text += line.substr(0, line.find_last_not_of(' ') + 1) + "\n";
  }
  text += std::string(label + 1, ' ') + (terminal.is_utf8 ? "\u2514" : "+");
  for (std::size_t i = 0; i < width; ++i) text += terminal.is_utf8 ? "\u2500" : "-";
  const std::string first = fmt::format("day {}", points.front().day->day);
  const std::string last = fmt::format("day {}", points.back().day->day);
  const std::size_t between = width - std::min(width, first.size() + last.size());
  text +=
      "\n" + std::string(label + 2, ' ') + first + std::string(std::max<std::size_t>(between, 1), ' ') + last + "\n";
  if (is_any_unsound) text += unsound_mark + ": UNSOUND, no READY verdict could rest on it\n";
  return text;
}

void append_day(JsonText& json, const PastDay& day, std::string_view id) {
  const auto* figure = day.find(id);
  json.new_line();
  json.begin_object();
  json.member("number", day.number);
  json.member("day", day.day);
  json.member("revision", day.revision);
  json.member("cutoff", day.cutoff);
  if (!day.fault.empty()) {
    json.member("standing", not_as_filed);
    json.member("fault", day.fault);
  } else if (figure == nullptr) {
    json.member("standing", not_there);
  } else {
    json.member("standing", "as filed");
    json.member("kind", figure->kind);
    json.key("value");
    if (const auto number = number_in(*figure)) {
      json.number(*number);
    } else if (figure->value.empty()) {
      json.null();
    } else {
      json.text(figure->value);
    }
    json.member("unit", figure->unit);
    json.member("text", figure->text);
    json.key("doubts");
    json.begin_list();
    for (const auto& doubt : figure->doubts) json.text(doubt);
    json.end_list();
  }
  json.end_object();
}

}  // namespace

const PastFigure* PastDay::find(std::string_view id) const {
  const auto found = std::lower_bound(figures.begin(), figures.end(), id,
                                      [](const auto& figure, auto name) { return figure.id < name; });
  return found != figures.end() && found->id == id ? &*found : nullptr;
}

std::string title_of(const std::vector<PastDay>& days, std::string_view id) {
  for (auto day = days.rbegin(); day != days.rend(); ++day) {
    if (const auto* figure = day->find(id)) return figure->title;
  }
  return {};
}

std::string standing_of(const PastDay& day, std::string_view id) {
  if (!day.fault.empty()) return not_as_filed;
  const auto* figure = day.find(id);
  if (figure == nullptr) return not_there;
  return figure->doubts.empty() ? shown(*figure) : shown(*figure) + " UNSOUND";
}

PastPlot plot_of(const std::vector<PastDay>& days, std::string_view id) {
  struct Mark {
    PastPoint point;
    double value = 0;
    model::Instant at;
  };
  std::vector<Mark> marks;
  for (const auto& day : days) {
    const auto* figure = day.find(id);
    const auto value = figure == nullptr || !day.fault.empty() ? std::nullopt : number_in(*figure);
    const auto at = model::parse_utc(day.cutoff).value;
    if (value && at) marks.push_back({{&day, figure}, *value, *at});
  }
  if (marks.empty()) return {};
  std::stable_sort(marks.begin(), marks.end(), [](const auto& a, const auto& b) { return a.at < b.at; });
  const auto [low, high] =
      std::minmax_element(marks.begin(), marks.end(), [](const auto& a, const auto& b) { return a.value < b.value; });
  PastPlot plot{{}, shown(*low->point.figure), shown(*high->point.figure)};
  const double reach = high->value - low->value;
  const double time = model::in_days(marks.back().at - marks.front().at);
  for (auto mark : marks) {
    mark.point.across = time > 0 ? model::in_days(mark.at - marks.front().at) / time : 0.5;
    mark.point.up = reach > 0 ? (mark.value - low->value) / reach : 1;
    plot.points.push_back(mark.point);
  }
  return plot;
}

std::string render_history(const std::vector<PastDay>& days, std::string_view id, const Terminal& terminal) {
  const std::string title = title_of(days, id);
  std::vector<std::vector<std::string>> rows;
  for (const auto& day : days)
    rows.push_back({fmt::format("{}", day.number), fmt::format("{}", day.day), fmt::format("{}", day.revision),
                    day.cutoff.empty() ? "unknown" : day.cutoff, standing_of(day, id)});
  std::string text = fmt::format("{}{}\n\n", model::printable(id), title.empty() ? "" : ": " + model::printable(title));
  text += render_text_table({{"No.", true}, {"Day", true}, {"Rev.", true}, {"Cut-off"}, {"Value"}}, rows);
  const PastPlot plot = plot_of(days, id);
  if (plot.points.size() > 1) text += "\n" + render_plot(plot, terminal);
  return text;
}

std::string render_history_csv(const std::vector<PastDay>& days, const std::vector<std::string>& ids) {
  std::string csv = "figure,number,day,revision,cutoff,value,unit,text,doubts\n";
  for (const auto& id : ids) {
    for (const auto& day : days) {
      csv += fmt::format("{},{},{},{},{},", words_as_cell(id), day.number, day.day, day.revision,
                         words_as_cell(day.cutoff));
      const auto* figure = day.find(id);
      if (!day.fault.empty() || figure == nullptr) {
        csv += fmt::format(",,{},\n", day.fault.empty() ? not_there : not_as_filed);
        continue;
      }
      csv += fmt::format("{},{},{},{}\n", as_cell(figure->value), words_as_cell(figure->unit), as_cell(figure->text),
                         words_as_cell(joined(figure->doubts)));
    }
  }
  return csv;
}

std::string render_history_json(const std::vector<PastDay>& days, const std::vector<std::string>& ids) {
  std::string out;
  JsonText json(out);
  json.begin_object();
  json.member("format", 1);
  json.member("caution", caution);
  json.key("figures");
  json.begin_list();
  for (const auto& id : ids) {
    json.new_line();
    json.begin_object();
    json.member("id", id);
    json.member("title", title_of(days, id));
    json.key("days");
    json.begin_list();
    for (const auto& day : days) append_day(json, day, id);
    json.end_list();
    json.end_object();
  }
  json.end_list();
  json.end_object();
  return out + "\n";
}

}  // namespace daywright::write
