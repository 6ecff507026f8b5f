#pragma once

#include "deviations.hpp"
#include "random.hpp"
#include "style.hpp"

#include <opencv2/core.hpp>

#include <array>
#include <vector>

namespace scenes {

/// A rectangle of one colour on a sheet; sheet coordinates in mm, origin at its centre, u right, v up.
struct Band {
  float u0, v0, u1, v1;
  Rgb albedo;
};

/// How far a place of a sheet lies from where it belongs: linear along u and along v.
struct Shift {
  cv::Point2d all{}, along_u{}, along_v{}, along_both{};
  [[nodiscard]] cv::Point2d at(double u, double v) const {
    return all + u * along_u + v * along_v + u * v * along_both;
  }
};

/// A flat thing in the plane of the face: bands in painter's order, then ink. Edges are not sampled but
/// integrated over the pixel's width, so that an edge lies where it should to a small part of a pixel.
struct Sheet {
  cv::Point2d centre{};
  double angle = 0;
  Shift shift;  ///< of a sheet that is not cut or printed as it should be
  float half_width = 0, half_height = 0;
  std::vector<Band> bands;
  cv::Mat1b ink;  ///< 255 = full ink; covers the sheet, rows downwards
  float ink_px_per_mm = 0;
  Rgb ink_albedo{};
  float tooth = 0.01f;  ///< relative rms of the surface's fine texture

  [[nodiscard]] cv::Point2d to_plane(double u, double v) const;
  [[nodiscard]] cv::Point2f to_sheet(cv::Point2f mm) const;
  [[nodiscard]] std::array<cv::Point2d, 4> corners(float u0, float v0, float u1, float v1) const;
  [[nodiscard]] float coverage(cv::Point2f uv, float px_mm) const;
  [[nodiscard]] Rgb albedo(cv::Point2f uv, float px_mm) const;
  [[nodiscard]] float distance(cv::Point2f uv) const;  ///< mm outside the sheet, 0 inside
};

struct GreyCard {
  Sheet sheet;
  Band grey;
};

struct ScaleBar {
  Sheet sheet;
  float u0, u1, v;           ///< ends and middle line of the block pattern
  std::vector<float> edges;  ///< u of the edges of the blocks
};

[[nodiscard]] GreyCard make_card(const ObjectsStyle& style, const Deviations& deviations, Random random);
[[nodiscard]] ScaleBar make_bar(const ObjectsStyle& style, const Deviations& deviations, Random random);
/// Puts off the corners of a card, and the ends of a bar and with them the whole print.
void put_off(GreyCard& card, const Deviations& deviations);
void put_off(ScaleBar& bar, const Deviations& deviations);
[[nodiscard]] Sheet make_paper(double card_reflectance, Random& random);

/// Lines of invented writing as an ink mask.
[[nodiscard]] cv::Mat1b draw_writing(
    float width_mm, float height_mm, float px_per_mm, float line_mm, Random& random);

}  // namespace scenes
