// How much of one resource is left as activities take their share of it.
//
// Pure.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

namespace daywright::rules {

struct FitResource;

/// Times and lengths in whole minutes.
using Minutes = std::int64_t;

/// What is as far from zero counts as never, two million years. Sums of such times are exact, in a double as well.
inline constexpr Minutes never = Minutes{1} << 40;

/// The free capacity of a resource over time, as steps: it changes where a window or what was taken begins or ends.
class FreeCapacity {
 public:
  /// All that the windows of `resource` have. Of a window that overlaps an earlier one only the rest counts.
  explicit FreeCapacity(const FitResource& resource);

  /// The same with time running backwards: what was free from a to b is free from -b to -a.
  [[nodiscard]] FreeCapacity mirrored() const;

  /// The first start at or after `from` with `amount` free for all of `minutes`. Requires both above 0, and no time
  /// beyond twice `never`.
  [[nodiscard]] std::optional<Minutes> find(Minutes from, Minutes minutes, std::int64_t amount) const;

  /// Takes `amount` from `begin` to `end`. Requires begin < end, and that it is free.
  void take(Minutes begin, Minutes end, std::int64_t amount);

  [[nodiscard]] bool is_empty() const { return steps_.empty(); }
  /// Where the first window begins and the last ends. Requires that there is one.
  [[nodiscard]] Minutes begin() const { return steps_.front().begin; }
  [[nodiscard]] Minutes end() const { return steps_.back().begin; }

 private:
  struct Step {
    Minutes begin;
    std::int64_t free;
  };
  FreeCapacity() = default;
  [[nodiscard]] std::size_t split(Minutes at);

  std::vector<Step> steps_;  ///< in order; nothing is free before the first, nor from the last on
};

}  // namespace daywright::rules
