#include "calibration/light_field.hpp"
#include "drawn_photo.hpp"

#include "corefleck/colorimetry.hpp"
#include "corefleck/segmentation.hpp"

#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>
#include <png.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

// Debian package python3-skimage 0.19.3: coins.png, Brooklyn Museum Collection, no known copyright
// restrictions. 384 x 303 px, 24 coins counted by eye; the ground is uneven at the top left, where a single
// threshold fails.
constexpr const char* kCoins = "/usr/lib/python3/dist-packages/skimage/data/coins.png";

std::optional<cv::Mat> linear_grey(const std::string& path) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  if (png_image_begin_read_from_file(&image, path.c_str()) == 0) return std::nullopt;
  image.format = PNG_FORMAT_GRAY;
  cv::Mat codes(static_cast<int>(image.height), static_cast<int>(image.width), CV_8UC1);
  if (png_image_finish_read(&image, nullptr, codes.data, 0, nullptr) == 0) return std::nullopt;
  cv::Mat linear(codes.size(), CV_32FC1);
  for (int y = 0; y < codes.rows; ++y)
    for (int x = 0; x < codes.cols; ++x)
      linear.at<float>(y, x) = static_cast<float>(srgb_to_linear(codes.at<unsigned char>(y, x) / 255.0));
  return linear;
}

/// The picture as a face: its middle at the face's centre, the ground of its border carried on outwards.
CalibratedFace face_around(const cv::Mat& picture) {
  DrawnFace drawn;
  drawn.size_px = 521;
  drawn.noise = 0.0;
  CalibratedFace face = calibrated_face(drawn);
  const int left = (drawn.size_px - picture.cols) / 2, top = (drawn.size_px - picture.rows) / 2;
  cv::copyMakeBorder(picture,
                     face.luminance,
                     top,
                     drawn.size_px - picture.rows - top,
                     left,
                     drawn.size_px - picture.cols - left,
                     cv::BORDER_REPLICATE);
  cv::Mat half;
  cv::resize(face.luminance, half, face.colour.size(), 0, 0, cv::INTER_AREA);
  cv::merge(std::vector<cv::Mat>{half, half, half}, face.colour);
  face.clipped.setTo(0);
  face.absolute_luminance = false;
  face.card.reset();
  face.light = matrix_light(face);
  even_out(face);
  return face;
}

struct Coin {
  cv::Rect box;
  double area_px;
};

/// The head on a coin may part it: parts of one light region have one box.
std::vector<Coin> coins_of(const std::vector<Region>& spots) {
  std::vector<Coin> coins;
  for (const Region& spot : spots) {
    const auto same =
        std::find_if(coins.begin(), coins.end(), [&](const Coin& coin) { return coin.box == spot.box; });
    if (same == coins.end())
      coins.push_back({spot.box, spot.area_px});
    else
      same->area_px += spot.area_px;
  }
  return coins;
}

}  // namespace

// The program was not made for coins: 14 of the 24 were found when this was written (regression), why not the
// others was not looked into. So no count is met; what is found must have the size and the proportions of a
// coin. Areas of the 24 by edge watershed: 1077 to 3141 px.
TEST_CASE("coins: what is found in a museum's photo on uneven ground are coins, and half of the 24 at least",
          "[segmentation]") {
  if (!std::filesystem::exists(kCoins)) {
    WARN("skipped: the package python3-skimage is not installed");
    return;
  }
  const auto picture = linear_grey(kCoins);
  REQUIRE(picture.has_value());
  SegmentationSettings settings;
  settings.min_spot = Millimetres{2.0};  // 20 px: the smallest coin is 37 px across
  const auto map = find_spots(face_around(*picture), settings);
  REQUIRE(map.has_value());
  const std::vector<Coin> coins = coins_of(map->spots);
  for (const Coin& coin : coins) UNSCOPED_INFO("coin at " << coin.box << " area " << coin.area_px);
  CHECK(coins.size() >= 12);
  CHECK(coins.size() <= 24);
  for (const Coin& coin : coins) {
    CHECK(coin.area_px > 0.5 * 1077.0);
    CHECK(coin.area_px < 1.05 * 3141.0);
    CHECK(std::abs(coin.box.width - coin.box.height) < 12);
  }
}
