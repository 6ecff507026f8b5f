#include "photo_batch.hpp"

#include <opencv2/core/utility.hpp>

#include <algorithm>
#include <atomic>
#include <system_error>
#include <thread>
#include <vector>

namespace corefleck {

void measure_photos(std::span<const BatchPhoto> photos,
                    int jobs,
                    Keep keep,
                    const std::function<void(std::size_t, PhotoOutcome)>& take) {
  if (photos.empty()) return;
  const int cores = std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
  const int at_a_time = std::min(jobs > 0 ? jobs : cores, static_cast<int>(photos.size()));
  cv::setNumThreads(std::max(1, cores / at_a_time));  // so that loops inside a photo do not crowd the cores

  std::atomic<std::size_t> next{0};
  const auto work = [&] {
    for (std::size_t index = next++; index < photos.size(); index = next++)
      take(index, measure_photo(photos[index].task, *photos[index].options, keep));
  };
  std::vector<std::jthread> workers;
  try {
    for (int job = 1; job < at_a_time; ++job) workers.emplace_back(work);
  } catch (const std::system_error&) {
    // The system gives no more threads: those that are there do the work.
  }
  work();
}

}  // namespace corefleck
