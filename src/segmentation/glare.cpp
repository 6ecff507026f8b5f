#include "glare.hpp"

#include "corefleck/clipping.hpp"

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
constexpr float kStillBright = 0.15F;    // contrast down to which a flank is followed
constexpr float kClippedDiffuse = 0.9F;  // below this level of clipping it is the exposure, not a reflection

// A film that glints does so in swarms: a drop whose mirror image of the lamp is smaller than a pixel is as
// weak as it is small, but a point of light still, which no spot is. Limits set on rendered films.
constexpr double kSwarm_mm = 1.6;  // between neighbours
constexpr int kSwarm = 5;          // points, where none of them clips
// Opened so far, a blurred point keeps half its height and stands out by the other half; a spot that is six
// pixels across stands out by 0.3 at most (by hand, for a blur of up to a third of its width).
constexpr double kPoint_sigma = 1.2;
constexpr float kPointShare = 0.33F;

/// What only a reflection makes so bright: limits of luminance for pixels that clip and for any.
struct Limits {
  float clipping, any;
  Clipping clips = Clipping::colour;  ///< the least that counts as clipping
};

Limits limits_of(const CalibratedFace& face, const SegmentationSettings& settings) {
  constexpr float kNever = std::numeric_limits<float>::infinity();
  const bool wet = settings.state == FaceState::wet;
  // Light of a colour clips white spots in one channel, and how light they are is still seen.
  const Clipping clips = wet ? Clipping::colour : Clipping::luminance;
  if (!face.absolute_luminance) return {-kNever, kNever, clips};
  if (wet) return {kClippedDiffuseWet, kDiffuseLimitWet, clips};
  return {kClippedDiffuse, kDiffuseLimit, clips};
}

bool is_inside(unsigned char outside) {
  return outside < static_cast<unsigned char>(Outside::chip) &&
         outside != static_cast<unsigned char>(Outside::beyond_rim);
}

struct Counts {
  int hot = 0, clipped_elsewhere = 0;
};

/// Counts one row; marks its hot pixels where `hot` is given.
Counts count_row(const CalibratedFace& face, const Limits& limits, int y, unsigned char* hot) {
  Counts counts;
  const unsigned char *outside = face.outside.ptr(y), *clipped = face.clipped.ptr(y);
  const auto* luminance = face.luminance.ptr<float>(y);
  for (int x = 0; x < face.outside.cols; ++x) {
    const int inside = is_inside(outside[x]) ? 1 : 0, clips = clipped[x] != 0 ? inside : 0;
    const int bright = luminance[x] > limits.any ? inside : 0;
    const bool enough = clipped[x] >= static_cast<unsigned char>(limits.clips);
    const int is_hot = bright | (luminance[x] > limits.clipping && enough ? clips : 0);
    counts.hot += is_hot;
    counts.clipped_elsewhere += clips & ~is_hot;
    if (hot) hot[x] = is_hot != 0 ? 255 : 0;
  }
  return counts;
}

bool may_glare(const CalibratedFace& face, const Limits& limits, int y) {
  if (cv::countNonZero(face.clipped.row(y)) > 0) return true;
  double brightest = 0.0;
  cv::minMaxLoc(face.luminance.row(y), nullptr, &brightest);
  return brightest > static_cast<double>(limits.any);
}

Counts count_pixels(const CalibratedFace& face, const Limits& limits) {
  std::vector<Counts> rows(static_cast<std::size_t>(face.outside.rows));
  cv::parallel_for_(cv::Range(0, face.outside.rows), [&](const cv::Range& range) {
    for (int y = range.start; y < range.end; ++y)
      if (may_glare(face, limits, y)) rows[static_cast<std::size_t>(y)] = count_row(face, limits, y, nullptr);
  });
  Counts all;
  for (const Counts& row : rows) {
    all.hot += row.hot;
    all.clipped_elsewhere += row.clipped_elsewhere;
  }
  return all;
}

cv::Mat hot_pixels(const CalibratedFace& face, const Limits& limits) {
  cv::Mat hot(face.outside.size(), CV_8UC1);
  cv::parallel_for_(cv::Range(0, hot.rows), [&](const cv::Range& range) {
    for (int y = range.start; y < range.end; ++y) count_row(face, limits, y, hot.ptr(y));
  });
  return hot;
}

cv::Mat inside_of(const CalibratedFace& face) {
  return (face.outside < static_cast<unsigned char>(Outside::chip)) &
         (face.outside != static_cast<unsigned char>(Outside::beyond_rim));
}

// What stands out from the contrast and is no broader than `reach` cells to each side: the rest of an
// opening, whose result is led back up as far, so that corners of larger light places do not stand out.
cv::Mat points_of(const cv::Mat& contrast, int reach) {
  const int width = 2 * reach + 1;
  cv::Mat broad, grown, points;
  cv::morphologyEx(
      contrast, broad, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {width, width}));
  for (int i = 0; i < reach; ++i) {
    cv::dilate(broad, grown, cv::Mat());
    cv::min(grown, contrast, broad);
  }
  cv::subtract(contrast, broad, points);
  return points;
}

/// Those of the points that have a hot cell or many others of their kind about them.
cv::Mat in_swarms(const cv::Mat& points, const cv::Mat& hot, double reach_cells) {
  const int size = 2 * static_cast<int>(std::ceil(0.5 * reach_cells)) + 1;
  cv::Mat near, swarms, singles, stats, centroids;
  cv::dilate(points | hot, near, cv::getStructuringElement(cv::MORPH_ELLIPSE, {size, size}));
  const int number = cv::connectedComponents(near, swarms, 4, CV_32S);
  std::vector<int> members(static_cast<std::size_t>(number), 0);
  const auto members_at = [&](const cv::Point& at) -> int& {
    return members[static_cast<std::size_t>(swarms.at<int>(at))];
  };
  const int single = cv::connectedComponentsWithStats(points, singles, stats, centroids);
  for (int i = 1; i < single; ++i)
    ++members_at(
        {static_cast<int>(centroids.at<double>(i, 0)), static_cast<int>(centroids.at<double>(i, 1))});
  for (int y = 0; y < hot.rows; ++y)
    for (int x = 0; x < hot.cols; ++x)
      if (hot.at<unsigned char>(y, x) != 0) members_at({x, y}) = kSwarm;
  cv::Mat glints = points.clone();
  for (int y = 0; y < points.rows; ++y)
    for (int x = 0; x < points.cols; ++x)
      if (members_at({x, y}) < kSwarm) glints.at<unsigned char>(y, x) = 0;
  return glints;
}

void add_swarm(const CalibratedFace& face,
               const LocalContrast& contrast,
               Millimetres min_spot,
               cv::Mat& hot) {
  const int factor = cell_px((min_spot / face.grid.pitch).number());
  const cv::Mat cells = contrast.coarse(factor);
  cv::Mat hot_cells, inside_cells;
  const cv::Rect whole(0, 0, cells.cols * factor, cells.rows * factor);
  cv::resize(hot(whole), hot_cells, cells.size(), 0, 0, cv::INTER_AREA);
  cv::resize(face.outside(whole) == 0, inside_cells, cells.size(), 0, 0, cv::INTER_NEAREST);
  const int reach =
      std::max(1, static_cast<int>(std::lround(kPoint_sigma * contrast.coarse_sigma_cells(factor))));
  const cv::Mat points = points_of(cells, reach);
  const cv::Mat sharp = (points > kStillBright) & (points > cells * kPointShare) & inside_cells;
  cv::Mat swarm;
  cv::resize(in_swarms(sharp, hot_cells != 0, kSwarm_mm / (face.grid.pitch.number() * factor)),
             swarm,
             whole.size(),
             0,
             0,
             cv::INTER_NEAREST);
  hot(whole) |= swarm;
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
  const Limits limits = limits_of(face, settings);
  const Counts counts = count_pixels(face, limits);
  if (counts.clipped_elsewhere > 0)
    glare.clipped_elsewhere_pct =
        100.0 * counts.clipped_elsewhere / std::max(1, cv::countNonZero(inside_of(face)));
  if (counts.hot == 0) return glare;
  const cv::Mat inside = inside_of(face);
  cv::Mat hot = hot_pixels(face, limits);
  if (settings.state == FaceState::wet) add_swarm(face, contrast, settings.min_spot, hot);
  glare.mask = grown(face, contrast, hot) & inside;
  cv::dilate(glare.mask, glare.mask, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
  std::vector<std::vector<cv::Point>> outlines;
  cv::findContours(glare.mask, outlines, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  for (const auto& outline : outlines) glare.outlines.emplace_back(outline.begin(), outline.end());
  return glare;
}

}  // namespace corefleck
