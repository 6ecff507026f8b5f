#include "deflate.hpp"

#include <isa-l.h>

#include <algorithm>
#include <limits>
#include <utility>

namespace corefleck {
namespace {

constexpr int kLevel = 1;
constexpr std::size_t kLeastRoom = 4096;
// ISA-L 2.30 (igzip_icf_body_h1_gr_bt.asm, and the other bodies) enters the second position of a stream under
// a hash of the stream's own address, so that about one stream in ten thousand packs otherwise from run to
// run. Its other loop, which takes what a flush leaves to it, hashes the bytes: it gets the first few. They
// cost a stream 20 bytes.
constexpr std::size_t kFirstBytes = 8;
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
  stream_->gzip_flag = IGZIP_ZLIB;
}

Deflater::~Deflater() = default;

void Deflater::pack(std::span<const std::uint8_t> bytes, Then then) {
  stream_->next_in = const_cast<std::uint8_t*>(bytes.data());  // the library reads only
  stream_->avail_in = static_cast<std::uint32_t>(bytes.size());
  stream_->flush = then == Then::kFlush ? SYNC_FLUSH : NO_FLUSH;
  stream_->end_of_stream = then == Then::kEnd ? 1 : 0;
  bool more = true;
  while (more) {
    if (length_ == out_.size()) out_.resize(2 * out_.size());
    const std::size_t room = std::min(out_.size() - length_, kMostAtOnce);
    stream_->next_out = reinterpret_cast<std::uint8_t*>(out_.data()) + length_;
    stream_->avail_out = static_cast<std::uint32_t>(room);
    isal_deflate(stream_.get());  // with sound settings it cannot fail
    length_ += room - stream_->avail_out;
    more = then == Then::kEnd ? stream_->internal_state.state != ZSTATE_END : stream_->avail_in > 0;
  }
}

void Deflater::add(std::span<const std::uint8_t> bytes) {
  const auto take = [&bytes](std::size_t most) {
    const std::span taken = bytes.first(std::min(bytes.size(), most));
    bytes = bytes.subspan(taken.size());
    return taken;
  };
  if (stream_->total_in == 0 && !bytes.empty()) pack(take(kFirstBytes), Then::kFlush);
  while (!bytes.empty()) pack(take(kMostAtOnce), Then::kMore);
}

std::string Deflater::finished() && {
  pack({}, Then::kEnd);
  out_.resize(length_);
  out_.shrink_to_fit();  // the room of a few hundred tiles would come to megabytes
  return std::move(out_);
}

std::string deflated(std::span<const std::uint8_t> bytes) {
  Deflater deflater(bytes.size());
  deflater.add(bytes);
  return std::move(deflater).finished();
}

}  // namespace corefleck
