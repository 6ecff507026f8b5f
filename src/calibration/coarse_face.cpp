#include "coarse_face.hpp"

#include "circle_votes.hpp"
#include "rings.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kLeastFound = 0.42;    // share of the rim that must lie on one ellipse
constexpr double kSurelyFound = 0.9;    // below this colour is asked too
constexpr double kClearlyFound = 0.65;  // below this the bench's texture is asked too
// Another map is believed only if it shows this much more of the rim.
constexpr double kMoreByTexture = 0.1, kMoreByColour = 0.05;
constexpr double kRival = 0.6;  // share of its rim from which a round thing elsewhere puts the face in doubt
constexpr double kColourful = 0.12;  // range of the logarithm of channel ratios over the frame
constexpr int kCandidates = 14;
constexpr double kCutOff = 0.1;  // of the radius, beyond the frame
// Of the radius: a tilt of 10 degrees and the votes' cells leave a coarse circle uncertain by about half of
// it.
constexpr double kCutMore = 0.03;

// How much of the circle must lie in the frame: a face hanging out of the photo by more cannot be measured.
bool inside_frame(const CoarseFaceRim& face, cv::Size size) {
  const double r = face.fit.curve.c[0];
  return face.centre.x > 0.6 * r && face.centre.y > 0.6 * r && face.centre.x < size.width - 0.6 * r &&
         face.centre.y < size.height - 0.6 * r;
}

// How far the circle reaches out of the frame, in radii.
double cut_off(const CoarseFaceRim& face, cv::Size size) {
  const double nearest =
      std::min({face.centre.x, face.centre.y, size.width - face.centre.x, size.height - face.centre.y});
  return std::max(0.0, 1.0 - nearest / face.fit.curve.c[0]);
}

// A core is laid whole into the frame; a round thing that the frame cuts is a cup or a bucket beside it.
bool whole(const CoarseFaceRim& face, cv::Size size) { return cut_off(face, size) < kCutOff; }

/// A map of the photo on which rims are looked for, and how sharp they are on it.
struct RimMap {
  cv::Mat tone;
  double voting_scale;  ///< reduction for the votes
  double softness;      ///< width of a rim on it, in units of that on the photo's own tone
  RimChannel channel;
};

RimSearch search_on(const RimMap& map, double r) {
  RimSearch search;
  search.tolerance = map.softness * std::max(1.6, 0.006 * r);
  search.smoothing = 1.2 * map.softness;
  return search;
}

CoarseFaceRim examine(const RimMap& map, cv::Point2d centre, double r) {
  const cv::Mat& tone = map.tone;
  CoarseFaceRim face{centre, {}, 0.0, 3.0 * map.softness, map.channel};
  RimCurve expected;
  expected.c[0] = r;
  for (int pass = 0; pass < 2; ++pass) {
    const RaySampler sample = [&](double angle, const RaySteps& steps) {
      const double c = std::cos(angle), s = std::sin(angle);
      std::vector<float> values;
      values.reserve(static_cast<std::size_t>(steps.count));
      for (int i = 0; i < steps.count; ++i) {
        const double radius = steps.first + i * steps.step;
        values.push_back(bilinear(tone, face.centre.x + radius * c, face.centre.y + radius * s));
      }
      return values;
    };
    RimSearch search = search_on(map, r);
    const double reach = pass == 0 ? std::max(8.0, 0.06 * r) : std::max(5.0, 0.025 * r);
    search.from_r = -reach;
    search.to_r = reach;
    face.fit = fit_rim(sample, expected, search);
    face.centre += {face.fit.curve.c[1], face.fit.curve.c[2]};
    expected = face.fit.curve;
    expected.c[1] = expected.c[2] = 0.0;
  }
  face.fit.curve = expected;
  face.score = face.fit.found * (1.0 - std::exp(-face.fit.contrast / 0.8));
  return face;
}

bool concentric(const CoarseFaceRim& a, const CoarseFaceRim& b) {
  const double r = std::max(a.fit.curve.c[0], b.fit.curve.c[0]);
  return std::hypot(a.centre.x - b.centre.x, a.centre.y - b.centre.y) < 0.35 * r;
}

// Whether several places show a rim.
bool in_doubt(const std::vector<CoarseFaceRim>& faces) {
  const CoarseFaceRim* first = nullptr;
  for (const CoarseFaceRim& face : faces) {
    if (face.fit.found < kRival) continue;
    if (first != nullptr && !concentric(face, *first)) return true;
    if (first == nullptr) first = &face;
  }
  return false;
}

// The core is what the photo was framed for: where the frame leaves a clear rim whole, or more of it than of
// things elsewhere, those are out of the running.
void drop_cut_ones(std::vector<CoarseFaceRim>& faces, cv::Size size) {
  std::optional<CoarseFaceRim> least;
  for (const CoarseFaceRim& face : faces)
    if (face.fit.found > kClearlyFound && (!least || cut_off(face, size) < cut_off(*least, size)))
      least = face;
  if (!least || !whole(*least, size)) return;
  std::erase_if(faces, [&](const CoarseFaceRim& face) {
    return !whole(face, size) ||
           (!concentric(face, *least) && cut_off(face, size) > cut_off(*least, size) + kCutMore);
  });
}

// A ring with the bench in it is no core; it is out of the running where another clear rim is in it.
void drop_rings(std::vector<CoarseFaceRim>& faces, const RimMap& map, const cv::Mat& rgb) {
  if (!in_doubt(faces)) return;
  std::vector<CoarseFaceRim> rings, discs;
  for (const CoarseFaceRim& face : faces) {
    if (face.fit.found < kRival) continue;
    const RimSearch like = search_on(map, face.fit.curve.c[0]);
    (is_ring({face.centre, face.fit.curve.c[0]}, map.tone, like, rgb) ? rings : discs).push_back(face);
  }
  const auto about_ring = [&](const CoarseFaceRim& face) {
    return std::any_of(rings.begin(), rings.end(), [&](const auto& ring) { return concentric(face, ring); });
  };
  const bool others = std::any_of(discs.begin(), discs.end(), [&](const CoarseFaceRim& disc) {
    return disc.fit.found > kClearlyFound && !about_ring(disc);
  });
  if (others) std::erase_if(faces, about_ring);
}

// The winner is the best-supported curve; of concentric ones nearly as good (a bevel inside the rim) the
// outermost.
const CoarseFaceRim* choose(const std::vector<CoarseFaceRim>& faces) {
  const CoarseFaceRim* best = nullptr;
  for (const CoarseFaceRim& face : faces)
    if (best == nullptr || face.score > best->score) best = &face;
  if (best == nullptr) return nullptr;
  const CoarseFaceRim* outer = best;
  for (const CoarseFaceRim& face : faces)
    if (concentric(face, *best) && face.score > 0.9 * best->score &&
        face.fit.curve.c[0] > outer->fit.curve.c[0] && face.fit.curve.c[0] < 1.05 * best->fit.curve.c[0])
      outer = &face;
  return outer;
}

// Whether the best of another map is to be believed rather than the best so far.
bool shows_more(const CoarseFaceRim& other, const CoarseFaceRim& best, double margin, cv::Size size) {
  if (whole(other, size) == whole(best, size)) return other.fit.found > best.fit.found + margin;
  return whole(other, size) && other.fit.found > kClearlyFound;
}

std::string place(const Overview& overview, const CoarseFaceRim& face) {
  const cv::Point2d at = overview.to_photo(face.centre);
  return fmt::format("({:.0f}, {:.0f}) r {:.0f}", at.x, at.y, face.fit.curve.c[0] * overview.factor);
}

// Where a busy bench has as many edges as the rim, the rim is where the busyness ends: local mean deviation
// of tone, as a tone of its own.
RimMap busyness(const cv::Mat& tone) {
  cv::Mat smooth, deviation, spread;
  cv::GaussianBlur(tone, smooth, {}, 5.0);
  cv::absdiff(tone, smooth, deviation);
  cv::GaussianBlur(deviation, spread, {}, 5.0);
  spread += 0.5;
  cv::log(spread, spread);
  return {spread * 25.0, 0.2, 3.0, {}};
}

// The direction in which the frame's colours differ most, as a tone; nothing where all of it is grey.
std::optional<RimMap> colour_map(const cv::Mat& rgb) {
  cv::Mat logs;
  cv::max(rgb, cv::Scalar::all(1e-3), logs);
  cv::log(logs, logs);
  std::vector<cv::Vec2f> sample;
  for (int y = 0; y < logs.rows; y += 6)
    for (int x = 0; x < logs.cols; x += 6) {
      const cv::Vec3f v = logs.at<cv::Vec3f>(y, x);
      sample.emplace_back(v[0] - v[1], v[2] - v[1]);
    }
  const cv::Mat rows(static_cast<int>(sample.size()), 2, CV_32FC1, sample.data());
  const cv::PCA axes(rows, cv::noArray(), cv::PCA::DATA_AS_ROW, 1);
  const float red = axes.eigenvectors.at<float>(0, 0), blue = axes.eigenvectors.at<float>(0, 1);
  std::vector<float> along;
  along.reserve(sample.size());
  for (const cv::Vec2f& v : sample) along.push_back(red * v[0] + blue * v[1]);
  std::sort(along.begin(), along.end());
  const auto at = [&](double share) {
    return along[static_cast<std::size_t>(share * static_cast<double>(along.size() - 1))];
  };
  if (static_cast<double>(at(0.95) - at(0.05)) < kColourful) return std::nullopt;
  RimMap map{{}, 0.5, 1.5, {true, {red, -red - blue, blue}}};
  cv::transform(logs, map.tone, cv::Matx13f(map.channel.log_weights.val));
  cv::GaussianBlur(
      map.tone * 100.0, map.tone, {}, 1.0);  // colour is noisier than lightness, and stored more coarsely
  return map;
}

std::vector<CoarseFaceRim> examine_all(const RimMap& map, const cv::Mat& rgb) {
  cv::Mat small;
  cv::resize(map.tone, small, {}, map.voting_scale, map.voting_scale, cv::INTER_AREA);
  const double zoom = 1.0 / map.voting_scale;
  const double min_r = 0.145 * small.rows;
  const double max_r = 0.56 * std::max(small.rows, small.cols / 2);
  const std::vector<CircleCandidate> circles = circle_candidates(small, min_r, max_r, kCandidates);
  std::vector<CoarseFaceRim> examined(circles.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(circles.size())), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i)
      examined[i] = examine(
          map, {zoom * (circles[i].x + 0.5) - 0.5, zoom * (circles[i].y + 0.5) - 0.5}, zoom * circles[i].r);
  });
  std::vector<CoarseFaceRim> faces;
  std::copy_if(examined.begin(), examined.end(), std::back_inserter(faces), [&](const CoarseFaceRim& face) {
    return inside_frame(face, map.tone.size());
  });
  drop_cut_ones(faces, map.tone.size());
  drop_rings(faces, map, rgb);
  return faces;
}

}  // namespace

Result<CoarseFaceRim> find_coarse_face(const Overview& overview) {
  std::vector<CoarseFaceRim> faces = examine_all({overview.tone, 0.5, 1.0, {}}, overview.rgb);
  const CoarseFaceRim* best = choose(faces);
  std::vector<CoarseFaceRim> others;
  const auto prefer = [&](const RimMap& map, double margin) {
    others = examine_all(map, overview.rgb);
    const CoarseFaceRim* other = choose(others);
    if (other == nullptr || (best != nullptr && !shows_more(*other, *best, margin, overview.tone.size())))
      return;
    std::swap(faces, others);
    best = choose(faces);
  };
  if (best == nullptr || best->fit.found < kSurelyFound)
    if (const auto map = colour_map(overview.rgb)) prefer(*map, kMoreByColour);
  if (best == nullptr || best->fit.found < kClearlyFound || !whole(*best, overview.tone.size()))
    prefer(busyness(overview.tone), kMoreByTexture);
  if (best == nullptr || best->fit.found < kLeastFound)
    return failure(ErrorCode::face_not_found,
                   "no round core face found in the photo",
                   "photograph the core from above with its whole rim visible, or give --core-at X,Y,R");
  for (const CoarseFaceRim& other : faces)
    if (!concentric(other, *best) && other.score > 0.8 * best->score && other.fit.found > kRival)
      return failure(ErrorCode::face_ambiguous,
                     fmt::format("two round faces found, at {} and at {} pixels",
                                 place(overview, *best),
                                 place(overview, other)),
                     "photograph one core at a time, or say which with --core-at X,Y,R");
  return *best;
}

}  // namespace corefleck
