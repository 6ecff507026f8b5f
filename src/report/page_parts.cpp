#include "page_parts.hpp"

#include "base64.hpp"
#include "face_frame.hpp"
#include "jpeg_file.hpp"
#include "number_text.hpp"
#include "tables.hpp"

#include "corefleck/utf8.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

namespace corefleck {
namespace {

constexpr int kThumbnailQuality = 80;
constexpr const char* kNotMeasured = "–";

constexpr std::array kShown{
    ShownFigure{"spot_count", "Spots", "", 0},
    ShownFigure{"spot_density_per_cm2", "Spots per square centimetre", "", 3},
    ShownFigure{"area_fraction_pct", "Area fraction", "%", 3, "area_fraction_u95_pct"},
    ShownFigure{"spot_area_mm2", "Spot area", "mm²", 2},
    ShownFigure{"measured_area_mm2", "Measured area", "mm²", 1},
    ShownFigure{"ecd_d10_mm", "ECD, 10 % of the spots are smaller", "mm", 2},
    ShownFigure{"ecd_d50_mm", "ECD, median", "mm", 2},
    ShownFigure{"ecd_d90_mm", "ECD, 90 % of the spots are smaller", "mm", 2},
    ShownFigure{"ecd_max_mm", "ECD, largest", "mm", 2},
    ShownFigure{"matrix_L", "Matrix L*", "", 2},
    ShownFigure{"spot_L", "Spot L*", "", 2},
    ShownFigure{"contrast_dL", "Contrast ΔL*", "", 2, "contrast_dL_u95"},
    ShownFigure{"contrast_weber", "Weber contrast", "", 3},
    ShownFigure{"contrast_dE00", "Colour difference ΔE00", "", 1},
    ShownFigure{"pit_count", "Pits", "", 0},
    ShownFigure{"pit_area_fraction_pct", "Pit area fraction", "%", 3},
    ShownFigure{"glare_pct", "Glare, of the face", "%", 2},
    ShownFigure{"face_area_mm2", "Whole face", "mm²", 1},
    ShownFigure{"core_diameter_mm", "Core diameter", "mm", 2},
    ShownFigure{"tilt_deg", "Tilt", "°", 1},
    ShownFigure{"mm_per_px", "Scale", "mm/px", 5},
    ShownFigure{"scale_u95_pct", "Scale, half-width of its 95 % interval", "%", 2},
};

std::string budget_title(const std::string& figure) {
  for (const ShownFigure& shown_figure : kShown)
    if (shown_figure.column == figure) return std::string(shown_figure.label);
  return figure == "area_mm2" ? "Area of the median spot" : figure;
}

Json shown_component(const UncertaintyComponent& component, double combined) {
  const double share = combined > 0.0 ? 100.0 * std::pow(component.contribution / combined, 2.0) : 0.0;
  return {{"name", valid_utf8(component.name)},
          {"u", significant(component.standard_uncertainty, 3)},
          {"unit", valid_utf8(component.unit)},
          {"contribution", significant(component.contribution, 3)},
          {"share", fixed(share, 0)},
          {"origin", valid_utf8(component.origin)}};
}

/// What was found, in pixels of the thumbnail.
Json drawn_parts(const MeasuredFace& measured, double scale) {
  const auto coordinate = [&](double px) { return fixed((px + 0.5) * scale, 1); };
  const FaceEllipse& face = measured.face.ellipse;
  const ScaleBar& bar = measured.face.bar;
  Json parts{{"face",
              {{"x", coordinate(face.x)},
               {"y", coordinate(face.y)},
               {"rx", fixed(face.semi_major * scale, 1)},
               {"ry", fixed(face.semi_minor * scale, 1)},
               {"turn", fixed(face.angle_rad * 180.0 / CV_PI, 2)}}},
             {"bar",
              {{"x1", coordinate(bar.axis.x1)},
               {"y1", coordinate(bar.axis.y1)},
               {"x2", coordinate(bar.axis.x2)},
               {"y2", coordinate(bar.axis.y2)}}}};
  if (measured.face.card) {
    std::string points;
    for (const cv::Point2d& corner : measured.face.card->corners)
      points += fmt::format("{}{},{}", points.empty() ? "" : " ", coordinate(corner.x), coordinate(corner.y));
    parts["card"] = points;
  }
  return parts;
}

std::string camera_words(const CameraData& camera) {
  std::string words = camera.make;
  for (const std::string& part : {camera.model, camera.lens})
    if (!part.empty()) words += (words.empty() ? "" : " ") + part;
  if (camera.focal_length_mm)
    words += fmt::format("{}{:g} mm", words.empty() ? "" : ", ", *camera.focal_length_mm);
  if (!camera.focal_length_mm && camera.focal_length_35mm_mm)
    words += fmt::format(
        "{}field of view of {:g} mm on 36 x 24 mm", words.empty() ? "" : ", ", *camera.focal_length_35mm_mm);
  if (camera.f_number) words += fmt::format(", f/{:g}", *camera.f_number);
  if (camera.exposure_time_s && *camera.exposure_time_s > 0.0)
    words += *camera.exposure_time_s < 1.0 ? fmt::format(", 1/{:.0f} s", 1.0 / *camera.exposure_time_s)
                                           : fmt::format(", {:g} s", *camera.exposure_time_s);
  if (camera.iso_speed) words += fmt::format(", ISO {:g}", *camera.iso_speed);
  return words.empty() ? "not recorded in the photo" : words;
}

/// An option's value, which is JSON, without the quotes of a text.
std::string option_words(const std::string& value) {
  const Json parsed = Json::parse(value, nullptr, /*allow_exceptions=*/false);
  if (parsed.is_null()) return "none";
  if (parsed.is_boolean()) return parsed.get<bool>() ? "yes" : "no";
  return parsed.is_string() ? valid_utf8(parsed.get<std::string>()) : valid_utf8(value);
}

std::string how(bool by_hand) { return by_hand ? "given by hand" : "found"; }

std::vector<Fact> calibration_facts(const MeasuredFace& measured) {
  const CalibratedFace& face = measured.face;
  const int edges = static_cast<int>(face.bar.edges.size());
  std::vector<Fact> facts;
  facts.push_back({"Face",
                   fmt::format("{}; rim seen over {:.0f} %, points within {:.2f} px of it",
                               how(face.ellipse.by_hand),
                               face.ellipse.rim_found_pct,
                               face.ellipse.residual_px)});
  facts.push_back({"Scale bar",
                   fmt::format("{}; {} of {} block edges used, within {:.2f} px of equal blocks",
                               how(face.bar.by_hand),
                               std::count_if(face.bar.edges.begin(),
                                             face.bar.edges.end(),
                                             [](const BarEdge& edge) { return edge.used; }),
                               edges,
                               face.bar.residual_px)});
  facts.push_back({"Scale",
                   fmt::format("{:.5f} mm/px at the face's centre, 95 % within {:.2f} %",
                               face.pose.scale.number(),
                               100.0 * kCoverage95 * face.pose.scale_u_rel)});
  facts.push_back({"Tilt",
                   fmt::format("{:.1f}° with {:.1f}° standard uncertainty, taken out; focal length: {}",
                               face.pose.tilt_deg,
                               face.pose.tilt_u_deg,
                               face.pose.focal_source)});
  if (face.card)
    facts.push_back({"Grey card",
                     fmt::format("{}; level known to {:.2f} %, light changes by {:.1f} % across it",
                                 how(face.card->by_hand),
                                 face.card->u_level_pct,
                                 face.card->gradient_pct)});
  else
    facts.push_back({"Grey card", "none: no absolute lightness"});
  facts.push_back(
      {"Light",
       fmt::format("evened out by {}; it changed by {:.1f} % over the face",
                   face.light.source == LightSource::flat_frame ? "the flat frame"
                                                                : "a smooth field fitted to the matrix",
                   face.light.change_pct)});
  facts.push_back(
      {"Left out", fmt::format("a band of {:g} mm along the rim, chips and glare", face.rim_band.number())});
  facts.push_back(
      {"Sharpness", fmt::format("edges blurred by {:.2f} px (Gaussian)", face.bar.blur_sigma_px())});
  return facts;
}

}  // namespace

std::span<const ShownFigure> shown_figures() { return kShown; }

Json figures_json(const FaceMeasurement& figures) {
  Json object = Json::object();
  for (const auto& column : figure_columns())
    object[std::string(column.name)] = json_of(column.cell(figures));
  object["core_diameter_u95_mm"] = json_number(kCoverage95 * figures.core_diameter.u.number());
  return object;
}

Json shown(const ShownFigure& figure, const Json& figures) {
  const Json& value = figures.at(std::string(figure.column));
  // Every key is there, so that the template does not find an outer one of that name.
  if (!value.is_number()) return {{"value", kNotMeasured}, {"unit", ""}, {"u95", ""}};
  Json read{{"value", fixed(value.get<double>(), figure.decimals)}, {"unit", figure.unit}, {"u95", ""}};
  if (figure.u95_column.empty()) return read;
  const Json& u95 = figures.at(std::string(figure.u95_column));
  if (!u95.is_number()) return read;
  const ReadingText text = reading(value.get<double>(), u95.get<double>());
  read["value"] = text.value;
  read["u95"] = text.u95;
  return read;
}

Json shown_difference(const ShownFigure& figure, const Json& figures) {
  Json read = shown(figure, figures);
  const auto& value = read["value"].get_ref<const std::string&>();
  const bool above =
      value != kNotMeasured && value[0] != '-' && value.find_first_of("123456789") != std::string::npos;
  if (above) read["value"] = fmt::format("+{}", value);
  return read;
}

std::string capitalised(std::string words) {
  if (!words.empty() && words[0] >= 'a' && words[0] <= 'z')
    words[0] = static_cast<char>(words[0] - 'a' + 'A');
  return words;
}

PageSection figures_section(const MeasuredFace& measured) {
  const Json figures = figures_json(measured.figures);
  const Json before = measured.hand_edits ? figures_json(measured.hand_edits->unedited) : Json();
  Json rows = Json::array();
  for (const ShownFigure& figure : kShown) {
    Json row = shown(figure, figures);
    row["column"] = figure.column;
    row["label"] = figure.label;
    if (measured.hand_edits) row["before"] = shown(figure, before);
    rows.push_back(std::move(row));
  }
  return {"figures",
          "Figures",
          "figures.mustache",
          {{"rows", std::move(rows)}, {"edited", measured.hand_edits.has_value()}}};
}

PageSection cautions_section(const FaceMeasurement& figures) {
  Json list = Json::array();
  for (const Caution& caution : figures.cautions)
    list.push_back({{"name", name(caution.kind)},
                    {"detail", valid_utf8(caution.detail)},
                    {"meaning", capitalised(std::string(meaning(caution.kind)))},
                    {"remedy", capitalised(std::string(remedy(caution.kind)))}});
  return {"cautions",
          "Cautions",
          "cautions.mustache",
          {{"any", !figures.cautions.empty()}, {"cautions", std::move(list)}}};
}

PageSection uncertainty_section(const FaceMeasurement& figures, std::string_view figure) {
  Json budgets = Json::array();
  for (const UncertaintyBudget& budget : figures.budgets) {
    if (!figure.empty() && budget.figure != figure) continue;
    Json components = Json::array();
    for (const UncertaintyComponent& component : budget.components)
      components.push_back(shown_component(component, budget.combined));
    budgets.push_back({{"title", budget_title(budget.figure)},
                       {"unit", valid_utf8(budget.unit)},
                       {"components", std::move(components)},
                       {"combined", significant(budget.combined, 3)},
                       {"u95", significant(kCoverage95 * budget.combined, 3)}});
  }
  return {"uncertainty", "Uncertainty", "uncertainty.mustache", {{"budgets", std::move(budgets)}}};
}

PageSection calibration_section(const MeasuredFace& measured) {
  Json data{{"facts", facts_json(calibration_facts(measured))}};
  const cv::Mat& small = measured.page.thumbnail;
  if (!small.empty() && measured.photo_px.width > 0) {
    data["picture"] = drawn_parts(measured, static_cast<double>(small.cols) / measured.photo_px.width);
    data["picture"]["jpeg"] = base64(jpeg_of(display_pixels(small), kThumbnailQuality));
    data["picture"]["width"] = small.cols;
    data["picture"]["height"] = small.rows;
  }
  return {"calibration", "How the photo was calibrated", "calibration.mustache", std::move(data)};
}

PageSection identity_section(const MeasuredFace& measured,
                             const RecordContext& context,
                             std::string_view note) {
  const Photo& photo = measured.photo;
  std::vector<Fact> facts{{"Photo", photo.path.string()},
                          {"SHA-256", photo.sha256},
                          {"Size",
                           fmt::format("{} bytes, {} x {} px, {}",
                                       photo.file_bytes,
                                       measured.photo_px.width,
                                       measured.photo_px.height,
                                       photo.format)},
                          {"Colour space", photo.colour_space},
                          {"Camera", camera_words(photo.camera)},
                          {"Program", fmt::format("corefleck {}", context.program_version)}};
  return {"identity",
          "Identity and options",
          "identity.mustache",
          {{"facts", facts_json(facts)},
           {"options", options_json(context)},
           {"options_title", "Options in force"},
           {"note", note}}};
}

PageSection plots_section(std::string id, std::string title, std::string_view note, std::string_view files) {
  return {std::move(id), std::move(title), "plots.mustache", {{"note", note}, {"files", files}}};
}

Json facts_json(const std::vector<Fact>& facts) {
  Json list = Json::array();
  for (const Fact& fact : facts) list.push_back({{"name", fact.name}, {"value", valid_utf8(fact.value)}});
  return list;
}

Json options_json(const RecordContext& context) {
  Json options = Json::array();
  for (const auto& [option, value] : context.options)
    options.push_back({{"name", valid_utf8(option)}, {"value", option_words(value)}});
  return options;
}

void add_caution_count(Json& head, std::size_t cautions) {
  head["fine"] = cautions == 0;
  head["cautions"] = cautions == 0
                         ? Json(nullptr)
                         : Json(fmt::format("{} caution{}: look twice", cautions, cautions == 1 ? "" : "s"));
}

std::string link_to(const std::string& folder, std::string_view file) {
  // RFC 3986: what is not unreserved is written as %XX. "./" first, or a colon would make a scheme of it.
  std::string link = "./";
  for (const char c : folder) {
    const bool unreserved = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                            c == '-' || c == '.' || c == '_' || c == '~';
    if (unreserved)
      link += c;
    else
      fmt::format_to(std::back_inserter(link), "%{:02X}", static_cast<unsigned char>(c));
  }
  return fmt::format("{}/{}", link, file);
}

}  // namespace corefleck
