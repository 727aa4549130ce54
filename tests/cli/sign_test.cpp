#include "cli/sign.h"

#include <string>
#include <vector>

#include "catch_compat.h"
#include "write/json.h"

using daywright::cli::changes_since;
using daywright::cli::find_standing;
using daywright::model::Call;
using daywright::model::Rulebook;
using daywright::model::SignOff;
using daywright::model::SignOffAct;
using daywright::write::changed_inputs;
using daywright::write::InputRecord;
using daywright::write::is_list_of_part;
using daywright::write::render_inputs;
using Names = std::vector<std::string>;
using namespace std::string_literals;

namespace {

SignOff record(std::int64_t number, const std::string& principal = "mara", const std::string& role = "eva_lead") {
  SignOff signoff;
  signoff.number = number;
  signoff.call = Call::go;
  signoff.day = 8;
  signoff.gate = "eva_3";
  signoff.subjects = {{"brief.md", 5, "a"}, {"status.json", 2, "b"}};
  signoff.verdicts = {{"eva_3", "READY"}, {"entry", "NO DATA"}};
  signoff.limiting = "Water 2.1 d";
  signoff.signer = {principal, "Mara", role, ""};
  return signoff;
}

const Rulebook rules = [] {
  Rulebook book;
  book.polls = {{"eva_3", {"eva_lead", "systems"}, "flight_lead", false, {}},
                {"entry", {"systems"}, "flight_lead", true, {}}};
  return book;
}();

}  // namespace

TEST_CASE("the same call on the same bytes is there already, and another one corrects it") {
  const std::vector<SignOff> records{record(1)};
  CHECK(find_standing(record(2), records, rules).same_as == 1);
  for (const auto& change : std::vector<void (*)(SignOff&)>{
           [](SignOff& s) { s.call = Call::no_go; }, [](SignOff& s) { s.subjects[0].sha256 = "c"; },
           [](SignOff& s) { s.remark = "late"; }, [](SignOff& s) { s.conditions = {{"x", "systems"}}; }}) {
    SignOff other = record(2);
    change(other);
    const auto standing = find_standing(other, records, rules);
    CHECK(standing.refusal.empty());
    CHECK_FALSE(standing.same_as);
    CHECK(standing.supersedes == 1);
  }
}

TEST_CASE("what was recorded without a signature can be signed, and what was signed is not corrected without one") {
  const auto with_key = [](SignOff signoff, const std::string& key) {
    signoff.signer.key = key;
    return signoff;
  };
  const auto signed_later = find_standing(with_key(record(2), "one"), {record(1)}, rules);
  CHECK_FALSE(signed_later.same_as);
  CHECK(signed_later.supersedes == 1);
  const std::vector<SignOff> records{with_key(record(1), "one")};
  CHECK(find_standing(with_key(record(2), "one"), records, rules).same_as == 1);
  CHECK(find_standing(with_key(record(2), "two"), records, rules).supersedes == 1);
  CHECK(find_standing(record(2), records, rules).same_as == 1);
  SignOff other = record(2);
  other.call = Call::no_go;
  const auto refused = find_standing(other, records, rules);
  CHECK(refused.refusal == "record 1 is signed, and only a signed record corrects it or takes it back: give --key");
  CHECK_FALSE(refused.supersedes);
}

TEST_CASE("a sign-off has nothing to do with those of others, of other days, gates and acts") {
  for (const auto& change : std::vector<void (*)(SignOff&)>{
           [](SignOff& s) { s.signer.principal = "jon"; }, [](SignOff& s) { s.day = 7; },
           [](SignOff& s) { s.gate = "entry"; }, [](SignOff& s) { s.act = SignOffAct::decision; }}) {
    SignOff other = record(1);
    change(other);
    const auto standing = find_standing(record(2), {other}, rules);
    CHECK(standing.refusal.empty());
    CHECK_FALSE(standing.same_as);
    CHECK_FALSE(standing.supersedes);
  }
}

TEST_CASE("what was corrected or taken back does not stand in the way") {
  SignOff withdrawal = record(2);
  withdrawal.act = SignOffAct::withdrawal;
  withdrawal.supersedes = 1;
  CHECK_FALSE(find_standing(record(3), {record(1), withdrawal}, rules).same_as);
  CHECK(find_standing(record(3, "mara", "systems"), {record(1), withdrawal}, rules).refusal.empty());
}

TEST_CASE("one person has one role of a gate, unless the rules allow more") {
  CHECK(find_standing(record(2, "mara", "systems"), {record(1)}, rules).refusal ==
        "'mara' has signed for 'eva_3' as 'eva_lead' already (record 1), and one person has one role");
  SignOff first = record(1);
  first.gate = "entry";
  SignOff second = record(2, "mara", "systems");
  second.gate = "entry";
  CHECK(find_standing(second, {first}, rules).refusal.empty());
}

TEST_CASE("who signs again is told what is another") {
  CHECK(changes_since(record(1), record(2)).empty());
  SignOff now = record(2);
  now.revision = 2;
  now.verdicts = {{"eva_3", "NOT READY"}, {"entry", "NO DATA"}, {"undock", "READY"}};
  now.limiting = "Oxygen 0.3 d";
  now.subjects[1].sha256 = "c";
  CHECK(changes_since(record(1), now) ==
        Names{"day 8 revision 1 is now day 8 revision 2", "eva_3 was READY and is NOT READY", "undock is new: READY",
              "limiting was Water 2.1 d and is Oxygen 0.3 d", "other bytes: status.json"});
}

TEST_CASE("a list of inputs tells which files are others, new or gone, but not templates") {
  const std::vector<InputRecord> inputs{
      {"days/001/a\"b.csv", 3, "1"}, {"days/001/plan.csv", 3, "1"}, {"mission.toml", 3, "1"}};
  auto listed = inputs;
  listed.push_back({"templates/brief.css", 3, "1"});
  const std::string list = render_inputs(listed, {}, {{"daywright", "1"}});
  CHECK(changed_inputs(list, inputs).empty());
  auto now = inputs;
  now[1].sha256 = "2";
  now[2].size = 4;
  now.push_back({"rules.toml", 1, "1"});
  CHECK(changed_inputs(list, now) == Names{"days/001/plan.csv", "mission.toml", "rules.toml"});
  now = {inputs[0], inputs[2]};
  CHECK(changed_inputs(list, now) == Names{"days/001/plan.csv"});
  CHECK(changed_inputs("", inputs).size() == 3);
  CHECK(changed_inputs("nonsense\n{}", inputs).size() == 3);
}

TEST_CASE("the list of a part is told from that of a whole brief, whatever a file is called") {
  CHECK(is_list_of_part(render_inputs({}, {}, {}, {"md"})));
  CHECK_FALSE(is_list_of_part(render_inputs({{"\"partial\":", 1, "1"}}, {}, {})));
}
