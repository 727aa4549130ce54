// How fast bags are judged; to be held against what `openssl speed -evp sha256` and `-evp sha512` say.
#include <benchmark/benchmark.h>

#include "record/bag.h"
#include "record/bag_builder.h"

using namespace daywright;

namespace {

/// Judges `count` bags of `files` files with `size` bytes each.
void judge_bags(benchmark::State& state, int count, int files, std::size_t size) {
  const test::TemporaryFolder work;
  for (int bag = 0; bag < count; ++bag) {
    const auto folder = work.path() / std::to_string(bag);
    for (int file = 0; file < files; ++file)
      test::put(folder / "data" / std::to_string(file % 4) / std::to_string(file), std::string(size, 'x'));
    test::put(folder / "bagit.txt", test::declaration());
    test::list_and_seal(folder);
  }
  std::int64_t bytes = 0;
  for (auto step : state) {
    for (int bag = 0; bag < count; ++bag)
      bytes += static_cast<std::int64_t>(record::read_bag(work.path() / std::to_string(bag)).bytes_read);
  }
  state.SetBytesProcessed(bytes);
}

void judge_a_thousand_small_bags(benchmark::State& state) { judge_bags(state, 1000, 20, 10'000); }
BENCHMARK(judge_a_thousand_small_bags)->Unit(benchmark::kMillisecond);

void judge_a_large_file(benchmark::State& state) { judge_bags(state, 1, 1, std::size_t{256} * 1024 * 1024); }
BENCHMARK(judge_a_large_file)->Unit(benchmark::kMillisecond);

}  // namespace
