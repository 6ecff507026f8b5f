#pragma once

#include <opencv2/core.hpp>

#include <array>
#include <cstdint>
#include <vector>

namespace scenes {

/// A wave of the rim's radius: cos_mm cos(n a) + sin_mm sin(n a) at the angle a, counterclockwise from x.
struct RimHarmonic {
  int order;
  double cos_mm, sin_mm;
};

/// How far the objects are from what they are called. Empty or zero: they are perfect.
struct Deviations {
  std::vector<RimHarmonic> rim;                  ///< in the core's own coordinates
  std::array<cv::Point2d, 4> card_corners_mm{};  ///< lower left first, counterclockwise
  double bar_length = 0;                         ///< share by which the print is too long
  double ink_spread_mm = 0;                      ///< by which the dark of a bar grows over the light
  std::vector<double> bar_edges_mm;              ///< of each edge of the blocks, beside that
  double card_level = 0;                         ///< share by which the card is lighter than it is called
  double tone = 0;                               ///< the camera writes linear light to the power 1 + tone
};

/// Of chance of their own: nothing else in the scene moves with them.
[[nodiscard]] Deviations draw_deviations(std::uint64_t seed, double radius_mm, int bar_blocks);

/// The outline of a core's face.
class Rim {
 public:
  Rim() = default;
  Rim(double radius_mm, std::vector<RimHarmonic> harmonics);

  [[nodiscard]] double radius_mm() const { return radius_mm_; }  ///< the mean, that of the nominal circle
  [[nodiscard]] double radius_at(double x, double y) const;      ///< mm, in the direction of (x, y)
  [[nodiscard]] bool holds(double x_mm, double y_mm) const;
  [[nodiscard]] double area_mm2() const;
  [[nodiscard]] const std::vector<RimHarmonic>& harmonics() const { return harmonics_; }
  [[nodiscard]] Rim mirrored() const;               ///< x turned to -x
  [[nodiscard]] Rim turned(double turn_rad) const;  ///< counterclockwise

 private:
  double radius_mm_ = 0;
  std::vector<RimHarmonic> harmonics_;
  std::vector<double> table_;  ///< radius over a full turn
  double least_ = 0, most_ = 0;
};

}  // namespace scenes
