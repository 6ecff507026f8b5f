#pragma once

#include "corefleck/calibration.hpp"

// So that reading a plate's geometry needs no Cairo; the name is Cairo's own.
using cairo_t = struct _cairo;  // NOLINT(bugprone-reserved-identifier)

namespace corefleck {

/// Where the rectified face lies on the plate.
struct FaceFrame {
  int left, top;                      ///< plate pixel of the picture's upper left corner
  int side_px;                        ///< of the square picture
  double px_per_grid;                 ///< plate pixels a grid pixel
  double centre_x, centre_y, radius;  ///< of the rim's circle, plate pixels

  /// Grid pixels (centres at integers) to plate coordinates (pixel edges at integers, as Cairo counts).
  [[nodiscard]] cv::Point2d of_grid(const cv::Point2d& grid) const {
    return {left + (grid.x + 0.5) * px_per_grid, top + (grid.y + 0.5) * px_per_grid};
  }
};

/// The face's middle as near to (x, y) as whole pixels allow, its rim `diameter` across.
[[nodiscard]] FaceFrame face_frame(const CalibratedFace& face, double x, double y, double diameter);

/// The face as it is painted: resampled in linear light, exposed so that the matrix is mid-grey and no spot
/// clips. CV_8UC4 in the byte order of Cairo's CAIRO_FORMAT_RGB24; empty for a face without colour.
[[nodiscard]] cv::Mat framed_picture(const CalibratedFace& face, const FaceFrame& frame);
/// The same at a given factor on linear light, so that several faces keep their lightness against each other.
[[nodiscard]] cv::Mat framed_picture(const CalibratedFace& face, const FaceFrame& frame, double gain);

/// Paints that picture inside the rim.
void paint_face(cairo_t* cairo, const cv::Mat& picture, const FaceFrame& frame);

/// Linear sRGB (R, G, B), CV_32FC3, as display pixels, CV_8UC4 (blue, green, red, unused).
[[nodiscard]] cv::Mat display_pixels(const cv::Mat& linear);

/// Paints the face at a given factor on linear light. `wash` mixes in white paper, 0 to 1, for a picture that
/// marks are to stand out from.
void paint_face(
    cairo_t* cairo, const CalibratedFace& face, const FaceFrame& frame, double gain, double wash = 0.0);

/// The factor at which `framed_picture` shows this face alone.
[[nodiscard]] double usual_exposure(const CalibratedFace& face);

}  // namespace corefleck
