#pragma once

#include <algorithm>
#include <thread>
#include <vector>

namespace scenes {

/// Calls `row_work(row)` for every row on all cores. Rows must not depend on each other, so the result does
/// not depend on the number of threads. Interleaved blocks: the costly rows (the face) lie together.
template <class RowWork>
void parallel_rows(int rows, const RowWork& row_work) {
  constexpr int kBlock = 16;
  const int workers = std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
  const auto share = [&](int worker) {
    for (int start = worker * kBlock; start < rows; start += workers * kBlock)
      for (int row = start; row < std::min(rows, start + kBlock); ++row) row_work(row);
  };
  std::vector<std::jthread> threads;
  for (int worker = 1; worker < workers; ++worker) threads.emplace_back(share, worker);
  share(0);
}

}  // namespace scenes
