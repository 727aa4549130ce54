#include "rules/clearance.h"

#include <algorithm>
#include <iterator>
#include <map>

#include <fmt/format.h>

namespace daywright::rules {
namespace {

using model::Instant;
using model::Verdict;

/// The instant before which surveys no longer count: the event they must follow, or one that voids them. An event
/// that comes before the poll voids too, for it is at the poll that the survey has to hold.
struct Since {
  Instant when = Instant::min();
  std::string because;
};

Since counts_since(const model::Mission& mission, const model::Gate& gate, const model::ZonesCriterion& demand) {
  Since since;
  if (!demand.after_event.empty()) {
    // A flight that goes home early leaves out what was planned later: then no survey can be taken after it.
    const auto* event = model::find_by_id(mission.events, demand.after_event);
    since = event == nullptr ? Since{Instant::max(), "has to be taken after an event that has fallen away"}
                             : Since{event->at, fmt::format("has to be taken after {}", event->title)};
  }
  for (const auto& id : demand.voided_by) {
    const auto* event = model::find_by_id(mission.events, id);
    if (event != nullptr && event->at <= gate.poll && event->at > since.when)
      since = {event->at, fmt::format("is void after {}", event->title)};
  }
  return since;
}

/// The largest single survey of the whole zone, or its named parts by weight, whichever is more. Percentages of
/// surveys are never added otherwise: nobody knows how they overlap.
double coverage_of(const model::Zone& zone, const std::vector<const model::SurveyRow*>& surveys) {
  double whole = 0;
  std::map<std::string, double> parts;
  for (const auto* survey : surveys) {
    double& best = survey->part.empty() ? whole : parts[survey->part];
    best = std::max(best, survey->coverage);
  }
  double by_parts = 0;
  for (const auto& [part, coverage] : parts) by_parts += zone.parts.at(part) * coverage;
  return std::max(whole, by_parts);
}

std::vector<Doubt> doubts_of(const model::Facts& facts, const std::string& zone) {
  std::vector<Doubt> doubts;
  for (const auto log : {model::Log::surveys, model::Log::findings, model::Log::clearances}) {
    for (auto& doubt : doubts_about(facts, log, zone)) doubts.push_back(std::move(doubt));
  }
  for (const auto& fact : facts.surveys) {
    if (fact.row.zone == zone) add_conflicts(fact, "survey " + fact.row.survey, doubts);
  }
  for (const auto& fact : facts.findings) {
    if (fact.row.zone == zone) add_conflicts(fact, "finding " + fact.row.finding, doubts);
  }
  for (const auto& fact : facts.clearances) {
    if (fact.row.zone == zone) add_conflicts(fact, "the clearance of the zone", doubts);
  }
  return doubts;
}

class ZoneJudge {
 public:
  ZoneJudge(const model::Gate& gate, const model::ZonesCriterion& demand, const Since& since, const model::Facts& facts,
            Instant cutoff, std::span<const model::Role> roles)
      : gate_(gate), demand_(demand), since_(since), facts_(facts), cutoff_(cutoff), roles_(roles) {}

  ZoneClearance judge(const model::Zone& zone) {
    ZoneClearance result;
    result.zone = &zone;
    result.doubts = doubts_of(facts_, zone.id);
    find_surveys(zone, result);
    find_statement(zone, result);
    const Instant last_evidence = find_last_evidence(zone, result);
    decide(result, last_evidence);
    if (!result.doubts.empty() && model::rank(result.verdict) > 0) {
      result.verdict = Verdict::no_data;
      result.reason = result.doubts.front().text;
    }
    return result;
  }

 private:
  static constexpr double hair = 1e-9;  // weights such as 0.3 + 0.7 need not add up to the last digit

  /// Until when a survey taken at `taken` is fresh.
  [[nodiscard]] Instant lapse_of(Instant taken) const {
    return demand_.max_age_hours ? taken + model::from_days(*demand_.max_age_hours / 24) : Instant::max();
  }

  void find_surveys(const model::Zone& zone, ZoneClearance& result) {
    for (const auto& fact : facts_.surveys) {
      const auto& row = fact.row;
      if (row.zone != zone.id || row.kind != demand_.survey_kind) continue;
      if (!row.received) {
        waiting_ = fmt::format("survey {} is not received yet", row.survey);
      } else if (!row.reviewed) {
        waiting_ = fmt::format("survey {} is not reviewed yet", row.survey);
      } else if (row.taken <= since_.when) {
        waiting_ = fmt::format("survey {} {}", row.survey, since_.because);
      } else {
        result.surveys.push_back(&row);
      }
    }
    // Where the surveys that are fresh at the poll cover the zone by themselves, older ones do not matter.
    std::vector<const model::SurveyRow*> fresh;
    std::copy_if(result.surveys.begin(), result.surveys.end(), std::back_inserter(fresh),
                 [&](const auto* survey) { return lapse_of(survey->taken) >= gate_.poll; });
    if (coverage_of(zone, fresh) >= demand_.coverage - hair) result.surveys = std::move(fresh);
    result.coverage = coverage_of(zone, result.surveys);
    for (const auto* survey : result.surveys) {
      if (!result.oldest_taken || survey->taken < *result.oldest_taken) result.oldest_taken = survey->taken;
    }
  }

  void find_statement(const model::Zone& zone, ZoneClearance& result) {
    for (const auto& fact : facts_.clearances) {
      const auto& row = fact.row;
      if (row.zone != zone.id || row.gate != gate_.id) continue;
      if (row.authority != demand_.authority)
        without_ = fmt::format("no statement of {}, one of {}", model::role_title(roles_, demand_.authority),
                               model::role_title(roles_, row.authority));
      if (row.authority == demand_.authority && row.effective > cutoff_)
        without_ = fmt::format("the statement holds only from {}", model::format_utc(row.effective));
      const bool bears_on_it = row.authority == demand_.authority && row.effective <= cutoff_;
      if (bears_on_it && (result.statement == nullptr || row.effective >= result.statement->effective))
        result.statement = &row;
    }
  }

  /// The last review of any survey of the zone, and the last word on any finding in it.
  Instant find_last_evidence(const model::Zone& zone, ZoneClearance& result) {
    Instant last = Instant::min();
    for (const auto& fact : facts_.surveys) {
      if (fact.row.zone == zone.id && fact.row.reviewed) last = std::max(last, *fact.row.reviewed);
    }
    std::map<std::string, const model::FindingRow*> newest;
    for (const auto& fact : facts_.findings) {
      if (fact.row.zone != zone.id) continue;
      last = std::max(last, fact.row.when);
      newest[fact.row.finding] = &fact.row;  // facts come in order of finding and time
    }
    for (const auto& [finding, row] : newest) {
      if (row->state != model::FindingState::closed) result.open_findings.push_back(row);
    }
    return last;
  }

  void decide(ZoneClearance& result, Instant last_evidence) {
    const auto say = [&](Verdict verdict, std::string reason) {
      result.verdict = verdict;
      result.reason = std::move(reason);
    };
    if (result.statement != nullptr && result.statement->state == model::ClearanceState::not_cleared) {
      return say(Verdict::not_ready, "the authority has said not cleared");
    }
    if (result.coverage < demand_.coverage - hair) {
      if (!waiting_.empty()) return say(Verdict::not_ready, waiting_);
      if (result.surveys.empty())
        return say(Verdict::no_data, fmt::format("no survey of kind {} counts", demand_.survey_kind));
      return say(Verdict::not_ready, fmt::format("covered {:g} of {:g} %", result.coverage, demand_.coverage));
    }
    if (result.oldest_taken) {
      const Instant lapses = lapse_of(*result.oldest_taken);
      if (lapses < cutoff_) return say(Verdict::no_data, "its survey is stale");
      if (lapses < gate_.poll) return say(Verdict::no_data, "fresh now, lapses before the poll");
    }
    if (result.statement == nullptr) return say(Verdict::no_data, without_);
    if (result.statement->effective <= last_evidence)
      return say(Verdict::no_data, "the statement is older than the last review or finding");
    if (result.statement->until && *result.statement->until < gate_.poll)
      return say(Verdict::no_data, "the statement ends before the poll");
    if (result.statement->state == model::ClearanceState::cleared_with_conditions) {
      return say(Verdict::ready_with_conditions, "on condition: " + result.statement->conditions);
    }
    say(Verdict::ready, "cleared by the authority");
  }

  const model::Gate& gate_;
  const model::ZonesCriterion& demand_;
  const Since& since_;
  const model::Facts& facts_;
  Instant cutoff_;
  std::span<const model::Role> roles_;
  std::string without_ = "no statement of the authority";  ///< why there is none that counts
  std::string waiting_;                                    ///< why a survey of the demanded kind does not count yet
};

}  // namespace

std::vector<ZoneClearance> judge_zones(const model::Mission& mission, const model::Gate& gate,
                                       const model::ZonesCriterion& demand, const model::Facts& facts, Instant cutoff,
                                       std::span<const model::Role> roles) {
  const Since since = counts_since(mission, gate, demand);
  std::vector<ZoneClearance> all;
  for (const auto& id : demand.zones) {
    all.push_back(ZoneJudge(gate, demand, since, facts, cutoff, roles).judge(*model::find_by_id(mission.zones, id)));
  }
  return all;
}

}  // namespace daywright::rules
