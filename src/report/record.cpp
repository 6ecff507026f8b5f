#include "neutral.hpp"
#include "record_parts.hpp"
#include "tables.hpp"

#include "corefleck/utf8.hpp"

namespace corefleck {
namespace {

Json json_of_input(const MeasuredFace& measured) {
  const Photo& photo = measured.photo;
  const cv::Size size = measured.photo_px.empty() ? photo.samples.size() : measured.photo_px;
  return {{"photo", valid_utf8(photo.path.string())},
          {"sha256", json_text(photo.sha256)},
          {"bytes", photo.file_bytes},
          {"format", json_text(photo.format)},
          {"width_px", size.empty() ? Json(nullptr) : Json(size.width)},
          {"height_px", size.empty() ? Json(nullptr) : Json(size.height)},
          {"colour_space", json_text(photo.colour_space)},
          {"exif_orientation", photo.orientation}};
}

Json json_of_camera(const CameraData& camera) {
  return {{"make", json_text(camera.make)},
          {"model", json_text(camera.model)},
          {"lens", json_text(camera.lens)},
          {"taken", json_text(camera.taken)},
          {"exposure_time_s", json_number(camera.exposure_time_s)},
          {"f_number", json_number(camera.f_number)},
          {"iso_speed", json_number(camera.iso_speed)},
          {"focal_length_mm", json_number(camera.focal_length_mm)},
          {"focal_length_35mm_mm", json_number(camera.focal_length_35mm_mm)}};
}

Json json_of_options(const RecordContext& context) {
  Json options = Json::object();
  for (const auto& [option, value] : context.options) {
    Json parsed = Json::parse(value, nullptr, /*allow_exceptions=*/false);
    options[valid_utf8(option)] = parsed.is_discarded() ? json_text(value) : std::move(parsed);
  }
  return options;
}

Json json_of_figures(const FaceMeasurement& figures) {
  Json object = Json::object();
  for (const auto& column : figure_columns())
    object[std::string(column.name)] = json_of(column.cell(figures));
  return object;
}

Json json_of_edits(const HandEdits& hand, const FaceGrid& grid) {
  Json list = Json::array();
  const double pixel_mm2 = grid.pitch.number() * grid.pitch.number();
  for (std::size_t i = 0; i < hand.edits.list.size(); ++i) {
    const Edit& edit = hand.edits.list[i];
    const EditOutcome& outcome = hand.outcomes[i];
    Json entry{{"edit", name(edit.kind)},
               {"reason", json_text(edit.reason)},
               {"initials", json_text(edit.initials)},
               {"at", json_text(edit.at)}};
    if (edit.outline_mm.empty()) {
      entry["x_mm"] = json_number(edit.place_mm.x);
      entry["y_mm"] = json_number(edit.place_mm.y);
    } else {
      Json outline = Json::array();
      for (const cv::Point2d& p : edit.outline_mm)
        outline.push_back(Json::array({json_number(p.x), json_number(p.y)}));
      entry["outline_mm"] = std::move(outline);
    }
    entry["spot_ids"] = outcome.spot_ids;
    entry["area_mm2"] = json_number(outcome.area_px * pixel_mm2);
    list.push_back(std::move(entry));
  }
  return list;
}

template <class T>
Json list_of(const std::vector<T>& items) {
  Json list = Json::array();
  for (const T& item : items) list.push_back(json_of(item));
  return list;
}

}  // namespace

std::string record_json(const MeasuredFace& measured, const RecordContext& context) {
  Json safety = Json::array();
  for (const std::string_view sentence : kSafetyCautions) safety.push_back(sentence);

  Json record;
  record["program"] = {{"name", "corefleck"}, {"version", valid_utf8(context.program_version)}};
  record["note"] = kNeutralSentence;
  record["safety"] = std::move(safety);
  record["input"] = json_of_input(measured);
  record["camera"] = json_of_camera(measured.photo.camera);
  record["state"] = name(context.state);
  record["options"] = json_of_options(context);
  record["figures"] = json_of_figures(measured.figures);
  if (measured.hand_edits) {
    record["edited"] = true;
    record["edits"] = json_of_edits(*measured.hand_edits, measured.face.grid);
    record["figures_without_edits"] = json_of_figures(measured.hand_edits->unedited);
  }
  record["cautions"] = list_of(measured.figures.cautions);
  record["uncertainty_budgets"] = list_of(measured.figures.budgets);
  record["calibration"] = json_of(measured.face);
  record["segmentation"] = json_of(measured.spots);
  return record.dump(2, ' ', /*ensure_ascii=*/false, Json::error_handler_t::replace) + "\n";
}

}  // namespace corefleck
