// The two published ledgers of tests/data/ledger, which say where they are from.
#pragma once

#include <cstdlib>
#include <fstream>
#include <string>
#include <vector>

#include "catch_compat.h"

namespace daywright::test {

struct PublishedLine {
  std::string table;
  std::string text;
  std::string kind;
  double amount = 0;     ///< lb
  double remainder = 0;  ///< lb, as printed beside it
};

inline std::vector<PublishedLine> published_ledgers() {
  std::ifstream file(TEST_DATA "/ledger/apollo11_margin_ledgers_lb.csv");
  std::vector<PublishedLine> lines;
  std::string row;
  std::getline(file, row);  // the names of the columns
  while (std::getline(file, row)) {
    std::vector<std::string> cells;  // no cell before the last holds a comma
    for (std::size_t from = 0; cells.size() < 6;) {
      const auto to = row.find(',', from);
      cells.push_back(row.substr(from, to - from));
      from = to + 1;
    }
    lines.push_back(
        {cells[0], cells[2], cells[3], std::strtod(cells[4].c_str(), nullptr), std::strtod(cells[5].c_str(), nullptr)});
  }
  REQUIRE(lines.size() == 19);
  return lines;
}

}  // namespace daywright::test
