#include "reflections.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

constexpr double kGlintReach_mm = 0.8;  // around a reflection on a face not stated to be dry
constexpr double kStrayGlint_mm2 = 0.6;
constexpr double kBesideGlare_px = 3.0;
// Times the spots' usual height: what lies beside glare and is higher is its skirt, what lies alone a
// reflection.
constexpr double kSkirtHeight = 2.0, kGlintHeight = 3.0;
constexpr double kLoneGlintHeight = 5.0;                   // likewise, on a wet face where nothing clips
constexpr std::size_t kTellUsual = 5, kTellLone = 20;      // spots
constexpr double kSteep = 0.65, kSteepBesideGlint = 0.85;  // of the photo's blur; set on rendered films
constexpr double kSkirt = 0.5;                             // of its area, that near a reflection
constexpr double kHidden = 0.9;                            // of its outline, where glare bounds it; likewise

cv::Mat surroundings(const cv::Mat& mask, double reach_px) {
  if (mask.empty()) return {};
  const int size = 2 * static_cast<int>(std::ceil(reach_px)) + 1;
  cv::Mat wide;
  cv::dilate(mask, wide, cv::getStructuringElement(cv::MORPH_RECT, {size, size}));
  return wide;
}

bool meets(const Outlined& spot, const cv::Mat& mask) {
  return !mask.empty() && cv::countNonZero(mask(spot.region.box) & spot.mask) > 0;
}

void leave_out_as_glare(const Outlined& spot, SpotMap& map) {
  map.outside(spot.region.box).setTo(static_cast<unsigned char>(Outside::glare), spot.mask);
  map.glare.push_back(spot.region.outline);
}

/// Moves the reflections out of the spots into the glare, and what is left of their skirts: that hugs them.
template <class IsReflection>
void move_to_glare(std::vector<Outlined>& spots, SpotMap& map, double reach_px, IsReflection is_one) {
  const auto first =
      std::stable_partition(spots.begin(), spots.end(), [&](const Outlined& spot) { return !is_one(spot); });
  if (first == spots.end()) return;
  cv::Mat reflections = cv::Mat::zeros(map.outside.size(), CV_8UC1);
  for (auto spot = first; spot != spots.end(); ++spot) {
    reflections(spot->region.box).setTo(255, spot->mask);
    leave_out_as_glare(*spot, map);
  }
  spots.erase(first, spots.end());
  const cv::Mat skirts = surroundings(reflections, reach_px);
  std::erase_if(spots, [&](const Outlined& spot) {
    const bool is_skirt =
        cv::countNonZero(skirts(spot.region.box) & spot.mask) > kSkirt * cv::countNonZero(spot.mask);
    if (is_skirt) leave_out_as_glare(spot, map);
    return is_skirt;
  });
}

}  // namespace

Reflections::Reflections(const cv::Mat& glare, FaceState state, MmPerPx pitch, double blur_px)
    : near_(state == FaceState::dry ? cv::Mat() : surroundings(glare, kGlintReach_mm / pitch.number())),
      beside_(surroundings(glare, kBesideGlare_px)),
      state_(state),
      pitch_mm_(pitch.number()),
      blur_px_(blur_px) {}

UsualLooks Reflections::part_from(std::vector<Outlined>& spots, SpotMap& map) const {
  std::erase_if(spots, [&](const Outlined& spot) { return is_stray_glint(spot); });
  const UsualLooks usual = usual_looks(spots, [&](const Outlined& spot) { return lies_beside_glare(spot); });
  move_to_glare(spots, map, kGlintReach_mm / pitch_mm_, [&](const Outlined& spot) {
    return is_far_lighter(spot, usual) || is_between_glints(spot);
  });
  return usual;
}

bool Reflections::lies_beside_glare(const Outlined& spot) const { return meets(spot, beside_); }

// Where a film glints, a light region too small to clip may be a glint, the more so beside another. It is lit
// by something brighter than itself: its flank is steeper than the photo's blur leaves that of a spot.
bool Reflections::is_stray_glint(const Outlined& spot) const {
  if (near_.empty() || spot.region.area_px * pitch_mm_ * pitch_mm_ > kStrayGlint_mm2) return false;
  const bool beside = meets(spot, near_);
  if (state_ != FaceState::wet) return beside;
  return spot.region.flank_sigma_px < (beside ? kSteepBesideGlint : kSteep) * blur_px_;
}

// A reflection fades into the face around it, and what is left of its skirt beside the glare is a light
// region of its own; on a wet face smaller ones do not reach glare's limit at all. Both are far lighter than
// the spots.
bool Reflections::is_far_lighter(const Outlined& spot, const UsualLooks& usual) const {
  constexpr double kNever = std::numeric_limits<double>::infinity();
  double glint = kNever;
  if (!near_.empty())
    glint = usual.number < kTellUsual ? kNever : kGlintHeight * usual.usual;
  else if (state_ == FaceState::wet)
    glint = usual.number < kTellLone ? kNever : kLoneGlintHeight * usual.usual;
  const double height = height_of(spot.region);
  return height > glint || (height > kSkirtHeight * usual.usual && lies_beside_glare(spot));
}

bool Reflections::is_between_glints(const Outlined& spot) const {
  if (beside_.empty() || spot.region.flank_sigma_px > kSteep * blur_px_) return false;
  const Contour& outline = spot.region.outline;
  const cv::Rect frame(0, 0, beside_.cols, beside_.rows);
  const auto beside = std::count_if(outline.begin(), outline.end(), [&](const cv::Point2d& p) {
    const cv::Point at(static_cast<int>(std::lround(p.x)), static_cast<int>(std::lround(p.y)));
    return frame.contains(at) && beside_.at<unsigned char>(at) != 0;
  });
  return static_cast<double>(beside) > kHidden * static_cast<double>(outline.size());
}

}  // namespace corefleck
