#include "face_features.hpp"
#include "noise.hpp"
#include "parallel.hpp"
#include "spot_shapes.hpp"

#include <opencv2/imgproc.hpp>

#include <cmath>
#include <numbers>

namespace scenes {
namespace {

bool touches_anything(const Face& face, const FaceLayers& layers, cv::Point at, int reach) {
  const cv::Rect around = cv::Rect(at.x - reach, at.y - reach, 2 * reach + 1, 2 * reach + 1) &
                          cv::Rect({0, 0}, face.labels.size());
  return cv::countNonZero(layers.reserved(around)) > 0 ||
         cv::countNonZero(face.labels(around) == kPitLabel) > 0;
}

// Dark on the side of the light, paler where the light falls on the far wall.
Patch paint_pit(
    Face& face, FaceLayers& layers, const SpotShape& shape, cv::Point at, float depth, double lit) {
  long count = 0;
  double x = 0, y = 0;
  const float dx = static_cast<float>(std::cos(lit)), dy = static_cast<float>(std::sin(lit));
  for (int j = 0; j < shape.inside_mm.rows; ++j) {
    for (int i = 0; i < shape.inside_mm.cols; ++i) {
      const int row = at.y - shape.half + j, column = at.x - shape.half + i;
      const float level = smooth_step(-0.04f, 0.04f, shape.inside_mm(j, i));
      if (level <= 0) continue;
      const float side = (static_cast<float>(i - shape.half) * dx + static_cast<float>(j - shape.half) * dy) /
                         static_cast<float>(shape.half);
      layers.shade(row, column) *= 1 - level * depth * (1 - 0.5f * std::max(side, 0.0f));
      if (shape.inside_mm(j, i) <= 0) continue;
      face.labels(row, column) = kPitLabel;
      ++count;
      x += column;
      y += row;
    }
  }
  const double n = static_cast<double>(std::max(count, 1L));
  return {(x / n - face.origin) / kFacePxPerMm,
          (face.origin - y / n) / kFacePxPerMm,
          n / (kFacePxPerMm * kFacePxPerMm)};
}

}  // namespace

void draw_pits(Face& face, FaceLayers& layers, const PlasterStyle& style, Random random) {
  const double lit = random.uniform(0, 2 * std::numbers::pi);
  for (int pit = 0; pit < style.pits; ++pit) {
    const double ecd = std::min(std::max(style.pit_median_mm * std::exp(0.5 * random.normal()), 0.2), 2.0);
    const SpotShape shape = draw_spot_shape(random, ecd, 0.8, 0.1, kFacePxPerMm);
    const float depth = static_cast<float>(random.uniform(0.5, 0.88));
    for (int attempt = 0; attempt < 20; ++attempt) {
      const double reach = (face.radius_mm - 2.5) * std::sqrt(random.uniform()),
                   angle = random.uniform(0, 2 * std::numbers::pi);
      const cv::Point at(static_cast<int>(face.origin + reach * std::cos(angle) * kFacePxPerMm),
                         static_cast<int>(face.origin + reach * std::sin(angle) * kFacePxPerMm));
      if (touches_anything(face, layers, at, shape.half + 8)) continue;
      face.pits.push_back(paint_pit(face, layers, shape, at, depth, lit));
      break;
    }
  }
}

namespace {

void paint_bevel(Face& face, FaceLayers& layers, const RimStyle& style, std::uint32_t seed) {
  if (style.bevel_mm <= 0) return;
  parallel_rows(face.labels.rows, [&](int j) {
    for (int i = 0; i < face.labels.cols; ++i) {
      const double x = i - face.origin, y = j - face.origin;
      const double radius = std::sqrt(x * x + y * y) / kFacePxPerMm;
      if (radius < face.radius_mm - 1.2) continue;
      const float angle =
          std::atan2(static_cast<float>(j) - face.origin, static_cast<float>(i) - face.origin);
      const float width = static_cast<float>(style.bevel_mm) *
                          (1 + 0.5f * value_noise(seed, 50 + 9 * std::cos(angle), 50 + 9 * std::sin(angle)));
      const float edge = static_cast<float>(face.rim.radius_at(x, -y)) - std::min(width, 0.95f);
      const float level = smooth_step(edge - 0.06f, edge + 0.12f, static_cast<float>(radius));
      layers.shade(j, i) *= 1 + level * static_cast<float>(style.bevel_gain - 1);
    }
  });
}

void paint_chip(
    Face& face, FaceLayers& layers, const SpotShape& shape, cv::Point at, float gain, std::uint32_t seed) {
  for (int j = 0; j < shape.inside_mm.rows; ++j) {
    for (int i = 0; i < shape.inside_mm.cols; ++i) {
      const int row = at.y - shape.half + j, column = at.x - shape.half + i;
      if (row < 0 || column < 0 || row >= face.labels.rows || column >= face.labels.cols) continue;
      const float level = smooth_step(-0.03f, 0.03f, shape.inside_mm(j, i));
      if (level <= 0) continue;
      const float rough =
          fractal_noise(seed, static_cast<float>(i) / 18 + 50, static_cast<float>(j) / 18 + 50, 3);
      float& shade = layers.shade(row, column);
      shade = shade * (1 - level) + level * gain * (1 + 0.45f * rough);
      layers.boost(row, column) *= 1 - level;
      if (shape.inside_mm(j, i) > 0) face.labels(row, column) = kChipLabel;
    }
  }
}

// Deepest in the middle of the arc, none at its ends; dark and rough, as the ground beneath it.
void paint_break(Face& face, FaceLayers& layers, double arc_deg, Random& random) {
  const double middle = random.uniform(0, 2 * std::numbers::pi), half = arc_deg * std::numbers::pi / 360;
  const double deepest = random.uniform(3, 6);
  const float gain = static_cast<float>(random.uniform(0.2, 0.5));
  const std::uint32_t seed = random.noise_seed();
  parallel_rows(face.labels.rows, [&](int j) {
    for (int i = 0; i < face.labels.cols; ++i) {
      const double x = i - face.origin, y = face.origin - j;
      const double depth = face.rim.radius_at(x, y) - std::hypot(x, y) / kFacePxPerMm;
      const double t = std::remainder(std::atan2(y, x) - middle, 2 * std::numbers::pi) / half;
      if (depth > deepest * 1.5 || std::abs(t) >= 1) continue;
      const float u = static_cast<float>(i) / 40, v = static_cast<float>(j) / 40;
      const double edge = deepest * std::sqrt(1 - t * t) * (1 + 0.3 * fractal_noise(seed, u, v, 3));
      const float level = smooth_step(-0.03f, 0.03f, static_cast<float>(edge - depth));
      if (level <= 0) continue;
      float& shade = layers.shade(j, i);
      shade = shade * (1 - level) + level * gain * (1 + 0.45f * fractal_noise(seed + 1, 2 * u, 2 * v, 3));
      layers.boost(j, i) *= 1 - level;
      if (edge > depth) face.labels(j, i) = kChipLabel;
    }
  });
}

}  // namespace

void draw_rim(Face& face, FaceLayers& layers, const RimStyle& style, Random random) {
  paint_bevel(face, layers, style, random.noise_seed());
  for (int chip = 0; chip < style.chips; ++chip) {
    const double ecd = style.chip_mm * random.log_uniform(0.5, 1.8);
    const SpotShape shape = draw_spot_shape(random, ecd, 1.1, 0.1, kFacePxPerMm);
    const double angle = random.uniform(0, 2 * std::numbers::pi);
    const double reach = face.radius_mm + ecd * random.uniform(0.0, 0.25);
    const cv::Point at(static_cast<int>(face.origin + reach * std::cos(angle) * kFacePxPerMm),
                       static_cast<int>(face.origin + reach * std::sin(angle) * kFacePxPerMm));
    const bool light = random.chance(0.4);
    const float gain = static_cast<float>(light ? random.uniform(1.2, 1.9) : random.uniform(0.35, 0.8));
    paint_chip(face, layers, shape, at, gain, random.noise_seed());
  }
  if (style.broken_deg > 0) paint_break(face, layers, style.broken_deg, random);
}

void draw_pencil(Face& face, FaceLayers& layers, Random random) {
  const double turn = random.uniform(0, 2 * std::numbers::pi), length = random.uniform(15, 35);
  const double x0 = random.uniform(-0.4, 0.4) * face.radius_mm,
               y0 = random.uniform(-0.4, 0.4) * face.radius_mm;
  const float grey = static_cast<float>(random.uniform(0.35, 0.6)),
              half = static_cast<float>(random.uniform(0.2, 0.35));
  cv::Mat1f line = cv::Mat1f::zeros(face.labels.size());
  for (double along = -length / 2; along < length / 2; along += 0.02) {
    const double across = 2.5 * std::sin(along * 0.7);
    const double x = x0 + std::cos(turn) * along - std::sin(turn) * across;
    const double y = y0 + std::sin(turn) * along + std::cos(turn) * across;
    const cv::Point at(static_cast<int>(std::lround(face.origin + x * kFacePxPerMm)),
                       static_cast<int>(std::lround(face.origin - y * kFacePxPerMm)));
    cv::circle(line, at, static_cast<int>(std::lround(half * kFacePxPerMm)), 1.0, -1);
  }
  cv::GaussianBlur(line, line, {}, 2.0);
  layers.shade = layers.shade.mul(1.0 - line * (1.0 - grey));
}

namespace {

void list_glints(Face& face) {
  cv::Mat labels, stats, centres;
  const cv::Mat inside = face.glint > 0.5f;
  const int count = cv::connectedComponentsWithStats(inside, labels, stats, centres, 8, CV_32S);
  for (int glint = 1; glint < count; ++glint)
    face.glints.push_back({(centres.at<double>(glint, 0) - face.origin) / kFacePxPerMm,
                           (face.origin - centres.at<double>(glint, 1)) / kFacePxPerMm,
                           stats.at<int>(glint, cv::CC_STAT_AREA) / (kFacePxPerMm * kFacePxPerMm)});
}

}  // namespace

// A lamp mirrored in a thin rough film: where the film's slope is right it is far above white. Thresholded
// noise, strongest about the place where an even film would mirror the lamp.
void draw_glints(Face& face, const WetStyle& style, Random random) {
  if (!style.wet || style.glint_pct <= 0) return;
  const std::uint32_t seed = random.noise_seed();
  const double angle = random.uniform(0, 2 * std::numbers::pi),
               reach = random.uniform(0.1, 0.75) * face.radius_mm;
  const float cx = static_cast<float>(reach * std::cos(angle)),
              cy = static_cast<float>(reach * std::sin(angle));
  const float spread = static_cast<float>(random.uniform(10, 30)),
              size = static_cast<float>(random.log_uniform(0.6, 2.5));
  const float stretch = static_cast<float>(random.log_uniform(1.0, 4.0)),
              turn = static_cast<float>(random.uniform(0, 3.14));
  cv::Mat1f height = cv::Mat1f::zeros(face.labels.size());
  parallel_rows(height.rows, [&](int j) {
    for (int i = 0; i < height.cols; ++i) {
      if (face.labels(j, i) == kOutsideLabel || face.labels(j, i) == kChipLabel) continue;
      const float x = (static_cast<float>(i) - face.origin) / static_cast<float>(kFacePxPerMm);
      const float y = (static_cast<float>(j) - face.origin) / static_cast<float>(kFacePxPerMm);
      const float far = ((x - cx) * (x - cx) + (y - cy) * (y - cy)) / (spread * spread);
      const float u = (std::cos(turn) * x + std::sin(turn) * y) / (size * stretch),
                  v = (std::cos(turn) * y - std::sin(turn) * x) / size;
      height(j, i) = std::max(1.0f + fractal_noise(seed, u + 60, v + 60, 4) - 0.5f * far, 0.0f);
    }
  });
  float low = 0.3f, high = 2.0f;
  const double face_texels = std::numbers::pi * std::pow(face.radius_mm * kFacePxPerMm, 2);
  for (int step = 0; step < 12; ++step) {
    const float middle = 0.5f * (low + high);
    const bool too_many = cv::countNonZero(height > middle) > style.glint_pct / 100 * face_texels;
    (too_many ? low : high) = middle;
  }
  face.glint = cv::max((height - (high - 0.01f)) * 50.0f, 0.0f);
  cv::min(face.glint, 1.0f, face.glint);
  list_glints(face);
}

}  // namespace scenes
