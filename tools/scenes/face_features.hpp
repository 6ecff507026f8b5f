#pragma once

#include "face.hpp"
#include "random.hpp"

namespace scenes {

/// What makes up the face before it is composed: Weber contrast of the spots, sand, and every other factor.
struct FaceLayers {
  cv::Mat1f boost, grain, shade;
  cv::Mat1b
      reserved;  ///< 1 where a spot is or comes to be in any state: pits stay where they are in all of them
};

void draw_spots(Face& face, FaceLayers& layers, const FaceStyle& style, std::uint64_t seed);
void draw_pits(Face& face, FaceLayers& layers, const PlasterStyle& style, Random random);
void draw_rim(Face& face, FaceLayers& layers, const RimStyle& style, Random random);
void draw_pencil(Face& face, FaceLayers& layers, Random random);
void draw_glints(Face& face, const WetStyle& style, Random random);

}  // namespace scenes
