#include "deflate.hpp"

#include <zlib.h>

#include <algorithm>
#include <memory>
#include <new>

namespace corefleck {
namespace {

constexpr int kLevel = 1, kWindowBits = 15, kMemoryLevel = 9;

struct EndDeflate {
  void operator()(z_stream* stream) const { deflateEnd(stream); }
};

}  // namespace

std::string deflated(std::span<const std::uint8_t> bytes, DeflateForm form) {
  z_stream stream{};
  const int window = form == DeflateForm::whole_stream ? kWindowBits : -kWindowBits;
  if (deflateInit2(&stream, kLevel, Z_DEFLATED, window, kMemoryLevel, Z_RLE) != Z_OK) throw std::bad_alloc();
  const std::unique_ptr<z_stream, EndDeflate> owner(&stream);
  stream.next_in = const_cast<Bytef*>(bytes.data());  // zlib leaves its input as it was
  stream.avail_in = static_cast<uInt>(bytes.size());
  const std::size_t growth = std::max<std::size_t>(4096, bytes.size() / 4);
  std::string out;
  do {
    const std::size_t done = out.size();
    out.resize(done + growth);
    stream.next_out = reinterpret_cast<Bytef*>(out.data() + done);
    stream.avail_out = static_cast<uInt>(growth);
    deflate(&stream, form == DeflateForm::piece ? Z_SYNC_FLUSH : Z_FINISH);
    out.resize(out.size() - stream.avail_out);
  } while (stream.avail_out == 0);
  return out;
}

}  // namespace corefleck
