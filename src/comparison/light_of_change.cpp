#include "light_of_change.hpp"

#include "equal_blur.hpp"

#include "corefleck/shape.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

constexpr double kMargin_sigma = 3.0;   // round the outlines: what blur carries out of them lies within
constexpr double kLeastSamples = 12.0;  // to fit three numbers

/// The outlines of one photo's spots as large as their areas, holes after their spot, mm of the first face.
struct Shape {
  std::vector<Contour> outlines, holes;
};

Contour scaled(const Contour& outline, const cv::Point2d& about, double factor) {
  Contour result;
  for (const cv::Point2d& p : outline) result.push_back(about + factor * (p - about));
  return result;
}

Shape shape_of(const FaceToCompare& photo, const std::vector<int>& ids, const FaceTransform& to_first) {
  Shape shape;
  const FaceGrid& grid = photo.face.grid;
  const auto laid = [&](const Contour& outline, const cv::Point2d& centre, double factor) {
    Contour result;
    for (const cv::Point2d& p : scaled(outline, centre, factor))
      result.push_back(to_first({grid.x_mm(p.x), grid.y_mm(p.y)}));
    return result;
  };
  for (const int id : ids) {
    const Region& spot = photo.map.spot(id);
    double traced = std::abs(polygon_area(spot.outline));
    for (const Contour& hole : spot.holes) traced -= std::abs(polygon_area(hole));
    const double factor = std::sqrt(spot.area_px / std::max(traced, 1.0));
    const cv::Point2d centre = polygon_centroid(spot.outline);
    shape.outlines.push_back(laid(spot.outline, centre, factor));
    for (const Contour& hole : spot.holes) shape.holes.push_back(laid(hole, centre, factor));
  }
  return shape;
}

/// Places on the first face, a step apart, that hold both shapes and their flanks.
struct Lattice {
  cv::Point2d corner_mm;
  double step_mm;
  cv::Size size;
  [[nodiscard]] cv::Point2d at(int x, int y) const { return corner_mm + step_mm * cv::Point2d(x, y); }
};

Lattice lattice_round(const Shape& a, const Shape& b, double sigma_mm) {
  constexpr double kFar = std::numeric_limits<double>::infinity();
  cv::Point2d low(kFar, kFar), high(-kFar, -kFar);
  for (const Shape* shape : {&a, &b})
    for (const Contour& outline : shape->outlines)
      for (const cv::Point2d& p : outline) {
        low = {std::min(low.x, p.x), std::min(low.y, p.y)};
        high = {std::max(high.x, p.x), std::max(high.y, p.y)};
      }
  const double margin = kMargin_sigma * sigma_mm;
  const cv::Point2d corner(low.x - margin, low.y - margin);
  const auto steps = [&](double length) {
    return static_cast<int>(std::ceil((length + 2.0 * margin) / sigma_mm)) + 1;
  };
  return {corner, sigma_mm, {steps(high.x - low.x), steps(high.y - low.y)}};
}

/// 1 inside the shape and 0 outside, seen through the blur that both photos have. CV_32FC1.
cv::Mat seen(const Shape& shape, const Lattice& lattice, double sigma_mm) {
  constexpr int kFine = 8, kShift = 4;
  const cv::Size fine_size(lattice.size.width * kFine, lattice.size.height * kFine);
  cv::Mat fine = cv::Mat::zeros(fine_size, CV_8UC1);
  const auto fill = [&](const Contour& outline, double value) {
    std::vector<std::vector<cv::Point>> corners(1);
    for (const cv::Point2d& p : outline) {
      const cv::Point2d at = (kFine / lattice.step_mm) * (p - lattice.corner_mm) +
                             cv::Point2d(0.5 * (kFine - 1), 0.5 * (kFine - 1));
      corners[0].emplace_back(cvRound(at.x * (1 << kShift)), cvRound(at.y * (1 << kShift)));
    }
    cv::fillPoly(fine, corners, cv::Scalar(value), cv::LINE_8, kShift);
  };
  for (const Contour& outline : shape.outlines) fill(outline, 255.0);
  for (const Contour& hole : shape.holes) fill(hole, 0.0);
  cv::Mat blurred, result;
  fine.convertTo(blurred, CV_32F, 1.0 / 255.0);
  const double sigma = kFine * sigma_mm / lattice.step_mm;
  cv::GaussianBlur(blurred, blurred, {}, sigma, sigma, cv::BORDER_CONSTANT);
  cv::resize(blurred, result, lattice.size, 0, 0, cv::INTER_LINEAR);  // at the middles
  return result;
}

/// What a photo's spots stand out from and by, mean by area; nothing if one was drawn by hand.
struct Level {
  double ground, contrast;  ///< luminance of the matrix; Weber contrast
};

std::optional<Level> level_of(const FaceToCompare& photo, const std::vector<int>& ids) {
  double ground = 0.0, height = 0.0, area = 0.0;
  for (const int id : ids) {
    const Region& spot = photo.map.spot(id);
    ground += spot.area_px * spot.ground;
    height += spot.area_px * (spot.plateau - spot.ground);
    area += spot.area_px;
  }
  if (!(ground > 0.0) || !(height > 0.0)) return std::nullopt;
  return Level{ground / area, height / ground};
}

/// Least squares of after = a + b before + k claimed.
struct Fit {
  cv::Matx33d normal = cv::Matx33d::zeros();
  cv::Vec3d right{0.0, 0.0, 0.0};
  double count = 0.0;

  void add(double before, double claimed, double after) {
    const cv::Vec3d row(1.0, before, claimed);
    normal += row * row.t();
    right += after * row;
    count += 1.0;
  }
  [[nodiscard]] std::optional<double> k() const {
    cv::Vec3d solution;
    if (count < kLeastSamples || !cv::solve(normal, right, solution, cv::DECOMP_CHOLESKY))
      return std::nullopt;
    return solution[2];
  }
};

}  // namespace

std::optional<double> change_shown_by_light(const FaceToCompare& before,
                                            const std::vector<int>& before_ids,
                                            const FaceToCompare& after,
                                            const std::vector<int>& after_ids,
                                            const FaceTransform& before_to_after) {
  const auto was = level_of(before, before_ids), is = level_of(after, after_ids);
  if (!was || !is) return std::nullopt;
  const EqualBlur blur = equal_blur(before, after);
  const Shape first = shape_of(before, before_ids, {}),
              second = shape_of(after, after_ids, before_to_after.inverse());
  const Lattice lattice = lattice_round(first, second, blur.common_mm);
  const cv::Mat claimed = seen(second, lattice, blur.common_mm) - seen(first, lattice, blur.common_mm);
  Fit fit;
  for (int y = 0; y < lattice.size.height; ++y)
    for (int x = 0; x < lattice.size.width; ++x) {
      const cv::Point2d mm = lattice.at(x, y);
      const auto here = light_at(before, mm, blur.to_first_mm),
                 there = light_at(after, before_to_after(mm), blur.to_second_mm);
      if (here && there)
        fit.add(*here / was->ground - 1.0,
                static_cast<double>(claimed.at<float>(y, x)),
                *there / is->ground - 1.0);
    }
  const auto contrast = fit.k();
  if (!contrast) return std::nullopt;
  return *contrast / is->contrast;
}

}  // namespace corefleck
