#include "style.hpp"

#include "random.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace scenes {
namespace {

constexpr double kTurn = 2.0 * std::numbers::pi;
constexpr double kBrightestSpot = 0.86;

Rgb plaster_tint(Random& random) {
  const float d = static_cast<float>(random.uniform(0.01, 0.09));
  switch (random.integer(0, 4)) {
    case 0:
      return unit_tint(1 + d, 1, 1 - d);  // warm
    case 1:
      return unit_tint(1 - d / 2, 1, 1 + d);  // cool
    case 2:
      return unit_tint(1 - 2 * d, 1, 1 + 2.5f * d);  // blue pigment
    case 3:
      return unit_tint(1 + 2 * d, 1 + d / 2, 1 - 2 * d);  // sand
    default:
      return unit_tint(1, 1, 1);
  }
}

PlasterStyle choose_plaster(std::uint64_t seed, const std::string& family, const Overrides& set) {
  Random random(seed, "plaster");
  PlasterStyle style{};
  style.matrix_Y = set.number_or("matrix_Y", random.uniform(0.15, 0.45));
  style.matrix_tint = plaster_tint(random);
  const float share = static_cast<float>(random.uniform(0.0, 0.6));
  const Rgb mixed = style.matrix_tint * share + Rgb(1, 1, 1) * (1 - share);
  style.spot_tint = mixed * (1.0f / luminance(mixed));
  style.mottle = random.pick({MottleModel::clouds, MottleModel::cells, MottleModel::trowel});
  const double worst = family == "plain" ? 0.045 : 0.08;
  style.mottle_rms = set.number_or("mottle_rms", random.uniform(0.02, worst));
  style.mottle_mm = set.number_or("mottle_mm", random.log_uniform(1.0, 15.0));
  style.trowel_rad = random.uniform(0, kTurn);
  style.grains_per_mm2 = random.log_uniform(0.3, 4.0);
  style.grain_contrast = random.uniform(0.08, 0.3);
  style.fine_rms = random.uniform(0.015, 0.05);
  style.pits = static_cast<int>(set.number_or("pits", random.chance(0.2) ? 0 : random.log_uniform(3, 90)));
  style.pit_median_mm = random.log_uniform(0.3, 0.9);
  return style;
}

SpotStyle choose_spots(std::uint64_t seed, const std::string& family, const Overrides& set) {
  Random random(seed, "spots");
  SpotStyle style{};
  const bool small = family == "small";
  const int drawn = static_cast<int>(small ? random.uniform(60, 150) : random.log_uniform(3, 150));
  const bool empty = random.chance(0.03) || family == "nospot";
  style.count = static_cast<int>(set.number_or("spots", empty ? 0 : drawn));
  style.median_mm =
      set.number_or("spot_median_mm", small ? random.log_uniform(0.7, 1.1) : random.log_uniform(0.9, 4.0));
  style.geometric_sd = random.uniform(1.3, small ? 1.5 : 2.0);
  style.contrast = set.number_or("contrast", random.log_uniform(family == "plain" ? 0.4 : 0.25, 1.8));
  style.contrast_scatter = random.uniform(0.02, 0.15);
  style.edge_mm = set.number_or("edge_mm", random.log_uniform(0.05, 0.6));
  style.edge_scatter = random.uniform(0.0, 0.4);
  style.inner_mottle = random.uniform(0.0, 0.08);
  style.clustering = random.chance(0.35) ? random.uniform(0.4, 1.0) : 0.0;
  style.touching = random.chance(0.5) ? random.uniform(0.02, 0.12) : 0.0;
  style.at_rim = family == "rim"     ? random.uniform(0.1, 0.35)
                 : family == "plain" ? 0.0
                                     : random.uniform(0.0, 0.06);
  style.roughness = random.uniform(0.4, 1.3);
  style.growth_mm = std::clamp(set.number_or("growth", 0.0), 0.0, 0.3);
  style.new_spots = static_cast<int>(set.number_or("new_spots", 0));
  style.gone_spots = static_cast<int>(set.number_or("gone_spots", 0));
  style.changes = std::clamp(set.number_or("changes", 0.0), 0.0, 1.0);
  style.later = set.flag("later");
  style.twins = static_cast<int>(set.number_or("twins", 0));
  return style;
}

RimStyle choose_rim(std::uint64_t seed, const std::string& family, const Overrides& set) {
  Random random(seed, "rim");
  RimStyle style{};
  const bool damaged = family == "rim";
  style.bevel_mm = random.chance(0.7) ? random.uniform(0.15, damaged ? 0.9 : 0.6) : 0.0;
  style.bevel_gain = random.chance(0.6) ? random.uniform(0.45, 0.9) : random.uniform(1.1, 1.35);
  const int usual = random.chance(0.5) ? random.integer(1, 6) : 0;
  style.chips = static_cast<int>(set.number_or("chips",
                                               damaged             ? random.integer(6, 24)
                                               : family == "plain" ? 0
                                                                   : usual));
  style.broken_deg = set.number_or("broken_rim_deg", 0.0);
  style.chip_mm = damaged ? random.uniform(1.5, 5.0) : random.uniform(0.8, 2.5);
  return style;
}

WetStyle choose_wet(std::uint64_t seed,
                    std::uint64_t light_seed,
                    const std::string& family,
                    const Overrides& set) {
  Random random(light_seed, "glints");
  WetStyle style{};
  style.wet = set.number_or("wet", family == "wet" ? 1 : 0) != 0;
  const double drawn = random.chance(0.2) ? 0.0 : random.log_uniform(0.1, 4.0);
  style.glint_pct = style.wet ? set.number_or("glint_pct", drawn) : 0.0;
  (void)seed;
  return style;
}

// Water darkens the matrix far more than the dense spots, and deepens its hue: that is why cores are wetted.
void make_wet(FaceStyle& face, std::uint64_t seed) {
  Random random(seed, "water");
  const double matrix_factor = random.uniform(0.5, 0.6);
  const double spot_factor = random.uniform(0.72, 0.9);
  face.spots.contrast = (1 + face.spots.contrast) * spot_factor / matrix_factor - 1;
  face.plaster.matrix_Y = std::clamp(face.plaster.matrix_Y * matrix_factor, 0.08, 0.25);
  const Rgb t = face.plaster.matrix_tint;
  face.plaster.matrix_tint = unit_tint(t[0] * t[0], t[1] * t[1], t[2] * t[2]);
  face.plaster.fine_rms *= 0.7;
}

FaceStyle choose_face(std::uint64_t seed,
                      std::uint64_t light_seed,
                      const std::string& family,
                      const Overrides& set) {
  Random random(seed, "face");
  FaceStyle face{};
  const double other = random.pick({69.85, 95.25, 101.6});
  face.diameter_mm = set.number_or("diameter_mm", random.chance(0.8) ? 88.9 : other);
  face.plaster = choose_plaster(seed, family, set);
  face.spots = choose_spots(seed, family, set);
  face.rim = choose_rim(seed, family, set);
  face.wet = choose_wet(seed, light_seed, family, set);
  if (face.wet.wet) make_wet(face, seed);
  face.mirrored = set.flag("mirror");
  face.pencil = set.flag("pencil");
  face.spots.contrast = std::min(face.spots.contrast, kBrightestSpot / face.plaster.matrix_Y - 1);
  return face;
}

CameraStyle choose_camera(const SceneStyle& scene, const Overrides& set) {
  Random random(scene.pose_seed, "camera");
  CameraStyle style{};
  const std::string& family = scene.family;
  style.focal35_mm = set.number_or("focal35", random.log_uniform(24, 80));
  const double mild = random.uniform(0, 3), steep = random.uniform(3, 10), any = random.uniform(0, 6);
  style.tilt_deg = set.number_or("tilt", family == "plain" ? mild : family == "tilt" ? steep : any);
  style.tilt_direction = random.uniform(0, kTurn);
  style.turn_rad = set.number_or("turn", random.uniform(-180, 180)) * kTurn / 360.0;
  style.core_size = random.uniform(0.34, 0.93);
  if (family == "small") style.core_size = std::max(style.core_size, 0.55);
  style.core_size = set.number_or("core_size", style.core_size);
  style.clip_core = set.flag("clip_core");

  Random sensor(scene.noise_seed, "sensor");
  style.blur_px = set.number_or("blur", sensor.uniform(0.5, 1.5));
  const double noise = set.number_or("noise", 1.0);
  style.electrons = sensor.log_uniform(3000, 40000) / std::max(noise * noise, 1e-6);
  style.read_noise = sensor.uniform(2, 12) * noise * std::sqrt(style.electrons / 20000.0);
  style.jpeg_quality = static_cast<int>(set.number_or("quality", sensor.integer(85, 97)));
  style.exif = set.number_or("exif", sensor.chance(0.5) ? 1 : 0) != 0;
  style.orientation = static_cast<int>(set.number_or("orientation", 1));
  return style;
}

BenchStyle choose_bench(const SceneStyle& scene) {
  Random random(scene.bench_seed, "bench");
  BenchStyle style{};
  const bool hard = scene.family == "bench";
  const auto any = random.pick({BenchModel::painted,
                                BenchModel::wood,
                                BenchModel::cloth,
                                BenchModel::concrete,
                                BenchModel::print,
                                BenchModel::speckled});
  const auto mild =
      random.pick({BenchModel::painted, BenchModel::wood, BenchModel::cloth, BenchModel::concrete});
  style.model = scene.family == "plain" ? mild : any;
  const double free_Y = random.chance(0.5) ? random.log_uniform(0.03, 0.15) : random.uniform(0.15, 0.75);
  const double like_plaster = scene.face.plaster.matrix_Y * random.uniform(0.9, 1.15);
  const double like_card = scene.objects.card_reflectance * random.uniform(0.9, 1.1);
  const double choice = random.uniform();
  style.Y = free_Y;
  if (hard) style.Y = choice < 0.45 ? like_plaster : choice < 0.65 ? like_card : free_Y;
  if (scene.family == "plain" && std::abs(style.Y / scene.face.plaster.matrix_Y - 1) < 0.35) style.Y = 0.06;
  if (style.model == BenchModel::print) style.Y = std::max(style.Y, random.uniform(0.5, 0.8));
  const float d = static_cast<float>(random.uniform(-0.12, 0.16));
  style.tint = unit_tint(1 + d, 1, 1 - d);
  if (style.model == BenchModel::wood) {
    style.tint = unit_tint(1.3f, 0.95f, static_cast<float>(random.uniform(0.4, 0.75)));
  } else if (style.model == BenchModel::cloth && random.chance(0.5)) {
    const auto part = [&] { return static_cast<float>(random.uniform(0.5, 1.5)); };
    style.tint = unit_tint(part(), part(), part());
  }
  style.turn_rad = random.uniform(0, kTurn);
  style.strength = random.uniform(0.5, hard ? 1.5 : 1.0);
  return style;
}

LightStyle choose_light(const SceneStyle& scene, const Overrides& set) {
  Random random(scene.light_seed, "light");
  LightStyle style{};
  const bool uneven = scene.family == "light";
  const double mild = random.uniform(0, 0.06), usual = random.uniform(0, 0.15),
               strong = random.uniform(0.1, 0.35);
  const double drawn = uneven ? strong : scene.family == "plain" ? mild : usual;
  style.change = set.number_or("light_change", drawn * 100) / 100;
  style.direction = random.uniform(0, kTurn);
  style.curve = random.uniform(-0.3, 0.3) * style.change;
  style.vignette = set.number_or("vignette", random.uniform(0, uneven ? 0.35 : 0.15));
  const double cast = random.chance(0.6) ? random.uniform(0, 0.6) : random.uniform(-0.3, 0.0);
  style.cast = set.number_or("cast", uneven ? cast : cast * (scene.family == "plain" ? 0.1 : 0.35));
  style.sun_direction = random.uniform(0, kTurn);
  style.shadow_mm = random.log_uniform(1.5, 14);
  style.shadow_strength = random.uniform(0.2, 0.75);
  style.large_shadow = random.chance(uneven ? 0.5 : scene.family == "plain" ? 0.0 : 0.15);
  style.large_shadow_depth = random.uniform(0.2, 0.6);
  style.white_level = set.number_or("exposure", random.uniform(0.6, 0.95));
  return style;
}

ObjectsStyle choose_objects(const SceneStyle& scene, const Overrides& set) {
  Random random(scene.seed, "objects");
  ObjectsStyle style{};
  const bool clutter = scene.family == "clutter";
  style.core = !set.is_none("core");
  style.card = !set.is_none("card");
  style.bar = !set.is_none("bar");
  style.second_bar = set.flag("second_bar");
  style.second_core = set.flag("second_core");
  style.card_width_mm = random.log_uniform(40, 130);
  style.card_height_mm = style.card_width_mm * random.uniform(0.6, 1.0);
  style.card_height_mm = std::max(style.card_height_mm, 40.0);
  const double other_card = random.pick({0.12, 0.5});
  style.card_reflectance = set.number_or("card_reflectance", random.chance(0.15) ? other_card : 0.18);
  style.card_border_mm = random.chance(0.25) ? random.uniform(1.5, 6) : 0.0;
  style.patches = random.chance(clutter ? 0.8 : scene.family == "plain" ? 0.0 : 0.25);
  const bool usual_bar = random.chance(0.75);
  const int other_blocks = random.integer(4, 10);
  const double other_block = random.pick({5.0, 10.0, 20.0});
  style.bar_blocks = static_cast<int>(set.number_or("bar_blocks", usual_bar ? 5 : other_blocks));
  style.block_mm = set.number_or("block_mm", usual_bar ? 10.0 : other_block);
  if (style.bar_blocks * style.block_mm > 120) style.block_mm = 10.0;
  style.bar_height_mm = random.uniform(5, 15);
  style.bar_dark_Y = random.chance(0.75) ? random.uniform(0.025, 0.06) : random.uniform(0.12, 0.3);
  style.dark_strip = random.chance(0.3);
  style.end_merges = random.chance(0.4);
  style.first_block_dark = random.chance(0.6);
  style.ticks = random.chance(clutter ? 0.7 : scene.family == "plain" ? 0.1 : 0.3);
  style.text = random.chance(clutter ? 0.8 : scene.family == "plain" ? 0.2 : 0.4);
  style.papers = clutter ? random.integer(1, 4) : 0;
  return style;
}

}  // namespace

SceneStyle choose_style(std::uint64_t seed, const std::string& family, const Overrides& set) {
  const auto own_seed = [&](const char* key) {
    return static_cast<std::uint64_t>(set.number_or(key, static_cast<double>(seed)));
  };
  SceneStyle scene{};
  scene.seed = seed;
  scene.pose_seed = own_seed("pose_seed");
  scene.light_seed = own_seed("light_seed");
  scene.noise_seed = own_seed("noise_seed");
  scene.bench_seed = own_seed("bench_seed");
  scene.family = family;
  scene.face = choose_face(seed, scene.light_seed, family, set);
  scene.objects = choose_objects(scene, set);
  scene.camera = choose_camera(scene, set);
  scene.bench = choose_bench(scene);
  scene.light = choose_light(scene, set);
  if (!set.flag("perfect_objects"))
    scene.deviations = draw_deviations(seed, scene.face.diameter_mm / 2, scene.objects.bar_blocks);
  return scene;
}

}  // namespace scenes
