#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

struct isal_zstream;

namespace corefleck {

/// Makes a zlib stream (RFC 1950) of bytes that come in parts, packed at the fastest level. The same parts
/// give the same stream to the byte, in every run; an empty first part or one of less than 4 bytes is beside
/// that.
class Deflater {
 public:
  /// `expected_bytes` in all, for the room first made. Throws std::bad_alloc, as do the others.
  explicit Deflater(std::size_t expected_bytes);
  Deflater(const Deflater&) = delete;
  Deflater& operator=(const Deflater&) = delete;
  ~Deflater();

  void add(std::span<const std::uint8_t> bytes);
  /// The whole stream; nothing can be added to it.
  [[nodiscard]] std::string finished() &&;

 private:
  enum class Then : std::uint8_t { kMore, kFlush, kEnd };
  void pack(std::span<const std::uint8_t> bytes, Then then);

  std::unique_ptr<isal_zstream> stream_;
  std::vector<std::uint8_t> tables_;
  std::string out_;
  std::size_t length_ = 0;
};

/// A zlib stream of the bytes. Throws std::bad_alloc.
[[nodiscard]] std::string deflated(std::span<const std::uint8_t> bytes);

}  // namespace corefleck
