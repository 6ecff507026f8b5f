#pragma once

#include <cstdint>
#include <initializer_list>
#include <random>
#include <string_view>

namespace scenes {

/// A stream of chance for one aspect of a scene. Aspects are seeded apart, so that drawing one number more
/// for the bench moves no spot. Distributions are our own: the standard library's differ between
/// implementations.
class Random {
 public:
  Random(std::uint64_t seed, std::string_view aspect);

  [[nodiscard]] double uniform();                         ///< [0, 1)
  [[nodiscard]] double uniform(double low, double high);  ///< [low, high)
  [[nodiscard]] double log_uniform(double low, double high);
  [[nodiscard]] double normal();                 ///< mean 0, standard deviation 1
  [[nodiscard]] int integer(int low, int high);  ///< both ends included
  [[nodiscard]] bool chance(double probability);
  [[nodiscard]] std::uint32_t noise_seed();

  template <class T>
  [[nodiscard]] T pick(std::initializer_list<T> choices) {
    return choices.begin()[integer(0, static_cast<int>(choices.size()) - 1)];
  }

 private:
  std::mt19937_64 engine_;
};

}  // namespace scenes
