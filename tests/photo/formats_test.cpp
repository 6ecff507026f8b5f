#include "photo/photo_files.hpp"

#include "corefleck/photo.hpp"

#include <catch2/catch.hpp>

#include <cstring>

using namespace corefleck;
namespace files = photo_files;

namespace {

bool same(const cv::Mat& a, const cv::Mat& b) {
  if (a.size() != b.size() || a.type() != b.type()) return false;
  for (int y = 0; y < a.rows; ++y)
    if (std::memcmp(a.ptr(y), b.ptr(y), static_cast<std::size_t>(a.cols) * a.elemSize()) != 0) return false;
  return true;
}

/// The first `channels` channels.
cv::Mat kept(const cv::Mat& samples, int channels) {
  cv::Mat out(samples.size(), CV_MAKETYPE(samples.depth(), channels));
  for (int c = 0; c < channels; ++c) {
    cv::Mat one;
    cv::extractChannel(samples, one, c);
    cv::insertChannel(one, out, c);
  }
  return out;
}

Photo read(const std::filesystem::path& path) {
  auto photo = read_photo(path, {});
  if (!photo) FAIL(photo.error().what + "; " + photo.error().hint);
  return *std::move(photo);
}

}  // namespace

TEST_CASE("TIFF: every layout, depth and compression is read back exactly", "[photo]") {
  const files::Folder folder;
  const auto path = folder / "a.tif";
  for (const int depth : {CV_8U, CV_16U})
    for (const int channels : {1, 2, 3, 4})
      for (const bool tiled : {false, true})
        for (const bool planes : {false, true})
          for (const int compression : {1, 5, 8}) {
            const int kept_channels = channels >= 3 ? 3 : 1;
            const cv::Mat samples = files::random_samples(53, 37, CV_MAKETYPE(depth, channels), 7);
            const bool predictor = compression != 1 && tiled;
            INFO(depth << ' ' << channels << ' ' << tiled << ' ' << planes << ' ' << compression);
            files::write_tiff(path,
                              samples,
                              {.photometric = kept_channels == 3 ? 2 : 1,
                               .compression = compression,
                               .predictor = predictor,
                               .tiled = tiled,
                               .planes = planes,
                               .icc = {}});
            const Photo photo = read(path);
            CHECK(photo.format == "TIFF");
            CHECK(same(photo.samples, kept(samples, kept_channels)));
            CHECK(photo.decode.size() == static_cast<std::size_t>(kept_channels));
            CHECK(photo.decode[0].size() == (depth == CV_8U ? 256U : 65536U));
          }
}

TEST_CASE("TIFF: where white is zero, codes are turned round so that white is full scale", "[photo]") {
  const files::Folder folder;
  for (const int type : {CV_8UC1, CV_16UC1})
    for (const bool tiled : {false, true}) {
      const cv::Mat samples = files::random_samples(20, 30, type, 3);
      files::write_tiff(folder / "w.tif", samples, {.photometric = 0, .tiled = tiled, .icc = {}});
      cv::Mat turned;
      cv::bitwise_not(samples, turned);
      CHECK(same(read(folder / "w.tif").samples, turned));
    }
}

TEST_CASE("TIFF: a palette of 8 bits becomes RGB", "[photo]") {
  const files::Folder folder;
  const cv::Mat codes = files::random_samples(20, 10, CV_8UC1, 3);
  files::write_tiff(folder / "p.tif", codes, {.photometric = 3, .icc = {}});
  const Photo photo = read(folder / "p.tif");
  REQUIRE(photo.samples.type() == CV_8UC3);
  const std::uint8_t code = codes.at<std::uint8_t>(4, 5);
  CHECK(photo.samples.at<cv::Vec3b>(4, 5) == cv::Vec3b(code, static_cast<std::uint8_t>(255 - code), 7));
}

TEST_CASE("TIFF: floating-point, signed and 32-bit samples are refused with what to save instead",
          "[photo]") {
  const files::Folder folder;
  const auto refusal = [&](int type, int sample_format, int bits) {
    const cv::Mat samples = cv::Mat::zeros(8, 8, type);
    files::write_tiff(folder / "r.tif",
                      samples,
                      {.photometric = 1, .sample_format = sample_format, .bits = bits, .icc = {}});
    const auto photo = read_photo(folder / "r.tif", {});
    REQUIRE_FALSE(photo);
    CHECK(photo.error().code == ErrorCode::unreadable_photo);
    CHECK_THAT(photo.error().what, Catch::Contains("r.tif"));
    CHECK_THAT(photo.error().hint, Catch::Contains("8- or 16-bit TIFF"));
  };
  refusal(CV_32FC1, 3, 0);
  refusal(CV_16SC1, 2, 0);
  refusal(CV_32SC1, 1, 0);
  refusal(CV_8UC1, 1, 1);
}

TEST_CASE("PNG: 8 and 16 bits, grey and RGB, with and without alpha, are read back exactly", "[photo]") {
  const files::Folder folder;
  for (const int depth : {CV_8U, CV_16U})
    for (const int channels : {1, 2, 3, 4})
      for (const bool interlaced : {false, true}) {
        const cv::Mat samples = files::random_samples(45, 33, CV_MAKETYPE(depth, channels), 11);
        files::write_bytes(folder / "a.png",
                           files::png(samples, {.icc = {}, .exif = {}, .interlaced = interlaced}));
        INFO(depth << ' ' << channels << ' ' << interlaced);
        const Photo photo = read(folder / "a.png");
        CHECK(photo.format == "PNG");
        CHECK(same(photo.samples, kept(samples, channels >= 3 ? 3 : 1)));
      }
}

TEST_CASE("PNG: palettes and grey of 1, 2 and 4 bits are expanded to 8 bits", "[photo]") {
  const files::Folder folder;
  files::write_bytes(folder / "g.png", files::packed_png({0, 1, 2, 3}, 2));
  const Photo grey = read(folder / "g.png");
  REQUIRE(grey.samples.type() == CV_8UC1);
  for (int x = 0; x < 4; ++x)
    CHECK(grey.samples.at<std::uint8_t>(0, x) == 85 * x);  // by hand: 255 / 3 a step

  const std::vector<cv::Vec3b> palette{{1, 2, 3}, {250, 120, 7}};
  files::write_bytes(folder / "p.png", files::packed_png({1, 0, 1}, 1, palette));
  const Photo colour = read(folder / "p.png");
  REQUIRE(colour.samples.type() == CV_8UC3);
  CHECK(colour.samples.at<cv::Vec3b>(0, 0) == palette[1]);
  CHECK(colour.samples.at<cv::Vec3b>(0, 1) == palette[0]);
}

TEST_CASE("alpha: a photo that is transparent everywhere is refused", "[photo]") {
  const files::Folder folder;
  cv::Mat samples = files::random_samples(9, 9, CV_8UC4, 5);
  cv::insertChannel(cv::Mat::zeros(9, 9, CV_8UC1), samples, 3);
  files::write_bytes(folder / "t.png", files::png(samples));
  files::write_tiff(folder / "t.tif", samples, {});
  for (const char* name : {"t.png", "t.tif"}) {
    const auto photo = read_photo(folder / name, {});
    REQUIRE_FALSE(photo);
    CHECK_THAT(photo.error().what, Catch::Contains("transparent"));
  }
}

TEST_CASE("JPEG: colour comes in the order R, G, B, and grey stays grey", "[photo]") {
  const files::Folder folder;
  const cv::Mat red(32, 48, CV_8UC3, cv::Scalar(200, 40, 90));
  for (const bool progressive : {false, true}) {
    files::write_bytes(folder / "a.jpg",
                       files::jpeg(red, {.exif = {}, .icc = {}, .progressive = progressive}));
    const Photo photo = read(folder / "a.jpg");
    CHECK(photo.format == "JPEG");
    const auto pixel = photo.samples.at<cv::Vec3b>(16, 20);
    CHECK(std::abs(pixel[0] - 200) <= 2);
    CHECK(std::abs(pixel[1] - 40) <= 2);
    CHECK(std::abs(pixel[2] - 90) <= 2);
  }
  files::write_bytes(folder / "g.jpg", files::jpeg(cv::Mat(32, 48, CV_8UC1, cv::Scalar(77))));
  const Photo grey = read(folder / "g.jpg");
  CHECK(grey.is_grey());
  CHECK(grey.samples.at<std::uint8_t>(3, 3) == 77);
}

// A large photo is decoded by two threads, the second of which skips the first one's rows; libjpeg decoding
// it in one go is the oracle.
TEST_CASE("JPEG: two threads read the same samples as one, whichever way up", "[photo]") {
  const files::Folder folder;
  const int orientation = GENERATE(1, 3, 6, 7);
  const int height = GENERATE(1800, 1801, 1823);
  files::write_bytes(folder / "large.jpg",
                     files::jpeg(files::random_samples(2401, height, CV_8UC3, 5),
                                 {.exif = files::exif_with_orientation(orientation), .icc = {}}));
  const int threads = cv::getNumThreads();
  cv::setNumThreads(1);
  const Photo by_one = read(folder / "large.jpg");
  cv::setNumThreads(2);
  const Photo by_two = read(folder / "large.jpg");
  cv::setNumThreads(threads);
  CHECK(same(by_one.samples, by_two.samples));
}

TEST_CASE("JPEG: a large one cut short is refused, wherever it ends", "[photo]") {
  const files::Folder folder;
  const double share = GENERATE(0.1, 0.5, 0.7, 0.99);
  files::Bytes bytes = files::jpeg(files::random_samples(2400, 1800, CV_8UC3, 6));
  bytes.resize(static_cast<std::size_t>(share * static_cast<double>(bytes.size())));
  files::write_bytes(folder / "cut.jpg", bytes);
  const auto photo = read_photo(folder / "cut.jpg", {});
  REQUIRE_FALSE(photo);
  CHECK(photo.error().code == ErrorCode::unreadable_photo);
}

TEST_CASE("JPEG: printing colours are refused with the reason", "[photo]") {
  const files::Folder folder;
  files::write_bytes(
      folder / "c.jpg",
      files::jpeg(files::random_samples(16, 16, CV_8UC4, 1), {.exif = {}, .icc = {}, .cmyk = true}));
  const auto photo = read_photo(folder / "c.jpg", {});
  REQUIRE_FALSE(photo);
  CHECK_THAT(photo.error().what, Catch::Contains("CMYK"));
}

TEST_CASE("kind is told by content, not by the file's name", "[photo]") {
  const files::Folder folder;
  const cv::Mat samples = files::random_samples(8, 8, CV_8UC3, 2);
  files::write_bytes(folder / "wrong.jpg", files::png(samples));
  CHECK(read(folder / "wrong.jpg").format == "PNG");
}

TEST_CASE("a packaged photograph is read with the size and digest listed for it", "[photo]") {
  const std::filesystem::path path = "/usr/lib/python3/dist-packages/skimage/data/coins.png";
  if (!std::filesystem::exists(path)) {
    WARN("skipped: Debian's python3-skimage with its test pictures is not installed");
    return;
  }
  const Photo photo = read(path);
  CHECK(photo.width_px() == 384);
  CHECK(photo.height_px() == 303);
  CHECK(photo.sha256 == "f8d773fc9cfa6f4d8e5942dc34d0a0788fcaed2a4fefbbed0aef5398d7ef4cba");
  CHECK(cv::mean(photo.samples)[0] ==
        Approx(96.855516).margin(5e-7));  // regression: mean code by another reader
}
