#include "strip_light.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

void sample(const cv::Mat& light, cv::Point2d corner, const StripFrame& frame, int first, cv::Mat to) {
  const cv::Point2d step = frame.step * frame.direction;
  for (int j = 0; j < to.rows; ++j) {
    auto* out = to.ptr<float>(j);
    cv::Point2d p = frame.place(frame.along(first), frame.across(j)) - corner;
    for (int i = 0; i < to.cols; ++i, p += step) out[i] = bilinear(light, p.x, p.y);
  }
}

// The part of the photo under some columns of the strip.
cv::Rect area_under(const StripFrame& frame, int first, int columns, cv::Size size) {
  double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  for (const double s : {frame.along(first), frame.along(first + columns - 1)})
    for (const double t : {frame.across(0), frame.across(frame.rows - 1)}) {
      const cv::Point2d p = frame.place(s, t);
      x0 = std::min(x0, p.x), y0 = std::min(y0, p.y), x1 = std::max(x1, p.x), y1 = std::max(y1, p.y);
    }
  const auto whole = [](double v, int limit) {
    return std::clamp(static_cast<int>(std::floor(v)), 0, limit);
  };
  const int left = whole(x0 - 1.0, size.width - 2), top = whole(y0 - 1.0, size.height - 2);
  return {cv::Point(left, top),
          cv::Point(std::max(left + 2, whole(x1 + 3.0, size.width)),
                    std::max(top + 2, whole(y1 + 3.0, size.height)))};
}

}  // namespace

StripLight light_along(const Photo& photo) {
  const cv::Size size(photo.width_px(), photo.height_px());
  return {[&photo, size](const StripFrame& frame) {
            cv::Mat strip(frame.rows, frame.columns, CV_32FC1);
            // Piece by piece: the upright rectangle around the whole of a slanted strip is far larger.
            const int piece = std::max(16, static_cast<int>(std::max(64.0, 2.0 * frame.half) / frame.step));
            for (int first = 0; first < frame.columns; first += piece) {
              const int columns = std::min(piece, frame.columns - first);
              const cv::Rect area = area_under(frame, first, columns, size);
              sample(linear_luminance(photo, area),
                     cv::Point2d(area.tl()),
                     frame,
                     first,
                     strip.colRange(first, first + columns));
            }
            return strip;
          },
          size};
}

StripLight light_along(const Overview& overview) {
  return {[&overview](const StripFrame& frame) {
            cv::Mat strip(frame.rows, frame.columns, CV_32FC1);
            sample(overview.luminance, {}, frame, 0, strip);
            return strip;
          },
          overview.luminance.size()};
}

}  // namespace corefleck
