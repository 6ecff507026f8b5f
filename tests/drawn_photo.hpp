#pragma once

#include "corefleck/calibration.hpp"
#include "corefleck/photo.hpp"

#include <opencv2/core.hpp>

#include <array>
#include <vector>

namespace corefleck::testing {

/// Linear reflectance in R, G, B; 1 = perfect diffuser.
using Reflectance = std::array<double, 3>;
[[nodiscard]] inline Reflectance grey(double y) { return {y, y, y}; }

/// A disc or a rectangle in the plane of the face: mm from the face's centre, x right, y up.
struct DrawnShape {
  enum class Kind { disc, rectangle } kind = Kind::disc;
  double x_mm = 0.0, y_mm = 0.0;
  double half_width_mm = 0.0, half_height_mm = 0.0;  ///< of a disc: both its radius
  double turn_deg = 0.0;                             ///< counterclockwise
  Reflectance colour{};
};
[[nodiscard]] DrawnShape disc(double x_mm, double y_mm, double radius_mm, Reflectance colour);
[[nodiscard]] DrawnShape rectangle(
    double x_mm, double y_mm, double width_mm, double height_mm, Reflectance colour, double turn_deg = 0.0);

/// A block pattern of `blocks` equal blocks on a strip; its middle at x, y.
struct DrawnBar {
  double x_mm = 0.0, y_mm = -55.0;
  double length_mm = 50.0;
  int blocks = 5;
  double height_mm = 6.0;
  double turn_deg = 0.0;
  bool first_dark = true;
  double strip = 0.85;     ///< reflectance of the strip that carries the blocks
  double margin_mm = 8.0;  ///< of the strip around the blocks
  bool ruler_ticks = false;
};

/// Everything in a photo that is drawn instead of taken. Shapes lie on one another in the order of the list.
struct DrawnScene {
  int width_px = 1400, height_px = 1100;
  double mm_per_px = 0.13;  ///< at the face's centre, along the direction that tilt does not shorten
  double face_x_px = 560.0, face_y_px = 470.0;
  double tilt_deg = 0.0,
         tilt_toward_deg = 0.0;  ///< direction in the photo (y down) in which the plane recedes
  double focal_px = 1600.0;
  double lens_k = 0.0;  ///< Brown's first radial term: seen at r (1 + k r^2) half diagonals from the middle

  Reflectance bench = grey(0.40);
  std::vector<DrawnShape> shapes;

  double exposure = 1.0;             ///< full scale that the perfect diffuser reaches
  Reflectance light{1.0, 1.0, 1.0};  ///< its colour
  double light_slope_pct = 0.0;      ///< of the light, per 100 mm
  double light_toward_deg = 0.0;     ///< direction in which it grows, counterclockwise from x
  double blur_px = 0.8;              ///< Gaussian standard deviation
  double noise = 0.004;              ///< of full scale, standard deviation per channel
  double mottle = 0.0;               ///< relative, on everything, over 3 px
  unsigned seed = 1;
};

inline constexpr double kFaceRadius_mm = 45.0;
inline constexpr double kMatrix_Y = 0.25;

/// Face, bar of five blocks below it, 18 % card at its right: what the program asks of a photo by default.
[[nodiscard]] DrawnScene usual_scene();
[[nodiscard]] DrawnShape drawn_face(double x_mm = 0.0, double y_mm = 0.0, double radius_mm = kFaceRadius_mm);
[[nodiscard]] DrawnShape drawn_card(double reflectance = 0.18, double x_mm = 75.0, double y_mm = 5.0);
[[nodiscard]] std::vector<DrawnShape> drawn_bar(const DrawnBar& bar);
/// The usual scene's shapes one by one, for scenes that leave one out or double it.
[[nodiscard]] DrawnScene scene_of(const std::vector<std::vector<DrawnShape>>& groups);

/// (x mm, y mm up, 1) to photo pixels, were `lens_k` 0: a true pinhole with the principal point in the
/// frame's middle.
[[nodiscard]] cv::Matx33d mm_to_px(const DrawnScene& scene);
[[nodiscard]] cv::Point2d place_px(const DrawnScene& scene, double x_mm, double y_mm);

/// The photo of the scene: 8-bit sRGB samples.
[[nodiscard]] Photo drawn_photo(const DrawnScene& scene);
/// The photo turned by quarter turns, clockwise as seen.
[[nodiscard]] Photo turned(const Photo& photo, int quarter_turns);

/// A calibrated face drawn on its own grid, without a photo: segmentation and measurement start from it.
struct DrawnFace {
  int size_px = 601;
  double pitch_mm = 0.1;
  double matrix_Y = kMatrix_Y;
  double blur_px = 1.0;
  double noise = 0.004;    ///< relative to the matrix, per pixel
  double mottle = 0.0;     ///< relative
  double mottle_px = 4.0;  ///< Gaussian width of the mottle
  unsigned seed = 1;
  struct Spot {
    double column, row, radius_px;
    double Y;
  };
  std::vector<Spot> spots;  ///< discs lie on one another; light or dark
  struct Neck {
    double column, row, half_width_px, half_height_px;
    double Y;
  };
  std::vector<Neck> necks;  ///< rectangles along the grid
};
[[nodiscard]] CalibratedFace calibrated_face(const DrawnFace& drawn);

}  // namespace corefleck::testing
