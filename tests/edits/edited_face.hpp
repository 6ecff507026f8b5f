#pragma once

#include "corefleck/edits.hpp"

#include <opencv2/imgproc.hpp>

#include <cmath>
#include <string>

namespace corefleck::testing {

/// A face of 20 mm on a grid of 0.1 mm with two square spots, whose pixels can be counted by hand:
///   spot 1 from column 60 to 99 and row 80 to 119 (1600 px), spot 2 from column 120 to 129 and row 50 to 59
///   (100 px).
struct EditedFace {
  CalibratedFace face{};
  SpotMap map{};
};

inline Region square_region(int id, const cv::Rect& box) {
  Region spot{};
  spot.id = id;
  spot.box = box;
  const double left = box.x - 0.5, top = box.y - 0.5, right = box.br().x - 0.5, bottom = box.br().y - 0.5;
  spot.outline = {{left, top}, {right, top}, {right, bottom}, {left, bottom}};
  spot.area_px = box.area();
  spot.u_area_px = 0.02 * box.area();
  spot.plateau = 0.42;
  spot.ground = 0.21;
  spot.threshold = 0.315;
  spot.edge_gradient = 0.05;
  spot.flank_sigma_px = 1.2;
  return spot;
}

inline EditedFace two_squares() {
  EditedFace made;
  CalibratedFace& face = made.face;
  face.grid = {MmPerPx{0.1}, 201, 100.0};
  face.radius = Millimetres{9.9};
  face.rim_band = Millimetres{1.0};
  face.absolute_luminance = true;
  face.blur_sigma_px = 1.0;
  face.luminance = cv::Mat(201, 201, CV_32FC1, cv::Scalar(0.21));
  face.colour = cv::Mat(101, 101, CV_32FC3, cv::Scalar::all(0.21));
  SpotMap& map = made.map;
  map.outside = cv::Mat::ones(201, 201, CV_8UC1);
  cv::circle(map.outside, {100, 100}, 89, cv::Scalar(0), cv::FILLED);
  map.labels = cv::Mat::zeros(201, 201, CV_32SC1);
  map.pit_mask = cv::Mat::zeros(201, 201, CV_8UC1);
  for (const auto& [id, box] :
       {std::pair{1, cv::Rect(60, 80, 40, 40)}, std::pair{2, cv::Rect(120, 50, 10, 10)}}) {
    map.labels(box).setTo(id);
    face.luminance(box).setTo(0.42F);
    map.spots.push_back(square_region(id, box));
  }
  map.measured_area_px = static_cast<double>(map.outside.total()) - cv::countNonZero(map.outside);
  map.face_area_px = map.measured_area_px;
  return made;
}

/// An outline around whole pixels of that grid, given in mm as an edit gives it.
inline std::vector<cv::Point2d> around_pixels(const cv::Rect& box) {
  const double left = (box.x - 0.5 - 100.0) * 0.1, right = (box.br().x - 0.5 - 100.0) * 0.1;
  const double top = (100.0 - box.y + 0.5) * 0.1, bottom = (100.0 - box.br().y + 0.5) * 0.1;
  return {{left, top}, {right, top}, {right, bottom}, {left, bottom}};
}

inline Edits edits_on(const EditedFace& made, std::vector<Edit> list) {
  return {"edits.json",
          std::string(64, 'a'),
          made.face.grid.pitch.number(),
          made.face.grid.size_px,
          std::move(list)};
}

inline Edit spot_edit(EditKind kind, int id, cv::Point2d place_mm) {
  return {kind, "not a spot", "AB", "", id, place_mm, {}};
}

inline Edit area_edit(EditKind kind, std::vector<cv::Point2d> outline_mm) {
  return {kind, "pencil mark", "AB", "", 0, {}, std::move(outline_mm)};
}

inline const cv::Point2d kPlaceOfOne(-2.05, 0.05), kPlaceOfTwo(2.45, 4.55);

}  // namespace corefleck::testing
