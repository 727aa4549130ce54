#include "record/signoff.h"

#include <functional>
#include <string>
#include <vector>

#include "catch_compat.h"
#include "record/builders.h"

using daywright::model::Call;
using daywright::model::SignOff;
using daywright::model::SignOffAct;
using daywright::record::parse_signoff;
using daywright::record::render_signoff;
using daywright::test::go;
using namespace std::string_literals;

namespace {

SignOff full() {
  SignOff signoff = go();
  signoff.number = 12;
  signoff.previous = std::string(64, 'a');
  signoff.act = SignOffAct::decision;
  signoff.call = Call::go_with_conditions;
  signoff.conditions = {{"recount the water", "stowage"}, {"close the hatch log", "eva_lead"}};
  signoff.remark = "after the recount; {\"call\":\"GO\"} | <b>";
  signoff.supersedes = 7;
  signoff.signer.name = "Zo\u00eb \u00c5s";
  signoff.signer.key = "SHA256:" + std::string(43, 'x');
  signoff.is_after_previous = false;
  signoff.revision = 2;
  return signoff;
}

std::string fault_of(const std::function<void(SignOff&)>& change) {
  SignOff signoff = full();
  change(signoff);
  const auto parsed = parse_signoff(render_signoff(signoff));
  const auto* fault = std::get_if<std::string>(&parsed);
  return fault == nullptr ? "" : *fault;
}

}  // namespace

TEST_CASE("a record is one line of canonical JSON that tells who said what about which bytes") {
  CHECK(
      render_signoff(go()) ==
      R"({"act":"call","call":"GO","clock":{"after_previous":true,"source":"system clock, not attested"},)"
      R"("conditions":[],"day":8,"gate":"eva_3","limiting":"Water 2.1 d","number":1,"previous":")" +
          std::string(64, '0') +
          R"(","program":"0.1.0","remark":"","revision":1,"schema":"daywright sign-off 1",)"
          R"("signed_at":"2031-05-13T22:00:00Z","signer":{"key":null,"name":"Mara Velden",)"
          R"("principal":"mara@petrel.example","role":"eva_lead"},)"
          R"("statement":"Mara Velden, EVA lead, calls GO for EVA 3.","subjects":[{"path":"brief.md","sha256":)"
          R"("29a8825bd242f14386ee528d76e0e8f1e38f3c8c4047d7b2d6df7493368a17d0","size":5},{"path":"status.json",)"
          R"("sha256":"44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a","size":2}],)"
          R"("supersedes":null,"verdicts":[{"gate":"eva_3","verdict":"READY"},{"gate":"entry","verdict":"NO DATA"}]})");
}

TEST_CASE("a record is read as it was written") {
  SignOff withdrawal = full();
  withdrawal.act = SignOffAct::withdrawal;
  withdrawal.call = std::nullopt;
  withdrawal.conditions.clear();
  withdrawal.gate = "";
  for (const auto& signoff : {go(), full(), withdrawal}) {
    const auto parsed = parse_signoff(render_signoff(signoff));
    REQUIRE(std::holds_alternative<SignOff>(parsed));
    CHECK(std::get<SignOff>(parsed) == signoff);
  }
}

TEST_CASE("taking over is a record without a call or a gate, about one page") {
  SignOff acceptance = go();
  acceptance.act = SignOffAct::acceptance;
  acceptance.call = std::nullopt;
  acceptance.gate = "";
  acceptance.subjects = {{"handover.md", 4, std::string(64, 'b')}};
  const auto fault = [](const SignOff& signoff) {
    const auto parsed = parse_signoff(render_signoff(signoff));
    const auto* said = std::get_if<std::string>(&parsed);
    if (said == nullptr) CHECK(std::get<SignOff>(parsed) == signoff);
    return said == nullptr ? "" : *said;
  };
  CHECK(fault(acceptance).empty());
  CHECK(render_signoff(acceptance).starts_with(R"({"act":"acceptance","call":null,)"));
  SignOff with_call = acceptance;
  with_call.call = Call::go;
  CHECK(fault(with_call) == "'call' does not go with 'act'");
  SignOff with_gate = acceptance;
  with_gate.gate = "eva_3";
  CHECK(fault(with_gate) == "'gate' does not go with 'act'");
  SignOff of_brief = acceptance;
  of_brief.subjects = go().subjects;
  CHECK(fault(of_brief) == "'subjects' does not go with 'act'");
  SignOff call = go();
  call.subjects = acceptance.subjects;
  CHECK(fault(call) == "'subjects' does not go with 'act'");
}

TEST_CASE("a record that does not mean anything is refused, and what is wrong is named") {
  CHECK(fault_of([](SignOff&) {}).empty());
  CHECK(fault_of([](auto& s) { s.number = 0; }) == "'number' is too small");
  CHECK(fault_of([](auto& s) { s.previous = "abc"; }) == "'previous' has another form");
  CHECK(fault_of([](auto& s) { s.call = std::nullopt; }) == "'call' does not go with 'act'");
  CHECK(fault_of([](auto& s) { s.act = SignOffAct::withdrawal; }) == "'call' does not go with 'act'");
  CHECK(fault_of([](auto& s) { s.day = 0; }) == "'day' is too small");
  CHECK(fault_of([](auto& s) { s.gate = "EVA 3"; }) == "'gate' has another form");
  CHECK(fault_of([](auto& s) { s.subjects.clear(); }) == "'subjects' is empty or names a file twice");
  CHECK(fault_of([](auto& s) { s.subjects[1] = s.subjects[0]; }) == "'subjects' is empty or names a file twice");
  for (const char* path : {"../brief.md", "/etc/passwd", ".hidden", "", "a/b", "a\\b", "brief\n.md"})
    CHECK(fault_of([&](auto& s) { s.subjects[0].path = path; }) == "'path' has another form");
  CHECK(fault_of([](auto& s) { s.subjects[0].size = -1; }) == "'size' is too small");
  CHECK(fault_of([](auto& s) { s.remark = "a\nb"; }) ==
        "'remark' holds line breaks, hidden characters or bytes that are not UTF-8");
  CHECK(fault_of([](auto& s) { s.remark = std::string(4001, 'x'); }) == "'remark' is longer than 4000 bytes");
  CHECK(fault_of([](auto& s) { s.statement = ""; }) == "'statement' is empty");
  CHECK(fault_of([](auto& s) { s.conditions.clear(); }) == "'conditions' do not go with 'call'");
  CHECK(fault_of([](auto& s) { s.call = Call::go; }) == "'conditions' do not go with 'call'");
  CHECK(fault_of([](auto& s) { s.conditions[0].owner = ""; }) == "'owner' has another form");
  CHECK(fault_of([](auto& s) {
          s.call = Call::no_go;
          s.conditions.clear();
          s.remark = "";
        }) == "'remark' is empty, and a NO-GO or a withdrawal needs one");
  CHECK(fault_of([](auto& s) { s.supersedes = 12; }) == "'supersedes' is no earlier record");
  CHECK(fault_of([](auto& s) {
          s.act = SignOffAct::withdrawal;
          s.call = std::nullopt;
          s.conditions.clear();
          s.supersedes = std::nullopt;
        }) == "'supersedes' is nothing, and a withdrawal takes something back");
  CHECK(fault_of([](auto& s) { s.signer.principal = "m\u0430ra"; }) == "'principal' has another form");
  CHECK(fault_of([](auto& s) { s.signer.name = "Mara\u202e"; }) ==
        "'name' holds line breaks, hidden characters or bytes that are not UTF-8");
  CHECK(fault_of([](auto& s) { s.signer.name = ""; }) == "'name' is empty");
  CHECK(fault_of([](auto& s) { s.signer.key = "SHA256:short"; }) == "'key' has another form");
}

TEST_CASE("bytes that are no record are refused") {
  const std::string bytes = render_signoff(full());
  const auto refused = [](const std::string& text) { return std::holds_alternative<std::string>(parse_signoff(text)); };
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string changed = bytes;
    REQUIRE(changed.find(from) != std::string::npos);
    return changed.replace(changed.find(from), from.size(), to);
  };
  CHECK(refused(""));
  CHECK(refused("{}"));
  CHECK(refused("[]"));
  CHECK(refused(bytes + "\n"));
  CHECK(refused(with("\"act\"", "\"acts\"")));
  CHECK(refused(with("\"revision\"", "\"release\":1,\"revision\"")));
  CHECK(refused(with("sign-off 1", "sign-off 2")));
  CHECK(refused(with("22:00:00Z", "24:00:00Z")));
  CHECK(refused(with("22:00:00Z", "22:00Z")));
  CHECK(refused(with("GO WITH CONDITIONS", "go")));
  CHECK(refused(with("decision", "decided")));
  CHECK(refused(with("not attested", "attested")));
  CHECK(refused(std::string(300'000, '[')));
}

TEST_CASE("no changed bit of a record is read as the same record") {
  const std::string bytes = render_signoff(full());
  for (std::size_t bit = 0; bit < bytes.size() * 8; ++bit) {
    std::string changed = bytes;
    changed[bit / 8] = static_cast<char>(changed[bit / 8] ^ (1 << (bit % 8)));
    const auto parsed = parse_signoff(changed);
    if (const auto* signoff = std::get_if<SignOff>(&parsed)) CHECK_FALSE(*signoff == full());
  }
}
