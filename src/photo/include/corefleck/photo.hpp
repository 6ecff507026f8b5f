#pragma once

#include "corefleck/error.hpp"

#include <opencv2/core.hpp>

#include <array>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace corefleck {

/// photo: from a file to an upright photo in linear light.
///   in     a JPEG, PNG (8, 16 bit) or TIFF (8, 16 bit; grey, RGB, RGBA; strips, tiles; chunky, planar) file
///   out    Photo: the file's own samples, upright, with the curves and the matrix that make linear light of
///   them fails  unreadable_photo, photo_too_large Samples stay encoded in memory, since a decoded frame of
///   floats would be four times as large; every reader goes through the functions below, which give linear
///   light only. Never averages, blurs or resamples encoded values.

/// What the camera wrote, empty where it wrote nothing.
struct CameraData {
  std::string make, model, lens;
  std::optional<double> exposure_time_s, f_number, iso_speed, focal_length_mm;
  /// Focal length of the same field of view on 36 x 24 mm film (Exif tag 0xA405).
  std::optional<double> focal_length_35mm_mm;
  /// DateTimeOriginal as ISO 8601 without zone, `2026-03-14T10:22:05`, or with the zone of
  /// OffsetTimeOriginal.
  std::string taken;
};

struct Photo {
  std::filesystem::path path;
  std::string sha256;  ///< of the file, lower-case hexadecimal
  std::uintmax_t file_bytes = 0;
  std::string format;   ///< "JPEG", "PNG", "TIFF"
  int orientation = 1;  ///< Exif orientation that was applied (1 to 8); samples are upright already
  /// "sRGB (assumed)", "sRGB", or the embedded ICC profile's description; says so where an embedded profile
  /// is unusable and taken as sRGB, and where a PNG's stated exponent is used.
  std::string colour_space;
  CameraData camera;

  /// Upright encoded samples: CV_8UC1, CV_8UC3, CV_16UC1 or CV_16UC3, channels in the order R, G, B.
  cv::Mat samples;
  /// Sample code to linear light in [0, 1], one table a channel (one table when grey).
  std::vector<std::vector<float>> decode;
  /// Linear channels to linear sRGB (BT.709 primaries, D65 white), row by row; identity for sRGB and grey
  /// files.
  std::array<float, 9> to_srgb_linear{1, 0, 0, 0, 1, 0, 0, 0, 1};

  [[nodiscard]] int width_px() const { return samples.cols; }
  [[nodiscard]] int height_px() const { return samples.rows; }
  [[nodiscard]] bool is_grey() const { return samples.channels() == 1; }
  /// True where a camera made the file's tones: what it writes in 8 bits it renders for looks.
  [[nodiscard]] bool has_camera_tones() const { return !camera.make.empty() && samples.depth() == CV_8U; }
  [[nodiscard]] double megapixels() const { return 1e-6 * samples.cols * samples.rows; }
};

struct PhotoLimits {
  double max_megapixels = 400.0;
};

[[nodiscard]] Result<Photo> read_photo(const std::filesystem::path& path, const PhotoLimits& limits);

/// SHA-256 of a photo's file without decoding it, lower-case hexadecimal: what `Photo::sha256` would be.
[[nodiscard]] Result<std::string> photo_sha256(const std::filesystem::path& path);

/// Linear luminance of a rectangle inside the photo, CV_32FC1, 1 = the file's full scale white
/// (Y = 0.2126729 R + 0.7151522 G + 0.0721750 B on linear sRGB).
[[nodiscard]] cv::Mat linear_luminance(const Photo& photo, const cv::Rect& area);

/// The channels of linear sRGB summed with these weights, CV_32FC1; a grey file counts as three equal
/// channels.
[[nodiscard]] cv::Mat weighted_light(const Photo& photo,
                                     const cv::Rect& area,
                                     const std::array<double, 3>& weights);

/// Linear sRGB of a rectangle inside the photo, CV_32FC3 (R, G, B); grey files give three equal channels.
[[nodiscard]] cv::Mat linear_rgb(const Photo& photo, const cv::Rect& area);

/// Linear sRGB at any places of the photo, CV_32FC3: bilinear between pixels, in linear light. `places` are
/// CV_32FC2, (column, row) of the photo; those outside it get the light of its nearest edge.
[[nodiscard]] cv::Mat linear_rgb_at(const Photo& photo, const cv::Mat& places);

/// The whole photo in linear sRGB, CV_32FC3, each pixel the mean of factor x factor photo pixels, from a
/// factor of 4 on of every other one of them along each side (the last row and column average what is left).
/// Pixel (i, j) has its centre at photo pixel (factor i + (factor - 1) / 2, ...).
[[nodiscard]] cv::Mat reduced_linear_rgb(const Photo& photo, int factor);

/// CV_8UC1 over a rectangle, values of `Clipping`: a channel's sample is within 1.5 % of full scale, the
/// sensor's clipping.
[[nodiscard]] cv::Mat clipped_pixels(const Photo& photo, const cv::Rect& area);

}  // namespace corefleck
