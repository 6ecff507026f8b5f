#include "change_marks.hpp"

#include "change_signs.hpp"
#include "label_room.hpp"
#include "lettering.hpp"
#include "outlines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numbers>
#include <vector>

namespace corefleck {
namespace {

constexpr Ink kQuiet = ink(0x5C646A, 0.9);

struct MarkStyle {
  bool before_dotted, before_solid, after_solid;
  double filled;  // alpha of the after outline's filling
  bool hatched_before;
};

MarkStyle style_of(ChangeKind kind) {
  switch (kind) {
    case ChangeKind::fresh:
      return {false, false, true, 0.55, false};
    case ChangeKind::grown:
      return {true, false, true, 0.0, false};
    case ChangeKind::shrunk:
      return {true, false, true, 0.0, false};
    case ChangeKind::gone:
      return {true, false, false, 0.0, true};
    case ChangeKind::merged:
    case ChangeKind::split:
      return {true, false, true, 0.0, false};
    case ChangeKind::steady:
    case ChangeKind::unclear:
    case ChangeKind::unmeasured:
      break;
  }
  return {false, false, true, 0.0, false};
}

bool is_change(ChangeKind kind) { return kind != ChangeKind::steady && kind != ChangeKind::unmeasured; }

/// The outlines of one change, in plate coordinates.
struct Outlines {
  std::vector<const Region*> before, after;
};

Outlines outlines_of(const SpotChange& change, const SpotMap& before, const SpotMap& after) {
  Outlines outlines;
  for (const int id : change.before_ids) outlines.before.push_back(&before.spot(id));
  for (const int id : change.after_ids) outlines.after.push_back(&after.spot(id));
  return outlines;
}

void lay(cairo_t* cairo, const FaceFrame& frame, const std::vector<const Region*>& regions) {
  for (const Region* one : regions) {
    add_contour(cairo, frame, one->outline);
    for (const Contour& hole : one->holes) add_contour(cairo, frame, hole);
  }
}

void draw_outlines(cairo_t* cairo, const FaceFrame& frame, ChangeKind kind, const Outlines& outlines) {
  const MarkStyle style = style_of(kind);
  const auto& shown = outlines.after.empty() ? outlines.before : outlines.after;
  if (style.filled > 0.0) {
    lay(cairo, frame, outlines.after);
    set_ink(cairo, {kChangeLine.red, kChangeLine.green, kChangeLine.blue, style.filled});
    cairo_fill(cairo);
  }
  if (style.before_dotted) {
    lay(cairo, frame, outlines.before);
    stroke_haloed(cairo, kChangeLine, 2.0, LineStyle::dotted);
  }
  if (style.after_solid) {
    const bool quiet = kind == ChangeKind::steady || kind == ChangeKind::unmeasured;
    lay(cairo, frame, shown);
    stroke_haloed(cairo,
                  quiet ? kQuiet : kChangeLine,
                  quiet ? 1.5 : 2.4,
                  kind == ChangeKind::unmeasured ? LineStyle::dotted : LineStyle::solid);
  }
}

cv::Rect2d bounds_of(const FaceFrame& frame, const Outlines& outlines) {
  double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  for (const auto* regions : {&outlines.before, &outlines.after})
    for (const Region* one : *regions)
      for (const cv::Point2d& point : one->outline) {
        const cv::Point2d at = frame.of_grid(point);
        x0 = std::min(x0, at.x), y0 = std::min(y0, at.y), x1 = std::max(x1, at.x), y1 = std::max(y1, at.y);
      }
  return {x0, y0, x1 - x0, y1 - y0};
}

}  // namespace

std::string_view kind_words(ChangeKind kind) {
  switch (kind) {
    case ChangeKind::fresh:
      return "new";
    case ChangeKind::grown:
      return "grown";
    case ChangeKind::steady:
      return "steady";
    case ChangeKind::shrunk:
      return "shrunk";
    case ChangeKind::gone:
      return "gone";
    case ChangeKind::merged:
      return "merged";
    case ChangeKind::split:
      return "split";
    case ChangeKind::unclear:
      return "unclear";
    case ChangeKind::unmeasured:
      break;
  }
  return "not compared";
}

void draw_changes(cairo_t* cairo,
                  const FaceFrame& frame,
                  const FaceChanges& changes,
                  const SpotMap& before,
                  const SpotMap& after_laid) {
  std::vector<cv::Rect2d> taken;
  for (auto change = changes.changes.rbegin(); change != changes.changes.rend(); ++change) {
    const Outlines outlines = outlines_of(*change, before, after_laid);
    draw_outlines(cairo, frame, change->kind, outlines);
    taken.push_back(bounds_of(frame, outlines));
  }
  LabelRoom room(std::move(taken));
  const TextStyle style{.size_px = 22.0, .bold = true, .colour = kChangeLine};
  for (std::size_t row = 0; row < changes.changes.size(); ++row) {
    const SpotChange& change = changes.changes[row];
    if (!is_change(change.kind)) continue;
    const std::string number = fmt::format("{}", row + 1);
    const double half = sign_half_width(change.kind), text = text_size(cairo, style, number).width;
    const cv::Rect2d box = room.place(bounds_of(frame, outlines_of(change, before, after_laid)),
                                      {2.0 * half + 6.0 + text, 30.0});
    cairo_rectangle(cairo, box.x - 3.0, box.y, box.width + 6.0, box.height);
    set_ink(cairo, {1.0, 1.0, 1.0, 0.72});
    cairo_fill(cairo);
    draw_sign(cairo, change.kind, box.x + half, box.y + 15.0);
    write_text(cairo, style, {box.x + 2.0 * half + 6.0, box.y + 2.0, Align::left, {}, false}, number);
  }
}

void draw_key_mark(cairo_t* cairo, ChangeKind kind, double x, double y) {
  constexpr double kRadius = 14.0;
  const double middle = y + 20.0, spot = x + 78.0;
  draw_sign(cairo, kind, x + 26.0, middle);
  const auto circle = [&](double radius) {
    cairo_new_sub_path(cairo), cairo_arc(cairo, spot, middle, radius, 0.0, 2.0 * std::numbers::pi);
  };
  const MarkStyle style = style_of(kind);
  const bool grows = kind == ChangeKind::grown, shrinks = kind == ChangeKind::shrunk;
  if (style.filled > 0.0) {
    circle(kRadius);
    set_ink(cairo, {kChangeLine.red, kChangeLine.green, kChangeLine.blue, style.filled});
    cairo_fill(cairo);
  }
  if (style.before_dotted) {
    circle(grows ? 0.6 * kRadius : kRadius);
    stroke_haloed(cairo, kChangeLine, 2.0, LineStyle::dotted);
  }
  if (style.after_solid) {
    const bool quiet = kind == ChangeKind::steady || kind == ChangeKind::unmeasured;
    circle(shrinks ? 0.6 * kRadius : kRadius);
    stroke_haloed(cairo,
                  quiet ? kQuiet : kChangeLine,
                  quiet ? 1.5 : 2.4,
                  kind == ChangeKind::unmeasured ? LineStyle::dotted : LineStyle::solid);
  }
}

}  // namespace corefleck
