#include "sheets.hpp"

#include "noise.hpp"

#include <cairo.h>
#include <fmt/format.h>

#include <cmath>
#include <string>

namespace scenes {
namespace {

constexpr float kInkPxPerMm = 14.0f;

Rgb grey(double Y) { return Rgb::all(static_cast<float>(Y)); }

float band_coverage(const Band& band, cv::Point2f uv, float px_mm) {
  const auto covered = [px_mm](float low, float high, float at) {
    return clamp_unit((std::min(high, at + px_mm / 2) - std::max(low, at - px_mm / 2)) / px_mm);
  };
  return covered(band.u0, band.u1, uv.x) * covered(band.v0, band.v1, uv.y);
}

/// An 8-bit cairo canvas over a sheet, in mm, origin at the sheet's centre, v up.
class InkCanvas {
 public:
  InkCanvas(float width_mm, float height_mm, float px_per_mm)
      : mask_(cv::Mat1b::zeros(static_cast<int>(std::ceil(height_mm * px_per_mm)) + 1,
                               ((static_cast<int>(width_mm * px_per_mm) + 4) / 4 + 1) * 4)),
        surface_(cairo_image_surface_create_for_data(
            mask_.data, CAIRO_FORMAT_A8, mask_.cols, mask_.rows, static_cast<int>(mask_.step))),
        context_(cairo_create(surface_)) {
    cairo_scale(context_, px_per_mm, px_per_mm);
    cairo_translate(context_, width_mm / 2, height_mm / 2);
  }
  InkCanvas(const InkCanvas&) = delete;
  InkCanvas& operator=(const InkCanvas&) = delete;
  ~InkCanvas() {
    cairo_destroy(context_);
    cairo_surface_destroy(surface_);
  }

  void line(double u0, double v0, double u1, double v1, double width_mm) {
    cairo_set_line_width(context_, width_mm);
    cairo_move_to(context_, u0, -v0);
    cairo_line_to(context_, u1, -v1);
    cairo_stroke(context_);
  }
  void text(double u, double v, double height_mm, const std::string& words, bool centred) {
    cairo_select_font_face(context_, "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(context_, height_mm * 1.35);
    cairo_text_extents_t extents;
    cairo_text_extents(context_, words.c_str(), &extents);
    cairo_move_to(context_, centred ? u - extents.width / 2 : u, -v);
    cairo_show_text(context_, words.c_str());
  }
  [[nodiscard]] cv::Mat1b mask() {
    cairo_surface_flush(surface_);
    return mask_.clone();
  }

 private:
  cv::Mat1b mask_;
  cairo_surface_t* surface_;
  cairo_t* context_;
};

std::string invented_line(Random& random, int words) {
  constexpr const char* kSyllables[] = {
      "ba", "lo", "ren", "ti", "mur", "sa", "ke", "vol", "ni", "do", "tar", "es", "um", "fi"};
  std::string line;
  for (int word = 0; word < words; ++word) {
    if (word > 0) line += ' ';
    if (random.chance(0.2))
      line += fmt::format("{}", random.integer(1, 999));
    else
      for (int part = random.integer(1, 4); part > 0; --part) line += kSyllables[random.integer(0, 13)];
  }
  return line;
}

}  // namespace

cv::Point2d Sheet::to_plane(double u, double v) const {
  // The shift is stated at the place that is looked for; it is so small that four rounds settle it.
  cv::Point2d at(u, v);
  for (int round = 0; round < 4; ++round) at = cv::Point2d(u, v) + shift.at(at.x, at.y);
  const double c = std::cos(angle), s = std::sin(angle);
  return {centre.x + c * at.x - s * at.y, centre.y + s * at.x + c * at.y};
}

cv::Point2f Sheet::to_sheet(cv::Point2f mm) const {
  const float c = std::cos(static_cast<float>(angle)), s = std::sin(static_cast<float>(angle));
  const float x = mm.x - static_cast<float>(centre.x), y = mm.y - static_cast<float>(centre.y);
  const cv::Point2f at(c * x + s * y, c * y - s * x);
  return at - cv::Point2f(shift.at(at.x, at.y));
}

std::array<cv::Point2d, 4> Sheet::corners(float u0, float v0, float u1, float v1) const {
  return {to_plane(u0, v1), to_plane(u1, v1), to_plane(u1, v0), to_plane(u0, v0)};
}

float Sheet::coverage(cv::Point2f uv, float px_mm) const {
  return band_coverage({-half_width, -half_height, half_width, half_height, {}}, uv, px_mm);
}

float Sheet::distance(cv::Point2f uv) const {
  return std::hypot(std::max(std::abs(uv.x) - half_width, 0.0f),
                    std::max(std::abs(uv.y) - half_height, 0.0f));
}

Rgb Sheet::albedo(cv::Point2f uv, float px_mm) const {
  Rgb colour = bands.front().albedo;
  for (std::size_t index = 1; index < bands.size(); ++index) {
    const float share = band_coverage(bands[index], uv, px_mm);
    if (share > 0) colour = colour * (1 - share) + bands[index].albedo * share;
  }
  if (!ink.empty()) {
    const cv::Mat1b& mask = ink;
    const float column = (uv.x + half_width) * ink_px_per_mm - 0.5f,
                row = (half_height - uv.y) * ink_px_per_mm - 0.5f;
    // Four readings a pixel: thin ticks would otherwise come and go with the pixel grid.
    const float step = 0.25f * px_mm * ink_px_per_mm;
    float share = 0;
    for (const float dy : {-step, step})
      for (const float dx : {-step, step}) {
        const int i = std::clamp(static_cast<int>(std::lround(column + dx)), 0, mask.cols - 1);
        const int j = std::clamp(static_cast<int>(std::lround(row + dy)), 0, mask.rows - 1);
        share += static_cast<float>(mask(j, i)) / (4 * 255.0f);
      }
    colour = colour * (1 - share) + ink_albedo * share;
  }
  return colour;
}

GreyCard make_card(const ObjectsStyle& style, const Deviations& deviations, Random random) {
  GreyCard card;
  const float w = static_cast<float>(style.card_width_mm), h = static_cast<float>(style.card_height_mm);
  const float border = static_cast<float>(style.card_border_mm);
  const int patches = style.patches ? random.integer(1, 3) : 0;
  const float side = std::min(h, w) * static_cast<float>(random.uniform(0.22, 0.35));
  const float extra = patches > 0 ? side + 4 : 0;
  Sheet& sheet = card.sheet;
  sheet.half_width = w / 2 + border + extra / 2;
  sheet.half_height = h / 2 + border;
  const double carrier_Y =
      style.patches && random.chance(0.5) ? random.uniform(0.5, 0.85) : random.uniform(0.03, 0.08);
  sheet.bands.push_back(
      {-sheet.half_width, -sheet.half_height, sheet.half_width, sheet.half_height, grey(carrier_Y)});
  const float left = -sheet.half_width + border;
  card.grey = {left, -h / 2, left + w, h / 2, grey(style.card_reflectance * (1 + deviations.card_level))};
  sheet.bands.push_back(card.grey);
  const double patch_Y[] = {random.uniform(0.78, 0.9), random.uniform(0.03, 0.05), random.uniform(0.35, 0.6)};
  for (int index = 0; index < patches; ++index) {
    const float top = h / 2 - static_cast<float>(index) * (side + 2);
    if (top - side < -h / 2) break;
    sheet.bands.push_back({left + w + 2, top - side, left + w + 2 + side, top, grey(patch_Y[index])});
  }
  sheet.tooth = static_cast<float>(random.uniform(0.004, 0.02));
  return card;
}

namespace {

void print_figures(
    ScaleBar& bar, const ObjectsStyle& style, float blocks_low, bool dark_strip, Random& random) {
  Sheet& sheet = bar.sheet;
  InkCanvas canvas(2 * sheet.half_width, 2 * sheet.half_height, kInkPxPerMm);
  const double gap = random.uniform(0.3, 1.0), tall = random.uniform(1.6, 2.6);
  const double ticks_room = style.ticks ? 2.4 : 0;
  if (style.ticks) {
    const int count = static_cast<int>(std::lround(bar.u1 - bar.u0));
    for (int mm = 0; mm <= count; ++mm) {
      const double length = mm % 10 == 0 ? 2.2 : mm % 5 == 0 ? 1.7 : 1.1;
      canvas.line(bar.u0 + mm, blocks_low - gap, bar.u0 + mm, blocks_low - gap - length, 0.18);
    }
  }
  if (style.text) {
    const double base = blocks_low - gap - ticks_room - tall - 0.3;
    for (int block = 0; block <= style.bar_blocks; ++block)
      canvas.text(bar.u0 + block * style.block_mm,
                  base,
                  tall,
                  fmt::format("{:g}", block * style.block_mm / 10),
                  true);
    if (2 * sheet.half_width > bar.u1 - bar.u0 + 10) canvas.text(bar.u1 + 2.2, base, tall, "cm", false);
  }
  sheet.ink = canvas.mask();
  sheet.ink_px_per_mm = kInkPxPerMm;
  sheet.ink_albedo = dark_strip ? grey(0.75) : grey(0.04);
}

}  // namespace

namespace {

// Without the line through first and last edge, which `put_off` gives the whole sheet: a strip that ends with
// its blocks ends where they do.
double edge_off(const Deviations& deviations, std::size_t edge) {
  const auto& off = deviations.bar_edges_mm;
  if (off.empty()) return 0;
  const double part = static_cast<double>(edge) / static_cast<double>(off.size() - 1);
  return off[edge] - (off.front() * (1 - part) + off.back() * part);
}

std::vector<float> block_edges(const ScaleBar& bar,
                               const ObjectsStyle& style,
                               const Deviations& deviations,
                               bool first_is_dark) {
  std::vector<float> edges;
  for (int edge = 0; edge <= style.bar_blocks; ++edge) {
    const bool inner = edge > 0 && edge < style.bar_blocks, dark_follows = (edge % 2 == 0) == first_is_dark;
    const double spread = inner ? (dark_follows ? -1 : 1) * deviations.ink_spread_mm : 0;
    edges.push_back(bar.u0 + static_cast<float>(edge * style.block_mm + spread +
                                                edge_off(deviations, static_cast<std::size_t>(edge))));
  }
  return edges;
}

}  // namespace

ScaleBar make_bar(const ObjectsStyle& style, const Deviations& deviations, Random random) {
  ScaleBar bar;
  const double white_Y = random.uniform(0.72, 0.88), dark_Y = style.bar_dark_Y;
  const float length = static_cast<float>(style.bar_blocks * style.block_mm),
              height = static_cast<float>(style.bar_height_mm);
  const bool figures = style.ticks || style.text;
  const float below = figures ? 6.5f : random.chance(0.4) ? 0.0f : static_cast<float>(random.uniform(0.5, 4));
  const float above = random.chance(0.4) ? 0.0f : static_cast<float>(random.uniform(0.5, 4));
  // An end block of the strip's own colour has no outer edge; without margin the strip itself ends there.
  const bool flush = !figures && !style.end_merges && random.chance(0.4);
  const float margin = flush ? 0.0f : static_cast<float>(random.uniform(2, 9));
  const bool first_dark = style.end_merges ? style.dark_strip : !style.dark_strip;
  Sheet& sheet = bar.sheet;
  sheet.half_width = length / 2 + margin;
  sheet.half_height = (height + above + below) / 2;
  sheet.bands.push_back({-sheet.half_width,
                         -sheet.half_height,
                         sheet.half_width,
                         sheet.half_height,
                         grey(style.dark_strip ? dark_Y : white_Y)});
  bar.u0 = -length / 2;
  bar.u1 = length / 2;
  const float low = -sheet.half_height + below;
  bar.v = low + height / 2;
  const bool first_is_dark = flush ? style.first_block_dark : first_dark;
  bar.edges = block_edges(bar, style, deviations, first_is_dark);
  for (std::size_t block = 0; block + 1 < bar.edges.size(); ++block) {
    const bool dark = (block % 2 == 0) == first_is_dark;
    sheet.bands.push_back(
        {bar.edges[block], low, bar.edges[block + 1], low + height, grey(dark ? dark_Y : white_Y)});
  }
  sheet.tooth = 0.006f;
  if (figures) print_figures(bar, style, low, style.dark_strip, random);
  return bar;
}

void put_off(GreyCard& card, const Deviations& deviations) {
  const auto& off = deviations.card_corners_mm;
  const double w = card.sheet.half_width, h = card.sheet.half_height;
  card.sheet.shift = {0.25 * (off[0] + off[1] + off[2] + off[3]),
                      0.25 / w * (off[1] + off[2] - off[0] - off[3]),
                      0.25 / h * (off[2] + off[3] - off[0] - off[1]),
                      0.25 / (w * h) * (off[0] + off[2] - off[1] - off[3])};
}

void put_off(ScaleBar& bar, const Deviations& deviations) {
  const auto& off = deviations.bar_edges_mm;
  if (off.empty()) return;
  const double length = bar.u1 - bar.u0;
  const double longer = deviations.bar_length + (off.back() - off.front()) / length;
  bar.sheet.shift = {{0.5 * (off.front() + off.back()), 0}, {longer, 0}, {}, {}};
}

cv::Mat1b draw_writing(float width_mm, float height_mm, float px_per_mm, float line_mm, Random& random) {
  InkCanvas canvas(width_mm, height_mm, px_per_mm);
  for (float v = height_mm / 2 - 1.6f * line_mm; v > -height_mm / 2 + 0.5f * line_mm; v -= 1.6f * line_mm)
    canvas.text(-width_mm / 2 + line_mm,
                v,
                line_mm * 0.75,
                invented_line(random, static_cast<int>(width_mm / line_mm / 5)),
                false);
  return canvas.mask();
}

Sheet make_paper(double card_reflectance, Random& random) {
  Sheet sheet;
  sheet.half_width = static_cast<float>(random.uniform(8, 28));
  sheet.half_height = static_cast<float>(random.uniform(6, 16));
  const int kind = random.integer(0, 2);
  Rgb colour = grey(random.uniform(0.6, 0.85));
  if (kind == 1) {  // a coloured note
    const auto part = [&] { return static_cast<float>(random.uniform(0.15, 0.85)); };
    colour = {part(), part(), part()};
  } else if (kind == 2) {  // another neutral thing, clearly not of the card's reflectance
    colour =
        grey(card_reflectance * (random.chance(0.5) ? random.uniform(0.35, 0.6) : random.uniform(1.5, 1.9)));
  }
  sheet.bands.push_back({-sheet.half_width, -sheet.half_height, sheet.half_width, sheet.half_height, colour});
  sheet.ink = draw_writing(2 * sheet.half_width,
                           2 * sheet.half_height,
                           kInkPxPerMm,
                           static_cast<float>(random.uniform(1.6, 4)),
                           random);
  sheet.ink_px_per_mm = kInkPxPerMm;
  sheet.ink_albedo = luminance(colour) > 0.2f ? grey(0.04) : grey(0.7);
  return sheet;
}

}  // namespace scenes
