// Data sets of NIST StRD, which tests/data/strd/README.md says more of.
#pragma once

#include <cstddef>
#include <fstream>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "catch_compat.h"

namespace daywright::test {

/// The points (x, y) of a data set, in the order of its file: the numbers after the second line that begins with
/// "Data:". There have to be `size` of them.
inline std::vector<std::pair<double, double>> read_strd(const std::string& name, std::size_t size) {
  std::ifstream file(TEST_DATA "/strd/" + name);
  REQUIRE(file);
  std::vector<std::pair<double, double>> points;
  int headings = 0;
  for (std::string line; std::getline(file, line);) {
    if (line.starts_with("Data:")) {
      ++headings;
      continue;
    }
    std::istringstream numbers(line);
    double y = 0;
    double x = 0;
    if (headings == 2 && numbers >> y >> x) points.emplace_back(x, y);
  }
  REQUIRE(points.size() == size);
  return points;
}

}  // namespace daywright::test
