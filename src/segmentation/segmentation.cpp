#include "corefleck/segmentation.hpp"

#include "candidates.hpp"
#include "glare.hpp"
#include "matrix_level.hpp"
#include "necks.hpp"

#include "corefleck/shape.hpp"
#include "corefleck/statistics.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kSmoothing_px = 0.7;   // before outlines are drawn: noise would fray them
constexpr double kGlintReach_mm = 0.8;  // around a reflection on a face not stated to be dry
constexpr double kStrayGlint_mm2 = 2.0;
constexpr double kMuchGlare_pct = 5.0;
constexpr double kClippedFace_pct = 0.2;

struct Noise {
  double pixel, small_spot;
};

// Deviation on the darker side, at two scales: single pixels of the smoothed contrast, and means over a small
// spot.
Noise matrix_noise(const cv::Mat& contrast, const cv::Mat& outside, double spot_px) {
  // Means over a small spot change slowly: they are made on a grid on which that spot is six cells wide.
  const int factor = std::max(1, static_cast<int>(spot_px / 6.0));
  cv::Mat means;
  cv::resize(contrast, means, {}, 1.0 / factor, 1.0 / factor, cv::INTER_AREA);
  cv::GaussianBlur(means, means, {}, std::max(1.0, 0.35 * spot_px / factor));
  std::vector<double> fine, coarse;
  const int stride = std::max(1, contrast.rows / 400);
  for (int y = stride; y < contrast.rows; y += stride)
    for (int x = stride; x < contrast.cols; x += stride) {
      if (outside.at<unsigned char>(y, x) != 0) continue;
      const int row = std::min(y / factor, means.rows - 1), column = std::min(x / factor, means.cols - 1);
      const double m = static_cast<double>(means.at<float>(row, column));
      fine.push_back(static_cast<double>(contrast.at<float>(y, x)) - m);
      if (m < 0.0) coarse.push_back(-m);
    }
  if (fine.size() < 100 || coarse.size() < 50) return {0.02, 0.02};
  return {robust_deviation(fine), 1.4826 * median(coarse)};
}

// The disc correction by equal area: blur takes pi sigma^2 from any smooth outline, whatever its shape, and
// more elaborately from one that is hardly wider than the blur.
double deblurred_area(double area, double sigma_px) {
  const double measured = std::sqrt(area / CV_PI);
  const double true_radius = deblurred_radius(measured, sigma_px);
  return CV_PI * true_radius * true_radius;
}

struct Traced {
  Contour outline;
  std::vector<Contour> holes;
  double area;
};

// The outline of one part in the smoothed contrast: pixels of other parts and beyond the part's flank are
// lowered, small dark grains that the mask took in are lifted. Only the largest piece is the spot.
Traced trace(const cv::Mat& contrast,
             const cv::Rect& box,
             const cv::Mat& part,
             const cv::Mat& whole,
             float threshold) {
  const cv::Rect window = cv::Rect(box.x - 3, box.y - 3, box.width + 6, box.height + 6) &
                          cv::Rect(0, 0, contrast.cols, contrast.rows);
  const cv::Rect place(box.tl() - window.tl(), part.size());
  cv::Mat shape = cv::Mat::zeros(window.size(), CV_8UC1), rest = shape.clone(), inner, near;
  part.copyTo(shape(place));
  cv::Mat others = whole & ~part;
  others.copyTo(rest(place));
  cv::erode(shape, inner, cv::Mat());
  cv::dilate(shape, near, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
  cv::Mat field = contrast(window).clone();
  const cv::Mat lifted = cv::max(field, threshold + 1e-3F);
  lifted.copyTo(field, inner);
  field.setTo(threshold - 1.0F, (near == 0) | rest);
  const auto grid = box.area() < 250000 ? LevelGrid::half_pixels : LevelGrid::pixels;
  Traced traced{{}, {}, 0.0};
  double largest = 0.0;
  for (LevelContour& contour : level_contours(field, threshold, grid)) {
    for (cv::Point2d& p : contour.points) p += cv::Point2d(window.tl());
    if (contour.area > largest) {
      largest = contour.area;
      traced.outline = std::move(contour.points);
    } else if (contour.area < -4.0) {
      traced.area += contour.area;
      traced.holes.push_back(std::move(contour.points));
    }
  }
  traced.area += largest;
  return traced;
}

bool meets_rim(const FaceGrid& grid, double inner_radius_px, const Contour& outline) {
  return std::any_of(outline.begin(), outline.end(), [&](const cv::Point2d& p) {
    return std::hypot(p.x - grid.centre_px, p.y - grid.centre_px) > inner_radius_px - 1.5;
  });
}

// Three ways in which an outline can be wrong, as shifts of the whole boundary: the plateau and the ground
// are known only within their own scatter, and where blur or softness is wide the half level is less sure.
double boundary_u_px(const Found& found, double sigma_px) {
  const HalfContrastRegion& r = found.region;
  const double area = std::max(1, cv::countNonZero(r.mask));
  const double independent = std::max(1.0, area / 4.0 / std::max(4.0, 12.0 * sigma_px * sigma_px));
  const double plateau_u = r.spread_inside / std::sqrt(independent) + 0.15 * r.spread_inside;
  const double ground_u =
      r.spread_ground / std::sqrt(std::max(1.0, r.ground_px / 25.0)) + 0.15 * r.spread_ground;
  const double level_u = 0.5 * std::hypot(plateau_u, ground_u);
  return std::hypot(level_u / std::max(found.edge_gradient, 1e-6), 0.06 + 0.04 * sigma_px);
}

cv::Mat surroundings(const cv::Mat& mask, double reach_px) {
  const int size = 2 * static_cast<int>(std::ceil(reach_px)) + 1;
  cv::Mat wide;
  cv::dilate(mask, wide, cv::getStructuringElement(cv::MORPH_RECT, {size, size}));
  return wide;
}

// A film that glints does so in swarms: small light regions beside a reflection, too small to clip, belong to
// it.
bool is_stray_glint(const Found& found, const cv::Mat& near_glare, double pitch_mm) {
  if (near_glare.empty()) return false;
  const double area_mm2 = cv::countNonZero(found.region.mask) * pitch_mm * pitch_mm;
  return area_mm2 < kStrayGlint_mm2 && cv::countNonZero(near_glare(found.region.box) & found.region.mask) > 0;
}

class Collector {
 public:
  Collector(const CalibratedFace& face, const cv::Mat& contrast, const MatrixLevel& matrix, double sigma_px)
      : face_(face),
        contrast_(contrast),
        matrix_(matrix),
        sigma_px_(sigma_px),
        inner_px_(((face.radius - face.rim_band) / face.grid.pitch).number()) {}

  // One region, parted at its necks, becomes one or more entries of `out`; smaller ones than the limit are
  // dropped.
  void add(const Found& found,
           double least_ecd_px,
           bool light,
           std::vector<Region>& out,
           std::vector<cv::Mat>& masks) const {
    int parts = 1;
    const double least = 0.25 * CV_PI * least_ecd_px * least_ecd_px;
    const cv::Mat part = light ? part_at_necks(found.region.mask, 0.6 * least, parts)
                               : cv::Mat(found.region.mask.size(), CV_32SC1, cv::Scalar(1));
    for (int n = 1; n <= parts; ++n) {
      cv::Mat mask = (part == n) & (found.region.mask != 0);
      Traced traced = trace(contrast_, found.region.box, mask, found.region.mask, found.region.threshold);
      if (traced.outline.size() < 3) continue;
      Region region = describe(found, std::move(traced));
      if (2.0 * std::sqrt(region.area_px / CV_PI) < least_ecd_px) continue;
      out.push_back(std::move(region));
      masks.push_back(mask);
    }
  }

 private:
  [[nodiscard]] Region describe(const Found& found, Traced traced) const {
    Region region{};
    region.box = found.region.box;
    const double perimeter = polygon_perimeter(traced.outline);
    region.area_px = deblurred_area(std::max(traced.area, 1.0), sigma_px_);
    region.u_area_px =
        perimeter * boundary_u_px(found, sigma_px_) + 0.35 * std::abs(region.area_px - traced.area);
    const cv::Point2d centre = polygon_centroid(traced.outline);
    const auto level = static_cast<double>(matrix_.at(centre.x, centre.y));
    const double sign = inverted_ ? -1.0 : 1.0;
    region.plateau = level * (1.0 + sign * static_cast<double>(found.region.plateau));
    region.ground = level * (1.0 + sign * static_cast<double>(found.region.ground));
    region.threshold = level * (1.0 + sign * static_cast<double>(found.region.threshold));
    region.edge_gradient = level * found.edge_gradient;
    region.touches_rim = meets_rim(face_.grid, inner_px_, traced.outline);
    region.outline = std::move(traced.outline);
    region.holes = std::move(traced.holes);
    return region;
  }

 public:
  bool inverted_ = false;  ///< dark regions, found in the negative contrast

 private:
  const CalibratedFace& face_;
  const cv::Mat& contrast_;
  const MatrixLevel& matrix_;
  double sigma_px_;
  double inner_px_;
};

void number_by_area(std::vector<Region>& regions, std::vector<cv::Mat>& masks) {
  std::vector<std::size_t> order(regions.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return regions[a].area_px > regions[b].area_px;
  });
  std::vector<Region> sorted;
  std::vector<cv::Mat> sorted_masks;
  for (const std::size_t i : order) {
    sorted.push_back(std::move(regions[i]));
    sorted.back().id = static_cast<int>(sorted.size());
    sorted_masks.push_back(masks[i]);
  }
  regions = std::move(sorted);
  masks = std::move(sorted_masks);
}

void count_areas(SpotMap& map) {
  std::size_t inside = 0, face = 0, glare = 0;
  for (int y = 0; y < map.outside.rows; ++y) {
    const unsigned char* row = map.outside.ptr(y);
    for (int x = 0; x < map.outside.cols; ++x) {
      const auto value = static_cast<Outside>(row[x]);
      inside += value == Outside::no ? 1U : 0U;
      face += value != Outside::beyond_rim ? 1U : 0U;
      glare += value == Outside::glare ? 1U : 0U;
    }
  }
  map.measured_area_px = static_cast<double>(inside);
  map.face_area_px = static_cast<double>(face);
  map.glare_area_px = static_cast<double>(glare);
}

void add_cautions(SpotMap& map,
                  const CalibratedFace& face,
                  const SegmentationSettings& settings,
                  double clipped_elsewhere_pct) {
  const double glare_pct = 100.0 * map.glare_area_px / std::max(1.0, map.face_area_px);
  if (glare_pct > kMuchGlare_pct)
    map.cautions.push_back({CautionKind::much_glare, fmt::format("{:.1f} % of the face", glare_pct)});
  if (clipped_elsewhere_pct > kClippedFace_pct)
    map.cautions.push_back(
        {CautionKind::face_clipped, fmt::format("{:.1f} % of the face clips", clipped_elsewhere_pct)});
  const double least_px = (settings.min_spot / face.grid.pitch).number();
  const double smallest_px = map.spots.empty() ? least_px : 2.0 * std::sqrt(map.spots.back().area_px / CV_PI);
  if (face.bar.edge_width_px > 0.8 * std::max(smallest_px, least_px))
    map.cautions.push_back(
        {CautionKind::out_of_focus,
         fmt::format("edges {:.1f} px wide, smallest spot {:.1f} px", face.bar.edge_width_px, smallest_px)});
  if (smallest_px < 6.0)
    map.cautions.push_back(
        {CautionKind::spots_barely_resolved, fmt::format("{:.1f} px across", smallest_px)});
}

}  // namespace

std::vector<std::string> SegmentationSettings::faults() const {
  if (min_spot.number() > 0.0 && min_spot.number() <= 100.0) return {};
  return {fmt::format("min_spot_mm = {}; must be above 0 and at most 100", min_spot.number())};
}

Result<SpotMap> find_spots(const CalibratedFace& face, const SegmentationSettings& settings) {
  SpotMap map{};
  map.outside = face.outside.clone();
  const double pitch_mm = face.grid.pitch.number();
  const double least_ecd_px = (settings.min_spot / face.grid.pitch).number();

  MatrixLevel matrix = matrix_level(face, map.outside, settings.min_spot);
  cv::Mat contrast = relative_contrast(face, matrix);
  const Glare glare = find_glare(face, contrast, settings);
  map.outside.setTo(static_cast<unsigned char>(Outside::glare),
                    glare.mask & (map.outside != static_cast<unsigned char>(Outside::beyond_rim)));
  map.glare = glare.outlines;
  count_areas(map);
  if (map.measured_area_px < 0.2 * map.face_area_px)
    return failure(ErrorCode::face_not_measurable,
                   "less than a fifth of the face is left to measure",
                   "photograph again without glare, or use a smaller --rim-band-mm");
  if (!glare.outlines.empty()) {
    matrix = matrix_level(face, map.outside, settings.min_spot);
    contrast = relative_contrast(face, matrix);
  }
  cv::GaussianBlur(contrast, contrast, {}, kSmoothing_px);
  const double sigma_px = std::hypot(face.blur_sigma_px, kSmoothing_px);
  const Noise noise = matrix_noise(contrast, map.outside, least_ecd_px);
  map.noise_rel = noise.pixel;
  map.mottle_rel = noise.small_spot;
  const double low =
      std::max({0.06, 2.0 * noise.small_spot, 3.0 * noise.pixel / std::max(1.0, 0.25 * least_ecd_px)});
  map.detection_contrast = least_detectable(noise.small_spot);
  const double least_area = 0.25 * CV_PI * least_ecd_px * least_ecd_px;
  const DetectionRule rule{static_cast<float>(low), 0.4 * least_area, noise.pixel, noise.small_spot};
  cv::Mat blocked = map.outside != 0;
  cv::Mat dark = contrast < static_cast<float>(-low);

  Collector collector(face, contrast, matrix, sigma_px);
  std::vector<cv::Mat> masks, pit_masks;
  const cv::Mat near_glare =
      settings.state == FaceState::dry ? cv::Mat() : surroundings(glare.mask, kGlintReach_mm / pitch_mm);
  for (const Found& found : light_regions(contrast, blocked, dark, sigma_px, pitch_mm, rule))
    if (!is_stray_glint(found, near_glare, pitch_mm))
      collector.add(found, least_ecd_px, true, map.spots, masks);
  number_by_area(map.spots, masks);
  for (std::size_t i = 0; i < map.spots.size(); ++i) blocked(map.spots[i].box).setTo(255, masks[i]);

  const cv::Mat light = contrast > static_cast<float>(low);
  contrast *= -1.0;  // hollows are found as light regions of the negative, in place: a copy would be the
                     // memory's peak
  Collector hollows(face, contrast, matrix, sigma_px);
  hollows.inverted_ = true;
  const DetectionRule pit_rule{static_cast<float>(std::max(0.15, 3.0 * noise.small_spot)),
                               0.3 * least_area,
                               noise.pixel,
                               1.3 * noise.small_spot};
  for (const Found& found : light_regions(contrast, blocked, light, sigma_px, pitch_mm, pit_rule))
    hollows.add(found, 0.6 * least_ecd_px, false, map.pits, pit_masks);
  number_by_area(map.pits, pit_masks);
  const cv::Size size = contrast.size();
  contrast.release();
  map.pit_mask = cv::Mat::zeros(size, CV_8UC1);
  for (std::size_t i = 0; i < map.pits.size(); ++i) map.pit_mask(map.pits[i].box).setTo(255, pit_masks[i]);
  map.labels = cv::Mat::zeros(size, CV_32SC1);
  for (std::size_t i = 0; i < map.spots.size(); ++i)
    map.labels(map.spots[i].box).setTo(map.spots[i].id, masks[i]);
  add_cautions(map, face, settings, glare.clipped_elsewhere_pct);
  return map;
}

}  // namespace corefleck
