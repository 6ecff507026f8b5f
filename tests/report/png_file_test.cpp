#include "png_file.hpp"

#include <catch2/catch.hpp>
#include <opencv2/core/utility.hpp>
#include <png.h>

#include <cstdint>
#include <vector>

using namespace corefleck;

namespace {

/// Grain, a flat part and a ramp, so that each way of packing has its say; in Cairo's order of bytes.
std::vector<std::uint8_t> made_page(int width_px, int height_px) {
  std::vector<std::uint8_t> bytes;
  std::uint32_t state = 1;
  for (int y = 0; y < height_px; ++y)
    for (int x = 0; x < width_px; ++x)
      for (int c = 0; c < 4; ++c) {
        state = state * 1664525U + 1013904223U;
        const auto grain = static_cast<std::uint8_t>(state >> 24U);
        bytes.push_back(y % 3 == 0   ? grain
                        : y % 3 == 1 ? std::uint8_t{200}
                                     : static_cast<std::uint8_t>(x + c));
      }
  return bytes;
}

std::string packed(const std::vector<std::uint8_t>& page, int width_px, int height_px) {
  auto png = png_of({page.data(), width_px, height_px, 4 * width_px}, 11111.0);
  REQUIRE(png);
  return *std::move(png);
}

}  // namespace

TEST_CASE("page: read back through libpng, every pixel is as it was drawn", "[report]") {
  // Below, at and above the height at which a page is packed in several pieces.
  for (const int height : {1, 63, 64, 65, 300}) {
    constexpr int kWidth = 37;
    const auto page = made_page(kWidth, height);
    const std::string png = packed(page, kWidth, height);
    png_image image{};
    image.version = PNG_IMAGE_VERSION;
    REQUIRE(png_image_begin_read_from_memory(&image, png.data(), png.size()) != 0);
    CHECK(static_cast<int>(image.width) == kWidth);
    CHECK(static_cast<int>(image.height) == height);
    CHECK(image.format == PNG_FORMAT_RGB);
    image.format = PNG_FORMAT_BGR;
    std::vector<std::uint8_t> read(PNG_IMAGE_SIZE(image));
    REQUIRE(png_image_finish_read(&image, nullptr, read.data(), 0, nullptr) != 0);
    CHECK(image.warning_or_error == 0);
    std::size_t different = 0;
    for (std::size_t i = 0; i < read.size(); ++i) different += read[i] != page[i / 3 * 4 + i % 3] ? 1U : 0U;
    CHECK(different == 0);
  }
}

TEST_CASE("page: the same bytes for any number of processors", "[report]") {
  const auto page = made_page(120, 500);
  const int threads = cv::getNumThreads();
  cv::setNumThreads(1);
  const std::string alone = packed(page, 120, 500);
  cv::setNumThreads(2);
  const std::string shared = packed(page, 120, 500);
  cv::setNumThreads(threads);
  CHECK(alone == shared);
}
