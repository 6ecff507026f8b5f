#pragma once

#include "half_contrast.hpp"

#include <opencv2/core.hpp>

namespace corefleck {

/// Linear sRGB at half the face's grid (CV_32FC3), looked up for a cell of `factor` x `factor` grid pixels.
struct CellColour {
  cv::Mat half;  ///< empty: colour is not asked
  int factor;
  [[nodiscard]] cv::Vec3d at(cv::Point cell) const;  ///< mean over the pixels that the cell touches
};

/// Whether the colour of a light region steps at its outline by more than the matrix around it changes.
/// Mottle is light and dark of one colour; most spots are whiter than the matrix. `blocked` as in
/// ContrastField.
[[nodiscard]] bool has_own_colour(const CellColour& colour,
                                  const cv::Mat& blocked,
                                  const HalfContrastRegion& region,
                                  double sigma_px,
                                  double pitch_mm);

}  // namespace corefleck
