#pragma once

#include "camera.hpp"
#include "style.hpp"

#include <opencv2/core.hpp>

namespace scenes {

/// What everything lies on: a texture over the part of the plane that the frame sees.
struct Bench {
  cv::Mat_<Rgb> albedo;
  float px_per_mm;
  cv::Point2f origin_mm;  ///< of the first texel; rows go down, y goes up
};

[[nodiscard]] Bench make_bench(const BenchStyle& style, const Camera& camera, std::uint64_t seed);

[[nodiscard]] Rgb bench_albedo(const Bench& bench, cv::Point2f mm);

}  // namespace scenes
