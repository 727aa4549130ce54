// How long the stages take on the demo's day 8. Run by hand: numbers depend on the machine, so no test judges them.
#include <benchmark/benchmark.h>

#include "cli/pipeline.h"
#include "cli/read_files.h"
#include "cli/templates.h"
#include "rules/estimate.h"
#include "write/json.h"
#include "write/markdown.h"
#include "write/page.h"
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

void wrap_the_page(benchmark::State& state) {
  const auto brief = write::render_brief(cli::brief_template, *evening().status);
  for (auto step : state) benchmark::DoNotOptimize(write::render_page(brief, cli::brief_style, *evening().status));
}
BENCHMARK(wrap_the_page)->Unit(benchmark::kMillisecond);

void write_the_status(benchmark::State& state) {
  for (auto step : state) benchmark::DoNotOptimize(write::render_status(*evening().status, {}));
}
BENCHMARK(write_the_status)->Unit(benchmark::kMillisecond);

void lay_out_the_workbook(benchmark::State& state) {
  for (auto step : state) benchmark::DoNotOptimize(write::lay_out_workbook(*evening().status, evening().cutoff));
}
BENCHMARK(lay_out_the_workbook)->Unit(benchmark::kMillisecond);

/// An item with two counts a day that stray evenly about the plan.
rules::ItemHistory counted_item(int counts) {
  rules::ItemHistory item;
  item.now = counts / 2.0;
  item.places = {{.mean = 100, .sd = 0.6}};
  item.daily_draw = 5;
  item.spans = {{.begin = 0, .end = item.now, .flows = {{.draw = 5 * item.now}}}};
  for (int i = 1; i <= counts; ++i)
    item.counts.push_back({.at = i / 2.0, .value = 100 - 2.5 * i + 0.3 * (i * 7 % 5 - 2), .sigma = 0.6});
  return item;
}

void estimate_twelve_items(benchmark::State& state) {
  const auto item = counted_item(28);
  for (auto step : state)
    for (int i = 0; i < 12; ++i) {
      const auto now = rules::estimate_level({}, item);
      benchmark::DoNotOptimize(rules::quantile_of(now.level(), 0.05));
    }
}
BENCHMARK(estimate_twelve_items)->Unit(benchmark::kMillisecond);

void estimate_from_ten_thousand_counts(benchmark::State& state) {
  const auto item = counted_item(10000);
  for (auto step : state) benchmark::DoNotOptimize(rules::estimate_level({}, item));
}
BENCHMARK(estimate_from_ten_thousand_counts)->Unit(benchmark::kMillisecond);

}  // namespace

BENCHMARK_MAIN();
