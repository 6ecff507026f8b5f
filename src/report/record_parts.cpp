#include "record_parts.hpp"

#include "number_text.hpp"

#include "corefleck/utf8.hpp"

namespace corefleck {
namespace {

constexpr double kDegreesPerRadian = 180.0 / 3.14159265358979323846;

Json pixel_point(double x, double y) { return Json::array({json_number(x), json_number(y)}); }

Json found_how(bool by_hand) { return by_hand ? "given by hand" : "found"; }

Json json_of_ellipse(const FaceEllipse& ellipse) {
  return {{"source", found_how(ellipse.by_hand)},
          {"centre_px", pixel_point(ellipse.x, ellipse.y)},
          {"semi_major_px", json_number(ellipse.semi_major)},
          {"semi_minor_px", json_number(ellipse.semi_minor)},
          {"angle_deg", json_number(ellipse.angle_rad * kDegreesPerRadian)},
          {"residual_px", json_number(ellipse.residual_px)},
          {"rim_found_pct", json_number(ellipse.rim_found_pct)},
          {"score", json_number(ellipse.score)}};
}

Json json_of_bar(const ScaleBar& bar) {
  Json edges = Json::array();
  int used = 0;
  for (const BarEdge& edge : bar.edges) {
    used += edge.used ? 1 : 0;
    edges.push_back({{"index", edge.index},
                     {"position_px", json_number(edge.position_px)},
                     {"residual_px", json_number(edge.residual_px)},
                     {"used", edge.used}});
  }
  return {{"source", found_how(bar.by_hand)},
          {"start_px", pixel_point(bar.axis.x1, bar.axis.y1)},
          {"end_px", pixel_point(bar.axis.x2, bar.axis.y2)},
          {"block_height_px", json_number(bar.height_px)},
          {"residual_px", json_number(bar.residual_px)},
          {"edge_width_px", json_number(bar.edge_width_px)},
          {"white_level", json_number(bar.white_level)},
          {"score", json_number(bar.score)},
          {"edges_used", used},
          {"edges", std::move(edges)}};
}

Json json_of_card(const std::optional<GreyCard>& card, const CardLight& light) {
  if (!card) return nullptr;
  Json corners = Json::array();
  for (const cv::Point2d& corner : card->corners) corners.push_back(pixel_point(corner.x, corner.y));
  Json level = Json::array();
  for (const double channel : card->level) level.push_back(json_number(channel));
  return {{"source", found_how(card->by_hand)},
          {"corners_px", std::move(corners)},
          {"level_linear_srgb", std::move(level)},
          {"deviation_pct", json_number(card->deviation_pct)},
          {"gradient_pct", json_number(card->gradient_pct)},
          {"clipped_pct", json_number(card->clipped_pct)},
          {"level_u_pct", json_number(card->u_level_pct)},
          {"reflectance_of_bars_white", json_number(card->white_reflectance)},
          {"light_on_face_over_card", json_number(light.face_over_card)},
          {"light_on_face_over_card_u_pct", json_number(100.0 * light.u_rel)},
          {"score", json_number(card->score)}};
}

Json json_of(const UncertaintyComponent& component) {
  return {{"name", json_text(component.name)},
          {"standard_uncertainty", json_number(component.standard_uncertainty)},
          {"unit", json_text(component.unit)},
          {"sensitivity", json_number(component.sensitivity)},
          {"contribution", json_number(component.contribution)},
          {"origin", json_text(component.origin)}};
}

Json components_of(const std::vector<UncertaintyComponent>& components) {
  Json list = Json::array();
  for (const UncertaintyComponent& component : components) list.push_back(json_of(component));
  return list;
}

Json json_of_lens(const Pose& pose) {
  return {{"model",
           "seen at r half diagonals from middle_px; where homography_mm_to_px says, at "
           "r / (1 + at_corner r^2)"},
          {"middle_px", {json_number(pose.lens.middle.x), json_number(pose.lens.middle.y)}},
          {"half_diagonal_px", json_number(pose.lens.half_diagonal_px)},
          {"at_corner_pct", json_number(100.0 * pose.lens.at_corner)},
          {"u_pct", json_number(100.0 * pose.lens_u)}};
}

Json json_of_pose(const Pose& pose) {
  Json homography = Json::array();
  for (int row = 0; row < 3; ++row) {
    Json numbers = Json::array();
    for (int column = 0; column < 3; ++column) numbers.push_back(json_number(pose.mm_to_px(row, column)));
    homography.push_back(std::move(numbers));
  }
  return {{"tilt_deg", json_number(pose.tilt_deg)},
          {"tilt_u_deg", json_number(pose.tilt_u_deg)},
          {"tilt_toward_deg", json_number(pose.tilt_toward_rad * kDegreesPerRadian)},
          {"focal_px", json_number(pose.focal_px)},
          {"focal_source", json_text(pose.focal_source)},
          {"scale_mm_per_px", json_number(pose.scale.number())},
          {"scale_u_pct", json_number(100.0 * pose.scale_u_rel)},
          {"scale_components_pct", components_of(pose.scale_components)},
          {"homography_mm_to_px", std::move(homography)},
          {"lens_bend", json_of_lens(pose)}};
}

Json json_of_light(const LightField& light) {
  const bool flat = light.source == LightSource::flat_frame;
  Json coefficients = Json::array();
  for (const double coefficient : light.coefficients) coefficients.push_back(json_number(coefficient));
  return {{"source", flat ? "flat_frame" : "matrix"},
          {"model",
           "ln(light) = sum of coefficient x^i y^j, x and y over the face's radius, i + j <= order, "
           "by total degree, then by power of y; 0 on average over the face"},
          {"order", light.order},
          {"coefficients", std::move(coefficients)},
          {"change_pct", json_number(light.change_pct)},
          {"residual_pct", json_number(light.residual_pct)},
          {"u_pct", json_number(100.0 * light.u_rel)},
          {"cannot_know",
           flat ? "a change of lamp, camera or distance between the flat frame and the photo"
                : "a slow change of the matrix's own lightness across the face, which looks like "
                  "uneven light and is evened out with it"}};
}

Json json_of_region(const Region& region) {
  const char* by = region.origin == RegionOrigin::found ? "half contrast"
                   : region.origin == RegionOrigin::cut ? "half contrast, cut by hand"
                                                        : "hand";
  return {{"id", region.id},
          {"threshold", json_number(region.threshold)},
          {"ground", json_number(region.ground)},
          {"plateau", json_number(region.plateau)},
          {"edge_gradient_per_px", json_number(region.edge_gradient)},
          {"area_px", json_number(region.area_px)},
          {"area_u_px", json_number(region.u_area_px)},
          {"holes", region.holes.size()},
          {"touches_rim", region.touches_rim},
          {"may_be_reflection", region.may_be_reflection},
          {"outline_by", by}};
}

Json regions_of(const std::vector<Region>& regions) {
  Json list = Json::array();
  for (const Region& region : regions) list.push_back(json_of_region(region));
  return list;
}

}  // namespace

Json json_number(double value) {
  const std::optional<double> rounded = settled(value);
  return rounded ? Json(*rounded) : Json(nullptr);
}

Json json_number(const std::optional<double>& value) { return value ? json_number(*value) : Json(nullptr); }

Json json_text(std::string_view bytes) { return bytes.empty() ? Json(nullptr) : Json(valid_utf8(bytes)); }

Json json_of(const CalibratedFace& face) {
  return {
      {"face_ellipse", json_of_ellipse(face.ellipse)},
      {"scale_bar", json_of_bar(face.bar)},
      {"grey_card", json_of_card(face.card, face.card_light)},
      {"pose", json_of_pose(face.pose)},
      {"light", json_of_light(face.light)},
      {"radius_mm", json_number(face.radius.number())},
      {"radius_u_mm", json_number(face.radius_u_mm)},
      {"rim_band_mm", json_number(face.rim_band.number())},
      {"rectified_grid",
       {{"mm_per_px", json_number(face.grid.pitch.number())},
        {"size_px", face.grid.size_px},
        {"centre_px", json_number(face.grid.centre_px)}}},
      {"blur_sigma_px", json_number(face.blur_sigma_px)},
      {"luminance_relative_to",
       face.absolute_luminance ? "perfect reflecting diffuser" : "full scale of the photo (no grey card)"}};
}

Json json_of(const SpotMap& spots) {
  return {{"threshold_model",
           "regions above detection_contrast, or of a colour of their own, against the matrix around them "
           "and its "
           "mottle at their size; each spot's outline at half its own contrast between the matrix around it "
           "(ground) and its inner part (plateau)"},
          {"mottle_rel", json_number(spots.mottle_rel)},
          {"noise_rel", json_number(spots.noise_rel)},
          {"blur_on_face_sigma_px", json_number(spots.blur_sigma_px)},
          {"detection_contrast", json_number(spots.detection_contrast)},
          {"face_area_px", json_number(spots.face_area_px)},
          {"measured_area_px", json_number(spots.measured_area_px)},
          {"glare_area_px", json_number(spots.glare_area_px)},
          {"glare_regions", spots.glare.size()},
          {"spots", regions_of(spots.spots)},
          {"pits", regions_of(spots.pits)}};
}

Json json_of(const UncertaintyBudget& budget) {
  return {{"figure", json_text(budget.figure)},
          {"unit", json_text(budget.unit)},
          {"components", components_of(budget.components)},
          {"combined_standard_uncertainty", json_number(budget.combined)},
          {"coverage_factor", kCoverage95},
          {"u95", json_number(kCoverage95 * budget.combined)}};
}

Json json_of(const Caution& caution) {
  return {{"name", name(caution.kind)},
          {"detail", json_text(caution.detail)},
          {"meaning", meaning(caution.kind)},
          {"remedy", remedy(caution.kind)}};
}

}  // namespace corefleck
