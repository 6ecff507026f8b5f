#include "glare.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

// White plaster reaches about 0.85 (from memory) and only a mirror is brighter than the perfect diffuser; the
// card's light may differ from the face's by a fifth. A face said to be wet is under suspicion sooner.
constexpr float kDiffuseLimit = 1.15F;
constexpr float kDiffuseLimitWet = 0.95F;
constexpr float kStillBright = 0.15F;     // contrast down to which a flank is followed
constexpr float kClippedDiffuse = 0.75F;  // below this level of clipping it is the exposure, not a reflection

cv::Mat seeds(const CalibratedFace& face, const SegmentationSettings& settings, cv::Mat& inside) {
  inside = face.outside < static_cast<unsigned char>(Outside::chip);
  inside.setTo(0, face.outside == static_cast<unsigned char>(Outside::beyond_rim));
  cv::Mat hot = face.clipped & inside;
  if (!face.absolute_luminance) return hot;
  const float limit = settings.state == FaceState::wet ? 0.5F : kClippedDiffuse;
  hot &= face.luminance > limit;
  hot |= (face.luminance > (settings.state == FaceState::wet ? kDiffuseLimitWet : kDiffuseLimit)) & inside;
  return hot;
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
  cv::Mat inside;
  const cv::Mat hot = seeds(face, settings, inside);
  cv::Mat elsewhere = face.clipped & inside & ~hot;
  glare.clipped_elsewhere_pct = 100.0 * cv::countNonZero(elsewhere) / std::max(1, cv::countNonZero(inside));
  if (cv::countNonZero(hot) == 0) return glare;
  glare.mask = grown(face, contrast, hot) & inside;
  cv::dilate(glare.mask, glare.mask, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
  std::vector<std::vector<cv::Point>> outlines;
  cv::findContours(glare.mask, outlines, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  for (const auto& outline : outlines) glare.outlines.emplace_back(outline.begin(), outline.end());
  return glare;
}

}  // namespace corefleck
