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

template <class T>
T tag(TIFF* tiff, std::uint32_t which) {
  T value{};
  REQUIRE(TIFFGetField(tiff, which, &value) == 1);
  return value;
}

}  // namespace

TEST_CASE("label map: read back through libtiff, every label is where it was", "[report]") {
  const ScratchFolder folder;
  const cv::Mat labels = made_labels();
  const OpenTiff tiff = written(folder, labels, MmPerPx{0.05});
  std::vector<std::uint32_t> row(static_cast<std::size_t>(labels.cols));
  for (int y = 0; y < labels.rows; ++y) {
    REQUIRE(TIFFReadScanline(tiff.get(), row.data(), static_cast<std::uint32_t>(y), 0) == 1);
    for (int x = 0; x < labels.cols; ++x)
      REQUIRE(row[static_cast<std::size_t>(x)] == static_cast<std::uint32_t>(labels.at<int>(y, x)));
  }
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
  std::vector<std::uint32_t> row(30);
  for (std::uint32_t y = 0; y < 2; ++y) REQUIRE(TIFFReadScanline(tiff.get(), row.data(), y, 0) == 1);
  CHECK(row[0] == 0);
  CHECK(row[1] == 1);
}
