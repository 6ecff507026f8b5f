#pragma once

#include "corefleck/error.hpp"
#include "corefleck/quantity.hpp"

#include <opencv2/core.hpp>

#include <string>

namespace corefleck {

/// Bytes of spots.tif: one 32-bit unsigned sample a pixel, Deflate with horizontal predictor, resolution in
/// pixels per centimetre (TIFF 6.0, tags 282, 283, 296).
[[nodiscard]] Result<std::string> label_tiff(const cv::Mat& labels, MmPerPx pitch);

}  // namespace corefleck
