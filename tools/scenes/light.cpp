#include "light.hpp"

#include "noise.hpp"
#include "random.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace scenes {
namespace {

// Share of full scale above which a spot would begin to clip once noise and inner mottle are added.
constexpr double kSpotCeiling = 0.9;

// A tungsten lamp of 3000 K seen with daylight balance, linear sRGB, Y = 1, raised to the share left
// uncorrected.
Rgb cast_colour(double cast) {
  const auto part = [cast](double channel) { return static_cast<float>(std::pow(channel, cast)); };
  return unit_tint(part(1.55), part(0.95), part(0.42));
}

// The shadow of somebody standing by: over part of the bench, never over the face, card or bar.
void aim_large_shadow(Light& light, const Layout& layout, Random random) {
  const double direction = random.uniform(0, 2 * std::numbers::pi);
  light.shadow_normal =
      cv::Point2f(static_cast<float>(std::cos(direction)), static_cast<float>(std::sin(direction)));
  const auto along = [&](cv::Point2d p) {
    return static_cast<float>(p.x) * light.shadow_normal.x + static_cast<float>(p.y) * light.shadow_normal.y;
  };
  float start = -1e9f;
  for (const CorePlace& core : layout.cores)
    start = std::max(start, along(core.centre_mm) + static_cast<float>(core.radius_mm));
  for (const Sheet* sheet : layout.sheets())
    for (const auto& corner :
         sheet->corners(-sheet->half_width, -sheet->half_height, sheet->half_width, sheet->half_height))
      start = std::max(start, along(corner));
  light.shadow_start_mm = start + static_cast<float>(random.uniform(1, 12));
  light.shadow_width_mm = static_cast<float>(random.uniform(5, 40));
}

struct FaceLight {
  double low = 1e9, high = 0, mean = 0;
};

FaceLight light_over_face(const Light& light, const Layout& layout, double radius_mm) {
  FaceLight over;
  int count = 0;
  for (int j = -30; j <= 30; ++j) {
    for (int i = -30; i <= 30; ++i) {
      const cv::Point2d mm(radius_mm * i / 30, radius_mm * j / 30);
      if (std::hypot(mm.x, mm.y) > radius_mm) continue;
      const double level = light.level(cv::Point2f(layout.camera.to_px(mm)), cv::Point2f(mm));
      over.low = std::min(over.low, level);
      over.high = std::max(over.high, level);
      over.mean += level;
      ++count;
    }
  }
  over.mean /= count;
  return over;
}

}  // namespace

float Light::raw_level(cv::Point2f px, cv::Point2f mm) const {
  const float along = (std::cos(static_cast<float>(style.direction)) * mm.x +
                       std::sin(static_cast<float>(style.direction)) * mm.y) /
                      diameter_mm;
  const float far = std::min((mm.x * mm.x + mm.y * mm.y) / (diameter_mm * diameter_mm), 1.5f);
  // Exponential: as good as linear over the face, and never negative at the far end of the bench.
  const float gradient =
      std::exp(static_cast<float>(style.change) * along + static_cast<float>(style.curve) * far);
  const float dx = (px.x - frame_middle.x) / half_diagonal, dy = (px.y - frame_middle.y) / half_diagonal;
  const float r2 = dx * dx + dy * dy;
  const float vignette = 1 - static_cast<float>(style.vignette) * r2 * (0.6f + 0.4f * r2);
  if (!large_shadow) return gradient * vignette;
  const float depth = (mm.x * shadow_normal.x + mm.y * shadow_normal.y - shadow_start_mm) / shadow_width_mm;
  return gradient * vignette * (1 - static_cast<float>(style.large_shadow_depth) * smooth_step(0, 1, depth));
}

float Light::level(cv::Point2f px, cv::Point2f mm) const {
  return raw_level(px, mm) / static_cast<float>(level_at_centre);
}

float Light::bench_shadow(cv::Point2f mm, const Layout& layout) const {
  const float reach = static_cast<float>(style.shadow_mm),
              strength = static_cast<float>(style.shadow_strength);
  float left = 1;
  for (const CorePlace& core : layout.cores) {
    const cv::Point2f from = mm - cv::Point2f(core.centre_mm);
    const float radius = static_cast<float>(core.radius_mm);
    const float cast = std::hypot(from.x - sun.x * reach * 0.6f, from.y - sun.y * reach * 0.6f) - radius;
    const float close = std::hypot(from.x, from.y) - radius;
    left *= 1 - strength * (1 - smooth_step(-0.3f * reach, reach, cast));
    left *= 1 - 0.55f * (1 - smooth_step(0.0f, 1.1f, close));
  }
  for (const Sheet* sheet : layout.sheets()) {
    const cv::Point2f uv = sheet->to_sheet(mm - sun * (0.12f * reach));
    left *= 1 - 0.7f * strength * (1 - smooth_step(-0.1f, 0.3f * reach, sheet->distance(uv)));
  }
  return left;
}

Light make_light(const SceneStyle& scene, const Layout& layout, const Face& face) {
  Light light{};
  light.style = scene.light;
  light.colour = cast_colour(scene.light.cast);
  light.frame_middle = {0.5f * static_cast<float>(layout.camera.width - 1),
                        0.5f * static_cast<float>(layout.camera.height - 1)};
  light.half_diagonal = std::hypot(light.frame_middle.x, light.frame_middle.y);
  light.diameter_mm = static_cast<float>(scene.face.diameter_mm);
  light.sun = {static_cast<float>(std::cos(scene.light.sun_direction)),
               static_cast<float>(std::sin(scene.light.sun_direction))};
  light.large_shadow = scene.light.large_shadow;
  if (light.large_shadow) aim_large_shadow(light, layout, Random(scene.light_seed, "large shadow"));
  light.level_at_centre = 1;
  light.level_at_centre = light.raw_level(cv::Point2f(layout.camera.to_px({0, 0})), {0, 0});
  const FaceLight over = light_over_face(light, layout, face.radius_mm);
  light.change_pct = 100 * (over.high - over.low) / over.mean;
  double brightest = face.matrix_Y * 1.3;
  for (const Spot& spot : face.spots) brightest = std::max(brightest, spot.mean_Y * 1.12);
  const double channel = std::max({light.colour[0], light.colour[1], light.colour[2]});
  light.exposure = std::min(scene.light.white_level / 0.9, kSpotCeiling / (brightest * over.high * channel));
  return light;
}

}  // namespace scenes
