#include "deflate.hpp"

#include <isa-l.h>

#include <algorithm>
#include <limits>
#include <memory>
#include <vector>

namespace corefleck {
namespace {

constexpr int kLevel = 1;
constexpr std::size_t kLeastRoom = 4096;
constexpr std::size_t kMostAtOnce = std::numeric_limits<std::uint32_t>::max() / 2;

/// Hands the next part of the bytes to the stream.
void feed(isal_zstream& stream, std::span<const std::uint8_t>& bytes) {
  const auto part = bytes.first(std::min(bytes.size(), kMostAtOnce));
  bytes = bytes.subspan(part.size());
  stream.next_in = const_cast<std::uint8_t*>(part.data());  // the library reads only
  stream.avail_in = static_cast<std::uint32_t>(part.size());
  stream.end_of_stream = bytes.empty() ? 1 : 0;
}

}  // namespace

std::string deflated(std::span<const std::uint8_t> bytes) {
  const auto stream = std::make_unique<isal_zstream>();  // 80 KiB: not on a thread's stack
  std::vector<std::uint8_t> tables(ISAL_DEF_LVL1_DEFAULT);
  isal_deflate_init(stream.get());
  stream->level = kLevel;
  stream->level_buf = tables.data();
  stream->level_buf_size = static_cast<std::uint32_t>(tables.size());
  stream->gzip_flag = IGZIP_ZLIB;
  std::string out;
  std::size_t length = 0;
  while (stream->internal_state.state != ZSTATE_END) {
    if (stream->avail_in == 0 && stream->end_of_stream == 0) feed(*stream, bytes);
    // A third is what photos pack to; where that was too little, as much again.
    if (length == out.size()) out.resize(std::max(2 * out.size(), stream->avail_in / 3 + kLeastRoom));
    const std::size_t room = std::min(out.size() - length, kMostAtOnce);
    stream->next_out = reinterpret_cast<std::uint8_t*>(out.data()) + length;
    stream->avail_out = static_cast<std::uint32_t>(room);
    isal_deflate(stream.get());  // with sound settings it cannot fail
    length += room - stream->avail_out;
  }
  out.resize(length);
  return out;
}

}  // namespace corefleck
