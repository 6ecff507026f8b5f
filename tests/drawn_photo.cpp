#include "drawn_photo.hpp"

#include "corefleck/colorimetry.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>
#include <random>

namespace corefleck::testing {
namespace {

constexpr double kDegree = std::numbers::pi / 180.0;

/// 65 536 normal numbers that are the same with every standard library (Box and Muller 1958).
std::vector<float> normal_numbers() {
  std::mt19937 engine(20260314);
  std::vector<float> numbers(65536);
  for (float& number : numbers) {
    const double u = (static_cast<double>(engine()) + 1.0) / 4294967297.0;
    const double v = static_cast<double>(engine()) / 4294967296.0;
    number = static_cast<float>(std::sqrt(-2.0 * std::log(u)) * std::cos(2.0 * std::numbers::pi * v));
  }
  return numbers;
}

/// Draws from them: a photo takes millions, and logarithms would take longer than the photo.
class Dice {
 public:
  explicit Dice(unsigned seed) : engine_(seed) {}
  float normal() {
    static const std::vector<float> numbers = normal_numbers();
    return numbers[engine_() >> 16U];
  }

 private:
  std::mt19937 engine_;
};

cv::Mat noise_field(int rows, int columns, Dice& dice) {
  cv::Mat field(rows, columns, CV_32FC1);
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < columns; ++x) field.at<float>(y, x) = dice.normal();
  return field;
}

/// Patches about `width_px` across, standard deviation 1.
cv::Mat mottle_field(int rows, int columns, double width_px, Dice& dice) {
  cv::Mat field = noise_field(rows, columns, dice);
  cv::GaussianBlur(field, field, {}, width_px);
  cv::Scalar mean, deviation;
  cv::meanStdDev(field, mean, deviation);
  return (field - mean[0]) / deviation[0];
}

/// Distance to the shape's outline in mm, negative inside.
double distance_mm(const DrawnShape& shape, double x_mm, double y_mm) {
  const double dx = x_mm - shape.x_mm, dy = y_mm - shape.y_mm;
  if (shape.kind == DrawnShape::Kind::disc) return std::hypot(dx, dy) - shape.half_width_mm;
  const double c = std::cos(shape.turn_deg * kDegree), s = std::sin(shape.turn_deg * kDegree);
  const double u = std::abs(c * dx + s * dy) - shape.half_width_mm;
  const double v = std::abs(-s * dx + c * dy) - shape.half_height_mm;
  return std::hypot(std::max(u, 0.0), std::max(v, 0.0)) + std::min(std::max(u, v), 0.0);
}

/// Share of a pixel that lies inside an outline at that distance from its centre: a straight edge, box
/// filter.
float coverage(double distance_px) { return static_cast<float>(std::clamp(0.5 - distance_px, 0.0, 1.0)); }

cv::Rect bounds_px(const DrawnScene& scene, const DrawnShape& shape) {
  const double reach = std::hypot(shape.half_width_mm, shape.half_height_mm);
  double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  for (const double dx : {-reach, reach})
    for (const double dy : {-reach, reach}) {
      const cv::Point2d p = place_px(scene, shape.x_mm + dx, shape.y_mm + dy);
      x0 = std::min(x0, p.x), y0 = std::min(y0, p.y), x1 = std::max(x1, p.x), y1 = std::max(y1, p.y);
    }
  return cv::Rect(cv::Point(static_cast<int>(std::floor(x0)) - 2, static_cast<int>(std::floor(y0)) - 2),
                  cv::Point(static_cast<int>(std::ceil(x1)) + 3, static_cast<int>(std::ceil(y1)) + 3)) &
         cv::Rect(0, 0, scene.width_px, scene.height_px);
}

struct PlanePoint {
  double x_mm, y_mm;
};

PlanePoint on_plane(const cv::Matx33d& px_to_mm, double x, double y) {
  const cv::Vec3d p = px_to_mm * cv::Vec3d(x, y, 1.0);
  return {p[0] / p[2], p[1] / p[2]};
}

void draw(const DrawnScene& scene, const DrawnShape& shape, const cv::Matx33d& px_to_mm, cv::Mat& image) {
  const cv::Rect area = bounds_px(scene, shape);
  const cv::Vec3f colour(static_cast<float>(shape.colour[0]),
                         static_cast<float>(shape.colour[1]),
                         static_cast<float>(shape.colour[2]));
  for (int y = area.y; y < area.br().y; ++y)
    for (int x = area.x; x < area.br().x; ++x) {
      const PlanePoint p = on_plane(px_to_mm, x, y);
      const double d = distance_mm(shape, p.x_mm, p.y_mm);
      if (d > 3.0 * scene.mm_per_px) continue;
      float share = 1.0F;
      if (d > -3.0 * scene.mm_per_px) {
        // Distance in pixels is distance in mm over its slope in the photo: tilt shortens one direction.
        constexpr double h = 0.25;
        const PlanePoint right = on_plane(px_to_mm, x + h, y), left = on_plane(px_to_mm, x - h, y);
        const PlanePoint down = on_plane(px_to_mm, x, y + h), up = on_plane(px_to_mm, x, y - h);
        const double gx =
            (distance_mm(shape, right.x_mm, right.y_mm) - distance_mm(shape, left.x_mm, left.y_mm)) /
            (2.0 * h);
        const double gy =
            (distance_mm(shape, down.x_mm, down.y_mm) - distance_mm(shape, up.x_mm, up.y_mm)) / (2.0 * h);
        share = coverage(d / std::max(std::hypot(gx, gy), 0.2 * scene.mm_per_px));
      }
      cv::Vec3f& pixel = image.at<cv::Vec3f>(y, x);
      pixel += share * (colour - pixel);
    }
}

void light_up(const DrawnScene& scene, const cv::Matx33d& px_to_mm, cv::Mat& image) {
  if (scene.light_slope_pct == 0.0) {
    cv::multiply(image,
                 cv::Scalar(scene.exposure * scene.light[0],
                            scene.exposure * scene.light[1],
                            scene.exposure * scene.light[2]),
                 image);
    return;
  }
  const double c = std::cos(scene.light_toward_deg * kDegree), s = std::sin(scene.light_toward_deg * kDegree);
  for (int y = 0; y < image.rows; ++y)
    for (int x = 0; x < image.cols; ++x) {
      const PlanePoint p = on_plane(px_to_mm, x, y);
      const double level =
          scene.exposure * std::max(0.02, 1.0 + scene.light_slope_pct * 1e-4 * (c * p.x_mm + s * p.y_mm));
      cv::Vec3f& pixel = image.at<cv::Vec3f>(y, x);
      for (int k = 0; k < 3; ++k)
        pixel[k] *= static_cast<float>(level * scene.light[static_cast<std::size_t>(k)]);
    }
}

/// Encoded code of linear light in steps of 1 / 8192, which is finer than the code's own step everywhere.
std::vector<unsigned char> encoding_table() {
  std::vector<unsigned char> table(8193);
  for (std::size_t i = 0; i < table.size(); ++i)
    table[i] =
        static_cast<unsigned char>(std::lround(255.0 * linear_to_srgb(static_cast<double>(i) / 8192.0)));
  return table;
}

// Each pixel gets the light of where it would be without the bend: the root of r (1 + k r^2), by Newton's
// steps.
void bend(double k, cv::Mat& image) {
  const cv::Point2f middle(0.5F * static_cast<float>(image.cols - 1),
                           0.5F * static_cast<float>(image.rows - 1));
  const double half_diagonal = 0.5 * std::hypot(image.cols, image.rows);
  cv::Mat places(image.size(), CV_32FC2);
  for (int y = 0; y < image.rows; ++y)
    for (int x = 0; x < image.cols; ++x) {
      const cv::Point2f offset = cv::Point2f(static_cast<float>(x), static_cast<float>(y)) - middle;
      const double seen = std::max(1e-9, cv::norm(offset) / half_diagonal);
      double r = seen;
      for (int step = 0; step < 5; ++step) r -= (r * (1.0 + k * r * r) - seen) / (1.0 + 3.0 * k * r * r);
      places.at<cv::Point2f>(y, x) = middle + offset * static_cast<float>(r / seen);
    }
  cv::Mat bent;
  cv::remap(image, bent, places, {}, cv::INTER_CUBIC, cv::BORDER_REPLICATE);
  image = bent;
}

}  // namespace

DrawnShape disc(double x_mm, double y_mm, double radius_mm, Reflectance colour) {
  return {DrawnShape::Kind::disc, x_mm, y_mm, radius_mm, radius_mm, 0.0, colour};
}

DrawnShape rectangle(
    double x_mm, double y_mm, double width_mm, double height_mm, Reflectance colour, double turn_deg) {
  return {DrawnShape::Kind::rectangle, x_mm, y_mm, 0.5 * width_mm, 0.5 * height_mm, turn_deg, colour};
}

DrawnShape drawn_face(double x_mm, double y_mm, double radius_mm) {
  return disc(x_mm, y_mm, radius_mm, grey(kMatrix_Y));
}

DrawnShape drawn_card(double reflectance, double x_mm, double y_mm) {
  return rectangle(x_mm, y_mm, 30.0, 40.0, grey(reflectance));
}

std::vector<DrawnShape> drawn_bar(const DrawnBar& bar) {
  const double c = std::cos(bar.turn_deg * kDegree), s = std::sin(bar.turn_deg * kDegree);
  const auto at = [&](double along, double across, double width, double height, double reflectance) {
    return rectangle(bar.x_mm + c * along - s * across,
                     bar.y_mm + s * along + c * across,
                     width,
                     height,
                     grey(reflectance),
                     bar.turn_deg);
  };
  std::vector<DrawnShape> shapes{
      at(0.0, 0.0, bar.length_mm + 2.0 * bar.margin_mm, bar.height_mm + 2.0 * bar.margin_mm, bar.strip)};
  const double block = bar.length_mm / bar.blocks;
  for (int k = 0; k < bar.blocks; ++k) {
    const double reflectance = (k % 2 == 0) == bar.first_dark ? 0.05 : 0.85;
    // A block of the strip's own tone is not drawn: two edges laid on each other would not add up to one.
    if (reflectance != bar.strip)
      shapes.push_back(at((k + 0.5) * block - 0.5 * bar.length_mm, 0.0, block, bar.height_mm, reflectance));
  }
  if (bar.ruler_ticks)
    for (int mm = 0; mm <= static_cast<int>(bar.length_mm); ++mm) {
      const double length = mm % 5 == 0 ? 3.0 : 1.8;
      shapes.push_back(
          at(mm - 0.5 * bar.length_mm, 0.5 * bar.height_mm + 0.6 + 0.5 * length, 0.25, length, 0.05));
    }
  return shapes;
}

DrawnScene scene_of(const std::vector<std::vector<DrawnShape>>& groups) {
  DrawnScene scene;
  for (const auto& group : groups) scene.shapes.insert(scene.shapes.end(), group.begin(), group.end());
  return scene;
}

DrawnScene usual_scene() { return scene_of({{drawn_face()}, drawn_bar({}), {drawn_card()}}); }

// Camera axes: x right, y down, z away. The plane's direction `toward` goes away by the sine of the tilt.
cv::Matx33d mm_to_px(const DrawnScene& scene) {
  const double depth = scene.focal_px * scene.mm_per_px;
  const double cx = 0.5 * (scene.width_px - 1), cy = 0.5 * (scene.height_px - 1);
  const double tx = (scene.face_x_px - cx) * depth / scene.focal_px;
  const double ty = (scene.face_y_px - cy) * depth / scene.focal_px;
  const double dx = std::cos(scene.tilt_toward_deg * kDegree), dy = std::sin(scene.tilt_toward_deg * kDegree);
  const double shorter = std::cos(scene.tilt_deg * kDegree) - 1.0, away = std::sin(scene.tilt_deg * kDegree);
  // Columns: where one mm to the right, one mm up, and the face's centre lie in the camera's axes.
  const cv::Matx33d plane(1.0 + shorter * dx * dx,
                          -shorter * dx * dy,
                          tx,
                          shorter * dx * dy,
                          -1.0 - shorter * dy * dy,
                          ty,
                          away * dx,
                          -away * dy,
                          depth);
  return cv::Matx33d(scene.focal_px, 0, cx, 0, scene.focal_px, cy, 0, 0, 1) * plane;
}

cv::Point2d place_px(const DrawnScene& scene, double x_mm, double y_mm) {
  const cv::Vec3d p = mm_to_px(scene) * cv::Vec3d(x_mm, y_mm, 1.0);
  return {p[0] / p[2], p[1] / p[2]};
}

Photo drawn_photo(const DrawnScene& scene) {
  const cv::Matx33d px_to_mm = mm_to_px(scene).inv();
  cv::Mat image(
      scene.height_px, scene.width_px, CV_32FC3, cv::Scalar(scene.bench[0], scene.bench[1], scene.bench[2]));
  for (const DrawnShape& shape : scene.shapes) draw(scene, shape, px_to_mm, image);
  Dice dice(scene.seed);
  if (scene.mottle > 0.0) {
    const cv::Mat patches = 1.0 + scene.mottle * mottle_field(image.rows, image.cols, 3.0, dice);
    cv::Mat three;
    cv::merge(std::vector<cv::Mat>{patches, patches, patches}, three);
    cv::multiply(image, three, image);
  }
  light_up(scene, px_to_mm, image);
  if (scene.lens_k != 0.0) bend(scene.lens_k, image);
  if (scene.blur_px > 0.0)
    cv::GaussianBlur(image, image, {}, scene.blur_px, scene.blur_px, cv::BORDER_REPLICATE);

  static const std::vector<unsigned char> codes = encoding_table();
  Photo photo;
  photo.path = "drawn.png";
  photo.format = "PNG";
  photo.colour_space = "sRGB";
  photo.camera.focal_length_35mm_mm = 43.27 * scene.focal_px / std::hypot(scene.width_px, scene.height_px);
  photo.samples.create(image.size(), CV_8UC3);
  for (int y = 0; y < image.rows; ++y)
    for (int x = 0; x < image.cols; ++x)
      for (int k = 0; k < 3; ++k) {
        const float level = image.at<cv::Vec3f>(y, x)[k] + static_cast<float>(scene.noise) * dice.normal();
        photo.samples.at<cv::Vec3b>(y, x)[k] =
            codes[static_cast<std::size_t>(std::clamp(level, 0.0F, 1.0F) * 8192.0F + 0.5F)];
      }
  std::vector<float> table;
  for (int code = 0; code < 256; ++code) table.push_back(static_cast<float>(srgb_to_linear(code / 255.0)));
  photo.decode = {table, table, table};
  return photo;
}

Photo turned(const Photo& photo, int quarter_turns) {
  Photo result = photo;
  result.samples = photo.samples.clone();
  for (int k = 0; k < quarter_turns; ++k) cv::rotate(result.samples, result.samples, cv::ROTATE_90_CLOCKWISE);
  return result;
}

CalibratedFace calibrated_face(const DrawnFace& drawn) {
  const int n = drawn.size_px;
  cv::Mat luminance(n, n, CV_32FC1, cv::Scalar(drawn.matrix_Y));
  for (int y = 0; y < n; ++y)
    for (int x = 0; x < n; ++x) {
      float& pixel = luminance.at<float>(y, x);
      for (const auto& spot : drawn.spots) {
        const double d = std::hypot(x - spot.column, y - spot.row) - spot.radius_px;
        if (d < 1.0) pixel += coverage(d) * (static_cast<float>(spot.Y) - pixel);
      }
      for (const auto& neck : drawn.necks)
        pixel += coverage(std::abs(x - neck.column) - neck.half_width_px) *
                 coverage(std::abs(y - neck.row) - neck.half_height_px) *
                 (static_cast<float>(neck.Y) - pixel);
    }
  Dice dice(drawn.seed);
  if (drawn.mottle > 0.0) {
    const cv::Mat patches = 1.0 + drawn.mottle * mottle_field(n, n, drawn.mottle_px, dice);
    cv::multiply(luminance, patches, luminance);
  }
  if (drawn.blur_px > 0.0) cv::GaussianBlur(luminance, luminance, {}, drawn.blur_px);
  luminance += drawn.noise * drawn.matrix_Y * noise_field(n, n, dice);

  CalibratedFace face{};
  face.grid = {MmPerPx{drawn.pitch_mm}, n, 0.5 * (n - 1)};
  face.luminance = luminance;
  cv::Mat half;
  cv::resize(luminance, half, {(n + 1) / 2, (n + 1) / 2}, 0, 0, cv::INTER_AREA);
  cv::merge(std::vector<cv::Mat>{half, half, half}, face.colour);
  face.clipped = luminance >= 1.0F;
  face.radius = Millimetres{drawn.pitch_mm * (0.5 * (n - 1) - 3.0)};
  face.radius_u_mm = 0.02;
  face.rim_band = Millimetres{1.0};
  face.outside = cv::Mat::zeros(n, n, CV_8UC1);
  const double rim = face.radius / Millimetres{drawn.pitch_mm},
               inner = (face.radius - face.rim_band) / Millimetres{drawn.pitch_mm};
  for (int y = 0; y < n; ++y)
    for (int x = 0; x < n; ++x) {
      const double r = std::hypot(x - face.grid.centre_px, y - face.grid.centre_px);
      face.outside.at<unsigned char>(y, x) = static_cast<unsigned char>(r > rim     ? Outside::beyond_rim
                                                                        : r > inner ? Outside::rim_band
                                                                                    : Outside::no);
    }
  face.blur_sigma_px = std::max(drawn.blur_px, 0.35);
  face.absolute_luminance = true;
  face.bar.edge_width_px = 2.563 * drawn.blur_px;
  GreyCard card{};
  card.level = {0.18, 0.18, 0.18};
  card.u_level_pct = 0.5;
  face.card = card;
  face.pose.scale = face.grid.pitch;
  face.pose.scale_u_rel = 0.003;
  face.pose.scale_components = {{"bar edges", 0.3, "%", 1.0, 0.3, "drawn"}};
  face.pose.focal_source = "assumed";
  face.light.source = LightSource::matrix;
  face.light.coefficients = {0.0};
  face.light.u_rel = 0.004;
  face.light.change_pct = 10.0;
  return face;
}

}  // namespace corefleck::testing
