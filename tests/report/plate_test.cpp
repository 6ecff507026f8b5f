#include "plate.hpp"

#include "face_frame.hpp"
#include "report/made_face.hpp"

#include <catch2/catch.hpp>
#include <png.h>

#include <cstring>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

struct Decoded {
  cv::Mat pixels;  // CV_8UC3
  png_uint_32 px_per_metre = 0;
};

Decoded decoded(const std::string& png) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  REQUIRE(png_image_begin_read_from_memory(&image, png.data(), png.size()) != 0);
  image.format = PNG_FORMAT_RGB;
  Decoded result{cv::Mat(static_cast<int>(image.height), static_cast<int>(image.width), CV_8UC3), 0};
  REQUIRE(png_image_finish_read(&image, nullptr, result.pixels.data, 0, nullptr) != 0);
  // pHYs (PNG specification, 11.3.5.3): two four-byte numbers, most significant byte first, after the chunk's
  // name.
  const auto at = png.find("pHYs");
  REQUIRE(at != std::string::npos);
  for (std::size_t i = 0; i < 4; ++i)
    result.px_per_metre = result.px_per_metre << 8U | static_cast<unsigned char>(png[at + 4 + i]);
  return result;
}

Decoded plate_of(const MeasuredFace& made, const PlateOptions& options = {}) {
  const auto png = plate_png(made, made_context(), options);
  REQUIRE(png);
  return decoded(*png);
}

}  // namespace

TEST_CASE("plate: is 2000 pixels wide and knows that these are 180 mm", "[report]") {
  const Decoded plate = plate_of(made_face({.spots = 5, .pitch_mm = 0.1}));
  CHECK(plate.pixels.cols == 2000);
  CHECK(plate.pixels.rows > 2000);
  CHECK(plate.pixels.rows < 2830);  // no longer than A4 beside its width
  CHECK(plate.px_per_metre == 11111);
}

TEST_CASE("plate: no number covers a pixel of a spot", "[report]") {
  const int spots = GENERATE(5, 40, 300);
  const MeasuredFace made = made_face({.spots = spots, .pits = 6, .pitch_mm = 0.05});
  const Decoded with = plate_of(made), without = plate_of(made, {.numbers = false});
  // Where on the plate the face lies is found as the plate does: from the middle that all plates share.
  const FaceFrame frame = face_frame(made.face, 872.0, 1004.0, 1500.0);
  int changed = 0, on_spots = 0;
  const cv::Mat& labels = made.spots.labels;
  for (int row = 200; row < 1800; ++row)
    for (int column = 60; column < 1690; ++column) {
      if (with.pixels.at<cv::Vec3b>(row, column) == without.pixels.at<cv::Vec3b>(row, column)) continue;
      ++changed;
      const int x = static_cast<int>((column + 0.5 - frame.left) / frame.px_per_grid);
      const int y = static_cast<int>((row + 0.5 - frame.top) / frame.px_per_grid);
      if (x >= 0 && y >= 0 && x < labels.cols && y < labels.rows && labels.at<int>(y, x) > 0) ++on_spots;
    }
  CHECK(changed > 100 * std::min(spots, 60));
  CHECK(on_spots == 0);
}

TEST_CASE("plate: a spot shows lighter than the matrix, and neither clips", "[report]") {
  const MeasuredFace made = made_face({.spots = 5, .pits = 0, .pitch_mm = 0.05, .glare = false});
  const Decoded plate = plate_of(made, {.numbers = false});
  const FaceFrame frame = face_frame(made.face, 872.0, 1004.0, 1500.0);
  const FaceFrame& f = frame;
  const SpotFigures& largest = made.figures.spots.front();
  const double px_per_mm = f.px_per_grid / made.face.grid.pitch.number();
  const cv::Point spot(static_cast<int>(f.centre_x + largest.x_mm * px_per_mm),
                       static_cast<int>(f.centre_y - largest.y_mm * px_per_mm));
  const cv::Scalar in_spot = cv::mean(plate.pixels(cv::Rect(spot.x - 5, spot.y - 5, 11, 11)));
  const cv::Scalar matrix =
      cv::mean(plate.pixels(cv::Rect(static_cast<int>(f.centre_x) - 300, 1000, 600, 60)));
  CHECK(in_spot[1] > matrix[1] + 25.0);
  CHECK(in_spot[1] < 250.0);
  CHECK(matrix[1] > 100.0);
  CHECK(matrix[1] < 160.0);
}

TEST_CASE("plate: names of markup, control characters and odd bytes are drawn as text", "[report]") {
  for (const auto* name : {"<b>core</b> & <i>7.jpg", "\xFF\xFE\n\t.jpg", "", "&#0;"})
    CHECK(plate_png(made_face({.spots = 1, .pitch_mm = 0.2, .photo = name}), made_context()).has_value());
}

TEST_CASE("plate: without spots, card or any picture there is still a plate", "[report]") {
  CHECK(plate_png(made_face({.spots = 0, .pits = 0, .pitch_mm = 0.2, .glare = false}), made_context())
            .has_value());
  MeasuredFace bare = made_face({.spots = 3, .pitch_mm = 0.2, .card = false});
  CHECK(plate_png(bare, made_context()).has_value());
  bare.face.colour.release();
  bare.spots.outside.release();
  CHECK(plate_png(bare, made_context()).has_value());
}

TEST_CASE("plate: drawn twice, the bytes are the same", "[report]") {
  const MeasuredFace made = made_face({.spots = 30, .pitch_mm = 0.1});
  CHECK(*plate_png(made, made_context()) == *plate_png(made, made_context()));
}
