// How fast one figure is told over a thousand filed days: the whole command, from its start to its end.
#include <benchmark/benchmark.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <stdexcept>

#include <fmt/format.h>

#include "cli/pipeline.h"
#include "cli/read_files.h"
#include "record/bag_builder.h"
#include "record/digest.h"
#include "record/series.h"
#include "record/signoff.h"
#include "write/json.h"

using namespace daywright;

namespace {

/// Files the demo's status as each of so many days, in bags that also list as many inputs as a month of it has.
void file_days(const std::filesystem::path& archive, int count) {
  const std::string status =
      write::render_status(*cli::run_stages(cli::read_mission(DEMO).files, {8, std::nullopt}).status, {});
  std::string inputs;
  for (int i = 0; i < 400; ++i)
    inputs += fmt::format("{}  data/inputs/days/{:03}/log-{}.csv\n", record::sha256_hex(std::to_string(i)), i / 13, i);
  std::string digest(record::no_record);
  for (int number = 1; number <= count; ++number) {
    const auto bag = archive / record::name_of_member(number);
    test::put(bag / "data/outputs/status.json", status);
    test::put(bag / "bagit.txt", test::declaration());
    test::put(bag / "bag-info.txt",
              fmt::format("Archive-Number: {0}\nMission: Petrel 3\nMission-Day: {0}\nDay-Revision: 1\n"
                          "Previous-Digest: {1}\n",
                          number, digest));
    test::list(bag, "sha256", false);
    std::ofstream(bag / "manifest-sha256.txt", std::ios::app) << inputs;
    test::seal(bag, {"sha512"});
    digest = record::sha256_hex(test::bytes_of(bag / "tagmanifest-sha512.txt"));
  }
}

void run_over_a_thousand_days(benchmark::State& state, const char* figure) {
  static const test::TemporaryFolder work;
  static const bool is_filed = (file_days(work.path(), 1000), true);
  const std::string command = fmt::format("'{}' history '{}' {} >/dev/null", DAYWRIGHT, work.path().string(), figure);
  for (auto step : state) {
    // NOLINTNEXTLINE(concurrency-mt-unsafe): the only thread
    if (!is_filed || std::system(command.c_str()) != 0) throw std::runtime_error("cannot run " + command);
  }
}

void tell_a_figure_of_a_thousand_days(benchmark::State& state) { run_over_a_thousand_days(state, "item.water.level"); }
BENCHMARK(tell_a_figure_of_a_thousand_days)->Unit(benchmark::kMillisecond)->UseRealTime();

void score_a_thousand_days(benchmark::State& state) { run_over_a_thousand_days(state, ""); }
BENCHMARK(score_a_thousand_days)->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
