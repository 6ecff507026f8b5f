#include "corefleck/statistics.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

using Catch::Matchers::WithinAbs;
using namespace corefleck;

TEST_CASE("median: the middle value, or half way between the two middle ones", "[statistics]") {
  CHECK(median(std::vector{3.0}) == 3.0);
  CHECK(median(std::vector{9.0, 1.0, 5.0}) == 5.0);
  CHECK(median(std::vector{9.0, 1.0, 5.0, 2.0}) == 3.5);
  CHECK(median(std::vector{2.0, 2.0, 2.0, 2.0}) == 2.0);
}

TEST_CASE("robust deviation: worked by hand, and deaf to one wild value", "[statistics]") {
  // By hand: median of 1 1 2 2 4 6 9 is 2; deviations 1 1 0 0 2 4 7, sorted 0 0 1 1 2 4 7, median 1.
  CHECK_THAT(robust_deviation(std::vector{1.0, 1.0, 2.0, 2.0, 4.0, 6.0, 9.0}), WithinAbs(1.4826, 1e-12));
  CHECK_THAT(robust_deviation(std::vector{1.0, 1.0, 2.0, 2.0, 4.0, 6.0, 9e9}), WithinAbs(1.4826, 1e-12));
  CHECK(robust_deviation(std::vector{7.0}) == 0.0);
}

TEST_CASE("robust deviation: that of a normal sample is its standard deviation", "[statistics]") {
  std::mt19937_64 random(20240229);
  std::normal_distribution<double> normal(50.0, 3.0);
  std::vector<double> sample(200'000);
  std::generate(sample.begin(), sample.end(), [&] { return normal(random); });
  // Its own standard error is 1.17 sigma / sqrt n = 0.008; three of them.
  CHECK_THAT(robust_deviation(sample), WithinAbs(3.0, 0.024));
}

// The undersize curve of ISO 9276-1 by half ranks (Hazen). Computed by numpy's quantile, method "hazen".
TEST_CASE("percentile: d10, d50 and d90 of eight sizes", "[statistics]") {
  const std::vector sizes{2.5, 0.5, 0.6, 0.8, 1.0, 1.2, 1.6, 2.0};
  // By hand: 10 % is rank 8 x 0.1 + 0.5 = 1.3, 0.5 + 0.3 x 0.1; 90 % is rank 7.7, 2 + 0.7 x 0.5.
  CHECK_THAT(number_percentile(sizes, 10.0), WithinAbs(0.53, 1e-12));
  CHECK_THAT(number_percentile(sizes, 50.0), WithinAbs(1.10, 1e-12));
  CHECK_THAT(number_percentile(sizes, 90.0), WithinAbs(2.35, 1e-12));
}

TEST_CASE("percentile: constant beyond the first and last half rank", "[statistics]") {
  const std::vector sizes{4.0, 1.0};
  CHECK(number_percentile(sizes, 0.0) == 1.0);
  CHECK(number_percentile(sizes, 25.0) == 1.0);
  CHECK_THAT(number_percentile(sizes, 26.0), WithinAbs(1.06, 1e-12));
  CHECK(number_percentile(sizes, 75.0) == 4.0);
  CHECK(number_percentile(sizes, 100.0) == 4.0);
  CHECK(number_percentile(std::vector{3.0}, 10.0) == 3.0);
}

TEST_CASE("percentile: never falls, scales with the sizes, mirrors, and has the median at 50 %",
          "[statistics]") {
  std::mt19937_64 random(7);
  std::lognormal_distribution<double> sizes_of(0.0, 0.5);
  for (std::size_t n = 1; n <= 40; ++n) {
    std::vector<double> sizes(n), doubled(n), mirrored(n);
    std::generate(sizes.begin(), sizes.end(), [&] { return sizes_of(random); });
    std::transform(sizes.begin(), sizes.end(), doubled.begin(), [](double size) { return 2.0 * size; });
    std::transform(sizes.begin(), sizes.end(), mirrored.begin(), [](double size) { return -size; });
    double before = -1.0;
    for (int percent = 0; percent <= 100; ++percent) {
      const double size = number_percentile(sizes, percent);
      CHECK(size >= before);
      CHECK(number_percentile(doubled, percent) == 2.0 * size);
      CHECK_THAT(number_percentile(mirrored, 100.0 - percent), WithinAbs(-size, 1e-12));
      before = size;
    }
    CHECK_THAT(number_percentile(sizes, 50.0), WithinAbs(median(sizes), 1e-12));
  }
}
