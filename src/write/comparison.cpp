#include "write/comparison.h"

#include <array>

#include <fmt/format.h>

#include "model/printable.h"
#include "write/caution.h"
#include "write/json_text.h"
#include "write/text_table.h"

namespace daywright::write {
namespace {

/// In the order of rank_of_figure.
constexpr std::array groups{"Verdicts of gates", "Verdicts of criteria", "Limits", "Margins", "Rest", "Lists"};
constexpr std::array kinds{"added", "gone", "changed"};  // as in InputChange::Kind

std::string word_of(const InputChange& change) { return kinds.at(static_cast<std::size_t>(change.kind)); }

std::string text_in(const ComparedBrief& brief, std::string_view id) {
  const auto figure = find_past_figure(brief.status, id);
  return figure ? figure->text : "unknown";
}

std::string heading_of(const ComparedBrief& brief) {
  return model::printable(fmt::format(
      "{}: {}, {} {}, revision {}, cut-off {}", brief.name, text_in(brief, "mission.name"), text_in(brief, "words.day"),
      text_in(brief, "now.flight_day"), text_in(brief, "brief.revision"), text_in(brief, "now.utc")));
}

void append_brief(JsonText& json, const ComparedBrief& brief) {
  json.begin_object();
  json.member("name", brief.name);
  json.member("mission", text_in(brief, "mission.name"));
  json.member("day", text_in(brief, "now.flight_day"));
  json.member("revision", text_in(brief, "brief.revision"));
  json.member("cutoff", text_in(brief, "now.utc"));
  json.end_object();
}

}  // namespace

std::string render_comparison(const ComparedBrief& one, const ComparedBrief& other) {
  constexpr std::size_t widest = 44;
  std::string text = fmt::format("A  {}\nB  {}\n", heading_of(one), heading_of(other));
  const auto changes = find_figure_changes(one.status, other.status);
  const auto shown = [](const std::string& value) { return value.empty() ? "not there" : value; };
  for (auto change = changes.begin(); change != changes.end();) {
    const int rank = rank_of_figure(change->id);
    std::vector<std::vector<std::string>> rows;
    for (; change != changes.end() && rank_of_figure(change->id) == rank; ++change)
      rows.push_back({change->id, shown(change->before), shown(change->after)});
    text += "\n" + render_text_table(
                       {{groups.at(static_cast<std::size_t>(rank))}, {"A", false, widest}, {"B", false, widest}}, rows);
  }
  if (changes.empty()) text += "\nno figure differs\n";
  std::vector<std::vector<std::string>> files;
  for (const auto& change : find_input_changes(one.inputs, other.inputs))
    files.push_back({change.path, word_of(change)});
  text += "\n" + (files.empty() ? "no input differs\n" : render_text_table({{"Inputs"}, {"in B"}}, files));
  return text;
}

std::string render_comparison_json(const ComparedBrief& one, const ComparedBrief& other) {
  std::string out;
  JsonText json(out);
  json.begin_object();
  json.member("format", 1);
  json.member("caution", caution);
  json.key("a");
  append_brief(json, one);
  json.key("b");
  append_brief(json, other);
  json.new_line();
  json.key("figures");
  json.begin_list();
  for (const auto& change : find_figure_changes(one.status, other.status)) {
    json.new_line();
    json.begin_object();
    json.member("id", change.id);
    json.member("a", change.before);
    json.member("b", change.after);
    json.end_object();
  }
  json.end_list();
  json.new_line();
  json.key("inputs");
  json.begin_list();
  for (const auto& change : find_input_changes(one.inputs, other.inputs)) {
    json.new_line();
    json.begin_object();
    json.member("path", change.path);
    json.member("in_b", word_of(change));
    json.end_object();
  }
  json.end_list();
  json.end_object();
  return out + "\n";
}

}  // namespace daywright::write
