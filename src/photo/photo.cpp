#include "corefleck/photo.hpp"

#include "decoding.hpp"
#include "file_kind.hpp"
#include "linear_light.hpp"
#include "photo_file.hpp"
#include "sha256.hpp"

#include <fmt/format.h>

#include <array>
#include <exception>
#include <thread>

namespace corefleck {
namespace {

struct Format {
  const char* name;
  Result<DecodedFile> (*decode)(const PhotoFile&, const PhotoLimits&);
};

Format format_of(FileKind kind) {
  switch (kind) {
    case FileKind::jpeg:
      return {"JPEG", &decode_jpeg};
    case FileKind::png:
      return {"PNG", &decode_png};
    default:
      return {"TIFF", &decode_tiff};
  }
}

tl::unexpected<MeasureError> not_read_to_its_end() {
  return failure(ErrorCode::unreadable_photo, "cannot be read to its end", "check the disk or the card");
}

Result<Photo> read_opened(const PhotoFile& file, const PhotoLimits& limits) {
  std::array<std::uint8_t, kMagicBytes> first{};
  const auto kind = file_kind(std::span(first).first(file.read_at(0, first)));
  if (!kind) return tl::make_unexpected(kind.error());
  const Format format = format_of(*kind);

  Photo photo;
  photo.file_bytes = file.size();
  photo.format = format.name;
  // The digest of a photo takes a sizeable part of its decoding time, so it goes along on a thread of its
  // own. When decoding fails, the thread is told to stop and waited for on the way out.
  std::jthread digest([&](const std::stop_token& stop) { photo.sha256 = sha256_of(file, stop); });
  auto decoded = format.decode(file, limits);
  if (!decoded) return tl::make_unexpected(decoded.error());
  photo.orientation = decoded->orientation;
  photo.camera = std::move(decoded->camera);
  give_linear_light(*std::move(decoded), photo);
  digest.join();
  if (photo.sha256.empty()) return not_read_to_its_end();
  if (file.changed_since_opened())
    return failure(ErrorCode::unreadable_photo,
                   "changed while it was read",
                   "wait until copying it is done, then try again");
  return photo;
}

/// Libraries throw for want of memory (std::bad_alloc, cv::Exception) and of threads.
Result<Photo> read_without_throwing(const std::filesystem::path& path, const PhotoLimits& limits) {
  try {
    const auto file = PhotoFile::open(path);
    if (!file) return tl::make_unexpected(file.error());
    return read_opened(*file, limits);
  } catch (const std::exception&) {
    return failure(ErrorCode::photo_too_large,
                   "does not fit into the memory that is left",
                   "close other programs, use fewer --jobs, or export the photo smaller");
  }
}

tl::unexpected<MeasureError> naming(const std::filesystem::path& path, const MeasureError& error) {
  return failure(error.code, fmt::format("{}: {}", path.filename().string(), error.what), error.hint);
}

}  // namespace

Result<Photo> read_photo(const std::filesystem::path& path, const PhotoLimits& limits) {
  auto photo = read_without_throwing(path, limits);
  if (!photo) return naming(path, photo.error());
  photo->path = path;
  return photo;
}

Result<std::string> photo_sha256(const std::filesystem::path& path) {
  const auto file = PhotoFile::open(path);
  if (!file) return naming(path, file.error());
  std::string digest = sha256_of(*file, {});
  if (digest.empty()) return naming(path, not_read_to_its_end().value());
  return digest;
}

}  // namespace corefleck
