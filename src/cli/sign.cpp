#include "cli/sign.h"

#include <algorithm>
#include <cassert>
#include <stdexcept>
#include <system_error>

#include <fmt/format.h>

#include "cli/clock.h"
#include "cli/outputs.h"
#include "cli/session.h"
#include "cli/signed_outputs.h"
#include "cli/terminal.h"
#include "model/printable.h"
#include "model/suggest.h"
#include "record/output_folder.h"
#include "record/signoff_log.h"
#include "record/ssh_signature.h"
#include "write/summary.h"
#include "write/wrapped.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;
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

std::vector<SignOff> records_of(const record::SignOffLog& log) {
  std::vector<SignOff> records;
  for (const auto& stored : log.records) records.push_back(stored.signoff);
  return records;
}

/// Signers of records whom a reader may take for this one.
std::vector<model::Signer> others_that_look_like(const model::Signer& signer, const std::vector<SignOff>& records) {
  std::vector<model::Signer> others;
  for (const auto& record : records) {
    const auto& other = record.signer;
    const bool is_listed = std::any_of(others.begin(), others.end(), [&](const auto& o) {
      return o.principal == other.principal && o.name == other.name;
    });
    const bool looks_alike =
        model::look_alike(other.name, signer.name) || model::look_alike(other.principal, signer.principal);
    if (other.principal != signer.principal && !is_listed && looks_alike) others.push_back(other);
  }
  return others;
}

void show(const SignOff& signoff, const std::string& brief, const std::vector<SignOff>& records) {
  const auto terminal = read_terminal();
  std::string text;
  const auto say = [&](const std::string& line, const char* head) {
    text += write::wrapped(line, terminal.width, head);
  };
  std::size_t number = 0;
  for (const auto& line : write::five_lines_of(brief)) say(line, fmt::format("{}. ", ++number).c_str());
  text += "\n";
  std::string verdicts;
  for (const auto& seen : signoff.verdicts) {
    if (signoff.gate.empty() || signoff.gate == seen.gate)
      verdicts += fmt::format("{}{} {}", verdicts.empty() ? "" : ", ", seen.gate, seen.verdict);
  }
  say(fmt::format("Computed: {}. Limiting: {}.", verdicts, signoff.limiting), "");
  const auto last = std::find_if(records.rbegin(), records.rend(), [&](const auto& record) {
    return record.signer.principal == signoff.signer.principal;
  });
  if (last == records.rend()) {
    say(fmt::format("{} has not signed in this mission before.", signoff.signer.principal), "");
  } else {
    std::string since =
        fmt::format("Since {} last signed (record {}, day {}):", signoff.signer.principal, last->number, last->day);
    const auto changes = changes_since(*last, signoff);
    for (const auto& change : changes) since += " " + change + ".";
    say(changes.empty() ? since + " nothing that is signed has changed." : since, "");
  }
  if (model::mixes_alphabets(signoff.signer.name))
    say("CAUTION: this name mixes letters of several alphabets and may look like another name.", "");
  for (const auto& other : others_that_look_like(signoff.signer, records))
    say(fmt::format("CAUTION: this signer looks like {} ({}), who has signed too.", other.name, other.principal), "");
  say(fmt::format("Signer: {} ({}, {}).", signoff.signer.name, signoff.signer.principal,
                  signoff.signer.key.empty() ? "UNSIGNED" : "key " + signoff.signer.key),
      "");
  say(signoff.statement, "To be recorded: ");
  print(text);
}

/// Asks on a terminal, unless --yes has answered. False: no.
bool is_confirmed(const SignRequest& request) {
  if (request.is_confirmed) return true;
  if (!can_ask())
    throw std::runtime_error("there is no terminal to ask on; --yes says that what stands above was read");
  return ask("Record this? Type yes: ") == "yes";
}

SignOff composed(std::variant<SignOff, std::string> made) {
  if (auto* refusal = std::get_if<std::string>(&made)) throw std::runtime_error(*refusal);
  return std::move(std::get<SignOff>(made));
}

/// Appends the record, signed where a key is given, and says where it is. False: one says just this already.
bool append(const Command& command, const SignOff& wanted, const model::Rulebook& rules) {
  const SignRequest& request = command.sign;
  std::int64_t same_as = 0;
  const auto compose = [&](const record::SignOffLog& log) -> std::optional<SignOff> {
    SignOff signoff = wanted;
    const auto records = records_of(log);
    if (signoff.act == SignOffAct::withdrawal) {
      (void)composed(compose_withdrawal(request, records));  // somebody may have been quicker
    } else {
      const Standing standing = find_standing(signoff, records, rules);
      if (!standing.refusal.empty()) throw std::runtime_error(standing.refusal);
      same_as = standing.same_as.value_or(0);
      if (standing.same_as) return std::nullopt;
      signoff.supersedes = standing.supersedes;
    }
    signoff.signed_at = read_clock();
    return signoff;
  };
  const auto sign = [&](const std::string& bytes) -> std::string {
    if (!request.key) return {};
    std::string signature = record::sign_with_ssh(*request.key, bytes);
    const auto fault =
        record::fault_of_signature(bytes, signature, {wanted.signer.principal, wanted.signer.key, read_clock()},
                                   record::read_trust_list(command.folder));
    if (!fault.empty()) throw std::runtime_error(fmt::format("the signature {}", fault));
    return signature;
  };
  const auto stored = record::append_signoff(command.folder, compose, sign);
  if (!stored) {
    print(fmt::format("already signed: record {} says just this\n", same_as));
    return false;
  }
  try {
    print(fmt::format("record {}{}: {}, SHA-256 {}\n", stored->signoff.number,
                      stored->signature.empty() ? " (UNSIGNED)" : "",
                      (command.folder / record::place_of_record(stored->signoff.number)).string(), stored->digest));
  } catch (const std::system_error& error) {
    throw record::InDoubt(fmt::format("record {} is there, but {}", stored->signoff.number, error.what()));
  }
  if (!stored->signoff.is_after_previous)
    complain("daywright: the clock was set back: this record is dated before the one that it follows\n");
  return true;
}

}  // namespace

std::variant<SignOff, std::string> compose_signoff(const SignRequest& request, const model::Mission& mission,
                                                   const model::Rulebook& rules, const SignedBrief& brief) {
  if (auto fault = fault_of_role(request, rules); !fault.empty()) return fault;
  if (auto fault = fault_of_gate(request, mission, rules); !fault.empty()) return fault;
  const auto& status = *brief.status;
  SignOff signoff;
  signoff.act = request.is_decision ? SignOffAct::decision : SignOffAct::call;
  signoff.call = request.call;
  signoff.day = brief.day;
  if (const auto* revision = status.find("brief.revision"); revision != nullptr)
    signoff.revision = static_cast<std::int64_t>(std::get<double>(revision->value));
  signoff.gate = request.gate;
  signoff.subjects = brief.files;
  signoff.verdicts = seen_verdicts(mission, status);
  signoff.limiting = limiting_words(status);
  signoff.remark = request.remark;
  signoff.conditions = request.conditions;
  signoff.signer = {request.principal, request.name, request.role, ""};
  const auto* gate = model::find_by_id(mission.gates, request.gate);
  signoff.statement = fmt::format(
      "{}, {}, {} {} for {}, on revision {} of the brief of {} {} of {}.", request.name,
      model::printable(model::role_title(rules.roles, request.role)), request.is_decision ? "decides" : "calls",
      calls_words(request), gate == nullptr ? "the brief as a whole" : model::printable(gate->title), signoff.revision,
      model::printable(mission.words.day), brief.day, text_of_figure(status, "mission.name"));
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
    const bool says_the_same = record->call == signoff.call && record->subjects == signoff.subjects &&
                               record->conditions == signoff.conditions && record->remark == signoff.remark;
    (says_the_same ? found.same_as : found.supersedes) = record->number;
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
  MissionFiles files = read_mission(command.folder);
  // What is signed was made when the archive held what it says, whatever it holds by now.
  std::optional<BriefOnDisk> outputs;
  if (!request.withdraws) outputs.emplace(day_folder(command, day_of(command, files)));
  const Session session = run_files(command, std::move(files), outputs ? outputs->filed() : model::Filed{});
  const RunResult& result = session.result;
  if (!result.status) {
    report_faults(command, session);
    return ExitCode::nothing_changed;
  }
  const auto records = records_of(record::read_sound_signoffs(command.folder));
  SignOff signoff;
  std::string brief;
  if (request.withdraws) {
    signoff = composed(compose_withdrawal(request, records));
  } else {
    require_current(*outputs, session);
    brief = outputs->text(brief_file);
    signoff = composed(compose_signoff(request, result.inputs.mission, result.inputs.rules,
                                       {result.day, outputs->digests(), &*result.status}));
    const Standing standing = find_standing(signoff, records, result.inputs.rules);
    if (!standing.refusal.empty()) throw std::runtime_error(standing.refusal);
  }
  if (request.key) signoff.signer.key = record::read_fingerprint(*request.key);
  signoff.program = DAYWRIGHT_VERSION;
  show(signoff, brief, records);
  if (signoff.signer.key.empty())
    complain("daywright: UNSIGNED: nothing proves who made this record; anybody who can write here could have\n");
  if (!is_confirmed(request)) {
    complain("daywright: nothing was recorded\n");
    return ExitCode::nothing_changed;
  }
  if (!append(command, signoff, result.inputs.rules) || !result.has_faults()) return ExitCode::done;
  complain(fmt::format("daywright: the inputs have faults ({}); the brief says what rests on them\n",
                       count_of_faults(result.diagnostics)));
  return ExitCode::done_with_faults;
}

}  // namespace daywright::cli
