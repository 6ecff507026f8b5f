#include "plate_key.hpp"

#include "lettering.hpp"
#include "number_text.hpp"
#include "outlines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <numbers>

namespace corefleck {
namespace {

constexpr double kSwatchWidth = 92.0, kSwatchHeight = 34.0, kRowHeight = 50.0;
constexpr TextStyle kRingText{.size_px = kSmallSize, .bold = false, .colour = kMuted};

/// Rows of the key are added one below the other.
class Key {
 public:
  Key(cairo_t* cairo, const PageBox& box) : cairo_(cairo), box_(box), y_(box.y) {}
  void add(const OutlineStyle& style, std::string_view text) {
    swatch();
    cairo_move_to(cairo_, box_.x + 8.0, y_ + 0.5 * kSwatchHeight);
    cairo_line_to(cairo_, box_.x + kSwatchWidth - 8.0, y_ + 0.5 * kSwatchHeight);
    stroke_cased(cairo_, style);
    label(text);
  }
  void add(HatchStyle style, std::string_view text) {
    swatch();
    draw_hatch(cairo_, style, box_.x, y_, kSwatchWidth, kSwatchHeight);
    label(text);
  }
  [[nodiscard]] double height() const { return y_ - box_.y; }

 private:
  void swatch() {
    cairo_rectangle(cairo_, box_.x, y_, kSwatchWidth, kSwatchHeight);
    set_ink(cairo_, kSwatch);
    cairo_fill(cairo_);
  }
  void label(std::string_view text) {
    write_text(cairo_, {}, {box_.x + kSwatchWidth + 18.0, y_ + 2.0, Align::left, {}, false}, text);
    y_ += kRowHeight;
  }
  cairo_t* cairo_;
  PageBox box_;
  double y_;
};

bool holds(const cv::Mat& outside, Outside value) {
  for (int row = 0; row < outside.rows; ++row)
    if (std::memchr(outside.ptr(row), static_cast<int>(value), static_cast<std::size_t>(outside.cols)) !=
        nullptr)
      return true;
  return false;
}

/// Longest step of 10 mm, or of a tenth of that where a small core fills the plate, that fits.
double step_mm(double longest_px, double px_per_mm) {
  for (const double step : {10.0, 5.0, 1.0})
    if (step * px_per_mm <= longest_px) return step;
  return 0.1;
}

}  // namespace

void draw_clock_ring(cairo_t* cairo, const FaceFrame& frame) {
  constexpr int kMarks = 12;
  for (int mark = 0; mark < kMarks; ++mark) {
    const double angle = 2.0 * std::numbers::pi * mark / kMarks;
    const double inner = frame.radius + 9.0, outer = inner + (mark % 3 == 0 ? 17.0 : 9.0);
    cairo_move_to(cairo, frame.centre_x + inner * std::sin(angle), frame.centre_y - inner * std::cos(angle));
    cairo_line_to(cairo, frame.centre_x + outer * std::sin(angle), frame.centre_y - outer * std::cos(angle));
  }
  set_ink(cairo, kMuted);
  cairo_set_line_width(cairo, 2.0);
  cairo_stroke(cairo);
  const double away = frame.radius + 32.0, half = 0.6 * kSmallSize;
  const auto write = [&](double x, double y, Align align, std::string_view text) {
    write_text(cairo, kRingText, {x, y, align, {}, false}, text);
  };
  write(frame.centre_x, frame.centre_y - away - 2.0 * half, Align::centre, "0° top of the photo");
  write(frame.centre_x + away, frame.centre_y - half, Align::left, "90°");
  write(frame.centre_x, frame.centre_y + away - 2.0, Align::centre, "180°");
  write(frame.centre_x - away, frame.centre_y - half, Align::right, "270°");
}

double draw_scale_bar(cairo_t* cairo, double x, double y, double longest_px, double px_per_mm) {
  const double step = step_mm(longest_px, px_per_mm);
  const int steps = std::clamp(static_cast<int>(longest_px / (step * px_per_mm)), 1, 5);
  constexpr double kHeight = 15.0;
  for (int i = 0; i < steps; ++i) {
    cairo_rectangle(cairo, x + i * step * px_per_mm, y, step * px_per_mm, kHeight);
    set_ink(cairo, i % 2 == 0 ? kText : kPaper);
    cairo_fill_preserve(cairo);
    set_ink(cairo, kText);
    cairo_set_line_width(cairo, 2.0);
    cairo_stroke(cairo);
  }
  for (int i = 0; i <= steps; ++i) {
    const std::string text = significant(i * step, 2) + (i == steps ? " mm" : "");
    // The unit hangs over, so that every figure stands under its own edge.
    const double shift = i == steps ? 0.5 * text_size(cairo, {}, " mm").width : 0.0;
    write_text(
        cairo, {}, {x + i * step * px_per_mm + shift, y + kHeight + 8.0, Align::centre, {}, false}, text);
  }
  return kHeight + 8.0 + 1.3 * kTextSize;
}

double draw_key(cairo_t* cairo, const PageBox& box, const SpotMap& spots, Millimetres rim_band) {
  Key key(cairo, box);
  if (!spots.spots.empty()) key.add(spot_style(0), "spot, outline at half its contrast");
  if (!spots.pits.empty()) key.add(pit_style(), "pit");
  if (!spots.glare.empty()) key.add(glare_style(), "glare, not measured");
  if (holds(spots.outside, Outside::rim_band))
    key.add(*hatch_of(Outside::rim_band),
            fmt::format("rim band of {} mm, not measured", significant(rim_band.number(), 2)));
  if (holds(spots.outside, Outside::chip)) key.add(*hatch_of(Outside::chip), "chip in the rim, not measured");
  if (holds(spots.outside, Outside::edit))
    key.add(*hatch_of(Outside::edit), "left out by hand, not measured");
  return key.height();
}

}  // namespace corefleck
