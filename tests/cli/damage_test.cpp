// Losing evidence never raises a readiness rank: every input file of the demo deleted, cut short, or with a cell set
// to nonsense. A seeded sample by default; everything when DAYWRIGHT_FULL is set.
#include <cstdlib>
#include <map>
#include <random>

#include "catch_compat.h"
#include "cli/pipeline.h"
#include "cli/read_files.h"

using namespace daywright;

namespace {

using Files = std::vector<model::InputFile>;
using Ranks = std::map<std::string, int>;

const Files& demo() {
  static const Files files = cli::read_mission(DEMO).files;
  return files;
}

/// The rank of every coming gate; empty when there is no brief at all.
Ranks ranks_of(const Files& files) {
  Ranks ranks;
  const auto result = cli::run_stages(files, {8, std::nullopt});
  if (!result.status) return ranks;
  for (const auto& figure : result.status->figures) {
    const auto* verdict = std::get_if<model::Verdict>(&figure.value);
    const bool is_gate = figure.id.starts_with("gate.") && std::count(figure.id.begin(), figure.id.end(), '.') == 2;
    if (verdict != nullptr && is_gate) ranks[figure.id] = model::rank(*verdict);
  }
  return ranks;
}

const Ranks& sound_ranks() {
  static const Ranks ranks = ranks_of(demo());
  return ranks;
}

void check_no_rank_rises(const Files& damaged, const std::string& what) {
  for (const auto& [gate, rank] : ranks_of(damaged)) {
    INFO(what << ": " << gate);
    CHECK(rank <= sound_ranks().at(gate));
  }
}

bool full() { return std::getenv("DAYWRIGHT_FULL") != nullptr; }

}  // namespace

TEST_CASE("the undamaged demo has a READY gate, one that is NOT READY and one with NO DATA") {
  const auto result = cli::run_stages(demo(), {8, std::nullopt});
  REQUIRE(result.status);
  CHECK(result.status->find("gate.eva_3.verdict")->text == "READY");
  CHECK(result.status->find("gate.undock.verdict")->text == "NOT READY");
  CHECK(result.status->find("gate.entry.verdict")->text == "NO DATA");
}

TEST_CASE("no rank rises when an input file is deleted") {
  for (std::size_t i = 0; i < demo().size(); ++i) {
    Files damaged = demo();
    damaged.erase(damaged.begin() + static_cast<std::ptrdiff_t>(i));
    check_no_rank_rises(damaged, demo()[i].name + " deleted");
  }
}

TEST_CASE("no rank rises when an input file is cut short") {
  std::mt19937 random(20310513);  // NOLINT: a fixed seed is the point
  std::size_t cuts = 0;
  for (std::size_t i = 0; i < demo().size(); ++i) {
    const std::size_t size = demo()[i].text.size();
    const std::size_t tries = full() ? size : std::min<std::size_t>(size, 1);
    for (std::size_t n = 0; n < tries; ++n) {
      const std::size_t at = full() ? n : std::uniform_int_distribution<std::size_t>(0, size - 1)(random);
      Files damaged = demo();
      damaged[i].text.resize(at);
      check_no_rank_rises(damaged, demo()[i].name + " cut at byte " + std::to_string(at));
      ++cuts;
    }
  }
  WARN("cuts tried: " << cuts);
}

TEST_CASE("a cell set to nonsense raises no rank") {
  std::mt19937 random(8);  // NOLINT: a fixed seed is the point
  std::size_t cells = 0;
  for (std::size_t i = 0; i < demo().size(); ++i) {
    const std::string& text = demo()[i].text;
    if (!demo()[i].name.ends_with(".csv")) continue;
    for (std::size_t begin = text.find('\n') + 1; begin < text.size();) {
      const auto end = std::min(text.find_first_of(",;\n", begin), text.size());
      const bool is_chosen = full() || std::uniform_int_distribution<int>(0, 119)(random) == 0;
      if (is_chosen && end > begin && text[begin] != '"') {
        Files damaged = demo();
        damaged[i].text.replace(begin, end - begin, "?!");
        check_no_rank_rises(damaged, demo()[i].name + " at byte " + std::to_string(begin));
        ++cells;
      }
      begin = end + 1;
    }
  }
  WARN("cells tried: " << cells);
}
