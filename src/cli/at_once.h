// The same work on many things, on all cores.
#pragma once

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <future>
#include <thread>
#include <vector>

namespace daywright::cli {

/// Calls `work(i)` for each i below `count`, several at once and in no order; returns when all are done. `work` has to
/// keep to what is the i-th's. Rethrows what a call throws; of the others some may then not have been made.
template <class Work>
void for_each_at_once(std::size_t count, const Work& work) {
  std::atomic<std::size_t> next = 0;
  const auto take = [&] {
    for (std::size_t i = next++; i < count; i = next++) work(i);
  };
  std::vector<std::future<void>> workers;
  for (unsigned i = 1; i < std::max(1U, std::thread::hardware_concurrency()); ++i)
    workers.push_back(std::async(std::launch::async, take));
  take();
  for (auto& worker : workers) worker.get();
}

}  // namespace daywright::cli
