#include "decoding.hpp"
#include "exif.hpp"
#include "sample_rows.hpp"
#include "upright_rows.hpp"

#include <png.h>

#include <bit>
#include <cmath>
#include <cstdio>

namespace corefleck {
namespace {

/// libpng's decoder, reading a PhotoFile. Stays where it is made: libpng holds its address.
class PngDecoder {
 public:
  explicit PngDecoder(const PhotoFile& file) : file_(file) {
    png_ = png_create_read_struct(
        PNG_LIBPNG_VER_STRING,
        this,
        [](png_structp png, png_const_charp message) {
          Trap& trap = static_cast<PngDecoder*>(png_get_error_ptr(png))->trap_;
          std::snprintf(static_cast<char*>(trap.message), sizeof trap.message, "%s", message);
          trap.spring();
        },
        [](png_structp, png_const_charp) {});
    if (png_ != nullptr) info_ = png_create_info_struct(png_);
  }
  PngDecoder(const PngDecoder&) = delete;
  PngDecoder& operator=(const PngDecoder&) = delete;
  PngDecoder(PngDecoder&&) = delete;
  PngDecoder& operator=(PngDecoder&&) = delete;
  ~PngDecoder() { png_destroy_read_struct(&png_, &info_, nullptr); }

  [[nodiscard]] bool read_header() {
    if (info_ == nullptr) return false;
    return completes(trap_, [this] {
      png_set_read_fn(png_, this, &read_bytes);
      png_read_info(png_, info_);
    });
  }

  /// Asks libpng for whole samples in this machine's byte order, and tells what its rows look like then.
  [[nodiscard]] bool prepare() {
    return completes(trap_, [this] {
      png_set_expand_gray_1_2_4_to_8(png_);
      png_set_palette_to_rgb(png_);
      if constexpr (std::endian::native == std::endian::little) png_set_swap(png_);
      passes_ = png_set_interlace_handling(png_);
      png_read_update_info(png_, info_);
      const int channels = png_get_channels(png_, info_);
      form_.width_px = static_cast<int>(width_px());
      form_.sample_bytes = png_get_bit_depth(png_, info_) == 16 ? 2 : 1;
      form_.file_channels = channels;
      form_.channels = channels >= 3 ? 3 : 1;
      form_.has_alpha = channels == 2 || channels == 4;
    });
  }

  [[nodiscard]] bool decode(UprightRows& rows) {
    // Interlaced files fill every row seven times, so they need the whole picture with its alpha; others one
    // row.
    const int held_rows = passes_ > 1 ? static_cast<int>(height_px()) : 1;
    cv::Mat held(held_rows, static_cast<int>(png_get_rowbytes(png_, info_)), CV_8UC1);
    return completes(trap_, [&] {
      for (int pass = 1; pass < passes_; ++pass)
        for (int y = 0; y < held_rows; ++y) png_read_row(png_, held.ptr(y), nullptr);
      for (int y = 0; y < static_cast<int>(height_px()); ++y) {
        std::uint8_t* row = held.ptr(passes_ > 1 ? y : 0);
        png_read_row(png_, row, nullptr);
        if (keep_channels(form_, row, rows.next_row())) any_opaque_ = true;
        rows.row_written();
      }
      png_read_end(png_, info_);
    });
  }

  [[nodiscard]] std::vector<std::uint8_t> icc_profile() {
    png_charp name = nullptr;
    png_bytep profile = nullptr;
    png_uint_32 bytes = 0;
    int compression = 0;
    if (png_get_iCCP(png_, info_, &name, &compression, &profile, &bytes) == 0) return {};
    return {profile, profile + bytes};
  }

  [[nodiscard]] ExifFields exif() {
    png_uint_32 bytes = 0;
    png_bytep block = nullptr;
    if (png_get_eXIf_1(png_, info_, &bytes, &block) == 0) return {};
    return read_exif({block, bytes});
  }

  [[nodiscard]] bool states_srgb() const { return png_get_valid(png_, info_, PNG_INFO_sRGB) != 0; }
  [[nodiscard]] std::optional<double> encoding_exponent() const {
    double exponent = 0.0;
    if (png_get_gAMA(png_, info_, &exponent) == 0) return std::nullopt;
    return exponent;
  }
  [[nodiscard]] std::uint32_t width_px() const { return png_get_image_width(png_, info_); }
  [[nodiscard]] std::uint32_t height_px() const { return png_get_image_height(png_, info_); }
  [[nodiscard]] const RowForm& form() const { return form_; }
  [[nodiscard]] bool any_opaque() const { return any_opaque_; }
  [[nodiscard]] MeasureError refusal() const {
    return trap_.truncated ? truncated_refusal() : damaged_refusal(static_cast<const char*>(trap_.message));
  }

 private:
  static void read_bytes(png_structp png, png_bytep into, std::size_t count) {
    auto& self = *static_cast<PngDecoder*>(png_get_io_ptr(png));
    if (self.file_.read_at(self.position_, {into, count}) != count) {
      self.trap_.truncated = true;
      self.trap_.spring();
    }
    self.position_ += count;
  }

  const PhotoFile& file_;
  std::uintmax_t position_ = 0;
  Trap trap_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
  RowForm form_;
  int passes_ = 1;
  bool any_opaque_ = false;
};

}  // namespace

Result<DecodedFile> decode_png(const PhotoFile& file, const PhotoLimits& limits) {
  PngDecoder decoder(file);
  if (!decoder.read_header()) return tl::make_unexpected(decoder.refusal());
  if (auto refusal = size_refusal(decoder.width_px(), decoder.height_px(), limits))
    return tl::make_unexpected(*std::move(refusal));
  if (!decoder.prepare()) return tl::make_unexpected(decoder.refusal());

  DecodedFile decoded;
  decoded.icc_profile = decoder.icc_profile();
  decoded.encoding_exponent = decoder.encoding_exponent();
  ExifFields exif = decoder.exif();
  const RowForm& form = decoder.form();
  UprightRows rows(form.width_px,
                   static_cast<int>(decoder.height_px()),
                   CV_MAKETYPE(form.sample_bytes == 1 ? CV_8U : CV_16U, form.channels),
                   exif.orientation);
  if (!decoder.decode(rows)) return tl::make_unexpected(decoder.refusal());
  if (!decoder.any_opaque()) return tl::make_unexpected(transparent_refusal());

  decoded.samples = rows.upright();
  if (exif.orientation == 1) {  // the Exif chunk may also come after the picture
    exif = decoder.exif();
    decoded.samples = turned_upright(decoded.samples, exif.orientation);
  }
  decoded.orientation = exif.orientation;
  decoded.states_srgb = decoder.states_srgb() || exif.states_srgb;
  decoded.camera = std::move(exif.camera);
  return decoded;
}

}  // namespace corefleck
