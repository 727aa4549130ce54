// What has to be true, as rules.toml gives it: limits, criteria and how margins are judged.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "model/diagnostic.h"
#include "model/quantity.h"

namespace daywright::model {

enum class Basis { plan, measured };

/// How margins are judged.
struct MarginRules {
  std::vector<Basis> bases{Basis::plan, Basis::measured};  ///< the smallest of these governs
  int measured_min_counts = 3;                             ///< fewer counts than this give no measured rate
  double conflict_sigmas = 3;                              ///< two counts further apart than this disagree
  double count_every_hours = 36;  ///< a count older than this is stale, where the item says nothing else
  Source source;
};

struct Role {
  std::string id;
  std::string title;
  Source source;
};

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

struct Criterion {
  std::string id;
  std::string title;
  std::string gate;
  std::string owner;  ///< role
  std::string rationale;
  bool limits_extension = false;
  std::variant<FigureCriterion, ZonesCriterion, TasksCriterion, CloseoutsCriterion, AnomaliesCriterion,
               StatementCriterion>
      demand;
  Source source;
};

struct Rulebook {
  MarginRules margins;
  std::vector<Role> roles;
  std::vector<Criterion> criteria;
  Source source;
};

}  // namespace daywright::model
