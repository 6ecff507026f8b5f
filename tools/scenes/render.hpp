#pragma once

#include "bench.hpp"
#include "face.hpp"
#include "layout.hpp"
#include "light.hpp"

namespace scenes {

/// The photo as the sensor's linear levels after blur and noise, then sRGB-encoded, 0 to 65535, RGB order.
[[nodiscard]] cv::Mat3w render_photo(
    const SceneStyle& style, const Layout& layout, const Bench& bench, const Light& light, const Face& face);

}  // namespace scenes
