#include "card_reading.hpp"

#include "corefleck/beside.hpp"
#include "corefleck/colorimetry.hpp"
#include "corefleck/statistics.hpp"

#include <opencv2/imgproc.hpp>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kMiddle = 0.7;  // share of each side that is read: away from edges, labels and holders
constexpr int kSideRays = 48;
constexpr double kRayStep_px = 0.5;
constexpr double kNearLine_px = 3.0;
// In standard deviations: below the first luminance does not show a side, and another sum of channels that
// does so this many times better, and clearly, is followed. Files keep colour at half the resolution.
constexpr double kSeen = 1.0, kFarBetter = 2.0, kClear = 2.0;
// Places of chance leave 0.77 px of the tolerance at which their line settles. Of 350 sides of rendered cards
// 16 strayed by more than this; their directions were off by five times what that says.
constexpr double kScattered_px = 0.7;
constexpr double kVagueSide_rad = 0.01;  // a side known no better tells nothing about the tilt

cv::Point2d middle_of(const std::array<cv::Point2d, 4>& corners) {
  return 0.25 * (corners[0] + corners[1] + corners[2] + corners[3]);
}

std::array<cv::Point2d, 4> shrunk(const std::array<cv::Point2d, 4>& corners, double share) {
  const cv::Point2d centre = middle_of(corners);
  std::array<cv::Point2d, 4> inner;
  for (std::size_t i = 0; i < 4; ++i) inner[i] = centre + share * (corners[i] - centre);
  return inner;
}

struct Sample {
  double x, y, luminance;
};

/// Samples of the card, by channel and as light at a place of the area read.
struct CardSamples {
  std::array<std::vector<double>, 3> channels;
  std::vector<Sample> light;
  std::size_t clipped = 0;
};

CardSamples samples_of(const Photo& photo, const cv::Rect& area, const cv::Mat& mask) {
  CardSamples samples;
  const int stride = std::max(1, static_cast<int>(std::sqrt(static_cast<double>(area.area()) / 60000.0)));
  for (int y = 0; y < area.height; y += stride) {
    const cv::Rect row(area.x, area.y + y, area.width, 1);
    const cv::Mat rgb = linear_rgb(photo, row), clipped = clipped_pixels(photo, row);
    for (int x = 0; x < area.width; x += stride) {
      if (mask.at<unsigned char>(y, x) == 0) continue;
      const cv::Vec3d v = rgb.at<cv::Vec3f>(x);
      for (std::size_t c = 0; c < 3; ++c) samples.channels[c].push_back(v[static_cast<int>(c)]);
      samples.light.push_back(
          {static_cast<double>(x), static_cast<double>(y), luminance({v[0], v[1], v[2]})});
      samples.clipped += clipped.at<unsigned char>(x) != 0 ? 1U : 0U;
    }
  }
  return samples;
}

// Trimmed means resist labels, scratches and dust: first the median, then what lies within four deviations of
// it.
double trimmed_mean(const std::vector<double>& values) {
  const double mid = median(values), reach = 4.0 * std::max(robust_deviation(values), 1e-6);
  double sum = 0.0;
  std::size_t count = 0;
  for (const double v : values)
    if (std::abs(v - mid) <= reach) {
      sum += v;
      ++count;
    }
  return sum / static_cast<double>(std::max<std::size_t>(count, 1));
}

/// How even the light on the card is.
struct Evenness {
  double deviation_pct, gradient_pct;
};

Evenness evenness_of(const std::vector<Sample>& samples, const cv::Rect& area) {
  std::vector<double> luminances;
  for (const Sample& s : samples) luminances.push_back(s.luminance);
  const double mid = median(luminances), reach = 4.0 * std::max(robust_deviation(luminances), 1e-6);
  const auto row_of = [&](const Sample& s) {
    return Eigen::Vector3d(1.0, s.x / area.width - 0.5, s.y / area.height - 0.5);
  };
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  for (const Sample& s : samples) {
    if (std::abs(s.luminance - mid) > reach) continue;
    const Eigen::Vector3d row = row_of(s);
    normal += row * row.transpose();
    right += row * s.luminance;
  }
  const Eigen::Vector3d plane = normal.ldlt().solve(right);
  std::vector<double> off;
  for (const Sample& s : samples) off.push_back(s.luminance - plane.dot(row_of(s)));
  return {100.0 * robust_deviation(off) / std::max(mid, 1e-9),
          100.0 * std::hypot(plane[1], plane[2]) / std::max(mid, 1e-9)};
}

GreyCard level_of(const Photo& photo, const cv::Rect& area, const cv::Mat& mask) {
  const CardSamples samples = samples_of(photo, area, mask);
  auto evenness = beside([&] { return evenness_of(samples.light, area); });
  GreyCard card{};
  for (std::size_t c = 0; c < 3; ++c) card.level[c] = trimmed_mean(samples.channels[c]);
  const auto number = static_cast<double>(std::max<std::size_t>(samples.light.size(), 1));
  card.clipped_pct = 100.0 * static_cast<double>(samples.clipped) / number;
  const auto [deviation_pct, gradient_pct] = evenness.get();
  card.deviation_pct = deviation_pct;
  card.gradient_pct = gradient_pct;
  // Neighbouring pixels share demosaicing and compression: a twentieth of them counts as independent.
  const double independent = std::max(1.0, static_cast<double>(samples.light.size()) / 20.0);
  card.u_level_pct =
      std::hypot(card.deviation_pct / std::sqrt(independent), card.gradient_pct / std::sqrt(12.0) * 0.25);
  return card;
}

Result<FoundCard> read_quad(const Photo& photo, const std::array<cv::Point2d, 4>& quad) {
  std::vector<cv::Point> polygon;
  for (const cv::Point2d& p : quad) polygon.emplace_back(cv::Point(p));
  const cv::Rect area = cv::boundingRect(polygon) & cv::Rect(0, 0, photo.width_px(), photo.height_px());
  if (area.width < 4 || area.height < 4)
    return failure(ErrorCode::grey_card_not_found,
                   "the grey card covers too few pixels to be read",
                   "move closer, use a larger card, or correct --card-at X,Y,W,H");
  cv::Mat mask = cv::Mat::zeros(area.size(), CV_8UC1);
  for (cv::Point& p : polygon) p -= area.tl();
  cv::fillConvexPoly(mask, polygon, cv::Scalar(255));
  FoundCard found{};
  found.card = level_of(photo, area, mask);
  found.card.corners = quad;
  found.card.score = 1.0;
  return found;
}

/// Light on rays across one side of the card, from inside it outwards.
struct SideProfiles {
  cv::Point2d from, along, outwards;  ///< `from` is the expected corner, photo pixels
  double length_px;
  double reach_px;  ///< a ray goes so far on both sides of the expected line
  std::vector<double> place_px;
  std::vector<std::vector<double>> rays;  ///< at steps of kRayStep_px
};

using ColourRay = std::vector<Eigen::Vector3d>;

// Means of three lines beside each other; empty where the frame ends.
ColourRay colour_ray(const Photo& photo, const SideProfiles& side, double t) {
  const cv::Point2d on_line = side.from + t * side.along, reach = side.reach_px * side.outwards;
  const cv::Rect2d sight(3.0, 3.0, photo.width_px() - 7.0, photo.height_px() - 7.0);
  if (!sight.contains(on_line - reach) || !sight.contains(on_line + reach)) return {};
  const int steps = static_cast<int>(2.0 * side.reach_px / kRayStep_px) + 1;
  cv::Mat places(3, steps, CV_32FC2);
  for (int line = 0; line < 3; ++line)
    for (int i = 0; i < steps; ++i)
      places.at<cv::Point2f>(line, i) =
          on_line + (i * kRayStep_px - side.reach_px) * side.outwards + (line - 1.0) * side.along;
  const cv::Mat rgb = linear_rgb_at(photo, places);
  ColourRay ray(static_cast<std::size_t>(steps), Eigen::Vector3d::Zero());
  for (int line = 0; line < 3; ++line)
    for (int i = 0; i < steps; ++i) {
      const auto& v = rgb.at<cv::Vec3f>(line, i);
      ray[static_cast<std::size_t>(i)] += Eigen::Vector3d(v[0], v[1], v[2]) / 3.0;
    }
  return ray;
}

/// Colours of the outer or inner ends of all rays.
struct ColourCloud {
  Eigen::Vector3d mean = Eigen::Vector3d::Zero();
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
};

ColourCloud cloud_of(const std::vector<ColourRay>& rays, bool outer) {
  ColourCloud cloud;
  double n = 0.0;
  for (const ColourRay& ray : rays) {
    const std::size_t quarter = ray.size() / 4, first = outer ? ray.size() - quarter : 0;
    for (std::size_t i = first; i < first + quarter; ++i, n += 1.0) {
      cloud.mean += ray[i];
      cloud.covariance += ray[i] * ray[i].transpose();
    }
  }
  cloud.mean /= std::max(n, 1.0);
  cloud.covariance = cloud.covariance / std::max(n, 1.0) - cloud.mean * cloud.mean.transpose();
  return cloud;
}

// The sum of channels that parts the card from what lies beside it: luminance, unless that hardly does and
// another far better (Fisher 1936), as a card's grey on wood of its own lightness.
Eigen::Vector3d parting_channel(const std::vector<ColourRay>& rays) {
  const ColourCloud in = cloud_of(rays, false), out = cloud_of(rays, true);
  const Eigen::Vector3d step = out.mean - in.mean;
  Eigen::Matrix3d spread = in.covariance + out.covariance;
  spread.diagonal().array() += 1e-6 + 0.02 * spread.trace();
  const auto contrast = [&](const Eigen::Vector3d& weights) {
    return std::abs(weights.dot(step)) / std::sqrt(weights.dot(spread * weights));
  };
  const Eigen::Vector3d light(kLuminanceOfSrgb[0], kLuminanceOfSrgb[1], kLuminanceOfSrgb[2]);
  const Eigen::Vector3d colour = spread.ldlt().solve(step).normalized();
  const bool light_tells = contrast(light) > kSeen || contrast(colour) < kFarBetter * contrast(light);
  return light_tells || contrast(colour) < kClear ? light : colour;
}

SideProfiles profiles_across(
    const Photo& photo, cv::Point2d a, cv::Point2d b, cv::Point2d middle, double reach) {
  SideProfiles side{a, (b - a) / cv::norm(b - a), {}, cv::norm(b - a), reach, {}, {}};
  side.outwards = {-side.along.y, side.along.x};
  if ((a - middle).dot(side.outwards) < 0.0) side.outwards = -side.outwards;
  std::vector<ColourRay> rays;
  for (int i = 0; i < kSideRays; ++i) {
    const double t = (0.12 + 0.76 * i / (kSideRays - 1)) * side.length_px;
    ColourRay ray = colour_ray(photo, side, t);
    if (ray.empty()) continue;
    side.place_px.push_back(t);
    rays.push_back(std::move(ray));
  }
  const Eigen::Vector3d channel = parting_channel(rays);
  for (const ColourRay& ray : rays) {
    std::vector<double> values;
    for (const Eigen::Vector3d& colour : ray) values.push_back(channel.dot(colour));
    side.rays.push_back(std::move(values));
  }
  return side;
}

// How far each place is from the card's own level at the ray's inner end: 0 like the card, 1 surely not the
// card. Bounded, so that the first thing beyond the card counts and not the strongest.
std::vector<std::vector<double>> unlike_card(const SideProfiles& side) {
  std::vector<std::vector<double>> unlike;
  std::vector<double> noise, most;
  for (const auto& ray : side.rays) {
    const std::vector<double> inner(ray.begin(), ray.begin() + static_cast<std::ptrdiff_t>(ray.size() / 4));
    const double level = median(inner);
    for (const double v : inner) noise.push_back(v - level);
    std::vector<double> off;
    for (const double v : ray) off.push_back(std::abs(v - level));
    most.push_back(*std::max_element(off.begin(), off.end()));
    unlike.push_back(std::move(off));
  }
  const double sure = std::max({4.0 * robust_deviation(noise), 0.4 * median(most), 1e-6});
  for (auto& ray : unlike)
    for (double& v : ray) v = std::min(v / sure, 1.0);
  return unlike;
}

/// Offset outwards from the expected line at its two ends.
struct SideLine {
  double at_from_px, at_to_px;
  [[nodiscard]] double offset(double share) const { return at_from_px + share * (at_to_px - at_from_px); }
};

/// Of each ray the sums of `unlike_card` up to each step.
struct ChangeSums {
  const SideProfiles& side;
  double window_px, most_px;  ///< what is summed on either side of a line, and how far off a line may lie
  std::vector<std::vector<double>> sums;
};

ChangeSums change_sums(const SideProfiles& side) {
  const double window_px = side.reach_px / 3.0;
  ChangeSums changes{side, window_px, side.reach_px - window_px - kRayStep_px, {}};
  for (const auto& ray : unlike_card(side)) {
    std::vector<double> sum{0.0};
    for (const double v : ray) sum.push_back(sum.back() + v);
    changes.sums.push_back(std::move(sum));
  }
  return changes;
}

/// Rays that are left out: of `kParts` equal parts of a side one, or none.
constexpr std::size_t kParts = 8;
constexpr std::size_t kNone = kParts;

/// Grid of lines that are tried about one, pixels.
struct LineGrid {
  SideLine about;
  double reach_px, step_px;
};

// The straight line along which like the card turns to unlike it: a textured bench has steeper places than
// the card's side on every ray, but not all on one line.
SideLine line_of_change(const ChangeSums& changes, const LineGrid& grid, std::size_t left_out = kNone) {
  const SideProfiles& side = changes.side;
  const auto window = static_cast<std::size_t>(changes.window_px / kRayStep_px);
  const auto change_along = [&](const SideLine& line) {
    double change = 0.0;
    for (std::size_t i = 0; i < changes.sums.size(); ++i) {
      if (i * kParts / changes.sums.size() == left_out) continue;
      const double s = line.offset(side.place_px[i] / side.length_px);
      const auto k = static_cast<std::size_t>((s + side.reach_px) / kRayStep_px + 0.5);
      const std::vector<double>& sum = changes.sums[i];
      change += sum[k + window] - 2.0 * sum[k] + sum[k - window];
    }
    return change;
  };
  SideLine best{0.0, 0.0};
  double best_change = -1.0;
  for (double u = -grid.reach_px; u <= grid.reach_px; u += grid.step_px) {
    for (double v = -grid.reach_px; v <= grid.reach_px; v += grid.step_px) {
      const SideLine line{grid.about.at_from_px + u, grid.about.at_to_px + v};
      if (std::max(std::abs(line.at_from_px), std::abs(line.at_to_px)) > changes.most_px) continue;
      const double change = change_along(line);
      if (change <= best_change) continue;
      best_change = change;
      best = line;
    }
  }
  return best;
}

// The steepest place of a ray within `reach` of an offset, to a part of a step.
double steepest(const std::vector<double>& ray, double ray_reach, double about, double reach) {
  constexpr std::ptrdiff_t kHalf = 3;  // steps on both sides
  const auto n = static_cast<std::ptrdiff_t>(ray.size());
  const auto step = [&](std::ptrdiff_t i) {
    return std::abs(ray[static_cast<std::size_t>(i + kHalf)] - ray[static_cast<std::size_t>(i - kHalf)]);
  };
  const auto index = [&](double s) {
    return std::clamp<std::ptrdiff_t>(std::lround((s + ray_reach) / kRayStep_px), kHalf + 1, n - kHalf - 2);
  };
  std::ptrdiff_t best = index(about);
  for (std::ptrdiff_t i = index(about - reach); i <= index(about + reach); ++i)
    if (step(i) > step(best)) best = i;
  const double l = step(best - 1), r = step(best + 1), bend = l - 2.0 * step(best) + r;
  const double shift = bend < 0.0 ? std::clamp(0.5 * (l - r) / bend, -0.5, 0.5) : 0.0;
  return (static_cast<double>(best) + shift) * kRayStep_px - ray_reach;
}

/// A line through those of a side's steepest places that agree.
struct HeldLine {
  double intercept, slope;
  double tolerance;  ///< within which a place agrees
  double held = 0.0, middle = 0.0, spread = 1.0, deviation = 0.0;
  [[nodiscard]] double off(double place, double offset) const { return offset - intercept - slope * place; }
};

// Once more through the places that agree; false where they are too few.
bool fit_again(const std::vector<double>& places, const std::vector<double>& offsets, HeldLine& line) {
  double n = 0, sx = 0, sy = 0, xx = 0, xy = 0, ss = 0;
  for (std::size_t i = 0; i < places.size(); ++i) {
    const double x = places[i], y = offsets[i], off = line.off(x, y);
    if (std::abs(off) > line.tolerance) continue;
    n += 1, sx += x, sy += y, xx += x * x, xy += x * y, ss += off * off;
  }
  if (n < 8) return false;
  line.held = n;
  line.middle = sx / n;
  line.spread = xx - sx * sx / n;
  line.slope = (xy - sx * sy / n) / line.spread;
  line.intercept = (sy - line.slope * sx) / n;
  line.deviation = std::sqrt(ss / (n - 2.0));
  line.tolerance = std::max(0.8, 2.5 * std::min(line.deviation, line.tolerance / 3.0));
  return true;
}

// Standard deviation of the line's slope. Deviations run on from place to place where a stripe of the bench
// or a shadow lies along the side: counted as of W. K. Newey and K. D. West, Econometrica 55 (1987) 703-708,
// over an eighth of the places.
double slope_deviation(const std::vector<double>& places,
                       const std::vector<double>& offsets,
                       const HeldLine& line) {
  std::vector<double> moments;
  for (std::size_t i = 0; i < places.size(); ++i) {
    const double off = line.off(places[i], offsets[i]);
    moments.push_back(std::abs(off) > line.tolerance ? 0.0 : off * (places[i] - line.middle));
  }
  const std::size_t reach = moments.size() / 8;
  double sum = 0.0;
  for (std::size_t lag = 0; lag <= reach; ++lag) {
    const double share = 1.0 - static_cast<double>(lag) / static_cast<double>(reach + 1);
    for (std::size_t i = lag; i < moments.size(); ++i)
      sum += (lag == 0 ? 1.0 : 2.0 * share) * moments[i] * moments[i - lag];
  }
  return std::sqrt(std::max(0.0, sum)) / line.spread;
}

// What a line through steepest places leaves open, where more than those of a cut edge they scatter: then
// some lie on something else. The directions of 2,088 sides of rendered cards were off by what their scatter
// says below this, by some five times of it at twice this.
constexpr double kStraightSide_rad = 0.0005;
double with_strays(double scatter_rad) { return scatter_rad * (1.0 + scatter_rad / kStraightSide_rad); }

// Where steepest places do not agree on a line, a textured bench has as steep ones: the line of change says
// where the side lies. How far it turns when an eighth of the rays is left out (jackknife) and how far from
// the line through the steepest places say how well; both start from one line, so that they go astray
// together.
constexpr double kSharedStart = 1.5;
std::optional<CardSide> side_on_texture(const ChangeSums& changes,
                                        const SideLine& start,
                                        double steepest_slope,
                                        const CardSide& box) {
  const SideProfiles& side = changes.side;
  const auto slope = [&](const SideLine& line) { return (line.at_to_px - line.at_from_px) / side.length_px; };
  const LineGrid near{start, kNearLine_px, kRayStep_px};
  const SideLine line = line_of_change(changes, near);
  double sum = 0.0, squares = 0.0;
  for (std::size_t part = 0; part < kParts; ++part) {
    const double without = slope(line_of_change(changes, near, part));
    sum += without, squares += without * without;
  }
  const double n = kParts, jackknife = std::sqrt(std::max(0.0, (n - 1.0) / n * (squares - sum * sum / n)));
  const double apart = (slope(line) - steepest_slope) / std::sqrt(2.0);
  const double grid = kRayStep_px / std::sqrt(6.0) / side.length_px;
  const double u = kSharedStart * std::hypot(jackknife, apart, grid);
  if (u > kVagueSide_rad) return std::nullopt;
  return CardSide{box.from + line.at_from_px * side.outwards, box.to + line.at_to_px * side.outwards, u};
}

// One side of the card: the line of change, then the steepest places near it, and a line through those that
// agree.
std::optional<CardSide> straight_side(
    const Photo& photo, cv::Point2d a, cv::Point2d b, cv::Point2d middle, double reach) {
  const SideProfiles side = profiles_across(photo, a, b, middle, reach);
  const std::size_t count = side.rays.size();
  if (count < kSideRays / 2) return std::nullopt;
  const ChangeSums changes = change_sums(side);
  const SideLine start = line_of_change(changes, {{0.0, 0.0}, changes.most_px, 1.0});
  std::vector<double> offset;
  for (std::size_t i = 0; i < count; ++i)
    offset.push_back(
        steepest(side.rays[i], reach, start.offset(side.place_px[i] / side.length_px), kNearLine_px));
  HeldLine line{start.at_from_px, (start.at_to_px - start.at_from_px) / side.length_px, kNearLine_px + 1.0};
  for (int pass = 0; pass < 6; ++pass)
    if (!fit_again(side.place_px, offset, line)) return std::nullopt;
  if (line.held < 0.5 * static_cast<double>(count)) return std::nullopt;
  if (line.deviation > kScattered_px) return side_on_texture(changes, start, line.slope, {a, b, 0.0});
  const double alone = std::max(line.deviation, 0.05) / std::sqrt(line.spread);
  if (alone > kVagueSide_rad) return std::nullopt;
  return CardSide{a + line.intercept * side.outwards,
                  b + (line.intercept + line.slope * side.length_px) * side.outwards,
                  with_strays(std::max(alone, slope_deviation(side.place_px, offset, line)))};
}

}  // namespace

Result<FoundCard> read_card(const Photo& photo,
                            const Overview& overview,
                            const std::array<cv::Point2d, 4>& on_overview) {
  std::array<cv::Point2d, 4> corners{};
  std::transform(on_overview.begin(), on_overview.end(), corners.begin(), [&](cv::Point2d corner) {
    return overview.to_photo(corner);
  });
  auto found = read_quad(photo, shrunk(corners, kMiddle));
  if (!found) return found;
  const cv::Point2d middle = middle_of(corners);
  for (std::size_t i = 0; i < 4; ++i)
    found->sides[i] =
        straight_side(photo, corners[i], corners[(i + 1) % 4], middle, 5.0 * overview.factor + 3.0);
  return found;
}

Result<FoundCard> read_card_in_box(const Photo& photo, const PixelBox& box) {
  const double mx = 0.1 * box.w, my = 0.1 * box.h;
  auto found = read_quad(photo,
                         {cv::Point2d(box.x + mx, box.y + my),
                          cv::Point2d(box.x + box.w - mx, box.y + my),
                          cv::Point2d(box.x + box.w - mx, box.y + box.h - my),
                          cv::Point2d(box.x + mx, box.y + box.h - my)});
  if (found) found->card.by_hand = true;
  return found;
}

}  // namespace corefleck
