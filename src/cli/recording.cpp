#include "cli/recording.h"

#include <algorithm>
#include <cstdint>
#include <optional>
#include <stdexcept>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "cli/clock.h"
#include "cli/sign.h"
#include "cli/signed_outputs.h"
#include "cli/terminal.h"
#include "model/printable.h"
#include "record/output_folder.h"
#include "record/signoff_log.h"
#include "record/ssh_signature.h"
#include "write/summary.h"
#include "write/wrapped.h"

namespace daywright::cli {
namespace {

using model::SignOff;
using model::SignOffAct;

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

void show(const SignOff& signoff, const std::string& page, const std::vector<SignOff>& records) {
  const auto terminal = read_terminal();
  std::string text;
  const auto say = [&](const std::string& line, const char* head) {
    text += write::wrapped(line, terminal.width, head);
  };
  std::size_t number = 0;
  for (const auto& line : write::five_lines_of(page)) say(line, fmt::format("{}. ", ++number).c_str());
  text += "\n";
  std::string verdicts;
  for (const auto& seen : signoff.verdicts) {
    if (signoff.gate.empty() || signoff.gate == seen.gate)
      verdicts += fmt::format("{}{} {}", verdicts.empty() ? "" : ", ", seen.gate, seen.verdict);
  }
  say(fmt::format("Computed: {}. Limiting: {}.", verdicts, signoff.limiting), "");
  const auto last = std::find_if(records.rbegin(), records.rend(), [&](const auto& record) {
    return record.signer.principal == signoff.signer.principal &&
           model::is_of_handover(record) == model::is_of_handover(signoff);
  });
  if (last == records.rend()) {
    say(fmt::format("{} has not {} in this mission before.", signoff.signer.principal,
                    model::is_of_handover(signoff) ? "taken over" : "signed"),
        "");
  } else {
    std::string since = fmt::format("Since {} last {} (record {}, day {}):", signoff.signer.principal,
                                    model::is_of_handover(signoff) ? "took over" : "signed", last->number, last->day);
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

/// Appends the record, signed where a key is given, and says where it is. False: one says just this already.
bool append(const Command& command, const SignOff& wanted, const model::Rulebook& rules) {
  const SignRequest& request = command.sign;
  std::int64_t same_as = 0;
  const auto compose = [&](const record::SignOffLog& log) -> std::optional<SignOff> {
    SignOff signoff = wanted;
    const auto records = log.signoffs();
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
    print(fmt::format("already {}: record {} says just this\n",
                      wanted.act == SignOffAct::acceptance ? "accepted" : "signed", same_as));
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

SignOff composed(std::variant<SignOff, std::string> made) {
  if (auto* refusal = std::get_if<std::string>(&made)) throw std::runtime_error(*refusal);
  return std::move(std::get<SignOff>(made));
}

std::vector<SignOff> read_sound_records(const Command& command) {
  return record::read_sound_signoffs(command.folder).signoffs();
}

ExitCode record_signoff(const Command& command, const Session& session, SignOff signoff, const std::string& page,
                        const std::vector<SignOff>& records) {
  const RunResult& result = session.result;
  if (command.sign.key) signoff.signer.key = record::read_fingerprint(*command.sign.key);
  signoff.program = DAYWRIGHT_VERSION;
  if (signoff.act != SignOffAct::withdrawal) {
    const Standing standing = find_standing(signoff, records, result.inputs.rules);
    if (!standing.refusal.empty()) throw std::runtime_error(standing.refusal);
  }
  show(signoff, page, records);
  if (signoff.signer.key.empty())
    complain("daywright: UNSIGNED: nothing proves who made this record; anybody who can write here could have\n");
  if (!is_confirmed(command.sign)) {
    complain("daywright: nothing was recorded\n");
    return ExitCode::nothing_changed;
  }
  return append(command, signoff, result.inputs.rules) ? end_of(result, "the brief says what rests on them")
                                                       : ExitCode::done;
}

}  // namespace daywright::cli
