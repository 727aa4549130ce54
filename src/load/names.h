// Checks that a named thing exists, with the nearest known name when it does not.
#pragma once

#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>

#include "load/utf8.h"
#include "model/diagnostic.h"
#include "model/suggest.h"

namespace daywright::load {

/// The names of one kind of thing, to be looked up in.
class Names {
 public:
  Names() = default;
  template <class Things>
  explicit Names(std::string_view kind, const Things& things) : kind_(kind) {
    for (const auto& thing : things) names_.push_back(thing.id);
    std::sort(names_.begin(), names_.end());
  }

  Names(std::string_view kind, const std::vector<std::string>& names) : kind_(kind), names_(names) {
    std::sort(names_.begin(), names_.end());
  }

  [[nodiscard]] bool empty() const { return names_.empty(); }
  [[nodiscard]] bool contains(std::string_view name) const {
    return std::binary_search(names_.begin(), names_.end(), name);
  }
  /// "unknown item 'watr', expected one that the plan or the rules name; did you mean 'water'?"
  [[nodiscard]] std::string complaint(std::string_view name) const {
    return fmt::format("unknown {} {}, expected one that the plan or the rules name{}", kind_, in_quotes(name),
                       model::did_you_mean(name, names_));
  }
  /// Adds a fault when there is no such name. An empty name is for others to complain about.
  void require(std::string_view name, model::Source at, model::Diagnostics& faults) const {
    if (name.empty() || contains(name)) return;
    faults.push_back({model::Severity::error, at, complaint(name), "name-unknown"});
  }

 private:
  std::string kind_;
  std::vector<std::string> names_;
};

}  // namespace daywright::load
