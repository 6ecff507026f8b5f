#pragma once

#include <opencv2/core.hpp>

#include <filesystem>
#include <optional>
#include <string>

namespace scenes {

struct ExifData {
  std::string taken;   ///< "YYYY:MM:DD HH:MM:SS"; empty: not written
  int focal35_mm = 0;  ///< 0: not written
  int orientation = 1;
};

/// Pixels are 16-bit RGB. JPEG and PNG store the upper 8 bits; the TIFF is 16-bit, uncompressed.
void write_jpeg(const std::filesystem::path& path,
                const cv::Mat3w& rgb,
                int quality,
                const std::optional<ExifData>& exif);
void write_png(const std::filesystem::path& path, const cv::Mat3w& rgb);
void write_png(const std::filesystem::path& path, const cv::Mat1w& grey);
void write_tiff(const std::filesystem::path& path, const cv::Mat3w& rgb);

/// The photo as a camera held that way stores it: shown by the tag, it is upright again.
[[nodiscard]] cv::Mat3w turned_for_orientation(const cv::Mat3w& upright, int orientation);

}  // namespace scenes
