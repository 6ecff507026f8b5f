#pragma once

#include "corefleck/measurement.hpp"

namespace corefleck {

/// Mean luminances that every spot is compared with.
struct MatrixFigures {
  double luminance;  ///< mean Y of the matrix away from flanks
  cv::Vec3d colour;  ///< mean linear sRGB of the matrix
};

[[nodiscard]] MatrixFigures matrix_figures(const CalibratedFace& face, const SpotMap& map);

struct SpotLight {
  double mean;  ///< mean Y over the spot's pixels, what blur carried over the outline given back
  double seen;  ///< the same as the photo shows it
  double peak;  ///< 99th percentile of Y
};

[[nodiscard]] SpotLight spot_light(const CalibratedFace& face, const SpotMap& map, const Region& spot);

[[nodiscard]] SpotFigures spot_figures(const CalibratedFace& face,
                                       const SpotMap& map,
                                       const Region& spot,
                                       const SpotLight& light,
                                       double matrix_luminance);

}  // namespace corefleck
