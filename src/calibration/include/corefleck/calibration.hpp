#pragma once

#include "corefleck/caution.hpp"
#include "corefleck/error.hpp"
#include "corefleck/estimate.hpp"
#include "corefleck/photo.hpp"
#include "corefleck/quantity.hpp"

#include <opencv2/core.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace corefleck {

/// calibration: from an upright photo to a face in millimetres and luminance.
///   in     Photo: upright, linear light
///   out    CalibratedFace: rectified; origin at the face's centre, x right, y up, mm;
///          luminance Y relative to the perfect diffuser (white = 1), light evened out
///   fails  face_not_found, face_ambiguous, scale_bar_not_found, scale_bar_ambiguous, grey_card_not_found,
///          grey_card_ambiguous, face_not_measurable
///   Assumes that face, bar and card lie in one plane: height h over camera distance d misreads the scale by
///   h/d. Deterministic; reads no file, prints nothing, leaves its input as it was.

enum class FaceState { unknown, dry, wet };

struct PixelCircle {
  double x, y, r;
};
struct PixelBox {
  double x, y, w, h;
};
struct PixelSegment {
  double x1, y1, x2, y2;
};

struct CalibrationSettings {
  double card_reflectance = 0.18;  ///< luminous, above 0 and at most 1
  Millimetres bar_length{50.0};    ///< whole block pattern
  int bar_blocks = 5;              ///< 2 to 100
  double bar_tolerance_pct =
      0.05;  ///< stated tolerance of the bar's length, taken as a half-width of equal probability
  Millimetres bar_height{
      0.0};  ///< half-width of the height of the bar above or below the face; widens u95 only
  std::optional<Millimetres> core_diameter;  ///< cross-check only
  Millimetres rim_band{1.0};                 ///< width excluded along the rim
  /// The grid has 12 pixels across it where the photo has more: no figure asks for finer ones, and each costs
  /// time. None: the photo's own scale.
  std::optional<Millimetres> smallest_detail;
  bool no_card = false;
  std::optional<PixelCircle> core_at;  ///< upright photo pixels; replaces the face finder
  std::optional<PixelBox> card_at;     ///< x, y of the upper left corner
  std::optional<PixelSegment> bar_ends;
  std::shared_ptr<const Photo> flat_frame;  ///< same size as the photo

  /// What is wrong with these settings, with name, value and constraint; empty when nothing is.
  [[nodiscard]] std::vector<std::string> faults() const;
};

/// An ellipse in photo pixels; `angle_rad` from the x axis to the long axis, y down.
struct FaceEllipse {
  double x, y, semi_major, semi_minor, angle_rad;
  double residual_px;    ///< robust standard deviation of the rim points about it
  double rim_found_pct;  ///< share of the rays on which the rim was found on the ellipse
  double score;          ///< of the finder, 0 to 1; 1 when given by hand
  bool by_hand;
};

struct BarEdge {
  double position_px;  ///< along the axis, from where the search for edges began
  int index;           ///< 0 = first end edge, `bar_blocks` = last
  double residual_px;
  bool used;
};

struct ScaleBar {
  PixelSegment axis;  ///< along the middle of the block pattern, from end edge to end edge
  double height_px;   ///< of the blocks, across the axis
  std::vector<BarEdge> edges;
  double residual_px;    ///< standard deviation of the used edges about the fitted scale
  double edge_width_px;  ///< 10 to 90 % width of a block edge: the photo's sharpness
  double white_level;    ///< linear luminance of the light blocks, full scale = 1
  double score;
  bool by_hand;
  [[nodiscard]] int used_edges() const;
  [[nodiscard]] double blur_sigma_px() const;  ///< Gaussian equivalent of `edge_width_px`
};

struct GreyCard {
  std::array<cv::Point2d, 4> corners;  ///< of the uniform area that was read
  std::array<double, 3> level;         ///< robust mean of linear sRGB, full scale = 1
  double deviation_pct;                ///< of single pixels about the plane, in % of the level
  double gradient_pct;                 ///< change of luminance across the card
  double clipped_pct;
  double u_level_pct;        ///< standard uncertainty of the mean level, in % of it
  double white_reflectance;  ///< of the bar's white, were the card's as stated and the light on both the same
  double score;
  bool by_hand;
};

/// How the lens bends straight lines, by the division model of A. W. Fitzgibbon (CVPR 2001) about the frame's
/// middle: a point that is seen r half diagonals from it would without the lens's bend be seen at
/// r / (1 + at_corner r^2). Below 0 a barrel, above 0 a pincushion.
struct LensBend {
  cv::Point2d middle;  ///< photo pixels
  double half_diagonal_px = 1.0;
  double at_corner = 0.0;  ///< shift of the frame's corner, as a share of its distance from the middle
  [[nodiscard]] cv::Point2d straightened(cv::Point2d seen) const {
    return middle + (seen - middle) / (1.0 + at_corner * squared(seen));
  }
  [[nodiscard]] cv::Point2d bent(cv::Point2d straight) const {
    return middle + (straight - middle) *
                        (2.0 / (1.0 + std::sqrt(std::max(0.0, 1.0 - 4.0 * at_corner * squared(straight)))));
  }
  /// Square root of how much larger an area at this place of the photo is than without the bend.
  [[nodiscard]] double magnification(cv::Point2d seen) const;

 private:
  [[nodiscard]] double squared(cv::Point2d p) const {
    const cv::Point2d offset = p - middle;
    return offset.dot(offset) / (half_diagonal_px * half_diagonal_px);
  }
};

/// Camera pose over the face's plane: a pinhole with square pixels, the principal point in the frame's
/// middle, behind a lens that may bend.
struct Pose {
  double tilt_deg;  ///< angle between the camera's axis and the normal of the face
  double tilt_u_deg;
  double tilt_toward_rad;  ///< direction in the photo (y down) in which the plane recedes
  double focal_px;
  std::string focal_source;  ///< "EXIF", "assumed"
  LensBend lens;
  double lens_u;  ///< standard uncertainty of `lens.at_corner`
  MmPerPx scale;  ///< at the face's centre, along the direction that tilt does not shorten, mean of what the
                  ///< lens does to all directions
  double scale_u_rel;  ///< relative standard uncertainty of `scale`, all components
  std::vector<UncertaintyComponent> scale_components;  ///< relative, in %
  cv::Matx33d
      mm_to_px;  ///< (x mm, y mm up, 1) of the face's plane to photo pixels that `lens` is yet to bend
  [[nodiscard]] cv::Point2d seen_at(double x_mm, double y_mm) const;  ///< photo pixels
};

enum class LightSource { flat_frame, matrix };

/// Smooth light field over the face: polynomial in x/R, y/R of the logarithm, 0 on average over the face.
struct LightField {
  LightSource source;
  int order;
  std::vector<double> coefficients;  ///< of x^i y^j, i + j <= order, by total degree then by power of y
  double change_pct;                 ///< 100 (max - min) / mean over the face
  double u_rel;         ///< relative standard uncertainty of the evened luminance, low frequencies
  double residual_pct;  ///< robust spread of the matrix blocks about the field
  [[nodiscard]] double relative(double x_over_r, double y_over_r) const;
};

/// How the light on the face compares with the light on the grey card, which lies elsewhere in the frame.
struct CardLight {
  double face_over_card = 1.0;
  double u_rel = 0.0;  ///< relative standard uncertainty
};

/// Where things lie on the rectified grid: square pixels, row 0 at the top.
struct FaceGrid {
  MmPerPx pitch;
  int size_px;       ///< the grid is square
  double centre_px;  ///< column and row of the face's centre
  [[nodiscard]] double x_mm(double column) const { return (column - centre_px) * pitch.number(); }
  [[nodiscard]] double y_mm(double row) const { return (centre_px - row) * pitch.number(); }
};

/// Values of the exclusion map.
enum class Outside : unsigned char { no = 0, beyond_rim = 1, rim_band = 2, chip = 3, glare = 4, edit = 5 };

struct CalibratedFace {
  FaceGrid grid;
  cv::Mat luminance;  ///< CV_32FC1: Y relative to the perfect diffuser, light evened out (card absent: full
                      ///< scale = 1)
  cv::Mat colour;     ///< CV_32FC3 at half the grid's resolution: linear sRGB, neutralised by the card, light
                      ///< evened out
  cv::Mat overview;   ///< CV_32FC3: the whole upright photo made small, linear sRGB as it is in the photo
  cv::Mat clipped;    ///< CV_8UC1, values of `Clipping`, of the photo's channels
  cv::Mat outside;    ///< CV_8UC1, values of `Outside`: beyond_rim, rim_band and chip so far
  Millimetres radius;  ///< of the circle that was fitted to the rim
  double radius_u_mm;
  Millimetres rim_band;
  double blur_sigma_px;     ///< of the photo's edges, in grid pixels, Gaussian equivalent
  bool absolute_luminance;  ///< false without a card

  FaceEllipse ellipse;
  ScaleBar bar;
  std::optional<GreyCard> card;
  Pose pose;
  LightField light;
  CardLight card_light;  ///< divided out of luminance and colour, as is `light`
  std::vector<Caution> cautions;
};

[[nodiscard]] Result<CalibratedFace> calibrate(const Photo& photo, const CalibrationSettings& settings);

}  // namespace corefleck
