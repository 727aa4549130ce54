#include "rules/figures.h"

#include <cassert>
#include <cmath>

#include <fmt/format.h>

namespace daywright::rules {

std::string FigureBook::enter(Entry entry, model::FigureValue value, std::string unit, double step, std::string text) {
  assert(!figures_.contains(entry.id));
  std::string id = entry.id;
  figures_[id] = {std::move(entry.id), std::move(entry.title),  std::move(value),      std::move(unit), step,
                  std::move(text),     std::move(entry.doubts), std::move(entry.trace)};
  return id;
}

std::string FigureBook::number(Entry entry, std::optional<double> value, std::string_view unit, double step,
                               model::Rounding rounding) {
  if (!value || !std::isfinite(*value))
    return enter(std::move(entry), std::monostate{}, std::string(unit), step, "NO DATA");
  const double shown = model::round_to(*value, step, rounding);
  return enter(std::move(entry), shown, std::string(unit), step, model::format_number(shown, step));
}

std::string FigureBook::instant(Entry entry, std::optional<model::Instant> value) {
  if (!value) return enter(std::move(entry), std::monostate{}, {}, 1, "NO DATA");
  return enter(std::move(entry), *value, {}, 1, format_instant(*value, mission_));
}

std::string FigureBook::verdict(Entry entry, model::Verdict value) {
  return enter(std::move(entry), value, {}, 1, std::string(model::words(value)));
}

std::string FigureBook::words(Entry entry, std::string value) {
  std::string text = value;
  return enter(std::move(entry), std::move(value), {}, 1, std::move(text));
}

std::string FigureBook::part(std::string_view kind, const std::string& name) {
  const std::string prefix = std::string(kind) + '.';
  const auto [known, is_new] = parts_.try_emplace(prefix + name);
  if (!is_new) return known->second;
  std::string part;
  for (const char c : name) {
    const bool is_capital = c >= 'A' && c <= 'Z';
    const bool is_plain = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9');
    part += is_capital ? static_cast<char>(c - 'A' + 'a') : is_plain ? c : '_';
  }
  std::string candidate = part;
  while (!taken_.insert({prefix + candidate, 1}).second)
    candidate = fmt::format("{}__{}", part, ++taken_[prefix + part]);
  known->second = candidate;
  return candidate;
}

const model::Figure* FigureBook::find(const std::string& id) const {
  const auto found = figures_.find(id);
  return found == figures_.end() ? nullptr : &found->second;
}

std::vector<std::string> FigureBook::ids() const {
  std::vector<std::string> all;
  for (const auto& [id, figure] : figures_) all.push_back(id);
  return all;
}

std::vector<model::Figure> FigureBook::take() {
  std::vector<model::Figure> all;
  all.reserve(figures_.size());
  for (auto& [id, figure] : figures_) all.push_back(std::move(figure));
  figures_.clear();
  return all;
}

std::string format_instant(model::Instant when, const model::Mission& mission) {
  return fmt::format("{} ({} {}, {} {})", model::format_utc(when), mission.words.day,
                     mission.flight_days.number_at(when), mission.words.elapsed,
                     model::format_elapsed(when - mission.launch));
}

model::TraceInput from_file(std::string name, std::string text, model::Source source) {
  return {std::move(name), std::move(text), {}, source};
}

model::TraceInput from_figure(const model::Figure& figure) {
  return {figure.title, model::with_unit(figure), figure.id, {}};
}

}  // namespace daywright::rules
