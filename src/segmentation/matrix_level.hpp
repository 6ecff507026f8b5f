#pragma once

#include "corefleck/calibration.hpp"

#include <opencv2/core.hpp>

namespace corefleck {

/// The local level of the matrix, on cells much larger than pixels, since it changes slowly.
struct MatrixLevel {
  int cell_px;
  cv::Mat level;  ///< CV_32FC1, one value a cell: luminance of the matrix there
  [[nodiscard]] float at(double column, double row) const;
  /// Columns from `from` to before `to` of one grid row into `out`.
  void fill_row(int row, int from, int to, float* out) const;
};

/// Cells of about half the smallest spot; masked smoothing over several millimetres, light and dark outliers
/// left out, repeated until what is left out is settled.
[[nodiscard]] MatrixLevel matrix_level(const CalibratedFace& face,
                                       const cv::Mat& outside,
                                       Millimetres min_spot);

}  // namespace corefleck
