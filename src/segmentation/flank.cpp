#include "flank.hpp"

#include "local_contrast.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

// The slope at an outline is the mean over this much to either side: between one pixel and its diagonal, set
// on drawn discs of known lightness.
constexpr double kSlopeBand_px = 1.25;
// What measuring a slope adds to a flank's variance: the smoothing before outlines are drawn and the
// difference over two pixels.
constexpr double kSlopeSpread_px2 = LocalContrast::kSmoothing_px * LocalContrast::kSmoothing_px + 4.0 / 12.0;
constexpr double kSharp = 0.25;        // share of the flanks that count as the sharper ones
constexpr std::size_t kFewFlanks = 2;  // of so few the softest is taken
constexpr double kSharpestPhoto_px = 0.4;
// A bar's blur is right within 15 % where its print is sharp, and noise and small size narrow flanks by up to
// half.
constexpr double kClearlySharper = 0.45;

}  // namespace

double flank_sigma_px(double height, double slope) {
  double low = 0.2, high = 100.0;
  for (int i = 0; i < 40; ++i) {
    const double sigma = std::sqrt(low * high);
    const double mean = 0.5 * height / kSlopeBand_px * std::erf(kSlopeBand_px / (std::sqrt(2.0) * sigma));
    (mean > slope ? low : high) = sigma;
  }
  return std::sqrt(std::max(0.0, low * low - kSlopeSpread_px2));
}

double blur_on_face_px(double blur_of_bar_px, std::vector<double> flanks_px) {
  if (flanks_px.empty()) return blur_of_bar_px;
  std::sort(flanks_px.begin(), flanks_px.end());
  const auto sharp = static_cast<std::size_t>(kSharp * static_cast<double>(flanks_px.size() - 1));
  const std::size_t rank = std::max(sharp, std::min(flanks_px.size() - 1, kFewFlanks));
  const double flank = std::max(flanks_px[rank], kSharpestPhoto_px);
  return flank < kClearlySharper * blur_of_bar_px ? flank : blur_of_bar_px;
}

}  // namespace corefleck
