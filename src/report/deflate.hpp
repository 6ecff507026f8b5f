#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

struct isal_zstream;

namespace corefleck {

/// A piece of what is to be packed, as blocks of RFC 1951 that end on a whole byte and look back no further
/// than the piece begins, so that pieces are packed side by side.
struct DeflatedPiece {
  std::string bytes;
  std::uint32_t checksum;  ///< Adler-32 of what was packed
  std::size_t length;      ///< of what was packed, bytes
};

/// Packs a piece whose bytes come in parts, at the fastest level.
class Deflater {
 public:
  /// `expected_bytes` in all, for the room first made. Throws std::bad_alloc, as do the others.
  explicit Deflater(std::size_t expected_bytes);
  Deflater(const Deflater&) = delete;
  Deflater& operator=(const Deflater&) = delete;
  ~Deflater();

  void add(std::span<const std::uint8_t> bytes);
  /// The whole piece; nothing can be added to it.
  [[nodiscard]] DeflatedPiece finished() &&;

 private:
  void pack(std::span<const std::uint8_t> bytes, bool last);

  std::unique_ptr<isal_zstream> stream_;
  std::vector<std::uint8_t> tables_;
  std::string out_;
  std::size_t room_used_ = 0, length_ = 0;
  std::uint32_t checksum_ = 1;
};

/// One zlib stream (RFC 1950) of the pieces, one after the other.
[[nodiscard]] std::string zlib_stream(std::span<const DeflatedPiece> pieces);

/// A zlib stream of the bytes. Throws std::bad_alloc.
[[nodiscard]] std::string deflated(std::span<const std::uint8_t> bytes);

}  // namespace corefleck
