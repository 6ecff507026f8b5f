#pragma once

#include "face.hpp"
#include "layout.hpp"

namespace scenes {

/// Light, lens falloff and exposure: everything between the albedo of a place and the sensor.
struct Light {
  Rgb colour;       ///< at Y = 1
  double exposure;  ///< sensor level of a perfect diffuser under the light at the face's centre
  double level_at_centre;
  double change_pct;  ///< over the face, vignette included, as TRUTH.md defines it

  [[nodiscard]] float level(cv::Point2f px, cv::Point2f mm) const;  ///< relative, 1 at the face's centre
  [[nodiscard]] float bench_shadow(cv::Point2f mm, const Layout& layout) const;

  LightStyle style;
  cv::Point2f frame_middle;
  float half_diagonal, diameter_mm;
  bool large_shadow;
  cv::Point2f shadow_normal, sun;
  float shadow_start_mm, shadow_width_mm;

 private:
  [[nodiscard]] float raw_level(cv::Point2f px, cv::Point2f mm) const;
  friend Light make_light(const SceneStyle&, const Layout&, const Face&);
};

[[nodiscard]] Light make_light(const SceneStyle& style, const Layout& layout, const Face& face);

}  // namespace scenes
