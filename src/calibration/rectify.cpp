#include "rectify.hpp"

#include "corefleck/clipping.hpp"
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
  LensBend lens;
  cv::Mat& luminance;
  cv::Mat& colour;
  cv::Mat& clipped;
  cv::Scalar gains;
  std::array<double, 3> weights;  // of the channels in luminance, gains included
};

cv::Rect source_area(const Target& target, const cv::Rect& tile) {
  double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  for (const double x : {tile.x, tile.x + tile.width})
    for (const double y : {tile.y, tile.y + tile.height}) {
      const cv::Vec3d q = target.grid_to_px * cv::Vec3d(x, y, 1.0);
      const cv::Point2d p = target.lens.bent({q[0] / q[2], q[1] / q[2]});
      x0 = std::min(x0, p.x), y0 = std::min(y0, p.y), x1 = std::max(x1, p.x), y1 = std::max(y1, p.y);
    }
  return cv::Rect(cv::Point(static_cast<int>(std::floor(x0)) - 1, static_cast<int>(std::floor(y0)) - 1),
                  cv::Point(static_cast<int>(std::ceil(x1)) + 3, static_cast<int>(std::ceil(y1)) + 3)) &
         cv::Rect(0, 0, target.photo.width_px(), target.photo.height_px());
}

// Where the lens makes the pixels of a row be seen: the division model's root as a series, which has neither
// root nor division in the way of several pixels at a time; off by 0.003 px where a frame's corner is shifted
// by 5 %.
void bend_row(const LensBend& lens, float* places, int count) {
  const auto x = static_cast<float>(lens.middle.x), y = static_cast<float>(lens.middle.y);
  const auto bend = static_cast<float>(lens.at_corner / (lens.half_diagonal_px * lens.half_diagonal_px));
  for (int i = 0; i < count; ++i) {
    const float dx = places[2 * i] - x, dy = places[2 * i + 1] - y;
    const float t = bend * (dx * dx + dy * dy);
    const float stretch = 1.0F + t * (1.0F + t * (2.0F + t * (5.0F + t * (14.0F + t * 42.0F))));
    places[2 * i] = x + dx * stretch;
    places[2 * i + 1] = y + dy * stretch;
  }
}

// Where the pixels of a tile lie in the photo, from a corner of the photo on; `step` grid pixels apart.
cv::Mat places(const Target& target, const cv::Rect& tile, cv::Point corner, int step) {
  const cv::Matx33d& h = target.grid_to_px;
  LensBend lens = target.lens;
  lens.middle -= cv::Point2d(corner);
  const double half = 0.5 * (step - 1);
  cv::Mat map((tile.height + step - 1) / step, (tile.width + step - 1) / step, CV_32FC2);
  for (int row = 0; row < map.rows; ++row) {
    // What the row has in common stands outside its loop, which then runs for several pixels at a time.
    const double y = tile.y + step * row + half, x0 = tile.x + half;
    const double across = h(0, 1) * y + h(0, 2), down = h(1, 1) * y + h(1, 2), depth = h(2, 1) * y + h(2, 2);
    const double left = corner.x, top = corner.y, h00 = h(0, 0), h10 = h(1, 0), h20 = h(2, 0);
    auto* out = map.ptr<float>(row);
    for (int column = 0; column < map.cols; ++column) {
      const double x = x0 + step * column, nearness = 1.0 / (h20 * x + depth);
      out[2 * column] = static_cast<float>((h00 * x + across) * nearness - left);
      out[2 * column + 1] = static_cast<float>((h10 * x + down) * nearness - top);
    }
    if (lens.at_corner != 0.0) bend_row(lens, out, map.cols);
  }
  return map;
}

/// Farther beyond the rim nothing is looked at, by far: what lies across the rim is averaged over cells of a
/// few pixels.
constexpr double kSeenBeyondRim_px = 96.0;

bool is_seen(const cv::Rect& tile, double centre, double radius_px) {
  const double dx = std::max({tile.x - centre, centre - (tile.x + tile.width), 0.0});
  const double dy = std::max({tile.y - centre, centre - (tile.y + tile.height), 0.0});
  return std::hypot(dx, dy) <= radius_px + kSeenBeyondRim_px;
}

void fill_tile(const Target& target, const cv::Rect& tile, bool seen) {
  const cv::Rect area = source_area(target, tile);
  cv::Mat luminance = target.luminance(tile), clipped = target.clipped(tile);
  const cv::Rect half(tile.x / 2, tile.y / 2, (tile.width + 1) / 2, (tile.height + 1) / 2);
  cv::Mat colour = target.colour(half);
  if (!seen || area.width < 2 || area.height < 2) {
    luminance.setTo(0);
    clipped.setTo(0);
    colour.setTo(cv::Scalar::all(0));
    return;
  }
  const cv::Mat map = places(target, tile, area.tl(), 1);
  const cv::Mat light = weighted_light(target.photo, area, target.weights);
  cv::remap(light, luminance, map, {}, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  const cv::Mat clips = clipped_pixels(target.photo, area);
  if (cv::countNonZero(clips) > 0) {
    cv::Mat near;
    cv::remap(clips, near, map, {}, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
    near.copyTo(clipped);
    clipped.setTo(static_cast<unsigned char>(Clipping::luminance),
                  near > static_cast<unsigned char>(Clipping::colour));
    clipped.setTo(static_cast<unsigned char>(Clipping::colour), clipped == 1);
  } else {
    clipped.setTo(0);
  }
  cv::multiply(linear_rgb_at(target.photo, places(target, tile, {0, 0}, 2)), target.gains, colour);
}

}  // namespace

void rectify(const Photo& photo,
             const Pose& pose,
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
  const Target target{
      photo,
      pose.mm_to_px * grid_to_mm,
      pose.lens,
      face.luminance,
      face.colour,
      face.clipped,
      {gains[0], gains[1], gains[2]},
      {kLuminanceOfSrgb[0] * gains[0], kLuminanceOfSrgb[1] * gains[1], kLuminanceOfSrgb[2] * gains[2]}};
  const int tiles = (size + kTile_px - 1) / kTile_px;
  cv::parallel_for_(cv::Range(0, tiles * tiles), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const int x = i % tiles * kTile_px, y = i / tiles * kTile_px;
      const cv::Rect tile(x, y, std::min(kTile_px, size - x), std::min(kTile_px, size - y));
      fill_tile(target, tile, is_seen(tile, reach, (radius / pitch).number()));
    }
  });
}

}  // namespace corefleck
