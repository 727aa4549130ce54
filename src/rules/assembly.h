// What the makers of figures and tables share while one status is put together.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "model/status.h"
#include "rules/evaluation.h"
#include "rules/returns.h"
#include "rules/status.h"

namespace daywright::rules {

struct Assembly {
  const Evening& evening;
  Evaluation& now;
  std::vector<ExtensionCase> extension;
  std::vector<ReturnCase> returns;
  const Evening* evening_before;  ///< null: there is no brief to compare with
  const Evaluation* before;       ///< null likewise
  const Issue& issue;
  model::DayStatus status;

  [[nodiscard]] FigureBook& figures() const { return now.figures; }
  [[nodiscard]] const model::Mission& mission() const { return evening.mission; }
  [[nodiscard]] const model::Facts& facts() const { return evening.facts; }

  /// Enters words that stand in a file; its cell.
  [[nodiscard]] model::Cell quote(std::string id, std::string title, std::string text, model::Source source) const {
    model::Trace trace{"as it stands in the file", {from_file(title, text, source)}};
    return model::Cell::of(figures().words({std::move(id), std::move(title), std::move(trace), {}}, std::move(text)));
  }
  /// Enters an instant that stands in a file; its cell.
  [[nodiscard]] model::Cell quote(std::string id, std::string title, std::optional<model::Instant> when,
                                  model::Source source) const {
    model::Trace trace{"as it stands in the file",
                       {from_file(title, when ? model::format_utc(*when) : "none", source)}};
    return model::Cell::of(figures().instant({std::move(id), std::move(title), std::move(trace), {}}, when));
  }
  /// Enters a number that stands in a file; its cell.
  [[nodiscard]] model::Cell quote(std::string id, std::string title, double value, std::string_view unit, double step,
                                  model::Source source) const {
    model::Trace trace{
        "as it stands in the file",
        {from_file(title, model::format_number(model::round_to(value, step, model::Rounding::nearest), step), source)}};
    return model::Cell::of(figures().number({std::move(id), std::move(title), std::move(trace), {}}, value, unit, step,
                                            model::Rounding::nearest));
  }
  /// What the role with this id is called.
  [[nodiscard]] std::string role_title(const std::string& id) const {
    return model::role_title(evening.rules.roles, id);
  }
  /// What the gate with this id is called.
  [[nodiscard]] std::string gate_title(const std::string& id) const {
    const auto* gate = model::find_by_id(evening.mission.gates, id);
    return gate == nullptr ? id : gate->title;
  }
  /// The name of an input with its line, as editors take it.
  [[nodiscard]] std::string place_of(model::Source source) const {
    if (!source.is_known()) return "no file";
    return issue.files.at(static_cast<std::size_t>(source.file)) + ":" + std::to_string(source.line);
  }
};

/// A count that is missing or too old.
struct CountWanted {
  const ItemLevel* level = nullptr;
  const PlaceLevel* place = nullptr;
};
/// The counts that are wanted, in the order of items and places.
[[nodiscard]] std::vector<CountWanted> find_counts_wanted(const Assembly& assembly);

/// When the next gate is polled, an answer after that comes too late for it; nothing: no gate is to come.
[[nodiscard]] std::optional<model::Instant> next_poll(const Assembly& assembly);

// Each enters its figures and adds its tables; called in this order by compute_status.
void add_gates(Assembly& assembly);
void add_consumables(Assembly& assembly);
void add_ledgers(Assembly& assembly);
void add_credibility(Assembly& assembly);
void add_work(Assembly& assembly);
void add_people(Assembly& assembly);
void add_quality(Assembly& assembly);
void add_changes(Assembly& assembly);
void add_heading(Assembly& assembly);
void add_crew_note(Assembly& assembly);
void add_charts(Assembly& assembly);

// Parts of these that the handover has too.
void add_mission(Assembly& assembly);
void add_supplies(Assembly& assembly);
/// A table that is cut says how many rows are left out; called last.
void count_hidden_rows(Assembly& assembly);

}  // namespace daywright::rules
