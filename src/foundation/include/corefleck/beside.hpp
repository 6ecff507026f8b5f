#pragma once

#include <opencv2/core/utility.hpp>

#include <future>

namespace corefleck {

/// Calls `work` on another thread where there are processors to spare, otherwise when its result is asked
/// for. For modules that link OpenCV, whose number of threads tells how many a photo has for itself.
template <class Work>
[[nodiscard]] auto beside(Work work) {
  const auto policy =
      cv::getNumThreads() > 1 ? std::launch::async | std::launch::deferred : std::launch::deferred;
  return std::async(policy, std::move(work));
}

}  // namespace corefleck
