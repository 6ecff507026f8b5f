#pragma once

#include <opencv2/core.hpp>

#include <cstdint>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

// Photo files for the tests, written by the libraries of the formats themselves and read back by the module.
namespace photo_files {

using Bytes = std::vector<std::uint8_t>;

/// An empty folder of its own, removed with all that is in it.
class Folder {
 public:
  Folder();
  ~Folder();
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  Folder(Folder&&) = delete;
  Folder& operator=(Folder&&) = delete;
  [[nodiscard]] std::filesystem::path operator/(const std::string& name) const { return path_ / name; }

 private:
  std::filesystem::path path_;
};

void write_bytes(const std::filesystem::path& path, const Bytes& bytes);
[[nodiscard]] Bytes bytes_of(const std::filesystem::path& path);

/// Random codes of the whole range; channels in the order R, G, B, A.
[[nodiscard]] cv::Mat random_samples(int width, int height, int type, unsigned seed);

struct JpegForm {
  int quality = 95;
  Bytes exif;  ///< with the leading "Exif"
  Bytes icc;
  bool progressive = false;
  bool cmyk = false;  ///< for four channels
};
[[nodiscard]] Bytes jpeg(const cv::Mat& samples, const JpegForm& form = {});

struct PngForm {
  Bytes icc;
  Bytes exif;  ///< without the leading "Exif"
  double gamma = 0.0;
  bool srgb = false;
  bool interlaced = false;
};
[[nodiscard]] Bytes png(const cv::Mat& samples, const PngForm& form = {});
/// One row of palette indices or grey codes of fewer than 8 bits, one a byte.
[[nodiscard]] Bytes packed_png(const std::vector<std::uint8_t>& row,
                               int bits,
                               const std::vector<cv::Vec3b>& palette = {});

struct TiffForm {
  int photometric = 2;  ///< 0 min-is-white, 1 min-is-black, 2 RGB, 3 palette
  int compression = 1;  ///< 1 none, 5 LZW, 8 Deflate
  int orientation = 1;
  int sample_format = 1;  ///< 1 unsigned, 2 signed, 3 floating point
  int bits = 0;           ///< 0: as the samples have
  bool predictor = false, tiled = false, planes = false;
  Bytes icc;
};
void write_tiff(const std::filesystem::path& path, const cv::Mat& samples, const TiffForm& form);
/// Adds the camera fields "Maker", "Model 1" and the Exif fields that the test of them lists.
void write_tiff_with_exif(const std::filesystem::path& path, const cv::Mat& samples);

/// Exif block, led by "Exif", with these fields, keys as exiv2 names them.
[[nodiscard]] Bytes exif(const std::vector<std::pair<std::string, std::string>>& fields);
[[nodiscard]] Bytes exif_with_orientation(int orientation);

}  // namespace photo_files
