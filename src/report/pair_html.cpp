#include "pair_html.hpp"

#include "base64.hpp"
#include "face_frame.hpp"
#include "jpeg_file.hpp"
#include "number_text.hpp"
#include "photo_words.hpp"
#include "svg_path.hpp"

#include "corefleck/shape.hpp"
#include "corefleck/utf8.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

// A spot of half a millimetre on a core of 100 mm is 6 px across.
constexpr double kPictureDiameter = 1200.0;

std::string name_of(const PairedPhoto& photo) {
  return valid_utf8(photo.face.photo.path.filename().string());
}

std::string role_of(std::string_view word, const PairedPhoto& photo) {
  return fmt::format("{}: {}", capitalised(std::string(word)), name_of(photo));
}

// --- the picture

std::string jpeg_at(const CalibratedFace& face, double gain) {
  const FaceFrame frame = face_frame(face, 0.0, 0.0, kPictureDiameter);
  return base64(jpeg_of(framed_picture(face, frame, gain), kPagePictureQuality));
}

std::string paths_of(const SpotMap& map, const std::vector<int>& ids) {
  std::string path;
  for (const int id : ids) path += svg_path(map.spot(id));
  return path;
}

/// Where a row's sign and number stand: to the right of all that either photo shows of it.
cv::Point2d label_place(const LaidPair& laid, const PairRow& row) {
  double right = 0.0, y = 0.0;
  const auto look = [&](const SpotMap& map, const std::vector<int>& ids) {
    for (const int id : ids)
      for (const cv::Point2d& p : map.spot(id).outline)
        if (p.x > right) right = p.x, y = polygon_centroid(map.spot(id).outline).y;
  };
  look(laid.first.spots, row.first_ids);
  look(laid.second_map, row.second_ids);
  return {right + 0.5, y + 0.5};
}

Json shown_rows(const PairPage& page) {
  Json list = Json::array();
  for (std::size_t i = 0; i < page.rows.size(); ++i) {
    const PairRow& row = page.rows[i];
    const cv::Point2d place = label_place(page.laid, row);
    list.push_back({{"row", i + 1},
                    {"kind", row.kind.name},
                    {"sign", row.kind.sign},
                    {"label", fmt::format("Row {}, {}", i + 1, row.label)},
                    {"first", paths_of(page.laid.first.spots, row.first_ids)},
                    {"second", paths_of(page.laid.second_map, row.second_ids)},
                    {"x", fixed(place.x, 1)},
                    {"y", fixed(place.y, 1)}});
  }
  return list;
}

/// What is left out of either face, less what lies beyond the rim.
std::string excluded_path(const LaidPair& laid) {
  const cv::Mat outside = not_compared(laid).outside;
  if (outside.empty()) return {};
  return svg_path_of_mask((outside != static_cast<unsigned char>(Outside::no)) &
                          (outside != static_cast<unsigned char>(Outside::beyond_rim)));
}

Json kinds_json(const PairPage& page) {
  Json list = Json::array();
  for (const PairKind& kind : page.kinds) {
    const auto count = std::count_if(
        page.rows.begin(), page.rows.end(), [&](const PairRow& row) { return row.kind.name == kind.name; });
    list.push_back({{"name", kind.name},
                    {"words", kind.words},
                    {"sign", kind.sign},
                    {"meaning", kind.meaning},
                    {"present", count > 0},
                    {"count", count}});
  }
  return list;
}

PageSection picture_section(const PairPage& page) {
  const CalibratedFace& face = page.laid.first.face;
  const double pitch = face.grid.pitch.number(), radius = face.radius.number() / pitch;
  const double step_mm = face.radius.number() > 12.0 ? 10.0 : 1.0;
  return {"face",
          std::string(page.heading),
          "pair.mustache",
          {{"first_jpeg", jpeg_at(face, page.exposure.first)},
           {"second_jpeg", jpeg_at(page.laid.second_face, page.exposure.second)},
           {"first_word", page.first_word},
           {"second_word", page.second_word},
           {"First", capitalised(std::string(page.first_word))},
           {"Second", capitalised(std::string(page.second_word))},
           {"first_name", name_of(page.first)},
           {"second_name", name_of(page.second)},
           {"light_note", page.light_note},
           {"table_file", page.table_file},
           {"size", 2 * face.colour.cols},
           {"half", face.colour.cols},
           {"middle", fixed(face.grid.centre_px + 0.5, 2)},
           {"radius", fixed(radius, 2)},
           {"bar_px", fixed(step_mm / pitch, 2)},
           {"bar_mm", fixed(step_mm, 0)},
           {"excluded", excluded_path(page.laid)},
           {"kinds", kinds_json(page)},
           {"rows", shown_rows(page)}}};
}

// --- figures

Json cell_of(const ShownFigure& figure, const Json& figures, bool difference) {
  // Every key is there, so that the template does not find an outer one of that name.
  if (figure.column.empty()) return {{"column", ""}, {"value", ""}, {"unit", ""}, {"u95", ""}};
  Json cell = difference ? shown_difference(figure, figures) : shown(figure, figures);
  cell["column"] = figure.column;
  return cell;
}

PageSection pair_figures(const PairPage& page) {
  Json rows = Json::array();
  for (const PairFigureRow& row : page.figure_rows) {
    const auto figure = [&](const PairFigureRow::Columns& columns) {
      return ShownFigure{columns.value, row.label, row.unit, row.decimals, columns.u95};
    };
    rows.push_back({{"label", row.label},
                    {"cells",
                     {cell_of(figure(row.first), page.figures, false),
                      cell_of(figure(row.second), page.figures, false),
                      cell_of(figure(row.difference), page.figures, true)}}});
  }
  return {"pair-figures",
          "Of the two photos together",
          "figure_columns.mustache",
          {{"id", "pair-figures-table"},
           {"caption", "Figures of the two photos together"},
           {"row_head", "Figure"},
           {"heads",
            {capitalised(std::string(page.first_word)),
             capitalised(std::string(page.second_word)),
             page.difference_word}},
           {"rows", std::move(rows)}}};
}

PageSection kinds_section(const PairPage& page) {
  return {"kinds", "Spots by class", "pair_kinds.mustache", {{"kinds", kinds_json(page)}}};
}

/// Figures of summary.csv of both photos, side by side.
PageSection whole_faces(const PairPage& page) {
  const Json first = figures_json(page.first.face.figures), second = figures_json(page.second.face.figures);
  Json rows = Json::array();
  for (const ShownFigure& figure : shown_figures()) {
    Json of_first = cell_of(figure, first, false), of_second = cell_of(figure, second, false);
    of_first["column"] = fmt::format("{}.{}", page.first_word, figure.column);
    of_second["column"] = fmt::format("{}.{}", page.second_word, figure.column);
    rows.push_back({{"label", figure.label}, {"cells", {std::move(of_first), std::move(of_second)}}});
  }
  return {"whole-faces",
          "Of each photo alone, whole face",
          "figure_columns.mustache",
          {{"id", "whole-faces-table"},
           {"caption", "Figures of each photo alone, as in summary.csv"},
           {"row_head", "Figure"},
           {"heads", {capitalised(std::string(page.first_word)), capitalised(std::string(page.second_word))}},
           {"rows", std::move(rows)}}};
}

PageSection figures_of(const PairPage& page) {
  return {
      "figures", "Figures", {}, Json::object(), {pair_figures(page), kinds_section(page), whole_faces(page)}};
}

// --- what both photos have of their own

PageSection named(PageSection section, std::string id, std::string title) {
  section.id = std::move(id);
  section.title = std::move(title);
  return section;
}

std::optional<double> scale_off(const PairPage& page) {
  return scale_disagreement(page.registration, page.first.face.figures, page.second.face.figures);
}

PageSection cautions_of(const PairPage& page) {
  PageSection section{"cautions", "Cautions", {}, Json::object(), {}};
  if (const auto off = scale_off(page))
    section.parts.push_back(
        {"cautions-pair",
         "Both photos",
         "cautions.mustache",
         {{"any", true},
          {"cautions",
           {{{"name", ""},
             {"detail", fmt::format("by {} %, more than their intervals allow", fixed(100.0 * *off, 2))},
             {"meaning", "The two photos' scales disagree"},
             {"remedy",
              "Check --bar-length-mm, --bar-blocks and that the bar lies level with the face in both "
              "photos"}}}}}});
  section.parts.push_back(named(
      cautions_section(page.first.face.figures), "cautions-first", role_of(page.first_word, page.first)));
  section.parts.push_back(named(
      cautions_section(page.second.face.figures), "cautions-second", role_of(page.second_word, page.second)));
  return section;
}

PageSection uncertainty_of(const PairPage& page) {
  Json statements = Json::array();
  for (const std::string_view statement : page.statements) statements.push_back(statement);
  PageSection section{
      "uncertainty", "Uncertainty", "paragraphs.mustache", {{"paragraphs", std::move(statements)}}, {}};
  section.parts.push_back(named(uncertainty_section(page.first.face.figures, page.budget),
                                "uncertainty-first",
                                role_of(page.first_word, page.first)));
  section.parts.push_back(named(uncertainty_section(page.second.face.figures, page.budget),
                                "uncertainty-second",
                                role_of(page.second_word, page.second)));
  return section;
}

/// Options of the second photo that are not the first's: mostly none, or its state alone.
RecordContext differing(const RecordContext& context, const RecordContext& from) {
  RecordContext result = context;
  std::erase_if(result.options, [&](const auto& option) {
    return std::find(from.options.begin(), from.options.end(), option) != from.options.end();
  });
  return result;
}

PageSection identity_of(const PairPage& page) {
  constexpr std::string_view kNote =
      "report.html and record.json in the photo's own folder hold how it was calibrated, and everything "
      "needed to repeat its measurement.";
  PageSection first = identity_section(page.first.face, page.first.context, kNote);
  PageSection second =
      identity_section(page.second.face, differing(page.second.context, page.first.context), kNote);
  second.data["options_title"] = fmt::format("Options in force: as of the {} photo{}",
                                             page.first_word,
                                             second.data["options"].empty() ? "" : ", but");
  for (const auto& [section, photo] : {std::pair{&first, &page.first}, std::pair{&second, &page.second}})
    section->data["link"] = link_to(photo->folder, "report.html");
  return {"identity",
          "Identity and options",
          {},
          Json::object(),
          {named(std::move(first), "identity-first", role_of(page.first_word, page.first)),
           named(std::move(second), "identity-second", role_of(page.second_word, page.second))}};
}

PageSection registration_of(const PairPage& page) {
  const Registration& r = page.registration;
  const double scale_pct = 100.0 * (std::sqrt(r.first_to_second.area_ratio()) - 1.0);
  const std::vector<Fact> facts{
      {"Turn",
       fmt::format("{}° counterclockwise takes the {} face onto the {} one; standard uncertainty {}°",
                   fixed(r.rotation_deg, 2),
                   page.first_word,
                   page.second_word,
                   significant(r.rotation_u_deg, 2))},
      {"Same face",
       fmt::format("{} of {} parts of the face agree: score {}; {} or more is wanted",
                   r.parts_agreeing,
                   r.parts,
                   fixed(r.score, 2),
                   fixed(kSameFaceScore, 2))},
      {"Laid on to", fmt::format("{} mm rms over the parts that agree", significant(r.residual_mm, 2))},
      {"Scale",
       fmt::format("the same face comes out {} % {} in the {} photo; {}",
                   fixed(std::abs(scale_pct), 2),
                   scale_pct < 0.0 ? "smaller" : "larger",
                   page.second_word,
                   scale_off(page) ? "more than the intervals of the two scales allow: look twice"
                                   : "within the intervals of the two scales")},
      {"Stretch",
       fmt::format("from {} to {} % in different directions, at the face's centre",
                   fixed(r.stretch_min_pct, 2),
                   fixed(r.stretch_max_pct, 2))}};
  return {"registration",
          "How the photos were laid onto each other",
          "registration.mustache",
          {{"facts", facts_json(facts)},
           {"first_word", page.first_word},
           {"second_word", page.second_word},
           {"record_file", page.record_file}}};
}

// --- what the scripts read

Json island_of(const PairPage& page) {
  Json kinds = Json::array();
  for (const PairRow& row : page.rows) kinds.push_back(row.kind.name);
  return {{"command", page.command},
          {"first_word", page.first_word},
          {"second_word", page.second_word},
          {"program_version", valid_utf8(page.first.context.program_version)},
          {"absolute", page.laid.first.face.absolute_luminance && page.laid.second_face.absolute_luminance},
          {"grid", {{"mm_per_px", page.laid.first.face.grid.pitch.number()}}},
          {"kinds", kinds_json(page)},
          {"row_kinds", std::move(kinds)},
          {"table", page.table},
          {"figures", page.figures}};
}

Json head_of(const PairPage& page) {
  Json head{{"tiles", page.tiles},
            {"edited", page.first.face.hand_edits.has_value() || page.second.face.hand_edits.has_value()}};
  add_caution_count(head,
                    page.first.face.figures.cautions.size() + page.second.face.figures.cautions.size() +
                        (scale_off(page) ? 1 : 0));
  return head;
}

}  // namespace

Json pair_tile(std::string_view label, std::string_view column, Json shown_value, std::string_view note) {
  shown_value["label"] = label;
  shown_value["column"] = column;
  shown_value["note"] = note;
  return shown_value;
}

Json shown_passage(const ShownFigure& first, const ShownFigure& second, const Json& figures) {
  const Json of_first = shown(first, figures), of_second = shown(second, figures);
  Json passage = of_second;
  passage["value"] =
      fmt::format("{} → {}", of_first["value"].get<std::string>(), of_second["value"].get<std::string>());
  passage["u95"] = "";
  return passage;
}

std::string pair_html(const PairPage& pair) {
  Page page;
  page.title = fmt::format("{} → {}", name_of(pair.first), name_of(pair.second));
  page.subtitle = fmt::format("{} {} · {} {} · corefleck {}",
                              pair.first_word,
                              valid_utf8(taken_words(pair.first.face.photo)),
                              pair.second_word,
                              valid_utf8(taken_words(pair.second.face.photo)),
                              pair.command);
  page.program_version = valid_utf8(pair.first.context.program_version);
  page.skip = {"spots", "Skip to the table of spots"};
  page.head = head_of(pair);
  page.sections = {picture_section(pair), figures_of(pair), cautions_of(pair)};
  page.sections.push_back(
      plots_section("plots-section", "Plots", pair.plots_note, fmt::format("{} holds", pair.table_file)));
  page.sections.push_back(
      {"spots",
       "Spot by spot",
       "pair_rows.mustache",
       {{"table_file", pair.table_file}, {"first_word", pair.first_word}, {"kinds", kinds_json(pair)}}});
  page.sections.push_back(uncertainty_of(pair));
  page.sections.push_back(registration_of(pair));
  page.sections.push_back(identity_of(pair));
  page.scripts = {"elements.js",
                  "picture.js",
                  "curtain.js",
                  "plot_frame.js",
                  "sorted_table.js",
                  "pair_views.js",
                  "pair_page.js"};
  page.island = island_of(pair);
  return page_html(page);
}

}  // namespace corefleck
