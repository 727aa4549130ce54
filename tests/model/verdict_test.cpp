#include "model/verdict.h"

#include <algorithm>
#include <array>
#include <vector>

#include "catch_compat.h"

using daywright::model::combine;
using daywright::model::rank;
using daywright::model::Verdict;
using daywright::model::words;

namespace {

constexpr std::array all{Verdict::ready, Verdict::ready_with_conditions, Verdict::not_ready, Verdict::no_data};

/// Every sequence of at most `longest` verdicts, the empty one too: every multiset in every order.
std::vector<std::vector<Verdict>> sequences(std::size_t longest) {
  std::vector<std::vector<Verdict>> result{{}};
  for (std::size_t begin = 0, length = 0; length < longest; ++length) {
    const std::size_t end = result.size();
    for (std::size_t i = begin; i < end; ++i) {
      for (const Verdict v : all) {
        auto longer = result[i];
        longer.push_back(v);
        result.push_back(std::move(longer));
      }
    }
    begin = end;
  }
  return result;
}

/// The slow obvious answer: two verdicts at a time, by a table that is written out (design 4.4).
Verdict worse_of(Verdict a, Verdict b) {
  using enum Verdict;
  constexpr std::array<std::array<Verdict, 4>, 4> table{{
      // ready                 with conditions        not ready  no data
      {ready, ready_with_conditions, not_ready, no_data},                  // ready
      {ready_with_conditions, ready_with_conditions, not_ready, no_data},  // with conditions
      {not_ready, not_ready, not_ready, not_ready},                        // not ready
      {no_data, no_data, not_ready, no_data},                              // no data
  }};
  return table.at(static_cast<std::size_t>(a)).at(static_cast<std::size_t>(b));
}

Verdict combine_slowly(const std::vector<Verdict>& verdicts) {
  if (verdicts.empty()) return Verdict::no_data;
  Verdict worst = verdicts.front();
  for (const Verdict v : verdicts) worst = worse_of(worst, v);
  return worst;
}

}  // namespace

TEST_CASE("up to four verdicts combine as the table of pairs says, in every order") {
  const auto cases = sequences(4);
  REQUIRE(cases.size() == 1 + 4 + 16 + 64 + 256);
  for (const auto& verdicts : cases) {
    CAPTURE(verdicts.size());
    CHECK(combine(verdicts) == combine_slowly(verdicts));
  }
}

TEST_CASE("a gate without a single criterion has no data") { CHECK(combine({}) == Verdict::no_data); }

TEST_CASE("NOT READY is said before NO DATA: what is known to be wrong does not hide behind what is unknown") {
  CHECK(combine(std::array{Verdict::no_data, Verdict::not_ready}) == Verdict::not_ready);
}

TEST_CASE("the rank of a gate is the lowest rank of its criteria") {
  for (const auto& verdicts : sequences(4)) {
    if (verdicts.empty()) continue;
    int lowest = 2;
    for (const Verdict v : verdicts) lowest = std::min(lowest, rank(v));
    CHECK(rank(combine(verdicts)) == lowest);
  }
}

TEST_CASE("turning any criterion into NO DATA never raises the rank of a gate") {
  for (const auto& verdicts : sequences(4)) {
    for (std::size_t lost = 0; lost < verdicts.size(); ++lost) {
      auto less = verdicts;
      less[lost] = Verdict::no_data;
      CHECK(rank(combine(less)) <= rank(combine(verdicts)));
    }
  }
}

TEST_CASE("one criterion alone decides its gate") {
  for (const Verdict v : all) CHECK(combine(std::array{v}) == v);
}

TEST_CASE("the rank is 2 for READY, 1 with conditions and 0 for both others") {
  CHECK(rank(Verdict::ready) == 2);
  CHECK(rank(Verdict::ready_with_conditions) == 1);
  CHECK(rank(Verdict::not_ready) == 0);
  CHECK(rank(Verdict::no_data) == 0);
}

TEST_CASE("a verdict is never printed as a call: neither GO nor NO-GO") {
  CHECK(words(Verdict::ready) == "READY");
  CHECK(words(Verdict::ready_with_conditions) == "READY WITH CONDITIONS");
  CHECK(words(Verdict::not_ready) == "NOT READY");
  CHECK(words(Verdict::no_data) == "NO DATA");
}
