#pragma once

#include "corefleck/calibration.hpp"

#include <opencv2/core.hpp>

namespace corefleck {

/// The local level of the matrix, on cells much larger than pixels, since it changes slowly.
struct MatrixLevel {
  int cell_px;
  cv::Mat level;  ///< CV_32FC1, one value a cell: luminance of the matrix there
  /// Between which two cells a pixel lies, and how far from the first: for many pixels of one column or row.
  struct Between {
    int first;
    float share;
  };
  [[nodiscard]] Between between_columns(double column) const { return between(column, level.cols); }
  [[nodiscard]] Between between_rows(double row) const { return between(row, level.rows); }
  [[nodiscard]] float at(const Between& column, const Between& row) const;
  [[nodiscard]] float at(double column, double row) const;
  /// Columns from `from` to before `to` of one grid row into `out`.
  void fill_row(int row, int from, int to, float* out) const;

 private:
  [[nodiscard]] Between between(double pixel, int cells) const;
};

/// Cells of about half the smallest spot; masked smoothing over several millimetres, light and dark outliers
/// left out, repeated until what is left out is settled.
[[nodiscard]] MatrixLevel matrix_level(const CalibratedFace& face,
                                       const cv::Mat& outside,
                                       Millimetres min_spot);

}  // namespace corefleck
