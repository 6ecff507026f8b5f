#include "candidates.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace corefleck {
namespace {

// Mottle and grain also make light regions; what parts them from spots was read off rendered faces of two
// renderers: 99 % of the light regions of mottle stay below these, 99 % of the spots lie above.
constexpr double kLeastContrast = 0.16;  // Weber contrast of the plateau against the ground
constexpr double kAboveMottle = 3.8;     // in deviations of the matrix over the smallest spot's area
constexpr double kAboveGround = 4.0;     // in deviations of the ring of matrix around the region
constexpr double kSoftFlank_mm = 1.1;    // a flank this wide doubles what is asked
constexpr int kRounds = 24;
constexpr std::size_t kWeakSample = 150;  // hopeless regions looked at, of perhaps thousands
constexpr double kUnevenPlateau = 0.25;   // scatter of the plateau over its height

struct Seed {
  cv::Point at;
  float peak;
};

// Seeds are looked for on a grid on which the smallest spot is still some eight cells wide.
cv::Mat seed_grid(const cv::Mat& contrast, double pitch_mm, int factor) {
  cv::Mat small;
  if (factor > 1)
    cv::resize(contrast, small, {}, 1.0 / factor, 1.0 / factor, cv::INTER_AREA);
  else
    small = contrast;
  cv::Mat smooth;
  cv::GaussianBlur(small, smooth, {}, std::clamp(0.1 / pitch_mm / factor, 0.5, 4.0));
  return smooth;
}

cv::Point highest_pixel(const cv::Mat& contrast, cv::Point cell, int factor) {
  const cv::Rect block = cv::Rect(cell.x * factor, cell.y * factor, factor, factor) &
                         cv::Rect(0, 0, contrast.cols, contrast.rows);
  cv::Point at;
  cv::minMaxLoc(contrast(block), nullptr, nullptr, nullptr, &at);
  return at + block.tl();
}

// One seed for each connected light region: its highest cell, and in it the highest pixel.
std::vector<Seed> seeds_of(const cv::Mat& contrast, const cv::Mat& smooth, const cv::Mat& mask, int factor) {
  cv::Mat labels;
  const int count = cv::connectedComponents(mask, labels, 8, CV_32S);
  std::vector<Seed> seeds(static_cast<std::size_t>(count), {{0, 0}, -1.0F});
  for (int y = 0; y < mask.rows; ++y) {
    const int* label = labels.ptr<int>(y);
    const float* value = smooth.ptr<float>(y);
    for (int x = 0; x < mask.cols; ++x) {
      if (label[x] == 0) continue;
      Seed& seed = seeds[static_cast<std::size_t>(label[x])];
      if (value[x] > seed.peak) seed = {{x, y}, value[x]};
    }
  }
  seeds.erase(seeds.begin());
  for (Seed& seed : seeds) seed.at = highest_pixel(contrast, seed.at, factor);
  std::stable_sort(seeds.begin(), seeds.end(), [](const Seed& a, const Seed& b) { return a.peak > b.peak; });
  return seeds;
}

// Mean slope across the outline: between the ring of pixels just inside and the ring just outside.
double slope_at_edge(const cv::Mat& contrast, const HalfContrastRegion& region) {
  const cv::Rect frame(0, 0, contrast.cols, contrast.rows);
  const cv::Rect window =
      cv::Rect(region.box.x - 3, region.box.y - 3, region.box.width + 6, region.box.height + 6) & frame;
  cv::Mat mask = cv::Mat::zeros(window.size(), CV_8UC1);
  region.mask.copyTo(mask(region.box - window.tl()));
  cv::Mat gx, gy, magnitude, inner, edge;
  cv::Sobel(contrast(window), gx, CV_32F, 1, 0, 3, 0.125);
  cv::Sobel(contrast(window), gy, CV_32F, 0, 1, 3, 0.125);
  cv::magnitude(gx, gy, magnitude);
  cv::erode(mask, inner, cv::Mat());
  cv::dilate(mask, edge, cv::Mat());
  edge &= ~inner;
  return cv::mean(magnitude, edge)[0];
}

double height_of(const HalfContrastRegion& region) {
  return static_cast<double>(region.plateau - region.ground);
}

// Mottle is light too, but it is weak against its own spread or fades slowly; a spot is neither.
bool is_spot(const HalfContrastRegion& region,
             double slope,
             double pitch_mm,
             double sigma_px,
             const DetectionRule& rule) {
  const double height = height_of(region);
  const double area = cv::countNonZero(region.mask);
  if (area < rule.least_area_px || region.ground_px < 12) return false;
  const double flank_mm = height / std::max(slope, 1e-6) * pitch_mm;
  const double blur_mm = 2.5 * sigma_px * pitch_mm;
  const double soft = std::max(0.0, flank_mm - blur_mm);
  const double needed = std::max({kLeastContrast,
                                  kAboveMottle * rule.mottle_rel,
                                  kAboveGround * region.spread_ground,
                                  5.0 * rule.noise_rel}) *
                        (1.0 + std::pow(soft / kSoftFlank_mm, 2.0));
  return height > needed && region.spread_inside < kUnevenPlateau * height;
}

// The more light regions a face's mottle makes, the higher the highest of them: what is asked rises with
// their number, from their own median. Few regions tell nothing and ask nothing.
double above_population(std::vector<double> rejected) {
  constexpr std::size_t kEnough = 50;
  if (rejected.size() < kEnough) return 0.0;
  const double number = static_cast<double>(rejected.size());
  const auto middle = rejected.begin() + static_cast<std::ptrdiff_t>(rejected.size() / 2);
  std::nth_element(rejected.begin(), middle, rejected.end());
  return *middle * (1.5 + 0.33 * std::log(number / kEnough));
}

}  // namespace

double least_detectable(double mottle_rel) { return std::max(kLeastContrast, kAboveMottle * mottle_rel); }

std::vector<Found> light_regions(const cv::Mat& contrast,
                                 const cv::Mat& blocked,
                                 const cv::Mat& dark,
                                 double sigma_px,
                                 double pitch_mm,
                                 const DetectionRule& rule) {
  const double least_px = 2.0 * std::sqrt(rule.least_area_px / CV_PI);
  const int factor = std::clamp(static_cast<int>(least_px / 8.0), 1, 4);
  const cv::Mat smooth = seed_grid(contrast, pitch_mm, factor);
  cv::Mat taken = blocked.clone();
  std::vector<Found> found;
  std::vector<double> rejected;
  // Spots that share one light stretch of matrix, or the flank of a stronger one, appear one after the other
  // as those before them are taken away: hence rounds.
  for (int round = 0; round < kRounds; ++round) {
    cv::Mat closed;
    cv::resize(taken, closed, smooth.size(), 0, 0, cv::INTER_NEAREST);
    cv::Mat mask = (smooth > rule.low) & (closed == 0);
    cv::morphologyEx(mask, mask, cv::MORPH_OPEN, cv::Mat());
    cv::Mat busy;
    // Light mottle around a spot is its ground; only what may be another spot is not.
    const double other_spot =
        std::max(static_cast<double>(rule.low), 0.6 * least_detectable(rule.mottle_rel));
    cv::resize(smooth > other_spot, busy, contrast.size(), 0, 0, cv::INTER_NEAREST);
    busy |= dark;
    bool any = false;
    const std::vector<Seed> seeds = seeds_of(contrast, smooth, mask, factor);
    const double hopeless = 0.7 * least_detectable(rule.mottle_rel);
    const auto weak = static_cast<std::size_t>(std::count_if(
        seeds.begin(), seeds.end(), [&](const Seed& s) { return static_cast<double>(s.peak) < hopeless; }));
    const std::size_t stride = weak / kWeakSample + 1;
    for (std::size_t i = 0; i < seeds.size(); ++i) {
      const Seed& seed = seeds[i];
      // Regions too weak to be spots only tell the mottle's population: a sample of them does, once.
      const bool hopeful = static_cast<double>(seed.peak) >= hopeless;
      if (!hopeful && (round > 0 || i % stride != 0)) continue;
      const ContrastField field{contrast, taken, busy, sigma_px, pitch_mm};
      auto region = half_contrast_region(field, seed.at, std::max(rule.low, 0.5F * seed.peak));
      if (!region) continue;
      const double slope = slope_at_edge(contrast, *region);
      cv::Mat flank;
      const int reach = static_cast<int>(std::ceil(sigma_px * 1.5 + 0.2 / pitch_mm));
      const cv::Rect window = cv::Rect(region->box.x - reach,
                                       region->box.y - reach,
                                       region->box.width + 2 * reach,
                                       region->box.height + 2 * reach) &
                              cv::Rect(0, 0, contrast.cols, contrast.rows);
      cv::Mat shape = cv::Mat::zeros(window.size(), CV_8UC1);
      region->mask.copyTo(shape(region->box - window.tl()));
      cv::dilate(shape, flank, cv::getStructuringElement(cv::MORPH_RECT, {2 * reach + 1, 2 * reach + 1}));
      taken(window).setTo(255, flank);
      any = any || hopeful;
      if (is_spot(*region, slope, pitch_mm, sigma_px, rule))
        found.push_back({*std::move(region), slope});
      else if (cv::countNonZero(region->mask) >= rule.least_area_px)
        rejected.insert(rejected.end(), hopeful ? 1 : stride, height_of(*region));
    }
    if (!any) break;
  }
  const double least = above_population(std::move(rejected));
  std::erase_if(found, [&](const Found& f) { return height_of(f.region) <= least; });
  return found;
}

}  // namespace corefleck
