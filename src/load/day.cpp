#include "load/day.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

#include "load/table_reader.h"
#include "load/utf8.h"
#include "model/suggest.h"

namespace daywright::load {
namespace {

std::optional<model::Log> find_log(std::string_view name) {
  const auto found = std::find(model::log_names.begin(), model::log_names.end(), name);
  if (found == model::log_names.end()) return std::nullopt;
  return static_cast<model::Log>(found - model::log_names.begin());
}

}  // namespace

std::optional<model::Day> parse_day(std::string_view text, int file, int number, const model::Mission& mission,
                                    model::Diagnostics& faults) {
  const std::size_t faults_before = faults.size();
  const Node tree = parse_toml(text, file, faults);
  if (faults.size() > faults_before) return std::nullopt;
  TableReader root(tree, "day.toml", faults);
  model::Day day;
  day.number = number;
  day.source = tree.at;
  const auto start = root.time("start", mission.launch);
  const auto end = root.time("end", mission.launch);
  day.cutoff_source = root.source_of("end");
  const auto cutoff = root.time("cutoff", mission.launch, Need::optional);
  day.prepared_by = root.text("prepared_by");
  if (cutoff) day.cutoff_source = root.source_of("cutoff");
  day.closed_source = tree.at;
  if (const Node* closed = root.table("closed")) {
    TableReader logs(*closed, "[closed]", faults);
    for (const Node& node : closed->children) {
      const auto log = find_log(node.key);
      if (!log) {
        const std::vector<std::string> known(model::log_names.begin(), model::log_names.end());
        logs.fault(node.key_at,
                   fmt::format("unknown log {}{}", in_quotes(node.key), model::did_you_mean(node.key, known)),
                   "log-unknown");
        continue;
      }
      if (logs.table(node.key) == nullptr) continue;
      TableReader in(node, fmt::format("[closed.{}]", node.key), faults);
      model::LogClosure closure;
      closure.log = *log;
      closure.source = node.at;
      closure.by = in.text("by");
      const auto complete_to = in.time("complete_to", mission.launch);
      const bool nothing = in.yes_no("nothing_to_report");
      closure.rows = in.whole("rows", nothing ? Need::optional : Need::required);
      if (nothing && closure.rows != 0)
        in.fault(in.source_of("rows"), "a log with nothing to report has rows", "closure-rows");
      in.finish();
      if (complete_to) {
        closure.complete_to = *complete_to;
        day.closures.push_back(closure);
      }
    }
  }
  root.finish();
  if (!start || !end) return std::nullopt;
  day.start = *start;
  day.end = *end;
  day.cutoff = cutoff.value_or(day.end);
  const auto fault = [&](model::Severity severity, std::string_view key, std::string message, std::string rule) {
    faults.push_back({severity, root.source_of(key), std::move(message), std::move(rule)});
  };
  if (day.end <= day.start) fault(model::Severity::error, "end", "the day ends before it starts", "day-order");
  const int flight_day = mission.flight_days.number_at(day.start);
  if (flight_day != number) {
    fault(model::Severity::error, "start",
          fmt::format("the day starts in {0} {1}, expected {0} {2} as the name of its folder says", mission.words.day,
                      flight_day, number),
          "day-number");
  }
  if (cutoff && *cutoff < day.end) {
    fault(model::Severity::warning, "cutoff",
          "the cut-off lies before the end of the day: its rows without a recorded time do not count", "cutoff-early");
  }
  const bool usable = std::none_of(faults.begin() + static_cast<std::ptrdiff_t>(faults_before), faults.end(),
                                   [](const model::Diagnostic& d) { return d.severity == model::Severity::error; });
  return usable ? std::optional(day) : std::nullopt;
}

}  // namespace daywright::load
