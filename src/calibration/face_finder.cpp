#include "face_finder.hpp"

#include "coarse_face.hpp"
#include "rim_by_colour.hpp"
#include "rim_rays.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kWhole = 0.95;                            // share of the rays that see a whole rim
constexpr double kWideBand = 0.035, kLessWideBand = 0.02;  // of the radius, to either side
constexpr double kNear = 0.002;       // of the radius: what a drilled rim's edges scatter
constexpr double kMuchChance = 0.25;  // of the rays
constexpr double kCloser = 0.05;      // share of the rays that chance may add

// Direct least squares (Fitzgibbon, Pilu and Fisher 1999); about one of the points, since OpenCV fits in
// floats.
FaceEllipse fit_ellipse(const std::vector<cv::Point2d>& points) {
  std::vector<cv::Point2f> float_points;
  float_points.reserve(points.size());
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

// How closely a curve's edges lie on it, 1 where all rays have one exactly there: those of a rim do, those of
// texture that a curve passes by chance are spread over the tolerance.
double closeness(const RimFit& fit) {
  const double near = std::max(1.0, kNear * fit.curve.c[0]);
  double sum = 0.0;
  for (const RimPoint& point : fit.points) {
    const double off = (point.radius - fit.curve.radius(point.angle_rad)) / near;
    sum += std::max(0.0, 1.0 - off * off);
  }
  return sum / kRays;
}

// A few that chance put there do no harm, and a rim may be as weak and as patterned over a few degrees.
void leave_out_chance(RimFit& fit) {
  std::vector<RimPoint> points = without_chance(fit.points);
  const auto lost = static_cast<double>(fit.points.size() - points.size());
  if (lost > kMuchChance * kRays && points.size() > kRays / 5) fit.points = std::move(points);
}

// Where an arc of the rim is faint or broken off, the overview's curve may leave the rim for a shadow's end
// or a crack, and lead by more than what is searched about it away from the rest: a rim that is not seen
// whole is looked for again about the circle, in a wider band.
void look_wider(
    const Photo& photo, cv::Point2d centre, const RimChannel& channel, RimSearch search, RimFit& fit) {
  if (static_cast<double>(fit.points.size()) >= kWhole * kRays) return;
  const std::size_t all = fit.points.size();
  leave_out_chance(fit);
  const double enough = closeness(fit) + kCloser;
  RimCurve circle = fit.points.size() < all ? circle_through(fit.points) : fit.curve;
  for (const double band : {kWideBand * circle.c[0], kLessWideBand * circle.c[0], search.to_r}) {
    circle.c[3] = circle.c[4] = 0.0;
    search.to_r = band;
    search.from_r = -band;
    RimFit wider = fit_rim(rays_of(photo, centre, channel), circle, search);
    circle = wider.curve;
    leave_out_chance(wider);
    if (closeness(wider) > std::max(enough, closeness(fit))) fit = std::move(wider);
  }
}

/// A rim and the number of rays that it was looked for on.
struct RimOnRays {
  RimFit fit;
  int rays = kRays;
};

// The rim that lightness shows, unless colour puts it elsewhere: near there lightness may show it whole, and
// more sharply than colour, which files keep at half the resolution.
RimOnRays checked_by_colour(
    const Photo& photo, const Overview& overview, cv::Point2d centre, const RimSearch& search, RimFit fit) {
  const double followed = closeness(fit);
  const ByColour colour = check_by_colour(photo, overview, centre, search, fit);
  if (colour == ByColour::elsewhere) {
    RimFit near = fit_rim(rays_of(photo, centre, {}), fit.curve, search);
    if (near.found >= kWhole && closeness(near) > followed) return {std::move(near)};
    return {std::move(fit), kRaysByColour};
  }
  if (colour == ByColour::unknown)
    if (auto inner = rim_inside_shadow(photo, centre, fit, search)) return {*std::move(inner)};
  return {std::move(fit)};
}

Result<FoundFace> refine(const Photo& photo,
                         const Overview& overview,
                         cv::Point2d centre,
                         RimCurve curve,
                         double uncertain_px,
                         const RimChannel& channel) {
  RimFit fit;
  double reach = uncertain_px;
  int rays = kRays;
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
    if (pass == 1) look_wider(photo, centre, channel, search, fit);
    if (pass == 1 && !channel.colour && !photo.is_grey()) {
      RimOnRays checked = checked_by_colour(photo, overview, centre, search, std::move(fit));
      fit = std::move(checked.fit);
      rays = checked.rays;
    }
    curve = fit.curve;
    reach = std::max(4.0, 0.012 * curve.c[0]);
  }
  FoundFace found;
  found.rim = rim_points(fit, centre);
  found.ellipse = fit_ellipse(found.rim);
  found.ellipse.residual_px = fit.residual;
  found.ellipse.rim_found_pct = 100.0 * static_cast<double>(fit.points.size()) / rays;
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
  auto coarse = find_coarse_face(overview);
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
