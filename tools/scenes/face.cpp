#include "face.hpp"

#include "face_features.hpp"
#include "noise.hpp"
#include "parallel.hpp"
#include "plaster.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace scenes {
namespace {

bool is_beyond(const Face& face, int i, int j, double radius_mm) {
  const double x = i - face.origin, y = j - face.origin, limit = radius_mm * kFacePxPerMm;
  return x * x + y * y > limit * limit;
}

void compose_albedo(Face& face, const FaceLayers& layers, const FaceStyle& style, const MottleMap& mottle) {
  const float matrix_Y = static_cast<float>(style.plaster.matrix_Y);
  const float full = static_cast<float>(std::max(style.spots.contrast, 0.1));
  const float ratio = mottle.px_per_mm / static_cast<float>(kFacePxPerMm);
  parallel_rows(face.albedo.rows, [&](int j) {
    for (int i = 0; i < face.albedo.cols; ++i) {
      const float column = mottle.origin + (static_cast<float>(i) - face.origin) * ratio;
      const float row = mottle.origin + (static_cast<float>(j) - face.origin) * ratio;
      const float boost = layers.boost(j, i);
      const float spot = std::min(boost / full, 1.0f);
      // The dense paste of a spot hides some of the sand and the mottle beneath it.
      const float relative = (1 + bilinear(mottle.relative, column, row)) * layers.grain(j, i) - 1;
      const float Y =
          std::min(matrix_Y * (1 + relative * (1 - 0.5f * spot)) * (1 + boost) * layers.shade(j, i), 0.92f);
      face.albedo(j, i) = (style.plaster.matrix_tint * (1 - spot) + style.plaster.spot_tint * spot) * Y;
    }
  });
}

// The rim may be out of round by less than the band: what lies inside the band's circle is all face.
void mark_outside(Face& face) {
  parallel_rows(face.labels.rows, [&](int j) {
    for (int i = 0; i < face.labels.cols; ++i)
      if (!face.rim.holds((i - face.origin) / kFacePxPerMm, (face.origin - j) / kFacePxPerMm))
        face.labels(j, i) = kOutsideLabel;
  });
}

struct Sums {
  double x = 0, y = 0, Y = 0;
  long count = 0;
};

// Everything in the truth comes from the labels and albedo that are photographed, never from what was asked
// for.
void measure(Face& face) {
  std::vector<Sums> sums(60001);
  Sums matrix;
  long spot_inside = 0, inside = 0;
  for (int j = 0; j < face.labels.rows; ++j) {
    for (int i = 0; i < face.labels.cols; ++i) {
      const std::uint16_t label = face.labels(j, i);
      if (label == kOutsideLabel) continue;
      const bool in_band = is_beyond(face, i, j, face.radius_mm - kRimBandMm);
      inside += !in_band;
      if (label > 60000) continue;
      spot_inside += label > 0 && !in_band;
      if (label == 0 && in_band) continue;  // the bevel is no matrix
      Sums& sum = label == 0 ? matrix : sums[label];
      sum.x += i;
      sum.y += j;
      sum.Y += luminance(face.albedo(j, i));
      ++sum.count;
    }
  }
  face.matrix_Y = matrix.Y / static_cast<double>(std::max(matrix.count, 1L));
  face.area_fraction_pct = 100.0 * static_cast<double>(spot_inside) / static_cast<double>(inside);
  for (Spot& spot : face.spots) {
    const Sums& sum = sums[static_cast<std::size_t>(spot.id)];
    const double n = static_cast<double>(std::max(sum.count, 1L));
    spot.x_mm = (sum.x / n - face.origin) / kFacePxPerMm;
    spot.y_mm = (face.origin - sum.y / n) / kFacePxPerMm;
    spot.area_mm2 = static_cast<double>(sum.count) / (kFacePxPerMm * kFacePxPerMm);
    spot.mean_Y = sum.Y / n;
  }
  std::erase_if(face.spots, [](const Spot& spot) { return spot.area_mm2 <= 0; });
}

void mirror(Face& face) {
  cv::flip(face.albedo, face.albedo, 1);
  cv::flip(face.labels, face.labels, 1);
  if (!face.glint.empty()) cv::flip(face.glint, face.glint, 1);
  face.rim = face.rim.mirrored();
  for (Spot& spot : face.spots) spot.x_mm = -spot.x_mm;
  for (auto* patches : {&face.pits, &face.glints})
    for (Patch& patch : *patches) patch.x_mm = -patch.x_mm;
}

}  // namespace

Face make_face(const FaceStyle& style,
               const std::vector<RimHarmonic>& rim,
               std::uint64_t seed,
               std::uint64_t light_seed) {
  Face face{};
  face.radius_mm = style.diameter_mm / 2;
  face.rim = Rim(face.radius_mm, rim);
  const int half = static_cast<int>(std::ceil((face.radius_mm + 0.5) * kFacePxPerMm));
  const int side = 2 * half + 1;
  face.origin = static_cast<float>(half);
  face.labels = cv::Mat1w::zeros(side, side);
  face.albedo.create(side, side);
  FaceLayers layers;
  layers.boost = cv::Mat1f::zeros(side, side);
  layers.shade = cv::Mat1f::ones(side, side);
  layers.reserved = cv::Mat1b::zeros(side, side);
  layers.grain = draw_grain(style.plaster, side, kFacePxPerMm, Random(seed, "grain"));
  const MottleMap mottle = draw_mottle(style.plaster, face.radius_mm, Random(seed, "mottle"));
  draw_spots(face, layers, style, seed);
  draw_pits(face, layers, style.plaster, Random(seed, "pits"));
  draw_rim(face, layers, style.rim, Random(seed, "chips"));
  if (style.pencil) draw_pencil(face, layers, Random(seed, "pencil"));
  mark_outside(face);
  compose_albedo(face, layers, style, mottle);
  measure(face);
  draw_glints(face, style.wet, Random(light_seed, "glint shapes"));
  if (style.mirrored) mirror(face);
  return face;
}

}  // namespace scenes
