#include "rim_rays.hpp"

#include "corefleck/colorimetry.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

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
    cv::Mat places(3, steps.count, CV_32FC2);
    for (int line = 0; line < 3; ++line)
      for (int i = 0; i < steps.count; ++i)
        places.at<cv::Point2f>(line, i) =
            centre + (steps.first + i * steps.step) * along + (line - 1.0) * across;
    const cv::Mat rgb = linear_rgb_at(photo, places);
    std::vector<float> values(static_cast<std::size_t>(steps.count));
    for (int i = 0; i < steps.count; ++i)
      for (int line = 0; line < 3; ++line)
        values[static_cast<std::size_t>(i)] += level_of(rgb.at<cv::Vec3f>(line, i), channel) / 3.0F;
    return values;
  };
}

}  // namespace corefleck
