#include "photo/exif.hpp"
#include "photo/photo_files.hpp"
#include "photo/upright_rows.hpp"

#include "corefleck/photo.hpp"

#include <catch2/catch.hpp>

#include <cstring>
#include <fstream>
#include <iterator>
#include <limits>
#include <sstream>

using namespace corefleck;
namespace files = photo_files;

namespace {

using Grid = std::vector<std::vector<int>>;

/// "1 2 3/4 5 6" as rows of numbers.
Grid grid(const std::string& text) {
  Grid rows;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line, '/');) {
    std::istringstream numbers(line);
    rows.emplace_back(std::istream_iterator<int>(numbers), std::istream_iterator<int>());
  }
  return rows;
}

struct Published {
  int value;
  Grid stored, upright;
};

std::vector<Published> published() {
  std::ifstream file(TEST_DATA_DIR "/exif_orientation.csv");
  std::vector<Published> cases;
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line[0] < '0' || line[0] > '9') continue;
    std::istringstream cells(line);
    std::string value, meaning, stored, upright;
    std::getline(cells, value, ',');
    std::getline(cells, meaning, ',');
    std::getline(cells, stored, ',');
    std::getline(cells, upright, ',');
    cases.push_back({std::stoi(value), grid(stored), grid(upright)});
  }
  return cases;
}

constexpr int kCell = 16;  // as large as a JPEG's block, so that the levels survive compression

cv::Mat drawn(const Grid& cells) {
  cv::Mat samples(kCell * static_cast<int>(cells.size()), kCell * static_cast<int>(cells[0].size()), CV_8UC1);
  for (int y = 0; y < samples.rows; ++y)
    for (int x = 0; x < samples.cols; ++x)
      samples.at<std::uint8_t>(y, x) = static_cast<std::uint8_t>(
          40 * cells[static_cast<std::size_t>(y / kCell)][static_cast<std::size_t>(x / kCell)]);
  return samples;
}

void check_upright(const std::filesystem::path& path, const Published& expected) {
  const auto photo = read_photo(path, {});
  REQUIRE(photo);
  CHECK(photo->orientation == expected.value);
  const cv::Mat upright = drawn(expected.upright);
  REQUIRE(photo->samples.size() == upright.size());
  CHECK(cv::norm(photo->samples, upright, cv::NORM_INF) <= 1.0);
}

/// Where the pixel that is stored at (x, y) belongs, written out of the standard's table one by one.
cv::Point target(int orientation, int x, int y, cv::Size stored) {
  const int right = stored.width - 1 - x, below = stored.height - 1 - y;
  switch (orientation) {
    case 2:
      return {right, y};
    case 3:
      return {right, below};
    case 4:
      return {x, below};
    case 5:
      return {y, x};
    case 6:
      return {below, x};
    case 7:
      return {below, right};
    case 8:
      return {y, right};
    default:
      return {x, y};
  }
}

}  // namespace

TEST_CASE("orientation: JPEG, TIFF and PNG come upright for all eight published values", "[photo]") {
  const files::Folder folder;
  const auto cases = published();
  REQUIRE(cases.size() == 8);
  for (const Published& expected : cases) {
    INFO("orientation " << expected.value);
    const cv::Mat stored = drawn(expected.stored);
    const files::Bytes exif = files::exif_with_orientation(expected.value);
    files::write_bytes(folder / "o.jpg", files::jpeg(stored, {.exif = exif, .icc = {}}));
    check_upright(folder / "o.jpg", expected);
    files::write_bytes(folder / "o.png",
                       files::png(stored, {.icc = {}, .exif = {exif.begin() + 6, exif.end()}}));
    check_upright(folder / "o.png", expected);
    for (const bool tiled : {false, true}) {
      files::write_tiff(folder / "o.tif",
                        stored,
                        {.photometric = 1, .orientation = expected.value, .tiled = tiled, .icc = {}});
      check_upright(folder / "o.tif", expected);
    }
  }
}

TEST_CASE("orientation: every pixel of odd sizes finds its place, for each kind of sample", "[photo]") {
  for (const int type : {CV_8UC1, CV_8UC3, CV_16UC1, CV_16UC3})
    for (const cv::Size size :
         {cv::Size(1, 1), cv::Size(70, 1), cv::Size(1, 70), cv::Size(45, 77), cv::Size(64, 32)})
      for (int orientation = 1; orientation <= 8; ++orientation) {
        const cv::Mat stored = files::random_samples(size.width, size.height, type, 5);
        const cv::Mat upright = turned_upright(stored, orientation);
        bool all = true;
        for (int y = 0; y < size.height; ++y)
          for (int x = 0; x < size.width; ++x) {
            const cv::Point at = target(orientation, x, y, size);
            all = all && cv::Rect({}, upright.size()).contains(at) &&
                  std::memcmp(upright.ptr(at.y, at.x), stored.ptr(y, x), stored.elemSize()) == 0;
          }
        INFO(type << ' ' << size << ' ' << orientation);
        CHECK(all);
      }
}

TEST_CASE("orientation: a TIFF in planes on its side comes upright", "[photo]") {
  const files::Folder folder;
  const cv::Mat stored = files::random_samples(40, 21, CV_16UC3, 6);
  files::write_tiff(folder / "s.tif", stored, {.orientation = 6, .planes = true, .icc = {}});
  const auto photo = read_photo(folder / "s.tif", {});
  REQUIRE(photo);
  CHECK(cv::norm(photo->samples, turned_upright(stored, 6), cv::NORM_INF) == 0.0);
}

TEST_CASE("orientation: a value outside 1 to 8 is not applied", "[photo]") {
  const files::Folder folder;
  const cv::Mat stored = files::random_samples(48, 16, CV_8UC1, 6);
  files::write_bytes(folder / "o.jpg",
                     files::jpeg(stored, {.exif = files::exif_with_orientation(99), .icc = {}}));
  const auto photo = read_photo(folder / "o.jpg", {});
  REQUIRE(photo);
  CHECK(photo->orientation == 1);
  CHECK(photo->samples.size() == cv::Size(48, 16));
}

TEST_CASE("camera: what the camera wrote is read from JPEG", "[photo]") {
  const files::Folder folder;
  const files::Bytes exif = files::exif({{"Exif.Image.Make", "Maker  "},
                                         {"Exif.Image.Model", "Model 1"},
                                         {"Exif.Photo.LensModel", "Lens 50 mm"},
                                         {"Exif.Photo.ExposureTime", "1/125"},
                                         {"Exif.Photo.FNumber", "56/10"},
                                         {"Exif.Photo.ISOSpeedRatings", "200"},
                                         {"Exif.Photo.FocalLength", "50/1"},
                                         {"Exif.Photo.FocalLengthIn35mmFilm", "75"},
                                         {"Exif.Photo.ColorSpace", "1"},
                                         {"Exif.Photo.DateTimeOriginal", "2026:03:14 10:22:05"},
                                         {"Exif.Photo.OffsetTimeOriginal", "+02:00"}});
  files::write_bytes(folder / "c.jpg", files::jpeg(cv::Mat::zeros(8, 8, CV_8UC3), {.exif = exif, .icc = {}}));
  const auto photo = read_photo(folder / "c.jpg", {});
  REQUIRE(photo);
  const CameraData& camera = photo->camera;
  CHECK(camera.make == "Maker");
  CHECK(camera.model == "Model 1");
  CHECK(camera.lens == "Lens 50 mm");
  CHECK(camera.exposure_time_s == 0.008);
  CHECK(camera.f_number == 5.6);
  CHECK(camera.iso_speed == 200.0);
  CHECK(camera.focal_length_mm == 50.0);
  CHECK(camera.focal_length_35mm_mm == 75.0);
  CHECK(camera.taken == "2026-03-14T10:22:05+02:00");
  CHECK(photo->colour_space == "sRGB");
  CHECK(photo->has_camera_tones());
  Photo deep = *photo;
  deep.samples = cv::Mat::zeros(8, 8, CV_16UC3);
  CHECK_FALSE(deep.has_camera_tones());
  Photo nameless = *photo;
  nameless.camera.make.clear();
  CHECK_FALSE(nameless.has_camera_tones());
}

TEST_CASE("camera: what the camera wrote is read from TIFF", "[photo]") {
  const files::Folder folder;
  files::write_tiff_with_exif(folder / "c.tif", files::random_samples(20, 20, CV_8UC3, 1));
  const auto photo = read_photo(folder / "c.tif", {});
  REQUIRE(photo);
  const CameraData& camera = photo->camera;
  CHECK(camera.make == "Maker");
  CHECK(camera.model == "Model 1");
  CHECK(camera.lens == "Lens 50 mm");
  REQUIRE(camera.exposure_time_s);
  CHECK(*camera.exposure_time_s == Approx(0.008));
  REQUIRE(camera.f_number);
  CHECK(*camera.f_number == Approx(5.6));
  CHECK(camera.iso_speed == 200.0);
  CHECK(camera.focal_length_mm == 50.0);
  CHECK(camera.focal_length_35mm_mm == 75.0);
  CHECK(camera.taken == "2026-03-14T10:22:05");
}

TEST_CASE("camera: figures and times that mean 'not known' stay empty", "[photo]") {
  CHECK(iso_time("0000:00:00 00:00:00", "").empty());
  CHECK(iso_time("    :  :     :  :  ", "").empty());
  CHECK(iso_time("2026:03:14 10:22:05", "nonsense") == "2026-03-14T10:22:05");
  CHECK_FALSE(positive(0.0));
  CHECK_FALSE(positive(std::numeric_limits<double>::infinity()));
  CHECK(plain_text(std::string_view(" a\nb\xFF \0x", 8)) == "a b?");
}

TEST_CASE("camera: a garbled Exif block never makes a photo unreadable", "[photo]") {
  const files::Folder folder;
  files::Bytes exif = files::exif_with_orientation(6);
  for (std::size_t i = 14; i < exif.size(); ++i) exif[i] = static_cast<std::uint8_t>(0xA5 + 31 * i);
  files::write_bytes(folder / "x.jpg", files::jpeg(cv::Mat::zeros(8, 8, CV_8UC3), {.exif = exif, .icc = {}}));
  CHECK(read_photo(folder / "x.jpg", {}));
}
