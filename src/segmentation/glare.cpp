#include "glare.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

// White plaster reaches about 0.85 (from memory) and only a mirror is brighter than the perfect diffuser; the
// card's light may differ from the face's by a fifth. A face said to be wet is under suspicion sooner.
constexpr float kDiffuseLimit = 1.15F;
constexpr float kDiffuseLimitWet = 0.95F;
constexpr float kClippedDiffuseWet = 0.5F;
constexpr float kStillBright = 0.15F;     // contrast down to which a flank is followed
constexpr float kClippedDiffuse = 0.75F;  // below this level of clipping it is the exposure, not a reflection

struct Seeds {
  cv::Mat hot;  // CV_8UC1
  int hot_px, clipped_elsewhere_px, inside_px;
};

bool is_inside(unsigned char outside) {
  return outside < static_cast<unsigned char>(Outside::chip) &&
         outside != static_cast<unsigned char>(Outside::beyond_rim);
}

/// Pixels that only a reflection makes so bright.
Seeds seeds(const CalibratedFace& face, const SegmentationSettings& settings) {
  const bool wet = settings.state == FaceState::wet;
  const float never = std::numeric_limits<float>::infinity();
  const float clipping = !face.absolute_luminance ? -never : wet ? kClippedDiffuseWet : kClippedDiffuse;
  const float any = !face.absolute_luminance ? never : wet ? kDiffuseLimitWet : kDiffuseLimit;
  Seeds found{cv::Mat::zeros(face.outside.size(), CV_8UC1), 0, 0, 0};
  for (int y = 0; y < face.outside.rows; ++y) {
    const unsigned char *outside = face.outside.ptr(y), *clipped = face.clipped.ptr(y);
    const float* luminance = face.luminance.ptr<float>(y);
    unsigned char* hot = found.hot.ptr(y);
    for (int x = 0; x < face.outside.cols; ++x) {
      if (!is_inside(outside[x])) continue;
      ++found.inside_px;
      const bool clips = clipped[x] != 0;
      if (luminance[x] > any || (clips && luminance[x] > clipping)) {
        hot[x] = 255;
        ++found.hot_px;
      } else if (clips) {
        ++found.clipped_elsewhere_px;
      }
    }
  }
  return found;
}

cv::Mat inside_of(const CalibratedFace& face) {
  return (face.outside < static_cast<unsigned char>(Outside::chip)) &
         (face.outside != static_cast<unsigned char>(Outside::beyond_rim));
}

// A glint blurs into its surroundings: everything around a seed that is still much lighter than the matrix,
// within reach of the blur, belongs to it.
cv::Mat grown(const CalibratedFace& face, const LocalContrast& contrast, const cv::Mat& hot) {
  const int reach = std::max(2, static_cast<int>(std::ceil(3.0 * face.blur_sigma_px)));
  cv::Mat near;
  cv::dilate(hot, near, cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * reach + 1, 2 * reach + 1}));
  std::vector<std::vector<cv::Point>> outlines;
  cv::findContours(near, outlines, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  cv::Mat bright = cv::Mat::zeros(hot.size(), CV_8UC1);
  for (const auto& outline : outlines) {
    const cv::Rect box = cv::boundingRect(outline);
    bright(box) |= contrast.fine(box, 1.0F) > kStillBright;
  }
  return near & bright;
}

}  // namespace

Glare find_glare(const CalibratedFace& face,
                 const LocalContrast& contrast,
                 const SegmentationSettings& settings) {
  Glare glare{};
  const Seeds found = seeds(face, settings);
  glare.clipped_elsewhere_pct = 100.0 * found.clipped_elsewhere_px / std::max(1, found.inside_px);
  if (found.hot_px == 0) return glare;
  glare.mask = grown(face, contrast, found.hot) & inside_of(face);
  cv::dilate(glare.mask, glare.mask, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
  std::vector<std::vector<cv::Point>> outlines;
  cv::findContours(glare.mask, outlines, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  for (const auto& outline : outlines) glare.outlines.emplace_back(outline.begin(), outline.end());
  return glare;
}

}  // namespace corefleck
