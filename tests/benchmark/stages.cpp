// How long the stages take on the demo's day 8. Run by hand: numbers depend on the machine, so no test judges them.
#include <benchmark/benchmark.h>

#include "cli/pipeline.h"
#include "cli/read_files.h"
#include "cli/templates.h"
#include "write/json.h"
#include "write/markdown.h"
#include "write/workbook.h"

using namespace daywright;

namespace {

const std::vector<model::InputFile>& demo() {
  static const auto files = cli::read_mission(DEMO).files;
  return files;
}

const cli::RunResult& evening() {
  static const auto result = cli::run_stages(demo(), {8, std::nullopt});
  return result;
}

void read_the_files(benchmark::State& state) {
  for (auto step : state) benchmark::DoNotOptimize(cli::read_mission(DEMO));
}
BENCHMARK(read_the_files)->Unit(benchmark::kMillisecond);

void load_merge_and_judge(benchmark::State& state) {
  for (auto step : state) benchmark::DoNotOptimize(cli::run_stages(demo(), {8, std::nullopt}));
}
BENCHMARK(load_merge_and_judge)->Unit(benchmark::kMillisecond);

void write_the_brief(benchmark::State& state) {
  for (auto step : state) benchmark::DoNotOptimize(write::render_brief(cli::brief_template, *evening().status));
}
BENCHMARK(write_the_brief)->Unit(benchmark::kMillisecond);

void write_the_status(benchmark::State& state) {
  for (auto step : state) benchmark::DoNotOptimize(write::render_status(*evening().status, {}));
}
BENCHMARK(write_the_status)->Unit(benchmark::kMillisecond);

void lay_out_the_workbook(benchmark::State& state) {
  for (auto step : state) benchmark::DoNotOptimize(write::lay_out_workbook(*evening().status, evening().cutoff));
}
BENCHMARK(lay_out_the_workbook)->Unit(benchmark::kMillisecond);

}  // namespace

BENCHMARK_MAIN();
