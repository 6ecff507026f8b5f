#include "groups.hpp"

#include "corefleck/colorimetry.hpp"
#include "corefleck/shape.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

constexpr double kRingFrom_mm = 0.3, kRingTo_mm = 1.0;  // clear of the flank, near enough for the same mottle

/// An outline on the colour's grid, which has half the resolution; what lies round it within `margin_px` is
/// seen too.
struct Window {
  cv::Rect box;
  cv::Mat inside;  // CV_8UC1
};

Window window_of(const Contour& outline, const cv::Size& colour, int margin_px) {
  std::vector<cv::Point2f> points;
  for (const cv::Point2d& p : outline)
    points.emplace_back(static_cast<float>(0.5 * (p.x - 0.5)), static_cast<float>(0.5 * (p.y - 0.5)));
  cv::Rect box = cv::boundingRect(points);
  box -= cv::Point(margin_px, margin_px);
  box += cv::Size(2 * margin_px, 2 * margin_px);
  Window window{box & cv::Rect({0, 0}, colour), {}};
  window.inside = cv::Mat::zeros(window.box.size(), CV_8UC1);
  if (window.box.empty()) return window;
  constexpr int kShift = 4;
  std::vector<std::vector<cv::Point>> polygon(1);
  for (const cv::Point2f& p : points)
    polygon[0].emplace_back(cvRound((p.x - static_cast<float>(window.box.x)) * (1 << kShift)),
                            cvRound((p.y - static_cast<float>(window.box.y)) * (1 << kShift)));
  cv::fillPoly(window.inside, polygon, cv::Scalar(255), cv::LINE_8, kShift);
  return window;
}

cv::Mat grown(const cv::Mat& mask, int reach_px) {
  cv::Mat result;
  const int side = 2 * reach_px + 1;
  cv::dilate(mask, result, cv::getStructuringElement(cv::MORPH_ELLIPSE, {side, side}));
  return result;
}

}  // namespace

SpotSum sum_of(const FaceToCompare& photo, const std::vector<int>& ids) {
  SpotSum sum;
  const double pixel_mm2 = std::pow(photo.face.grid.pitch.number(), 2.0);
  double squares = 0.0;
  for (const int id : ids) {
    const Region& spot = photo.map.spot(id);
    const double area = spot.area_px * pixel_mm2;
    const cv::Point2d centre = polygon_centroid(spot.outline);
    sum.area_mm2 += area;
    sum.centre_mm += area * cv::Point2d(photo.face.grid.x_mm(centre.x), photo.face.grid.y_mm(centre.y));
    squares += std::pow(spot.u_area_px * pixel_mm2, 2.0);
  }
  sum.centre_mm /= std::max(sum.area_mm2, 1e-9);
  sum.boundary_u_mm2 = std::sqrt(squares);
  return sum;
}

Contour laid_outline(const Region& spot,
                     const FaceGrid& from,
                     const FaceGrid& to,
                     const FaceTransform& transform) {
  Contour result;
  cv::perspectiveTransform(spot.outline, result, grid_map(from, to, transform));
  return result;
}

std::optional<double> contrast_inside(const FaceToCompare& photo, const Contour& outline) {
  const double pitch = 2.0 * photo.face.grid.pitch.number();
  const int from = std::max(1, static_cast<int>(std::lround(kRingFrom_mm / pitch)));
  const int to = from + std::max(1, static_cast<int>(std::lround((kRingTo_mm - kRingFrom_mm) / pitch)));
  const Window window = window_of(outline, photo.face.colour.size(), to + 1);
  if (window.box.empty()) return std::nullopt;
  const cv::Mat ring = grown(window.inside, to) & ~grown(window.inside, from);
  double inside = 0.0, around = 0.0, inside_count = 0.0, around_count = 0.0;
  for (int y = 0; y < window.box.height; ++y)
    for (int x = 0; x < window.box.width; ++x) {
      const cv::Point at(window.box.x + x, window.box.y + y);
      const bool in = window.inside.at<unsigned char>(y, x) != 0;
      if (!in && ring.at<unsigned char>(y, x) == 0) continue;
      if (photo.map.outside.at<unsigned char>(2 * at) != 0) continue;
      if (!in && photo.map.labels.at<int>(2 * at) != 0) continue;
      const auto& rgb = photo.face.colour.at<cv::Vec3f>(at);
      const double light =
          luminance({static_cast<double>(rgb[0]), static_cast<double>(rgb[1]), static_cast<double>(rgb[2])});
      (in ? inside : around) += light;
      (in ? inside_count : around_count) += 1.0;
    }
  if (inside_count < 1.0 || around_count < 8.0 || around <= 0.0) return std::nullopt;
  return weber_contrast(inside / inside_count, around / around_count);
}

std::optional<double> scale_disagreement(const Registration& registration,
                                         const FaceMeasurement& first,
                                         const FaceMeasurement& second) {
  const auto u_rel = [](const FaceMeasurement& figures) { return figures.scale.u / figures.scale.value; };
  const double off = std::sqrt(std::max(registration.first_to_second.area_ratio(), 0.0)) - 1.0;
  if (std::abs(off) <= kCoverage95 * std::hypot(u_rel(first), u_rel(second))) return std::nullopt;
  return off;
}

}  // namespace corefleck
