#pragma once

#include "corefleck/calibration.hpp"

#include <opencv2/core.hpp>

#include <vector>

namespace corefleck {

/// Pixels of a row that an outline holds: columns from `first` up to, but not with, `end`.
struct PixelSpan {
  int row, first, end;
};

/// The pixels of the grid whose centres lie inside a closed outline (even-odd rule; a centre on the left or
/// upper side is in). Corners are rounded to kPartsOfPixel and everything after that is exact in whole
/// numbers below 2^53: the report's page does the same in its own language and must not differ by one pixel.
[[nodiscard]] std::vector<PixelSpan> pixel_spans(const std::vector<cv::Point2d>& outline_mm,
                                                 const FaceGrid& grid);

}  // namespace corefleck
