#pragma once

#include <opencv2/core.hpp>

#include <algorithm>

namespace corefleck {

/// What `filter` makes of an image, of that type, in bands of rows side by side: OpenCV filters floats and
/// masks on one thread. `reach` is how many rows away a pixel's result may depend on; it must not depend on
/// anything beyond, so that the bands do not show.
template <class Filter>
[[nodiscard]] cv::Mat in_bands(const cv::Mat& image, int type, int reach, Filter filter) {
  const int bands = std::clamp(image.rows / (4 * reach + 1), 1, std::max(1, cv::getNumThreads()));
  if (bands == 1) return filter(image);
  cv::Mat result(image.size(), type);
  cv::parallel_for_(cv::Range(0, bands), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const cv::Range rows(i * image.rows / bands, (i + 1) * image.rows / bands);
      const cv::Range wide(std::max(0, rows.start - reach), std::min(image.rows, rows.end + reach));
      const cv::Mat band = filter(image.rowRange(wide));
      band.rowRange(rows.start - wide.start, rows.end - wide.start).copyTo(result.rowRange(rows));
    }
  });
  return result;
}

}  // namespace corefleck
