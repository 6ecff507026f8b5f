#include "base64.hpp"
#include "deflate.hpp"
#include "jpeg_file.hpp"
#include "label_runs.hpp"
#include "number_text.hpp"
#include "page_parts.hpp"
#include "page_shell.hpp"
#include "photo_words.hpp"
#include "svg_path.hpp"
#include "table_json.hpp"

#include "corefleck/beside.hpp"
#include "corefleck/shape.hpp"
#include "corefleck/sums.hpp"
#include "corefleck/utf8.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace corefleck {
namespace {

/// What was found, whether or not edits came after.
const SpotMap& found_map(const MeasuredFace& measured) {
  return measured.hand_edits ? measured.hand_edits->found : measured.spots;
}
const FaceMeasurement& found_figures(const MeasuredFace& measured) {
  return measured.hand_edits ? measured.hand_edits->unedited : measured.figures;
}

/// As the page's own scripts say it, which then have nothing to change.
std::string spot_label(const SpotFigures& spot, int id) {
  const std::string light = spot.contrast_dL ? "ΔL* " + fixed(spot.contrast_dL->number(), 1)
                                             : "Weber contrast " + fixed(spot.contrast_weber, 2);
  return fmt::format("Spot {}: {} mm², ECD {} mm, {}",
                     id,
                     significant(spot.area.value.number(), 3),
                     fixed(spot.ecd.number(), 2),
                     light);
}

Json shown_spots(const SpotMap& map, const FaceMeasurement& figures) {
  Json list = Json::array();
  for (std::size_t i = 0; i < map.spots.size(); ++i) {
    const Region& spot = map.spots[i];
    list.push_back(
        {{"id", spot.id}, {"path", svg_path(spot)}, {"label", spot_label(figures.spots[i], spot.id)}});
  }
  return list;
}

/// How wide a spot is on the screen that has its number beside it: among many, numbers would lie over one
/// another. As picture.js has it, which writes the others when the picture is zoomed.
double room_for_number_px(std::size_t spots) { return spots > 300 ? 22.0 : spots > 60 ? 11.0 : 0.0; }
constexpr double kPictureSide_px = 800.0;  // on a desk, the whole face shown

Json shown_numbers(const SpotMap& map, const FaceMeasurement& figures, const CalibratedFace& face) {
  const double px_per_mm = kPictureSide_px / face.grid.size_px / face.grid.pitch.number();
  Json list = Json::array();
  for (std::size_t i = 0; i < map.spots.size(); ++i) {
    const Region& spot = map.spots[i];
    if (figures.spots[i].ecd.number() * px_per_mm < room_for_number_px(map.spots.size())) continue;
    double right = 0.0;
    for (const cv::Point2d& p : spot.outline) right = std::max(right, p.x);
    list.push_back({{"id", spot.id},
                    {"x", fixed(right + 0.5, 1)},
                    {"y", fixed(polygon_centroid(spot.outline).y + 0.5, 1)}});
  }
  return list;
}

/// The face's picture and what lies over it.
Json picture_data(const MeasuredFace& measured, const std::string& jpeg) {
  const CalibratedFace& face = measured.face;
  const SpotMap& map = found_map(measured);
  const double pitch = face.grid.pitch.number(), middle = face.grid.centre_px + 0.5;
  const double radius = face.radius.number() / pitch;
  const double inner = radius - face.rim_band.number() / pitch;
  Json pits = Json::array(), glare = Json::array();
  for (const Region& pit : map.pits) pits.push_back(svg_path(pit));
  for (const Contour& contour : map.glare) glare.push_back(svg_path(contour));
  const double step_mm = radius * pitch > 12.0 ? 10.0 : 1.0;
  return {{"jpeg", jpeg},
          {"size", 2 * face.colour.cols},
          {"grid", face.grid.size_px},
          {"middle", fixed(middle, 2)},
          {"radius", fixed(radius, 2)},
          {"inner", fixed(std::max(inner, 0.0), 2)},
          {"band_radius", fixed(0.5 * (radius + inner), 2)},
          {"band", fixed(radius - inner, 2)},
          {"bar_px", fixed(step_mm / pitch, 2)},
          {"bar_mm", fixed(step_mm, 0)},
          {"spots", shown_spots(map, found_figures(measured))},
          {"numbers", shown_numbers(map, found_figures(measured), face)},
          {"pits", std::move(pits)},
          {"glare", std::move(glare)},
          {"chips",
           svg_path_of_mask(map.outside.empty() ? cv::Mat()
                                                : map.outside == static_cast<unsigned char>(Outside::chip))}};
}

Json edits_json(const MeasuredFace& measured) {
  Json list = Json::array();
  if (!measured.hand_edits) return list;
  for (const Edit& edit : measured.hand_edits->edits.list) {
    Json entry{{"edit", name(edit.kind)},
               {"reason", valid_utf8(edit.reason)},
               {"initials", valid_utf8(edit.initials)}};
    if (!edit.at.empty()) entry["at"] = valid_utf8(edit.at);
    if (edit.outline_mm.empty()) {
      entry["spot_id"] = edit.spot_id;
      entry["x_mm"] = edit.place_mm.x;
      entry["y_mm"] = edit.place_mm.y;
    } else {
      Json outline = Json::array();
      for (const cv::Point2d& p : edit.outline_mm) outline.push_back(Json::array({p.x, p.y}));
      entry["outline_mm"] = std::move(outline);
    }
    list.push_back(std::move(entry));
  }
  return list;
}

Json option_of(const RecordContext& context, std::string_view wanted) {
  for (const auto& [option, value] : context.options)
    if (option == wanted) {
      Json parsed = Json::parse(value, nullptr, /*allow_exceptions=*/false);
      return parsed.is_discarded() ? Json(value) : parsed;
    }
  return nullptr;
}

/// What the program's sums take as given, so that the page's scripts have no copy of it.
Json sums_json(const CalibratedFace& face, const SpotMap& map) {
  return {{"coverage", kCoverage95},
          {"shared_boundary", kSharedBoundary},
          {"rim_is_chip", kRimIsChip},
          {"ragged_is_reflection", kRaggedIsReflection},
          {"near_size_limit", kNearSizeLimit},
          {"doubt_at_size_limit", kDoubtAtSizeLimit},
          {"light_in_area", kLightInArea},
          {"spots_of_one_light", kSpotsOfOneLight},
          {"doubt_of_giving_back", kDoubtOfGivingBack},
          {"boundary_in_contrast", kBoundaryInContrast},
          {"least_matrix_pixels", kLeastMatrixPixels},
          {"matrix_distance_px", matrix_distance_px(face, map)},
          {"drawn_edge_mm", kDrawnEdge.number()}};
}

/// Values of the pixels in the page's maps.
Json pixel_values_json() {
  return {{"glare", static_cast<int>(Outside::glare)},
          {"edit", static_cast<int>(Outside::edit)},
          {"first_spot", kFirstSpotValue}};
}

/// Numbers that the page's own sums start from: in full, so that they end where the program's do.
Json measured_json(const MeasuredFace& measured, const RecordContext& context) {
  const CalibratedFace& face = measured.face;
  const SpotMap& map = found_map(measured);
  Json sizes = Json::array(), pits = Json::array(), budgets = Json::array();
  const std::vector<SpotFigures>& figures = found_figures(measured).spots;
  for (std::size_t i = 0; i < map.spots.size(); ++i)
    sizes.push_back(Json::array({map.spots[i].area_px,
                                 map.spots[i].u_area_px,
                                 figures[i].L_given_back,
                                 map.spots[i].may_be_reflection ? 1 : 0}));
  for (const Region& pit : map.pits) {
    const cv::Point2d middle = polygon_centroid(pit.outline);
    pits.push_back(Json::array({std::floor(middle.x + 0.5), std::floor(middle.y + 0.5), pit.area_px}));
  }
  for (const UncertaintyBudget& budget : found_figures(measured).budgets) budgets.push_back(json_of(budget));
  return {{"grid",
           {{"mm_per_px", face.grid.pitch.number()},
            {"size_px", face.grid.size_px},
            {"centre_px", face.grid.centre_px},
            {"parts_of_pixel", kPartsOfPixel}}},
          {"sums", sums_json(face, map)},
          {"pixel_values", pixel_values_json()},
          {"radius_mm", face.radius.number()},
          {"rim_band_mm", face.rim_band.number()},
          {"scale_u_rel", face.pose.scale_u_rel},
          {"absolute", face.absolute_luminance},
          {"min_spot_mm", option_of(context, "min-spot-mm")},
          {"size_classes", option_of(context, "size-classes")},
          {"measured_px", map.measured_area_px},
          {"figures", figures_json(found_figures(measured))},
          {"budgets", std::move(budgets)},
          {"spots", table_json(spot_columns(), found_figures(measured).spots)},
          {"spot_px", std::move(sizes)},
          {"pits", std::move(pits)}};
}

std::string packed(const cv::Mat& plane) {
  if (plane.empty()) return {};
  return base64(deflated({plane.ptr(), plane.total()}));
}

std::string packed(const std::string& bytes) {
  if (bytes.empty()) return {};
  return base64(deflated({reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size()}));
}

Json shown_figures_json() {
  Json list = Json::array();
  for (const ShownFigure& figure : shown_figures())
    list.push_back({{"column", figure.column},
                    {"label", figure.label},
                    {"unit", figure.unit},
                    {"decimals", figure.decimals},
                    {"u95", figure.u95_column.empty() ? Json(nullptr) : Json(figure.u95_column)}});
  return list;
}

Json island_of(const MeasuredFace& measured, const RecordContext& context) {
  Json island = measured_json(measured, context);
  island["program_version"] = valid_utf8(context.program_version);
  island["photo"] = valid_utf8(measured.photo.path.filename().string());
  island["photo_sha256"] = valid_utf8(measured.photo.sha256);
  island["shown"] = shown_figures_json();
  island["edits"] = edits_json(measured);
  island["light_top"] = measured.page.light_top;
  return island;
}

Json head_of(const MeasuredFace& measured) {
  const Json figures = figures_json(measured.figures);
  Json tiles = Json::array();
  for (const std::string_view wanted : {"spot_count", "area_fraction_pct", "contrast_dL", "ecd_d50_mm"})
    for (const ShownFigure& figure : shown_figures())
      if (figure.column == wanted) {
        Json tile = shown(figure, figures);
        tile["column"] = figure.column;
        tile["label"] = figure.label;
        tiles.push_back(std::move(tile));
      }
  Json head{{"tiles", std::move(tiles)}, {"edited", measured.hand_edits.has_value()}, {"correctable", true}};
  add_caution_count(head, measured.figures.cautions.size());
  return head;
}

std::string subtitle_of(const MeasuredFace& measured, FaceState state) {
  return fmt::format("{} · {} · corefleck measure",
                     valid_utf8(taken_words(measured.photo)),
                     state == FaceState::unknown ? "state not stated" : name(state));
}

}  // namespace

std::string report_html(const MeasuredFace& measured, const RecordContext& context) {
  // Packing the light takes as long as the pictures: side by side where there are processors to spare.
  auto light = beside([&] { return packed(measured.page.light); });
  // The plate's picture serves here too: it covers the same grid, and is made already.
  const cv::Mat shown = measured.picture.empty() ? plate_picture(measured.face).get() : measured.picture;
  const std::string picture = base64(jpeg_of(shown, kPagePictureQuality));

  Page page;
  page.title = valid_utf8(measured.photo.path.filename().string());
  page.subtitle = subtitle_of(measured, context.state);
  page.program_version = valid_utf8(context.program_version);
  page.head = head_of(measured);
  page.sections.push_back({"face", "The face", "face.mustache", picture_data(measured, picture)});
  page.sections.push_back(
      {"corrections", "Corrections", "corrections.mustache", {{"edited", measured.hand_edits.has_value()}}});
  page.sections.push_back(figures_section(measured));
  page.sections.push_back(cautions_section(measured.figures));
  page.sections.push_back(plots_section(
      "distributions",
      "Sizes, contrast and place",
      "Size classes are those of sizes.csv. Place: spots by their centres, in four rings of equal width and "
      "twelve sectors, as a share of each one's area inside the rim band; a line marks the area fraction of "
      "the whole face. These plots describe; they test nothing.",
      "sizes.csv and spots.csv hold"));
  page.sections.push_back({"spots", "Spots", "spots.mustache", Json::object()});
  page.sections.push_back(uncertainty_section(measured.figures));
  page.sections.push_back(calibration_section(measured));
  page.sections.push_back(identity_section(
      measured, context, "record.json beside this page holds everything needed to repeat the measurement."));
  page.skip = {"spots", "Skip to the table of spots"};
  page.scripts = {"elements.js",
                  "maps.js",
                  "edited_figures.js",
                  "picture.js",
                  "plot_frame.js",
                  "plots.js",
                  "sorted_table.js",
                  "spot_table.js",
                  "corrections.js",
                  "face_page.js"};
  page.island = island_of(measured, context);
  page.packed = {{"packed-runs", packed(label_runs(found_map(measured)))},
                 {"packed-pits", packed(measured.page.pits)},
                 {"packed-light", light.get()}};
  return page_html(page);
}

}  // namespace corefleck
