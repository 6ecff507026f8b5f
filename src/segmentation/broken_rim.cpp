#include "broken_rim.hpp"

#include "corefleck/in_bands.hpp"
#include "corefleck/statistics.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <vector>

namespace corefleck {
namespace {

constexpr double kOff = 0.12, kOffMottle = 3.0;  // from the matrix, relative; in deviations of the mottle
constexpr double kClosing_mm = 1.2;              // crumbs and lines in the fracture are no wider
constexpr double kLeast_mm2 = 4.0;
// A rough fracture is dark and light by turns, as no part of a face is: pits beside spots are smaller, and
// shadows and stains are smooth within. How far its cells stray from the mean about them, against the face's.
constexpr double kLeastRough_mm2 = 40.0, kDarkShare = 0.2;
constexpr double kGrain_mm = 2.0, kRougher = 3.0, kLeastGrain = 0.25;  // times the face's; of the limit
constexpr double kAlongRim = 1.5;                                      // length along the rim over mean depth
constexpr double kBorder_mm = 0.6;                                     // its edge, left out with it
constexpr double kMean_mm = 0.3;
constexpr double kSpotBeside_mm = 1.2;  // half the width of spots that may lie beside a break
constexpr double kLeastArc_mm = 8.0;
constexpr double kWholeArc = 0.8;  // share of a break's arc on which it reaches the rim
// A spot cut by the rim bulges inwards as a part of a disc does. Spots are of mm size: what would be part of
// a disc this wide against the face, or of none as its inner edge is straight, is where a piece broke off.
constexpr double kWiderThanSpots = 0.5;
constexpr double kFurthestIn =
    0.95;  // share of the inner edge that lies less far in, so that crumbs do not tell

// The plaster ends at an edge: medians on strips to either side, beyond its blur, are as far apart as the
// ground is from the matrix. Uneven light, mottle and stains change over many millimetres. On rendered faces
// they made steps of up to 1.2 limits, damp strokes among them, and breaks 2 or more.
constexpr double kStripFrom_mm = 0.3, kStripTo_mm = 0.9;
constexpr double kStep = 1.5;  // in limits

cv::Mat square(double half_side_cells) {
  const int size = 2 * std::max(1, static_cast<int>(std::lround(half_side_cells))) + 1;
  return cv::getStructuringElement(cv::MORPH_RECT, {size, size});
}

cv::Mat without_crumbs(const cv::Mat& mask, const CoarseFace& face) {
  const cv::Mat bridge = square(kClosing_mm / face.pitch_mm);
  const cv::Mat whole = in_bands(mask, CV_8UC1, bridge.rows + 2, [&](const cv::Mat& band) {
    cv::Mat closed;
    cv::morphologyEx(band, closed, cv::MORPH_OPEN, cv::Mat());
    cv::morphologyEx(closed, closed, cv::MORPH_CLOSE, bridge);
    return closed;
  });
  return whole & (face.blocked == 0);
}

/// The face about its centre, in angles one cell wide at the rim band.
class Circle {
 public:
  explicit Circle(const cv::Mat& blocked) : centre_(0.5 * (blocked.cols - 1)) {
    // Chips only ever lie within the circle: the widest row or column of free cells is its diameter.
    const cv::Rect free = cv::boundingRect(blocked == 0);
    radius_ = 0.5 * std::max(free.width, free.height);
    bins_ = std::max(8, static_cast<int>(2.0 * CV_PI * radius_));
  }
  [[nodiscard]] double radius() const { return radius_; }
  [[nodiscard]] int bins() const { return bins_; }
  [[nodiscard]] double radius_of(cv::Point cell) const {
    return std::hypot(cell.x - centre_, cell.y - centre_);
  }
  [[nodiscard]] int bin_of(cv::Point cell) const {
    const double turn = std::atan2(cell.y - centre_, cell.x - centre_) / (2.0 * CV_PI) + 0.5;
    return std::min(bins_ - 1, static_cast<int>(turn * bins_));
  }
  [[nodiscard]] double angle_of(int bin) const { return 2.0 * CV_PI * bin / bins_; }

 private:
  double centre_, radius_;
  int bins_;
};

/// An arc of the rim: bins from `first` on, going round.
struct Arc {
  int first, count;
};

// What is left when the widest gap is taken out, if the rest is reached nearly everywhere.
Arc arc_of(const std::vector<bool>& reached) {
  if (reached.empty()) return {0, 0};
  const auto bins = static_cast<int>(reached.size());
  const auto at = [&](int bin) { return reached[static_cast<std::size_t>(bin % bins)]; };
  int gap = 0, widest = 0, after = 0, hits = 0;
  for (int i = 0; i < 2 * bins; ++i) {
    hits += i < bins && at(i) ? 1 : 0;
    gap = at(i) ? 0 : gap + 1;
    if (gap > widest && gap <= bins) {
      widest = gap;
      after = i + 1;
    }
  }
  const Arc arc{after % bins, bins - widest};
  return hits >= kWholeArc * arc.count ? arc : Arc{0, 0};
}

/// How a region at the rim lies there.
struct AtRim {
  Arc arc;
  std::vector<double> innermost;  ///< by bin: radius of its cell nearest to the centre
};

AtRim at_rim(
    const Circle& circle, const cv::Mat& labels, int label, const cv::Rect& box, const cv::Mat& beside_rim) {
  const auto bins = static_cast<std::size_t>(circle.bins());
  AtRim region{{0, 0}, std::vector<double>(bins, std::numeric_limits<double>::infinity())};
  std::vector<bool> reached(bins, false);
  for (int y = box.y; y < box.br().y; ++y)
    for (int x = box.x; x < box.br().x; ++x) {
      if (labels.at<int>(y, x) != label) continue;
      const auto bin = static_cast<std::size_t>(circle.bin_of({x, y}));
      region.innermost[bin] = std::min(region.innermost[bin], circle.radius_of({x, y}));
      if (beside_rim.at<uchar>(y, x) != 0) reached[bin] = true;
    }
  region.arc = arc_of(reached);
  return region;
}

// Width of the disc that has the arc's chord and goes in as far beyond it as the region does.
double width_as_disc(const Circle& circle, const AtRim& region) {
  const double half = 0.5 * circle.angle_of(region.arc.count),
               middle = circle.angle_of(region.arc.first) + half;
  std::vector<double> beyond;
  for (int i = 0; i < region.arc.count; ++i) {
    const int bin = (region.arc.first + i) % circle.bins();
    const double r = std::min(region.innermost[static_cast<std::size_t>(bin)], circle.radius());
    beyond.push_back(circle.radius() * std::cos(half) - r * std::cos(circle.angle_of(bin) - middle));
  }
  const auto furthest =
      beyond.begin() + static_cast<std::ptrdiff_t>(kFurthestIn * static_cast<double>(beyond.size() - 1));
  std::nth_element(beyond.begin(), furthest, beyond.end());
  const double half_chord = circle.radius() * std::sin(half), sagitta = *furthest;
  return sagitta > 0.0 ? half_chord * half_chord / sagitta + sagitta
                       : std::numeric_limits<double>::infinity();
}

// Whatever lies between the rim and the inner edge of a break is beyond the plaster.
void mark_outwards(const Circle& circle, const AtRim& region, cv::Mat& broken) {
  for (int y = 0; y < broken.rows; ++y)
    for (int x = 0; x < broken.cols; ++x)
      if (circle.radius_of({x, y}) >= region.innermost[static_cast<std::size_t>(circle.bin_of({x, y}))])
        broken.at<uchar>(y, x) = 255;
}

// Wide enough that grain and most mottle even out, a fraction of the cells, and fine enough for a break.
CoarseFace coarser(const CoarseFace& face) {
  const double zoom = std::min(1.0, face.pitch_mm / kMean_mm);
  CoarseFace coarse{};
  cv::resize(face.contrast, coarse.contrast, {}, zoom, zoom, cv::INTER_AREA);
  cv::resize(face.blocked, coarse.blocked, coarse.contrast.size(), 0, 0, cv::INTER_AREA);
  coarse.blocked = coarse.blocked != 0;
  coarse.pitch_mm = face.pitch_mm * face.contrast.cols / coarse.contrast.cols;
  return coarse;
}

// Median of a map where a mask is set; nothing where it is set nowhere.
std::optional<double> median_where(const cv::Mat& map, const cv::Mat& mask) {
  std::vector<double> values;
  for (int y = 0; y < map.rows; ++y)
    for (int x = 0; x < map.cols; ++x)
      if (mask.at<uchar>(y, x) != 0) values.push_back(static_cast<double>(map.at<float>(y, x)));
  if (values.empty()) return std::nullopt;
  return median(values);
}

/// One region of a labelling.
struct Labelled {
  int label;
  cv::Rect box;
};

// How much the contrast changes across the edge between a region and the face.
double step_at_edge(const CoarseFace& face, const cv::Mat& labels, const Labelled& region) {
  const int reach = static_cast<int>(std::ceil(kStripTo_mm / face.pitch_mm)) + 1;
  const cv::Rect about =
      (region.box + cv::Size(2 * reach, 2 * reach) - cv::Point(reach, reach)) & cv::Rect({}, labels.size());
  const cv::Mat own = labels(about) == region.label, blocked = face.blocked(about) != 0;
  const auto less = [&](double by_mm) {
    cv::Mat inner;
    cv::erode(own | blocked, inner, square(by_mm / face.pitch_mm));
    return cv::Mat(inner & own);
  };
  const auto more = [&](double by_mm) {
    cv::Mat outer;
    cv::dilate(own, outer, square(by_mm / face.pitch_mm));
    return cv::Mat(outer & ~blocked);
  };
  const cv::Mat contrast = face.contrast(about);
  const auto beside = median_where(contrast, more(kStripTo_mm) & ~more(kStripFrom_mm));
  auto within = median_where(contrast, less(kStripFrom_mm) & ~less(kStripTo_mm));
  if (!within) within = median_where(contrast, own);
  return beside && within ? std::abs(*within - *beside) : std::numeric_limits<double>::infinity();
}

// A bench or fracture lighter than the face. Spots close by are joined to it by the closing: they are
// narrower.
cv::Mat light_chords(const CoarseFace& face, double limit) {
  const cv::Mat light = without_crumbs((face.contrast > limit) & (face.blocked == 0), face);
  cv::Mat beside_rim, wide, labels, statistics, centroids, broken = cv::Mat::zeros(light.size(), CV_8UC1);
  cv::dilate(face.blocked, beside_rim, cv::Mat());
  // The rim band goes on where the light does, so that what lies along it is not too narrow.
  cv::morphologyEx(light | face.blocked, wide, cv::MORPH_OPEN, square(kSpotBeside_mm / face.pitch_mm));
  const int count = cv::connectedComponentsWithStats(light & wide, labels, statistics, centroids, 8, CV_32S);
  const Circle circle(face.blocked);
  for (int i = 1; i < count; ++i) {
    const int* row = statistics.ptr<int>(i);
    const cv::Rect box(
        row[cv::CC_STAT_LEFT], row[cv::CC_STAT_TOP], row[cv::CC_STAT_WIDTH], row[cv::CC_STAT_HEIGHT]);
    if (std::hypot(box.width, box.height) * face.pitch_mm < kLeastArc_mm) continue;
    if (step_at_edge(face, labels, {i, box}) < kStep * limit) continue;
    const AtRim region = at_rim(circle, labels, i, box, beside_rim);
    if (region.arc.count * face.pitch_mm < kLeastArc_mm || 2 * region.arc.count > circle.bins()) continue;
    if (width_as_disc(circle, region) > kWiderThanSpots * 2.0 * circle.radius())
      mark_outwards(circle, region, broken);
  }
  return broken;
}

// Of what is not the face's own light, the parts that follow the rim, as a break does; a streak of the matrix
// only ends there. A step of `limit` bounds them, if that is above 0. Where `near` is given, those that meet
// it.
cv::Mat ledges(
    const CoarseFace& face, const cv::Mat& unlike, double limit, double least_mm2, const cv::Mat& near) {
  cv::Mat beside_rim, labels, statistics, centroids, broken = cv::Mat::zeros(unlike.size(), CV_8UC1);
  cv::dilate(face.blocked, beside_rim, cv::Mat());
  const cv::Mat whole = without_crumbs(unlike & (face.blocked == 0), face);
  const int count = cv::connectedComponentsWithStats(whole, labels, statistics, centroids, 8, CV_32S);
  for (int i = 1; i < count; ++i) {
    const int* row = statistics.ptr<int>(i);
    const double area = row[cv::CC_STAT_AREA];
    if (area * face.pitch_mm * face.pitch_mm < least_mm2) continue;
    const cv::Rect box(
        row[cv::CC_STAT_LEFT], row[cv::CC_STAT_TOP], row[cv::CC_STAT_WIDTH], row[cv::CC_STAT_HEIGHT]);
    const cv::Mat own = labels(box) == i;
    const double along_rim = cv::countNonZero(own & beside_rim(box));
    if (along_rim * along_rim <= kAlongRim * area ||
        (limit > 0.0 && step_at_edge(face, labels, {i, box}) < kStep * limit))
      continue;
    if (near.empty() || cv::countNonZero(own & near(box)) > 0) broken(box) |= own;
  }
  return broken;
}

// The ground beneath, in shadow: darker than the face.
cv::Mat dark_ledges(const CoarseFace& face, double limit) {
  return ledges(face, face.contrast < -limit, limit, kLeast_mm2, {});
}

// Median size of a map where a mask is set.
double size_where(const cv::Mat& map, const cv::Mat& mask) {
  return median_where(cv::abs(map), mask).value_or(0.0);
}

// A fracture of dark and light grains.
cv::Mat rough_ledges(const CoarseFace& face, double limit) {
  const cv::Mat dark = face.contrast < -limit;
  cv::Mat rough = ledges(face, dark | (face.contrast > limit), 0.0, kLeastRough_mm2, {});
  if (cv::countNonZero(rough) == 0) return rough;
  cv::Mat grain, labels;
  cv::blur(face.contrast, grain, square(kGrain_mm / 2.0 / face.pitch_mm).size());
  grain = face.contrast - grain;
  const double usual = size_where(grain, (face.blocked == 0) & ~rough),
               least = std::max(kRougher * usual, kLeastGrain * limit);
  const int count = cv::connectedComponents(rough, labels, 8, CV_32S);
  for (int i = 1; i < count; ++i) {
    const cv::Mat own = labels == i;
    const double share = static_cast<double>(cv::countNonZero(dark & own)) / cv::countNonZero(own);
    if (share < kDarkShare || size_where(grain, own) < least) rough.setTo(0, own);
  }
  return rough;
}

// Light ground beside the dark: a break over a bench that is both.
cv::Mat light_beside(const CoarseFace& face, const cv::Mat& broken, double limit) {
  cv::Mat near;
  cv::dilate(broken, near, square(kClosing_mm / face.pitch_mm));
  return ledges(face, face.contrast > limit, limit, 0.0, near);
}

}  // namespace

cv::Mat broken_rim(const CoarseFace& face, double mottle_rel) {
  const double limit = std::max(kOff, kOffMottle * mottle_rel);
  const CoarseFace coarse = coarser(face);
  cv::Mat broken = dark_ledges(face, limit) | rough_ledges(face, limit), light = light_chords(coarse, limit);
  if (cv::countNonZero(broken) > 0) {
    cv::Mat dark;
    cv::resize(broken, dark, light.size(), 0, 0, cv::INTER_AREA);
    light |= light_beside(coarse, dark != 0, limit);
  }
  cv::resize(light, light, face.contrast.size(), 0, 0, cv::INTER_NEAREST);
  broken |= light;
  if (cv::countNonZero(broken) > 0) cv::dilate(broken, broken, square(kBorder_mm / face.pitch_mm));
  return broken;
}

}  // namespace corefleck
