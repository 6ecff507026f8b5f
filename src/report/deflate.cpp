#include "deflate.hpp"

#include <libdeflate.h>

#include <memory>
#include <new>

namespace corefleck {
namespace {

constexpr int kLevel = 1;

struct FreeCompressor {
  void operator()(libdeflate_compressor* compressor) const { libdeflate_free_compressor(compressor); }
};

}  // namespace

std::string deflated(std::span<const std::uint8_t> bytes) {
  const std::unique_ptr<libdeflate_compressor, FreeCompressor> compressor(
      libdeflate_alloc_compressor(kLevel));
  if (!compressor) throw std::bad_alloc();
  std::string out(libdeflate_zlib_compress_bound(compressor.get(), bytes.size()), '\0');
  // With room for the bound it cannot fail.
  out.resize(libdeflate_zlib_compress(compressor.get(), bytes.data(), bytes.size(), out.data(), out.size()));
  return out;
}

}  // namespace corefleck
