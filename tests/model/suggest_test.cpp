#include "model/suggest.h"

#include <string>
#include <vector>

#include "catch_compat.h"

using daywright::model::did_you_mean;

namespace {

const std::vector<std::string> items{"water", "waste_water", "oxygen", "nitrogen", "co2_cartridge", "food", "o2", "n2"};

std::string hint(const std::string& name) { return "; did you mean '" + name + "'?"; }

}  // namespace

TEST_CASE("one slip of the finger is offered its cure") {
  CHECK(did_you_mean("watr", items) == hint("water"));    // left out
  CHECK(did_you_mean("waterr", items) == hint("water"));  // doubled
  CHECK(did_you_mean("watet", items) == hint("water"));   // beside it
  CHECK(did_you_mean("wtaer", items) == hint("water"));   // swapped
  CHECK(did_you_mean("Water", items) == hint("water"));   // upper case is no other letter
  CHECK(did_you_mean("oxigen", items) == hint("oxygen"));
}

TEST_CASE("more slips are forgiven to longer names") {
  CHECK(did_you_mean("co2_cartriges", items) == hint("co2_cartridge"));
  CHECK(did_you_mean("nitrgoenn", items) == hint("nitrogen"));
  CHECK(did_you_mean("waste-watr", items) == hint("waste_water"));
}

TEST_CASE("nothing is offered when no name is near") {
  CHECK(did_you_mean("propellant", items).empty());
  CHECK(did_you_mean("battery", items).empty());
  CHECK(did_you_mean("xyz", items).empty());
  CHECK(did_you_mean("water", {}).empty());
  CHECK(did_you_mean(std::string(1000, 'w'), items).empty());
}

TEST_CASE("at most a third of the letters may differ") {
  const std::vector<std::string> one{"abcdef"};
  CHECK(did_you_mean("abcdxy", one) == hint("abcdef"));  // 2 of 6
  CHECK(did_you_mean("abcxyz", one).empty());            // 3 of 6
  const std::vector<std::string> nine{"abcdefghi"};
  CHECK(did_you_mean("abcdefxyz", nine) == hint("abcdefghi"));  // 3 of 9
  CHECK(did_you_mean("abcdewxyz", nine).empty());               // 4 of 9
}

TEST_CASE("the nearest of several names is offered, the first of two that are as near") {
  const std::vector<std::string> two{"tank_a", "tank_b"};
  CHECK(did_you_mean("tank_bb", two) == hint("tank_b"));
  CHECK(did_you_mean("tank_c", two) == hint("tank_a"));
}
