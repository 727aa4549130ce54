// What has to be true, as rules.toml gives it: limits, criteria and how margins are judged.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <variant>
#include <vector>

#include "model/diagnostic.h"
#include "model/instant.h"
#include "model/quantity.h"

namespace daywright::model {

/// What is held likely before anything is counted. Where no source is named the figure is a judgement: none was found
/// that is published for crewed flights. tests/study shows what the defaults lead to.
struct EstimateSettings {
  /// How far the crew's use of an item is from plan over a flight: two times out of three within a twelfth.
  double factor_sd = 0.08;
  /// Variance of the use factor's drift per day. 0.012 per root day moves it by 4.5 % in two weeks, about half of what
  /// is unknown at the start: habits settle, they do not jump.
  double factor_drift = 0.012 * 0.012;
  /// One count in thirty is misread, mistyped or of another container. From 2 to 5 % the study's
  /// figures hardly move.
  double miscount_chance = 0.03;
  /// How far a miscount strays, in sigmas of a good count: a wrong digit one place before the last that is read.
  /// 10 does as well in the study.
  double miscount_sigmas = 13;
  /// The chance that a leak begins between start and now, spread evenly over that time. An interval's share is far
  /// below a miscount's chance, so one odd count is a miscount first and three in a row are a leak.
  double leak_chance = 0.05;
  /// Size of a leak, mean and standard deviation, in mean planned daily draws. A smaller one hardly differs from a
  /// use factor above 1, a larger one is found whatever the prior. Negative sizes are cut off.
  double leak_mean = 0.5;
  double leak_sd = 0.25;
  /// An interval between counts in which a leak could begin is cut into pieces no longer than this, in days.
  double onset_days = 0.25;
  /// Explanations kept: always "no leak", the newest onsets, which have not had their counts yet, and of the older
  /// ones the best. In 600 made-up missions of 90 counts, keeping all moved no 5 % quantile by more than 0.0011 of
  /// its standard deviation and no chance of a leak by more than 0.0013.
  std::size_t newest_onsets = 8;
  std::size_t best_onsets = 24;
};

enum class Basis { plan, measured, assured };

/// How margins are judged.
struct MarginRules {
  std::vector<Basis> bases{Basis::plan, Basis::measured, Basis::assured};  ///< the smallest of these governs
  int measured_min_counts = 3;    ///< fewer counts than this give no measured rate
  double assurance = 95;          ///< percent: the chance with which the assured margin is there
  double leak_shown_from = 10;    ///< percent: from this chance of a leak on, margins are given without and with it
  double conflict_sigmas = 3;     ///< two counts further apart than this disagree
  double count_every_hours = 36;  ///< a count older than this is stale, where the item says nothing else
  EstimateSettings estimate;
  Source source;
};

struct Role {
  std::string id;
  std::string title;
  Source source;
  bool is_medical = false;                ///< what it says of somebody stays out of what is read up to the crew
  std::vector<std::string> principals{};  ///< who may fill it, as sign-offs name them
};

/// What the role with this id is called; the id where there is no such role.
[[nodiscard]] inline std::string role_title(std::span<const Role> roles, const std::string& id) {
  for (const auto& role : roles) {
    if (role.id == id) return role.title;
  }
  return id;
}

enum class Comparison { at_least, at_most };

/// A figure held against a limit.
struct FigureCriterion {
  std::string figure;
  Comparison comparison = Comparison::at_least;
  double limit = 0;
  const Unit* unit = nullptr;  ///< null: the figure is a bare number
};

/// Zones that the named authority has cleared, on surveys of the demanded kind.
struct ZonesCriterion {
  std::vector<std::string> zones;
  std::string authority;
  std::string survey_kind;
  double coverage = 100;                ///< percent of each zone
  std::optional<double> max_age_hours;  ///< at the poll
  std::string after_event;              ///< a survey counts only if taken after it; empty: no demand
  std::vector<std::string> voided_by;   ///< events that void every survey taken before them
};

/// Tasks that are done.
struct TasksCriterion {
  std::vector<std::string> tasks;  ///< empty: all tasks planned for the gate
};

struct CloseoutsCriterion {
  std::vector<std::string> closeouts;
};

/// No open anomaly of one of these severities bears on the gate.
struct AnomaliesCriterion {
  std::vector<std::string> severities;
};

/// A position has said one of `accepts`, and it holds at the poll.
struct StatementCriterion {
  std::string position;
  std::vector<std::string> accepts;
};

/// Enough units of a function work, and so many more than are needed.
struct EquipmentCriterion {
  std::vector<std::string> units;         ///< all that can do it
  int needed = 1;                         ///< that have to work
  int spare = 0;                          ///< failures that have to be left to spare: failure tolerance
  std::vector<std::string> works_in;      ///< states of the log in which a unit works
  std::vector<std::string> on_condition;  ///< states in which it does, with a condition
};

/// The newest reading lies between limits.
struct ReadingCriterion {
  std::string reading;
  std::optional<double> at_least;  ///< in `unit`
  std::optional<double> at_most;
  const Unit* unit = nullptr;
  double max_age_hours = 0;  ///< at the cut-off
};

/// Every person of a list has slept, and was not on duty for too long, in the hours before the cut-off.
struct RestCriterion {
  std::vector<std::string> persons;
  double sleep_hours = 0;  ///< at least, together
  double within_hours = 24;
  std::optional<double> duty_hours;  ///< at most, together
};

/// All work that the plan names for the gate fits into the crew time up to its poll.
struct WorkFitsCriterion {};

/// Each sortie is over within its time, and all hardware that was taken out is back, or left on purpose.
struct SortieCriterion {
  std::vector<std::string> sorties;
  std::optional<double> max_minutes;  ///< from depressurised to repressurised
};

struct Criterion {
  std::string id;
  std::string title;
  std::string gate;
  std::string owner;  ///< role
  std::string rationale;
  bool limits_extension = false;
  std::string waiver_authority;  ///< the role that can waive it; empty: nobody can
  std::variant<FigureCriterion, ZonesCriterion, TasksCriterion, CloseoutsCriterion, AnomaliesCriterion,
               StatementCriterion, EquipmentCriterion, ReadingCriterion, RestCriterion, SortieCriterion,
               WorkFitsCriterion>
      demand;
  Source source;
};

/// Who is polled for a gate. Calls are recorded and never change a verdict.
struct GatePoll {
  std::string gate;
  std::vector<std::string> roles;  ///< that make a call
  std::string chair;               ///< the role that decides after them
  bool allows_two_roles = false;   ///< whether one person may call in more than one role
  Source source;
};

/// A way of coming home other than the planned one.
struct ReturnOption {
  std::string id;
  std::string title;
  std::string kind;                    ///< day kind from the decision to landing
  double hours = 0;                    ///< from the decision to landing, as a rule
  double minimum_hours = 0;            ///< at the least; 0: nothing is known of it
  std::vector<Instant> opportunities;  ///< to land, in order of time
  std::vector<std::string> events;     ///< kinds of events on the way, each once for each time it is named
  std::vector<std::string> needs;      ///< criteria that have to be ready
  std::string gives_up;                ///< what the flight loses by it
  Source source;
};

struct Rulebook {
  MarginRules margins;
  std::vector<Role> roles;
  std::vector<Criterion> criteria;
  std::vector<ReturnOption> returns;
  std::vector<GatePoll> polls;
  bool hours_by_name = false;  ///< whether outputs may say how long each person slept and was on duty
  Source source;
};

/// Who is polled for this gate; null: nobody.
[[nodiscard]] inline const GatePoll* find_poll(const Rulebook& rules, const std::string& gate) {
  for (const auto& poll : rules.polls) {
    if (poll.gate == gate) return &poll;
  }
  return nullptr;
}

}  // namespace daywright::model
