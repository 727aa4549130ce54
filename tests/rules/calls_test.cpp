// What calls make of a gate, and what does not count for it.
#include "rules/calls.h"

#include <string>
#include <vector>

#include "builders.h"

using namespace daywright;
using namespace daywright::test;
using model::Call;
using model::SignOff;
using model::SignOffAct;

namespace {

/// The gate 'entry', for which the systems desk calls and the lead decides.
struct Poll : EveningScene {
  Poll() : EveningScene(day(3)) {
    rules.roles = {{"lead", "Lead", {}}, {"systems", "Systems", {}}};
    rules.polls = {{"entry", {"systems"}, "lead", false, {}}};
  }
  [[nodiscard]] model::CallSheet sheet(const std::vector<SignOff>& records) const {
    std::vector<rules::CheckedSignOff> checked;
    for (const auto& record : records) checked.push_back({record, "", ""});
    const auto status_now = status();
    return rules::compute_calls({mission, rules, status_now, cutoff, ""}, checked);
  }
};

SignOff make_record(std::int64_t number, SignOffAct act, const std::string& role) {
  SignOff record;
  record.number = number;
  record.act = act;
  record.signer = {role + "@x", role, role, "key"};
  record.subjects = {{"brief.md", 1, "a"}, {"status.json", 1, "b"}};
  if (act == SignOffAct::call || act == SignOffAct::decision) {
    record.call = Call::go;
    record.gate = "entry";
  } else {
    record.subjects = {{"handover.md", 1, "c"}};
  }
  return record;
}

}  // namespace

TEST_CASE("a gate is released when all have called and the chair has decided") {
  const auto call = make_record(1, SignOffAct::call, "systems");
  const auto decision = make_record(2, SignOffAct::decision, "lead");
  CHECK(Poll().sheet({call}).gates.front().release == "NOT RELEASED: the chair has not decided");
  CHECK(Poll().sheet({call, decision}).gates.front().release == "RELEASED");
}

TEST_CASE("who takes over has neither called nor decided, and is listed apart") {
  const auto sheet =
      Poll().sheet({make_record(1, SignOffAct::acceptance, "systems"), make_record(2, SignOffAct::acceptance, "lead")});
  REQUIRE(sheet.gates.size() == 2);
  CHECK(sheet.gates[0].calls == "1 not polled (Systems); chair: not decided");
  CHECK(sheet.gates[0].release == "NOT RELEASED: the chair has not decided");
  CHECK(sheet.gates[0].records.rows.empty());
  CHECK(sheet.gates[1].title == "Handover");
  CHECK(sheet.gates[1].release.empty());
  REQUIRE(sheet.gates[1].records.rows.size() == 2);
  CHECK(sheet.gates[1].records.rows[0][2].words == "takes over");
}

TEST_CASE("taking an acceptance back is listed with it") {
  auto withdrawal = make_record(2, SignOffAct::withdrawal, "lead");
  withdrawal.supersedes = 1;
  const auto sheet = Poll().sheet({make_record(1, SignOffAct::acceptance, "lead"), withdrawal});
  REQUIRE(sheet.gates.size() == 2);
  REQUIRE(sheet.gates[1].records.rows.size() == 2);
  CHECK(sheet.gates[1].records.rows[0][4].words == "taken back by record 2");
  CHECK(sheet.gates[1].records.rows[1][2].words == "withdraws 1");
}

TEST_CASE("a record that is void silences no NO-GO, and makes no call count that it supersedes") {
  const auto checked = [](std::int64_t number, Call call, std::int64_t supersedes, const char* void_because) {
    auto record = make_record(number, SignOffAct::call, "systems");
    record.call = call;
    if (supersedes != 0) record.supersedes = supersedes;
    return rules::CheckedSignOff{record, void_because, ""};
  };
  const auto calls = [](const std::vector<rules::CheckedSignOff>& records) {
    const Poll poll;
    const auto status_now = poll.status();
    return rules::compute_calls({poll.mission, poll.rules, status_now, poll.cutoff, ""}, records).gates.front();
  };
  const auto no_go = checked(1, Call::no_go, 0, "");
  const auto forged = checked(2, Call::go, 1, "is not theirs");
  const auto dissent = calls({no_go, forged});
  CHECK(dissent.calls == "1 NO-GO, 0 not polled; chair: not decided");
  CHECK(dissent.records.rows[0][4].words == "stands");
  CHECK(dissent.records.rows[1][4].words == "VOID: the signature is not theirs");
  CHECK(calls({checked(1, Call::go, 0, ""), checked(2, Call::no_go, 1, "is not theirs")}).calls ==
        "1 not polled (Systems); chair: not decided");
  const auto corrected = calls({no_go, forged, checked(3, Call::go, 2, "")});
  CHECK(corrected.calls == "1 GO, 0 not polled; chair: not decided");
  CHECK(corrected.records.rows[0][4].words == "corrected by record 3");
  auto withdrawal = make_record(2, SignOffAct::withdrawal, "systems");
  withdrawal.subjects = no_go.signoff.subjects;
  withdrawal.gate = "entry";
  withdrawal.supersedes = 1;
  CHECK(calls({no_go, {withdrawal, "is not theirs", ""}}).calls == "1 NO-GO, 0 not polled; chair: not decided");
  CHECK(calls({no_go, {withdrawal, "", ""}}).calls == "1 not polled (Systems); chair: not decided");
}
