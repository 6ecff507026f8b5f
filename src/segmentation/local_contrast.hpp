#pragma once

#include "matrix_level.hpp"

#include "corefleck/calibration.hpp"

#include <opencv2/core.hpp>

namespace corefleck {

/// Side of the cells on which spots are told from mottle: some five across the smallest spot.
[[nodiscard]] int cell_px(double smallest_spot_px);

/// Contrast Y / B - 1 of the face against the local level of its matrix, made only where it is asked for: a
/// whole plane of it would be the memory's peak. `sign` -1 gives the negative, in which hollows are light.
class LocalContrast {
 public:
  static constexpr double kSmoothing_px = 0.7;  ///< of `fine`: noise would fray the outlines

  LocalContrast(const CalibratedFace& face, const MatrixLevel& matrix);

  /// CV_32FC1 of a box inside the grid, slightly smoothed; 0 beyond the rim.
  [[nodiscard]] cv::Mat fine(const cv::Rect& box, float sign) const;

  /// Means over cells of factor x factor pixels; what is left over at the right and below is dropped.
  [[nodiscard]] cv::Mat coarse(int factor) const;

  /// Blur of the photo's edges in `fine` and in `coarse`, Gaussian, grid pixels and cells.
  [[nodiscard]] double fine_sigma_px() const;
  [[nodiscard]] double coarse_sigma_cells(int factor) const;

  /// Luminance of the matrix at a place on the grid.
  [[nodiscard]] double level_at(double column, double row) const;

 private:
  const CalibratedFace& face_;
  const MatrixLevel& matrix_;
};

}  // namespace corefleck
