#include "exif.hpp"

#include "upright_rows.hpp"

#include <exiv2/exiv2.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <mutex>

namespace corefleck {
namespace {

std::string text(const Exiv2::ExifData& exif, const char* key) {
  const auto field = exif.findKey(Exiv2::ExifKey(key));
  return field == exif.end() ? std::string() : plain_text(field->toString());
}

std::optional<double> number(Exiv2::ExifData::const_iterator field, const Exiv2::ExifData& exif) {
  if (field == exif.end() || field->count() == 0) return std::nullopt;
  if (field->typeId() == Exiv2::unsignedRational || field->typeId() == Exiv2::signedRational) {
    const auto [above, below] = field->toRational();
    return below == 0 ? std::nullopt : positive(static_cast<double>(above) / below);
  }
  return positive(static_cast<double>(field->toFloat()));
}

std::optional<double> number(const Exiv2::ExifData& exif, const char* key) {
  return number(exif.findKey(Exiv2::ExifKey(key)), exif);
}

/// Each field by itself: one that the library cannot interpret must not take the others with it.
template <class Read>
void attempt(Read read) noexcept {
  try {
    read();
  } catch (...) {  // exiv2 throws its own type and, on garbled data, those of the standard library
    return;
  }
}

void read_camera(const Exiv2::ExifData& exif, CameraData& camera) noexcept {
  attempt([&] { camera.make = text(exif, "Exif.Image.Make"); });
  attempt([&] { camera.model = text(exif, "Exif.Image.Model"); });
  attempt([&] { camera.lens = text(exif, "Exif.Photo.LensModel"); });
  attempt([&] {
    if (!camera.lens.empty()) return;
    const auto lens = Exiv2::lensName(exif);  // from the maker's own notes
    if (lens != exif.end()) camera.lens = plain_text(lens->print(&exif));
  });
  attempt([&] { camera.exposure_time_s = number(exif, "Exif.Photo.ExposureTime"); });
  attempt([&] { camera.f_number = number(exif, "Exif.Photo.FNumber"); });
  attempt([&] { camera.iso_speed = number(Exiv2::isoSpeed(exif), exif); });
  attempt([&] { camera.focal_length_mm = number(exif, "Exif.Photo.FocalLength"); });
  attempt([&] { camera.focal_length_35mm_mm = number(exif, "Exif.Photo.FocalLengthIn35mmFilm"); });
  attempt([&] {
    camera.taken =
        iso_time(text(exif, "Exif.Photo.DateTimeOriginal"), text(exif, "Exif.Photo.OffsetTimeOriginal"));
  });
}

bool fits_pattern(std::string_view text, std::string_view pattern) {
  return text.size() == pattern.size() &&
         std::equal(text.begin(), text.end(), pattern.begin(), [](char c, char p) {
           return p == '0' ? c >= '0' && c <= '9' : c == p;
         });
}

}  // namespace

ExifFields read_exif(std::span<const std::uint8_t> block) noexcept {
  ExifFields fields;
  if (block.size() < 8 || block.size() > std::numeric_limits<std::uint32_t>::max()) return fields;
  // exiv2 keeps its log level and its XMP reader in globals, and prepares both on first use without a lock.
  static std::mutex one_at_a_time;
  attempt([&] {
    const std::lock_guard lock(one_at_a_time);
    Exiv2::LogMsg::setLevel(Exiv2::LogMsg::mute);
    Exiv2::ExifData exif;
    Exiv2::ExifParser::decode(exif, block.data(), static_cast<std::uint32_t>(block.size()));
    attempt([&] {
      const auto field = exif.findKey(Exiv2::ExifKey("Exif.Image.Orientation"));
      if (field != exif.end() && field->count() > 0) fields.orientation = valid_orientation(field->toLong());
    });
    attempt([&] {
      const auto field = exif.findKey(Exiv2::ExifKey("Exif.Photo.ColorSpace"));
      fields.states_srgb = field != exif.end() && field->count() > 0 && field->toLong() == 1;
    });
    read_camera(exif, fields.camera);
  });
  return fields;
}

std::string iso_time(std::string_view exif_time, std::string_view exif_offset) {
  if (!fits_pattern(exif_time, "0000:00:00 00:00:00")) return {};
  if (exif_time.substr(0, 4) == "0000" || exif_time.substr(5, 2) == "00" || exif_time.substr(8, 2) == "00")
    return {};
  std::string iso(exif_time);
  iso[4] = iso[7] = '-';
  iso[10] = 'T';
  if (fits_pattern(exif_offset, "+00:00") || fits_pattern(exif_offset, "-00:00")) iso += exif_offset;
  return iso;
}

std::string plain_text(std::string_view text) {
  constexpr std::size_t kLongest = 200;
  std::string plain(text.substr(0, std::min(text.find('\0'), kLongest)));
  for (char& c : plain) {
    if (c == '\t' || c == '\n' || c == '\r') c = ' ';
    if (c < ' ' || c > '~') c = '?';
  }
  const auto first = plain.find_first_not_of(' ');
  if (first == std::string::npos) return {};
  return plain.substr(first, plain.find_last_not_of(' ') - first + 1);
}

std::optional<double> positive(double number) {
  return std::isfinite(number) && number > 0.0 ? std::optional(number) : std::nullopt;
}

}  // namespace corefleck
