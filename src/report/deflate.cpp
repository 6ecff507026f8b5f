#include "deflate.hpp"

#include <isa-l.h>
#include <zlib.h>

#include <algorithm>
#include <limits>
#include <string_view>
#include <utility>

namespace corefleck {
namespace {

constexpr int kLevel = 1;
constexpr std::string_view kHeader("\x78\x01", 2);     // deflate, 32 KiB window, fastest level, no dictionary
constexpr std::string_view kLastBlock("\x03\x00", 2);  // nothing but its end
constexpr std::size_t kLeastRoom = 4096;
constexpr std::size_t kMostAtOnce = std::numeric_limits<std::uint32_t>::max() / 2;

}  // namespace

// A third is what photos pack to; where that is too little, as much again is made.
Deflater::Deflater(std::size_t expected_bytes)
    : stream_(std::make_unique<isal_zstream>()),
      tables_(ISAL_DEF_LVL1_DEFAULT),
      out_(expected_bytes / 3 + kLeastRoom, '\0') {
  isal_deflate_init(stream_.get());
  stream_->level = kLevel;
  stream_->level_buf = tables_.data();
  stream_->level_buf_size = static_cast<std::uint32_t>(tables_.size());
  stream_->gzip_flag = IGZIP_DEFLATE;
}

Deflater::~Deflater() = default;

void Deflater::pack(std::span<const std::uint8_t> bytes, bool last) {
  stream_->next_in = const_cast<std::uint8_t*>(bytes.data());  // the library reads only
  stream_->avail_in = static_cast<std::uint32_t>(bytes.size());
  stream_->flush = last ? SYNC_FLUSH : NO_FLUSH;  // to a whole byte
  do {
    if (room_used_ == out_.size()) out_.resize(2 * out_.size());
    const std::size_t room = std::min(out_.size() - room_used_, kMostAtOnce);
    stream_->next_out = reinterpret_cast<std::uint8_t*>(out_.data()) + room_used_;
    stream_->avail_out = static_cast<std::uint32_t>(room);
    isal_deflate(stream_.get());  // with sound settings it cannot fail
    room_used_ += room - stream_->avail_out;
  } while (stream_->avail_in > 0 || stream_->avail_out == 0);
}

void Deflater::add(std::span<const std::uint8_t> bytes) {
  checksum_ = isal_adler32(checksum_, bytes.data(), bytes.size());
  length_ += bytes.size();
  for (; !bytes.empty(); bytes = bytes.subspan(std::min(bytes.size(), kMostAtOnce)))
    pack(bytes.first(std::min(bytes.size(), kMostAtOnce)), /*last=*/false);
}

DeflatedPiece Deflater::finished() && {
  pack({}, /*last=*/true);
  out_.resize(room_used_);
  return {std::move(out_), checksum_, length_};
}

std::string zlib_stream(std::span<const DeflatedPiece> pieces) {
  std::string stream(kHeader);
  std::uint32_t checksum = 1;
  for (const DeflatedPiece& piece : pieces) {
    stream += piece.bytes;
    checksum = static_cast<std::uint32_t>(
        adler32_combine(checksum, piece.checksum, static_cast<z_off_t>(piece.length)));
  }
  stream += kLastBlock;
  for (const int shift : {24, 16, 8, 0}) stream += static_cast<char>(checksum >> shift & 0xFFU);
  return stream;
}

std::string deflated(std::span<const std::uint8_t> bytes) {
  Deflater deflater(bytes.size());
  deflater.add(bytes);
  return zlib_stream(std::vector{std::move(deflater).finished()});
}

}  // namespace corefleck
