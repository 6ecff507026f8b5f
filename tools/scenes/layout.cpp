#include "layout.hpp"

#include "random.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>

namespace scenes {
namespace {

constexpr double kGapMm = 2.5;
constexpr double kSmallestCardMm = 40;

bool clear_of_core(const Sheet& sheet, const CorePlace& core) {
  const cv::Point2f uv = sheet.to_sheet(cv::Point2f(core.centre_mm));
  return sheet.distance(uv) > core.radius_mm + kGapMm;
}

// Separating axes: two rectangles are apart when they are apart along a side of one of them.
bool apart_along(const Sheet& a, const Sheet& b) {
  const auto corners = b.corners(-b.half_width, -b.half_height, b.half_width, b.half_height);
  double low_u = 1e9, high_u = -1e9, low_v = 1e9, high_v = -1e9;
  for (const auto& corner : corners) {
    const cv::Point2f uv = a.to_sheet(cv::Point2f(corner));
    low_u = std::min<double>(low_u, uv.x);
    high_u = std::max<double>(high_u, uv.x);
    low_v = std::min<double>(low_v, uv.y);
    high_v = std::max<double>(high_v, uv.y);
  }
  return low_u > a.half_width + kGapMm || high_u < -a.half_width - kGapMm || low_v > a.half_height + kGapMm ||
         high_v < -a.half_height - kGapMm;
}

bool fits(const Layout& layout, const Sheet& sheet) {
  for (const auto& corner :
       sheet.corners(-sheet.half_width, -sheet.half_height, sheet.half_width, sheet.half_height))
    if (!layout.camera.in_frame(corner, 0.012 * layout.camera.height)) return false;
  for (const auto& core : layout.cores)
    if (!clear_of_core(sheet, core)) return false;
  const auto placed = layout.sheets();
  return std::all_of(placed.begin(), placed.end(), [&](const Sheet* other) {
    return apart_along(sheet, *other) || apart_along(*other, sheet);
  });
}

bool place(const Layout& layout, Sheet& sheet, Random& random, int attempts) {
  for (int attempt = 0; attempt < attempts; ++attempt) {
    const cv::Point2d px(random.uniform(0, layout.camera.width), random.uniform(0, layout.camera.height));
    sheet.centre = layout.camera.to_mm(px);
    // People lay things roughly square to the frame, but not always.
    const double square = random.integer(0, 3) * std::numbers::pi / 2 + 0.06 * random.normal();
    sheet.angle = random.chance(0.6) ? square : random.uniform(0, 2 * std::numbers::pi);
    if (fits(layout, sheet)) return true;
  }
  return false;
}

bool core_in_frame(const Camera& camera, const CorePlace& core, double margin_px) {
  for (int step = 0; step < 32; ++step) {
    const double angle = step * std::numbers::pi / 16;
    if (!camera.in_frame(core.centre_mm + core.radius_mm * cv::Point2d(std::cos(angle), std::sin(angle)),
                         margin_px))
      return false;
  }
  return true;
}

cv::Point2d drawn_centre(const CameraStyle& style, cv::Size frame, double core_px, Random& random) {
  const double x = random.uniform(), y = random.uniform(), side = random.uniform();
  const double room_x = std::max(frame.width - core_px * 1.04, 0.0),
               room_y = std::max(frame.height - core_px * 1.04, 0.0);
  if (style.clip_core)
    return {side < 0.5 ? 0.25 * core_px : frame.width - 0.25 * core_px, frame.height * (0.35 + 0.3 * y)};
  return {0.5 * frame.width + (x - 0.5) * room_x, 0.5 * frame.height + (y - 0.5) * room_y};
}

bool place_second_core(Layout& layout, Random& random) {
  for (int attempt = 0; attempt < 300; ++attempt) {
    const CorePlace core{layout.camera.to_mm({random.uniform(0, layout.camera.width),
                                              random.uniform(0, layout.camera.height)}),
                         layout.cores.front().radius_mm,
                         random.uniform(0, 6.28)};
    const bool apart = cv::norm(core.centre_mm - layout.cores.front().centre_mm) > 2 * core.radius_mm + 4;
    if (!apart || !core_in_frame(layout.camera, core, 8)) continue;
    layout.cores.push_back(core);
    return true;
  }
  return false;
}

bool place_all(Layout& layout, const SceneStyle& style, const ObjectsStyle& objects, Random& random) {
  if (objects.second_core && !place_second_core(layout, random)) return false;
  if (objects.card) {
    GreyCard card = make_card(objects, style.deviations, Random(style.seed, "card"));
    if (!place(layout, card.sheet, random, 150)) return false;
    layout.card = card;
  }
  if (objects.bar) {
    ScaleBar bar = make_bar(objects, style.deviations, Random(style.seed, "bar"));
    if (!place(layout, bar.sheet, random, 250)) return false;
    layout.bar = bar;
  }
  if (objects.second_bar) {
    Sheet second = make_bar(objects, style.deviations, Random(style.seed, "bar")).sheet;
    if (!place(layout, second, random, 250)) return false;
    layout.others.push_back(second);
  }
  return true;
}

}  // namespace

std::vector<const Sheet*> Layout::sheets() const {
  std::vector<const Sheet*> all;
  if (card) all.push_back(&card->sheet);
  if (bar) all.push_back(&bar->sheet);
  for (const auto& sheet : others) all.push_back(&sheet);
  return all;
}

Layout make_layout(const SceneStyle& style, cv::Size frame) {
  Random random(style.pose_seed, "layout");
  double core_px = style.camera.core_size * frame.height;
  const double radius = style.face.diameter_mm / 2;
  ObjectsStyle objects = style.objects;
  // Whoever fills the frame with the core has brought a small card; others step back.
  const bool smaller_card_first = random.chance(0.6);
  for (int attempt = 0; attempt < 300; ++attempt) {
    Layout layout;
    const cv::Point2d centre = drawn_centre(style.camera, frame, core_px, random);
    layout.camera = make_camera(style.camera, frame, centre, core_px, style.face.diameter_mm);
    layout.cores.push_back({{0, 0}, radius, style.camera.turn_rad});
    const bool whole = core_in_frame(layout.camera, layout.cores.front(), 0.008 * frame.height);
    if ((whole || style.camera.clip_core) && place_all(layout, style, objects, random)) {
      Random papers(style.seed, "papers");
      for (int paper = 0; paper < style.objects.papers; ++paper) {
        Sheet sheet = make_paper(style.objects.card_reflectance, papers);
        if (place(layout, sheet, random, 150)) layout.others.push_back(sheet);
      }
      if (!style.objects.core) layout.cores.clear();
      // Last, so that nothing lies elsewhere for it.
      if (layout.card) put_off(*layout.card, style.deviations);
      if (layout.bar) put_off(*layout.bar, style.deviations);
      return layout;
    }
    if (attempt % 6 != 5) continue;
    if (smaller_card_first && objects.card_width_mm > kSmallestCardMm) {
      objects.card_width_mm = std::max(0.8 * objects.card_width_mm, kSmallestCardMm);
      objects.card_height_mm = std::max(0.8 * objects.card_height_mm, kSmallestCardMm);
    } else {
      core_px *= 0.97;
    }
  }
  throw std::runtime_error("card and bar find no room in the frame");
}

}  // namespace scenes
