#include "drawn_core.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck::testing {
namespace {

constexpr double kMatrixY = 0.2, kSpotY = 0.5, kFaintY = 0.38;

/// Grains of about half a millimetre, the same at the same place of the core whatever the photo's grid.
class Grains {
 public:
  explicit Grains(std::uint64_t seed) {
    cv::RNG random(seed);
    coarse_.create(kSide, kSide, CV_32FC1);
    random.fill(coarse_, cv::RNG::NORMAL, 0.0, 1.0);
  }
  [[nodiscard]] double at(const cv::Point2d& mm) const {
    const double x = mm.x / kCell_mm + 0.5 * kSide, y = mm.y / kCell_mm + 0.5 * kSide;
    const int i = std::clamp(static_cast<int>(x), 0, kSide - 2),
              j = std::clamp(static_cast<int>(y), 0, kSide - 2);
    const double a = x - i, b = y - j;
    const auto value = [&](int row, int column) {
      return static_cast<double>(coarse_.at<float>(row, column));
    };
    return (value(j, i) * (1 - a) + value(j, i + 1) * a) * (1 - b) +
           (value(j + 1, i) * (1 - a) + value(j + 1, i + 1) * a) * b;
  }

 private:
  static constexpr double kCell_mm = 0.5;
  static constexpr int kSide = 160;
  cv::Mat coarse_;
};

/// Place on the photo to place on the core as it was drawn.
cv::Point2d on_core(const DrawnCore& wish, const cv::Point2d& mm) {
  const double angle = wish.turn_deg * CV_PI / 180.0;
  const cv::Point2d p = mm - wish.moved_mm;
  cv::Point2d q(std::cos(angle) * p.x + std::sin(angle) * p.y,
                -std::sin(angle) * p.x + std::cos(angle) * p.y);
  if (wish.mirrored) q.x = -q.x;
  return q;
}

cv::Point2d on_photo(const DrawnCore& wish, cv::Point2d mm) {
  if (wish.mirrored) mm.x = -mm.x;
  const double angle = wish.turn_deg * CV_PI / 180.0;
  return cv::Point2d(std::cos(angle) * mm.x - std::sin(angle) * mm.y,
                     std::sin(angle) * mm.x + std::cos(angle) * mm.y) +
         wish.moved_mm;
}

bool inside(const DrawnSpot& spot, const cv::Point2d& mm) {
  return std::hypot(mm.x - spot.x, mm.y - spot.y) <= 0.5 * spot.diameter;
}

Outside outside_at(const DrawnCore& wish, const cv::Point2d& core_mm, double from_centre) {
  if (from_centre > wish.radius_mm) return Outside::beyond_rim;
  if (from_centre > wish.radius_mm - 1.0) return Outside::rim_band;
  const double angle = std::atan2(core_mm.y, core_mm.x) * 180.0 / CV_PI;
  const bool chip = std::abs(angle) < 0.5 * wish.broken_deg && from_centre > wish.radius_mm - 5.0;
  return chip ? Outside::chip : Outside::no;
}

double light_at(const DrawnCore& wish, const Grains& grains, const cv::Point2d& core_mm) {
  const double matrix = kMatrixY * (wish.wet ? 0.55 : 1.0) * (1.0 + wish.grain * grains.at(core_mm));
  const double lighter = wish.wet ? 0.8 : 1.0;
  for (const DrawnSpot& spot : wish.spots)
    if (inside(spot, core_mm)) return lighter * kSpotY;
  for (const DrawnSpot& spot : wish.faint)
    if (inside(spot, core_mm)) return lighter * kFaintY;
  return matrix;
}

void paint(const DrawnCore& wish, DrawnPhoto& photo) {
  const Grains grains(wish.grain_seed);
  const FaceGrid& grid = photo.face.grid;
  for (int row = 0; row < grid.size_px; ++row)
    for (int column = 0; column < grid.size_px; ++column) {
      const cv::Point2d mm(grid.x_mm(column), grid.y_mm(row)), core = on_core(wish, mm);
      const Outside out = outside_at(wish, core, std::hypot(mm.x, mm.y));
      photo.map.outside.at<unsigned char>(row, column) = static_cast<unsigned char>(out);
      const double light = out == Outside::no ? light_at(wish, grains, core) : 0.05;
      photo.face.luminance.at<float>(row, column) = static_cast<float>(light);
      if (out != Outside::no) continue;
      for (std::size_t i = 0; i < wish.spots.size(); ++i)
        if (inside(wish.spots[i], core)) photo.map.labels.at<int>(row, column) = static_cast<int>(i) + 1;
    }
  // A pixel of the colour holds two by two of the grid, whose size is odd.
  cv::Mat even, half;
  cv::copyMakeBorder(photo.face.luminance, even, 0, 1, 0, 1, cv::BORDER_REPLICATE);
  cv::resize(even, half, photo.face.colour.size(), 0, 0, cv::INTER_AREA);
  cv::merge(std::vector<cv::Mat>{half, half, half}, photo.face.colour);
}

Region region_of(const DrawnCore& wish, const DrawnSpot& spot, int id, const FaceGrid& grid) {
  Region region{};
  region.id = id;
  const cv::Point2d centre = on_photo(wish, {spot.x, spot.y});
  const double pitch = grid.pitch.number(), radius = 0.5 * spot.diameter / pitch;
  for (int step = 0; step < 180; ++step) {
    const double angle = 2.0 * CV_PI * step / 180;
    region.outline.emplace_back(grid.centre_px + centre.x / pitch + radius * std::cos(angle),
                                grid.centre_px - centre.y / pitch + radius * std::sin(angle));
  }
  std::vector<cv::Point2f> points(region.outline.begin(), region.outline.end());
  region.box = cv::boundingRect(points);
  region.area_px = CV_PI * radius * radius;
  region.u_area_px = 0.05 * region.area_px;
  region.plateau = kSpotY;
  region.ground = kMatrixY;
  return region;
}

SpotFigures figures_of(const Region& region, const FaceGrid& grid) {
  SpotFigures figures{};
  figures.spot_id = region.id;
  const double mm2 = grid.pitch.number() * grid.pitch.number();
  figures.area = {SquareMillimetres{region.area_px * mm2}, SquareMillimetres{region.u_area_px * mm2}};
  figures.contrast_weber = 1.5;
  return figures;
}

}  // namespace

std::unique_ptr<DrawnPhoto> drawn_core(const DrawnCore& wish) {
  auto photo = std::make_unique<DrawnPhoto>();
  FaceGrid& grid = photo->face.grid;
  grid.pitch = MmPerPx{wish.pitch_mm};
  const int reach = static_cast<int>(std::ceil(wish.radius_mm / wish.pitch_mm)) + 4;
  grid.size_px = 2 * reach + 1;
  grid.centre_px = reach;
  photo->face.radius = Millimetres{wish.radius_mm};
  photo->face.rim_band = Millimetres{1.0};
  photo->face.blur_sigma_px = 0.5;
  photo->face.luminance = cv::Mat::zeros(grid.size_px, grid.size_px, CV_32FC1);
  photo->face.colour = cv::Mat::zeros((grid.size_px + 1) / 2, (grid.size_px + 1) / 2, CV_32FC3);
  photo->map.labels = cv::Mat::zeros(grid.size_px, grid.size_px, CV_32SC1);
  photo->map.outside = cv::Mat::zeros(grid.size_px, grid.size_px, CV_8UC1);
  paint(wish, *photo);
  for (std::size_t i = 0; i < wish.spots.size(); ++i) {
    photo->map.spots.push_back(region_of(wish, wish.spots[i], static_cast<int>(i) + 1, grid));
    photo->figures.spots.push_back(figures_of(photo->map.spots.back(), grid));
  }
  photo->figures.spot_count = static_cast<int>(wish.spots.size());
  return photo;
}

FaceTransform true_transform(const DrawnCore& first, const DrawnCore& second) {
  const double angle = (second.turn_deg - first.turn_deg) * CV_PI / 180.0;
  const cv::Matx22d turn(std::cos(angle), -std::sin(angle), std::sin(angle), std::cos(angle));
  const cv::Vec2d from(first.moved_mm.x, first.moved_mm.y), to(second.moved_mm.x, second.moved_mm.y);
  return {turn, to - turn * from, {0.0, 0.0}};
}

Registration true_registration(const DrawnCore& first, const DrawnCore& second) {
  Registration registration{};
  registration.first_to_second = true_transform(first, second);
  registration.rotation_deg = registration.first_to_second.rotation_deg();
  registration.score = 1.0;
  return registration;
}

}  // namespace corefleck::testing
