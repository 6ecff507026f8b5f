#include "label_tiff.hpp"

#include "report/scratch_folder.hpp"

#include "corefleck/report.hpp"

#include <catch2/catch.hpp>
#include <tiffio.h>

#include <memory>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

using OpenTiff = std::unique_ptr<TIFF, decltype(&TIFFClose)>;

cv::Mat made_labels() {
  cv::Mat labels = cv::Mat::zeros(101, 73, CV_32SC1);
  labels(cv::Rect(3, 4, 20, 11)) = 1;
  labels(cv::Rect(40, 50, 9, 33)) = 2;
  labels.at<int>(100, 72) = 70000;  // more than 16 bits hold
  return labels;
}

OpenTiff written(const ScratchFolder& folder, const cv::Mat& labels, MmPerPx pitch) {
  const auto bytes = label_tiff(labels, pitch);
  REQUIRE(bytes);
  REQUIRE(write_whole(folder.path() / "spots.tif", *bytes));
  OpenTiff tiff(TIFFOpen((folder.path() / "spots.tif").c_str(), "r"), TIFFClose);
  REQUIRE(tiff);
  return tiff;
}

/// The whole map, tile by tile.
cv::Mat read_back(TIFF* tiff) {
  std::uint32_t width = 0, height = 0, across = 0, down = 0;
  REQUIRE(TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width) == 1);
  REQUIRE(TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height) == 1);
  REQUIRE(TIFFGetField(tiff, TIFFTAG_TILEWIDTH, &across) == 1);
  REQUIRE(TIFFGetField(tiff, TIFFTAG_TILELENGTH, &down) == 1);
  cv::Mat map(static_cast<int>(height), static_cast<int>(width), CV_32SC1);
  cv::Mat tile(static_cast<int>(down), static_cast<int>(across), CV_32SC1);
  for (std::uint32_t y = 0; y < height; y += down)
    for (std::uint32_t x = 0; x < width; x += across) {
      REQUIRE(TIFFReadTile(tiff, tile.data, x, y, 0, 0) > 0);
      const cv::Rect place =
          cv::Rect(static_cast<int>(x), static_cast<int>(y), tile.cols, tile.rows) & cv::Rect({}, map.size());
      tile(cv::Rect({}, place.size())).copyTo(map(place));
    }
  return map;
}

template <class T>
T tag(TIFF* tiff, std::uint32_t which) {
  T value{};
  REQUIRE(TIFFGetField(tiff, which, &value) == 1);
  return value;
}

}  // namespace

TEST_CASE("label map: read back through libtiff, every label is where it was", "[report]") {
  const ScratchFolder folder;
  cv::Mat labels = cv::Mat::zeros(300, 411, CV_32SC1);  // several tiles, some of them empty
  made_labels().copyTo(labels(cv::Rect(90, 100, 73, 101)));
  const OpenTiff tiff = written(folder, labels, MmPerPx{0.05});
  const cv::Mat map = read_back(tiff.get());
  REQUIRE(map.size() == labels.size());
  CHECK(cv::countNonZero(map != labels) == 0);
}

// TIFF 6.0 (Aldus 1992), pages 38, 64 and 80: ResolutionUnit 3 = centimetre, Predictor 2 = horizontal
// differencing, SampleFormat 1 = unsigned. Compression 8 = Deflate (TIFF Technical Notes, Adobe 2002).
TEST_CASE("label map: 0.05 mm a pixel are written as 200 pixels a centimetre", "[report]") {
  const ScratchFolder folder;
  const OpenTiff tiff = written(folder, made_labels(), MmPerPx{0.05});
  CHECK(tag<float>(tiff.get(), TIFFTAG_XRESOLUTION) == 200.0F);
  CHECK(tag<float>(tiff.get(), TIFFTAG_YRESOLUTION) == 200.0F);
  CHECK(tag<std::uint16_t>(tiff.get(), TIFFTAG_RESOLUTIONUNIT) == 3);
  CHECK(tag<std::uint16_t>(tiff.get(), TIFFTAG_COMPRESSION) == 8);
  CHECK(tag<std::uint16_t>(tiff.get(), TIFFTAG_PREDICTOR) == 2);
  CHECK(tag<std::uint16_t>(tiff.get(), TIFFTAG_BITSPERSAMPLE) == 32);
  CHECK(tag<std::uint16_t>(tiff.get(), TIFFTAG_SAMPLESPERPIXEL) == 1);
  CHECK(tag<std::uint16_t>(tiff.get(), TIFFTAG_SAMPLEFORMAT) == 1);
}

TEST_CASE("label map: a part of a larger map is written as the part alone", "[report]") {
  const ScratchFolder folder;
  const cv::Mat part = made_labels()(cv::Rect(2, 3, 30, 20));
  const OpenTiff tiff = written(folder, part, MmPerPx{0.1});
  CHECK(tag<std::uint32_t>(tiff.get(), TIFFTAG_IMAGEWIDTH) == 30);
  CHECK(cv::countNonZero(read_back(tiff.get()) != part) == 0);
}
