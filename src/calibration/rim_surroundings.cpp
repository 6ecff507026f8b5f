#include "rim_surroundings.hpp"

#include "corefleck/colorimetry.hpp"
#include "corefleck/statistics.hpp"

#include <opencv2/core/utility.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace corefleck {
namespace {

constexpr int kSectors = 72, kRaysPerSector = 5;
constexpr double kStep_mm = 0.1;
constexpr double kFarthestIn_mm = 6.0, kFarthestOut_mm = 1.0;
constexpr double kShareOfRadius = 0.25;  // of small cores the rings are narrower
// Unlike the face: more than its sectors differ from each other farther in, in standard deviations, and more
// than light falls off towards a rim; no step: hardly more than that and than what a shadow's soft end has.
constexpr double kUnlike = 3.0, kLeastUnlike = 0.08;
constexpr double kAlike = 1.5, kLeastAlike = 0.03;

/// Rings about the curve, millimetres from it, outwards above 0; what blur carries over it lies between.
struct Ring {
  double from, to;
};
constexpr Ring kBeyond{0.3, 1.0}, kAtRim{-0.8, -0.25}, kFace{-3.5, -1.5}, kFartherIn{-6.0, -4.0};

/// Logarithms of the median light of one sector.
struct SectorLight {
  double beyond, at_rim, face, farther_in;
};

double log_median(const std::vector<double>& light) { return std::log(std::max(median(light), 1e-4)); }

SectorLight light_of_sector(
    const Photo& photo, const Pose& pose, double radius_mm, double unit_mm, int sector) {
  const int steps = static_cast<int>((kFarthestIn_mm + kFarthestOut_mm) / kStep_mm);
  const auto place_mm = [](int step) { return step * kStep_mm - kFarthestIn_mm; };
  cv::Mat places(kRaysPerSector, steps, CV_32FC2);
  for (int ray = 0; ray < kRaysPerSector; ++ray) {
    const double angle =
        2.0 * std::numbers::pi * (sector * kRaysPerSector + ray) / (kSectors * kRaysPerSector);
    for (int i = 0; i < steps; ++i) {
      const double r = radius_mm + unit_mm * place_mm(i);
      places.at<cv::Point2f>(ray, i) = pose.seen_at(r * std::cos(angle), r * std::sin(angle));
    }
  }
  const cv::Mat rgb = linear_rgb_at(photo, places);
  const auto ring = [&](const Ring& where) {
    std::vector<double> light;
    for (int i = 0; i < steps; ++i) {
      if (place_mm(i) < where.from || place_mm(i) > where.to) continue;
      for (int ray = 0; ray < kRaysPerSector; ++ray) {
        const auto& v = rgb.at<cv::Vec3f>(ray, i);
        light.push_back(luminance({v[0], v[1], v[2]}));
      }
    }
    return log_median(light);
  };
  return {ring(kBeyond), ring(kAtRim), ring(kFace), ring(kFartherIn)};
}

}  // namespace

RimSurroundings look_along_rim(const Photo& photo, const Pose& pose, Millimetres radius) {
  const double unit_mm = std::min(1.0, kShareOfRadius * radius.number() / kFarthestIn_mm);
  std::vector<SectorLight> sectors(kSectors);
  cv::parallel_for_(cv::Range(0, kSectors), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i)
      sectors[static_cast<std::size_t>(i)] = light_of_sector(photo, pose, radius.number(), unit_mm, i);
  });
  std::vector<double> differences;
  for (const SectorLight& s : sectors) differences.push_back(s.face - s.farther_in);
  const double deviation = robust_deviation(differences);
  RimSurroundings seen{0.0, 0.0};
  for (const SectorLight& s : sectors) {
    if (std::abs(s.at_rim - s.face) > std::max(kUnlike * deviation, kLeastUnlike))
      seen.ring += 1.0 / kSectors;
    if (std::abs(s.beyond - s.at_rim) < std::max(kAlike * deviation, kLeastAlike))
      seen.no_step += 1.0 / kSectors;
  }
  return seen;
}

}  // namespace corefleck
