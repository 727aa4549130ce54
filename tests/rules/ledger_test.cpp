// Budgets line by line. All items and quantities are invented, but for the one test that names its source.
#include "rules/ledger.h"

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "builders.h"
#include "published_ledgers.h"
#include "rules/status.h"

using daywright::model::DayStatus;
using daywright::model::Item;
using daywright::model::LedgerKind;
using daywright::model::LedgerLine;
using daywright::model::round_to;
using daywright::model::Rounding;
using daywright::model::Source;
using daywright::rules::running_remainders;
using daywright::test::day;
using daywright::test::EveningScene;
using daywright::test::make_item;
using daywright::test::number_of;
using daywright::test::published_ledgers;
using namespace std::string_literals;

namespace {

using Ledger = std::vector<LedgerLine>;
using Lines = std::vector<std::string>;
using Numbers = std::vector<double>;

LedgerLine make_line(LedgerKind kind, double quantity, std::string text = "a line") {
  return {std::move(text), kind, quantity, {}};
}

LedgerLine load(double quantity) { return make_line(LedgerKind::load, quantity, "loaded"); }
LedgerLine use(double quantity) { return make_line(LedgerKind::nominal, quantity, "used"); }

/// What is left after each line as it is shown: rounded down.
std::vector<double> shown(const Ledger& ledger, double step = 0.1) {
  std::vector<double> remainders = running_remainders(ledger, step);
  for (double& remainder : remainders) remainder = round_to(remainder, step, Rounding::down);
  return remainders;
}

/// One item 'gas', in kg, with this ledger, and one without.
struct Scene : EveningScene {
  explicit Scene(Ledger ledger) : EveningScene(day(1)) {
    Item gas = make_item("gas");
    gas.title = "Gas 2";
    gas.ledger = std::move(ledger);
    mission.items = {make_item("food"), gas};
    today.number = 2;
  }
};

/// The rows of a table, cells parted by bars.
Lines rows_of(const DayStatus& status, const std::string& name) {
  const auto* table = status.find_table(name);
  REQUIRE(table != nullptr);
  Lines rows;
  for (const auto& row : table->rows) {
    std::string text;
    for (std::size_t c = 0; c < row.size(); ++c)
      text += (c > 0 ? "|" : "") + status.text_of(row.at(c), table->columns.at(c));
    rows.push_back(std::move(text));
  }
  return rows;
}

}  // namespace

TEST_CASE("a load adds and every other kind takes away") {
  const std::vector<std::pair<LedgerKind, double>> left{{LedgerKind::load, 13},       {LedgerKind::unusable, 7},
                                                        {LedgerKind::gauging, 7},     {LedgerKind::nominal, 7},
                                                        {LedgerKind::contingency, 7}, {LedgerKind::dispersion, 7}};
  for (const auto& [kind, remainder] : left) {
    CAPTURE(std::string(name_of(kind)));
    CHECK(running_remainders(Ledger{load(10), make_line(kind, 3)}, 0.1) == Numbers{10.0, remainder});
  }
}

TEST_CASE("no lines leave no remainders") { CHECK(running_remainders(Ledger{}, 0.1).empty()); }

TEST_CASE("more budgeted than loaded is a remainder below zero, and a later load makes up for it") {
  CHECK(shown({load(1), use(1), use(0.1), load(0.3)}) == Numbers{1, 0, -0.1, 0.2});
}

TEST_CASE("tenths taken from a load leave the right tenth at every line") {
  Ledger ledger{load(1000)};
  for (int i = 1; i <= 9999; ++i) ledger.push_back(use(0.1));
  const auto remainders = shown(ledger);
  for (int i = 0; i <= 9999; ++i) {
    CAPTURE(i);
    CHECK(remainders.at(static_cast<std::size_t>(i)) == (10000 - i) / 10.0);
  }
}

TEST_CASE("the right tenth is left of a load of ten million, of which a binary number can't hold the tenths") {
  REQUIRE(round_to(10'000'000.1 - 9'999'999.9, 0.1, Rounding::down) == 0.1);  // what subtracting alone would show
  CHECK(shown({load(10'000'000.1), use(9'999'999.9)}) == Numbers{10'000'000.1, 0.2});
  CHECK(shown({load(10'000'000.1), use(0.1), use(9'999'999.9)}) == Numbers{10'000'000.1, 10'000'000.0, 0.1});
}

TEST_CASE("what is left is shown rounded down, below zero too, and the next line counts on from what was not rounded") {
  CHECK(shown({load(1), use(0.91)}) == Numbers{1, 0.0});
  CHECK(shown({load(1), use(0.90)}) == Numbers{1, 0.1});
  CHECK(shown({load(1), use(0.04), use(0.04), use(0.02)}) == Numbers{1, 0.9, 0.9, 0.9});
  CHECK(shown({load(1), use(0.04), use(0.04), use(0.03)}) == Numbers{1, 0.9, 0.9, 0.8});
  CHECK(shown({load(1), use(1.01)}) == Numbers{1, -0.1});
}

TEST_CASE("a part of a step that is no dust is not counted, however small beside the load") {
  CHECK(shown({load(100'000), use(99'999.90001)}).back() == 0);
  CHECK(shown({load(100'000), use(99'999.89999)}).back() == 0.1);
}

TEST_CASE("a ledger is entered line by line with amounts as given and remainders rounded down") {
  const Scene scene({load(12.5), make_line(LedgerKind::gauging, 0.26, "gauge 7"), use(4)});
  const auto status = scene.status();
  CHECK(rows_of(status, "ledger") ==
        Lines{"Gas 2|loaded|load|12.5|12.5|kg", "Gas 2|gauge 7|gauging|0.3|12.2|kg", "Gas 2|used|nominal|4.0|8.2|kg"});
  CHECK(number_of(status, "item.gas.ledger.2.amount") == 0.3);
  CHECK(number_of(status, "item.gas.ledger.2.remainder") == 12.2);
  CHECK(number_of(status, "item.gas.ledger.3.remainder") == 8.2);
  CHECK(number_of(status, "item.gas.ledger.remainder") == 8.2);
  CHECK(status.find("item.gas.ledger.4.amount") == nullptr);
  CHECK(status.find("item.food.ledger.remainder") == nullptr);
  CHECK(rows_of(status, "ledger_items") == Lines{"Gas 2"});
}

TEST_CASE("remainders keep to the step of their item") {
  Scene scene({load(12.5), use(4.2)});
  scene.mission.items.back().step = 0.5;
  CHECK(rows_of(scene.status(), "ledger") == Lines{"Gas 2|loaded|load|12.5|12.5|kg", "Gas 2|used|nominal|4.0|8.0|kg"});
}

TEST_CASE("each remainder is explained by the one before it and by its line with its place") {
  Ledger ledger{load(12.5), use(0.26), load(1)};
  for (std::size_t i = 0; i < ledger.size(); ++i) ledger[i].source = Source{0, 40 + static_cast<int>(i), 1};
  const auto status = Scene(ledger).status();
  const auto& first = status.find("item.gas.ledger.1.remainder")->trace;
  REQUIRE(first.inputs.size() == 1);
  CHECK(first.inputs[0].source.line == 40);
  const auto& second = status.find("item.gas.ledger.2.remainder")->trace;
  CHECK_THAT(second.formula, Catch::Matchers::ContainsSubstring("less this line"));
  REQUIRE(second.inputs.size() == 2);
  CHECK(second.inputs[0].figure == "item.gas.ledger.1.remainder");
  CHECK(second.inputs[1].name == "used");
  CHECK(second.inputs[1].text == "0.26 kg");
  CHECK(second.inputs[1].source.line == 41);
  CHECK_THAT(status.find("item.gas.ledger.3.remainder")->trace.formula,
             Catch::Matchers::ContainsSubstring("plus this line"));
  const auto& last = status.find("item.gas.ledger.remainder")->trace;
  REQUIRE(last.inputs.size() == 1);
  CHECK(last.inputs[0].figure == "item.gas.ledger.3.remainder");
}

TEST_CASE("without a ledger there are no rows and nothing to say") {
  const auto status = Scene({}).status();
  CHECK(rows_of(status, "ledger").empty());
  CHECK(rows_of(status, "ledger_items").empty());
  CHECK(status.find("ledger.items") == nullptr);
}

TEST_CASE("a ledger is shown beside the margins and changes none of them") {
  Scene scene({});
  scene.mission.items.back().per_day = 1;
  scene.facts.counts = {daywright::test::make_count("gas", 20, day(1))};
  const auto without = scene.status();
  scene.mission.items.back().ledger = {load(5), use(4)};
  const auto with = scene.status();
  CHECK(number_of(without, "item.gas.margin.units") == 11);
  CHECK(number_of(with, "item.gas.margin.units") == 11);
}

TEST_CASE("two published ledgers leave what is printed beside each of their lines") {
  // NASA MSC, Apollo 11 Final Flight Plan, 1 July 1969, tables 5-4 and 5-8, in pounds.
  const std::map<std::string, LedgerKind> kinds{{"load", LedgerKind::load},
                                                {"unusable", LedgerKind::unusable},
                                                {"nominal", LedgerKind::nominal},
                                                {"contingency", LedgerKind::contingency},
                                                {"dispersion", LedgerKind::dispersion}};
  std::map<std::string, std::pair<Ledger, std::vector<double>>> tables;
  for (const auto& line : published_ledgers()) {
    auto& [ledger, printed] = tables[line.table];
    ledger.push_back(make_line(kinds.at(line.kind), line.amount, line.text));
    printed.push_back(line.remainder);
  }
  REQUIRE(tables.size() == 2);
  CHECK(tables["5-4"].first.size() == 11);
  CHECK(tables["5-8"].first.size() == 8);
  for (const auto& [name, table] : tables) {
    CAPTURE(name);
    CHECK(shown(table.first) == table.second);
  }
}
