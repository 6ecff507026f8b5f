#include "photo/photo_files.hpp"

// jpeglib.h uses <cstdio> without including it.
// clang-format off
#include <cstdio>
#include <jpeglib.h>
// clang-format on
#include <exiv2/exiv2.hpp>
#include <png.h>
#include <tiffio.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <memory>
#include <random>

namespace photo_files {

Folder::Folder() {
  std::string name = (std::filesystem::temp_directory_path() / "photo_test_XXXXXX").string();
  path_ = ::mkdtemp(name.data());
}

Folder::~Folder() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

void write_bytes(const std::filesystem::path& path, const Bytes& bytes) {
  std::ofstream(path, std::ios::binary)
      .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
}

Bytes bytes_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

cv::Mat random_samples(int width, int height, int type, unsigned seed) {
  cv::Mat samples(height, width, type);
  std::mt19937 random(seed);
  for (int y = 0; y < height; ++y)
    for (std::size_t i = 0; i < samples.elemSize() * static_cast<std::size_t>(width); ++i)
      samples.ptr(y)[i] = static_cast<std::uint8_t>(random());
  return samples;
}

Bytes jpeg(const cv::Mat& samples, const JpegForm& form) {
  jpeg_compress_struct info{};
  jpeg_error_mgr errors{};
  info.err = jpeg_std_error(&errors);
  jpeg_create_compress(&info);
  unsigned char* memory = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&info, &memory, &size);
  info.image_width = static_cast<JDIMENSION>(samples.cols);
  info.image_height = static_cast<JDIMENSION>(samples.rows);
  info.input_components = samples.channels();
  info.in_color_space = samples.channels() == 1 ? JCS_GRAYSCALE : form.cmyk ? JCS_CMYK : JCS_RGB;
  jpeg_set_defaults(&info);
  jpeg_set_quality(&info, form.quality, TRUE);
  if (form.progressive) jpeg_simple_progression(&info);
  jpeg_start_compress(&info, TRUE);
  if (!form.exif.empty())
    jpeg_write_marker(&info, JPEG_APP0 + 1, form.exif.data(), static_cast<unsigned>(form.exif.size()));
  if (!form.icc.empty())
    jpeg_write_icc_profile(&info, form.icc.data(), static_cast<unsigned>(form.icc.size()));
  for (int y = 0; y < samples.rows; ++y) {
    JSAMPROW row = const_cast<JSAMPROW>(samples.ptr(y));
    jpeg_write_scanlines(&info, &row, 1);
  }
  jpeg_finish_compress(&info);
  jpeg_destroy_compress(&info);
  Bytes bytes(memory, memory + size);
  std::free(memory);
  return bytes;
}

namespace {

class PngWriter {
 public:
  PngWriter() : png_(png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr)) {
    info_ = png_create_info_struct(png_);
    png_set_write_fn(
        png_,
        &bytes_,
        [](png_structp png, png_bytep data, std::size_t size) {
          auto& bytes = *static_cast<Bytes*>(png_get_io_ptr(png));
          bytes.insert(bytes.end(), data, data + size);
        },
        [](png_structp) {});
  }
  PngWriter(const PngWriter&) = delete;
  PngWriter& operator=(const PngWriter&) = delete;
  PngWriter(PngWriter&&) = delete;
  PngWriter& operator=(PngWriter&&) = delete;
  ~PngWriter() { png_destroy_write_struct(&png_, &info_); }

  void head(int width, int height, int bits, int colour, bool interlaced = false) {
    png_set_IHDR(png_,
                 info_,
                 static_cast<png_uint_32>(width),
                 static_cast<png_uint_32>(height),
                 bits,
                 colour,
                 interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT,
                 PNG_FILTER_TYPE_DEFAULT);
  }
  png_structp png() { return png_; }
  png_infop info() { return info_; }
  Bytes finish() {
    png_write_end(png_, info_);
    return bytes_;
  }

 private:
  Bytes bytes_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
};

}  // namespace

Bytes png(const cv::Mat& samples, const PngForm& form) {
  PngWriter writer;
  constexpr int kColours[] = {
      PNG_COLOR_TYPE_GRAY, PNG_COLOR_TYPE_GRAY_ALPHA, PNG_COLOR_TYPE_RGB, PNG_COLOR_TYPE_RGBA};
  const int bits = samples.depth() == CV_8U ? 8 : 16;
  writer.head(samples.cols, samples.rows, bits, kColours[samples.channels() - 1], form.interlaced);
  if (!form.icc.empty())
    png_set_iCCP(writer.png(),
                 writer.info(),
                 "profile",
                 0,
                 form.icc.data(),
                 static_cast<png_uint_32>(form.icc.size()));
  if (form.gamma > 0.0) png_set_gAMA(writer.png(), writer.info(), form.gamma);
  if (form.srgb) png_set_sRGB(writer.png(), writer.info(), PNG_sRGB_INTENT_RELATIVE);
  Bytes exif_block = form.exif;
  if (!exif_block.empty())
    png_set_eXIf_1(
        writer.png(), writer.info(), static_cast<png_uint_32>(exif_block.size()), exif_block.data());
  png_write_info(writer.png(), writer.info());
  png_set_swap(writer.png());
  std::vector<png_bytep> rows;
  for (int y = 0; y < samples.rows; ++y) rows.push_back(const_cast<png_bytep>(samples.ptr(y)));
  png_write_image(writer.png(), rows.data());
  return writer.finish();
}

Bytes packed_png(const std::vector<std::uint8_t>& row, int bits, const std::vector<cv::Vec3b>& palette) {
  PngWriter writer;
  writer.head(
      static_cast<int>(row.size()), 1, bits, palette.empty() ? PNG_COLOR_TYPE_GRAY : PNG_COLOR_TYPE_PALETTE);
  std::vector<png_color> colours;
  for (const cv::Vec3b& colour : palette) colours.push_back({colour[0], colour[1], colour[2]});
  if (!colours.empty())
    png_set_PLTE(writer.png(), writer.info(), colours.data(), static_cast<int>(colours.size()));
  png_write_info(writer.png(), writer.info());
  png_set_packing(writer.png());
  png_write_row(writer.png(), row.data());
  return writer.finish();
}

namespace {

using Tiff = std::unique_ptr<TIFF, decltype(&TIFFClose)>;

void set_tags(TIFF* tiff, const cv::Mat& samples, const TiffForm& form) {
  const int channels = samples.channels();
  const int depth_bits = static_cast<int>(8 * samples.elemSize1());
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, samples.cols);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, samples.rows);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, form.bits == 0 ? depth_bits : form.bits);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, channels);
  TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, form.sample_format);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, form.photometric);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, form.compression);
  TIFFSetField(tiff, TIFFTAG_ORIENTATION, form.orientation);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, form.planes ? PLANARCONFIG_SEPARATE : PLANARCONFIG_CONTIG);
  if (form.predictor) TIFFSetField(tiff, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
  const int extra = channels - (form.photometric == PHOTOMETRIC_RGB ? 3 : 1);
  const std::uint16_t kind = EXTRASAMPLE_UNASSALPHA;
  if (extra == 1) TIFFSetField(tiff, TIFFTAG_EXTRASAMPLES, 1, &kind);
  if (!form.icc.empty())
    TIFFSetField(tiff, TIFFTAG_ICCPROFILE, static_cast<std::uint32_t>(form.icc.size()), form.icc.data());
  if (form.photometric == PHOTOMETRIC_PALETTE) {
    std::vector<std::uint16_t> red(256), green(256), blue(256);
    for (std::size_t i = 0; i < 256; ++i) {
      red[i] = static_cast<std::uint16_t>(i * 257);
      green[i] = static_cast<std::uint16_t>((255 - i) * 257);
      blue[i] = 7 * 257;
    }
    TIFFSetField(tiff, TIFFTAG_COLORMAP, red.data(), green.data(), blue.data());
  }
}

void write_plane(TIFF* tiff, const cv::Mat& plane, std::uint16_t number, bool tiled) {
  if (!tiled) {
    for (int y = 0; y < plane.rows; ++y) {
      std::vector<std::uint8_t> row(plane.ptr(y),
                                    plane.ptr(y) + plane.elemSize() * static_cast<std::size_t>(plane.cols));
      TIFFWriteScanline(tiff, row.data(), static_cast<std::uint32_t>(y), number);
    }
    return;
  }
  constexpr int kTile = 16;
  for (int top = 0; top < plane.rows; top += kTile)
    for (int left = 0; left < plane.cols; left += kTile) {
      cv::Mat tile = cv::Mat::zeros(kTile, kTile, plane.type());
      const cv::Rect inside = cv::Rect(left, top, kTile, kTile) & cv::Rect({}, plane.size());
      plane(inside).copyTo(tile(cv::Rect({}, inside.size())));
      TIFFWriteTile(
          tiff, tile.ptr(), static_cast<std::uint32_t>(left), static_cast<std::uint32_t>(top), 0, number);
    }
}

void write_page(TIFF* tiff, const cv::Mat& samples, const TiffForm& form) {
  set_tags(tiff, samples, form);
  if (form.tiled) {
    TIFFSetField(tiff, TIFFTAG_TILEWIDTH, 16);
    TIFFSetField(tiff, TIFFTAG_TILELENGTH, 16);
  } else {
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, 5);
  }
  if (!form.planes) return write_plane(tiff, samples, 0, form.tiled);
  for (int plane = 0; plane < samples.channels(); ++plane) {
    cv::Mat one;
    cv::extractChannel(samples, one, plane);
    write_plane(tiff, one, static_cast<std::uint16_t>(plane), form.tiled);
  }
}

}  // namespace

void write_tiff(const std::filesystem::path& path, const cv::Mat& samples, const TiffForm& form) {
  const Tiff tiff(TIFFOpen(path.c_str(), "w"), &TIFFClose);
  write_page(tiff.get(), samples, form);
}

void write_tiff_with_exif(const std::filesystem::path& path, const cv::Mat& samples) {
  const Tiff tiff(TIFFOpen(path.c_str(), "w"), &TIFFClose);
  TIFFSetField(tiff.get(), TIFFTAG_MAKE, "Maker");
  TIFFSetField(tiff.get(), TIFFTAG_MODEL, "Model 1");
  std::uint64_t offset = 0;
  TIFFSetField(tiff.get(), TIFFTAG_EXIFIFD, offset);  // a place for it, filled below
  write_page(tiff.get(), samples, {});
  TIFFWriteDirectory(tiff.get());
  TIFFCreateEXIFDirectory(tiff.get());
  const std::uint16_t speed = 200;
  TIFFSetField(tiff.get(), EXIFTAG_EXPOSURETIME, 0.008);
  TIFFSetField(tiff.get(), EXIFTAG_FNUMBER, 5.6);
  TIFFSetField(tiff.get(), EXIFTAG_ISOSPEEDRATINGS, 1, &speed);
  TIFFSetField(tiff.get(), EXIFTAG_FOCALLENGTH, 50.0);
  TIFFSetField(tiff.get(), EXIFTAG_FOCALLENGTHIN35MMFILM, 75);
  TIFFSetField(tiff.get(), EXIFTAG_DATETIMEORIGINAL, "2026:03:14 10:22:05");
  TIFFSetField(tiff.get(), EXIFTAG_LENSMODEL, "Lens 50 mm");
  TIFFWriteCustomDirectory(tiff.get(), &offset);
  TIFFSetDirectory(tiff.get(), 0);
  TIFFSetField(tiff.get(), TIFFTAG_EXIFIFD, offset);
  TIFFRewriteDirectory(tiff.get());
}

Bytes exif(const std::vector<std::pair<std::string, std::string>>& fields) {
  Exiv2::ExifData data;
  for (const auto& [key, value] : fields) data[key].setValue(value);
  Exiv2::Blob blob;
  Exiv2::ExifParser::encode(blob, Exiv2::littleEndian, data);
  constexpr std::array<std::uint8_t, 6> kName{'E', 'x', 'i', 'f', 0, 0};
  Bytes bytes(kName.size() + blob.size());
  std::copy(blob.begin(), blob.end(), std::copy(kName.begin(), kName.end(), bytes.begin()));
  return bytes;
}

Bytes exif_with_orientation(int orientation) {
  return exif({{"Exif.Image.Orientation", std::to_string(orientation)}});
}

}  // namespace photo_files
