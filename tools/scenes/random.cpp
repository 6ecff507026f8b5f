#include "random.hpp"

#include <cmath>
#include <numbers>

namespace scenes {
namespace {

std::uint64_t stream_seed(std::uint64_t seed, std::string_view aspect) {
  std::uint64_t hash =
      0xcbf29ce484222325ULL;  // FNV-1a, then a SplitMix64 finish to spread neighbouring seeds
  for (const char letter : aspect) hash = (hash ^ static_cast<unsigned char>(letter)) * 0x100000001b3ULL;
  hash += (seed + 1) * 0x9e3779b97f4a7c15ULL;
  hash = (hash ^ (hash >> 30)) * 0xbf58476d1ce4e5b9ULL;
  hash = (hash ^ (hash >> 27)) * 0x94d049bb133111ebULL;
  return hash ^ (hash >> 31);
}

}  // namespace

Random::Random(std::uint64_t seed, std::string_view aspect) : engine_(stream_seed(seed, aspect)) {}

double Random::uniform() { return static_cast<double>(engine_() >> 11) * 0x1.0p-53; }

double Random::uniform(double low, double high) { return low + (high - low) * uniform(); }

double Random::log_uniform(double low, double high) { return low * std::pow(high / low, uniform()); }

double Random::normal() {
  const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform()));
  return radius * std::cos(2.0 * std::numbers::pi * uniform());
}

int Random::integer(int low, int high) { return low + static_cast<int>(uniform() * (high - low + 1)); }

bool Random::chance(double probability) { return uniform() < probability; }

std::uint32_t Random::noise_seed() { return static_cast<std::uint32_t>(engine_() >> 32); }

}  // namespace scenes
