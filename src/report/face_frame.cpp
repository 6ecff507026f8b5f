#include "face_frame.hpp"

#include "plate_style.hpp"

#include "corefleck/colorimetry.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <vector>

namespace corefleck {
namespace {

constexpr double kTwoPi = 6.28318530717958647692;
// L* 58 for the matrix leaves room for the light line above and the dark casing below.
constexpr double kMatrixOnPaper = 0.26;
constexpr double kBrightestOnPaper = 0.90;

/// Linear light to 8-bit sRGB by table: a call of pow for every sample would take longer than all the rest.
class DisplayCurve {
 public:
  DisplayCurve() {
    for (std::size_t i = 0; i < codes_.size(); ++i)
      codes_[i] = static_cast<std::uint8_t>(
          std::lround(255.0 * linear_to_srgb(static_cast<double>(i) / static_cast<double>(kLast))));
  }
  /// Samples of one row to 0xRRGGBB. Where to look in the table first, so that this part runs on many samples
  /// at once.
  void encode(const float* linear,
              float gain,
              std::vector<std::int32_t>& places,
              std::uint32_t* pixels) const {
    const float scale = gain * kLast;
    for (std::size_t i = 0; i < places.size(); ++i)
      // In this order a NaN becomes 0, which std::clamp would hand on.
      places[i] = static_cast<std::int32_t>(std::min(std::max(0.0F, scale * linear[i]), kLast));
    for (std::size_t i = 0; i + 2 < places.size(); i += 3)
      *pixels++ = code(places[i]) << 16U | code(places[i + 1]) << 8U | code(places[i + 2]);
  }

 private:
  [[nodiscard]] std::uint32_t code(std::int32_t place) const {
    return codes_[static_cast<std::size_t>(place)];
  }
  static constexpr float kLast = 8191.0F;
  std::array<std::uint8_t, 8192> codes_{};
};

float luminance_of(const cv::Vec3f& rgb) {
  return static_cast<float>(kLuminanceOfSrgb[0]) * rgb[0] + static_cast<float>(kLuminanceOfSrgb[1]) * rgb[1] +
         static_cast<float>(kLuminanceOfSrgb[2]) * rgb[2];
}

float percentile(std::vector<float>& values, double fraction) {
  const auto rank = static_cast<std::ptrdiff_t>(fraction * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + rank, values.end());
  return values[static_cast<std::size_t>(rank)];
}

/// Factor on linear light. Every third pixel inside the rim is plenty for two percentiles.
float exposure(const cv::Mat& picture, double radius_px) {
  constexpr int kStep = 3;
  const double centre = 0.5 * picture.rows, inside = 0.9 * radius_px * radius_px;
  std::vector<float> luminances;
  for (int row = 0; row < picture.rows; row += kStep) {
    const auto* pixels = picture.ptr<cv::Vec3f>(row);
    for (int column = 0; column < picture.cols; column += kStep)
      if ((row - centre) * (row - centre) + (column - centre) * (column - centre) < inside)
        luminances.push_back(luminance_of(pixels[column]));
  }
  if (luminances.empty()) return 1.0F;
  const double middle = percentile(luminances, 0.5), bright = percentile(luminances, 0.998);
  if (middle <= 0.0 || bright <= 0.0) return 1.0F;
  return static_cast<float>(std::min(kMatrixOnPaper / middle, kBrightestOnPaper / bright));
}

cv::Mat encoded(const cv::Mat& picture, float gain) {
  static const DisplayCurve curve;
  cv::Mat pixels(picture.size(), CV_8UC4);
  cv::parallel_for_(cv::Range(0, picture.rows), [&](const cv::Range& rows) {
    std::vector<std::int32_t> places(static_cast<std::size_t>(picture.cols) * 3);
    for (int row = rows.start; row < rows.end; ++row)
      curve.encode(picture.ptr<float>(row), gain, places, reinterpret_cast<std::uint32_t*>(pixels.ptr(row)));
  });
  return pixels;
}

}  // namespace

FaceFrame face_frame(const CalibratedFace& face, double x, double y, double diameter) {
  const double radius_grid = face.radius.number() / face.grid.pitch.number();
  // The picture's side is a whole number of pixels, and the scale follows from it, so that outlines and
  // picture agree.
  const double side_grid = 2.0 * std::max(face.colour.cols, 1);
  FaceFrame frame{};
  frame.side_px = std::max(1, static_cast<int>(std::lround(side_grid * 0.5 * diameter / radius_grid)));
  frame.px_per_grid = frame.side_px / side_grid;
  const double middle = (face.grid.centre_px + 0.5) * frame.px_per_grid;
  frame.left = static_cast<int>(std::lround(x - middle));
  frame.top = static_cast<int>(std::lround(y - middle));
  frame.centre_x = frame.left + middle;
  frame.centre_y = frame.top + middle;
  frame.radius = radius_grid * frame.px_per_grid;
  return frame;
}

namespace {

/// The face at the frame's size, in linear light.
cv::Mat picture_of(const CalibratedFace& face, const FaceFrame& frame) {
  cv::Mat picture;
  // Below half as much again, two neighbours hold all that a mean over the area would, in a third of the
  // time.
  const bool shrinks = 3 * frame.side_px < 2 * face.colour.cols;
  const int rows = std::max(1, static_cast<int>(std::lround(2.0 * face.colour.rows * frame.px_per_grid)));
  cv::resize(face.colour,
             picture,
             cv::Size(frame.side_px, rows),
             0.0,
             0.0,
             shrinks ? cv::INTER_AREA : cv::INTER_LINEAR);
  return picture;
}

}  // namespace

cv::Mat framed_picture(const CalibratedFace& face, const FaceFrame& frame) {
  if (face.colour.empty()) return {};
  const cv::Mat picture = picture_of(face, frame);
  return encoded(picture, exposure(picture, frame.radius));
}

cv::Mat framed_picture(const CalibratedFace& face, const FaceFrame& frame, double gain) {
  if (face.colour.empty()) return {};
  return encoded(picture_of(face, frame), static_cast<float>(gain));
}

void paint_face(cairo_t* cairo, const cv::Mat& picture, const FaceFrame& frame) {
  if (picture.empty()) return;
  const CairoSurface surface(cairo_image_surface_create_for_data(const_cast<unsigned char*>(picture.ptr()),
                                                                 CAIRO_FORMAT_RGB24,
                                                                 picture.cols,
                                                                 picture.rows,
                                                                 static_cast<int>(picture.step)));
  cairo_set_source_surface(cairo, surface.get(), frame.left, frame.top);
  cairo_arc(cairo, frame.centre_x, frame.centre_y, frame.radius, 0.0, kTwoPi);
  cairo_fill(cairo);
}

void paint_face(
    cairo_t* cairo, const CalibratedFace& face, const FaceFrame& frame, double gain, double wash) {
  if (face.colour.empty()) return;
  paint_face(cairo, framed_picture(face, frame, gain), frame);
  if (wash <= 0.0) return;
  set_ink(cairo, {1.0, 1.0, 1.0, wash});
  cairo_arc(cairo, frame.centre_x, frame.centre_y, frame.radius, 0.0, kTwoPi);
  cairo_fill(cairo);
}

double usual_exposure(const CalibratedFace& face) {
  if (face.colour.empty()) return 1.0;
  return static_cast<double>(exposure(face.colour, 0.5 * (face.radius / face.grid.pitch).number()));
}

cv::Mat display_pixels(const cv::Mat& linear) { return encoded(linear, 1.0F); }

}  // namespace corefleck
