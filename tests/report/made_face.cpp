#include "report/made_face.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

namespace corefleck::testing {
namespace {

/// Uniform numbers that are the same with every standard library, unlike std::uniform_real_distribution's.
class Dice {
 public:
  explicit Dice(unsigned seed) : engine_(seed) {}
  double between(double low, double high) {
    return low + (high - low) * (static_cast<double>(engine_()) / 4294967296.0);
  }

 private:
  std::mt19937 engine_;
};

struct Blob {
  double x, y, r;  // grid pixels
};

bool is_apart(const Blob& blob, const std::vector<Blob>& others, double clear) {
  return std::none_of(others.begin(), others.end(), [&](const Blob& other) {
    return std::hypot(blob.x - other.x, blob.y - other.y) < 1.25 * (blob.r + other.r) + clear;
  });
}

/// Places blobs inside the face, largest first, none touching another.
std::vector<Blob> scattered(Dice& dice,
                            const FaceGrid& grid,
                            double reach_px,
                            std::vector<double> radii_px,
                            std::vector<Blob>& taken) {
  std::sort(radii_px.rbegin(), radii_px.rend());
  std::vector<Blob> blobs;
  for (const double r : radii_px) {
    for (int attempt = 0; attempt < 2000; ++attempt) {
      const double angle = dice.between(0.0, 2.0 * std::numbers::pi);
      const double away = (reach_px - 1.3 * r) * std::sqrt(dice.between(0.0, 1.0));
      const Blob blob{grid.centre_px + away * std::cos(angle), grid.centre_px + away * std::sin(angle), r};
      if (!is_apart(blob, taken, 4.0)) continue;
      blobs.push_back(blob);
      taken.push_back(blob);
      break;
    }
  }
  return blobs;
}

Contour wavy_outline(Dice& dice, const Blob& blob) {
  constexpr int kPoints = 72;
  const double second = dice.between(0.03, 0.16), third = dice.between(0.02, 0.09),
               fifth = dice.between(0.0, 0.04);
  const double p = dice.between(0.0, 6.28), q = dice.between(0.0, 6.28);
  Contour outline;
  for (int i = 0; i < kPoints; ++i) {
    const double t = 2.0 * std::numbers::pi * i / kPoints;
    const double r = blob.r * (1.0 + second * std::cos(2.0 * t + p) + third * std::cos(3.0 * t + q) +
                               fifth * std::cos(5.0 * t + p + q));
    outline.emplace_back(blob.x + r * std::cos(t), blob.y + r * std::sin(t));
  }
  return outline;
}

void fill(cv::Mat& image, const Contour& outline, const cv::Scalar& value, double scale = 1.0) {
  constexpr int kShift = 6;
  std::vector<cv::Point> points;
  for (const cv::Point2d& point : outline)
    points.emplace_back(static_cast<int>(std::lround(((point.x + 0.5) * scale - 0.5) * 64.0)),
                        static_cast<int>(std::lround(((point.y + 0.5) * scale - 0.5) * 64.0)));
  cv::fillPoly(image, std::vector<std::vector<cv::Point>>{points}, value, cv::LINE_8, kShift);
}

std::vector<Region> regions_of(Dice& dice, const std::vector<Blob>& blobs) {
  std::vector<Region> regions;
  for (const Blob& blob : blobs) {
    Region region{};
    region.id = static_cast<int>(regions.size()) + 1;
    region.outline = wavy_outline(dice, blob);
    std::vector<cv::Point2f> points(region.outline.begin(), region.outline.end());
    region.area_px = cv::contourArea(points);
    region.box = cv::boundingRect(points);
    region.u_area_px = 2.0 * blob.r;
    region.plateau = 0.42;
    region.ground = 0.21;
    region.threshold = 0.315;
    region.edge_gradient = 0.04;
    regions.push_back(std::move(region));
  }
  return regions;
}

/// Coarse and fine cloudiness about 1.
cv::Mat mottle(cv::Size size, unsigned seed) {
  cv::RNG random(seed);
  cv::Mat sum = cv::Mat::ones(size, CV_32FC1);
  for (const auto& [cell, strength] : {std::pair{60, 0.03}, std::pair{9, 0.035}, std::pair{2, 0.03}}) {
    cv::Mat coarse(std::max(2, size.height / cell), std::max(2, size.width / cell), CV_32FC1), wide;
    random.fill(coarse, cv::RNG::NORMAL, 0.0, strength);
    cv::resize(coarse, wide, size, 0.0, 0.0, cv::INTER_CUBIC);
    sum += wide;
  }
  return sum;
}

void paint(MeasuredFace& made) {
  CalibratedFace& face = made.face;
  const int size = face.grid.size_px, half = size / 2;
  cv::Mat brightness(half, half, CV_32FC1, cv::Scalar(0.21));
  for (const Region& spot : made.spots.spots) fill(brightness, spot.outline, cv::Scalar(0.42), 0.5);
  for (const Region& pit : made.spots.pits) fill(brightness, pit.outline, cv::Scalar(0.06), 0.5);
  for (const Contour& glare : made.spots.glare) fill(brightness, glare, cv::Scalar(0.85), 0.5);
  cv::GaussianBlur(brightness, brightness, cv::Size(), 1.3);
  brightness = brightness.mul(mottle(brightness.size(), 5));
  cv::merge(std::vector<cv::Mat>{1.05 * brightness, brightness, 0.93 * brightness}, face.colour);
  cv::resize(brightness, face.luminance, cv::Size(size, size));
  face.clipped = cv::Mat::zeros(size, size, CV_8UC1);
}

void mark_outside(MeasuredFace& made) {
  CalibratedFace& face = made.face;
  const int size = face.grid.size_px;
  const double radius_px = (face.radius / face.grid.pitch).number();
  const double inner_px = radius_px - face.rim_band.number() / face.grid.pitch.number();
  face.outside = cv::Mat::zeros(size, size, CV_8UC1);
  for (int row = 0; row < size; ++row)
    for (int column = 0; column < size; ++column) {
      const double away = std::hypot(row - face.grid.centre_px, column - face.grid.centre_px);
      if (away > inner_px) face.outside.at<unsigned char>(row, column) = away > radius_px ? 1 : 2;
    }
  const double chip_px = 0.09 * radius_px;
  const cv::Point chip(static_cast<int>(face.grid.centre_px + 0.72 * radius_px),
                       static_cast<int>(face.grid.centre_px + 0.68 * radius_px));
  cv::circle(face.outside, chip, static_cast<int>(chip_px), cv::Scalar(3), cv::FILLED);
  made.spots.outside = face.outside.clone();
  for (const Contour& glare : made.spots.glare) fill(made.spots.outside, glare, cv::Scalar(4));
}

SpotFigures figures_of(const Region& region, const FaceGrid& grid) {
  const double pitch = grid.pitch.number();
  cv::Point2d middle(0.0, 0.0);
  for (const cv::Point2d& point : region.outline) middle += point;
  middle /= static_cast<double>(region.outline.size());
  SpotFigures f{};
  f.spot_id = region.id;
  f.x_mm = grid.x_mm(middle.x);
  f.y_mm = grid.y_mm(middle.y);
  f.r_mm = std::hypot(f.x_mm, f.y_mm);
  f.area = {SquareMillimetres{region.area_px * pitch * pitch},
            SquareMillimetres{region.u_area_px * pitch * pitch}};
  f.ecd = equivalent_circular_diameter(f.area.value);
  f.feret_max = 1.1 * f.ecd;
  f.feret_min = 0.9 * f.ecd;
  f.perimeter = 3.2 * f.ecd;
  f.form_factor = 0.95;
  f.aspect_ratio = 0.82;
  f.solidity = 0.97;
  f.mean_L = Lightness{70.0};
  f.peak_L = Lightness{74.0};
  f.contrast_dL = Lightness{17.4};
  f.contrast_weber = 0.98;
  return f;
}

std::vector<SizeClass> size_classes(const std::vector<SpotFigures>& spots) {
  std::vector<SizeClass> classes;
  if (spots.empty()) return classes;
  for (double from = 0.5; from < 1.0001 * spots.front().ecd.number(); from *= std::numbers::sqrt2) {
    SizeClass size{Millimetres{from}, Millimetres{from * std::numbers::sqrt2}, 0, 0.0, {}, 0.0};
    for (const SpotFigures& spot : spots)
      if (spot.ecd >= size.ecd_from && spot.ecd < size.ecd_to) {
        ++size.count;
        size.area = size.area + spot.area.value;
      }
    classes.push_back(size);
  }
  return classes;
}

void sum_up(MeasuredFace& made, const MadeFace& wish) {
  FaceMeasurement& f = made.figures = made_figures();
  f.spots.clear();
  for (const Region& region : made.spots.spots) f.spots.push_back(figures_of(region, made.face.grid));
  f.sizes = size_classes(f.spots);
  f.spot_count = static_cast<int>(f.spots.size());
  f.pit_count = static_cast<int>(made.spots.pits.size());
  f.scale = {MmPerPx{wish.pitch_mm}, MmPerPx{0.0006 * wish.pitch_mm}};
  f.core_diameter = {Millimetres{2.0 * wish.radius_mm}, Millimetres{0.06}};
  f.spot_area = SquareMillimetres{0.0};
  for (const SpotFigures& spot : f.spots) f.spot_area = f.spot_area + spot.area.value;
  f.area_fraction.value = Quantity<struct PercentUnit>{100.0 * (f.spot_area / f.measured_area)};
  f.cautions = wish.cautions;
  if (f.spots.empty()) {
    f.ecd_d10 = f.ecd_d50 = f.ecd_d90 = f.ecd_max = std::nullopt;
    f.spot_L.reset();
    f.contrast_dL.reset();
    f.contrast_weber.reset();
    f.contrast_dE00.reset();
  } else {
    f.ecd_max = f.spots.front().ecd;
    f.ecd_d50 = f.spots[f.spots.size() / 2].ecd;
  }
  if (!wish.card) {
    f.matrix_L.reset();
    f.spot_L.reset();
    f.contrast_dL.reset();
    f.contrast_dE00.reset();
  }
}

Photo made_photo(const MadeFace& wish) {
  Photo photo;
  photo.path = wish.photo;
  photo.sha256 = "9f2c51d07be4aa1350c86e7714fd02b89f2c51d07be4aa1350c86e7714fd02b8";
  photo.file_bytes = 7340032;
  photo.format = "JPEG";
  photo.orientation = 6;
  photo.colour_space = "sRGB (assumed)";
  photo.camera.make = "Invented";
  photo.camera.model = "Box 1";
  photo.camera.f_number = 5.6;
  photo.camera.focal_length_mm = 50.0;
  photo.camera.taken = "2026-03-14T10:22:05";
  return photo;
}

CalibratedFace made_calibration(const MadeFace& wish) {
  CalibratedFace face{};
  const double radius_px = wish.radius_mm / wish.pitch_mm;
  const int size = 2 * static_cast<int>(std::ceil(radius_px) + 6);
  face.grid = {MmPerPx{wish.pitch_mm}, size, 0.5 * (size - 1)};
  face.radius = Millimetres{wish.radius_mm};
  face.radius_u_mm = 0.02;
  face.rim_band = Millimetres{1.0};
  face.blur_sigma_px = 1.2;
  face.absolute_luminance = wish.card;
  face.ellipse = {2010.5, 1490.25, 1404.0, 1398.5, 0.31, 0.42, 98.5, 0.93, false};
  face.bar.axis = {600.0, 3100.0, 2500.0, 3104.0};
  face.bar.height_px = 140.0;
  for (int i = 0; i <= 5; ++i) face.bar.edges.push_back({380.0 * i, i, 0.07 * (i - 2), i != 3});
  if (wish.card) {
    GreyCard card{};
    card.corners = {cv::Point2d(100.0, 200.0), {500.0, 204.0}, {496.0, 640.0}, {98.0, 636.0}};
    card.level = {0.178, 0.181, 0.169};
    face.card = card;
  }
  face.pose.tilt_deg = 1.7;
  face.pose.focal_px = 5200.0;
  face.pose.focal_source = "EXIF";
  face.pose.lens = {{1499.5, 999.5}, 1802.0, -0.004};
  face.pose.lens_u = 0.003;
  face.pose.scale = MmPerPx{wish.pitch_mm};
  face.pose.scale_u_rel = 0.0006;
  face.pose.scale_components.push_back({"bar edges", 0.04, "%", 1.0, 0.04, "residuals of 5 edges"});
  face.pose.mm_to_px = cv::Matx33d::eye();
  face.light = {LightSource::matrix, 1, {0.0, 0.02, -0.01}, 6.0, 0.004, 1.1};
  return face;
}

}  // namespace

FaceMeasurement made_figures() {
  FaceMeasurement f{};
  f.scale = {MmPerPx{0.05}, MmPerPx{0.00005}};
  f.tilt_deg = 1.7;
  f.core_diameter = {Millimetres{74.0}, Millimetres{0.06}};
  f.face_area = SquareMillimetres{4300.84};
  f.measured_area = SquareMillimetres{4070.5};
  f.spot_area = SquareMillimetres{203.525};
  f.glare_pct = 0.25;
  f.spot_count = 3;
  f.spot_density_per_cm2 = 0.0737;
  f.area_fraction = {Quantity<struct PercentUnit>{5.0}, Quantity<struct PercentUnit>{0.12}};
  f.ecd_d10 = Millimetres{0.61};
  f.ecd_d50 = Millimetres{1.234567};
  f.ecd_d90 = Millimetres{3.1};
  f.ecd_max = Millimetres{4.2};
  f.matrix_L = Lightness{52.7};
  f.spot_L = Lightness{70.1};
  f.contrast_dL = Estimate<Lightness>{Lightness{17.4}, Lightness{0.45}};
  f.contrast_weber = 0.98;
  f.contrast_dE00 = 15.3;
  f.pit_count = 2;
  f.pit_area_fraction_pct = 0.4;
  for (int id = 1; id <= 3; ++id) {
    SpotFigures spot{};
    spot.spot_id = id;
    spot.x_mm = -1.0 * id;
    spot.y_mm = 2.0 * id;
    spot.r_mm = 2.2360680 * id;
    spot.clock_deg = 333.4349;
    spot.area = {SquareMillimetres{3.0 / id}, SquareMillimetres{0.1}};
    spot.ecd = equivalent_circular_diameter(spot.area.value);
    spot.mean_L = Lightness{70.0};
    spot.touches_rim = id == 3;
    f.spots.push_back(spot);
  }
  f.sizes = {
      {Millimetres{1.0}, Millimetres{std::numbers::sqrt2}, 1, 33.3333333, SquareMillimetres{1.0}, 18.18},
      {Millimetres{std::numbers::sqrt2}, Millimetres{2.0}, 2, 66.6666667, SquareMillimetres{4.5}, 81.82}};
  f.budgets.push_back({"area_fraction_pct",
                       "%",
                       {{"boundary", 0.1, "%", 1.0, 0.1, "edge gradient and noise"},
                        {"light field", 0.4, "%", 0.16, 0.064, "residual of the matrix blocks"}},
                       0.1187});
  f.budgets.push_back({"contrast_dL", "1", {{"card", 0.5, "%", 0.3, 0.15, "level of the card"}}, 0.15});
  return f;
}

RecordContext made_context() {
  RecordContext context;
  context.program_version = "0.1.0";
  context.state = FaceState::dry;
  context.options = {{"card-reflectance", "0.18"}, {"no-card", "false"}, {"edits", "null"}, {"state", "dry"}};
  return context;
}

MeasuredFace made_face(const MadeFace& wish) {
  Dice dice(20260314);
  MeasuredFace made{made_photo(wish), made_calibration(wish), {}, {}, cv::Size(4032, 3024), {}};
  const FaceGrid& grid = made.face.grid;
  const double reach = (wish.radius_mm - 1.2) / wish.pitch_mm;
  std::vector<double> spot_radii, pit_radii;
  const double largest = wish.spots > 100 ? 1.5 : 2.6;
  for (int i = 0; i < wish.spots; ++i)
    spot_radii.push_back(0.28 * std::pow(largest / 0.28, std::pow(dice.between(0.0, 1.0), 1.7)) /
                         wish.pitch_mm);
  for (int i = 0; i < wish.pits; ++i) pit_radii.push_back(dice.between(0.25, 0.9) / wish.pitch_mm);

  std::vector<Blob> taken;
  if (wish.glare) {
    taken.push_back({grid.centre_px - 0.45 * reach, grid.centre_px + 0.4 * reach, 2.2 / wish.pitch_mm});
    made.spots.glare.push_back(wavy_outline(dice, taken.back()));
  }
  const auto spot_blobs = scattered(dice, grid, reach, spot_radii, taken);
  const auto pit_blobs = scattered(dice, grid, reach, pit_radii, taken);
  made.spots.spots = regions_of(dice, spot_blobs);
  made.spots.pits = regions_of(dice, pit_blobs);
  made.spots.mottle_rel = 0.021;
  made.spots.noise_rel = 0.03;
  made.spots.detection_contrast = 0.15;

  made.spots.labels = cv::Mat::zeros(grid.size_px, grid.size_px, CV_32SC1);
  for (const Region& spot : made.spots.spots) fill(made.spots.labels, spot.outline, cv::Scalar(spot.id));
  mark_outside(made);
  paint(made);
  sum_up(made, wish);
  return made;
}

}  // namespace corefleck::testing
