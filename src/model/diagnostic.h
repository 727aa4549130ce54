// Where something stands in the inputs, and what is to be said about it.
//
// Every value that comes from a file keeps its Source, so a late finding can still name its line.
// Diagnostics are values: each stage collects them and returns them with what it could use.
#pragma once

#include <compare>
#include <string>
#include <vector>

namespace daywright::model {

/// A place in one of the input files. Lines and columns count from 1; a column is one character.
struct Source {
  int file = -1;  ///< index into the inputs of the run; -1 means "no file"
  int line = 0;
  int column = 0;

  [[nodiscard]] bool is_known() const { return file >= 0; }
  auto operator<=>(const Source&) const = default;
};

enum class Severity { note, warning, error };

/// One thing to tell the user: what is wrong, where, and the stable name of the rule behind it.
struct Diagnostic {
  Severity severity = Severity::error;
  Source source;
  std::string text;
  std::string rule;

  bool operator==(const Diagnostic&) const = default;
};

using Diagnostics = std::vector<Diagnostic>;

/// One input as the edge read it: its path below the mission folder, and its bytes.
struct InputFile {
  std::string name;
  std::string text;
};

}  // namespace daywright::model
