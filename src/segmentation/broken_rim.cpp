#include "broken_rim.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <vector>

namespace corefleck {
namespace {

constexpr double kDark = 0.12, kDarkMottle = 3.0;  // below the matrix, relative; in deviations of the mottle
constexpr double kClosing_mm = 1.2;                // light crumbs of the fracture are no wider
constexpr double kLeast_mm2 = 4.0;
constexpr double kAlongRim = 1.5;   // length along the rim over mean depth
constexpr double kBorder_mm = 0.6;  // its edge, left out with it

cv::Mat square(double half_side_cells) {
  const int size = 2 * std::max(1, static_cast<int>(std::lround(half_side_cells))) + 1;
  return cv::getStructuringElement(cv::MORPH_RECT, {size, size});
}

}  // namespace

cv::Mat broken_rim(const CoarseFace& face, double mottle_rel) {
  cv::Mat dark = (face.contrast < -std::max(kDark, kDarkMottle * mottle_rel)) & (face.blocked == 0);
  cv::morphologyEx(dark, dark, cv::MORPH_OPEN, cv::Mat());
  cv::morphologyEx(dark, dark, cv::MORPH_CLOSE, square(kClosing_mm / face.pitch_mm));
  dark &= face.blocked == 0;
  cv::Mat beside_rim, labels, statistics, centroids;
  cv::dilate(face.blocked, beside_rim, cv::Mat());
  const int count = cv::connectedComponentsWithStats(dark, labels, statistics, centroids, 8, CV_32S);
  const double least_cells = kLeast_mm2 / (face.pitch_mm * face.pitch_mm);
  cv::Mat broken = cv::Mat::zeros(dark.size(), CV_8UC1);
  for (int i = 1; i < count; ++i) {
    if (statistics.at<int>(i, cv::CC_STAT_AREA) < least_cells) continue;
    const cv::Mat own = labels == i;
    // A break follows the rim; a dark streak of the matrix only ends there.
    const double along_rim = cv::countNonZero(own & beside_rim);
    if (along_rim * along_rim > kAlongRim * statistics.at<int>(i, cv::CC_STAT_AREA)) broken |= own;
  }
  if (cv::countNonZero(broken) > 0) cv::dilate(broken, broken, square(kBorder_mm / face.pitch_mm));
  return broken;
}

}  // namespace corefleck
