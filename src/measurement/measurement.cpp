#include "corefleck/measurement.hpp"

#include "budgets.hpp"
#include "size_classes.hpp"
#include "spot_figures.hpp"

#include "corefleck/colorimetry.hpp"
#include "corefleck/statistics.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

void measure_extent(const CalibratedFace& face, const SpotMap& map, FaceMeasurement& figures) {
  const double pixel_mm2 = face.grid.pitch.number() * face.grid.pitch.number();
  const double r = face.radius.number();
  figures.scale = {face.pose.scale, face.pose.scale_u_rel * face.pose.scale};
  figures.tilt_deg = face.pose.tilt_deg;
  figures.core_diameter = {2.0 * face.radius, Millimetres{2.0 * face.radius_u_mm}};
  figures.face_area = SquareMillimetres{CV_PI * r * r};
  figures.measured_area = SquareMillimetres{map.measured_area_px * pixel_mm2};
  figures.glare_pct = 100.0 * map.glare_area_px / std::max(map.face_area_px, 1.0);
  double spots = 0.0, pits = 0.0;
  for (const Region& spot : map.spots) spots += spot.area_px;
  for (const Region& pit : map.pits) pits += pit.area_px;
  figures.spot_area = SquareMillimetres{spots * pixel_mm2};
  figures.spot_count = static_cast<int>(map.spots.size());
  figures.spot_density_per_cm2 = 100.0 * figures.spot_count / figures.measured_area.number();
  figures.area_fraction.value =
      Quantity<struct PercentUnit>{100.0 * figures.spot_area / figures.measured_area};
  figures.pit_count = static_cast<int>(map.pits.size());
  figures.pit_area_fraction_pct = 100.0 * pits / std::max(map.measured_area_px, 1.0);
}

void measure_sizes(FaceMeasurement& figures) {
  if (figures.spots.empty()) return;
  std::vector<double> ecd_mm;
  for (const SpotFigures& spot : figures.spots) ecd_mm.push_back(spot.ecd.number());
  figures.ecd_d10 = Millimetres{number_percentile(ecd_mm, 10.0)};
  figures.ecd_d50 = Millimetres{number_percentile(ecd_mm, 50.0)};
  figures.ecd_d90 = Millimetres{number_percentile(ecd_mm, 90.0)};
  figures.ecd_max = Millimetres{*std::max_element(ecd_mm.begin(), ecd_mm.end())};
}

std::array<double, 3> spot_colour(const CalibratedFace& face, const SpotMap& map) {
  cv::Vec3d sum(0.0, 0.0, 0.0);
  double count = 0.0;
  for (const Region& spot : map.spots)
    for (int y = (spot.box.y + 1) / 2; 2 * y < spot.box.br().y; ++y)
      for (int x = (spot.box.x + 1) / 2; 2 * x < spot.box.br().x; ++x)
        if (map.labels.at<int>(2 * y, 2 * x) == spot.id) {
          sum += cv::Vec3d(face.colour.at<cv::Vec3f>(y, x));
          count += 1.0;
        }
  sum /= std::max(count, 1.0);
  return {sum[0], sum[1], sum[2]};
}

/// Figures of every spot, in their order.
std::vector<SpotFigures> measured_spots(const CalibratedFace& face,
                                        const SpotMap& map,
                                        double matrix_luminance,
                                        std::vector<double>& mean_luminance) {
  std::vector<SpotFigures> figures(map.spots.size());
  mean_luminance.resize(map.spots.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(map.spots.size())), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i) {
      const SpotLight light = spot_light(face, map, map.spots[i]);
      mean_luminance[i] = light.mean;
      figures[i] = spot_figures(face, map, map.spots[i], light, matrix_luminance);
    }
  });
  return figures;
}

// L* of a region is L* of its mean linear Y; the spots' L* is the mean of theirs by area.
void measure_light(const CalibratedFace& face, const SpotMap& map, FaceMeasurement& figures) {
  const MatrixFigures matrix = matrix_figures(face, map);
  std::vector<double> mean_luminance;
  figures.spots = measured_spots(face, map, matrix.luminance, mean_luminance);
  double weighted_L = 0.0, weighted_Y = 0.0, area = 0.0;
  for (std::size_t i = 0; i < map.spots.size(); ++i) {
    const double spot_area = map.spots[i].area_px;
    if (face.absolute_luminance) weighted_L += figures.spots[i].mean_L->number() * spot_area;
    weighted_Y += mean_luminance[i] * spot_area;
    area += spot_area;
  }
  if (face.absolute_luminance) figures.matrix_L = lightness(std::max(matrix.luminance, 0.0));
  if (map.spots.empty()) return;
  figures.contrast_weber = weber_contrast(weighted_Y / area, matrix.luminance);
  if (!face.absolute_luminance) return;
  figures.spot_L = Lightness{weighted_L / area};
  figures.contrast_dL = Estimate<Lightness>{*figures.spot_L - *figures.matrix_L, Lightness{0.0}};
  figures.contrast_dE00 =
      ciede2000(lab_of_linear_srgb(spot_colour(face, map)),
                lab_of_linear_srgb({matrix.colour[0], matrix.colour[1], matrix.colour[2]}));
}

void gather_cautions(const CalibratedFace& face, const SpotMap& map, FaceMeasurement& figures) {
  for (const auto* cautions : {&face.cautions, &map.cautions})
    for (const Caution& caution : *cautions) {
      const auto same = std::find_if(figures.cautions.begin(), figures.cautions.end(), [&](const Caution& c) {
        return c.kind == caution.kind;
      });
      if (same == figures.cautions.end())
        figures.cautions.push_back(caution);
      else if (!caution.detail.empty())  // calibration and segmentation may doubt the same, each by a figure
        same->detail += (same->detail.empty() ? "" : "; ") + caution.detail;
    }
}

}  // namespace

FaceMeasurement measure(const CalibratedFace& face, const SpotMap& map, const MeasurementSettings& settings) {
  FaceMeasurement figures{};
  measure_extent(face, map, figures);
  measure_light(face, map, figures);
  figures.card_reflectance_u_rel = kCardReflectance_rel;
  figures.tones_u_rel = tones_u_rel(settings.camera_tones);
  measure_sizes(figures);
  figures.sizes = size_classes(figures.spots, settings.size_classes);
  figures.budgets = {scale_budget(face), area_fraction_budget(face, map, figures, settings.min_spot)};
  figures.area_fraction.u = Quantity<struct PercentUnit>{figures.budgets.back().combined};
  if (figures.contrast_dL) {
    figures.budgets.push_back(contrast_budget(face, map, figures));
    figures.contrast_dL->u = Lightness{figures.budgets.back().combined};
  }
  if (!map.spots.empty()) figures.budgets.push_back(median_spot_budget(face, map, figures));
  gather_cautions(face, map, figures);
  return figures;
}

}  // namespace corefleck
