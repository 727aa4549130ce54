#include "record/bag_findings.h"

#include <algorithm>
#include <tuple>
#include <utility>

#include <fmt/format.h>

#include "model/printable.h"

namespace daywright::record {

std::string in_quotes(std::string_view text) {
  constexpr std::size_t most = 120;
  return fmt::format("'{}{}'", model::printable(text.substr(0, most)), text.size() > most ? "…" : "");
}

bool BagFindings::has_room(BagFault fault) {
  if (kept_.at(static_cast<std::size_t>(fault)).size() < most_findings) return true;
  ++left_out_;
  worst_left_out_ = std::max(worst_left_out_, fault);
  return false;
}

void BagFindings::add(BagFault fault, std::string_view where, std::string what) {
  if (has_room(fault))
    kept_.at(static_cast<std::size_t>(fault)).push_back({fault, std::string(where), std::move(what)});
}

void BagFindings::add_line(std::string_view file, std::size_t number, std::string_view what) {
  if (has_room(BagFault::invalid)) add(BagFault::invalid, file, fmt::format("line {}: {}", number, what));
}

std::vector<BagFinding> BagFindings::take() {
  const auto is_before = [](const BagFinding& one, const BagFinding& other) {
    return std::tie(one.where, one.what) < std::tie(other.where, other.what);
  };
  std::vector<BagFinding> all;
  for (auto same = kept_.rbegin(); same != kept_.rend(); ++same) {
    std::sort(same->begin(), same->end(), is_before);
    std::move(same->begin(), same->end(), std::back_inserter(all));
  }
  if (all.size() + (left_out_ > 0 ? 1 : 0) > most_findings) {
    left_out_ += all.size() - (most_findings - 1);
    worst_left_out_ = std::max(worst_left_out_, all.at(most_findings - 1).fault);
    all.resize(most_findings - 1);
  }
  if (left_out_ > 0) all.push_back({worst_left_out_, "", fmt::format("{} more findings are left out here", left_out_)});
  return all;
}

}  // namespace daywright::record
