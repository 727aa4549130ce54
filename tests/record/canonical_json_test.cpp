#include "record/canonical_json.h"

#include <filesystem>
#include <limits>
#include <random>
#include <stdexcept>
#include <string>

#include <nlohmann/json.hpp>

#include "catch_compat.h"
#include "temporary_folder.h"

using daywright::record::Json;
using daywright::record::JsonFault;
using daywright::record::parse_canonical;
using daywright::record::render_canonical;
using daywright::test::bytes_of;
namespace fs = std::filesystem;
using namespace std::string_literals;

namespace {

/// What another reader of JSON makes of a text.
Json converted(const nlohmann::json& from) {
  if (from.is_boolean()) return {from.get<bool>()};
  if (from.is_number_float()) return {static_cast<std::int64_t>(from.get<double>())};  // "56.0"
  if (from.is_number()) return {from.get<std::int64_t>()};
  if (from.is_string()) return {from.get<std::string>()};
  Json to;
  if (from.is_array()) {
    auto& list = to.value.emplace<Json::List>();
    for (const auto& entry : from) list.push_back(converted(entry));
  } else if (from.is_object()) {
    auto& object = to.value.emplace<Json::Object>();
    for (const auto& [name, value] : from.items()) object.push_back({name, converted(value)});
  }
  return to;
}

std::string fault_of(const std::string& bytes) {
  const auto read = parse_canonical(bytes);
  const auto* fault = std::get_if<JsonFault>(&read);
  return fault == nullptr ? "" : std::to_string(fault->offset) + ": " + fault->text;
}

std::string random_text(std::mt19937& random) {
  static const std::string pieces[] = {"a",    "B",    "\"",     "\\",     "/",         "\n",
                                       "\x01", "\x7f", "\u20ac", "\ufb33", "\U0001f602"};
  std::string text;
  for (auto left = random() % 4; left > 0; --left) text += pieces[random() % std::size(pieces)];
  return text;
}

Json random_value(std::mt19937& random, int depth) {
  switch (random() % (depth > 3 ? 4U : 6U)) {
    case 0: return {};
    case 1: return {random() % 2 == 0};
    case 2: return {static_cast<std::int64_t>(random()) * (random() % 2 == 0 ? 1 : -1) >> (random() % 32)};
    case 3: return {random_text(random)};
    case 4: {
      Json::List list;
      for (auto left = random() % 4; left > 0; --left) list.push_back(random_value(random, depth + 1));
      return {std::move(list)};
    }
    default: break;
  }
  Json json{Json::Object{}};
  for (auto left = random() % 4; left > 0; --left) {
    const std::string name = random_text(random);
    if (json.find(name) == nullptr)
      std::get<Json::Object>(json.value).push_back({name, random_value(random, depth + 1)});
  }
  return json;
}

}  // namespace

TEST_CASE("the samples of RFC 8785 become the bytes that are printed for them") {
  std::size_t samples = 0;
  for (const auto& entry : fs::directory_iterator(TEST_DATA "/jcs/input")) {
    CAPTURE(entry.path().filename());
    const std::string expected = bytes_of(fs::path(TEST_DATA "/jcs/output") / entry.path().filename());
    CHECK(render_canonical(converted(nlohmann::json::parse(bytes_of(entry.path())))) == expected);
    const auto read = parse_canonical(expected);
    REQUIRE(std::holds_alternative<Json>(read));
    CHECK(render_canonical(std::get<Json>(read)) == expected);
    ++samples;
  }
  CHECK(samples == 5);
}

TEST_CASE("what is written is read as the same value") {
  std::mt19937 random(8785);
  for (int i = 0; i < 5000; ++i) {
    const std::string bytes = render_canonical(random_value(random, 0));
    CAPTURE(bytes);
    const auto read = parse_canonical(bytes);
    REQUIRE(std::holds_alternative<Json>(read));
    CHECK(render_canonical(std::get<Json>(read)) == bytes);
  }
}

TEST_CASE("whatever is changed in canonical bytes is refused or is the canonical form of another value") {
  const std::string bytes =
      "{\"a\":[0,-12,null,true,false,\"x\\n\\u001f\"],\"b\":{},\"\u20ac\":\"\u00e9\",\"\U0001f602\":1,\"\ufb33\":[]}";
  REQUIRE(fault_of(bytes).empty());
  int refused = 0;
  for (std::size_t at = 0; at < bytes.size(); ++at) {
    for (int to = 0; to < 256; ++to) {
      for (const bool is_inserted : {false, true}) {
        std::string changed = bytes;
        changed.replace(at, is_inserted ? 0 : 1, 1, static_cast<char>(to));
        const auto read = parse_canonical(changed);
        if (const auto* json = std::get_if<Json>(&read)) {
          CHECK(render_canonical(*json) == changed);
        } else {
          ++refused;
        }
      }
    }
  }
  CHECK(refused > 10'000);
}

TEST_CASE("canonical bytes that are cut short or go on are refused") {
  const std::string bytes = R"({"a":[0,"x\n"],"b":{"c":true}})";
  for (std::size_t size = 0; size < bytes.size(); ++size) CHECK_FALSE(fault_of(bytes.substr(0, size)).empty());
  CHECK(fault_of(bytes + "\n") == "30: something stands behind the value");
}

TEST_CASE("every other way to write a value is refused at its place") {
  CHECK(fault_of(R"({"a":1,"a":1})") == "7: two members have one name");
  CHECK(fault_of(R"({"b":1,"a":1})") == "7: members are not in order");
  CHECK(fault_of("{\"\ufb33\":1,\"\U0001f602\":1}") == "9: members are not in order");
  CHECK(fault_of("{\"a\": 1}") == "5: expected a value, without blanks before it");
  CHECK(fault_of("[1 ]") == "2: expected ',' or ']'");
  CHECK(fault_of("[1,]") == "3: expected a value, without blanks before it");
  CHECK(fault_of("{1:1}") == "1: expected the name of a member");
  CHECK(fault_of("\xEF\xBB\xBF{}") == "0: expected a value, without blanks before it");
  CHECK(fault_of("") == "0: expected a value, without blanks before it");
  for (const char* number : {"-0", "01", "-01"}) CHECK(fault_of(number) == "0: a number has another form");
  for (const char* number : {"1.0", "1e2", "1E2"}) CHECK(fault_of(number) == "0: a number is not whole");
  for (const char* number : {"9007199254740992", "-9007199254740992", "99999999999999999999"})
    CHECK(fault_of(number) == "0: a number lies beyond 2^53 - 1");
  CHECK(fault_of("9007199254740991").empty());
  CHECK(fault_of("-9007199254740991").empty());
  for (const char* text : {R"("\/")", R"("\u000a")", R"("\u001F")", R"("\u0041")", R"("\ud83d\ude02")", R"("\ud800")",
                           R"("\u0022")", R"("\x")", R"("\)"})
    CHECK(fault_of(text) == "1: an escape has another form");
  CHECK(fault_of("\"a\nb\"") == "2: a control character is not escaped");
  CHECK(fault_of("\"\xED\xA0\x80\"") == "1: this is not UTF-8");  // a lone surrogate in three bytes
  CHECK(fault_of("\"\xC0\xAF\"") == "1: this is not UTF-8");
  CHECK(fault_of("\"\xFF\"") == "1: this is not UTF-8");
}

TEST_CASE("nesting has an end that no reader's stack depends on") {
  const auto nested = [](std::size_t depth) { return std::string(depth, '[') + std::string(depth, ']'); };
  CHECK(fault_of(nested(33)).empty());
  CHECK(fault_of(nested(34)) == "33: lists and objects are nested too deep");
  CHECK(fault_of(nested(1'000'000)) == "33: lists and objects are nested too deep");
}

TEST_CASE("what has no canonical form is not written") {
  CHECK_THROWS_AS(render_canonical({"\xFF"s}), std::invalid_argument);
  CHECK_THROWS_AS(render_canonical({std::int64_t{1} << 53U}), std::invalid_argument);
  CHECK_THROWS_AS(render_canonical({std::numeric_limits<std::int64_t>::min()}), std::invalid_argument);
  CHECK_THROWS_AS(render_canonical({Json::Object{{"a", {}}, {"a", {}}}}), std::invalid_argument);
  Json deep;
  for (int i = 0; i < 40; ++i) deep = Json{Json::List{deep}};
  CHECK_THROWS_AS(render_canonical(deep), std::invalid_argument);
}

TEST_CASE("a member is found by its name") {
  const Json json{Json::Object{{"a", {true}}, {"b", {"x"s}}}};
  REQUIRE(json.find("b") != nullptr);
  CHECK(*json.find("b") == Json{"x"s});
  CHECK(json.find("c") == nullptr);
  CHECK(Json{"a"s}.find("a") == nullptr);
}
