#include "rim_rays.hpp"

#include "corefleck/colorimetry.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr int kLines = 3, kColourLines = 5;
// Files keep colour at half the resolution, and its noise runs on from pixel to pixel: its lines cover all
// that lies between two of 360 rays. A rim is straight to 0.00004 of its radius over that.
constexpr double kColourWidth_rad = 2.0 * CV_PI / 360.0;

double apart_px(const RaySteps& steps, const RimChannel& channel) {
  return channel.colour ? std::max(1.0, kColourWidth_rad * steps.first / kColourLines) : 1.0;
}

float level_of(const cv::Vec3f& rgb, const RimChannel& channel) {
  if (!channel.colour) return static_cast<float>(luminance({rgb[0], rgb[1], rgb[2]}));
  float sum = 0.0F;
  for (int c = 0; c < 3; ++c) sum += channel.log_weights[c] * std::log(std::max(rgb[c], 1e-3F));
  return sum;
}

}  // namespace

RaySampler rays_of(const Photo& photo, cv::Point2d centre, const RimChannel& channel) {
  return [&photo, centre, channel](double angle, const RaySteps& steps) {
    const cv::Point2d along(std::cos(angle), std::sin(angle)), across(-along.y, along.x);
    const int lines = channel.colour ? kColourLines : kLines;
    const double apart = apart_px(steps, channel);
    cv::Mat places(lines, steps.count, CV_32FC2);
    for (int line = 0; line < lines; ++line)
      for (int i = 0; i < steps.count; ++i)
        places.at<cv::Point2f>(line, i) =
            centre + (steps.first + i * steps.step) * along + (line - 0.5 * (lines - 1)) * apart * across;
    const cv::Mat rgb = linear_rgb_at(photo, places);
    std::vector<float> values(static_cast<std::size_t>(steps.count));
    for (int i = 0; i < steps.count; ++i) {
      cv::Vec3f sum(0.0F, 0.0F, 0.0F);
      for (int line = 0; line < lines; ++line) sum += rgb.at<cv::Vec3f>(line, i);
      values[static_cast<std::size_t>(i)] = level_of(sum / lines, channel);
    }
    return values;
  };
}

}  // namespace corefleck
