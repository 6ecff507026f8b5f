#include "decoding.hpp"
#include "exif.hpp"
#include "upright_rows.hpp"

// jpeglib.h uses <cstdio> without including it, and jerror.h uses jpeglib.h: not to be sorted.
// clang-format off
#include <cstdio>
#include <jpeglib.h>
#include <jerror.h>
// clang-format on

#include <algorithm>
#include <array>
#include <cstdlib>
#include <future>
#include <memory>
#include <vector>

namespace corefleck {
namespace {

constexpr std::size_t kPieceBytes = 256 * 1024;  // the fast Huffman decoder stops short of each piece's end
constexpr int kMostScans = 500;  // a progressive file of a few kB can ask for hours in endless scans
constexpr double kLeastPartedMegapixels = 4.0;  // below, a second thread is not worth starting
constexpr double kFirstShare = 0.6;
constexpr JDIMENSION kRunUp = 32;  // rows decoded after a skip before the first that is kept: colour is
                                   // interpolated between rows
constexpr std::array<std::uint8_t, 6> kExifName{'E', 'x', 'i', 'f', 0, 0};

/// Warnings after which libjpeg goes on with invented samples. Those of odd but whole files (stray bytes
/// between markers, unknown JFIF revision) are not among them: phones do write such files.
bool spoils_samples(int code) {
  return code == JWRN_JPEG_EOF || code == JWRN_HIT_MARKER || code == JWRN_HUFF_BAD_CODE ||
         code == JWRN_ARITH_BAD_CODE || code == JWRN_MUST_RESYNC;
}

[[noreturn]] void spring_with_message(j_common_ptr info) {
  auto& trap = *static_cast<Trap*>(info->client_data);
  std::array<char, JMSG_LENGTH_MAX> message{};
  info->err->format_message(info, message.data());
  std::snprintf(static_cast<char*>(trap.message), sizeof trap.message, "%s", message.data());
  trap.truncated = info->err->msg_code == JWRN_JPEG_EOF;
  trap.spring();
}

/// libjpeg's decoder, reading a PhotoFile piece by piece. Stays where it is made: libjpeg holds its
/// addresses.
class JpegDecoder {
 public:
  explicit JpegDecoder(const PhotoFile& file) : file_(file), piece_(new JOCTET[kPieceBytes]) {
    info_.err = jpeg_std_error(&errors_);
    errors_.error_exit = &spring_with_message;
    errors_.emit_message = [](j_common_ptr info, int level) {
      if (level < 0 && spoils_samples(info->err->msg_code)) spring_with_message(info);
    };
    errors_.output_message = [](j_common_ptr) {};
    info_.client_data = &trap_;
    progress_.progress_monitor = [](j_common_ptr info) {
      auto* decoder = reinterpret_cast<j_decompress_ptr>(info);
      if (decoder->input_scan_number > kMostScans) spring_with_message(info);
    };
    source_.manager.init_source = [](j_decompress_ptr) {};
    source_.manager.fill_input_buffer = &fill;
    source_.manager.skip_input_data = &skip;
    source_.manager.resync_to_restart = &jpeg_resync_to_restart;
    source_.manager.term_source = [](j_decompress_ptr) {};
    source_.decoder = this;
  }
  JpegDecoder(const JpegDecoder&) = delete;
  JpegDecoder& operator=(const JpegDecoder&) = delete;
  JpegDecoder(JpegDecoder&&) = delete;
  JpegDecoder& operator=(JpegDecoder&&) = delete;
  ~JpegDecoder() { jpeg_destroy_decompress(&info_); }

  [[nodiscard]] bool read_header() {
    return completes(trap_, [this] {
      jpeg_CreateDecompress(&info_, JPEG_LIB_VERSION, sizeof info_);
      info_.src = &source_.manager;
      info_.progress = &progress_;
      jpeg_save_markers(&info_, JPEG_APP0 + 1, 0xFFFF);  // Exif
      jpeg_save_markers(&info_, JPEG_APP0 + 2, 0xFFFF);  // ICC
      jpeg_read_header(&info_, TRUE);
    });
  }

  /// Rows first ... end-1 into `rows`. `spare` holds one row.
  [[nodiscard]] bool decode(UprightRows& rows, JDIMENSION first, JDIMENSION end, JSAMPLE* spare) {
    return completes(trap_, [&] {
      info_.out_color_space = info_.num_components == 1 ? JCS_GRAYSCALE : JCS_RGB;
      info_.dct_method = JDCT_ISLOW;
      jpeg_start_decompress(&info_);
      if (first > kRunUp) jpeg_skip_scanlines(&info_, first - kRunUp);
      while (info_.output_scanline < first) jpeg_read_scanlines(&info_, &spare, 1);
      while (info_.output_scanline < end) {
        JSAMPROW row = rows.next_row();
        jpeg_read_scanlines(&info_, &row, 1);
        rows.row_written();
      }
      // Reads up to the end marker, so that a file without one is found out.
      if (end == info_.output_height) jpeg_finish_decompress(&info_);
    });
  }

  /// Rows can be skipped without holding the whole photo's coefficients.
  [[nodiscard]] bool can_skip_rows() {
    return info_.progressive_mode == FALSE && jpeg_has_multiple_scans(&info_) == FALSE;
  }

  [[nodiscard]] std::vector<std::uint8_t> icc_profile() {
    JOCTET* profile = nullptr;
    unsigned int bytes = 0;
    boolean found = FALSE;
    if (!completes(trap_, [&] { found = jpeg_read_icc_profile(&info_, &profile, &bytes); }) || !found)
      return {};
    const std::unique_ptr<JOCTET, decltype(&std::free)> owner(profile, &std::free);
    return {profile, profile + bytes};
  }

  [[nodiscard]] ExifFields exif() const {
    for (auto marker = info_.marker_list; marker != nullptr; marker = marker->next) {
      const std::span<const std::uint8_t> data(marker->data, marker->data_length);
      if (marker->marker == JPEG_APP0 + 1 && data.size() > kExifName.size() &&
          std::equal(kExifName.begin(), kExifName.end(), data.begin()))
        return read_exif(data.subspan(kExifName.size()));
    }
    return {};
  }

  [[nodiscard]] MeasureError refusal() const {
    return trap_.truncated ? truncated_refusal() : damaged_refusal(static_cast<const char*>(trap_.message));
  }
  [[nodiscard]] const jpeg_decompress_struct& info() const { return info_; }

 private:
  struct Source {
    jpeg_source_mgr manager{};  // first, so that libjpeg's pointer to it is a pointer to the whole
    JpegDecoder* decoder = nullptr;
  };

  static JpegDecoder& of(j_decompress_ptr info) { return *reinterpret_cast<Source*>(info->src)->decoder; }

  static boolean fill(j_decompress_ptr info) {
    JpegDecoder& self = of(info);
    const std::size_t got = self.file_.read_at(self.position_, {self.piece_.get(), kPieceBytes});
    if (got == 0) {
      info->err->msg_code = JWRN_JPEG_EOF;
      spring_with_message(reinterpret_cast<j_common_ptr>(info));
    }
    self.position_ += got;
    info->src->next_input_byte = self.piece_.get();
    info->src->bytes_in_buffer = got;
    return TRUE;
  }

  static void skip(j_decompress_ptr info, long count) {
    if (count <= 0) return;
    auto left = static_cast<std::size_t>(count);
    const std::size_t here = std::min(left, info->src->bytes_in_buffer);
    info->src->next_input_byte += here;
    info->src->bytes_in_buffer -= here;
    of(info).position_ += left - here;  // beyond the end of the file the next fill notices
  }

  const PhotoFile& file_;
  std::unique_ptr<JOCTET[]> piece_;  // NOLINT(modernize-avoid-c-arrays): left unset, unlike a vector
  std::uintmax_t position_ = 0;
  Trap trap_;
  jpeg_error_mgr errors_{};
  jpeg_progress_mgr progress_{};
  Source source_;
  jpeg_decompress_struct info_{};
};

std::optional<MeasureError> colour_refusal(const jpeg_decompress_struct& info) {
  switch (info.jpeg_color_space) {
    case JCS_GRAYSCALE:
    case JCS_RGB:
    case JCS_YCbCr:
      return std::nullopt;
    case JCS_CMYK:
    case JCS_YCCK:
      return MeasureError{ErrorCode::unreadable_photo,
                          "is in printing colours (CMYK), which say nothing certain about light",
                          "export it as JPEG in sRGB"};
    default:
      return MeasureError{ErrorCode::unreadable_photo,
                          "has a number of colour channels that is neither grey nor RGB",
                          "export it as JPEG in sRGB"};
  }
}

/// Row at which the work is parted between two threads; 0 where one does it all. The second one has to go
/// through the entropy code of the first one's rows too, a third of the work of decoding them, so it gets
/// fewer.
JDIMENSION parting_row(JpegDecoder& decoder) {
  const jpeg_decompress_struct& info = decoder.info();
  const double megapixels = 1e-6 * info.image_width * info.image_height;
  if (cv::getNumThreads() < 2 || megapixels < kLeastPartedMegapixels || !decoder.can_skip_rows()) return 0;
  constexpr JDIMENSION kBand = UprightRows::kBandRows;
  return static_cast<JDIMENSION>(kFirstShare * info.image_height) / kBand * kBand;
}

Result<void> decode_rows(JpegDecoder& decoder, const PhotoFile& file, UprightRows& rows) {
  const JDIMENSION height = decoder.info().image_height, parting = parting_row(decoder);
  if (parting == 0) {
    if (!decoder.decode(rows, 0, height, nullptr)) return tl::make_unexpected(decoder.refusal());
    return {};
  }
  JpegDecoder second(file);
  if (!second.read_header()) return tl::make_unexpected(second.refusal());
  UprightRows lower = rows.from_row(static_cast<int>(parting));
  std::vector<JSAMPLE> spare(static_cast<std::size_t>(decoder.info().image_width) * 3);
  auto upper_done = std::async(std::launch::async, [&] { return decoder.decode(rows, 0, parting, nullptr); });
  // The second one reads to the end, so what is wrong with the file it finds too.
  const bool lower_done = second.decode(lower, parting, height, spare.data());
  if (!lower_done) return tl::make_unexpected(second.refusal());
  if (!upper_done.get()) return tl::make_unexpected(decoder.refusal());
  return {};
}

}  // namespace

Result<DecodedFile> decode_jpeg(const PhotoFile& file, const PhotoLimits& limits) {
  JpegDecoder decoder(file);
  if (!decoder.read_header()) return tl::make_unexpected(decoder.refusal());
  const jpeg_decompress_struct& info = decoder.info();
  if (auto refusal = size_refusal(info.image_width, info.image_height, limits))
    return tl::make_unexpected(*std::move(refusal));
  if (auto refusal = colour_refusal(info)) return tl::make_unexpected(*std::move(refusal));

  DecodedFile decoded;
  decoded.icc_profile = decoder.icc_profile();
  ExifFields exif = decoder.exif();
  decoded.orientation = exif.orientation;
  decoded.states_srgb = exif.states_srgb;
  decoded.camera = std::move(exif.camera);
  UprightRows rows(static_cast<int>(info.image_width),
                   static_cast<int>(info.image_height),
                   info.num_components == 1 ? CV_8UC1 : CV_8UC3,
                   decoded.orientation);
  if (auto done = decode_rows(decoder, file, rows); !done) return tl::make_unexpected(done.error());
  decoded.samples = rows.upright();
  return decoded;
}

}  // namespace corefleck
