#include "reflections.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kGlintReach_mm = 0.8;  // around a reflection on a face not stated to be dry
constexpr double kStrayGlint_mm2 = 0.6;
constexpr double kBesideGlare_px = 3.0;
// Times the spots' usual height: what lies beside glare and is higher is its skirt, what lies alone a
// reflection.
constexpr double kSkirtHeight = 2.0, kGlintHeight = 3.0;
constexpr double kLoneGlintHeight = 5.0;               // likewise, on a wet face where nothing clips
constexpr std::size_t kTellUsual = 5, kTellLone = 20;  // spots
// Compact spots of some size are no glints, and of one face they are about equally light: none of 5000 on 105
// dry photos of three renderers rose above 1.5 times what one in five of its face's exceeds. Reflections on
// wet faces of the third rose to 1.2 to 4 times that, and where they did less they were ragged, as of spots
// on wet faces hardly one is that is as light.
constexpr double kOutshines = 1.6, kOutshinesRagged = 1.2;
constexpr std::size_t kTellClear = 5;
constexpr double kRaggedForm = 0.6;                        // form factor
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

/// Where what hugs a reflection lies. Mere points have no skirt, and a spot may lie beside one.
class Skirts {
 public:
  Skirts(cv::Size size, double reach_px, double point_px)
      : reflections_(cv::Mat::zeros(size, CV_8UC1)), reach_px_(reach_px), point_px_(point_px) {}

  void add(const Outlined& reflection) {
    if (reflection.region.area_px > point_px_)
      reflections_(reflection.region.box).setTo(255, reflection.mask);
  }

  /// None may be added after the first call.
  [[nodiscard]] bool hold(const Outlined& spot) {
    if (wide_.empty()) wide_ = surroundings(reflections_, reach_px_);
    return cv::countNonZero(wide_(spot.region.box) & spot.mask) > kSkirt * cv::countNonZero(spot.mask);
  }

 private:
  cv::Mat reflections_, wide_;
  double reach_px_, point_px_;
};

/// Moves the reflections out of the spots into the glare, and their skirts.
template <class IsReflection>
void move_to_glare(std::vector<Outlined>& spots, SpotMap& map, Skirts skirts, IsReflection is_one) {
  const auto first =
      std::stable_partition(spots.begin(), spots.end(), [&](const Outlined& spot) { return !is_one(spot); });
  if (first == spots.end()) return;
  for (auto spot = first; spot != spots.end(); ++spot) {
    skirts.add(*spot);
    leave_out_as_glare(*spot, map);
  }
  spots.erase(first, spots.end());
  std::erase_if(spots, [&](const Outlined& spot) {
    const bool is_skirt = skirts.hold(spot);
    if (is_skirt) leave_out_as_glare(spot, map);
    return is_skirt;
  });
}

}  // namespace

Reflections::Reflections(const cv::Mat& glare, FaceState state, MmPerPx pitch, double blur_px)
    : near_(state == FaceState::dry ? cv::Mat() : surroundings(glare, kGlintReach_mm / pitch.number())),
      beside_(surroundings(glare, kBesideGlare_px)),
      state_(state),
      reach_px_(kGlintReach_mm / pitch.number()),
      point_px_(kStrayGlint_mm2 / (pitch.number() * pitch.number())),
      blur_px_(blur_px) {}

UsualLooks Reflections::part_from(std::vector<Outlined>& spots, SpotMap& map) const {
  std::erase_if(spots, [&](const Outlined& spot) { return is_stray_glint(spot); });
  const UsualLooks usual =
      usual_looks(spots, point_px_, [&](const Outlined& spot) { return lies_beside_glare(spot); });
  move_to_glare(spots, map, {map.outside.size(), reach_px_, point_px_}, [&](const Outlined& spot) {
    return is_far_lighter(spot, usual) || is_between_glints(spot);
  });
  return usual;
}

void Reflections::mark_doubtful(std::vector<Outlined>& spots, const UsualLooks& usual) const {
  cv::Rect all;
  for (const Outlined& spot : spots) all |= spot.region.box;
  Skirts skirts(cv::Size(all.br()), reach_px_, point_px_);
  bool any = false;
  for (Outlined& spot : spots) {
    if (!may_be_one(spot, usual)) continue;
    skirts.add(spot);
    spot.region.may_be_reflection = any = true;
  }
  if (!any) return;
  for (Outlined& spot : spots)
    if (!spot.region.may_be_reflection) spot.region.may_be_reflection = skirts.hold(spot);
}

bool Reflections::lies_beside_glare(const Outlined& spot) const { return meets(spot, beside_); }

// Where a film glints, a light region too small to clip may be a glint, the more so beside another. It is lit
// by something brighter than itself: its flank is steeper than the photo's blur leaves that of a spot.
bool Reflections::is_stray_glint(const Outlined& spot) const {
  if (near_.empty() || spot.region.area_px > point_px_) return false;
  const bool beside = meets(spot, near_);
  if (state_ != FaceState::wet) return beside;
  return spot.region.flank_sigma_px < (beside ? kSteepBesideGlint : kSteep) * blur_px_;
}

/// Whether it is stated or seen that the face mirrors the lamp.
bool Reflections::reflects() const { return state_ == FaceState::wet || !near_.empty(); }

// Below some size blur and pixels make every outline round.
bool Reflections::is_ragged(const Outlined& spot) const {
  return spot.region.area_px > point_px_ && form_factor_of(spot.region) < kRaggedForm;
}

bool Reflections::outshines_clear_spots(const Outlined& spot, const UsualLooks& usual) const {
  if (usual.clear < kTellClear) return false;
  const double over = height_of(spot.region) / usual.clear_light;
  return over > kOutshines || (over > kOutshinesRagged && is_ragged(spot));
}

// A reflection fades into the face around it, and what is left of its skirt beside the glare is a light
// region of its own; on a wet face others do not reach glare's limit at all. Both are far lighter than
// the spots.
bool Reflections::is_far_lighter(const Outlined& spot, const UsualLooks& usual) const {
  const double height = height_of(spot.region);
  if (height > kSkirtHeight * usual.usual && lies_beside_glare(spot)) return true;
  if (!reflects()) return false;
  if (outshines_clear_spots(spot, usual)) return true;
  const bool seen = !near_.empty();
  return usual.number >= (seen ? kTellUsual : kTellLone) &&
         height > (seen ? kGlintHeight : kLoneGlintHeight) * usual.usual;
}

bool Reflections::may_be_one(const Outlined& spot, const UsualLooks& usual) const {
  if (state_ == FaceState::dry || !is_ragged(spot)) return false;
  return reflects() || outshines_clear_spots(spot, usual);
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
