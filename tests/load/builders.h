// A small invented flight as files, for the tests of what is read and merged.
//
// The smallest plan, rules and day that are sound: whatever a test is about, it puts in by a swap of text.
#pragma once

#include <algorithm>
#include <initializer_list>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "catch_compat.h"
#include "load/inputs.h"
#include "load/merge.h"
#include "model/diagnostic.h"
#include "model/instant.h"
#include "model/log.h"

namespace daywright::test {

/// `text` with `from` replaced; it has to be there exactly once.
inline std::string swapped(std::string text, std::string_view from, std::string_view to) {
  const auto at = text.find(from);
  CAPTURE(std::string(from));
  REQUIRE(at != std::string::npos);
  REQUIRE(text.find(from, at + 1) == std::string::npos);
  return text.replace(at, from.size(), to);
}

/// `text` with `more` before its closing marker.
inline std::string with(std::string text, std::string_view more) {
  return swapped(std::move(text), "[end_of_file]", std::string(more) + "\n[end_of_file]");
}

inline std::vector<std::string> lines_of(std::string_view text) {
  std::vector<std::string> lines;
  while (!text.empty()) {
    const auto end = std::min(text.find('\n'), text.size());
    lines.emplace_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return lines;
}

inline std::string text_of(const std::vector<std::string>& lines) {
  std::string text;
  for (const auto& line : lines) text += line + "\n";
  return text;
}

/// The number of the line that holds `part`, from 1; exactly one has to.
inline int line_of(std::string_view text, std::string_view part) {
  const auto lines = lines_of(text);
  const auto holds = [&](const std::string& line) { return line.find(part) != std::string::npos; };
  CAPTURE(std::string(part));
  REQUIRE(std::count_if(lines.begin(), lines.end(), holds) == 1);
  return static_cast<int>(std::find_if(lines.begin(), lines.end(), holds) - lines.begin()) + 1;
}

/// How many of the faults have this rule.
inline std::size_t how_many(const model::Diagnostics& faults, std::string_view rule) {
  return static_cast<std::size_t>(
      std::count_if(faults.begin(), faults.end(), [&](const auto& fault) { return fault.rule == rule; }));
}

/// The only fault; anything else fails the test.
inline model::Diagnostic only(const model::Diagnostics& faults) {
  for (const auto& fault : faults) UNSCOPED_INFO(fault.source.line << ": " << fault.text << " [" << fault.rule << "]");
  REQUIRE(faults.size() == 1);
  return faults.front();
}

/// Every key and table of it is required. FD 1 begins at launch, FD 2 to 4 each 24 h later.
inline const std::string smallest_mission = R"([mission]
name = "Tern"
vehicle = "ship"
approved_by = "flight lead"
audience = "planning meeting"
launch = "2031-05-06T00:00Z"
planned_days = 3
extension_before = "landing"
extension_kind = "work"
margin_kind = "work"
wake_ups = ["1/00:00", "2/00:00", "3/00:00"]

[[vehicle]]
id = "ship"
title = "Ship"

[[place]]
id = "tank"
title = "Tank"
vehicle = "ship"

[[person]]
id = "pilot"
title = "Pilot"
aboard = "ship"
seat = "ship"

[[day_kind]]
id = "work"
title = "Work day"

[[phase]]
id = "flight"
title = "Flight"
start = "0/00:00"
kind = "work"

[[event]]
id = "landing"
title = "Landing"
at = "3/06:00"
kind = "touchdown"

[[landing_day]]
kind = "planned"
opportunities = ["3/06:00"]

[[method]]
id = "gauge"
kind = "gauge"

[[item]]
id = "water"
title = "Water"
sort = "stock"
unit = "kg"
vehicle = "ship"
places = ["tank"]

[[gate]]
id = "entry"
title = "Entry"
event = "landing"
poll = "3/00:00"

[end_of_file]
)";

inline const std::string smallest_rules = R"([[role]]
id = "board"
title = "Board"

[[criterion]]
id = "checks"
title = "Checks done"
gate = "entry"
owner = "board"
rationale = "invented"
kind = "tasks"

[end_of_file]
)";

/// FD 2 from its first hour to 24 h later.
inline const std::string smallest_day = R"(start = "1/00:00"
end = "2/00:00"
prepared_by = "third shift lead"

[end_of_file]
)";

inline const model::Instant launch = *model::parse_utc("2031-05-06T00:00Z").value;

/// So many days and hours after launch.
inline model::Instant met(int days, int hours = 0) {
  return launch + days * model::day_length + std::chrono::hours{hours};
}

/// A mission folder with two days, FD 1 and FD 2, in which every log of every day has nothing to report until the
/// test adds one.
class Folder {
 public:
  explicit Folder(std::string mission = smallest_mission, std::string rules = smallest_rules) {
    put("mission.toml", std::move(mission));
    put("rules.toml", std::move(rules));
  }

  /// Adds a file, or puts another text in its place.
  Folder& put(const std::string& name, std::string text) {
    for (auto& file : files_) {
      if (file.name == name) {
        file.text = std::move(text);
        return *this;
      }
    }
    files_.push_back({name, std::move(text)});
    return *this;
  }

  /// Adds a log of one day: "counts" or "counts-bench", and its lines.
  Folder& log(int day, const std::string& name, std::initializer_list<std::string> lines) {
    return put(folder_of(day) + name + ".csv", text_of(lines));
  }

  /// Says how a log of one day is closed, in place of the number of rows that it has: the lines of its table, or
  /// nothing where nobody closed it.
  Folder& close(int day, model::Log log, std::string lines) {
    closures_.push_back({day, log, std::move(lines)});
    return *this;
  }

  /// Leaves out the own file of a day.
  Folder& without_day(int day) {
    missing_day_ = day;
    return *this;
  }

  [[nodiscard]] load::Inputs load(int last_day = 2) const { return load::load_inputs(files(), last_day); }

  /// The files in order of name.
  [[nodiscard]] std::vector<model::InputFile> files() const {
    auto all = files_;
    for (int day = 1; day <= 2; ++day) {
      if (day != missing_day_) all.push_back({folder_of(day) + "day.toml", day_file(day)});
    }
    std::sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.name < b.name; });
    return all;
  }

 private:
  struct Closure {
    int day;
    model::Log log;
    std::string lines;
  };

  static std::string folder_of(int day) { return "days/00" + std::to_string(day) + "/"; }

  [[nodiscard]] int rows_of(int day, std::string_view log) const {
    int rows = 0;
    for (const auto& file : files_) {
      const std::string start = folder_of(day) + std::string(log);
      if (file.name != start + ".csv" && !file.name.starts_with(start + "-")) continue;
      rows += static_cast<int>(lines_of(file.text).size()) - 1;
    }
    return rows;
  }

  [[nodiscard]] std::string day_file(int day) const {
    const std::string end = std::to_string(day) + "/00:00";
    std::string text = "start = \"" + std::to_string(day - 1) + "/00:00\"\nend = \"" + end +
                       "\"\nprepared_by = \"third shift lead\"\n[closed]\n";
    for (std::size_t i = 0; i < model::log_count; ++i) {
      const auto log = static_cast<model::Log>(i);
      std::string lines = "by = \"desk\"\ncomplete_to = \"" + end +
                          "\"\nrows = " + std::to_string(rows_of(day, model::name_of(log))) + "\n";
      for (const auto& closure : closures_) {
        if (closure.day == day && closure.log == log) lines = closure.lines;
      }
      if (!lines.empty()) text += "[closed." + std::string(model::name_of(log)) + "]\n" + lines;
    }
    return text + "[end_of_file]\n";
  }

  std::vector<model::InputFile> files_;
  std::vector<Closure> closures_;
  int missing_day_ = 0;
};

/// What merging a folder at one cut-off gives.
struct Merging {
  /// At the end of FD 2 unless the test says otherwise.
  explicit Merging(const Folder& folder, model::Instant cutoff = met(2)) : inputs(folder.load()) {
    REQUIRE(inputs.usable);
    faults = inputs.diagnostics;
    facts = load::merge(inputs, 2, cutoff, faults);
  }

  load::Inputs inputs;
  model::Diagnostics faults;
  model::Facts facts;
};

}  // namespace daywright::test
