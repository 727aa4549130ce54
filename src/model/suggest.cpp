#include "model/suggest.h"

#include <algorithm>
#include <cctype>
#include <vector>

namespace daywright::model {
namespace {

/// Edits between two names, upper and lower case taken as the same (optimal string alignment).
std::size_t edits_between(std::string_view a, std::string_view b) {
  const auto lower = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; };
  std::vector<std::vector<std::size_t>> cost(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) cost[i][0] = i;
  for (std::size_t j = 0; j <= b.size(); ++j) cost[0][j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const bool same = lower(a[i - 1]) == lower(b[j - 1]);
      cost[i][j] = std::min({cost[i - 1][j] + 1, cost[i][j - 1] + 1, cost[i - 1][j - 1] + (same ? 0U : 1U)});
      const bool swapped = i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) && lower(a[i - 2]) == lower(b[j - 1]);
      if (swapped) cost[i][j] = std::min(cost[i][j], cost[i - 2][j - 2] + 1);
    }
  }
  return cost[a.size()][b.size()];
}

}  // namespace

std::string did_you_mean(std::string_view unknown, std::span<const std::string> known) {
  constexpr std::size_t longest_worth_comparing = 64;
  if (unknown.size() > longest_worth_comparing) return {};
  const std::string* nearest = nullptr;
  std::size_t fewest = std::max<std::size_t>(1, unknown.size() / 3) + 1;
  for (const std::string& name : known) {
    if (name.size() > longest_worth_comparing) continue;
    const std::size_t edits = edits_between(unknown, name);
    if (edits < fewest) {
      fewest = edits;
      nearest = &name;
    }
  }
  return nearest != nullptr ? "; did you mean '" + *nearest + "'?" : std::string{};
}

}  // namespace daywright::model
