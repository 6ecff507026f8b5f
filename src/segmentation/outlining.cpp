#include "outlining.hpp"

#include "deblurring.hpp"
#include "flank.hpp"
#include "necks.hpp"
#include "waists.hpp"

#include "corefleck/shape.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <optional>

namespace corefleck {
namespace {

constexpr int kLargeForHalfPixels_px2 =
    10000;  // box of a spot beyond which its outline gains nothing by them
constexpr double kLeastHole_px2 = 4.0;
constexpr double kLeastPartShare = 0.6;   // of the smallest spot: a lesser part stays with its neighbour
constexpr double kSharedScatter = 0.15;   // of a plateau's or ground's scatter that averaging does not remove
constexpr double kDoubtOfParting = 0.33;  // of the area that a doubtful neck gives or takes
// Breadth of a waist over the width of the lesser part: below the first two spots touch; beyond the last it
// is one spot's. In between its light tells: a spot's plateau runs on through a waist of its own, between two
// spots it dips. Of 116 such waists on rendered faces of two renderers 19 dipped by this much of the height
// and this many deviations of the plateau, and 18 of them lay between two spots. So did, of those that did
// not dip, 9 of 59 that were no broader than the middle limit, which leaves a doubt, and 1 of 38 that were.
constexpr double kTwoSpots = 0.6, kHardlyTwo = 0.85, kOneSpot = 0.95;
constexpr double kDip = 0.07, kDipScatter = 2.0;
constexpr std::size_t kMostPieces = 16;
constexpr double kDoubtOfDeblurring = 0.35;
constexpr double kRoom_mm = 0.2;  // by which a region may outgrow its cells

/// A region's own piece of the grid.
struct Window {
  cv::Rect box;
  cv::Mat contrast;  // as LocalContrast::fine
};

struct Followed {
  Window window;
  HalfContrastRegion region;
  double edge_gradient;
  double flank_px;  // Gaussian width
};

struct Traced {
  Contour outline;
  std::vector<Contour> holes;
  double area;
};

// Pixels of other parts and beyond the part's flank are lowered, small dark grains that the mask took in are
// lifted, so that one level set is the part's outline.
cv::Mat level_field(const cv::Mat& contrast,
                    const cv::Rect& window,
                    const cv::Rect& box,
                    const cv::Mat& part,
                    const cv::Mat& whole,
                    float threshold) {
  const cv::Rect place(box.tl() - window.tl(), part.size());
  cv::Mat shape = cv::Mat::zeros(window.size(), CV_8UC1), rest = shape.clone(), inner, near;
  part.copyTo(shape(place));
  cv::Mat others = whole & ~part;
  others.copyTo(rest(place));
  cv::erode(shape, inner, cv::Mat());
  cv::dilate(shape, near, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
  cv::Mat field = contrast(window).clone();
  const cv::Mat lifted = cv::max(field, threshold + 1e-3F);
  lifted.copyTo(field, inner);
  field.setTo(threshold - 1.0F, (near == 0) | rest);
  return field;
}

// Only the largest piece is the spot.
Traced trace(const cv::Mat& contrast,
             const cv::Rect& box,
             const cv::Mat& part,
             const cv::Mat& whole,
             float threshold) {
  const cv::Rect window = cv::Rect(box.x - 3, box.y - 3, box.width + 6, box.height + 6) &
                          cv::Rect(0, 0, contrast.cols, contrast.rows);
  const cv::Mat field = level_field(contrast, window, box, part, whole, threshold);
  const auto grid = box.area() < kLargeForHalfPixels_px2 ? LevelGrid::half_pixels : LevelGrid::pixels;
  Traced traced{{}, {}, 0.0};
  double largest = 0.0;
  for (LevelContour& contour : level_contours(field, threshold, grid)) {
    for (cv::Point2d& p : contour.points) p += cv::Point2d(window.tl());
    if (contour.area > largest) {
      largest = contour.area;
      traced.outline = std::move(contour.points);
    } else if (contour.area < -kLeastHole_px2) {
      traced.area += contour.area;
      traced.holes.push_back(std::move(contour.points));
    }
  }
  traced.area += largest;
  return traced;
}

bool meets_rim(const CalibratedFace& face, const Contour& outline) {
  const double inner_px = ((face.radius - face.rim_band) / face.grid.pitch).number();
  return std::any_of(outline.begin(), outline.end(), [&](const cv::Point2d& p) {
    return std::hypot(p.x - face.grid.centre_px, p.y - face.grid.centre_px) > inner_px - 1.5;
  });
}

// Three ways in which an outline can be wrong, as shifts of the whole boundary: the plateau and the ground
// are known only within their own scatter, and where blur or softness is wide the half level is less sure.
double boundary_u_px(const Followed& found, double sigma_px) {
  const HalfContrastRegion& r = found.region;
  const double area = std::max(1, cv::countNonZero(r.mask));
  const double independent = std::max(1.0, area / 4.0 / std::max(4.0, 12.0 * sigma_px * sigma_px));
  const double plateau_u = r.spread_inside / std::sqrt(independent) + kSharedScatter * r.spread_inside;
  const double ground_u =
      r.spread_ground / std::sqrt(std::max(1.0, r.ground_px / 25.0)) + kSharedScatter * r.spread_ground;
  const double level_u = 0.5 * std::hypot(plateau_u, ground_u);
  return std::hypot(level_u / std::max(found.edge_gradient, 1e-6), 0.06 + 0.04 * sigma_px);
}

/// One spot of a region, by its pixels in the region's box.
struct Piece {
  cv::Mat own;
  Traced traced;
  double doubt_px;  ///< pixels that perhaps are, or are not, another spot's
};

/// The pixels on that side of a waist that the points between its ends bound.
cv::Mat beyond_waist(const Piece& piece, const Waist& waist, const cv::Rect& box) {
  constexpr int kShift = 6;
  std::vector<std::vector<cv::Point>> polygon(1);
  for (std::size_t i = waist.first; i <= waist.last; ++i) {
    const cv::Point2d p = (piece.traced.outline[i] - cv::Point2d(box.tl())) * (1 << kShift);
    polygon[0].emplace_back(static_cast<int>(std::lround(p.x)), static_cast<int>(std::lround(p.y)));
  }
  cv::Mat side = cv::Mat::zeros(piece.own.size(), CV_8UC1);
  cv::fillPoly(side, polygon, cv::Scalar(255), cv::LINE_8, kShift);
  return side & piece.own;
}

/// `coarse` cells over a window whose corner lies on a whole cell, as pixels.
cv::Mat on_pixels(const cv::Mat& coarse, const cv::Rect& window, int factor) {
  const int x0 = window.x / factor, y0 = window.y / factor;
  const int columns = (window.width + factor - 1) / factor, rows = (window.height + factor - 1) / factor;
  const cv::Rect inside = cv::Rect(x0, y0, columns, rows) & cv::Rect(0, 0, coarse.cols, coarse.rows);
  cv::Mat cells = cv::Mat::zeros(rows, columns, coarse.type()), pixels;
  coarse(inside).copyTo(cells(cv::Rect(0, 0, inside.width, inside.height)));
  cv::resize(cells, pixels, {columns * factor, rows * factor}, 0, 0, cv::INTER_NEAREST);
  return pixels(cv::Rect(0, 0, window.width, window.height));
}

class Outliner {
 public:
  Outliner(const OutlineSetting& setting, const CoarseSpots& found)
      : setting_(setting),
        found_(found),
        sigma_px_(std::hypot(setting.blur_px, LocalContrast::kSmoothing_px)) {}

  [[nodiscard]] std::optional<Followed> follow(const Candidate& candidate) const {
    Window window = window_of(candidate);
    auto region = region_in(window, candidate);
    if (!region) return std::nullopt;
    const double slope = slope_at_edge(window.contrast, *region);
    const double flank = flank_sigma_px(static_cast<double>(region->plateau - region->ground), slope);
    return Followed{std::move(window), *std::move(region), slope, flank};
  }

  /// Parted at its necks, with the blur now known.
  [[nodiscard]] std::vector<Outlined> outline(const Followed& followed, double blur_px) const {
    const Window& window = followed.window;
    const double sigma = std::hypot(blur_px, LocalContrast::kSmoothing_px);
    const double deblurring = deblurring_ratio(window.contrast, followed.region, sigma);
    const double least = kLeastPartShare * 0.25 * CV_PI * setting_.least_ecd_px * setting_.least_ecd_px;
    const auto height = static_cast<double>(followed.region.plateau - followed.region.ground);
    const double unevenness = followed.region.spread_inside / std::max(height, 1e-6);
    std::vector<Piece> pieces = pieces_of(followed, least);
    const double whole_form = whole_form_of(followed, pieces);
    std::vector<Outlined> outlined;
    for (Piece& piece : pieces) {
      Region region = describe(followed, std::move(piece.traced), deblurring, sigma);
      region.u_area_px = std::hypot(region.u_area_px, kDoubtOfParting * piece.doubt_px);
      if (2.0 * std::sqrt(region.area_px / CV_PI) >= setting_.least_ecd_px)
        outlined.push_back({std::move(region), std::move(piece.own), unevenness, whole_form});
    }
    return outlined;
  }

 private:
  [[nodiscard]] std::optional<Piece> piece_of(const Followed& followed, cv::Mat own, double doubt_px) const {
    const HalfContrastRegion& region = followed.region;
    Traced traced = trace(followed.window.contrast, region.box, own, region.mask, region.threshold);
    if (traced.outline.size() < 3) return std::nullopt;
    return Piece{std::move(own), std::move(traced), doubt_px};
  }

  /// Of the region as it was before it was parted.
  [[nodiscard]] double whole_form_of(const Followed& followed, const std::vector<Piece>& pieces) const {
    if (pieces.size() == 1) return form_factor(pieces[0].traced.area, pieces[0].traced.outline);
    const auto whole = piece_of(followed, followed.region.mask, 0.0);
    return whole ? form_factor(whole->traced.area, whole->traced.outline) : 1.0;
  }

  /// The region parted where it is narrow, then where its outline is drawn in from both sides; parts of less
  /// than `least_px` stay with their neighbours. Pits are left whole.
  [[nodiscard]] std::vector<Piece> pieces_of(const Followed& followed, double least_px) const {
    const cv::Mat& mask = followed.region.mask;
    const Parts parts = setting_.light ? part_at_necks(mask, least_px)
                                       : Parts{cv::Mat(mask.size(), CV_32SC1, cv::Scalar(1)), {0.0}};
    std::vector<Piece> pieces;
    for (std::size_t n = 0; n < parts.doubt_px.size(); ++n)
      if (auto piece =
              piece_of(followed, (parts.labels == static_cast<int>(n) + 1) & (mask != 0), parts.doubt_px[n]))
        pieces.push_back(*std::move(piece));
    for (std::size_t i = 0; setting_.light && i < pieces.size();)
      if (pieces.size() >= kMostPieces || !part_at_waist(followed, least_px, i, pieces)) ++i;
    return pieces;
  }

  /// False when the piece stays whole; its doubt is then known.
  bool part_at_waist(const Followed& followed,
                     double least_px,
                     std::size_t which,
                     std::vector<Piece>& pieces) const {
    Piece& whole = pieces[which];
    const auto waist = waist_of(whole.traced.outline);
    if (!waist || waist->lesser_px < least_px || waist->breadth > kOneSpot) return false;
    const cv::Mat side = beyond_waist(whole, *waist, followed.region.box), rest = whole.own & ~side;
    const bool surely = waist->breadth < kTwoSpots, two = surely || light_dips(followed, *waist, side, rest);
    const bool doubtful = !surely && (two || waist->breadth < kHardlyTwo);
    const double doubt = std::max(whole.doubt_px, doubtful ? waist->lesser_px : 0.0);
    if (two) {
      auto one = piece_of(followed, side, doubt), other = piece_of(followed, rest, doubt);
      if (one && other) {
        whole = *std::move(one);
        pieces.push_back(*std::move(other));
        return true;
      }
    }
    whole.doubt_px = doubt;
    return false;
  }

  static bool light_dips(const Followed& followed,
                         const Waist& waist,
                         const cv::Mat& one,
                         const cv::Mat& other) {
    const HalfContrastRegion& region = followed.region;
    const Relief relief = relief_at(waist, region.box.tl(), followed.window.contrast(region.box), one, other);
    const double dip = relief.plateau - relief.saddle;
    return dip > kDip * (relief.plateau - static_cast<double>(region.ground)) &&
           dip > kDipScatter * region.spread_inside;
  }

  /// Room for the region and its flank; its corner on a whole cell.
  [[nodiscard]] Window window_of(const Candidate& candidate) const {
    const int factor = setting_.factor;
    const cv::Rect& cells = candidate.region.box;
    const double flank_px = 1.5 * sigma_px_ + kRoom_mm / setting_.face.grid.pitch.number();
    const int margin = static_cast<int>(std::ceil((flank_px + 4.0) / factor)) + 2;
    const cv::Rect box = cv::Rect((cells.x - margin) * factor,
                                  (cells.y - margin) * factor,
                                  (cells.width + 2 * margin) * factor,
                                  (cells.height + 2 * margin) * factor) &
                         cv::Rect(0, 0, setting_.outside.cols, setting_.outside.rows);
    return {box, setting_.contrast.fine(box, setting_.light ? 1.0F : -1.0F)};
  }

  [[nodiscard]] std::optional<HalfContrastRegion> region_in(const Window& window,
                                                            const Candidate& candidate) const {
    const cv::Mat owner = on_pixels(found_.owner, window.box, setting_.factor);
    const cv::Mat blocked = (setting_.outside(window.box) != 0) | ((owner != 0) & (owner < candidate.owner));
    const cv::Mat not_asked;
    const ContrastField field{window.contrast,
                              blocked,
                              not_asked,
                              sigma_px_,
                              setting_.face.grid.pitch.number(),
                              window.box.width + window.box.height};
    const int factor = setting_.factor;
    const cv::Rect cell = cv::Rect(candidate.seed * factor - window.box.tl(), cv::Size(factor, factor)) &
                          cv::Rect(0, 0, blocked.cols, blocked.rows);
    cv::Point seed;
    cv::minMaxLoc(window.contrast(cell), nullptr, nullptr, nullptr, &seed, blocked(cell) == 0);
    if (seed.x < 0) return std::nullopt;
    // The matrix around was seen as well on the cells.
    const RingOfMatrix ground{candidate.region.ground,
                              candidate.region.spread_ground,
                              candidate.region.ground_px * factor * factor};
    return half_contrast_region(field, seed + cell.tl(), candidate.region.threshold, &ground);
  }

  [[nodiscard]] Region describe(const Followed& found,
                                Traced traced,
                                double deblurring,
                                double sigma_px) const {
    const cv::Point corner = found.window.box.tl();
    const auto shifted = [&](Contour& contour) {
      for (cv::Point2d& p : contour) p += cv::Point2d(corner);
    };
    Region region{};
    region.box = found.region.box + corner;
    region.area_px = deblurring * std::max(traced.area, 1.0);
    region.u_area_px = polygon_perimeter(traced.outline) * boundary_u_px(found, sigma_px) +
                       kDoubtOfDeblurring * std::abs(region.area_px - traced.area);
    shifted(traced.outline);
    for (Contour& hole : traced.holes) shifted(hole);
    const cv::Point2d centre = polygon_centroid(traced.outline);
    const double level = setting_.contrast.level_at(centre.x, centre.y);
    const double sign = setting_.light ? 1.0 : -1.0;
    region.plateau = level * (1.0 + sign * static_cast<double>(found.region.plateau));
    region.ground = level * (1.0 + sign * static_cast<double>(found.region.ground));
    region.threshold = level * (1.0 + sign * static_cast<double>(found.region.threshold));
    region.edge_gradient = level * found.edge_gradient;
    region.flank_sigma_px = found.flank_px;
    region.touches_rim = meets_rim(setting_.face, traced.outline);
    region.outline = std::move(traced.outline);
    region.holes = std::move(traced.holes);
    return region;
  }

  const OutlineSetting& setting_;
  const CoarseSpots& found_;
  double sigma_px_;
};

}  // namespace

double form_factor(double area_px, const Contour& outline) {
  const double perimeter = polygon_perimeter(outline);
  return 4.0 * CV_PI * area_px / std::max(perimeter * perimeter, 1e-9);
}

OutlinedFace outline_all(const OutlineSetting& setting, const CoarseSpots& found) {
  const Outliner outliner(setting, found);
  const int count = static_cast<int>(found.spots.size());
  std::vector<std::optional<Followed>> followed(found.spots.size());
  const auto each = [&](auto work) {
    cv::parallel_for_(cv::Range(0, count), [&](const cv::Range& range) {
      for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i)
        work(i);
    });
  };
  each([&](std::size_t i) { followed[i] = outliner.follow(found.spots[i]); });
  std::vector<double> flanks;
  for (const auto& one : followed)
    if (one) flanks.push_back(one->flank_px);
  OutlinedFace face{{}, blur_on_face_px(setting.blur_px, std::move(flanks))};
  std::vector<std::vector<Outlined>> parts(found.spots.size());
  each([&](std::size_t i) {
    if (followed[i]) parts[i] = outliner.outline(*followed[i], face.blur_px);
  });
  for (std::vector<Outlined>& some : parts)
    std::move(some.begin(), some.end(), std::back_inserter(face.regions));
  return face;
}

}  // namespace corefleck
