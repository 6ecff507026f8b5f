#include "part_fit.hpp"

#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <optional>

namespace corefleck {
namespace {

constexpr double kPart_mm = 6.4;   // side of a part: some hundred pieces of detail, and 150 parts on a face
constexpr double kReach_mm = 0.6;  // each part is looked for this far about its place
constexpr double kFeatureless =
    0.1;  // rms of a part, of detail that is 1 rms where there is any: rounding is no detail
constexpr double kSeenShare = 0.6;   // of a part, in both photos
constexpr double kAgrees_mm = 0.15;  // of the last fit
constexpr double kLooser_mm[] = {0.45, 0.3, 0.2};
constexpr std::size_t kFewestAffine = 12, kFewestProjective = 30;  // parts that an affine fit wants

struct Laid {
  cv::Mat detail, seen;
};

Laid laid_on_first(const FaceDetail& first, const FaceDetail& second, const FaceTransform& transform) {
  const cv::Matx33d map = grid_map(first.grid, second.grid, transform);
  Laid laid;
  cv::warpPerspective(
      second.fine, laid.detail, map, first.fine.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP);
  cv::warpPerspective(
      second.seen, laid.seen, map, first.fine.size(), cv::INTER_NEAREST | cv::WARP_INVERSE_MAP);
  return laid;
}

/// Where a parabola through three neighbours has its top, from the middle one.
double top_of(double before, double at, double after) {
  const double curvature = before - 2.0 * at + after;
  return curvature < 0.0 ? std::clamp(0.5 * (before - after) / curvature, -0.5, 0.5) : 0.0;
}

/// How far the part lies from its place, in pixels; nothing where the best place is at the end of the reach.
std::optional<cv::Point2d> offset_of(const cv::Mat& part, const cv::Mat& around) {
  const double strength = cv::norm(part) / std::sqrt(static_cast<double>(part.total()));
  if (strength < kFeatureless) return std::nullopt;
  cv::Mat match;
  cv::matchTemplate(around, part, match, cv::TM_CCORR_NORMED);
  cv::Point peak;
  double most = 0.0;
  cv::minMaxLoc(match, nullptr, &most, nullptr, &peak);
  if (!(most > 0.0) || peak.x == 0 || peak.y == 0 || peak.x == match.cols - 1 || peak.y == match.rows - 1)
    return std::nullopt;
  const auto at = [&](int dx, int dy) {
    return static_cast<double>(match.at<float>(peak.y + dy, peak.x + dx));
  };
  return cv::Point2d(peak.x - match.cols / 2 + top_of(at(-1, 0), at(0, 0), at(1, 0)),
                     peak.y - match.rows / 2 + top_of(at(0, -1), at(0, 0), at(0, 1)));
}

struct Offset {
  cv::Point2d place_px;
  std::optional<cv::Point2d> moved_px;
};

std::vector<cv::Rect> shared_parts(const FaceDetail& first, const cv::Mat& seen_too, int side, int reach) {
  std::vector<cv::Rect> parts;
  const int from = reach + (first.fine.cols - 2 * reach) % side / 2;
  const double needed = kSeenShare * side * side;
  const cv::Mat both = first.seen & seen_too;
  for (int y = from; y + side + reach <= first.fine.rows; y += side)
    for (int x = from; x + side + reach <= first.fine.cols; x += side) {
      const cv::Rect part(x, y, side, side);
      if (cv::countNonZero(both(part)) >= needed) parts.push_back(part);
    }
  return parts;
}

std::vector<Offset> offsets(const FaceDetail& first, const Laid& second) {
  const double pitch = first.grid.pitch.number();
  const int side = static_cast<int>(std::lround(kPart_mm / pitch));
  const int reach = static_cast<int>(std::lround(kReach_mm / pitch));
  const std::vector<cv::Rect> parts = shared_parts(first, second.seen, side, reach);
  std::vector<Offset> found(parts.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(parts.size())), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const cv::Rect& part = parts[static_cast<std::size_t>(i)];
      const cv::Rect around(part.x - reach, part.y - reach, side + 2 * reach, side + 2 * reach);
      found[static_cast<std::size_t>(i)] = {{part.x + 0.5 * (side - 1), part.y + 0.5 * (side - 1)},
                                            offset_of(first.fine(part), second.detail(around))};
    }
  });
  return found;
}

/// Offsets as places on both faces. A part found `moved` away on the laid picture lies, on the second face,
/// where the transform takes the place that it was found at.
std::vector<PlacePair> pairs_of(const FaceDetail& first,
                                const FaceTransform& transform,
                                const std::vector<Offset>& all) {
  std::vector<PlacePair> pairs;
  for (const Offset& offset : all) {
    if (!offset.moved_px) continue;
    const cv::Point2d at = offset.place_px, found = at + *offset.moved_px;
    pairs.push_back({{first.grid.x_mm(at.x), first.grid.y_mm(at.y)},
                     transform({first.grid.x_mm(found.x), first.grid.y_mm(found.y)})});
  }
  return pairs;
}

std::vector<PlacePair> within(const std::vector<PlacePair>& pairs,
                              const FaceTransform& transform,
                              double limit_mm) {
  std::vector<PlacePair> near;
  std::copy_if(pairs.begin(), pairs.end(), std::back_inserter(near), [&](const PlacePair& pair) {
    return distance_mm(transform, pair) <= limit_mm;
  });
  return near;
}

enum class Model { rigid, affine, projective };

FaceTransform fit(const std::vector<PlacePair>& pairs, Model model) {
  if (model == Model::projective && pairs.size() >= kFewestProjective) return projective_fit(pairs);
  return model != Model::rigid && pairs.size() >= kFewestAffine ? affine_fit(pairs) : rigid_fit(pairs);
}

/// Fits to what lies near, ever nearer.
FaceTransform tightened(const std::vector<PlacePair>& pairs, FaceTransform transform, Model model) {
  for (const double limit : kLooser_mm) {
    const std::vector<PlacePair> near = within(pairs, transform, limit);
    if (near.size() < 3) break;
    transform = fit(near, model);
  }
  return transform;
}

/// First rigid: few parts of two different cores agree by chance, and a freer map would bend to them.
Model model_of(int round, bool same_face) {
  if (same_face) return Model::projective;
  return round == 0 ? Model::rigid : Model::affine;
}

/// A shift that most parts have in common, before anything else is believed.
FaceTransform with_common_shift(const std::vector<PlacePair>& pairs, const FaceTransform& transform) {
  if (pairs.empty()) return transform;
  std::vector<double> dx, dy;
  for (const PlacePair& pair : pairs) {
    const cv::Point2d off = pair.second - transform(pair.first);
    dx.push_back(off.x);
    dy.push_back(off.y);
  }
  const auto middle = [](std::vector<double>& values) {
    const auto at = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), at, values.end());
    return *at;
  };
  FaceTransform moved = transform;
  moved.shift_mm += cv::Vec2d(middle(dx), middle(dy));
  return moved;
}

}  // namespace

PartFit fit_parts(const FaceDetail& first,
                  const FaceDetail& second,
                  const FaceTransform& start,
                  int rounds,
                  FitPurpose purpose) {
  PartFit result;
  result.first_to_second = start;
  for (int round = 0; round < rounds; ++round) {
    const FaceTransform& before = result.first_to_second;
    const std::vector<Offset> all = offsets(first, laid_on_first(first, second, before));
    const std::vector<PlacePair> pairs = pairs_of(first, before, all);
    result.parts = static_cast<int>(all.size());
    FaceTransform transform =
        round == 0 && purpose == FitPurpose::recognise ? with_common_shift(pairs, before) : before;
    transform = tightened(pairs, transform, model_of(round, purpose == FitPurpose::place));
    result.agreeing = within(pairs, transform, kAgrees_mm);
    result.first_to_second = transform;
  }
  return result;
}

}  // namespace corefleck
