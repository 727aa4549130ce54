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
