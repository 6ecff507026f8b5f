#pragma once

#include "half_contrast.hpp"

#include <opencv2/core.hpp>

namespace corefleck {

/// Whether the colour of a light region (linear sRGB on the same grid, CV_32FC3) steps at its outline by more
/// than the matrix around it changes. Mottle is light and dark of one colour; most spots are whiter than the
/// matrix. `blocked` as in ContrastField.
[[nodiscard]] bool has_own_colour(const cv::Mat& colour,
                                  const cv::Mat& blocked,
                                  const HalfContrastRegion& region,
                                  double sigma_px,
                                  double pitch_mm);

}  // namespace corefleck
