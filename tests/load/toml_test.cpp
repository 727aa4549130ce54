#include "load/toml.h"

#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

#include "catch_compat.h"
#include "model/instant.h"

using daywright::load::Node;
using daywright::load::NodeKind;
using daywright::load::parse_toml;
using daywright::model::Diagnostic;
using daywright::model::Diagnostics;
using daywright::model::Severity;
using daywright::model::Source;
using namespace std::string_literals;

namespace {

constexpr int this_file = 7;

/// The tree of a text that is expected to be sound.
Node sound(std::string_view text) {
  Diagnostics faults;
  Node root = parse_toml(text, this_file, faults);
  for (const Diagnostic& fault : faults) FAIL_CHECK(fault.text);
  return root;
}

/// The rules behind the faults of a text; the tree must then be an empty table.
std::vector<std::string> rules_of(std::string_view text) {
  Diagnostics faults;
  const Node root = parse_toml(text, this_file, faults);
  std::vector<std::string> rules;
  for (const Diagnostic& fault : faults) {
    CHECK(fault.severity == Severity::error);
    CHECK(fault.source.file == this_file);
    CHECK(fault.source.line >= 1);
    CHECK(fault.source.column >= 1);
    rules.push_back(fault.rule);
  }
  if (!rules.empty()) {
    CHECK(root.kind == NodeKind::table);
    CHECK(root.children.empty());
  }
  return rules;
}

using Rules = std::vector<std::string>;

const Node& child(const Node& node, std::string_view key) {
  const auto found =
      std::find_if(node.children.begin(), node.children.end(), [&](const Node& c) { return c.key == key; });
  CAPTURE(std::string(key));
  REQUIRE(found != node.children.end());
  return *found;
}

constexpr std::string_view small_plan = R"(# a small plan
name = "Tern"
days = 12
rate = 0.895
flown = true
launch = 2031-05-06T12:00:00Z
zones = ["nose", "wing"]

[margins]
bases = ["plan"]

[[item]]
id = "water"
sigma = { gauge = 1.5 }

[[item]]
id = "café"

[end_of_file]
)";

}  // namespace

TEST_CASE("a plan is read with all its kinds of values, in the order of the file") {
  const Node root = sound(small_plan);
  std::vector<std::string> keys;
  keys.reserve(root.children.size());
  for (const Node& node : root.children) keys.push_back(node.key);
  CHECK(keys == std::vector<std::string>{"name", "days", "rate", "flown", "launch", "zones", "margins", "item"});
  CHECK(child(root, "name").kind == NodeKind::text);
  CHECK(child(root, "name").text == "Tern");
  CHECK(child(root, "days").kind == NodeKind::whole);
  CHECK(child(root, "days").whole == 12);
  CHECK(child(root, "days").real == 12);
  CHECK(child(root, "rate").kind == NodeKind::real);
  CHECK(child(root, "rate").real == 0.895);
  CHECK(child(root, "flown").kind == NodeKind::yes_no);
  CHECK(child(root, "flown").yes);
  CHECK(child(root, "launch").text == "2031-05-06T12:00:00Z");
  CHECK(child(root, "zones").kind == NodeKind::list);
  CHECK(child(root, "zones").children.size() == 2);
  CHECK(child(root, "margins").kind == NodeKind::table);
  const Node& items = child(root, "item");
  REQUIRE(items.children.size() == 2);
  CHECK(child(child(items.children[0], "sigma"), "gauge").real == 1.5);
  CHECK(child(items.children[1], "id").text == "café");
}

TEST_CASE("every value knows the line and column, in characters, at which it stands") {
  const Node root = sound(small_plan);
  CHECK(child(root, "name").key_at == Source{this_file, 2, 1});
  CHECK(child(root, "name").at == Source{this_file, 2, 8});
  CHECK(child(root, "rate").at == Source{this_file, 4, 8});
  CHECK(child(root, "zones").children[1].at == Source{this_file, 7, 18});
  const Node& items = child(root, "item");
  CHECK(child(items.children[0], "id").at == Source{this_file, 13, 6});
  CHECK(child(child(items.children[0], "sigma"), "gauge").at == Source{this_file, 14, 19});
  CHECK(child(items.children[1], "id").at == Source{this_file, 17, 6});
  const Node accents = sound("\"äöü\" = 1\n[end_of_file]\n");
  CHECK(child(accents, "äöü").at == Source{this_file, 1, 9});
}

TEST_CASE("a plan that is cut at any byte is a fault, and nothing of it is used") {
  // Only the last line break may be missing: the marker is then whole.
  const std::string whole(small_plan);
  REQUIRE(whole.ends_with("[end_of_file]\n"));
  for (std::size_t size = 0; size + 1 < whole.size(); ++size) {
    CAPTURE(size);
    const Rules rules = rules_of(whole.substr(0, size));
    REQUIRE(rules.size() == 1);
    CHECK((rules[0] == "toml-syntax" || rules[0] == "file-cut" || rules[0] == "not-utf8"));
  }
  CHECK(rules_of(whole.substr(0, whole.size() - 1)).empty());
  CHECK(rules_of(whole).empty());
}

TEST_CASE("a plan with CRLF line endings that is cut at any byte is a fault, too") {
  std::string whole;
  for (const char c : small_plan) whole += c == '\n' ? "\r\n"s : std::string(1, c);
  CHECK(rules_of(whole).empty());
  for (std::size_t size = 0; size + 2 < whole.size(); ++size) {
    CAPTURE(size);
    CHECK(rules_of(whole.substr(0, size)).size() == 1);
  }
}

TEST_CASE("the marker itself is no key of the plan") {
  CHECK(sound("[end_of_file]").children.empty());
  CHECK(sound("a = 1\n[end_of_file]\n# a remark may follow\n\n").children.size() == 1);
}

TEST_CASE("a missing end is reported where the file stops") {
  Diagnostics faults;
  static_cast<void>(parse_toml("a = 1\nb = 2", this_file, faults));
  REQUIRE(faults.size() == 1);
  CHECK(faults[0].rule == "file-cut");
  CHECK(faults[0].source == Source{this_file, 2, 6});
}

TEST_CASE("only an empty table of that name at the end is the marker") {
  CHECK(rules_of("") == Rules{"file-cut"});
  CHECK(rules_of("a = 1\n") == Rules{"file-cut"});
  CHECK(rules_of("[end_of_file]\n[margins]\na = 1\n") == Rules{"file-cut"});
  CHECK(rules_of("[end_of_file]\na = 1\n") == Rules{"file-cut"});
  CHECK(rules_of("[[end_of_file]]\n") == Rules{"file-cut"});
  CHECK(rules_of("end_of_file = true\n") == Rules{"file-cut"});
  CHECK(rules_of("[end]\n") == Rules{"file-cut"});
  CHECK(rules_of("[End_of_file]\n") == Rules{"file-cut"});
  CHECK(rules_of("# [end_of_file]\n") == Rules{"file-cut"});
  CHECK(rules_of("a = \"\"\"\n[end_of_file]\n\"\"\"\n") == Rules{"file-cut"});
}

TEST_CASE("nothing of the plan may follow the marker, also where it goes on with a table begun before") {
  // Cut just after its marker, such a file would pass for whole.
  CHECK(rules_of("[[item]]\nid = \"a\"\n[end_of_file]\n[[item]]\nid = \"b\"\n") == Rules{"file-cut"});
  CHECK(rules_of("[margins]\na = 1\n[end_of_file]\n[margins.more]\nb = 2\n") == Rules{"file-cut"});
}

TEST_CASE("a malformed header is a fault with its line and does not stop the program") {
  // The library's own check for this aborts (toml++ 3.3.0 and 3.4.0, upstream issue 294).
  for (const char* text : {"[\n", "[", "[[\n", "[[", "a = 1\n[\n[end_of_file]\n", "[ \n", "[]\n", "[[]]\n", "[a\n]\n",
                           "[a.\n", "[[a]\n", "[a]]\n", "[\"\n", "[a.b", "[\r\n", "[#\n", "[=]\n"}) {
    CAPTURE(text);
    CHECK(rules_of(text) == Rules{"toml-syntax"});
  }
  Diagnostics faults;
  static_cast<void>(parse_toml("a = 1\n\n[\n[end_of_file]\n", this_file, faults));
  REQUIRE(faults.size() == 1);
  CHECK((faults[0].source.line == 3 || faults[0].source.line == 4));
}

TEST_CASE("what TOML does not allow is a fault") {
  for (const char* text :
       {"a = \n[end_of_file]\n", "a\n[end_of_file]\n", "a = 1\na = 2\n[end_of_file]\n", "[a]\n[a]\n[end_of_file]\n",
        "a = 01\n[end_of_file]\n", "a = \"x\n[end_of_file]\n", "a = [1, 2\n[end_of_file]\n",
        "a = 1 b = 2\n[end_of_file]\n", "a = yes\n[end_of_file]\n", "= 1\n[end_of_file]\n",
        "a = 2031-02-30T00:00:00Z\n[end_of_file]\n", "a = { b = 1\n[end_of_file]\n", "a = 1\n[a.b]\n[end_of_file]\n",
        "[end_of_file]\n[end_of_file]\n", "a = 99999999999999999999\n[end_of_file]\n",
        "a = \"\\q\"\n[end_of_file]\n"}) {
    CAPTURE(text);
    CHECK(rules_of(text) == Rules{"toml-syntax"});
  }
}

TEST_CASE("a syntax fault names the line on which it lies") {
  Diagnostics faults;
  static_cast<void>(parse_toml("a = 1\nb = 01\n[end_of_file]\n", this_file, faults));
  REQUIRE(faults.size() == 1);
  CHECK(faults[0].source.line == 2);
}

TEST_CASE("a byte that is not UTF-8 is named by its place, and so is a NUL") {
  Diagnostics faults;
  static_cast<void>(parse_toml("a = 1\nb = \"\xC3\xA4\xFF\"\n[end_of_file]\n", this_file, faults));
  REQUIRE(faults.size() == 1);
  CHECK(faults[0].rule == "not-utf8");
  CHECK(faults[0].source == Source{this_file, 2, 7});
  CHECK(rules_of("a = \"\0\"\n[end_of_file]\n"s) == Rules{"not-utf8"});
}

TEST_CASE("a time without quotes is the text of the same time in quotes") {
  CHECK(child(sound("t = 2031-05-13T16:20:00Z\n[end_of_file]"), "t").text == "2031-05-13T16:20:00Z");
  CHECK(child(sound("t = 2031-05-13 16:20:00Z\n[end_of_file]"), "t").text == "2031-05-13T16:20:00Z");
  CHECK(child(sound("t = 2031-05-13T16:20:00+00:00\n[end_of_file]"), "t").text == "2031-05-13T16:20:00Z");
}

TEST_CASE("a time without quotes keeps the decimals of its second") {
  // CCSDS 301.0-B-4, section 3.5.1.1, the published example.
  const auto quoted = daywright::model::parse_utc("1988-01-18T17:20:43.123456Z").value;
  REQUIRE(quoted.has_value());
  const Node root = sound("t = 1988-01-18T17:20:43.123456Z\n[end_of_file]");
  CHECK(daywright::model::parse_utc(child(root, "t").text).value == quoted);
}

TEST_CASE("a time in another zone, without zone, or without date is no UTC time") {
  for (const char* text : {"t = 2031-05-13T16:20:00+02:00\n[end_of_file]", "t = 2031-05-13T16:20:00\n[end_of_file]",
                           "t = 2031-05-13\n[end_of_file]", "t = 16:20:00\n[end_of_file]"}) {
    CAPTURE(text);
    CHECK_FALSE(daywright::model::parse_utc(child(sound(text), "t").text).value.has_value());
  }
}
