// The sixteen logs: what one row of each says, with its provenance, and what merging makes of them.
//
// Plain values. A fact has two times: when it happened (in the row) and when it was recorded (in its provenance).
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/diagnostic.h"
#include "model/instant.h"
#include "model/plan_change.h"

namespace daywright::model {

enum class Log {
  plan,
  tasks,
  sorties,
  closeouts,
  surveys,
  findings,
  clearances,
  counts,
  transfers,
  readings,
  equipment,
  anomalies,
  decisions,
  actions,
  statements,
  crew,
};
inline constexpr std::size_t log_count = 16;

inline constexpr std::array<std::string_view, log_count> log_names{
    "plan",      "tasks",    "sorties",   "closeouts", "surveys",   "findings", "clearances", "counts",
    "transfers", "readings", "equipment", "anomalies", "decisions", "actions",  "statements", "crew"};

[[nodiscard]] constexpr std::string_view name_of(Log log) { return log_names[static_cast<std::size_t>(log)]; }

/// Where a fact comes from and when it became known.
struct Provenance {
  Source source;
  std::string origin;    ///< id of the source; the log's own name where no [[source]] is declared
  int rank = 0;          ///< of that source, lower is better
  Instant recorded;      ///< its `recorded` cell, else the end of the day folder it lies in
  std::string ref;       ///< a name the row gives itself, so that a later one can correct it
  std::string corrects;  ///< the `ref` it corrects
  std::string remark;
};

struct PlanRow {
  static constexpr Log log = Log::plan;
  Provenance from;
  std::string task;
  std::string title;
  int day = 0;                     ///< flight day
  std::vector<std::string> crew;   ///< persons
  double minutes = 0;              ///< per person
  int priority = 0;                ///< 1 is highest
  std::vector<std::string> needs;  ///< tasks that come first
  std::string gate;                ///< gate it has to be done for; empty: none
  bool get_ahead = false;
};

enum class TaskState { started, partial, done, not_done };

struct TaskRow {
  static constexpr Log log = Log::tasks;
  Provenance from;
  std::string task;
  TaskState state = TaskState::started;
  double percent = 0;
  std::vector<std::string> who;
  Instant begin;
  std::optional<Instant> end;
};

struct SortieRow {
  static constexpr Log log = Log::sorties;
  Provenance from;
  std::string sortie;
  bool is_period = true;  ///< EVA period, or a piece of hardware taken out
  std::vector<std::string> who;
  std::optional<Instant> depressurised;
  std::optional<Instant> repressurised;
  std::string hardware;
  double out = 0;
  double back = 0;
  double left = 0;  ///< fitted, used up or left out on purpose
};

struct CloseoutRow {
  static constexpr Log log = Log::closeouts;
  Provenance from;
  std::string closeout;
  double done = 0;
  double of = 0;
  std::string by;
  Instant when;
};

struct SurveyRow {
  static constexpr Log log = Log::surveys;
  Provenance from;
  std::string survey;
  std::string zone;
  std::string kind;
  std::string part;     ///< named part of the zone; empty: the whole
  double coverage = 0;  ///< percent of the part
  Instant taken;
  std::optional<Instant> received;
  std::optional<Instant> reviewed;
  std::string reviewer;
};

enum class FindingState { open, under_analysis, closed };

/// How bad a finding or an anomaly is, the mildest first.
inline constexpr std::array<std::string_view, 3> severities{"minor", "major", "critical"};

struct FindingRow {
  static constexpr Log log = Log::findings;
  Provenance from;
  std::string finding;
  std::string zone;
  std::string severity;
  FindingState state = FindingState::open;
  std::string disposition;
  Instant when;
};

enum class ClearanceState { cleared, cleared_with_conditions, not_cleared };

struct ClearanceRow {
  static constexpr Log log = Log::clearances;
  Provenance from;
  std::string zone;
  std::string gate;
  ClearanceState state = ClearanceState::not_cleared;
  std::vector<std::string> rests_on;  ///< surveys
  std::string conditions;
  std::string authority;
  Instant effective;
  std::optional<Instant> until;
};

struct CountRow {
  static constexpr Log log = Log::counts;
  Provenance from;
  Instant when;
  std::string item;
  std::string place;
  double quantity = 0;  ///< in the item's unit
  std::string method;
  std::string by;
};

enum class TransferState { planned, done, cancelled };

struct TransferRow {
  static constexpr Log log = Log::transfers;
  Provenance from;
  std::string transfer;
  Instant when;
  std::string item;
  std::string from_place;  ///< empty: from outside the places of the item
  std::string to_place;    ///< empty: to outside
  double quantity = 0;     ///< in the item's unit
  TransferState state = TransferState::planned;
};

struct ReadingRow {
  static constexpr Log log = Log::readings;
  Provenance from;
  Instant when;
  std::string what;
  double quantity = 0;
  std::string unit;
};

/// The states of equipment as logs spell them.
inline constexpr std::array<std::string_view, 5> equipment_states{"working", "standby", "degraded", "failed", "off"};

struct EquipmentRow {
  static constexpr Log log = Log::equipment;
  Provenance from;
  std::string unit;
  std::string state;
  std::string function;
  Instant when;
};

enum class AnomalyState { open, closed };

struct AnomalyRow {
  static constexpr Log log = Log::anomalies;
  Provenance from;
  std::string anomaly;
  Instant opened;
  std::string severity;
  std::string gate;  ///< gate it bears on; empty: all
  AnomalyState state = AnomalyState::open;
  std::string disposition;
};

enum class DecisionState { proposed, approved, refused, withdrawn };

struct DecisionRow {
  static constexpr Log log = Log::decisions;
  Provenance from;
  std::string decision;
  DecisionState state = DecisionState::proposed;
  std::string authority;
  std::optional<Instant> effective;
  std::optional<Instant> expires;  ///< proposed: decide by then
  std::string changes;             ///< as written
  std::string value;               ///< likewise
  PlanChange change;               ///< what the two say
  Waiver waiver;
  std::string reason;
};

enum class ActionState { open, answered, closed };

struct ActionRow {
  static constexpr Log log = Log::actions;
  Provenance from;
  std::string action;
  std::string asked_by;
  std::string asked_of;
  std::string text;
  std::optional<Instant> due;
  ActionState state = ActionState::open;
};

struct StatementRow {
  static constexpr Log log = Log::statements;
  Provenance from;
  std::string position;
  std::string says;
  Instant at;
  std::optional<Instant> valid_until;
};

struct CrewRow {
  static constexpr Log log = Log::crew;
  Provenance from;
  std::string person;
  bool is_sleep = true;
  Instant begin;
  Instant end;
};

/// One merged fact: the row that counts, the rows it took the place of, and the rows that disagree with it.
template <class Row>
struct Merged {
  Row row;
  std::vector<Row> superseded;  ///< corrected or brought up to date, oldest first
  std::vector<Row> confirmed;   ///< another source that says the same, within tolerance
  std::vector<Row> rivals;      ///< another source, the same key, other values: a conflict until it is resolved
};

/// A row that could not be used and that no later row corrects.
struct RejectedRow {
  Log log = Log::plan;
  std::string subject;  ///< what it speaks of, where that could be read; empty: it may be anything
  std::string place;    ///< of a count: where, likewise
  std::string ref;
  std::string origin;  ///< id of its source
  Source source;
  Instant recorded;
  std::string why;
};

/// Why a log of some day can't be relied on for what it does not say.
struct LogGap {
  Log log = Log::plan;
  std::string day;  ///< as the mission says it: "FD 8"
  Source source;
  std::string why;
};

/// All facts known at the cut-off, each list in the order of its keys, and what is missing from them.
struct Facts {
  std::vector<Merged<PlanRow>> plan;
  std::vector<Merged<TaskRow>> tasks;
  std::vector<Merged<SortieRow>> sorties;
  std::vector<Merged<CloseoutRow>> closeouts;
  std::vector<Merged<SurveyRow>> surveys;
  std::vector<Merged<FindingRow>> findings;
  std::vector<Merged<ClearanceRow>> clearances;
  std::vector<Merged<CountRow>> counts;
  std::vector<Merged<TransferRow>> transfers;
  std::vector<Merged<ReadingRow>> readings;
  std::vector<Merged<EquipmentRow>> equipment;
  std::vector<Merged<AnomalyRow>> anomalies;
  std::vector<Merged<DecisionRow>> decisions;
  std::vector<Merged<ActionRow>> actions;
  std::vector<Merged<StatementRow>> statements;
  std::vector<Merged<CrewRow>> crew;
  std::vector<RejectedRow> rejected;
  std::vector<LogGap> gaps;
};

/// One log's declared end in day.toml.
struct LogClosure {
  Log log = Log::plan;
  std::string by;
  Instant complete_to;
  int rows = 0;  ///< 0 also for "nothing to report"
  Source source;
};

/// One day folder's own file.
struct Day {
  int number = 0;
  Instant start;
  Instant end;
  Instant cutoff;
  std::string prepared_by;
  std::vector<LogClosure> closures;
  Source source;
  Source cutoff_source;
  Source closed_source;  ///< of the table of closures
};

}  // namespace daywright::model
