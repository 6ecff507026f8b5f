#include "laid_pair.hpp"

#include "face_frame.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>

namespace corefleck {
namespace {

/// A grid at half the resolution, as the colour has it: its pixel i has its centre at grid pixel 2 i + 1/2.
FaceGrid halved(const FaceGrid& grid) {
  FaceGrid half = grid;
  half.pitch = 2.0 * grid.pitch;
  half.centre_px = 0.5 * (grid.centre_px - 0.5);
  half.size_px = (grid.size_px + 1) / 2;
  return half;
}

/// The second face as it lies on the first: its grid goes through the registration.
CalibratedFace laid_face(const CalibratedFace& first,
                         const CalibratedFace& second,
                         const FaceTransform& first_to_second) {
  CalibratedFace laid{};
  laid.grid = first.grid;
  laid.radius = first.radius;
  laid.rim_band = second.rim_band;
  laid.absolute_luminance = second.absolute_luminance;
  const double shrink = first.grid.pitch / second.grid.pitch;
  cv::Mat colour = second.colour;
  // Fewer pixels than the photo has: blurred first, or its grain would turn into moire.
  if (shrink > 1.5) cv::GaussianBlur(second.colour, colour, {}, 0.4 * shrink);
  cv::warpPerspective(colour,
                      laid.colour,
                      grid_map(halved(first.grid), halved(second.grid), first_to_second),
                      first.colour.size(),
                      cv::INTER_LINEAR | cv::WARP_INVERSE_MAP);
  return laid;
}

/// The second face's outlines on the first face's grid.
Contour laid_contour(const Contour& contour,
                     const FaceGrid& first,
                     const FaceGrid& second,
                     const FaceTransform& first_to_second) {
  Contour laid;
  if (!contour.empty())
    cv::perspectiveTransform(contour, laid, grid_map(second, first, first_to_second.inverse()));
  return laid;
}

SpotMap laid_map(const CalibratedFace& first,
                 const CalibratedFace& second,
                 const SpotMap& map,
                 const FaceTransform& first_to_second) {
  const auto laid = [&](const Contour& contour) {
    return laid_contour(contour, first.grid, second.grid, first_to_second);
  };
  SpotMap result{};
  for (const auto& [from, to] : {std::pair{&map.spots, &result.spots}, std::pair{&map.pits, &result.pits}})
    for (Region region : *from) {
      region.outline = laid(region.outline);
      for (Contour& hole : region.holes) hole = laid(hole);
      to->push_back(std::move(region));
    }
  for (const Contour& glare : map.glare) result.glare.push_back(laid(glare));
  cv::warpPerspective(map.outside,
                      result.outside,
                      grid_map(first.grid, second.grid, first_to_second),
                      {first.grid.size_px, first.grid.size_px},
                      cv::INTER_NEAREST | cv::WARP_INVERSE_MAP,
                      cv::BORDER_CONSTANT,
                      cv::Scalar(static_cast<double>(Outside::beyond_rim)));
  return result;
}

}  // namespace

LaidPair laid_pair(const MeasuredFace& first,
                   const MeasuredFace& second,
                   const FaceTransform& first_to_second) {
  return {first,
          second,
          laid_face(first.face, second.face, first_to_second),
          laid_map(first.face, second.face, second.spots, first_to_second)};
}

SpotMap not_compared(const LaidPair& pair) {
  SpotMap map{};
  map.outside = pair.first.spots.outside.clone();
  pair.second_map.outside.copyTo(map.outside, map.outside == static_cast<unsigned char>(Outside::no));
  return map;
}

PairExposure own_exposures(const LaidPair& pair) {
  return {usual_exposure(pair.first.face), usual_exposure(pair.second_face)};
}

PairExposure common_exposure(const LaidPair& pair) {
  const PairExposure own = own_exposures(pair);
  if (!pair.first.face.absolute_luminance || !pair.second_face.absolute_luminance) return own;
  const double both = std::min(own.first, own.second);
  return {both, both};
}

}  // namespace corefleck
