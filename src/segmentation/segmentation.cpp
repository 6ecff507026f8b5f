#include "corefleck/segmentation.hpp"

#include "broken_rim.hpp"
#include "candidates.hpp"
#include "glare.hpp"
#include "local_contrast.hpp"
#include "matrix_level.hpp"
#include "matrix_noise.hpp"
#include "outlining.hpp"
#include "reflections.hpp"
#include "rim_chips.hpp"
#include "spot_cautions.hpp"

#include "corefleck/beside.hpp"
#include "corefleck/shape.hpp"
#include "corefleck/statistics.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

// A level line through mottle is ragged; a spot's runs along its flank, which mottle moves the less the
// higher it is. Set on 138 renders and 45 photos of a third renderer: of regions no lighter than this, those
// with a form factor below 0.3 were mottle, but for three of half a millimetre.
constexpr double kRagged = 0.3, kHardlyLighter = 1.45;  // times the least detectable contrast
// Parting makes the pieces of a streak less ragged than it is. Mottle so broad fades slowly (1.7 to 4.3 times
// the photo's blur, on two faces); a group of crisp spots that touch is as ragged (1.5 times, on one).
constexpr double kSoft = 1.6;
constexpr double kLeastMeasured = 0.2;  // share of the face
constexpr double kSmallestSpotShare =
    0.4;  // of the smallest spot's area, below which a region is not looked at
constexpr double kSmallestPit = 0.6, kSmallestPitShare = 0.3;
constexpr double kLowestPit = 0.15, kPitMottle = 1.3;
constexpr double kBroad_mm2 = 2.0;  // an outline long enough to tell whether its edge is crisp (no source)

double disc_area(double diameter) { return 0.25 * CV_PI * diameter * diameter; }

struct AreaCounts {
  int no = 0, beyond_rim = 0, glare = 0;
};

AreaCounts areas_of_row(const unsigned char* outside, int columns) {
  AreaCounts counts;
  for (int x = 0; x < columns; ++x) {
    counts.no += outside[x] == static_cast<unsigned char>(Outside::no) ? 1 : 0;
    counts.beyond_rim += outside[x] == static_cast<unsigned char>(Outside::beyond_rim) ? 1 : 0;
    counts.glare += outside[x] == static_cast<unsigned char>(Outside::glare) ? 1 : 0;
  }
  return counts;
}

void count_areas(SpotMap& map) {
  std::vector<AreaCounts> rows(static_cast<std::size_t>(map.outside.rows));
  cv::parallel_for_(cv::Range(0, map.outside.rows), [&](const cv::Range& range) {
    for (int y = range.start; y < range.end; ++y)
      rows[static_cast<std::size_t>(y)] = areas_of_row(map.outside.ptr(y), map.outside.cols);
  });
  double no = 0.0, beyond_rim = 0.0, glare = 0.0;
  for (const AreaCounts& row : rows) {
    no += row.no;
    beyond_rim += row.beyond_rim;
    glare += row.glare;
  }
  map.measured_area_px = no;
  map.face_area_px = static_cast<double>(map.outside.total()) - beyond_rim;
  map.glare_area_px = glare;
}

cv::Mat zeros(cv::Size size, int type) {
  cv::Mat plane(size, type);
  cv::parallel_for_(cv::Range(0, plane.rows), [&](const cv::Range& rows) { plane.rowRange(rows).setTo(0); });
  return plane;
}

/// Luminance of the matrix over the face: most of it is matrix.
double face_level(const CalibratedFace& face, const cv::Mat& outside) {
  constexpr int kStep = 8;
  std::vector<double> sample;
  for (int y = 0; y < outside.rows; y += kStep)
    for (int x = 0; x < outside.cols; x += kStep)
      if (outside.at<unsigned char>(y, x) == 0)
        sample.push_back(static_cast<double>(face.luminance.at<float>(y, x)));
  return sample.empty() ? 0.0 : median(sample);
}

bool is_ragged(const Outlined& spot, double blur_px) {
  return form_factor_of(spot.region) < kRagged ||
         (spot.whole_form < kRagged && spot.region.flank_sigma_px > kSoft * blur_px);
}

bool is_ragged_mottle(const Outlined& spot, const CalibratedFace& face, double level, double hardly_lighter) {
  if (!is_ragged(spot, face.blur_sigma_px)) return false;
  const double mean = cv::mean(face.luminance(spot.region.box), spot.mask)[0];
  return mean < (1.0 + hardly_lighter) * level;
}

void number_by_area(std::vector<Outlined>& regions) {
  std::stable_sort(regions.begin(), regions.end(), [](const Outlined& a, const Outlined& b) {
    return a.region.area_px > b.region.area_px;
  });
  for (std::size_t i = 0; i < regions.size(); ++i) regions[i].region.id = static_cast<int>(i) + 1;
}

/// The face, its matrix and its noise on cells, made once the glare is known.
struct Ground {
  int factor;
  CoarseFace face;
  MatrixNoise noise;
  float low;  // contrast from which a region is looked at
};

void leave_out_broken_rim(Ground& ground, SpotMap& map) {
  const cv::Mat broken = broken_rim(ground.face, ground.noise.small_spot);
  if (cv::countNonZero(broken) == 0) return;
  ground.face.blocked |= broken;
  const int n = broken.rows * ground.factor;
  cv::Mat wide;
  cv::resize(broken, wide, {n, n}, 0, 0, cv::INTER_NEAREST);
  cv::Mat outside = map.outside(cv::Rect(0, 0, n, n));
  const cv::Mat lost = wide & (outside == 0);
  outside.setTo(static_cast<unsigned char>(Outside::chip), lost);
  const double lost_share = cv::countNonZero(lost) / std::max(1.0, map.face_area_px);
  if (lost_share > kBrokenOff)
    map.cautions.push_back(
        {CautionKind::rim_incomplete, fmt::format("{:.1f} % of the face broken off", 100.0 * lost_share)});
}

// A broken rim becomes part of `map.outside` on the way: its crumbs would pass for spots.
Ground ground_of(const CalibratedFace& face,
                 SpotMap& map,
                 const LocalContrast& contrast,
                 double least_ecd_px) {
  Ground ground{};
  ground.factor = cell_px(least_ecd_px);
  CoarseFace& coarse = ground.face;
  coarse.contrast = contrast.coarse(ground.factor);
  coarse.colour = {face.colour, ground.factor};
  const int n = coarse.contrast.rows;
  cv::resize(map.outside(cv::Rect(0, 0, n * ground.factor, n * ground.factor)),
             coarse.blocked,
             {n, n},
             0,
             0,
             cv::INTER_NEAREST);
  // A reflection's light says nothing about the matrix beside it.
  coarse.contrast.setTo(0.0F, coarse.blocked == static_cast<unsigned char>(Outside::glare));
  coarse.blocked = coarse.blocked != 0;
  coarse.sigma_px = contrast.coarse_sigma_cells(ground.factor);
  coarse.pitch_mm = face.grid.pitch.number() * ground.factor;
  ground.noise = matrix_noise(contrast, coarse.contrast, coarse.blocked, ground.factor, least_ecd_px);
  leave_out_broken_rim(ground, map);
  const double least_noise = 3.0 * ground.noise.pixel / std::max(1.0, 0.25 * least_ecd_px);
  ground.low = static_cast<float>(std::max({0.06, 2.0 * ground.noise.small_spot, least_noise}));
  coarse.dark = coarse.contrast < -ground.low;
  return ground;
}

Faint part_from_mottle(std::vector<Outlined>& spots, const CalibratedFace& face, const SpotMap& map) {
  Faint faint{};
  const double level = face_level(face, map.outside);
  const double margin = lone_margin(spots.size());
  std::erase_if(spots, [&](const Outlined& spot) {
    if (!is_ragged_mottle(spot, face, level, margin * kHardlyLighter * map.detection_contrast)) return false;
    ++faint.number;
    faint.area_px += spot.region.area_px;
    return true;
  });
  return faint;
}

Faint find_light(const CalibratedFace& face,
                 const SegmentationSettings& settings,
                 const cv::Mat& glare,
                 const OutlineSetting& outlining,
                 const CoarseSpots& found,
                 SpotMap& map) {
  auto [spots, blur_px] = outline_all(outlining, found);
  map.blur_sigma_px = blur_px;
  const Faint faint = part_from_mottle(spots, face, map);
  const Reflections reflections(glare, settings.state, face.grid.pitch, map.blur_sigma_px);
  const UsualLooks usual = reflections.part_from(spots, map);
  leave_out_chips(spots, usual, face, map);
  reflections.mark_doubtful(spots, usual);
  number_by_area(spots);
  map.labels = zeros(map.outside.size(), CV_32SC1);
  for (Outlined& spot : spots) {
    map.labels(spot.region.box).setTo(spot.region.id, spot.mask);
    map.spots.push_back(std::move(spot.region));
  }
  return faint;
}

/// Hollows are found as light regions of the negative.
CoarseSpots find_hollows(const Ground& ground, const CoarseSpots& spots, double least_ecd_px) {
  CoarseFace negative{-1.0 * ground.face.contrast,
                      {cv::Mat(), ground.factor},
                      ground.face.blocked.clone(),
                      ground.face.contrast > ground.low,
                      ground.face.sigma_px,
                      ground.face.pitch_mm};
  for (const Candidate& spot : spots.spots) negative.blocked(spot.region.box).setTo(255, spot.region.mask);
  const double least_cells = disc_area(least_ecd_px) / (ground.factor * ground.factor);
  const DetectionRule rule{static_cast<float>(std::max(kLowestPit, 3.0 * ground.noise.small_spot)),
                           kSmallestPitShare * least_cells,
                           ground.noise.pixel,
                           kPitMottle * ground.noise.small_spot,
                           kBroad_mm2 / std::pow(ground.face.pitch_mm, 2.0)};
  return find_candidates(negative, rule);
}

void find_pits(const OutlineSetting& outlining, const CoarseSpots& hollows, SpotMap& map) {
  std::vector<Outlined> pits = outline_all(outlining, hollows).regions;
  number_by_area(pits);
  map.pit_mask = zeros(map.outside.size(), CV_8UC1);
  for (Outlined& pit : pits) {
    map.pit_mask(pit.region.box).setTo(255, pit.mask);
    map.pits.push_back(std::move(pit.region));
  }
}

}  // namespace

std::size_t SpotMap::index_of(int id) const {
  const auto at = std::lower_bound(
      spots.begin(), spots.end(), id, [](const Region& spot, int wanted) { return spot.id < wanted; });
  return static_cast<std::size_t>(at - spots.begin());
}

double SpotMap::doubtful_area_px() const {
  double area_px = 0.0;
  for (const Region& spot : spots)
    if (spot.may_be_reflection) area_px += spot.area_px;
  return area_px;
}

std::vector<std::string> SegmentationSettings::faults() const {
  if (min_spot.number() > 0.0 && min_spot.number() <= 100.0) return {};
  return {fmt::format("min_spot_mm = {}; must be above 0 and at most 100", min_spot.number())};
}

Result<SpotMap> find_spots(const CalibratedFace& face, const SegmentationSettings& settings) {
  SpotMap map{};
  map.outside = face.outside.clone();
  const double least_ecd_px = (settings.min_spot / face.grid.pitch).number();

  MatrixLevel matrix = matrix_level(face, map.outside, settings.min_spot);
  const LocalContrast contrast(face, matrix);
  const Glare glare = find_glare(face, contrast, settings);
  map.glare = glare.outlines;
  if (!glare.mask.empty()) {
    map.outside.setTo(static_cast<unsigned char>(Outside::glare),
                      glare.mask & (map.outside != static_cast<unsigned char>(Outside::beyond_rim)));
    matrix = matrix_level(face, map.outside, settings.min_spot);
  }
  count_areas(map);
  if (map.measured_area_px < kLeastMeasured * map.face_area_px)
    return failure(ErrorCode::face_not_measurable,
                   "less than a fifth of the face is left to measure",
                   "photograph again without glare, or use a smaller --rim-band-mm");

  Ground ground = ground_of(face, map, contrast, least_ecd_px);
  map.noise_rel = ground.noise.pixel;
  map.mottle_rel = ground.noise.small_spot;
  map.detection_contrast = least_detectable(ground.noise.small_spot);
  const DetectionRule rule{ground.low,
                           kSmallestSpotShare * disc_area(least_ecd_px) / (ground.factor * ground.factor),
                           ground.noise.pixel,
                           ground.noise.small_spot,
                           kBroad_mm2 / std::pow(ground.face.pitch_mm, 2.0)};
  const CoarseSpots found = find_candidates(ground.face, rule);
  auto hollows = beside([&] { return find_hollows(ground, found, least_ecd_px); });
  const Faint ragged =
      find_light(face,
                 settings,
                 glare.mask,
                 {face, map.outside, contrast, ground.factor, least_ecd_px, face.blur_sigma_px, true},
                 found,
                 map);
  find_pits(
      {face, map.outside, contrast, ground.factor, kSmallestPit * least_ecd_px, map.blur_sigma_px, false},
      hollows.get(),
      map);
  count_areas(map);
  const Faint faint{found.faint + ragged.number,
                    found.faint_area * ground.factor * ground.factor + ragged.area_px};
  map.faint_area_px = faint.area_px;
  add_cautions(map, face, settings, faint, glare.clipped_elsewhere_pct);
  return map;
}

}  // namespace corefleck
