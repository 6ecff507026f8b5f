#include "truth.hpp"

#include "image_files.hpp"
#include "parallel.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <numbers>
#include <stdexcept>
#include <string_view>

namespace scenes {
namespace {

using Json = nlohmann::ordered_json;

// CIE 1976 L* (ISO/CIE 11664-4), white = perfect diffuser.
double lightness(double Y) {
  constexpr double kBreak = 216.0 / 24389.0, kSlope = 24389.0 / 27.0;
  return Y > kBreak ? 116 * std::cbrt(Y) - 16 : kSlope * Y;
}

cv::Point2d turned(double x, double y, double turn) {
  const double c = std::cos(turn), s = std::sin(turn);
  return {c * x - s * y, s * x + c * y};
}

/// The mask in the face coordinates of the photo, that is after the core's turn on the bench.
cv::Mat1w turned_mask(const Face& face, double turn) {
  cv::Mat1w mask(face.labels.size());
  const double c = std::cos(turn), s = std::sin(turn);
  const Rim rim = face.rim.turned(turn);
  parallel_rows(mask.rows, [&](int j) {
    const double y = face.origin - j;
    for (int i = 0; i < mask.cols; ++i) {
      const double x = i - face.origin;
      const int column = static_cast<int>(std::lround(face.origin + c * x + s * y)),
                row = static_cast<int>(std::lround(face.origin - (c * y - s * x)));
      const bool known = column >= 0 && row >= 0 && column < mask.cols && row < mask.rows;
      const bool outside = !known || !rim.holds(x / kFacePxPerMm, y / kFacePxPerMm);
      mask(j, i) = outside ? kOutsideLabel : face.labels(row, column);
      if (!outside && mask(j, i) == kOutsideLabel) mask(j, i) = 0;
      if (!outside && !face.glint.empty() && face.glint(row, column) > 0.5f) mask(j, i) = kGlintLabel;
    }
  });
  return mask;
}

Json options_of(const SceneStyle& style) {
  Json options = Json::array();
  const ObjectsStyle& objects = style.objects;
  const auto add = [&options](const std::string& name, const std::string& value) {
    options.push_back(name + " " + value);
  };
  if (style.face.wet.wet) add("--state", "wet");
  const double length = objects.bar_blocks * objects.block_mm;
  if (objects.bar && length != 50) add("--bar-length-mm", fmt::format("{:g}", length));
  if (objects.bar && objects.bar_blocks != 5) add("--bar-blocks", fmt::format("{}", objects.bar_blocks));
  if (objects.card && objects.card_reflectance != 0.18)
    add("--card-reflectance", fmt::format("{:g}", objects.card_reflectance));
  return options;
}

Json points(const Camera& camera, std::initializer_list<cv::Point2d> places) {
  Json numbers = Json::array();
  for (const auto& mm : places) {
    const cv::Point2d px = camera.to_px(mm);
    numbers.push_back(px.x);
    numbers.push_back(px.y);
  }
  return numbers;
}

void add_geometry(Json& truth, const SceneStyle& style, const Layout& layout) {
  const Camera& camera = layout.camera;
  truth["width"] = camera.width;
  truth["height"] = camera.height;
  truth["mm_per_px"] = camera.mm_per_px();
  truth["tilt_deg"] = camera.tilt_deg;
  truth["focal_px"] = camera.focal_px;
  truth["homography_mm_to_px"] = Json::array();
  for (int row = 0; row < 3; ++row)
    truth["homography_mm_to_px"].push_back(
        {camera.mm_to_px(row, 0), camera.mm_to_px(row, 1), camera.mm_to_px(row, 2)});
  truth["face_turn_deg"] = style.camera.turn_rad * 180 / std::numbers::pi;
  truth["core_diameter_mm"] = style.face.diameter_mm;
  truth["bar_length_mm"] = style.objects.bar_blocks * style.objects.block_mm;
  truth["bar_blocks"] = style.objects.bar_blocks;
  truth["card_reflectance"] = style.objects.card_reflectance;
  truth["bar_ends_px"] = nullptr;
  truth["bar_edges_mm"] = Json::array();
  truth["card_corners_px"] = nullptr;
  if (layout.bar) {
    const ScaleBar& bar = *layout.bar;
    const cv::Point2d first = bar.sheet.to_plane(bar.edges.front(), bar.v);
    truth["bar_ends_px"] = points(camera, {first, bar.sheet.to_plane(bar.edges.back(), bar.v)});
    for (const float edge : bar.edges)
      truth["bar_edges_mm"].push_back(cv::norm(bar.sheet.to_plane(edge, bar.v) - first));
  }
  if (layout.card) {
    const Band& grey = layout.card->grey;
    const auto c = layout.card->sheet.corners(grey.u0, grey.v0, grey.u1, grey.v1);
    truth["card_corners_px"] = points(camera, {c[0], c[1], c[2], c[3]});
  }
}

void add_face(Json& truth, const Face& face, double turn) {
  double area = 0, area_lightness = 0;
  Json spots = Json::array();
  for (const Spot& spot : face.spots) {
    const cv::Point2d at = turned(spot.x_mm, spot.y_mm, turn);
    spots.push_back({{"id", spot.id},
                     {"x_mm", at.x},
                     {"y_mm", at.y},
                     {"area_mm2", spot.area_mm2},
                     {"ecd_mm", std::sqrt(4 * spot.area_mm2 / std::numbers::pi)},
                     {"mean_Y", spot.mean_Y},
                     {"edge_mm", spot.edge_mm}});
    area += spot.area_mm2;
    area_lightness += spot.area_mm2 * lightness(spot.mean_Y);
  }
  const auto patches = [turn](const std::vector<Patch>& list) {
    Json all = Json::array();
    for (const Patch& patch : list) {
      const cv::Point2d at = turned(patch.x_mm, patch.y_mm, turn);
      all.push_back({{"x_mm", at.x}, {"y_mm", at.y}, {"area_mm2", patch.area_mm2}});
    }
    return all;
  };
  truth["rim_mm"] = Json::array();
  const Rim rim = face.rim.turned(turn);
  for (const RimHarmonic& h : rim.harmonics()) truth["rim_mm"].push_back({h.order, h.cos_mm, h.sin_mm});
  truth["face_area_mm2"] = face.rim.area_mm2();
  const double matrix_L = lightness(face.matrix_Y);
  truth["matrix_Y"] = face.matrix_Y;
  truth["matrix_L"] = matrix_L;
  truth["spot_L"] = area > 0 ? Json(area_lightness / area) : Json(nullptr);
  truth["contrast_dL"] = area > 0 ? Json(area_lightness / area - matrix_L) : Json(nullptr);
  truth["area_fraction_pct"] = face.area_fraction_pct;
  truth["mask_px_per_mm"] = kFacePxPerMm;
  truth["mask_origin"] = {face.origin, face.origin};
  truth["spots"] = spots;
  truth["pits"] = patches(face.pits);
  truth["glints"] = patches(face.glints);
}

std::string_view word(Fate fate) {
  switch (fate) {
    case Fate::grown:
      return "grown";
    case Fate::shrunk:
      return "shrunk";
    case Fate::gone:
      return "gone";
    case Fate::fresh:
      return "new";
    case Fate::joining:
      return "merged";
    case Fate::parting:
      return "split";
    case Fate::steady:
      break;
  }
  return "steady";
}

void add_state(Json& truth, const SceneStyle& style, const Face& face) {
  truth["later"] = style.face.spots.later;
  truth["mirrored"] = style.face.mirrored;
  truth["fates"] = Json::array();
  for (const SpotFate& fate : face.fates)
    truth["fates"].push_back({{"id", fate.id}, {"fate", word(fate.fate)}});
}

}  // namespace

void write_truth(const std::filesystem::path& folder,
                 const std::string& name,
                 const std::string& photo,
                 const SceneStyle& style,
                 const Layout& layout,
                 const Light& light,
                 const Face& face) {
  const double turn = style.camera.turn_rad;
  Json truth;
  truth["photo"] = photo;
  truth["mask"] = name + ".mask.png";
  truth["family"] = style.family;
  truth["seed"] = style.seed;
  truth["options"] = options_of(style);
  add_geometry(truth, style, layout);
  truth["light_change_pct"] = light.change_pct;
  truth["wet"] = style.face.wet.wet;
  truth["blur_sigma_px"] = style.camera.blur_px;
  truth["noise"] = fmt::format("shot noise of {:.0f} electrons at full scale, read noise {:.1f}",
                               style.camera.electrons,
                               style.camera.read_noise);
  add_face(truth, face, turn);
  add_state(truth, style, face);
  std::ofstream file(folder / (name + ".truth.json"));
  file << truth.dump(1) << '\n';
  if (!file) throw std::runtime_error(name + ".truth.json: cannot be written");
  write_png(folder / (name + ".mask.png"), turned_mask(face, turn));
}

}  // namespace scenes
