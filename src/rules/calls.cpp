#include "rules/calls.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <optional>
#include <set>

#include <fmt/format.h>

namespace daywright::rules {
namespace {

using model::Call;
using model::Cell;
using model::SignOffAct;

/// From the worst that can be said to the best.
constexpr std::array worst_first{Call::no_go, Call::abstain, Call::go_with_conditions, Call::go};

std::size_t place_of(Call call) {
  return static_cast<std::size_t>(std::find(worst_first.begin(), worst_first.end(), call) - worst_first.begin());
}

bool counts(const CheckedSignOff& record) { return record.void_because.empty() && record.overtaken_by.empty(); }

/// One gate while its records are gathered. Pointers lead into the records of the day.
struct Gathering {
  const PolledDay& day;
  const std::string& gate;
  std::vector<const CheckedSignOff*> all;       ///< of this gate, withdrawals too
  std::vector<const CheckedSignOff*> standing;  ///< not corrected or taken back
};

/// The record of `all` that corrects a record or takes it back, or null. What is void silences no NO-GO, unless
/// somebody with a signature that holds has corrected it in turn: no doubt ever makes a call better.
const CheckedSignOff* find_superseding(const CheckedSignOff& record, const std::vector<const CheckedSignOff*>& all) {
  std::set<std::int64_t> numbers{record.signoff.number};
  for (const auto* other : all) {
    if (!other->signoff.supersedes || !numbers.contains(*other->signoff.supersedes)) continue;
    if (other->void_because.empty() || record.signoff.call != Call::no_go) return other;
    numbers.insert(other->signoff.number);
  }
  return nullptr;
}

Gathering gather(const PolledDay& day, const std::string& gate, const std::vector<CheckedSignOff>& records) {
  Gathering found{day, gate, {}, {}};
  std::vector<model::SignOff> signoffs;
  for (const auto& record : records) {
    signoffs.push_back(record.signoff);
    if (record.signoff.gate == gate) found.all.push_back(&record);
  }
  const auto standing = model::standing(signoffs);
  for (const auto* record : found.all) {
    const bool stands = std::any_of(standing.begin(), standing.end(),
                                    [&](const auto* s) { return s->number == record->signoff.number; });
    const bool is_dissent = record->signoff.call == Call::no_go && find_superseding(*record, found.all) == nullptr;
    if (stands || is_dissent) found.standing.push_back(record);
  }
  return found;
}

/// The call of a role, or the decision of a chair; nothing where none counts. Of several the worst.
const CheckedSignOff* find_call(const Gathering& gate, const std::string& role, SignOffAct act) {
  const CheckedSignOff* found = nullptr;
  for (const auto* record : gate.standing) {
    const auto& signoff = record->signoff;
    if (signoff.act != act || signoff.signer.role != role || !counts(*record)) continue;
    if (found == nullptr || place_of(*signoff.call) < place_of(*found->signoff.call)) found = record;
  }
  return found;
}

std::string signed_words(const CheckedSignOff& record) {
  return std::string(model::words(*record.signoff.call)) + (record.signoff.signer.key.empty() ? ", UNSIGNED" : "");
}

/// "3 GO, 1 NO-GO, 1 not polled; chair: not decided", and whether that releases the gate.
void count_calls(const Gathering& gate, const model::GatePoll& poll, model::GateCalls& into) {
  std::array<int, worst_first.size()> number{};
  std::vector<std::string> missing;
  bool is_any_unsigned = false;
  for (const auto& role : poll.roles) {
    const auto* call = find_call(gate, role, SignOffAct::call);
    if (call == nullptr) {
      missing.push_back(model::role_title(gate.day.rules.roles, role));
      continue;
    }
    ++number.at(place_of(*call->signoff.call));
    is_any_unsigned = is_any_unsigned || call->signoff.signer.key.empty();
  }
  for (std::size_t i = worst_first.size(); i-- > 0;) {
    if (number.at(i) > 0) into.calls += fmt::format("{} {}, ", number.at(i), model::words(worst_first.at(i)));
  }
  into.calls += fmt::format("{} not polled", missing.size());
  for (std::size_t i = 0; i < missing.size(); ++i) into.calls += (i == 0 ? " (" : ", ") + missing[i];
  if (!missing.empty()) into.calls += ")";
  const auto* decision = find_call(gate, poll.chair, SignOffAct::decision);
  into.calls += "; chair: " + (decision == nullptr ? "not decided" : signed_words(*decision));

  std::string why_not;
  if (decision == nullptr) {
    why_not = "the chair has not decided";
  } else if (decision->signoff.call == Call::no_go) {
    why_not = "the chair has decided NO-GO";
  } else if (!missing.empty()) {
    why_not = "not every role has called";
  }
  is_any_unsigned = is_any_unsigned || (decision != nullptr && decision->signoff.signer.key.empty());
  into.release =
      why_not.empty() ? is_any_unsigned ? "RELEASED, in part UNSIGNED" : "RELEASED" : "NOT RELEASED: " + why_not;
}

std::string said(const model::SignOff& signoff) {
  if (signoff.act == SignOffAct::withdrawal) return fmt::format("withdraws {}", *signoff.supersedes);
  if (signoff.act == SignOffAct::acceptance) return "takes over";
  return (signoff.act == SignOffAct::decision ? "decides " : "") + std::string(model::words(*signoff.call));
}

std::string words_of(const model::SignOff& signoff, const model::Rulebook& rules) {
  std::string words = signoff.remark;
  for (const auto& condition : signoff.conditions)
    words += fmt::format("{}{} ({})", words.empty() ? "" : "; ", condition.text,
                         model::role_title(rules.roles, condition.owner));
  return words.empty() ? "-" : words;
}

std::string state_of(const Gathering& gate, const CheckedSignOff& record) {
  if (!record.void_because.empty()) return "VOID: the signature " + record.void_because;
  if (const auto* other = find_superseding(record, gate.all); other != nullptr)
    return fmt::format("{} by record {}", other->signoff.act == SignOffAct::withdrawal ? "taken back" : "corrected",
                       other->signoff.number);
  if (!record.overtaken_by.empty()) return "OVERTAKEN: " + record.overtaken_by;
  return "stands";
}

/// Every record of the gate: dissent that stands first, then the rest, each in its order.
model::Table list_records(const Gathering& gate) {
  model::Table table{"records",
                     "Records",
                     {{"number", "Record", "", true, true},
                      {"role", "Role", "", false, true},
                      {"call", "Says", "", false, true},
                      {"words", "Remark, conditions", "", false, true},
                      {"state", "State", "", false, true},
                      {"name", "Name", "", false, true},
                      {"signer", "Signer", "", false, true},
                      {"key", "Key", "", false, true},
                      {"when", "Signed, UTC", "", false, true}},
                     {},
                     0};
  auto order = gate.all;
  const auto is_dissent = [&](const CheckedSignOff* record) {
    const bool stands = std::find(gate.standing.begin(), gate.standing.end(), record) != gate.standing.end();
    return stands && record->signoff.call == Call::no_go;
  };
  std::stable_partition(order.begin(), order.end(), is_dissent);
  for (const auto* record : order) {
    const auto& signoff = record->signoff;
    std::string name = signoff.signer.name;
    if (model::mixes_alphabets(name)) name += " (mixes alphabets)";
    for (const auto* other : gate.all) {
      if (other->signoff.signer.principal != signoff.signer.principal &&
          model::look_alike(other->signoff.signer.name, signoff.signer.name))
        name += fmt::format(" (looks like the name of record {}, another signer)", other->signoff.number);
    }
    table.rows.push_back({Cell::say(fmt::format("{}", signoff.number)),
                          Cell::say(model::role_title(gate.day.rules.roles, signoff.signer.role)),
                          Cell::say(said(signoff)), Cell::say(words_of(signoff, gate.day.rules)),
                          Cell::say(state_of(gate, *record)), Cell::say(name), Cell::say(signoff.signer.principal),
                          Cell::say(signoff.signer.key.empty() ? "UNSIGNED" : signoff.signer.key),
                          Cell::say(model::format_utc(signoff.signed_at))});
  }
  return table;
}

}  // namespace

model::CallSheet compute_calls(const PolledDay& day, const std::vector<CheckedSignOff>& records) {
  // Who takes over calls nothing: what is said of the handover never counts for a gate.
  std::vector<CheckedSignOff> calls_made;
  std::vector<CheckedSignOff> handovers;
  for (const auto& record : records) (model::is_of_handover(record.signoff) ? handovers : calls_made).push_back(record);
  const auto text_of = [&](const std::string& id) {
    const auto* figure = day.status.find(id);
    return figure == nullptr ? std::string() : figure->text;
  };
  model::CallSheet sheet;
  sheet.heading = fmt::format("{}, {} {}, revision {}", text_of("mission.name"), text_of("words.day"),
                              text_of("now.flight_day"), text_of("brief.revision"));
  sheet.log = day.log;
  for (const auto& gate : day.mission.gates) {
    const auto* poll = model::find_poll(day.rules, gate.id);
    const Gathering gathered = gather(day, gate.id, calls_made);
    if (gathered.all.empty() && (poll == nullptr || gate.poll <= day.cutoff)) continue;
    model::GateCalls calls{gate.id, gate.title, text_of("gate." + gate.id + ".verdict"),
                           "",      "",         list_records(gathered)};
    if (poll != nullptr) {
      count_calls(gathered, *poll, calls);
    } else {
      calls.calls = "nobody is polled";
      calls.release = "NOT RELEASED: rules.toml polls nobody";
    }
    sheet.gates.push_back(std::move(calls));
  }
  const std::string no_gate;
  const Gathering whole = gather(day, no_gate, calls_made);
  if (!whole.all.empty()) sheet.gates.push_back({"", "The brief as a whole", "", "", "", list_records(whole)});
  const Gathering handover = gather(day, no_gate, handovers);
  if (!handover.all.empty()) sheet.gates.push_back({"", "Handover", "", "", "", list_records(handover)});
  return sheet;
}

}  // namespace daywright::rules
