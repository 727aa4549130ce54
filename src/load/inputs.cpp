#include "load/inputs.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "load/csv.h"
#include "load/day.h"
#include "load/mission.h"
#include "load/row_reader.h"
#include "load/rows.h"
#include "load/rulebook.h"
#include "load/utf8.h"
#include "model/suggest.h"

namespace daywright::load {
namespace {

using model::Diagnostics;
using model::Severity;

constexpr std::size_t day_path_length = std::string_view("days/008/").size();

/// What the name of a log file says: "counts-stowage.csv" is the log counts of the source stowage.
struct LogName {
  model::Log log;
  std::string source;
};

std::optional<LogName> parse_log_name(std::string_view name) {
  if (!name.ends_with(".csv")) return std::nullopt;
  name.remove_suffix(4);
  const auto dash = name.find('-');
  const auto found = std::find(model::log_names.begin(), model::log_names.end(), name.substr(0, dash));
  if (found == model::log_names.end()) return std::nullopt;
  return LogName{static_cast<model::Log>(found - model::log_names.begin()),
                 dash == std::string_view::npos ? std::string{} : std::string(name.substr(dash + 1))};
}

bool has_errors(const Diagnostics& faults) {
  return std::any_of(faults.begin(), faults.end(), [](const auto& d) { return d.severity == Severity::error; });
}

/// Reads the log files of one mission, one after the other.
class LogLoader {
 public:
  explicit LogLoader(Inputs& inputs) : inputs_(inputs), names_(inputs.mission, inputs.rules) {}

  void load(const model::InputFile& input, int file, const LogName& name, int day, model::Instant day_end) {
    LogVolume& volume = volume_of(name.log, day, file);
    const model::LogSource* source = find_source(name, file);
    if (source == nullptr) {
      volume.is_whole = false;
      volume.source = {file, 1, 1};
      return;
    }
    const std::string_view text = without_bom(input.text);
    LogFile log{inputs_.mission, inputs_.rules, names_, *source, file, text, day_end, inputs_.diagnostics, {}};
    check_end(log, volume);
    CsvReader csv(text, source->delimiter);
    const auto* header = csv.next();
    if (header == nullptr || csv.fault() || !map_columns(log, *header, name.log)) {
      if (header == nullptr)
        fault({file, 1, 1}, "the file is empty, expected a line with the names of the columns", "log-empty");
      if (csv.fault()) fault(source_at(file, text, csv.fault()->offset), std::string(csv.fault()->text), "csv-syntax");
      volume.is_whole = false;
      volume.source = {file, 1, 1};
      while (csv.next() != nullptr) volume.recorded.push_back(log.recorded_by_default);
      return;
    }
    read_rows(log, csv, header->size(), name.log, volume);
  }

 private:
  void fault(model::Source at, std::string text, std::string rule, Severity severity = Severity::error) {
    inputs_.diagnostics.push_back({severity, at, std::move(text), std::move(rule)});
  }

  LogVolume& volume_of(model::Log log, int day, int file) {
    for (LogVolume& volume : inputs_.volumes) {
      if (volume.log == log && volume.day == day) return volume;
    }
    return inputs_.volumes.emplace_back(LogVolume{log, day, {}, true, {file, 1, 1}});
  }

  /// A file without a name of a source is ours: its columns are the ones of the README.
  const model::LogSource* find_source(const LogName& name, int file) {
    std::vector<std::string> known;
    for (const auto& source : inputs_.mission.sources) {
      if (source.log != name.log) continue;
      if (source.id == name.source) return &source;
      known.push_back(source.id);
    }
    if (!name.source.empty()) {
      fault({file, 1, 1},
            fmt::format("no [[source]] {} for log '{}' in mission.toml{}", in_quotes(name.source),
                        model::name_of(name.log), model::did_you_mean(name.source, known)),
            "source-unknown");
      return nullptr;
    }
    auto [own, is_new] = own_sources_.try_emplace(name.log);
    if (is_new) {
      own->second.id = std::string(model::name_of(name.log));
      own->second.log = name.log;
    }
    return &own->second;
  }

  /// A file without a closing line break may have been cut inside its last cell, where nothing else would show it.
  void check_end(const LogFile& log, LogVolume& volume) {
    if (log.text.empty() || log.text.ends_with('\n')) return;
    fault(source_at(log.file, log.text, log.text.size()),
          "the last line has no line break, so the file may be cut; expected one, the log does not count as closed",
          "no-final-line-break", Severity::warning);
    volume.is_whole = false;
    volume.source = {log.file, 1, 1};
  }

  bool map_columns(LogFile& log, const std::vector<CsvCell>& header, model::Log kind) {
    const LogColumns& columns = columns_of(kind);
    const std::vector<std::string> ours = names_of_columns(kind);
    std::map<std::string, std::string, std::less<>> theirs;  // their name -> ours
    for (const auto& column : ours) {
      const auto mapped = log.source.columns.find(column);
      theirs[mapped != log.source.columns.end() ? mapped->second : column] = column;
    }
    bool complete = true;
    for (const CsvCell& cell : header) {
      const auto at = source_at(log.file, log.text, cell.offset);
      const auto found = theirs.find(cell.text);
      const auto& ignored = log.source.ignore;
      if (found != theirs.end()) {
        const bool twice = std::find(log.columns.begin(), log.columns.end(), found->second) != log.columns.end();
        if (twice) {
          fault(at, fmt::format("column {} comes twice", in_quotes(cell.text)), "column-twice");
          complete = false;
        }
        log.columns.push_back(found->second);
        continue;
      }
      log.columns.emplace_back();
      if (std::find(ignored.begin(), ignored.end(), cell.text) != ignored.end()) continue;
      std::vector<std::string> known;
      for (const auto& [name, column] : theirs) known.push_back(name);
      fault(at,
            fmt::format("unknown column {} in log '{}'{}", in_quotes(cell.text), model::name_of(kind),
                        model::did_you_mean(cell.text, known)),
            "column-unknown");
      complete = false;
    }
    for (const auto& column : columns.required) {
      const bool has_it = std::find(log.columns.begin(), log.columns.end(), column) != log.columns.end();
      if (has_it || log.source.defaults.contains(std::string(column))) continue;
      fault({log.file, 1, 1}, fmt::format("log '{}' has no column '{}'", model::name_of(kind), column),
            "column-missing");
      complete = false;
    }
    return complete;
  }

  void read_rows(const LogFile& log, CsvReader& csv, std::size_t width, model::Log kind, LogVolume& volume) {
    while (const auto* cells = csv.next()) {
      volume.recorded.push_back(log.recorded_by_default);
      const model::Source at{log.file, csv.row_line(), 1};
      if (csv.fault()) {
        fault(source_at(log.file, log.text, csv.fault()->offset), std::string(csv.fault()->text), "csv-syntax");
        reject(kind, at, log.recorded_by_default, std::string(csv.fault()->text));
        continue;
      }
      if (cells->size() != width) {
        const std::string why =
            fmt::format("the row has {} cells, expected {} as in the first line", cells->size(), width);
        fault(at, why, "row-width");
        reject(kind, at, log.recorded_by_default, why);
        continue;
      }
      RowReader in(log, *cells, csv.row_offset(), csv.row_line());
      if (const auto bad = bad_byte(*cells)) {
        fault(source_at(log.file, log.text, *bad), "a byte that is not UTF-8 text, expected UTF-8 throughout",
              "not-utf8");
        reject(kind, at, log.recorded_by_default, "a byte that is not UTF-8 text");
        continue;
      }
      switch (kind) {
        case model::Log::plan: keep<model::PlanRow>(in, log, volume); break;
        case model::Log::tasks: keep<model::TaskRow>(in, log, volume); break;
        case model::Log::sorties: keep<model::SortieRow>(in, log, volume); break;
        case model::Log::closeouts: keep<model::CloseoutRow>(in, log, volume); break;
        case model::Log::surveys: keep<model::SurveyRow>(in, log, volume); break;
        case model::Log::findings: keep<model::FindingRow>(in, log, volume); break;
        case model::Log::clearances: keep<model::ClearanceRow>(in, log, volume); break;
        case model::Log::counts: keep<model::CountRow>(in, log, volume); break;
        case model::Log::transfers: keep<model::TransferRow>(in, log, volume); break;
        case model::Log::readings: keep<model::ReadingRow>(in, log, volume); break;
        case model::Log::equipment: keep<model::EquipmentRow>(in, log, volume); break;
        case model::Log::anomalies: keep<model::AnomalyRow>(in, log, volume); break;
        case model::Log::decisions: keep<model::DecisionRow>(in, log, volume); break;
        case model::Log::actions: keep<model::ActionRow>(in, log, volume); break;
        case model::Log::statements: keep<model::StatementRow>(in, log, volume); break;
        case model::Log::crew: keep<model::CrewRow>(in, log, volume); break;
      }
    }
  }

  static std::optional<std::size_t> bad_byte(const std::vector<CsvCell>& cells) {
    for (const CsvCell& cell : cells) {
      if (const auto bad = find_bad_byte(cell.text)) return cell.offset + *bad;
    }
    return std::nullopt;
  }

  template <class Row>
  void keep(RowReader& in, const LogFile& log, LogVolume& volume) {
    Row row;
    row.from = in.provenance();
    volume.recorded.back() = row.from.recorded;
    read_row(in, log, row);
    if (in.is_sound()) {
      std::get<std::vector<Row>>(inputs_.rows).push_back(std::move(row));
      return;
    }
    const std::string_view subject_column = columns_of(Row::log).subject;
    std::string subject(subject_column.empty() ? std::string_view{} : in.raw(subject_column));
    if (!names_its_subject(Row::log, subject)) subject.clear();
    std::string place(Row::log == model::Log::counts ? in.raw("place") : std::string_view{});
    if (model::find_by_id(inputs_.mission.places, place) == nullptr) place.clear();
    inputs_.rejected.push_back({Row::log, std::move(subject), std::move(place), row.from.ref, row.from.origin,
                                row.from.source, row.from.recorded, in.first_fault()});
  }

  /// Whether the subject of a bad row is one that exists, so that the row can bear on nothing else.
  [[nodiscard]] bool names_its_subject(model::Log log, const std::string& subject) const {
    switch (log) {
      case model::Log::counts:
      case model::Log::transfers: return names_.items.contains(subject);
      case model::Log::surveys:
      case model::Log::findings:
      case model::Log::clearances: return names_.zones.contains(subject);
      case model::Log::statements: return names_.roles.contains(subject);
      case model::Log::crew: return names_.persons.contains(subject);
      case model::Log::equipment: return names_.equipment.contains(subject);
      case model::Log::readings: return names_.readings.contains(subject);
      case model::Log::sorties: return names_.sorties.contains(subject);
      default: return !subject.empty();
    }
  }

  void reject(model::Log log, model::Source at, model::Instant recorded, std::string why) {
    inputs_.rejected.push_back({log, {}, {}, {}, {}, at, recorded, std::move(why)});
  }

  Inputs& inputs_;
  KnownNames names_;
  std::map<model::Log, model::LogSource> own_sources_;
};

void load_days(Inputs& inputs, std::span<const model::InputFile> files, int last_day) {
  std::map<int, bool> folders;  // number -> its day.toml could be used
  for (std::size_t i = 0; i < files.size(); ++i) {
    const auto number = day_of_path(files[i].name);
    if (!number || *number > last_day) continue;
    folders.try_emplace(*number, false);
    if (files[i].name.substr(day_path_length) != "day.toml") continue;
    if (auto day = parse_day(files[i].text, static_cast<int>(i), *number, inputs.mission, inputs.diagnostics)) {
      folders[*number] = true;
      inputs.days.push_back(std::move(*day));
    }
  }
  for (const auto& [number, is_sound] : folders) {
    if (!is_sound) inputs.broken_days.push_back(number);
  }
  for (int number = 1; number <= last_day; ++number) {
    const bool has_file = std::any_of(files.begin(), files.end(), [&](const auto& f) {
      return f.name == fmt::format("days/{:03}/day.toml", number);
    });
    if (has_file) continue;
    if (!folders.contains(number)) inputs.broken_days.push_back(number);
    inputs.diagnostics.push_back(
        {Severity::error, inputs.mission.source,
         fmt::format("days/{:03}/day.toml is missing, expected one for every flight day up to the brief's", number),
         "day-missing"});
  }
  std::sort(inputs.broken_days.begin(), inputs.broken_days.end());
}

/// The end of a day as far as it is known: what its own file says, else when the next flight day begins.
model::Instant end_of_day(const Inputs& inputs, int number) {
  for (const auto& day : inputs.days) {
    if (day.number == number) return day.end;
  }
  return inputs.mission.flight_days.start_of(number + 1);
}

int index_of(std::span<const model::InputFile> files, std::string_view name) {
  const auto found = std::find_if(files.begin(), files.end(), [&](const auto& f) { return f.name == name; });
  return found == files.end() ? -1 : static_cast<int>(found - files.begin());
}

}  // namespace

std::optional<int> day_of_path(std::string_view name) {
  if (!name.starts_with("days/") || name.size() <= day_path_length || name[day_path_length - 1] != '/')
    return std::nullopt;
  int number = 0;
  for (const char c : name.substr(5, 3)) {
    if (c < '0' || c > '9') return std::nullopt;
    number = number * 10 + (c - '0');
  }
  return number > 0 ? std::optional(number) : std::nullopt;
}

Inputs load_inputs(std::span<const model::InputFile> files, int last_day) {
  Inputs inputs;
  for (const std::string_view name : {"mission.toml", "rules.toml"}) {
    if (index_of(files, name) >= 0) continue;
    inputs.diagnostics.push_back(
        {Severity::error, {}, fmt::format("{} is missing, expected it in the mission folder", name), "file-missing"});
  }
  const int mission_file = index_of(files, "mission.toml");
  if (mission_file < 0) return inputs;
  inputs.mission = parse_mission(files[static_cast<std::size_t>(mission_file)].text, mission_file, inputs.diagnostics);
  if (has_errors(inputs.diagnostics)) return inputs;
  const int rules_file = index_of(files, "rules.toml");
  if (rules_file < 0) return inputs;
  inputs.rules =
      parse_rulebook(files[static_cast<std::size_t>(rules_file)].text, rules_file, inputs.mission, inputs.diagnostics);
  if (has_errors(inputs.diagnostics)) return inputs;

  load_days(inputs, files, last_day);
  LogLoader logs(inputs);
  for (std::size_t i = 0; i < files.size(); ++i) {
    const auto number = day_of_path(files[i].name);
    if (!number || *number > last_day) continue;
    const std::string_view name = std::string_view(files[i].name).substr(day_path_length);
    if (name == "day.toml") continue;
    if (const auto log = parse_log_name(name)) {
      logs.load(files[i], static_cast<int>(i), *log, *number, end_of_day(inputs, *number));
      continue;
    }
    const std::vector<std::string> known = [] {
      std::vector<std::string> all{"day.toml"};
      for (const auto log : model::log_names) all.push_back(std::string(log) + ".csv");
      return all;
    }();
    inputs.diagnostics.push_back({Severity::error,
                                  {static_cast<int>(i), 1, 1},
                                  fmt::format("{} is not the name of a log, expected <log>.csv or <log>-<source>.csv{}",
                                              in_quotes(name), model::did_you_mean(name, known)),
                                  "log-name"});
  }
  inputs.usable =
      std::any_of(inputs.days.begin(), inputs.days.end(), [&](const auto& d) { return d.number == last_day; });
  return inputs;
}

}  // namespace daywright::load
