#include "model/signoff.h"

#include <cstdint>
#include <string>
#include <vector>

#include "catch_compat.h"

using daywright::model::can_supersede;
using daywright::model::fault_of_line;
using daywright::model::is_principal;
using daywright::model::look_alike;
using daywright::model::mixes_alphabets;
using daywright::model::SignOff;
using daywright::model::SignOffAct;
using daywright::model::standing;
using namespace std::string_literals;

TEST_CASE("one plain line can stand in a record, up to its limit") {
  CHECK(fault_of_line("", 10).empty());
  CHECK(fault_of_line("Zo\u00eb \u00c5s, \u6f22 {\"a\":1} | <b> \\", 50).empty());
  CHECK(fault_of_line(std::string(10, 'x'), 10).empty());
  CHECK(fault_of_line(std::string(11, 'x'), 10) == "is longer than 10 bytes");
}

TEST_CASE("what hides, breaks the line or turns the direction of reading can't stand in a record") {
  for (const auto& text :
       {"a\nb"s, "a\rb"s, "a\tb"s, "a\0b"s, "\x1b[2J"s, "a\x7f"s, "\u0085"s, "a\u202eb"s, "a\u2066b"s, "a\u200bb"s,
        "\ufeff"s, "a\u2028b"s, "a\u00adb"s, "\xff"s, "\xed\xa0\x80"s, "\xc0\xaf"s, "\U000e0041"s}) {
    CAPTURE(text);
    CHECK(fault_of_line(text, 100) == "holds line breaks, hidden characters or bytes that are not UTF-8");
  }
  CHECK(fault_of_line("A\u030as", 100) == "is not in Unicode normal form C");
  CHECK(fault_of_line(" a", 100) == "begins or ends with a blank");
  CHECK(fault_of_line("a ", 100) == "begins or ends with a blank");
}

TEST_CASE("only a signed record supersedes a signed one") {
  const auto record = [](const char* key) {
    SignOff made;
    made.signer = {"mara", "Mara", "eva_lead", key};
    return made;
  };
  CHECK(can_supersede(record("two"), record("one")));
  CHECK(can_supersede(record("one"), record("")));
  CHECK(can_supersede(record(""), record("")));
  CHECK_FALSE(can_supersede(record(""), record("one")));
}

TEST_CASE("taking over stands until somebody takes over on another page of that day") {
  const auto accept = [](std::int64_t number, const char* who, const char* page, std::int64_t day = 8) {
    SignOff record;
    record.number = number;
    record.act = SignOffAct::acceptance;
    record.day = day;
    record.signer.principal = who;
    record.subjects = {{"handover.md", 1, page}};
    return record;
  };
  const auto numbers = [](const std::vector<SignOff>& records) {
    std::vector<std::int64_t> left;
    for (const auto* record : standing(records)) left.push_back(record->number);
    return left;
  };
  using Numbers = std::vector<std::int64_t>;
  CHECK(numbers({accept(1, "mara", "a"), accept(2, "jon", "a")}) == Numbers{1, 2});  // two have read one page
  CHECK(numbers({accept(1, "mara", "a"), accept(2, "jon", "b")}) == Numbers{2});
  CHECK(numbers({accept(1, "mara", "a"), accept(2, "jon", "b", 9)}) == Numbers{1, 2});
  SignOff call = accept(2, "jon", "b");
  call.act = SignOffAct::call;
  CHECK(numbers({accept(1, "mara", "a"), call}) == Numbers{1, 2});
  SignOff withdrawal = accept(3, "jon", "b");
  withdrawal.act = SignOffAct::withdrawal;
  withdrawal.supersedes = 2;
  CHECK(numbers({accept(1, "mara", "a"), accept(2, "jon", "a"), withdrawal}) == Numbers{1});
  CHECK(numbers({accept(1, "mara", "a"), accept(2, "jon", "b"), withdrawal}) == Numbers{1});
}

TEST_CASE("a principal is plain ASCII") {
  for (const char* good : {"a", "mara@petrel.example", "M-2_x+y.z", "0"}) CHECK(is_principal(good));
  CHECK(is_principal(std::string(100, 'a')));
  for (const auto& bad :
       {""s, "-a"s, "@a"s, "a b"s, "a,b"s, "a*"s, "a?"s, "!a"s, "\u0430"s, "a\n"s, "a\"b"s, std::string(101, 'a')})
    CHECK_FALSE(is_principal(bad));
}

TEST_CASE("letters of alphabets that look alike are seen in one name") {
  CHECK_FALSE(mixes_alphabets("Mara Velden-\u00c5s 3"));
  CHECK_FALSE(mixes_alphabets("\u041c\u0430\u0440\u0430"));
  CHECK_FALSE(mixes_alphabets("\u039c\u03b1\u03c1\u03b1"));
  CHECK_FALSE(mixes_alphabets(""));
  CHECK(mixes_alphabets("M\u0430ra"));  // a Cyrillic a
  CHECK(mixes_alphabets("\u039cara"));  // a Greek M
  CHECK(mixes_alphabets("Mar\u0561"));  // an Armenian letter
}

// Pairs of the kinds that UTS 39 (Unicode security mechanisms, confusables) lists; the letters are from memory.
TEST_CASE("names that a reader takes for one another look alike") {
  for (const auto& [one, other] : {std::pair{"Mara Velden", "Mara Velden"},
                                   {"Mara Velden", "M\u0430ra Velden"},  // a Cyrillic a
                                   {"Mara Velden", "Mara VeIden"},       // a large i
                                   {"Mara Velden", "Mara Ve1den"},       // a one
                                   {"Mara Velden", "mara velden"},
                                   {"\u0421\u0430\u0440\u0430", "Capa"},  // Cyrillic throughout
                                   {"Burn", "Bum"}}) {                    // r and n
    CAPTURE(one, other);
    CHECK(look_alike(one, other));
    CHECK(look_alike(other, one));
  }
  for (const auto& [one, other] : {std::pair{"Mara Velden", "Maria Velden"}, {"Jon Aster", "Jan Aster"}, {"", "a"}}) {
    CAPTURE(one, other);
    CHECK_FALSE(look_alike(one, other));
  }
}
