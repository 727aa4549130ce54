#include "load/table_reader.h"

#include <array>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "catch_compat.h"
#include "load/toml.h"

using daywright::load::Need;
using daywright::load::Node;
using daywright::load::parse_toml;
using daywright::load::TableReader;
using daywright::model::Diagnostics;
using daywright::model::parse_utc;
using daywright::model::Source;

namespace {

constexpr int this_file = 3;

/// One table of a file, read by one reader, with what that reader complains about.
class Table {
 public:
  explicit Table(const std::string& text)
      : root_(parse_toml(text + "\n[end_of_file]\n", this_file, faults_)), reader_(root_, "[[item]] 'water'", faults_) {
    REQUIRE(faults_.empty());
  }
  TableReader& operator*() { return reader_; }
  TableReader* operator->() { return &reader_; }

  [[nodiscard]] const Diagnostics& faults() const { return faults_; }
  [[nodiscard]] bool is_sound() const { return faults_.empty(); }
  /// True when there is this fault alone.
  [[nodiscard]] bool says(Source at, const std::string& text, const std::string& rule) const {
    CAPTURE(text);
    if (faults_.size() == 1) {
      CHECK(faults_[0].text == text);
      CHECK(faults_[0].rule == rule);
      CHECK(faults_[0].source == at);
    }
    return faults_.size() == 1;
  }

 private:
  Diagnostics faults_;
  Node root_;
  TableReader reader_;
};

Source at(int line, int column) { return {this_file, line, column}; }

constexpr auto launch_text = "2031-05-06T12:00Z";

}  // namespace

TEST_CASE("values of the right type are read without a word") {
  Table table(R"(title = "Water"
rate = 3.217
whole = 12
yes = true
places = ["a", "b"]
sigma = { gauge = 1.5, scale = 2 }
words = { x = "y" })");
  CHECK(table->text("title") == "Water");
  CHECK(table->number("rate") == 3.217);
  CHECK(table->number("whole") == 12);
  CHECK(table->whole("whole") == 12);
  CHECK(table->yes_no("yes"));
  CHECK(table->texts("places") == std::vector<std::string>{"a", "b"});
  CHECK(table->amounts_by_name("sigma") == std::map<std::string, double>{{"gauge", 1.5}, {"scale", 2}});
  CHECK(table->texts_by_name("words") == std::map<std::string, std::string>{{"x", "y"}});
  CHECK(table->amount("rate") == 3.217);
  table->finish();
  CHECK(table.is_sound());
}

TEST_CASE("a required key that is missing is a fault at its table, an optional one is not") {
  Table table("a = 1");
  CHECK(table->text("title", Need::optional).empty());
  CHECK(table->number("rate", Need::optional, 7) == 7);
  CHECK_FALSE(table->number_if_any("rate").has_value());
  CHECK_FALSE(table->yes_no("flag"));
  CHECK(table->texts("places").empty());
  CHECK(table->amount("rate") == 0);
  CHECK(table->tables("items").empty());
  CHECK(table->table("margins") == nullptr);
  CHECK_FALSE(table->time("t", std::nullopt, Need::optional).has_value());
  CHECK(table.is_sound());
  CHECK(table->text("title").empty());
  CHECK(table.says(at(1, 1), "[[item]] 'water' has no 'title', expected text in quotes", "key-missing"));
}

TEST_CASE("a value of the wrong type is a fault at the value, and what was expected is said first") {
  Table text("a = 1");
  CHECK(text->text("a").empty());
  CHECK(text.says(at(1, 5), "'a' of [[item]] 'water' is of the wrong type, expected text in quotes", "value-type"));
  Table number("a = \"1\"");
  CHECK(number->number("a", Need::required, 5) == 5);
  CHECK(number.says(at(1, 5), "'a' of [[item]] 'water' is of the wrong type, expected a number", "value-type"));
  Table whole("a = 1.0");
  CHECK(whole->whole("a", Need::required, 5) == 5);
  CHECK(whole.says(at(1, 5), "'a' of [[item]] 'water' is of the wrong type, expected a whole number", "value-type"));
  Table yes("a = \"true\"");
  CHECK_FALSE(yes->yes_no("a"));
  CHECK(yes.says(at(1, 5), "'a' of [[item]] 'water' is of the wrong type, expected true or false", "value-type"));
  Table list("a = \"x\"");
  CHECK(list->texts("a").empty());
  CHECK(list.says(at(1, 5), "'a' of [[item]] 'water' is of the wrong type, expected a list of texts", "value-type"));
}

TEST_CASE("a required text may not be empty") {
  Table table("title = \"\"");
  CHECK(table->text("title").empty());
  CHECK(table.says(at(1, 9), "'title' of [[item]] 'water' is empty, expected text", "value-empty"));
  Table optional("title = \"\"");
  CHECK(optional->text("title", Need::optional).empty());
  CHECK(optional.is_sound());
}

TEST_CASE("numbers that are none, or without end, are refused") {
  for (const char* text : {"a = nan", "a = inf", "a = -inf"}) {
    CAPTURE(text);
    Table table(text);
    CHECK(table->number("a", Need::required, 5) == 5);
    CHECK(table.says(at(1, 5), "'a' of [[item]] 'water' is of the wrong type, expected a finite number", "value-type"));
  }
  Table by_name("a = { x = nan }");
  CHECK(by_name->amounts_by_name("a").empty());
  CHECK(by_name.faults().size() == 1);
}

TEST_CASE("an amount may be nothing but not less") {
  Table nothing("a = 0");
  CHECK(nothing->amount("a", Need::required) == 0);
  CHECK(nothing.is_sound());
  Table less("a = -0.5");
  CHECK(less->amount("a", Need::required) == 0);
  CHECK(less.says(at(1, 5), "'a' of [[item]] 'water' is -0.5, expected a number not below zero", "value-range"));
  Table by_name("a = { x = 1, y = -1 }");
  CHECK(by_name->amounts_by_name("a") == std::map<std::string, double>{{"x", 1}});
  CHECK(by_name.says(at(1, 18), "'y' of [[item]] 'water' is of the wrong type, expected a number not below zero",
                     "value-type"));
}

TEST_CASE("whole numbers beyond a million are refused on both sides") {
  Table most("a = 1000000");
  CHECK(most->whole("a") == 1000000);
  CHECK(most.is_sound());
  Table more("a = 1000001");
  CHECK(more->whole("a", Need::required, 5) == 5);
  CHECK(more.faults().size() == 1);
  Table least("a = -1000001");
  CHECK(least->whole("a", Need::required, 5) == 5);
  CHECK(least.faults().size() == 1);
}

TEST_CASE("an id keeps to small letters, digits and underscores") {
  Table good("id = \"co2_cartridge_2\"");
  CHECK(good->id() == "co2_cartridge_2");
  CHECK(good.is_sound());
  for (const char* text :
       {"id = \"Water\"", "id = \"wa.ter\"", "id = \"wa ter\"", "id = \"wa-ter\"", "id = \"w\u00E4\""}) {
    CAPTURE(text);
    Table bad(text);
    static_cast<void>(bad->id());
    REQUIRE(bad.faults().size() == 1);
    CHECK(bad.faults()[0].rule == "id-form");
    CHECK(bad.faults()[0].source == at(1, 6));
  }
}

TEST_CASE("of a list the sound texts are kept and each other value is a fault of its own") {
  Table table("a = [\"x\", 1, \"\", \"y\"]");
  CHECK(table->texts("a") == std::vector<std::string>{"x", "y"});
  REQUIRE(table.faults().size() == 2);
  CHECK(table.faults()[0].source == at(1, 11));
  CHECK(table.faults()[1].source == at(1, 14));
}

TEST_CASE("times are UTC, or elapsed since launch where launch is known") {
  const auto launch = parse_utc(launch_text).value;
  REQUIRE(launch.has_value());
  Table table("a = \"2031-05-13T16:20Z\"\nb = \"7/04:20\"\nc = 2031-05-13T16:20:00Z\nd = \"2031-133T16:20Z\"");
  const auto when = parse_utc("2031-05-13T16:20Z").value;
  for (const char* key : {"a", "b", "c", "d"}) {
    CAPTURE(key);
    CHECK(table->time(key, launch) == when);
  }
  CHECK(table.is_sound());
}

TEST_CASE("elapsed time before the launch is known is a fault") {
  Table table("a = \"7/04:20\"");
  CHECK_FALSE(table->time("a", std::nullopt).has_value());
  REQUIRE(table.faults().size() == 1);
  CHECK(table.faults()[0].rule == "time");
}

TEST_CASE("what is no time is a fault with what would have been one") {
  Table table("a = \"13.05.2031\"\nb = 5\nc = \"5/24:00\"\nd = 2031-05-13T16:20:00+02:00");
  const auto launch = parse_utc(launch_text).value;
  for (const char* key : {"a", "b", "c", "d"}) CHECK_FALSE(table->time(key, launch).has_value());
  REQUIRE(table.faults().size() == 4);
  CHECK(table.faults()[0].text.starts_with("'a' of [[item]] 'water' is '13.05.2031', expected a UTC time such as "));
  CHECK(table.faults()[0].source == at(1, 5));
  CHECK(table.faults()[1].rule == "value-type");
  CHECK(table.faults()[2].text.starts_with("'c' of [[item]] 'water' is '5/24:00', expected an elapsed time such as "));
  CHECK(table.faults()[3].rule == "time");
}

TEST_CASE("a list of times has to rise") {
  Table table("a = [\"2031-05-13T16:20Z\", \"2031-05-13T16:20Z\", \"2031-05-14T16:20Z\", \"2031-05-14T10:00Z\"]");
  const auto times = table->times("a", std::nullopt);
  CHECK(times.size() == 2);
  REQUIRE(table.faults().size() == 2);
  CHECK(table.faults()[0].rule == "time-order");
  CHECK(table.faults()[0].source == at(1, 27));
}

TEST_CASE("one of a closed list of words is asked for, and the nearest is offered") {
  static constexpr std::array<std::pair<std::string_view, int>, 3> words{
      {{"stock", 1}, {"cartridge", 2}, {"capacity", 3}}};
  Table good("sort = \"capacity\"");
  CHECK(good->choice<int>("sort", words, Need::required, 0) == 3);
  CHECK(good.is_sound());
  Table bad("sort = \"cartrige\"");
  CHECK(bad->choice<int>("sort", words, Need::required, 9) == 9);
  CHECK(bad.says(at(1, 8),
                 "'sort' of [[item]] 'water' is 'cartrige', expected one of stock, cartridge, capacity; did you mean "
                 "'cartridge'?",
                 "value-unknown"));
}

TEST_CASE("a key that nobody asked for is a fault at the key, with the nearest that was asked for") {
  Table table("title = \"Water\"\n\nresidul = 2\nzzz = 1");
  CHECK(table->text("title") == "Water");
  CHECK_FALSE(table->number_if_any("residual").has_value());
  table->finish();
  REQUIRE(table.faults().size() == 2);
  CHECK(table.faults()[0].text == "[[item]] 'water' has no use for the key 'residul'; did you mean 'residual'?");
  CHECK(table.faults()[0].source == at(3, 1));
  CHECK(table.faults()[0].rule == "key-unknown");
  CHECK(table.faults()[1].text == "[[item]] 'water' has no use for the key 'zzz'");
}

TEST_CASE("tables of an array come in the order of the file, and other values among them are faults") {
  Table table("[[item]]\nid = \"b\"\n[[item]]\nid = \"a\"");
  const auto items = table->tables("item", Need::required);
  REQUIRE(items.size() == 2);
  CHECK(items[0]->children.front().text == "b");
  CHECK(items[1]->children.front().text == "a");
  CHECK(table.is_sound());
  Table mixed("item = [1, { id = \"a\" }]");
  CHECK(mixed->tables("item").size() == 1);
  CHECK(mixed.faults().size() == 1);
  Table none("a = 1");
  CHECK(none->tables("item", Need::required).empty());
  CHECK(none.says(at(1, 1), "[[item]] 'water' has no 'item', expected at least one [[item]]", "key-missing"));
}

TEST_CASE("every fault of a table is reported in one go") {
  Table table("a = 1\nb = \"x\"\nc = -1\nd = 3");
  static_cast<void>(table->text("a"));
  static_cast<void>(table->number("b"));
  static_cast<void>(table->amount("c", Need::required));
  static_cast<void>(table->text("e"));
  table->finish();
  CHECK(table.faults().size() == 5);
}

TEST_CASE("control characters of the file do not reach the message") {
  Table table("sort = \"\\u001B[2J\\u202Ex\"");
  static constexpr std::array<std::pair<std::string_view, int>, 1> words{{{"stock", 1}}};
  CHECK(table->choice<int>("sort", words, Need::required, 0) == 0);
  REQUIRE(table.faults().size() == 1);
  CHECK(table.faults()[0].text == R"('sort' of [[item]] 'water' is '\x1B[2J\u{202E}x', expected one of stock)");
}
