#include "file_kind.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string_view>

namespace corefleck {
namespace {

using namespace std::string_view_literals;

struct Magic {
  std::size_t offset;
  std::string_view bytes;
  std::string_view name;
};

constexpr std::string_view kCameraRaw = "a camera's raw file";
constexpr std::string_view kHeic = "a HEIC or HEIF photo";

// Order matters: the raw files that begin like a TIFF come before TIFF is recognised.
constexpr std::array kRefused{
    Magic{8, "CR\x02"sv, kCameraRaw},
    Magic{0, "IIU\0"sv, kCameraRaw},
    Magic{0, "IIRO"sv, kCameraRaw},
    Magic{0, "IIRS"sv, kCameraRaw},
    Magic{0, "MMOR"sv, kCameraRaw},
    Magic{0, "FUJIFILMCCD-RAW"sv, kCameraRaw},
    Magic{6, "HEAPCCDR"sv, kCameraRaw},
    Magic{0, "FOVb"sv, kCameraRaw},
    Magic{0, "\0MRM"sv, kCameraRaw},
    Magic{4, "ftypcrx"sv, kCameraRaw},
    Magic{4, "ftyphe"sv, kHeic},
    Magic{4, "ftypmif1"sv, kHeic},
    Magic{4, "ftypmsf1"sv, kHeic},
    Magic{4, "ftypavi"sv, "an AVIF picture"},
    Magic{4, "ftyp"sv, "a film"},
    Magic{8, "WEBP"sv, "a WebP picture"},
    Magic{0, "GIF8"sv, "a GIF picture"},
    Magic{0, "BM"sv, "a BMP picture"},
    Magic{0, "%PDF"sv, "a PDF document"},
    Magic{0, "8BPS"sv, "a layered PSD picture"},
    Magic{0, "\xFF\x0A"sv, "a JPEG XL picture"},
    Magic{4, "JXL "sv, "a JPEG XL picture"},
    Magic{4, "jP  "sv, "a JPEG 2000 picture"},
};

struct ReadMagic {
  std::string_view bytes;
  FileKind kind;
};

constexpr std::array kRead{
    ReadMagic{"\xFF\xD8\xFF"sv, FileKind::jpeg},
    ReadMagic{"\x89PNG\r\n\x1A\n"sv, FileKind::png},
    ReadMagic{"II*\0"sv, FileKind::tiff},
    ReadMagic{"MM\0*"sv, FileKind::tiff},
    ReadMagic{"II+\0"sv, FileKind::tiff},
    ReadMagic{"MM\0+"sv, FileKind::tiff},
};

bool has(std::span<const std::uint8_t> bytes, std::size_t offset, std::string_view magic) {
  return bytes.size() >= offset + magic.size() &&
         std::equal(magic.begin(),
                    magic.end(),
                    bytes.begin() + static_cast<std::ptrdiff_t>(offset),
                    [](char a, auto b) { return static_cast<std::uint8_t>(a) == b; });
}

MeasureError refusal_of(std::string_view name) {
  return {ErrorCode::unreadable_photo,
          fmt::format("is {}, which is not read", name),
          "export it as JPEG or TIFF, at full size"};
}

}  // namespace

Result<FileKind> file_kind(std::span<const std::uint8_t> first_bytes) {
  // "CR" at byte 8 alone is no raw file: a PNG or JPEG may have it there by chance.
  const bool like_tiff = has(first_bytes, 0, "II"sv) || has(first_bytes, 0, "MM"sv);
  for (const Magic& magic : kRefused) {
    if (magic.offset == 8 && magic.name == kCameraRaw && !like_tiff) continue;
    if (has(first_bytes, magic.offset, magic.bytes)) return tl::make_unexpected(refusal_of(magic.name));
  }
  for (const ReadMagic& magic : kRead)
    if (has(first_bytes, 0, magic.bytes)) return magic.kind;
  return failure(
      ErrorCode::unreadable_photo, "is not a JPEG, PNG or TIFF picture", "give a photo as JPEG, PNG or TIFF");
}

MeasureError camera_raw_refusal() { return refusal_of(kCameraRaw); }

}  // namespace corefleck
