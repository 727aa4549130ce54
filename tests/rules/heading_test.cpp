// What the brief says first of all supplies together. All items and quantities are invented.
#include <cmath>
#include <string>

#include "builders.h"
#include "rules/status.h"

using daywright::model::DayStatus;
using daywright::model::LedgerKind;
using daywright::test::day;
using daywright::test::EveningScene;
using daywright::test::make_count;
using daywright::test::make_item;
using daywright::test::number_of;

namespace {

/// Ten days of three persons who use 1 kg of each item a day; it is day 2, and everything was counted every day as
/// planned. Everything is judged by the defaults.
struct Scene : EveningScene {
  Scene() : EveningScene(day(2)) { rules.margins = {}; }

  /// `at_launch`: kg aboard at launch.
  void add(const std::string& id, double at_launch) {
    mission.items.push_back(make_item(id, "kg", 1));
    mission.items.back().sigma = {{"gauge", 1}};
    for (int number = 0; number <= 2; ++number)
      facts.counts.push_back(make_count(id, at_launch - 3 * number, day(number)));
  }
};

}  // namespace

TEST_CASE("the chance that all items last is their product, and at the least one less what each lacks") {
  Scene scene;
  scene.add("water", 31);
  scene.add("food", 32);
  const DayStatus status = scene.status();
  const double water = number_of(status, "item.water.lasts.chance") / 100;
  const double food = number_of(status, "item.food.lasts.chance") / 100;
  CHECK(water < food);
  CHECK(food < 1);
  REQUIRE(100 * (1 - water) * (1 - food) > 4);  // what is below the product by less could be taken for it
  // The chances of the items are rounded down to the per cent before they are shown.
  CHECK(std::abs(number_of(status, "supplies.chance") - 100 * water * food) < 2);
  CHECK(std::abs(number_of(status, "supplies.chance_at_least") - 100 * (water + food - 1)) < 2);
  CHECK(number_of(status, "supplies.chance_at_least") <= number_of(status, "supplies.chance"));
}

TEST_CASE("where nothing says how long one item lasts, nothing says how long all do") {
  Scene scene;
  scene.add("water", 60);
  scene.add("food", 60);
  REQUIRE(number_of(scene.status(), "supplies.chance") >= 99);
  std::erase_if(scene.facts.counts, [](const auto& count) { return count.row.item == "food"; });
  const DayStatus status = scene.status();
  for (const char* id : {"supplies.chance", "supplies.chance_at_least"}) {
    CHECK(status.find(id)->text == "NO DATA");
    CHECK_FALSE(status.find(id)->doubts.empty());
  }
}

TEST_CASE("an item with a ledger lasts for sure or surely not") {
  Scene scene;
  scene.add("water", 60);
  scene.add("gas", 60);
  scene.mission.items.back().ledger = {{"loaded", LedgerKind::load, 60, {}}};
  CHECK(number_of(scene.status(), "supplies.chance") >= 99);
  for (auto& count : scene.facts.counts) {
    if (count.row.item == "gas") count.row.quantity -= 40;
  }
  CHECK(number_of(scene.status(), "supplies.chance") == 0);
  CHECK(number_of(scene.status(), "supplies.chance_at_least") == 0);
}
