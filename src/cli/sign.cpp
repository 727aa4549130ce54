#include "cli/sign.h"

#include <algorithm>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>

#include "cli/outputs.h"
#include "cli/recording.h"
#include "cli/session.h"
#include "cli/signed_outputs.h"
#include "model/printable.h"
#include "model/suggest.h"

namespace daywright::cli {
namespace {

using model::SignOff;
using model::SignOffAct;

std::string text_of_figure(const model::DayStatus& status, const std::string& id) {
  const auto* figure = status.find(id);
  return figure == nullptr ? "" : model::printable(with_unit(*figure));
}

std::string calls_words(const SignRequest& request) {
  std::string words{model::words(*request.call)};
  for (std::size_t i = 0; i < request.conditions.size(); ++i)
    words += fmt::format("{} \"{}\" (owner {})", i == 0 ? " on the condition" : " and", request.conditions[i].text,
                         request.conditions[i].owner);
  return words;
}

/// The role of the request, where the signer may fill it; otherwise why not.
std::string fault_of_role(const SignRequest& request, const model::Rulebook& rules) {
  std::vector<std::string> known;
  for (const auto& role : rules.roles) known.push_back(role.id);
  const auto* role = model::find_by_id(rules.roles, request.role);
  if (role == nullptr)
    return fmt::format("there is no role '{}'{}", model::printable(request.role),
                       model::did_you_mean(request.role, known));
  const auto& may = role->principals;
  if (std::find(may.begin(), may.end(), request.principal) == may.end())
    return fmt::format("'{}' may not sign as '{}': rules.toml does not name them there", request.principal, role->id);
  for (const auto& condition : request.conditions) {
    if (model::find_by_id(rules.roles, condition.owner) == nullptr)
      return fmt::format("there is no role '{}' to own a condition{}", model::printable(condition.owner),
                         model::did_you_mean(condition.owner, known));
  }
  return {};
}

std::string fault_of_gate(const SignRequest& request, const model::Mission& mission, const model::Rulebook& rules) {
  if (request.gate.empty()) return {};
  std::vector<std::string> known;
  for (const auto& gate : mission.gates) known.push_back(gate.id);
  if (model::find_by_id(mission.gates, request.gate) == nullptr)
    return fmt::format("there is no gate '{}'{}", model::printable(request.gate),
                       model::did_you_mean(request.gate, known));
  const auto* poll = find_poll(rules, request.gate);
  if (poll == nullptr)
    return fmt::format("rules.toml has no [[gate_call]] for '{}', so nobody is polled", request.gate);
  if (request.is_decision && poll->chair != request.role)
    return fmt::format("'{}' does not chair '{}': '{}' does", request.role, request.gate, poll->chair);
  const bool is_polled = std::find(poll->roles.begin(), poll->roles.end(), request.role) != poll->roles.end();
  if (!request.is_decision && !is_polled)
    return fmt::format("'{}' is not polled for '{}'{}", request.role, request.gate,
                       poll->chair == request.role ? "; --decide records the decision of the chair" : "");
  return {};
}

/// What any record about a day says: what it covers, what was computed, who signs.
SignOff seen_by_signer(const SignRequest& request, const model::Mission& mission, const SignedBrief& brief) {
  const auto& status = *brief.status;
  SignOff signoff;
  signoff.day = brief.day;
  if (const auto* revision = status.find("brief.revision"); revision != nullptr)
    signoff.revision = static_cast<std::int64_t>(std::get<double>(revision->value));
  signoff.subjects = brief.files;
  signoff.verdicts = seen_verdicts(mission, status);
  signoff.limiting = limiting_words(status);
  signoff.remark = request.remark;
  signoff.signer = {request.principal, request.name, request.role, ""};
  return signoff;
}

std::string unsigned_words(std::int64_t number) {
  return fmt::format("record {} is signed, and only a signed record corrects it or takes it back: give --key", number);
}

/// "Mara Velden, EVA lead,": who says it.
std::string signer_words(const SignRequest& request, const model::Rulebook& rules) {
  return fmt::format("{}, {},", request.name, model::printable(model::role_title(rules.roles, request.role)));
}

/// "revision 1 of the brief of FD 8 of Petrel 3": what it is said on.
std::string brief_words(const SignOff& signoff, const model::Mission& mission, const model::DayStatus& status) {
  return fmt::format("revision {} of the brief of {} {} of {}", signoff.revision, model::printable(mission.words.day),
                     signoff.day, text_of_figure(status, "mission.name"));
}

}  // namespace

std::variant<SignOff, std::string> compose_signoff(const SignRequest& request, const model::Mission& mission,
                                                   const model::Rulebook& rules, const SignedBrief& brief) {
  if (auto fault = fault_of_role(request, rules); !fault.empty()) return fault;
  if (auto fault = fault_of_gate(request, mission, rules); !fault.empty()) return fault;
  SignOff signoff = seen_by_signer(request, mission, brief);
  signoff.act = request.is_decision ? SignOffAct::decision : SignOffAct::call;
  signoff.call = request.call;
  signoff.gate = request.gate;
  signoff.conditions = request.conditions;
  const auto* gate = model::find_by_id(mission.gates, request.gate);
  signoff.statement =
      fmt::format("{} {} {} for {}, on {}.", signer_words(request, rules), request.is_decision ? "decides" : "calls",
                  calls_words(request), gate == nullptr ? "the brief as a whole" : model::printable(gate->title),
                  brief_words(signoff, mission, *brief.status));
  return signoff;
}

std::variant<SignOff, std::string> compose_acceptance(const SignRequest& request, const model::Mission& mission,
                                                      const model::Rulebook& rules, const SignedBrief& page) {
  if (auto fault = fault_of_role(request, rules); !fault.empty()) return fault;
  SignOff signoff = seen_by_signer(request, mission, page);
  signoff.act = SignOffAct::acceptance;
  signoff.statement = fmt::format("{} takes over on {}, having read the handover.", signer_words(request, rules),
                                  brief_words(signoff, mission, *page.status));
  return signoff;
}

std::variant<SignOff, std::string> compose_withdrawal(const SignRequest& request, const std::vector<SignOff>& records) {
  const auto standing = model::standing(records);
  const auto old = std::find_if(standing.begin(), standing.end(),
                                [&](const auto* record) { return record->number == *request.withdraws; });
  if (old == standing.end())
    return fmt::format("record {} is not there, is a withdrawal, or was corrected or taken back", *request.withdraws);
  SignOff signoff = **old;
  if (signoff.signer.principal != request.principal)
    return fmt::format("record {} is of {}, and nobody takes back what another has said", *request.withdraws,
                       signoff.signer.principal);
  if (request.role != signoff.signer.role)
    return fmt::format("record {} was signed as '{}'", *request.withdraws, signoff.signer.role);
  if (!signoff.signer.key.empty() && !request.key) return unsigned_words(*request.withdraws);
  signoff.act = SignOffAct::withdrawal;
  signoff.call = std::nullopt;
  signoff.conditions.clear();
  signoff.remark = request.remark;
  signoff.supersedes = request.withdraws;
  signoff.signer = {request.principal, request.name, request.role, ""};
  signoff.statement = fmt::format("{} takes back record {}: {}", request.name, *request.withdraws, request.remark);
  return signoff;
}

Standing find_standing(const SignOff& signoff, const std::vector<SignOff>& records, const model::Rulebook& rules) {
  Standing found;
  const auto* poll = find_poll(rules, signoff.gate);
  for (const auto* record : model::standing(records)) {
    const bool is_about_the_same = record->day == signoff.day && record->gate == signoff.gate;
    if (!is_about_the_same || record->signer.principal != signoff.signer.principal) continue;
    if (record->signer.role != signoff.signer.role) {
      if (poll != nullptr && !poll->allows_two_roles)
        found.refusal = fmt::format("'{}' has signed for '{}' as '{}' already (record {}), and one person has one role",
                                    signoff.signer.principal, signoff.gate, record->signer.role, record->number);
      continue;
    }
    if (record->act != signoff.act) continue;
    const auto& key = signoff.signer.key;
    const bool proves_as_much = key.empty() || record->signer.key == key;
    const bool says_the_same = record->call == signoff.call && record->subjects == signoff.subjects &&
                               record->conditions == signoff.conditions && record->remark == signoff.remark;
    if (says_the_same && proves_as_much) {
      found.same_as = record->number;
    } else if (model::can_supersede(signoff, *record)) {
      found.supersedes = record->number;
    } else {
      found.refusal = unsigned_words(record->number);
    }
  }
  return found;
}

std::vector<std::string> changes_since(const SignOff& last, const SignOff& now) {
  std::vector<std::string> changes;
  if (last.day != now.day || last.revision != now.revision)
    changes.push_back(
        fmt::format("day {} revision {} is now day {} revision {}", last.day, last.revision, now.day, now.revision));
  for (const auto& seen : now.verdicts) {
    const auto old = std::find_if(last.verdicts.begin(), last.verdicts.end(),
                                  [&](const auto& verdict) { return verdict.gate == seen.gate; });
    if (old == last.verdicts.end()) {
      changes.push_back(fmt::format("{} is new: {}", seen.gate, seen.verdict));
    } else if (old->verdict != seen.verdict) {
      changes.push_back(fmt::format("{} was {} and is {}", seen.gate, old->verdict, seen.verdict));
    }
  }
  if (last.limiting != now.limiting)
    changes.push_back(fmt::format("limiting was {} and is {}", last.limiting, now.limiting));
  std::string files;
  for (const auto& file : now.subjects) {
    if (std::find(last.subjects.begin(), last.subjects.end(), file) == last.subjects.end())
      files += (files.empty() ? "" : ", ") + file.path;
  }
  if (!files.empty()) changes.push_back("other bytes: " + files);
  return changes;
}

ExitCode run_sign(const Command& command) {
  const SignRequest& request = command.sign;
  const auto [session, outputs, why_none] = run_as_brief(command);
  const RunResult& result = session.result;
  if (!result.status) {
    report_faults(command, session);
    return ExitCode::nothing_changed;
  }
  const auto records = read_sound_records(command);
  SignOff signoff;
  std::string brief;
  if (request.withdraws) {
    signoff = composed(compose_withdrawal(request, records));
  } else {
    if (!outputs) throw std::runtime_error(why_none);
    (void)require_current(*outputs, session, command);
    brief = outputs->text(brief_file);
    signoff = composed(compose_signoff(request, result.inputs.mission, result.inputs.rules,
                                       {result.day, outputs->digests(), &*result.status}));
  }
  return record_signoff(command, session, std::move(signoff), brief, records);
}

}  // namespace daywright::cli
