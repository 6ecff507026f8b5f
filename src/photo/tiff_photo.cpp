#include "decoding.hpp"
#include "exif.hpp"
#include "file_kind.hpp"
#include "sample_rows.hpp"
#include "upright_rows.hpp"

#include <fmt/format.h>
#include <tiffio.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstring>
#include <limits>
#include <memory>

namespace corefleck {
namespace {

constexpr std::uint16_t kUnsignedSamples = SAMPLEFORMAT_UINT;

/// What libtiff reads through: a position in the file, and the first error it reported.
struct TiffSource {
  const PhotoFile* file = nullptr;
  std::uint64_t position = 0;
  bool ran_out = false;  ///< a read went past the end of the file
  std::array<char, 200> message{};
};

struct CloseTiff {
  void operator()(TIFF* tiff) const { TIFFClose(tiff); }
};
using Tiff = std::unique_ptr<TIFF, CloseTiff>;

// Handlers of this one opening, not libtiff's global ones: several photos may be read at a time.
int remember_error(
    TIFF* /*tiff*/, void* source, const char* /*module*/, const char* format, va_list arguments) {
  auto& message = static_cast<TiffSource*>(source)->message;
  if (message[0] == '\0') std::vsnprintf(message.data(), message.size(), format, arguments);
  return 1;
}
int ignore_warning(
    TIFF* /*tiff*/, void* /*source*/, const char* /*module*/, const char* /*format*/, va_list /*arguments*/) {
  return 1;
}

tmsize_t read_bytes(thandle_t handle, void* into, tmsize_t count) {
  auto& source = *static_cast<TiffSource*>(handle);
  const auto wanted = static_cast<std::size_t>(std::max<tmsize_t>(count, 0));
  const std::size_t got = source.file->read_at(source.position, {static_cast<std::uint8_t*>(into), wanted});
  source.position += got;
  if (got < wanted) source.ran_out = true;
  return static_cast<tmsize_t>(got);
}

toff_t seek(thandle_t handle, toff_t offset, int whence) {
  auto& source = *static_cast<TiffSource*>(handle);
  if (whence == SEEK_CUR) offset += source.position;
  if (whence == SEEK_END) offset += source.file->size();
  source.position = offset;
  return offset;
}

Tiff open_tiff(TiffSource& source, const PhotoLimits& limits) {
  const std::unique_ptr<TIFFOpenOptions, decltype(&TIFFOpenOptionsFree)> options(TIFFOpenOptionsAlloc(),
                                                                                 &TIFFOpenOptionsFree);
  if (!options) return nullptr;
  // No block of an allowed photo is larger than the photo with eight bytes a pixel, and one tile over each
  // edge.
  const double most_bytes = std::min(8e6 * limits.max_megapixels + 64e6, 1e15);
  TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), static_cast<tmsize_t>(most_bytes));
  TIFFOpenOptionsSetErrorHandlerExtR(options.get(), &remember_error, &source);
  TIFFOpenOptionsSetWarningHandlerExtR(options.get(), &ignore_warning, &source);
  return Tiff(TIFFClientOpenExt(
      "photo",
      "rm",
      &source,
      &read_bytes,
      [](thandle_t, void*, tmsize_t) -> tmsize_t { return 0; },
      &seek,
      [](thandle_t) { return 0; },
      [](thandle_t handle) -> toff_t { return static_cast<TiffSource*>(handle)->file->size(); },
      [](thandle_t, void**, toff_t*) { return 0; },
      [](thandle_t, void*, toff_t) {},
      options.get()));
}

/// The first page, as its tags describe it.
struct Page {
  std::uint32_t width_px = 0, height_px = 0;
  std::uint16_t bits = 1, samples_per_pixel = 1, sample_format = kUnsignedSamples;
  std::uint16_t photometric = PHOTOMETRIC_MINISBLACK, planar = PLANARCONFIG_CONTIG,
                compression = COMPRESSION_NONE;
  std::uint16_t orientation = 1;
  bool tiled = false, has_alpha = false, camera_raw = false;

  [[nodiscard]] bool separate() const { return planar == PLANARCONFIG_SEPARATE && samples_per_pixel > 1; }
  [[nodiscard]] bool palette() const { return photometric == PHOTOMETRIC_PALETTE; }
  [[nodiscard]] int channels() const {
    return photometric == PHOTOMETRIC_MINISBLACK || photometric == PHOTOMETRIC_MINISWHITE ? 1 : 3;
  }
  [[nodiscard]] int type() const { return CV_MAKETYPE(bits == 8 ? CV_8U : CV_16U, channels()); }
  /// Bytes of one row as libtiff gives it: of all channels, or of one plane.
  [[nodiscard]] std::size_t row_bytes(std::uint32_t columns) const {
    return std::size_t{columns} * (bits / 8U) * (separate() ? 1U : samples_per_pixel);
  }
};

bool looks_like_camera_raw(TIFF* tiff, const Page& page) {
  const std::uint8_t* version = nullptr;
  if (TIFFGetField(tiff, TIFFTAG_DNGVERSION, &version) != 0) return true;
  if (page.photometric == PHOTOMETRIC_CFA || page.photometric == 34892 /* linear raw */) return true;
  // The raw formats made like a TIFF put a small preview first and the sensor's data into a sub-directory.
  std::uint32_t subfile = 0;
  std::uint16_t sub_directories = 0;
  const std::uint64_t* offsets = nullptr;
  return TIFFGetField(tiff, TIFFTAG_SUBFILETYPE, &subfile) != 0 && (subfile & FILETYPE_REDUCEDIMAGE) != 0 &&
         TIFFGetField(tiff, TIFFTAG_SUBIFD, &sub_directories, &offsets) != 0;
}

Page read_page(TIFF* tiff) {
  Page page;
  TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &page.width_px);
  TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &page.height_px);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_BITSPERSAMPLE, &page.bits);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLESPERPIXEL, &page.samples_per_pixel);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLEFORMAT, &page.sample_format);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_PLANARCONFIG, &page.planar);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_COMPRESSION, &page.compression);
  TIFFGetFieldDefaulted(tiff, TIFFTAG_ORIENTATION, &page.orientation);
  page.tiled = TIFFIsTiled(tiff) != 0;
  if (TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &page.photometric) ==
      0)  // required, but old programs forget it
    page.photometric = page.samples_per_pixel >= 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK;
  page.camera_raw = looks_like_camera_raw(tiff, page);
  if (page.photometric == PHOTOMETRIC_YCBCR && page.compression == COMPRESSION_JPEG) {
    TIFFSetField(tiff, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
    page.photometric = PHOTOMETRIC_RGB;
  }
  std::uint16_t extra = 0;
  const std::uint16_t* kinds = nullptr;
  TIFFGetFieldDefaulted(tiff, TIFFTAG_EXTRASAMPLES, &extra, &kinds);
  page.has_alpha = extra > 0 && kinds != nullptr && !page.separate() && kinds[0] != EXTRASAMPLE_UNSPECIFIED &&
                   page.samples_per_pixel > page.channels();
  return page;
}

std::optional<MeasureError> page_refusal(TIFF* tiff, const Page& page) {
  const auto refuse = [](std::string what, const char* hint) {
    return MeasureError{ErrorCode::unreadable_photo, std::move(what), hint};
  };
  constexpr const char* kSaveAs = "save it as 8- or 16-bit TIFF, grey or RGB";
  if (page.camera_raw) return camera_raw_refusal();
  if (page.sample_format != SAMPLEFORMAT_UINT && page.sample_format != SAMPLEFORMAT_VOID)
    return refuse(
        page.sample_format == SAMPLEFORMAT_IEEEFP ? "has floating-point samples" : "has signed samples",
        kSaveAs);
  if (page.bits != 8 && page.bits != 16) return refuse(fmt::format("has {}-bit samples", page.bits), kSaveAs);
  const bool known = page.photometric == PHOTOMETRIC_MINISBLACK ||
                     page.photometric == PHOTOMETRIC_MINISWHITE || page.photometric == PHOTOMETRIC_RGB ||
                     (page.palette() && page.bits == 8);
  if (!known)
    return refuse(fmt::format("is a TIFF neither in grey nor in RGB (photometric {})", page.photometric),
                  kSaveAs);
  if (page.samples_per_pixel < (page.palette() ? 1 : page.channels()))
    return refuse("has fewer channels than its kind of colour needs", kSaveAs);
  if (TIFFIsCODECConfigured(page.compression) == 0)
    return refuse(
        fmt::format("is compressed in a way that is not read (TIFF compression {})", page.compression),
        "save it as TIFF with LZW or Deflate compression, or none");
  const std::uint64_t row = page.tiled ? TIFFTileRowSize64(tiff) : TIFFScanlineSize64(tiff);
  std::uint32_t columns = page.width_px;
  if (page.tiled) TIFFGetField(tiff, TIFFTAG_TILEWIDTH, &columns);
  if (row != page.row_bytes(columns)) return damaged_refusal("tags contradict each other");
  return std::nullopt;
}

/// Calls `take(row)` with each row of a plane (of all channels, where they are interleaved), from the first
/// stored.
template <class TakeRow>
bool each_strip_row(TIFF* tiff, const Page& page, std::uint16_t plane, TakeRow take) {
  cv::Mat row(1, static_cast<int>(page.row_bytes(page.width_px)), CV_8UC1);
  for (std::uint32_t y = 0; y < page.height_px; ++y) {
    if (TIFFReadScanline(tiff, row.ptr(), y, plane) != 1) return false;
    take(row.ptr());
  }
  return true;
}

template <class TakeRow>
bool each_tile_row(TIFF* tiff, const Page& page, std::uint16_t plane, TakeRow take) {
  std::uint32_t tile_width = 0, tile_height = 0;
  TIFFGetField(tiff, TIFFTAG_TILEWIDTH, &tile_width);
  TIFFGetField(tiff, TIFFTAG_TILELENGTH, &tile_height);
  const std::uint32_t rows_held = std::min(tile_height, page.height_px);
  const std::size_t tile_row = page.row_bytes(tile_width);
  const std::size_t tile_bytes = tile_row * tile_height;
  if (tile_bytes / tile_row != tile_height || tile_row > std::numeric_limits<int>::max() ||
      TIFFTileSize64(tiff) != tile_bytes ||
      tile_bytes > page.row_bytes(page.width_px) * page.height_px + 64'000'000)
    return false;
  cv::Mat tile(static_cast<int>(tile_height), static_cast<int>(tile_row), CV_8UC1);
  cv::Mat held(static_cast<int>(rows_held), static_cast<int>(page.row_bytes(page.width_px)), CV_8UC1);
  for (std::uint32_t top = 0; top < page.height_px; top += rows_held) {
    const std::uint32_t rows = std::min(rows_held, page.height_px - top);
    for (std::uint32_t left = 0; left < page.width_px; left += std::min(tile_width, page.width_px - left)) {
      if (TIFFReadTile(tiff, tile.ptr(), left, top, 0, plane) < 0) return false;
      const std::size_t bytes = page.row_bytes(std::min(tile_width, page.width_px - left));
      for (std::uint32_t y = 0; y < rows; ++y)
        std::memcpy(
            held.ptr(static_cast<int>(y)) + page.row_bytes(left), tile.ptr(static_cast<int>(y)), bytes);
    }
    for (std::uint32_t y = 0; y < rows; ++y) take(held.ptr(static_cast<int>(y)));
  }
  return true;
}

template <class TakeRow>
bool each_row(TIFF* tiff, const Page& page, std::uint16_t plane, TakeRow take) {
  return page.tiled ? each_tile_row(tiff, page, plane, take) : each_strip_row(tiff, page, plane, take);
}

RowForm row_form(const Page& page) {
  RowForm form;
  form.width_px = static_cast<int>(page.width_px);
  form.sample_bytes = page.bits / 8;
  form.file_channels = page.samples_per_pixel;
  form.channels = page.channels();
  form.has_alpha = page.has_alpha;
  form.white_is_zero = page.photometric == PHOTOMETRIC_MINISWHITE;
  return form;
}

/// The palette as RGB of 8 bits. Some programs write 8-bit values into the 16-bit map; then none is above
/// 255.
std::array<std::array<std::uint8_t, 3>, 256> palette_of(TIFF* tiff) {
  std::array<const std::uint16_t*, 3> map{};
  std::array<std::array<std::uint8_t, 3>, 256> palette{};
  if (TIFFGetField(tiff, TIFFTAG_COLORMAP, &map[0], &map[1], &map[2]) == 0) return palette;
  std::uint16_t largest = 0;
  for (const auto* channel : map) largest = std::max(largest, *std::max_element(channel, channel + 256));
  for (std::size_t code = 0; code < 256; ++code)
    for (std::size_t c = 0; c < 3; ++c)
      palette[code][c] = static_cast<std::uint8_t>(largest > 255 ? map[c][code] >> 8U : map[c][code]);
  return palette;
}

/// Interleaved channels: each row is laid down upright as it comes.
bool decode_interleaved(TIFF* tiff, const Page& page, UprightRows& rows, bool& any_opaque) {
  const RowForm form = row_form(page);
  if (page.palette()) {
    const auto palette = palette_of(tiff);
    return each_row(tiff, page, 0, [&](const std::uint8_t* row) {
      std::uint8_t* out = rows.next_row();
      for (std::uint32_t x = 0; x < page.width_px; ++x, row += page.samples_per_pixel, out += 3)
        std::copy_n(palette[*row].begin(), 3, out);
      rows.row_written();
    });
  }
  return each_row(tiff, page, 0, [&](const std::uint8_t* row) {
    if (keep_channels(form, row, rows.next_row())) any_opaque = true;
    rows.row_written();
  });
}

/// One plane after the other, as they lie in the file: going to and fro would decode each strip once a row.
bool decode_planes(TIFF* tiff, const Page& page, cv::Mat& samples) {
  const std::size_t sample_bytes = page.bits / 8U;
  const std::size_t pixel_bytes = samples.elemSize();
  for (int plane = 0; plane < page.channels(); ++plane) {
    int y = 0;
    const bool complete =
        each_row(tiff, page, static_cast<std::uint16_t>(plane), [&](const std::uint8_t* row) {
          std::uint8_t* out = samples.ptr(y++) + static_cast<std::size_t>(plane) * sample_bytes;
          for (std::uint32_t x = 0; x < page.width_px; ++x, row += sample_bytes, out += pixel_bytes)
            std::memcpy(out, row, sample_bytes);
        });
    if (!complete) return false;
  }
  if (page.photometric == PHOTOMETRIC_MINISWHITE) cv::bitwise_not(samples, samples);
  return true;
}

std::string text_tag(TIFF* tiff, std::uint32_t tag) {
  const char* text = nullptr;
  return TIFFGetField(tiff, tag, &text) != 0 && text != nullptr ? plain_text(text) : std::string();
}

std::optional<double> number_tag(TIFF* tiff, std::uint32_t tag) {
  // libtiff hands rationals out as float or double, by the tag; asking for the wrong one overruns the
  // variable.
  const TIFFField* field = TIFFFindField(tiff, tag, TIFF_ANY);
  if (field == nullptr || TIFFFieldPassCount(field) != 0) return std::nullopt;
  double number = 0.0;
  float short_number = 0.0F;
  const bool is_double = TIFFFieldSetGetSize(field) == sizeof(double);
  const int found = is_double ? TIFFGetField(tiff, tag, &number) : TIFFGetField(tiff, tag, &short_number);
  if (found == 0) return std::nullopt;
  return positive(is_double ? number : static_cast<double>(short_number));
}

/// Camera fields by libtiff, which has the file open and reads single tags; exiv2 would want all of it in
/// memory. Leaves the Exif directory as the current one, so the samples must have been read before.
void read_exif_tags(TIFF* tiff, DecodedFile& decoded) {
  decoded.camera.make = text_tag(tiff, TIFFTAG_MAKE);
  decoded.camera.model = text_tag(tiff, TIFFTAG_MODEL);
  std::uint64_t directory = 0;
  if (TIFFGetField(tiff, TIFFTAG_EXIFIFD, &directory) == 0 || TIFFReadEXIFDirectory(tiff, directory) == 0)
    return;
  CameraData& camera = decoded.camera;
  camera.lens = text_tag(tiff, EXIFTAG_LENSMODEL);
  camera.exposure_time_s = number_tag(tiff, EXIFTAG_EXPOSURETIME);
  camera.f_number = number_tag(tiff, EXIFTAG_FNUMBER);
  camera.focal_length_mm = number_tag(tiff, EXIFTAG_FOCALLENGTH);
  std::uint16_t code = 0;
  if (TIFFGetField(tiff, EXIFTAG_FOCALLENGTHIN35MMFILM, &code) != 0)
    camera.focal_length_35mm_mm = positive(code);
  if (TIFFGetField(tiff, EXIFTAG_COLORSPACE, &code) != 0) decoded.states_srgb = code == 1;
  std::uint16_t count = 0;
  const std::uint16_t* speeds = nullptr;
  if (TIFFGetField(tiff, EXIFTAG_ISOSPEEDRATINGS, &count, &speeds) != 0 && count > 0 && speeds != nullptr)
    camera.iso_speed = positive(speeds[0]);
  camera.taken =
      iso_time(text_tag(tiff, EXIFTAG_DATETIMEORIGINAL), text_tag(tiff, EXIFTAG_OFFSETTIMEORIGINAL));
}

MeasureError refusal(const TiffSource& source) {
  return source.ran_out ? truncated_refusal() : damaged_refusal(source.message.data());
}

}  // namespace

Result<DecodedFile> decode_tiff(const PhotoFile& file, const PhotoLimits& limits) {
  TiffSource source{.file = &file};
  const Tiff tiff = open_tiff(source, limits);
  if (!tiff) return tl::make_unexpected(refusal(source));
  const Page page = read_page(tiff.get());
  if (auto refused = size_refusal(page.width_px, page.height_px, limits))
    return tl::make_unexpected(*std::move(refused));
  if (auto refused = page_refusal(tiff.get(), page)) return tl::make_unexpected(*std::move(refused));

  DecodedFile decoded;
  decoded.orientation = valid_orientation(page.orientation);
  std::uint32_t profile_bytes = 0;
  const std::uint8_t* profile = nullptr;
  if (TIFFGetField(tiff.get(), TIFFTAG_ICCPROFILE, &profile_bytes, &profile) != 0 && profile != nullptr)
    decoded.icc_profile.assign(profile, profile + profile_bytes);

  const auto width = static_cast<int>(page.width_px);
  const auto height = static_cast<int>(page.height_px);
  source.ran_out = false;  // libtiff may look for tags past the end and do without them
  if (page.separate()) {
    decoded.samples.create(height, width, page.type());
    if (!decode_planes(tiff.get(), page, decoded.samples)) return tl::make_unexpected(refusal(source));
    decoded.samples = turned_upright(decoded.samples, decoded.orientation);
  } else {
    UprightRows rows(width, height, page.type(), decoded.orientation);
    bool any_opaque = page.palette();
    if (!decode_interleaved(tiff.get(), page, rows, any_opaque)) return tl::make_unexpected(refusal(source));
    if (!any_opaque) return tl::make_unexpected(transparent_refusal());
    decoded.samples = rows.upright();
  }
  read_exif_tags(tiff.get(), decoded);
  return decoded;
}

}  // namespace corefleck
