#include "rectify.hpp"

#include "corefleck/colorimetry.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr int kTile_px = 192;  // even, so that the half-resolution colour has whole tiles

struct Target {
  const Photo& photo;
  cv::Matx33d grid_to_px;
  cv::Mat& luminance;
  cv::Mat& colour;
  cv::Mat& clipped;
  cv::Scalar gains;
};

cv::Point2d project(const cv::Matx33d& h, double x, double y) {
  const double w = h(2, 0) * x + h(2, 1) * y + h(2, 2);
  return {(h(0, 0) * x + h(0, 1) * y + h(0, 2)) / w, (h(1, 0) * x + h(1, 1) * y + h(1, 2)) / w};
}

cv::Rect source_area(const Target& target, const cv::Rect& tile) {
  double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  for (const double x : {tile.x, tile.x + tile.width})
    for (const double y : {tile.y, tile.y + tile.height}) {
      const cv::Point2d p = project(target.grid_to_px, x, y);
      x0 = std::min(x0, p.x), y0 = std::min(y0, p.y), x1 = std::max(x1, p.x), y1 = std::max(y1, p.y);
    }
  return cv::Rect(cv::Point(static_cast<int>(std::floor(x0)) - 1, static_cast<int>(std::floor(y0)) - 1),
                  cv::Point(static_cast<int>(std::ceil(x1)) + 3, static_cast<int>(std::ceil(y1)) + 3)) &
         cv::Rect(0, 0, target.photo.width_px(), target.photo.height_px());
}

void fill_tile(const Target& target, const cv::Rect& tile) {
  const cv::Rect area = source_area(target, tile);
  cv::Mat luminance = target.luminance(tile), clipped = target.clipped(tile);
  const cv::Rect half(tile.x / 2, tile.y / 2, (tile.width + 1) / 2, (tile.height + 1) / 2);
  cv::Mat colour = target.colour(half & cv::Rect(0, 0, target.colour.cols, target.colour.rows));
  if (area.width < 2 || area.height < 2) {
    luminance.setTo(0);
    clipped.setTo(0);
    colour.setTo(cv::Scalar::all(0));
    return;
  }
  const cv::Mat rgb = linear_rgb(target.photo, area);
  const cv::Mat clips = clipped_pixels(target.photo, area);
  cv::Mat map(tile.size(), CV_32FC2), nearest;
  for (int y = 0; y < tile.height; ++y)
    for (int x = 0; x < tile.width; ++x) {
      const cv::Point2d p = project(target.grid_to_px, tile.x + x, tile.y + y);
      map.at<cv::Vec2f>(y, x) = {static_cast<float>(p.x - area.x), static_cast<float>(p.y - area.y)};
    }
  cv::Mat sampled;
  cv::multiply(rgb, target.gains, rgb);
  cv::remap(rgb, sampled, map, {}, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  const cv::Matx13f weights(static_cast<float>(kLuminanceOfSrgb[0]),
                            static_cast<float>(kLuminanceOfSrgb[1]),
                            static_cast<float>(kLuminanceOfSrgb[2]));
  cv::transform(sampled, luminance, weights);
  cv::remap(clips, nearest, map, {}, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  cv::Mat any = nearest > 0;
  any.copyTo(clipped);
  cv::resize(sampled, colour, colour.size(), 0, 0, cv::INTER_AREA);
}

}  // namespace

void rectify(const Photo& photo,
             const cv::Matx33d& mm_to_px,
             Millimetres radius,
             MmPerPx pitch,
             const std::array<double, 3>& gains,
             CalibratedFace& face) {
  const int reach = static_cast<int>(std::ceil((radius / pitch).number())) + 4;
  face.grid.pitch = pitch;
  face.grid.size_px = 2 * reach + 1;
  face.grid.centre_px = reach;
  const double s = pitch.number();
  const cv::Matx33d grid_to_mm(s, 0, -s * reach, 0, -s, s * reach, 0, 0, 1);
  const int size = face.grid.size_px;
  face.luminance.create(size, size, CV_32FC1);
  face.colour.create((size + 1) / 2, (size + 1) / 2, CV_32FC3);
  face.clipped.create(size, size, CV_8UC1);
  const Target target{photo,
                      mm_to_px * grid_to_mm,
                      face.luminance,
                      face.colour,
                      face.clipped,
                      {gains[0], gains[1], gains[2]}};
  const int tiles = (size + kTile_px - 1) / kTile_px;
  cv::parallel_for_(cv::Range(0, tiles * tiles), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const int x = i % tiles * kTile_px, y = i / tiles * kTile_px;
      fill_tile(target, {x, y, std::min(kTile_px, size - x), std::min(kTile_px, size - y)});
    }
  });
}

}  // namespace corefleck
