#include "pair_page.hpp"

#include "drawn_page.hpp"
#include "lettering.hpp"
#include "neutral.hpp"
#include "photo_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr int kLongestPage = 4200;  // drawn on more paper than any plate needs, and cut where the text ends
constexpr TextStyle kLabel{.size_px = kSmallSize, .bold = false, .colour = kMuted};
constexpr TextStyle kBody{.size_px = kTextSize, .bold = false, .colour = kText};
constexpr TextStyle kFigure{.size_px = kValueSize, .bold = false, .colour = kText};

void draw_rule(cairo_t* cairo, double y) {
  cairo_move_to(cairo, kMargin, y);
  cairo_line_to(cairo, kPairRight, y);
  set_ink(cairo, kRule);
  cairo_set_line_width(cairo, 2.0);
  cairo_stroke(cairo);
}

std::string photo_words(std::string_view role, const MeasuredFace& face) {
  const Photo& photo = face.photo;
  return fmt::format(
      "{}: {}   ·   {}{}", role, photo.path.filename().string(), taken_words(photo), hash_words(photo));
}

}  // namespace

void draw_pair_title(cairo_t* cairo,
                     std::string_view heading,
                     const std::pair<std::string_view, const MeasuredFace*>& first,
                     const std::pair<std::string_view, const MeasuredFace*>& second) {
  constexpr double kContent = kPairRight - kMargin;
  write_text(cairo,
             {.size_px = kTitleSize, .bold = true, .colour = kText},
             {kMargin, 50.0, Align::left, kContent, true},
             heading);
  const TextStyle muted{.size_px = kTextSize, .bold = false, .colour = kMuted};
  write_text(
      cairo, muted, {kMargin, 118.0, Align::left, kContent, true}, photo_words(first.first, *first.second));
  write_text(
      cairo, muted, {kMargin, 158.0, Align::left, kContent, true}, photo_words(second.first, *second.second));
  draw_rule(cairo, kPairRuleY);
}

double draw_pair_foot(cairo_t* cairo, double y, std::string_view note, const std::string& version) {
  draw_rule(cairo, y);
  const double height =
      write_text(cairo, kLabel, {kMargin, y + 20.0, Align::left, 1400.0, false}, kNeutralSentence).height;
  write_text(
      cairo, kLabel, {kPairRight, y + 20.0, Align::right, {}, false}, fmt::format("corefleck {}", version));
  write_text(cairo, kLabel, {kPairRight, y + 20.0 + 1.36 * kSmallSize, Align::right, {}, false}, note);
  return y + 20.0 + height + kMargin;
}

double draw_pair_figures(cairo_t* cairo, const PageBox& box, const std::vector<PairFigure>& figures) {
  double y = box.y;
  for (const PairFigure& figure : figures) {
    y += write_text(cairo, kLabel, {box.x, y, Align::left, box.width, false}, figure.label).height + 1.0;
    const double width = write_text(cairo, kFigure, {box.x, y, Align::left, {}, false}, figure.value).width;
    write_text(cairo, kBody, {box.x + width + 9.0, y + 14.0, Align::left, {}, false}, figure.unit);
    y += 50.0;
    if (!figure.note.empty())
      y += write_text(cairo, kBody, {box.x, y, Align::left, box.width, false}, figure.note).height;
    y += 24.0;
  }
  return y;
}

std::string scale_words(const Registration& registration,
                        const FaceMeasurement& first,
                        const FaceMeasurement& second) {
  const auto off = scale_disagreement(registration, first, second);
  return off ? fmt::format("Look twice: the photos' scales disagree by {:+.1f} %", 100.0 * *off)
             : std::string();
}

Result<std::string> page_png(std::string_view name, const std::function<double(cairo_t*)>& draw) {
  return drawn_page({name, "free some memory and compare these photos alone", kLongestPage}, draw);
}

}  // namespace corefleck
