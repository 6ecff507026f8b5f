#include "deflate.hpp"

#include <catch2/catch.hpp>
#include <zlib.h>

#include <algorithm>
#include <array>
#include <memory>
#include <random>
#include <span>
#include <vector>

using namespace corefleck;

namespace {

/// By zlib, the reference implementation of RFC 1950.
std::vector<std::uint8_t> inflated(const std::string& packed, std::size_t size) {
  std::vector<std::uint8_t> bytes(size + 1);
  uLongf length = bytes.size();
  REQUIRE(uncompress(bytes.data(),
                     &length,
                     reinterpret_cast<const Bytef*>(packed.data()),
                     static_cast<uLong>(packed.size())) == Z_OK);
  bytes.resize(length);
  return bytes;
}

std::vector<std::uint8_t> noise(std::size_t size) {
  std::mt19937 random(11);  // NOLINT(cert-msc51-cpp): the same bytes each time
  std::vector<std::uint8_t> bytes(size);
  for (std::uint8_t& byte : bytes) byte = static_cast<std::uint8_t>(random());
  return bytes;
}

}  // namespace

TEST_CASE("deflate: zlib gives the same bytes back", "[report]") {
  const auto size = GENERATE(std::size_t{0}, std::size_t{1}, std::size_t{70000}, std::size_t{5000000});
  std::vector<std::uint8_t> bytes = noise(size);
  SECTION("noise, which outgrows the room first made for it") {}
  SECTION("runs") {
    for (std::size_t i = 0; i < size; ++i) bytes[i] = static_cast<std::uint8_t>(i / 1000);
  }
  CHECK(inflated(deflated(bytes), size) == bytes);
}

TEST_CASE("deflate: bytes that come in parts make one stream", "[report]") {
  const std::vector<std::uint8_t> bytes = noise(100000);
  Deflater deflater(10);  // far too little room
  for (std::size_t from = 0; from < bytes.size(); from += 999)
    deflater.add(std::span(bytes).subspan(from, std::min<std::size_t>(999, bytes.size() - from)));
  deflater.add({});
  CHECK(inflated(std::move(deflater).finished(), bytes.size()) == bytes);
}

TEST_CASE("deflate: what repeats is packed to a hundredth", "[report]") {
  const std::vector<std::uint8_t> bytes(1000000, 7);
  CHECK(deflated(bytes).size() < bytes.size() / 100);
}

TEST_CASE("deflate: the same bytes give the same stream wherever it lies in memory", "[report]") {
  // After 2048 bytes without a match the packer passes over 32 unseen and then looks up under the hash from
  // before them: where that leads to the stream's second position, and zeros are at both, the address shows.
  // Without the first bytes' own way one to ten of these streams differ.
  std::vector<std::uint8_t> bytes(32768);
  const std::vector<std::uint8_t> rough = noise(bytes.size());
  for (std::size_t i = 64; i < bytes.size(); ++i)
    if (i % 2120 < 2060) bytes[i] = rough[i];
  const std::string packed = deflated(bytes);

  std::vector<std::unique_ptr<std::array<std::uint8_t, 65536>>> between;
  std::size_t others = 0;
  for (int i = 0; i < 6000; ++i) {
    between.push_back(std::make_unique_for_overwrite<std::array<std::uint8_t, 65536>>());
    if (deflated(bytes) != packed) ++others;
  }
  CHECK(others == 0);
}
