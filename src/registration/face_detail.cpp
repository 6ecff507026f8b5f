#include "corefleck/registration.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kFinePitch_mm = 0.1, kCoarsePitch_mm = 0.4;
// Light changes slowly and blur differs between photos: what is coarser or finer than these is left out.
constexpr double kFineSmooth_mm = 0.3, kFineBackground_mm = 1.9, kFineLevel_mm = 4.0;
constexpr double kCoarseSmooth_mm = 1.2, kCoarseBackground_mm = 6.0, kCoarseLevel_mm = 12.0;
// Detail weaker than this is noise and is not brought up to the level of the rest; relative luminance.
constexpr double kWeakDetail = 0.008;
constexpr double kClip = 2.0;
constexpr float kDarkest = 0.002F;

cv::Size box_of(double width_mm, const FaceGrid& grid) {
  const int half = static_cast<int>(std::lround(0.5 * (width_mm / grid.pitch.number() - 1.0)));
  const int side = 2 * std::max(half, 0) + 1;
  return {side, side};
}

/// Two boxes: near enough to a Gaussian, at a cost that does not grow with its width.
cv::Mat smoothed(const cv::Mat& plane, double width_mm, const FaceGrid& grid) {
  const cv::Size box = box_of(width_mm, grid);
  if (box.width == 1) return plane.clone();
  cv::Mat once, twice;
  cv::blur(plane, once, box, {-1, -1}, cv::BORDER_CONSTANT);
  cv::blur(once, twice, box, {-1, -1}, cv::BORDER_CONSTANT);
  return twice;
}

FaceGrid resized_grid(const FaceGrid& grid, double pitch_mm) {
  FaceGrid result{};
  result.size_px = std::max(16, static_cast<int>(std::lround(grid.size_px * grid.pitch.number() / pitch_mm)));
  const double factor = static_cast<double>(result.size_px) / grid.size_px;
  result.pitch = grid.pitch / factor;
  result.centre_px = (grid.centre_px + 0.5) * factor - 0.5;
  return result;
}

cv::Mat resized(const cv::Mat& plane, int size_px) {
  cv::Mat result;
  cv::resize(
      plane, result, {size_px, size_px}, 0.0, 0.0, size_px < plane.cols ? cv::INTER_AREA : cv::INTER_LINEAR);
  return result;
}

/// Mean over what is seen; 0 where hardly anything is.
cv::Mat seen_mean(const cv::Mat& weighted, const cv::Mat& weight) {
  cv::Mat mean;
  cv::divide(weighted, cv::max(weight, 1e-3), mean);
  return mean;
}

struct Band {
  double smooth_mm, background_mm, level_mm;
};

/// The band's detail over its own local strength, so that a wet face's strong spots weigh no more than a dry
/// one's, and neither more than the grains between them.
cv::Mat normalised_detail(const cv::Mat& log_light,
                          const cv::Mat& weight,
                          const Band& band,
                          const FaceGrid& grid) {
  const cv::Mat weighted = log_light.mul(weight);
  cv::Mat detail =
      seen_mean(smoothed(weighted, band.smooth_mm, grid), smoothed(weight, band.smooth_mm, grid)) -
      seen_mean(smoothed(weighted, band.background_mm, grid), smoothed(weight, band.background_mm, grid));
  detail = detail.mul(weight);
  cv::Mat level;
  cv::sqrt(
      seen_mean(smoothed(detail.mul(detail), band.level_mm, grid), smoothed(weight, band.level_mm, grid)),
      level);
  cv::divide(detail, level + kWeakDetail, detail);
  cv::min(detail, kClip, detail);
  cv::max(detail, -kClip, detail);
  return detail;
}

cv::Mat weight_of(const cv::Mat& seen) {
  cv::Mat weight;
  seen.convertTo(weight, CV_32F, 1.0 / 255.0);
  return weight;
}

}  // namespace

FaceDetail face_detail(const CalibratedFace& face, const SpotMap& spots) {
  FaceDetail detail{};
  detail.radius = face.radius;
  detail.grid = resized_grid(face.grid, kFinePitch_mm);
  cv::Mat log_light = resized(face.luminance, detail.grid.size_px);
  cv::log(cv::max(log_light, kDarkest), log_light);
  const cv::Mat inside = spots.outside == static_cast<unsigned char>(Outside::no);
  cv::compare(resized(inside, detail.grid.size_px), 254, detail.seen, cv::CMP_GE);
  const cv::Mat weight = weight_of(detail.seen);
  detail.fine =
      normalised_detail(log_light, weight, {kFineSmooth_mm, kFineBackground_mm, kFineLevel_mm}, detail.grid);

  detail.coarse_grid = resized_grid(detail.grid, kCoarsePitch_mm);
  const cv::Mat coarse_weight = resized(weight, detail.coarse_grid.size_px);
  const cv::Mat coarse_light =
      seen_mean(resized(log_light.mul(weight), detail.coarse_grid.size_px), coarse_weight);
  detail.coarse_seen = coarse_weight > 0.5F;
  detail.coarse = normalised_detail(coarse_light,
                                    weight_of(detail.coarse_seen),
                                    {kCoarseSmooth_mm, kCoarseBackground_mm, kCoarseLevel_mm},
                                    detail.coarse_grid);
  return detail;
}

}  // namespace corefleck
