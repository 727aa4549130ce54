#include "write/past_figures.h"

#include <algorithm>
#include <array>
#include <utility>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace daywright::write {
namespace {

using nlohmann::json;

constexpr std::string_view figure_begin = "\n{\"id\":\"";

/// What stands before the trace of a figure. Quotes within texts are escaped, so that no text can hold this.
constexpr std::string_view trace_begin = ",\"trace\":";

/// A figure as it stands on its line, without its trace and the bracket behind that.
struct FigureLine {
  std::string_view id;
  std::string_view text;
};

/// Takes the next figure off `rest`; nothing where there is none any more.
std::optional<FigureLine> take_line(std::string_view& rest) {
  const auto begin = rest.find(figure_begin);
  if (begin == std::string_view::npos) return std::nullopt;
  rest.remove_prefix(begin + 1);
  const auto line = rest.substr(0, rest.find('\n'));
  rest.remove_prefix(line.size());
  const auto id = line.substr(figure_begin.size() - 1);
  return FigureLine{id.substr(0, id.find('"')), line.substr(0, line.find(trace_begin))};
}

std::string text_in(const json& figure, const char* key) {
  const auto found = figure.find(key);
  return found != figure.end() && found->is_string() ? found->get<std::string>() : "";
}

std::optional<PastFigure> read_line(const FigureLine& line) {
  const json figure = json::parse(std::string(line.text) + "}", nullptr, false);
  if (!figure.is_object()) return std::nullopt;
  const auto value = figure.find("value");
  PastFigure past{text_in(figure, "id"),
                  text_in(figure, "title"),
                  text_in(figure, "kind"),
                  "",
                  text_in(figure, "unit"),
                  text_in(figure, "text"),
                  {}};
  if (value != figure.end() && value->is_string()) past.value = value->get<std::string>();
  if (value != figure.end() && value->is_number()) past.value = value->dump();
  if (const auto doubts = figure.find("doubts"); doubts != figure.end() && doubts->is_array()) {
    for (const auto& doubt : *doubts)
      past.doubts.push_back(doubt.is_string() ? doubt.get<std::string>() : doubt.dump());
  }
  return past;
}

/// As it was shown, with the word for what no READY verdict can rest on.
std::string shown_line(const FigureLine& line) {
  const auto figure = read_line(line);
  return figure ? shown(*figure) + (figure->doubts.empty() ? "" : " UNSOUND") : "";
}

}  // namespace

std::string shown(const PastFigure& figure) {
  return figure.unit.empty() || figure.kind == "no data" ? figure.text : figure.text + " " + figure.unit;
}

std::optional<PastFigure> find_past_figure(std::string_view status, std::string_view id) {
  const auto begin = status.find(fmt::format("{}{}\"", figure_begin, id));
  if (begin == std::string_view::npos) return std::nullopt;
  auto rest = status.substr(begin);
  const auto line = take_line(rest);
  return line ? read_line(*line) : std::nullopt;
}

std::vector<PastFigure> read_past_figures(std::string_view status) {
  return read_past_figures(status, [](std::string_view) { return true; });
}

std::vector<PastFigure> read_past_figures(std::string_view status,
                                          const std::function<bool(std::string_view)>& wanted) {
  std::vector<PastFigure> figures;
  while (const auto line = take_line(status)) {
    if (!wanted(line->id)) continue;
    if (auto figure = read_line(*line)) figures.push_back(std::move(*figure));
  }
  return figures;
}

int rank_of_figure(std::string_view id) {
  constexpr std::array<std::string_view, 3> limits{"supplies.", "extension.", "return."};
  constexpr std::array<std::string_view, 4> lists{"change.", "changes.", "need.", "quality."};
  const auto is_one_of = [&](const auto& beginnings) {
    return std::any_of(beginnings.begin(), beginnings.end(), [&](auto begin) { return id.starts_with(begin); });
  };
  if (id.starts_with("gate.") && id.ends_with(".verdict")) return std::count(id.begin(), id.end(), '.') == 2 ? 0 : 1;
  if (is_one_of(limits)) return 2;
  if (id.starts_with("item.") && id.find(".margin.") != std::string_view::npos) return 3;
  return is_one_of(lists) ? 5 : 4;
}

std::vector<FigureChange> find_figure_changes(std::string_view before, std::string_view after) {
  std::vector<FigureChange> changes;
  const auto add = [&](std::string_view id, std::string was, std::string is) {
    if (was != is && !id.starts_with("chart.")) changes.push_back({std::string(id), std::move(was), std::move(is)});
  };
  auto old = take_line(before);
  auto now = take_line(after);
  while (old || now) {
    if (!now || (old && old->id < now->id)) {
      add(old->id, shown_line(*old), "");
      old = take_line(before);
    } else if (!old || now->id < old->id) {
      add(now->id, "", shown_line(*now));
      now = take_line(after);
    } else {
      // Most are the same and need not be read.
      if (old->text != now->text) add(old->id, shown_line(*old), shown_line(*now));
      old = take_line(before);
      now = take_line(after);
    }
  }
  std::stable_sort(changes.begin(), changes.end(),
                   [](const auto& a, const auto& b) { return rank_of_figure(a.id) < rank_of_figure(b.id); });
  return changes;
}

std::string sum_up(const std::vector<FigureChange>& changes, std::size_t most) {
  std::string text;
  for (std::size_t i = 0; i < std::min(most, changes.size()); ++i) {
    const auto& change = changes[i];
    const auto words = [](const std::string& value) { return value.empty() ? "not there" : "'" + value + "'"; };
    text +=
        fmt::format("{}{} was {} and is {}", i == 0 ? "" : "; ", change.id, words(change.before), words(change.after));
  }
  if (changes.size() > most) text += fmt::format("; and {} more", changes.size() - most);
  return text;
}

}  // namespace daywright::write
