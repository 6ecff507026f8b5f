#include "plate.hpp"

#include "face_frame.hpp"
#include "lettering.hpp"
#include "neutral.hpp"
#include "number_text.hpp"
#include "numbers.hpp"
#include "outlines.hpp"
#include "photo_words.hpp"
#include "plate_key.hpp"
#include "size_histogram.hpp"
#include "tables.hpp"

#include "corefleck/beside.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <new>
#include <optional>
#include <vector>

namespace corefleck {
namespace {

constexpr double kRight = kPlateWidth - kMargin;
constexpr double kContent = kRight - kMargin;
constexpr double kRulerY = 172.0;
constexpr double kFaceCentreX = kMargin + 62.0 + 0.5 * kFaceDiameter;
constexpr double kFaceCentreY = kRulerY + 82.0 + 0.5 * kFaceDiameter;
constexpr double kFiguresX = 1728.0;
constexpr double kNotesY = kFaceCentreY + 0.5 * kFaceDiameter + 92.0;
// Drawn on more paper than the plate needs, and cut where the text ends: the notes without cautions, each of
// which may run over eight lines, and the foot.
constexpr double kNotesHeight = 650.0, kLongestCaution = 300.0, kFootHeight = 200.0;
constexpr double kLongestPlate = 3400.0;

constexpr TextStyle kHeading{.size_px = kHeadingSize, .bold = true, .colour = kText};
constexpr TextStyle kLabel{.size_px = kSmallSize, .bold = false, .colour = kMuted};
constexpr TextStyle kFigure{.size_px = kValueSize, .bold = false, .colour = kText};
constexpr TextStyle kBody{.size_px = kTextSize, .bold = false, .colour = kText};

TextPlace at(double x, double y) { return {x, y, Align::left, {}, false}; }
TextPlace at(double x, double y, double width) { return {x, y, Align::left, width, false}; }

void draw_rule(cairo_t* cairo, double y) {
  cairo_move_to(cairo, kMargin, y);
  cairo_line_to(cairo, kRight, y);
  set_ink(cairo, kRule);
  cairo_set_line_width(cairo, 2.0);
  cairo_stroke(cairo);
}

void draw_title(cairo_t* cairo, const MeasuredFace& measured, FaceState state) {
  const Photo& photo = measured.photo;
  write_text(cairo,
             {.size_px = kTitleSize, .bold = true, .colour = kText},
             {kMargin, 50.0, Align::left, kContent, true},
             photo.path.filename().string());
  std::string words = taken_words(photo);
  words += state == FaceState::unknown ? "   ·   state not stated" : fmt::format("   ·   {}", name(state));
  words += hash_words(photo);
  write_text(cairo,
             {.size_px = kTextSize, .bold = false, .colour = kMuted},
             {kMargin, 118.0, Align::left, kContent, true},
             words);
  draw_rule(cairo, kRulerY);
}

/// One figure of the column beside the face: what it is, the figure, and what qualifies it.
struct FigureEntry {
  std::string label, value, unit;
  std::string note;
};

std::string plus_minus(const std::string& u95, std::string_view unit) {
  return u95.empty() ? std::string() : fmt::format("± {}{}", u95, unit);
}

FigureEntry entry_of_contrast(const FaceMeasurement& f) {
  if (f.contrast_dL) {
    const ReadingText text = reading(f.contrast_dL->value.number(), kCoverage95 * f.contrast_dL->u.number());
    return {"Contrast ΔL*", text.value, "", plus_minus(text.u95, "")};
  }
  if (f.contrast_weber) return {"Weber contrast", significant(*f.contrast_weber, 3), "", ""};
  return {"Contrast", "–", "", f.spot_count == 0 ? "" : "not measured"};
}

std::vector<FigureEntry> figure_entries(const FaceMeasurement& f, int numbered) {
  const auto lightness_text = [](const std::optional<Lightness>& value) {
    return value ? fixed(value->number(), 1) : std::string("–");
  };
  const ReadingText fraction =
      reading(f.area_fraction.value.number(), kCoverage95 * f.area_fraction.u.number());
  const ReadingText diameter =
      reading(f.core_diameter.value.number(), kCoverage95 * f.core_diameter.u.number());
  std::vector<FigureEntry> entries;
  entries.push_back({"Spots", fmt::format("{}", f.spot_count), "", ""});
  if (numbered < f.spot_count) entries.back().note = fmt::format("{} have room for a number", numbered);
  entries.push_back({"Area fraction", fraction.value, "%", plus_minus(fraction.u95, " %")});
  entries.push_back(entry_of_contrast(f));
  entries.push_back({"Spot L*", lightness_text(f.spot_L), "", ""});
  entries.push_back({"Matrix L*", lightness_text(f.matrix_L), "", ""});
  if (f.ecd_d50) {
    entries.push_back({"Median ECD", fixed(f.ecd_d50->number(), 2), "mm", ""});
    if (f.ecd_max) entries.back().note = fmt::format("largest {} mm", fixed(f.ecd_max->number(), 2));
  } else {
    entries.push_back({"Median ECD", "–", "", ""});
  }
  entries.push_back({"Pits", fmt::format("{}", f.pit_count), "", ""});
  entries.push_back({"Core diameter", diameter.value, "mm", plus_minus(diameter.u95, " mm")});
  entries.push_back({"Scale",
                     significant(1000.0 * f.scale.value.number(), 4),
                     "µm/px",
                     plus_minus(significant(100.0 * kCoverage95 * f.scale.u / f.scale.value, 2), " %")});
  return entries;
}

void draw_figures(cairo_t* cairo, const FaceMeasurement& figures, int numbered) {
  double y = kRulerY + 34.0;
  for (const FigureEntry& entry : figure_entries(figures, numbered)) {
    write_text(cairo, kLabel, at(kFiguresX, y), entry.label);
    const double width = write_text(cairo, kFigure, at(kFiguresX, y + 27.0), entry.value).width;
    write_text(cairo, kBody, at(kFiguresX + width + 9.0, y + 41.0), entry.unit);
    y += 103.0;
    if (!entry.note.empty())
      y += write_text(cairo, kBody, at(kFiguresX, y - 26.0, kRight - kFiguresX), entry.note).height + 7.0;
  }
  write_text(cairo, kLabel, at(kFiguresX, y, kRight - kFiguresX), "± half-width of the 95 % interval");
}

FaceFrame plate_frame(const CalibratedFace& face) {
  return face_frame(face, kFaceCentreX, kFaceCentreY, kFaceDiameter);
}

/// The page's pixels within a box, for another thread to draw on: it may not share the page's own surface.
CairoSurface part_of_page(cairo_t* page, const cv::Rect& box) {
  cairo_surface_t* whole = cairo_get_target(page);
  cairo_surface_flush(whole);
  const int stride = cairo_image_surface_get_stride(whole);
  unsigned char* first = cairo_image_surface_get_data(whole) + static_cast<std::ptrdiff_t>(box.y) * stride +
                         static_cast<std::ptrdiff_t>(box.x) * 4;
  CairoSurface part(
      cairo_image_surface_create_for_data(first, CAIRO_FORMAT_RGB24, box.width, box.height, stride));
  cairo_surface_set_device_offset(part.get(), -box.x, -box.y);
  return part;
}

/// The face and the lines on it, no words: fonts are loaded anew for every thread that writes.
void draw_face(const CairoSurface& part, const MeasuredFace& measured, const FaceFrame& frame) {
  const CairoContext cairo(cairo_create(part.get()));
  paint_face(
      cairo.get(), measured.picture.empty() ? framed_picture(measured.face, frame) : measured.picture, frame);
  draw_regions(cairo.get(), frame, measured.spots);
  if (cairo_status(cairo.get()) == CAIRO_STATUS_NO_MEMORY) throw std::bad_alloc();
}

/// Where `draw_face` draws: lines along the rim reach a little beyond it.
cv::Rect face_box(const FaceFrame& frame) {
  constexpr double kBeyondRim = 8.0;
  const double reach = frame.radius + kBeyondRim;
  const cv::Point first(static_cast<int>(frame.centre_x - reach), static_cast<int>(frame.centre_y - reach));
  const int side = static_cast<int>(2.0 * reach) + 1;
  return {first, cv::Size(side, side)};
}

double draw_cautions(cairo_t* cairo, const PageBox& box, const std::vector<Caution>& cautions) {
  write_text(cairo, kHeading, at(box.x, box.y), cautions.empty() ? "No cautions" : "Look twice");
  double y = box.y + 50.0;
  for (const Caution& caution : cautions) {
    std::string words(meaning(caution.kind));
    if (!words.empty() && words[0] >= 'a' && words[0] <= 'z')
      words[0] = static_cast<char>(words[0] - 'a' + 'A');
    if (!caution.detail.empty()) words += fmt::format(" ({})", caution.detail);
    write_text(cairo, kBody, at(box.x, y), "•");
    y += write_text(cairo, kBody, at(box.x + 24.0, y, box.width - 24.0), words).height + 12.0;
  }
  return y - box.y;
}

/// The row below the face: scale and key, sizes, cautions. Gives back its lower edge.
double draw_notes(cairo_t* cairo, const MeasuredFace& measured, const FaceFrame& frame) {
  const double px_per_mm = frame.px_per_grid / measured.face.grid.pitch.number();
  double key_y = kNotesY + 4.0;
  key_y += draw_scale_bar(cairo, kMargin + 1.0, key_y, 520.0, px_per_mm) + 34.0;
  key_y += draw_key(cairo, {kMargin, key_y, 580.0, 0.0}, measured.spots, measured.face.rim_band);

  constexpr double kSizesX = 700.0;
  const double sizes_height = measured.figures.sizes.empty() ? 60.0 : 330.0;
  write_text(cairo, kHeading, at(kSizesX, kNotesY), "Spots by size");
  draw_size_histogram(cairo, {kSizesX, kNotesY + 46.0, 590.0, sizes_height}, measured.figures.sizes);

  constexpr double kCautionsX = 1370.0;
  const double cautions =
      draw_cautions(cairo, {kCautionsX, kNotesY, kRight - kCautionsX, 0.0}, measured.figures.cautions);
  return std::max({key_y, kNotesY + 46.0 + sizes_height, kNotesY + cautions});
}

double draw_foot(cairo_t* cairo, double y, const std::string& version) {
  draw_rule(cairo, y);
  const double height = write_text(cairo, kLabel, at(kMargin, y + 20.0, 1500.0), kNeutralSentence).height;
  write_text(
      cairo, kLabel, {kRight, y + 20.0, Align::right, {}, false}, fmt::format("corefleck {}", version));
  write_text(cairo,
             kLabel,
             {kRight, y + 20.0 + 1.36 * kSmallSize, Align::right, {}, false},
             "picture brightness: for reading only");
  return y + 20.0 + height;
}

double draw_plate(cairo_t* cairo,
                  const MeasuredFace& measured,
                  const RecordContext& context,
                  const PlateOptions& options) {
  const FaceFrame frame = plate_frame(measured.face);
  const CairoSurface part = part_of_page(cairo, face_box(frame));
  auto face = beside([&] { draw_face(part, measured, frame); });
  draw_title(cairo, measured, context.state);
  const double notes_end = draw_notes(cairo, measured, frame);
  const double foot = draw_foot(cairo, notes_end + 44.0, context.program_version);
  const SpotNumbers numbers = options.numbers ? spot_numbers(cairo, frame, measured.spots) : SpotNumbers{};
  draw_figures(cairo,
               measured.figures,
               options.numbers ? static_cast<int>(numbers.placed.size()) : measured.figures.spot_count);
  face.get();
  cairo_surface_mark_dirty(cairo_get_target(cairo));
  draw_clock_ring(cairo, frame);
  draw_numbers(cairo, numbers);
  return foot + kMargin;
}

int paper_height(const std::vector<Caution>& cautions) {
  const double notes = std::max(kNotesHeight, 50.0 + kLongestCaution * static_cast<double>(cautions.size()));
  return static_cast<int>(std::min(kLongestPlate, kNotesY + notes + kFootHeight));
}

}  // namespace

std::future<cv::Mat> plate_picture(const CalibratedFace& face) {
  return beside([&face] {
    load_fonts();
    return framed_picture(face, plate_frame(face));
  });
}

Result<DrawnPage> drawn_plate(const MeasuredFace& measured,
                              const RecordContext& context,
                              const PlateOptions& options) {
  return DrawnPage::drawn({"overlay.png",
                           "free some memory and measure this photo alone, with --jobs 1",
                           paper_height(measured.figures.cautions)},
                          [&](cairo_t* cairo) { return draw_plate(cairo, measured, context, options); });
}

Result<std::string> plate_png(const MeasuredFace& measured,
                              const RecordContext& context,
                              const PlateOptions& options) {
  return drawn_plate(measured, context, options).and_then([](const DrawnPage& page) { return page.png(); });
}

}  // namespace corefleck
