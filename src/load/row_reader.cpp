#include "load/row_reader.h"

#include <charconv>
#include <cmath>

#include <fmt/format.h>

#include "load/utf8.h"
#include "model/suggest.h"

namespace daywright::load {
namespace {

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

}  // namespace

KnownNames::KnownNames(const model::Mission& mission, const model::Rulebook& rules)
    : items("item", mission.items),
      places("place", mission.places),
      persons("person", mission.persons),
      zones("zone", mission.zones),
      gates("gate", mission.gates),
      methods("way of counting", mission.methods),
      roles("role", rules.roles),
      equipment("unit of equipment", mission.equipment),
      readings("reading", mission.readings),
      sorties("sortie", mission.sorties),
      events("event", mission.events),
      criteria("criterion", rules.criteria) {}

std::optional<std::size_t> RowReader::index_of(std::string_view column) const {
  const auto found = std::find(file_.columns.begin(), file_.columns.end(), column);
  if (found == file_.columns.end()) return std::nullopt;
  const auto index = static_cast<std::size_t>(found - file_.columns.begin());
  return index < cells_.size() ? std::optional(index) : std::nullopt;
}

std::string_view RowReader::raw(std::string_view column) const {
  const auto index = index_of(column);
  std::string_view cell = index ? trimmed(cells_[*index].text) : std::string_view{};
  if (cell.empty()) {
    const auto otherwise = file_.source.defaults.find(std::string(column));
    if (otherwise != file_.source.defaults.end()) cell = otherwise->second;
  }
  const auto words = file_.source.values.find(std::string(column));
  if (words == file_.source.values.end()) return cell;
  const auto ours = words->second.find(std::string(cell));
  return ours != words->second.end() ? std::string_view(ours->second) : cell;
}

model::Source RowReader::source_of(std::string_view column) const {
  const auto index = index_of(column);
  if (!index) return source();
  // Counted from the row, not from the top of the file: a log may hold a million rows.
  model::Source at = source_at(file_.file, file_.text.substr(row_offset_), cells_[*index].offset - row_offset_);
  at.line += row_line_ - 1;
  return at;
}

void RowReader::fault(std::string_view column, std::string text, std::string rule) {
  sound_ = false;
  if (first_fault_.empty()) first_fault_ = text;
  file_.faults.push_back({model::Severity::error, source_of(column), std::move(text), std::move(rule)});
}

std::string_view RowReader::required(std::string_view column) {
  const std::string_view cell = raw(column);
  if (cell.empty()) fault(column, fmt::format("the cell '{}' is empty, expected a value", column), "cell-empty");
  return cell;
}

void RowReader::not_one_of(std::string_view column, std::string_view cell, const std::vector<std::string>& known) {
  fault(column,
        fmt::format("{} in '{}', expected one of {}{}", in_quotes(cell), column, fmt::join(known, ", "),
                    model::did_you_mean(cell, known)),
        "value-unknown");
}

std::string RowReader::text(std::string_view column) { return std::string(required(column)); }

std::string RowReader::text_or_empty(std::string_view column) { return std::string(raw(column)); }

void RowReader::expect_empty(std::string_view column, std::string_view kind_of_row) {
  if (raw(column).empty()) return;
  fault(column, fmt::format("{} in '{}', expected nothing in a row of {}", in_quotes(raw(column)), column, kind_of_row),
        "cell-without-use");
}

std::vector<std::string> RowReader::list(std::string_view column) {
  std::vector<std::string> parts;
  std::string_view rest = raw(column);
  while (!rest.empty()) {
    const auto end = rest.find(';');
    const std::string_view part = trimmed(rest.substr(0, end));
    if (!part.empty()) parts.emplace_back(part);
    rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
  }
  return parts;
}

std::string RowReader::name(std::string_view column, const Names& names) {
  required(column);
  return name_or_empty(column, names);
}

std::string RowReader::name_or_empty(std::string_view column, const Names& names) {
  const std::string_view cell = raw(column);
  if (!cell.empty() && !names.contains(cell)) fault(column, names.complaint(cell), "name-unknown");
  return std::string(cell);
}

std::vector<std::string> RowReader::names(std::string_view column, const Names& names) {
  std::vector<std::string> parts = list(column);
  for (const std::string& part : parts) {
    if (!names.contains(part)) fault(column, names.complaint(part), "name-unknown");
  }
  return parts;
}

std::optional<double> RowReader::read_number(std::string_view column, std::string_view cell) {
  std::string text(cell);
  if (file_.source.decimal_comma) {
    // A point would be a thousands sign there or a slip: 1.250 is then not for us to guess.
    if (text.find('.') != std::string::npos) text.clear();
    std::replace(text.begin(), text.end(), ',', '.');
  }
  double value = 0;
  const bool has_plus = text.starts_with('+') && !text.starts_with("+-");
  const char* begin = text.data() + (has_plus ? 1 : 0);
  const char* end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(begin, end, value, std::chars_format::fixed);
  if (error == std::errc{} && stop == end && begin != end && std::isfinite(value)) return value;
  fault(column,
        fmt::format("{} in '{}', expected a number such as {}", in_quotes(cell), column,
                    file_.source.decimal_comma ? "12,5" : "12.5"),
        "number");
  return std::nullopt;
}

double RowReader::number(std::string_view column) {
  const std::string_view cell = required(column);
  return cell.empty() ? 0 : read_number(column, cell).value_or(0);
}

double RowReader::amount(std::string_view column) {
  const double value = number(column);
  if (value >= 0) return value;
  fault(column, fmt::format("{} in '{}', expected a number not below zero", value, column), "value-range");
  return 0;
}

double RowReader::percent(std::string_view column) {
  const double value = number(column);
  if (value >= 0 && value <= 100) return value;
  fault(column, fmt::format("{} in '{}', expected a percentage from 0 to 100", value, column), "value-range");
  return 0;
}

int RowReader::whole(std::string_view column, int least, int most) {
  const double value = number(column);
  if (value == std::floor(value) && value >= least && value <= most) return static_cast<int>(value);
  if (sound_)
    fault(column, fmt::format("{} in '{}', expected a whole number from {} to {}", value, column, least, most),
          "value-range");
  return least;
}

std::optional<model::Instant> RowReader::read_time(std::string_view column, std::string_view cell) {
  std::optional<model::Instant> when;
  bool leap = false;
  std::string expected;
  if (!file_.source.time_pattern.empty()) {
    const auto local = model::parse_by_pattern(cell, file_.source.time_pattern);
    if (local.value) when = *local.value - file_.source.utc_offset;
    leap = local.leap_second;
    expected = local.expected;
  } else if (cell.find('/') != std::string_view::npos) {
    const auto elapsed = model::parse_elapsed(cell);
    if (elapsed.value) when = file_.mission.launch + *elapsed.value;
    expected = elapsed.expected + ", or a UTC time such as 2031-05-13T16:20Z";
  } else {
    const auto utc = model::parse_utc(cell);
    when = utc.value;
    leap = utc.leap_second;
    expected = utc.expected;
  }
  if (!when) fault(column, fmt::format("{} in '{}', expected {}", in_quotes(cell), column, expected), "time");
  if (leap) {
    file_.faults.push_back({model::Severity::warning, source_of(column),
                            fmt::format("second 60 in '{}' is taken as the next second", column), "leap-second"});
  }
  return when;
}

model::Instant RowReader::time(std::string_view column) {
  const std::string_view cell = required(column);
  if (cell.empty()) return {};
  return read_time(column, cell).value_or(model::Instant{});
}

std::optional<model::Instant> RowReader::time_if_any(std::string_view column) {
  const std::string_view cell = raw(column);
  return cell.empty() ? std::nullopt : read_time(column, cell);
}

const model::Unit* RowReader::unit() {
  const std::string_view cell = required("unit");
  if (cell.empty()) return nullptr;
  const model::Unit* found = model::find_unit(cell);
  if (found == nullptr) {
    std::vector<std::string> known;
    for (const auto& u : model::units()) known.emplace_back(u.spelling);
    fault("unit",
          fmt::format("unknown unit {}, expected one of the README's table{}", in_quotes(cell),
                      model::did_you_mean(cell, known)),
          "unit-unknown");
  }
  return found;
}

double RowReader::quantity_in(const model::Unit& to) {
  const double value = amount("quantity");
  const model::Unit* from = unit();
  if (from == nullptr) return 0;
  if (from->dimension != to.dimension) {
    fault("unit",
          fmt::format("'{}' does not measure what '{}' does, expected a unit that converts to {}", from->spelling,
                      to.spelling, to.spelling),
          "unit-dimension");
    return 0;
  }
  return model::convert(value, *from, to);
}

std::pair<double, std::string> RowReader::number_with_unit(std::string_view column, const model::Unit* unit) {
  if (unit == nullptr) return {number(column), {}};
  const std::string_view cell = raw(column);
  const auto space = cell.find_last_of(' ');
  const auto* from = space == std::string_view::npos ? nullptr : model::find_unit(trimmed(cell.substr(space)));
  if (from == nullptr || from->dimension != unit->dimension) {
    fault(column,
          fmt::format("{} in '{}', expected a number and a unit that converts to {}", in_quotes(cell), column,
                      unit->spelling),
          "unit-dimension");
    return {};
  }
  return {model::convert(read_number(column, trimmed(cell.substr(0, space))).value_or(0), *from, *unit),
          std::string(unit->spelling)};
}

model::Provenance RowReader::provenance() {
  model::Provenance from;
  from.source = source();
  from.origin = file_.source.id;
  from.rank = file_.source.rank;
  from.recorded = time_if_any("recorded").value_or(file_.recorded_by_default);
  from.ref = text_or_empty("ref");
  from.corrects = text_or_empty("corrects");
  from.remark = text_or_empty("remark");
  return from;
}

}  // namespace daywright::load
