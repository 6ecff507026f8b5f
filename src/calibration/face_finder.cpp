#include "face_finder.hpp"

#include "circle_votes.hpp"
#include "rim_curve.hpp"

#include "corefleck/colorimetry.hpp"
#include "corefleck/statistics.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kLeastFound = 0.42;    // share of the rim that must lie on one ellipse
constexpr double kSurelyFound = 0.9;    // below this colour is asked too
constexpr double kClearlyFound = 0.65;  // below this the bench's texture is asked too
// Another map is believed only if it shows this much more of the rim.
constexpr double kMoreByTexture = 0.1, kMoreByColour = 0.05;
constexpr double kColourful = 0.12;  // range of the logarithm of channel ratios over the frame
// Difference of colour across the rim, in its own deviations and in log of a ratio, from which colour is
// asked where exactly the plaster ends; and the share of the rim it must show then.
constexpr double kClearColour = 2.5, kLeastColour = 0.03, kFollowedByColour = 0.7;
// A rim that lightness shows whole is given up only for one that colour shows as whole, and clearly
// elsewhere: colour blurs into the dark of a shadow by up to 0.8 % of the radius.
constexpr double kWholeRim = 0.95, kAsWhole = 0.03;
constexpr int kCandidates = 14;
constexpr int kRays = 720;

/// What is followed in the photo: luminance, or the logarithm of a ratio of channels where colour parts the
/// face from the bench better than lightness does.
struct RimChannel {
  bool colour = false;
  cv::Vec3f log_weights;  ///< of R, G, B; they add to 0
};

struct Coarse {
  cv::Point2d centre;  ///< overview pixels
  RimFit fit;
  double score;
  double uncertain_px;  ///< how far off the rim may be, overview pixels
  RimChannel channel;
};

// How much of the circle must lie in the frame: a face hanging out of the photo by more cannot be measured.
bool inside_frame(const Coarse& face, cv::Size size) {
  const double r = face.fit.curve.c[0];
  return face.centre.x > 0.6 * r && face.centre.y > 0.6 * r && face.centre.x < size.width - 0.6 * r &&
         face.centre.y < size.height - 0.6 * r;
}

/// A map of the photo on which rims are looked for, and how sharp they are on it.
struct RimMap {
  cv::Mat tone;
  double voting_scale;  ///< reduction for the votes
  double softness;      ///< width of a rim on it, in units of that on the photo's own tone
  RimChannel channel;
};

Coarse examine(const RimMap& map, cv::Point2d centre, double r) {
  const cv::Mat& tone = map.tone;
  Coarse face{centre, {}, 0.0, 3.0 * map.softness, map.channel};
  RimCurve expected;
  expected.c[0] = r;
  for (int pass = 0; pass < 2; ++pass) {
    const RaySampler sample = [&](double angle, const RaySteps& steps) {
      const double c = std::cos(angle), s = std::sin(angle);
      std::vector<float> values;
      for (int i = 0; i < steps.count; ++i) {
        const double radius = steps.first + i * steps.step;
        values.push_back(bilinear(tone, face.centre.x + radius * c, face.centre.y + radius * s));
      }
      return values;
    };
    RimSearch search;
    const double reach = pass == 0 ? std::max(8.0, 0.06 * r) : std::max(5.0, 0.025 * r);
    search.from_r = -reach;
    search.to_r = reach;
    search.tolerance = map.softness * std::max(1.6, 0.006 * r);
    search.smoothing = 1.2 * map.softness;
    face.fit = fit_rim(sample, expected, search);
    face.centre += {face.fit.curve.c[1], face.fit.curve.c[2]};
    expected = face.fit.curve;
    expected.c[1] = expected.c[2] = 0.0;
  }
  face.fit.curve = expected;
  face.score = face.fit.found * (1.0 - std::exp(-face.fit.contrast / 0.8));
  return face;
}

bool concentric(const Coarse& a, const Coarse& b) {
  const double r = std::max(a.fit.curve.c[0], b.fit.curve.c[0]);
  return std::hypot(a.centre.x - b.centre.x, a.centre.y - b.centre.y) < 0.35 * r;
}

// The winner is the best-supported curve; of concentric ones nearly as good (a bevel inside the rim) the
// outermost.
const Coarse* choose(const std::vector<Coarse>& faces) {
  const Coarse* best = nullptr;
  for (const Coarse& face : faces)
    if (best == nullptr || face.score > best->score) best = &face;
  if (best == nullptr) return nullptr;
  const Coarse* outer = best;
  for (const Coarse& face : faces)
    if (concentric(face, *best) && face.score > 0.9 * best->score &&
        face.fit.curve.c[0] > outer->fit.curve.c[0] && face.fit.curve.c[0] < 1.05 * best->fit.curve.c[0])
      outer = &face;
  return outer;
}

std::string place(const Overview& overview, const Coarse& face) {
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

std::vector<Coarse> examine_all(const RimMap& map) {
  cv::Mat small;
  cv::resize(map.tone, small, {}, map.voting_scale, map.voting_scale, cv::INTER_AREA);
  const double zoom = 1.0 / map.voting_scale;
  const double min_r = 0.145 * small.rows;
  const double max_r = 0.56 * std::max(small.rows, small.cols / 2);
  const std::vector<CircleCandidate> circles = circle_candidates(small, min_r, max_r, kCandidates);
  std::vector<Coarse> examined(circles.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(circles.size())), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i)
      examined[i] = examine(
          map, {zoom * (circles[i].x + 0.5) - 0.5, zoom * (circles[i].y + 0.5) - 0.5}, zoom * circles[i].r);
  });
  std::vector<Coarse> faces;
  std::copy_if(examined.begin(), examined.end(), std::back_inserter(faces), [&](const Coarse& face) {
    return inside_frame(face, map.tone.size());
  });
  return faces;
}

Result<Coarse> find_coarse(const Overview& overview) {
  std::vector<Coarse> faces = examine_all({overview.tone, 0.5, 1.0, {}});
  const Coarse* best = choose(faces);
  std::vector<Coarse> others;
  const auto prefer = [&](const RimMap& map, double margin) {
    others = examine_all(map);
    const Coarse* other = choose(others);
    if (other == nullptr || (best != nullptr && other->fit.found <= best->fit.found + margin)) return;
    std::swap(faces, others);
    best = choose(faces);
  };
  if (best == nullptr || best->fit.found < kSurelyFound)
    if (const auto map = colour_map(overview.rgb)) prefer(*map, kMoreByColour);
  if (best == nullptr || best->fit.found < kClearlyFound) prefer(busyness(overview.tone), kMoreByTexture);
  if (best == nullptr || best->fit.found < kLeastFound)
    return failure(ErrorCode::face_not_found,
                   "no round core face found in the photo",
                   "photograph the core from above with its whole rim visible, or give --core-at X,Y,R");
  for (const Coarse& other : faces)
    if (!concentric(other, *best) && other.score > 0.8 * best->score && other.fit.found > 0.6)
      return failure(ErrorCode::face_ambiguous,
                     fmt::format("two round faces found, at {} and at {} pixels",
                                 place(overview, *best),
                                 place(overview, other)),
                     "photograph one core at a time, or say which with --core-at X,Y,R");
  return *best;
}

float level_of(const cv::Vec3f& rgb, const RimChannel& channel) {
  if (!channel.colour) return static_cast<float>(luminance({rgb[0], rgb[1], rgb[2]}));
  float sum = 0.0F;
  for (int c = 0; c < 3; ++c) sum += channel.log_weights[c] * std::log(std::max(rgb[c], 1e-3F));
  return sum;
}

// Rays of the photo itself, each the mean of three parallel lines one pixel apart: a rim is straight over
// that width, noise is not.
RaySampler rays_of(const Photo& photo, cv::Point2d centre, const RimChannel& channel) {
  return [&photo, centre, channel](double angle, const RaySteps& steps) {
    const cv::Point2d along(std::cos(angle), std::sin(angle)), across(-along.y, along.x);
    cv::Mat places(3, steps.count, CV_32FC2);
    for (int line = 0; line < 3; ++line)
      for (int i = 0; i < steps.count; ++i)
        places.at<cv::Point2f>(line, i) =
            centre + (steps.first + i * steps.step) * along + (line - 1.0) * across;
    const cv::Mat rgb = linear_rgb_at(photo, places);
    std::vector<float> values(static_cast<std::size_t>(steps.count));
    for (int i = 0; i < steps.count; ++i)
      for (int line = 0; line < 3; ++line)
        values[static_cast<std::size_t>(i)] += level_of(rgb.at<cv::Vec3f>(line, i), channel) / 3.0F;
    return values;
  };
}

// Geometric fit: Gauss-Newton on radial distances from a start that is already within a pixel.
FaceEllipse fit_ellipse(const std::vector<cv::Point2d>& points) {
  std::vector<cv::Point2f> float_points;
  const cv::Point2d origin = points.front();
  for (const cv::Point2d& p : points) float_points.emplace_back(p - origin);
  const cv::RotatedRect box = cv::fitEllipseDirect(float_points);
  FaceEllipse ellipse{};
  ellipse.x = static_cast<double>(box.center.x) + origin.x;
  ellipse.y = static_cast<double>(box.center.y) + origin.y;
  const double half_w = 0.5 * static_cast<double>(box.size.width);
  const double half_h = 0.5 * static_cast<double>(box.size.height);
  const double turn = static_cast<double>(box.angle) * CV_PI / 180.0;
  ellipse.semi_major = std::max(half_w, half_h);
  ellipse.semi_minor = std::min(half_w, half_h);
  ellipse.angle_rad = half_w >= half_h ? turn : turn + CV_PI / 2.0;
  return ellipse;
}

std::vector<cv::Point2d> rim_points(const RimFit& fit, cv::Point2d centre) {
  std::vector<cv::Point2d> points;
  for (const RimPoint& p : fit.points)
    points.push_back(centre + p.radius * cv::Point2d(std::cos(p.angle_rad), std::sin(p.angle_rad)));
  return points;
}

// A thin ring that is darker than the face inside it and the bench outside it is the core's shadow: of its
// two edges the inner one is the rim.
std::optional<RimFit> rim_inside_shadow(const Photo& photo,
                                        cv::Point2d centre,
                                        const RimFit& fit,
                                        RimSearch search) {
  if (fit.lighter_outwards < 0.5) return std::nullopt;
  const double r = fit.curve.c[0];
  search.from_r = -0.026 * r;
  search.to_r = -std::max(2.0, 0.004 * r);
  if (search.to_r - search.from_r < 3.0) return std::nullopt;
  RimFit inner = fit_rim(rays_of(photo, centre, {}), fit.curve, search);
  if (inner.found < 0.7 * fit.found || inner.contrast < 0.25 * fit.contrast || inner.lighter_outwards > -0.5)
    return std::nullopt;
  return inner;
}

struct ColourRing {
  std::array<double, 2> middle, spread;  ///< of log R/G and log B/G
};

// Of a ring of the overview, `from` to `to` times the rim's radius.
ColourRing colour_ring(
    const Overview& overview, cv::Point2d centre, const RimCurve& rim, double from, double to) {
  std::array<std::vector<double>, 2> ratios;
  for (int i = 0; i < 180; ++i) {
    const double angle = 2.0 * CV_PI * i / 180.0, r = rim.radius(angle);
    for (const double share : {from, 0.5 * (from + to), to}) {
      const cv::Point2d at =
          overview.from_photo(centre + share * r * cv::Point2d(std::cos(angle), std::sin(angle)));
      const cv::Point pixel(static_cast<int>(std::lround(at.x)), static_cast<int>(std::lround(at.y)));
      if (!cv::Rect({}, overview.rgb.size()).contains(pixel)) continue;
      const cv::Vec3f v = overview.rgb.at<cv::Vec3f>(pixel);
      const double green = std::log(std::max(static_cast<double>(v[1]), 1e-3));
      ratios[0].push_back(std::log(std::max(static_cast<double>(v[0]), 1e-3)) - green);
      ratios[1].push_back(std::log(std::max(static_cast<double>(v[2]), 1e-3)) - green);
    }
  }
  ColourRing ring{};
  for (std::size_t c = 0; c < 2; ++c) {
    ring.middle[c] = ratios[c].empty() ? 0.0 : median(ratios[c]);
    ring.spread[c] = ratios[c].empty() ? 1.0 : std::max(robust_deviation(ratios[c]), 2e-3);
  }
  return ring;
}

// The ratio of channels that parts the face from what lies around it, if one does.
std::optional<RimChannel> colour_across_rim(const Overview& overview,
                                            cv::Point2d centre,
                                            const RimCurve& rim) {
  const ColourRing in = colour_ring(overview, centre, rim, 0.86, 0.95);
  const ColourRing out = colour_ring(overview, centre, rim, 1.05, 1.14);
  std::array<double, 2> weight{};
  double clear = 0.0, difference = 0.0;
  for (std::size_t c = 0; c < 2; ++c) {
    const double step = out.middle[c] - in.middle[c];
    const double variance = in.spread[c] * in.spread[c] + out.spread[c] * out.spread[c];
    weight[c] = step / variance;
    clear += step * step / variance;
    difference = std::max(difference, std::abs(step));
  }
  if (clear < kClearColour * kClearColour || difference < kLeastColour) return std::nullopt;
  const double size = std::hypot(weight[0], weight[1]);
  const auto red = static_cast<float>(weight[0] / size), blue = static_cast<float>(weight[1] / size);
  return RimChannel{true, {red, -red - blue, blue}};
}

double apart(const RimCurve& a, const RimCurve& b) {
  double most = 0.0;
  for (int i = 0; i < 72; ++i) {
    const double angle = 2.0 * CV_PI * i / 72.0;
    most = std::max(most, std::abs(a.radius(angle) - b.radius(angle)));
  }
  return most;
}

enum class ByColour { unknown, agrees, elsewhere };

// Shadow beyond the rim, a worn edge inside it and the core's side wall change lightness; the colour changes
// where the plaster ends. Colour is stored more coarsely, so it only decides where the two differ clearly.
ByColour check_by_colour(
    const Photo& photo, const Overview& overview, cv::Point2d centre, const RimSearch& like, RimFit& fit) {
  const auto channel = colour_across_rim(overview, centre, fit.curve);
  if (!channel) return ByColour::unknown;
  const double r = fit.curve.c[0];
  RimSearch search = like;
  search.to_r = std::max(8.0, 0.035 * r);
  search.from_r = -search.to_r;
  search.rays = kRays / 2;
  search.step = std::max(0.5, r / 1000.0);
  search.smoothing = 4.0;
  search.tolerance = std::max(2.0, 0.006 * r);
  RimFit by_colour = fit_rim(rays_of(photo, centre, *channel), fit.curve, search);
  if (by_colour.found < std::max(kFollowedByColour, fit.found - kAsWhole) ||
      std::abs(by_colour.lighter_outwards) < 0.9)
    return ByColour::unknown;
  const bool whole = fit.found >= kWholeRim;
  // The side wall has the plaster's colour: beyond a whole rim, colour ends where the wall does.
  if (whole && by_colour.curve.c[0] > r) return ByColour::agrees;
  const double clearly = (whole ? 0.009 : 0.003) * r;
  if (apart(by_colour.curve, fit.curve) < std::max(1.5, clearly)) return ByColour::agrees;
  fit = std::move(by_colour);
  return ByColour::elsewhere;
}

Result<FoundFace> refine(const Photo& photo,
                         const Overview& overview,
                         cv::Point2d centre,
                         RimCurve curve,
                         double uncertain_px,
                         const RimChannel& channel) {
  RimFit fit;
  double reach = uncertain_px;
  std::size_t rays = kRays;
  for (int pass = 0; pass < 2; ++pass) {
    RimSearch search;
    search.rays = kRays;
    search.from_r = -reach;
    search.to_r = reach;
    search.step = 0.5;
    search.smoothing = 3.0;
    search.tolerance = pass == 0 ? std::max(2.0, 0.35 * uncertain_px) : std::max(1.5, 0.004 * curve.c[0]);
    fit = fit_rim(rays_of(photo, centre, channel), curve, search);
    if (fit.points.size() < kRays / 5)
      return failure(
          ErrorCode::face_not_found,
          "the face's rim cannot be followed in the photo",
          "lay the core on a bench of another tone, lit evenly, or give --core-at X,Y,R nearer to the rim");
    if (pass == 1 && !channel.colour && !photo.is_grey()) {
      const ByColour colour = check_by_colour(photo, overview, centre, search, fit);
      if (colour == ByColour::elsewhere) rays = kRays / 2;
      if (colour == ByColour::unknown)
        if (auto inner = rim_inside_shadow(photo, centre, fit, search)) fit = *std::move(inner);
    }
    curve = fit.curve;
    reach = std::max(4.0, 0.012 * curve.c[0]);
  }
  FoundFace found;
  found.rim = rim_points(fit, centre);
  found.ellipse = fit_ellipse(found.rim);
  found.ellipse.residual_px = fit.residual;
  found.ellipse.rim_found_pct = 100.0 * static_cast<double>(fit.points.size()) / static_cast<double>(rays);
  found.ellipse.score = fit.found;
  return found;
}

}  // namespace

Result<FoundFace> find_face(const Photo& photo,
                            const Overview& overview,
                            const std::optional<PixelCircle>& by_hand) {
  RimCurve curve;
  if (by_hand) {
    curve.c[0] = by_hand->r;
    auto found =
        refine(photo, overview, {by_hand->x, by_hand->y}, curve, std::max(6.0, 0.06 * by_hand->r), {});
    if (found) found->ellipse.by_hand = true;
    return found;
  }
  auto coarse = find_coarse(overview);
  if (!coarse) return tl::make_unexpected(coarse.error());
  curve = coarse->fit.curve;
  for (double& c : curve.c) c *= overview.factor;
  return refine(photo,
                overview,
                overview.to_photo(coarse->centre),
                curve,
                std::max(4.0, coarse->uncertain_px * overview.factor),
                coarse->channel);
}

}  // namespace corefleck
