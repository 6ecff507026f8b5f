#include "image_files.hpp"

#include <jpeglib.h>
#include <png.h>
#include <zlib.h>

#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <memory>
#include <stdexcept>
#include <vector>

namespace scenes {
namespace {

using Bytes = std::vector<unsigned char>;
using File = std::unique_ptr<std::FILE, int (*)(std::FILE*)>;

File open_for_writing(const std::filesystem::path& path) {
  File file(std::fopen(path.c_str(), "wb"), &std::fclose);
  if (!file) throw std::runtime_error(path.string() + ": cannot be written");
  return file;
}

void put(Bytes& bytes, std::uint32_t value, int size) {
  for (int shift = 0; shift < size; ++shift)
    bytes.push_back(static_cast<unsigned char>(value >> (8 * shift)));
}

void put_entry(
    Bytes& bytes, std::uint32_t tag, std::uint32_t type, std::uint32_t count, std::uint32_t value) {
  put(bytes, tag, 2);
  put(bytes, type, 2);
  put(bytes, count, 4);
  put(bytes, value, 4);
}

constexpr std::uint32_t kShort = 3, kLong = 4, kAscii = 2;

// A little-endian TIFF block with Orientation and an Exif directory; offsets count from the byte order mark.
Bytes exif_block(const ExifData& exif) {
  Bytes bytes{'E', 'x', 'i', 'f', 0, 0, 'I', 'I', 42, 0, 8, 0, 0, 0};
  put(bytes, 2, 2);
  put_entry(bytes, 0x0112, kShort, 1, static_cast<std::uint32_t>(exif.orientation));
  const std::uint32_t directory = 8 + 2 + 2 * 12 + 4;
  put_entry(bytes, 0x8769, kLong, 1, directory);
  put(bytes, 0, 4);
  const std::uint32_t entries = (exif.taken.empty() ? 0u : 1u) + (exif.focal35_mm > 0 ? 1u : 0u);
  put(bytes, entries, 2);
  if (!exif.taken.empty()) put_entry(bytes, 0x9003, kAscii, 20, directory + 2 + entries * 12 + 4);
  if (exif.focal35_mm > 0) put_entry(bytes, 0xA405, kShort, 1, static_cast<std::uint32_t>(exif.focal35_mm));
  put(bytes, 0, 4);
  for (const char letter : exif.taken) bytes.push_back(static_cast<unsigned char>(letter));
  bytes.push_back(0);
  return bytes;
}

Bytes row_8bit(const cv::Mat3w& rgb, int row) {
  Bytes bytes(static_cast<std::size_t>(rgb.cols) * 3);
  const auto* values = rgb.ptr<std::uint16_t>(row);
  for (std::size_t index = 0; index < bytes.size(); ++index)
    bytes[index] = static_cast<unsigned char>((values[index] * 255u + 32767u) / 65535u);
  return bytes;
}

/// libpng, fast settings: the files are many and live briefly.
class PngWriter {
 public:
  PngWriter(const std::filesystem::path& path, cv::Size size, int depth, int colour)
      : file_(open_for_writing(path)),
        png_(png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr)),
        info_(png_create_info_struct(png_)) {
    png_init_io(png_, file_.get());
    png_set_IHDR(png_,
                 info_,
                 static_cast<png_uint_32>(size.width),
                 static_cast<png_uint_32>(size.height),
                 depth,
                 colour,
                 PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT,
                 PNG_FILTER_TYPE_DEFAULT);
    png_set_compression_level(png_, 1);
    png_set_filter(png_, 0, colour == PNG_COLOR_TYPE_GRAY ? PNG_FILTER_NONE : PNG_FILTER_SUB);
    png_write_info(png_, info_);
    if (depth == 16) png_set_swap(png_);
  }
  PngWriter(const PngWriter&) = delete;
  PngWriter& operator=(const PngWriter&) = delete;
  ~PngWriter() { png_destroy_write_struct(&png_, &info_); }
  void row(const void* bytes) { png_write_row(png_, static_cast<png_const_bytep>(bytes)); }
  void finish() { png_write_end(png_, info_); }

 private:
  File file_;
  png_structp png_;
  png_infop info_;
};

}  // namespace

void write_jpeg(const std::filesystem::path& path,
                const cv::Mat3w& rgb,
                int quality,
                const std::optional<ExifData>& exif) {
  const File file = open_for_writing(path);
  jpeg_compress_struct jpeg{};
  jpeg_error_mgr errors{};
  jpeg.err = jpeg_std_error(&errors);
  jpeg_create_compress(&jpeg);
  jpeg_stdio_dest(&jpeg, file.get());
  jpeg.image_width = static_cast<JDIMENSION>(rgb.cols);
  jpeg.image_height = static_cast<JDIMENSION>(rgb.rows);
  jpeg.input_components = 3;
  jpeg.in_color_space = JCS_RGB;
  jpeg_set_defaults(&jpeg);
  jpeg_set_quality(&jpeg, quality, TRUE);
  jpeg_start_compress(&jpeg, TRUE);
  if (exif) {
    const Bytes block = exif_block(*exif);
    jpeg_write_marker(&jpeg, JPEG_APP0 + 1, block.data(), static_cast<unsigned>(block.size()));
  }
  for (int row = 0; row < rgb.rows; ++row) {
    Bytes bytes = row_8bit(rgb, row);
    JSAMPROW samples = bytes.data();
    jpeg_write_scanlines(&jpeg, &samples, 1);
  }
  jpeg_finish_compress(&jpeg);
  jpeg_destroy_compress(&jpeg);
}

void write_png(const std::filesystem::path& path, const cv::Mat3w& rgb) {
  PngWriter writer(path, rgb.size(), 8, PNG_COLOR_TYPE_RGB);
  for (int row = 0; row < rgb.rows; ++row) writer.row(row_8bit(rgb, row).data());
  writer.finish();
}

void write_png(const std::filesystem::path& path, const cv::Mat1w& grey) {
  PngWriter writer(path, grey.size(), 16, PNG_COLOR_TYPE_GRAY);
  for (int row = 0; row < grey.rows; ++row) writer.row(grey.ptr(row));
  writer.finish();
}

void write_tiff(const std::filesystem::path& path, const cv::Mat3w& rgb) {
  const auto columns = static_cast<std::uint32_t>(rgb.cols), rows = static_cast<std::uint32_t>(rgb.rows);
  const std::uint32_t pixel_bytes = columns * rows * 6, depths = 8, pixels = 16;
  Bytes head{'I', 'I', 42, 0};
  put(head, pixels + pixel_bytes, 4);
  for (int channel = 0; channel < 3; ++channel) put(head, 16, 2);
  put(head, 0, 2);
  Bytes tail;
  put(tail, 10, 2);
  put_entry(tail, 256, kLong, 1, columns);
  put_entry(tail, 257, kLong, 1, rows);
  put_entry(tail, 258, kShort, 3, depths);
  put_entry(tail, 259, kShort, 1, 1);  // no compression
  put_entry(tail, 262, kShort, 1, 2);  // RGB
  put_entry(tail, 273, kLong, 1, pixels);
  put_entry(tail, 277, kShort, 1, 3);
  put_entry(tail, 278, kLong, 1, rows);
  put_entry(tail, 279, kLong, 1, pixel_bytes);
  put_entry(tail, 284, kShort, 1, 1);  // interleaved
  put(tail, 0, 4);
  std::ofstream file(path, std::ios::binary);
  const auto write = [&file](const void* data, std::size_t size) {
    file.write(static_cast<const char*>(data), static_cast<std::streamsize>(size));
  };
  write(head.data(), head.size());
  for (int row = 0; row < rgb.rows; ++row) write(rgb.ptr(row), static_cast<std::size_t>(rgb.cols) * 6);
  write(tail.data(), tail.size());
  if (!file) throw std::runtime_error(path.string() + ": cannot be written");
}

cv::Mat3w turned_for_orientation(const cv::Mat3w& upright, int orientation) {
  cv::Mat3w stored;
  switch (orientation) {
    case 3:
      cv::rotate(upright, stored, cv::ROTATE_180);
      return stored;
    case 6:
      cv::rotate(upright, stored, cv::ROTATE_90_COUNTERCLOCKWISE);
      return stored;
    case 8:
      cv::rotate(upright, stored, cv::ROTATE_90_CLOCKWISE);
      return stored;
    default:
      return upright;
  }
}

}  // namespace scenes
