#pragma once

#include "corefleck/error.hpp"

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <span>

namespace corefleck {

/// An open photo file, read by position, so that the decoder and the digest each go through it at their own
/// pace without the file ever lying in memory as a whole: an uncompressed 16-bit TIFF is as large as its
/// samples. Not mapped on purpose: a file cut short by someone else while mapped ends the program with
/// SIGBUS.
class PhotoFile {
 public:
  /// Fails with `unreadable_photo` where the path is missing, not a plain file, not permitted or empty.
  [[nodiscard]] static Result<PhotoFile> open(const std::filesystem::path& path);

  PhotoFile(PhotoFile&& other) noexcept;
  PhotoFile& operator=(PhotoFile&&) = delete;
  PhotoFile(const PhotoFile&) = delete;
  PhotoFile& operator=(const PhotoFile&) = delete;
  ~PhotoFile();

  [[nodiscard]] std::uintmax_t size() const { return state_.size; }
  /// Bytes read, fewer than asked for only at the end of the file or on a device error. Safe from several
  /// threads.
  [[nodiscard]] std::size_t read_at(std::uintmax_t position, std::span<std::uint8_t> into) const noexcept;
  /// Whether size and time of change are no longer those at opening: then digest and samples may not belong
  /// together.
  [[nodiscard]] bool changed_since_opened() const noexcept;

 private:
  struct State {
    std::uintmax_t size = 0;
    std::int64_t changed_s = 0, changed_ns = 0;
    friend bool operator==(const State&, const State&) = default;
  };
  PhotoFile(int descriptor, State state) : descriptor_(descriptor), state_(state) {}

  int descriptor_;
  State state_;
};

}  // namespace corefleck
