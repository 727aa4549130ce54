// What is collected about a bag while it is read; bounded, whatever the bag holds.
#pragma once

#include <array>
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "record/bag.h"

namespace daywright::record {

inline constexpr std::size_t most_findings = 1000;

/// Untrusted text to put into a message: between quotes, short, nothing hidden in it.
[[nodiscard]] std::string in_quotes(std::string_view text);

class BagFindings {
 public:
  /// Keeps a finding, as long as there are not too many of its kind.
  void add(BagFault fault, std::string_view where, std::string what);
  /// The same about a line of a file, which makes the bag invalid.
  void add_line(std::string_view file, std::size_t number, std::string_view what);
  /// All in order, cut as Bag::findings says.
  [[nodiscard]] std::vector<BagFinding> take();

 private:
  /// Whether there is room for one more of its kind; where not, it is counted.
  bool has_room(BagFault fault);

  std::array<std::vector<BagFinding>, 3> kept_;  ///< by fault
  std::size_t left_out_ = 0;
  BagFault worst_left_out_ = BagFault::note;
};

}  // namespace daywright::record
