#include "spot_figures.hpp"

#include "corefleck/beside.hpp"
#include "corefleck/colorimetry.hpp"
#include "corefleck/in_bands.hpp"
#include "corefleck/shape.hpp"
#include "corefleck/sums.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kCroftonLines = 400.0;  // across a spot, for its perimeter
// Crofton's count wants many lines across the spot, so a small outline is drawn larger before its runs are
// counted.
double outline_perimeter_px(const Region& spot) {
  const double size = std::max(spot.box.width, spot.box.height);
  const double zoom = std::clamp(kCroftonLines / std::max(size, 1.0), 1.0, 16.0);
  constexpr int kShift = 4;
  const cv::Point2d corner(spot.box.x - 3, spot.box.y - 3);
  std::vector<std::vector<cv::Point>> polygons(1);
  const auto place = [&](const Contour& from, std::vector<cv::Point>& to) {
    for (const cv::Point2d& p : from) {
      const cv::Point2d q = (p - corner) * zoom * (1 << kShift);
      to.emplace_back(static_cast<int>(std::lround(q.x)), static_cast<int>(std::lround(q.y)));
    }
  };
  place(spot.outline, polygons[0]);
  cv::Mat mask = cv::Mat::zeros(static_cast<int>((spot.box.height + 7) * zoom) + 2,
                                static_cast<int>((spot.box.width + 7) * zoom) + 2,
                                CV_8UC1);
  cv::fillPoly(mask, polygons, cv::Scalar(255), cv::LINE_8, kShift);
  return crofton_perimeter(mask) / zoom;
}

// Across a straight edge of Gaussian width s, s / sqrt(2 pi) of the step per unit length lies on the wrong
// side. Only what the photo's blur adds to the spot's own soft flank was lost: the flank belongs to the spot.
double light_blurred_out_px(const Region& spot, double blur_px) {
  const double seen = spot.flank_sigma_px;
  const double own = std::sqrt(std::max(0.0, seen * seen - blur_px * blur_px));
  return (std::hypot(own, blur_px) - own) / std::sqrt(2.0 * CV_PI);
}

/// Centre, diameters, perimeter and solidity, in grid pixels.
struct OutlineFigures {
  cv::Point2d centre;
  FeretDiameters feret;
  double perimeter, solidity;
};

// Lengths grow with the same correction for blur as the area, so that shape figures stay consistent.
OutlineFigures figures_of_outline(const Region& spot) {
  double outlined = polygon_area(spot.outline);
  for (const Contour& hole : spot.holes) outlined += polygon_area(hole);
  const double growth = std::sqrt(spot.area_px / std::max(outlined, 1e-6));
  const Polygon hull = convex_hull(spot.outline);
  const FeretDiameters feret = feret_diameters(hull);
  return {polygon_centroid(spot.outline),
          {growth * feret.max, growth * feret.min},
          growth * outline_perimeter_px(spot),
          std::min(1.0, outlined / std::max(polygon_area(hull), 1e-9))};
}

// Where a person cut or drew, the edge is that person's: the pixels that are left tell the shape.
OutlineFigures figures_of_pixels(const Region& spot, const cv::Mat& labels) {
  const cv::Mat mask = labels(spot.box) == spot.id;
  cv::Point2d sum(0.0, 0.0);
  for (int y = 0; y < mask.rows; ++y)
    for (int x = 0; x < mask.cols; ++x)
      if (mask.at<unsigned char>(y, x) != 0) sum += cv::Point2d(x, y);
  const cv::Point2d corner(spot.box.x, spot.box.y);
  return {corner + sum / static_cast<double>(cv::countNonZero(mask)),
          feret_diameters(convex_hull(corner_points(mask))),
          crofton_perimeter(mask),
          corner_solidity(mask)};
}

// On the grid of the colour, which is what the report's page has of the light, and without giving back what
// blur carried off: nobody knows how sharp a drawn edge is.
SpotLight light_of_pixels(const CalibratedFace& face, const cv::Mat& labels, const Region& spot) {
  std::vector<float> values;
  double sum = 0.0;
  for (int y = (spot.box.y + 1) / 2 * 2; y < spot.box.br().y; y += 2)
    for (int x = (spot.box.x + 1) / 2 * 2; x < spot.box.br().x; x += 2) {
      if (labels.at<int>(y, x) != spot.id) continue;
      values.push_back(face.luminance.at<float>(y, x));
      sum += static_cast<double>(values.back());
    }
  if (values.empty()) {  // no pixel of that grid lies in it: its middle is the best there is
    const cv::Point middle = (spot.box.tl() + spot.box.br()) / 2;
    values.push_back(face.luminance.at<float>(middle));
    sum = static_cast<double>(values.front());
  }
  const auto peak =
      values.begin() + static_cast<std::ptrdiff_t>(0.99 * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), peak, values.end());
  const double mean = sum / static_cast<double>(values.size());
  return {mean, mean, std::max(static_cast<double>(*peak), 0.0)};
}

}  // namespace

int matrix_distance_px(const CalibratedFace& face, const SpotMap& map) {
  const double flank_px = 2.0 * map.blur_sigma_px + 0.2 / face.grid.pitch.number();
  return static_cast<int>(std::ceil(0.5 * flank_px)) + 1;
}

// Every other pixel of every other row tells the matrix as well, on the grid of the colour.
MatrixFigures matrix_figures(const CalibratedFace& face, const SpotMap& map) {
  const cv::Size size = face.colour.size();
  cv::Mat taken(size, CV_8UC1), inside(size, CV_8UC1), luminance(size, CV_32FC1);
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y) {
      const int* label = map.labels.ptr<int>(2 * y);
      const unsigned char *pit = map.pit_mask.ptr(2 * y), *outside = map.outside.ptr(2 * y);
      const float* light = face.luminance.ptr<float>(2 * y);
      unsigned char *is_taken = taken.ptr(y), *is_inside = inside.ptr(y);
      float* level = luminance.ptr<float>(y);
      for (int x = 0; x < size.width; ++x) {
        const bool glare = outside[2 * x] == static_cast<unsigned char>(Outside::glare);
        is_taken[x] = label[2 * x] != 0 || pit[2 * x] != 0 || glare ? 255 : 0;
        is_inside[x] = outside[2 * x] == 0 ? 255 : 0;
        level[x] = light[2 * x];
      }
    }
  });
  const int reach = matrix_distance_px(face, map);
  const cv::Mat near = in_bands(taken, CV_8UC1, reach, [&](const cv::Mat& band) {
    cv::Mat wide;
    cv::dilate(band, wide, cv::getStructuringElement(cv::MORPH_RECT, {2 * reach + 1, 2 * reach + 1}));
    return wide;
  });
  cv::Mat free = inside & ~near;
  if (cv::countNonZero(free) < kLeastMatrixPixels) free = inside & ~taken;
  auto level = beside([&] { return cv::mean(luminance, free)[0]; });
  const cv::Scalar colour = cv::mean(face.colour, free);
  return {level.get(), {colour[0], colour[1], colour[2]}};
}

SpotLight spot_light(const CalibratedFace& face, const SpotMap& map, const Region& spot) {
  if (spot.origin != RegionOrigin::found) return light_of_pixels(face, map.labels, spot);
  std::vector<float> values;
  double sum = 0.0;
  for (int y = spot.box.y; y < spot.box.br().y; ++y) {
    const int* label = map.labels.ptr<int>(y);
    const float* luminance = face.luminance.ptr<float>(y);
    for (int x = spot.box.x; x < spot.box.br().x; ++x)
      if (label[x] == spot.id) {
        values.push_back(luminance[x]);
        sum += static_cast<double>(luminance[x]);
      }
  }
  if (values.empty()) return {spot.plateau, spot.plateau, spot.plateau};
  const double mean = sum / static_cast<double>(values.size());
  const double perimeter = polygon_perimeter(spot.outline);
  const double lost =
      std::min(0.5, perimeter * light_blurred_out_px(spot, map.blur_sigma_px) / std::max(spot.area_px, 1.0));
  const auto peak =
      values.begin() + static_cast<std::ptrdiff_t>(0.99 * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), peak, values.end());
  return {spot.ground + (mean - spot.ground) / (1.0 - lost), mean, std::max(static_cast<double>(*peak), 0.0)};
}

SpotFigures spot_figures(const CalibratedFace& face,
                         const SpotMap& map,
                         const Region& spot,
                         const SpotLight& light,
                         double matrix_luminance) {
  SpotFigures figures{};
  const double pitch = face.grid.pitch.number();
  const OutlineFigures outline =
      spot.origin == RegionOrigin::found ? figures_of_outline(spot) : figures_of_pixels(spot, map.labels);
  figures.spot_id = spot.id;
  figures.x_mm = face.grid.x_mm(outline.centre.x);
  figures.y_mm = face.grid.y_mm(outline.centre.y);
  figures.r_mm = std::hypot(figures.x_mm, figures.y_mm);
  const double clock = std::atan2(figures.x_mm, figures.y_mm) * 180.0 / CV_PI;
  figures.clock_deg = clock < 0.0 ? clock + 360.0 : clock;
  const double area_mm2 = spot.area_px * pitch * pitch;
  const double boundary_u = spot.u_area_px * pitch * pitch;
  figures.area = {SquareMillimetres{area_mm2},
                  SquareMillimetres{std::hypot(boundary_u, 2.0 * face.pose.scale_u_rel * area_mm2)}};
  figures.ecd = equivalent_circular_diameter(figures.area.value);
  const double perimeter_mm = outline.perimeter * pitch;
  figures.feret_max = Millimetres{outline.feret.max * pitch};
  figures.feret_min = Millimetres{outline.feret.min * pitch};
  figures.perimeter = Millimetres{perimeter_mm};
  figures.form_factor = 4.0 * CV_PI * area_mm2 / (perimeter_mm * perimeter_mm);
  figures.aspect_ratio = outline.feret.max > 0.0 ? outline.feret.min / outline.feret.max : 1.0;
  figures.solidity = outline.solidity;
  figures.contrast_weber = weber_contrast(light.mean, matrix_luminance);
  figures.touches_rim = spot.touches_rim;
  if (face.absolute_luminance) {
    figures.mean_L = lightness(std::max(light.mean, 0.0));
    figures.L_given_back = (*figures.mean_L - lightness(std::max(light.seen, 0.0))).number();
    figures.peak_L = lightness(light.peak);
    figures.contrast_dL = *figures.mean_L - lightness(std::max(matrix_luminance, 0.0));
  }
  return figures;
}

}  // namespace corefleck
