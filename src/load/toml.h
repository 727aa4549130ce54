// TOML as a tree of plain values that know where they stand.
//
// The TOML library is kept to one source file: it takes seconds to compile and needs a cure for malformed headers.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "model/diagnostic.h"

namespace daywright::load {

enum class NodeKind { table, list, text, whole, real, yes_no };

/// A value of a TOML file. Date-times become text in ISO 8601, so that times are read in one way.
struct Node {
  NodeKind kind = NodeKind::table;
  std::string key;       ///< inside a table
  model::Source at;      ///< of the value
  model::Source key_at;  ///< of the key, inside a table
  std::string text;
  long long whole = 0;
  double real = 0;
  bool yes = false;
  std::vector<Node> children;  ///< of a table or list, in the order of the file
};

/// The file as a table, or a table without children and a fault in `faults`.
///
/// The last thing in the file must be a table [end_of_file]: a file that was cut short may still be valid TOML, and
/// what was lost must not look like what was never asked for.
[[nodiscard]] Node parse_toml(std::string_view text, int file, model::Diagnostics& faults);

}  // namespace daywright::load
