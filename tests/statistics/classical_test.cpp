#include "published_table.hpp"

#include "corefleck/statistics.hpp"

#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <string>
#include <vector>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace corefleck;

// NIST StRD, ANOVA, SiRstv, certified: residual sd 0.104076068334656, within mean
// square 1.08318280000000E-02. The leading digits are constant, so a one-pass sum of squares fails.
TEST_CASE("standard deviation: the residual deviation of NIST's SiRstv is met to 12 digits", "[statistics]") {
  std::map<std::string, std::vector<double>> instruments;
  for (const auto& row : published_table("nist_sirstv.csv"))
    instruments[row.text("instrument")].push_back(row["resistance"]);
  REQUIRE(instruments.size() == 5);
  double sum_of_squares = 0.0;
  for (const auto& [name, values] : instruments) {
    REQUIRE(values.size() == 5);
    sum_of_squares += 4.0 * standard_deviation(values) * standard_deviation(values);
  }
  CHECK_THAT(sum_of_squares / 20.0, WithinRel(1.08318280000000e-02, 1e-12));
  CHECK_THAT(std::sqrt(sum_of_squares / 20.0), WithinRel(0.104076068334656, 1e-12));
}

TEST_CASE("standard deviation: a large constant does not disturb it", "[statistics]") {
  // By hand: 1 2 3 4 has s^2 = 5/3; the numbers below hold 1e12 + k exactly.
  const std::vector values{1e12 + 1.0, 1e12 + 2.0, 1e12 + 3.0, 1e12 + 4.0};
  CHECK(mean(values) == 1e12 + 2.5);
  CHECK_THAT(standard_deviation(values), WithinRel(std::sqrt(5.0 / 3.0), 1e-14));
  CHECK(standard_deviation(std::vector{0.1, 0.1, 0.1}) == 0.0);
}

TEST_CASE("mean: a hundred thousand equal values have that value for a mean", "[statistics]") {
  CHECK(mean(std::vector<double>(100'000, 0.1)) == 0.1);
  CHECK(mean(std::vector{5.0}) == 5.0);
}

// JCGM 100:2008, H.1, end gauge: contributions in nm as printed (5.8, 3.9 and 6.7 make up the
// difference's 9.7), combined u_c = 32 nm; with the second-order terms 11.7 and 1.7 it is 34 nm.
TEST_CASE("root sum of squares: the end gauge of the GUM", "[statistics]") {
  const double u_d = root_sum_of_squares(std::array{5.8, 3.9, 6.7});
  CHECK_THAT(u_d, WithinAbs(9.7, 0.05));
  const double u_c = root_sum_of_squares(std::array{25.0, u_d, 2.9, 16.6});
  CHECK_THAT(u_c, WithinAbs(32.0, 0.5));
  CHECK_THAT(root_sum_of_squares(std::array{u_c, 11.7, 1.7}), WithinAbs(34.0, 0.5));
  // Unrounded, computed by a separate program: 31.663879111.
  const double u_alpha = 50'000'623.0 * 0.1 * 1e-6 / std::sqrt(3.0);
  const double u_theta = 50'000'623.0 * 11.5e-6 * 0.05 / std::sqrt(3.0);
  CHECK_THAT(root_sum_of_squares(std::array{25.0, u_d, u_alpha, u_theta}), WithinAbs(31.663879111, 1e-9));
}

TEST_CASE("root sum of squares: of none 0, of one its size, of 3 and 4 is 5", "[statistics]") {
  CHECK(root_sum_of_squares({}) == 0.0);
  CHECK(root_sum_of_squares(std::array{-2.0}) == 2.0);
  CHECK(root_sum_of_squares(std::array{3.0, 4.0}) == 5.0);
}

// Constructed examples for the formulas of ASTM E562, computed by a separate program.
TEST_CASE("mean over fields: ten fields, worked example", "[statistics]") {
  const std::array fields{8.0, 12.0, 10.0, 6.0, 14.0, 10.0, 9.0, 11.0, 13.0, 7.0};
  const FieldMean result = mean_over_fields(fields);
  CHECK(result.mean == 10.0);
  CHECK_THAT(result.standard_deviation, WithinAbs(2.5819888975, 1e-9));
  CHECK_THAT(student_t_95(9.0), WithinAbs(2.2621571627, 1e-9));
  CHECK_THAT(result.interval_95, WithinAbs(1.8470435889, 1e-9));
  CHECK_THAT(result.relative_accuracy_pct, WithinAbs(18.470435889, 1e-8));
}

TEST_CASE("mean over fields: hits on a 25-point grid, worked example", "[statistics]") {
  std::vector<double> fields{2, 3, 1.5, 4, 2.5, 3, 2, 1, 3.5, 2.5, 2, 3};
  for (double& hits : fields) hits *= 100.0 / 25.0;
  const FieldMean result = mean_over_fields(fields);
  CHECK_THAT(result.mean, WithinAbs(10.0, 1e-12));
  CHECK_THAT(result.standard_deviation, WithinAbs(3.4112114617, 1e-9));
  CHECK_THAT(result.interval_95, WithinAbs(2.1673803598, 1e-9));
  CHECK_THAT(result.relative_accuracy_pct, WithinAbs(21.6738035982, 1e-8));
}

TEST_CASE("mean over fields: empty fields have no relative accuracy", "[statistics]") {
  const FieldMean result = mean_over_fields(std::array{0.0, 0.0, 0.0});
  CHECK(result.interval_95 == 0.0);
  CHECK(result.relative_accuracy_pct == std::numeric_limits<double>::infinity());
}

// Quantiles of the standard normal distribution at (1 + 0.95^(1/n)) / 2, by scipy 1.10.
TEST_CASE("simultaneous factor: what many intervals need together", "[statistics]") {
  CHECK(simultaneous_factor_95(1) == Approx(1.959963984540054).epsilon(1e-9));
  CHECK(simultaneous_factor_95(10) == Approx(2.799625219301087).epsilon(1e-9));
  CHECK(simultaneous_factor_95(50) == Approx(3.283479816130269).epsilon(1e-9));
  CHECK(simultaneous_factor_95(200) == Approx(3.6557475788145917).epsilon(1e-9));
}

// Against the mean of the density by the midpoint rule.
TEST_CASE("cut exponential: the scale is found by the mean, up to an even spread", "[statistics]") {
  constexpr double kWidth = 2.0;
  constexpr int kSteps = 200000;
  for (const double scale : {0.05, 0.5, 2.0, 10.0}) {
    double weight = 0.0, sum = 0.0;
    for (int i = 0; i < kSteps; ++i) {
      const double x = (i + 0.5) * kWidth / kSteps, density = std::exp(-x / scale);
      weight += density;
      sum += density * x;
    }
    CHECK_THAT(cut_exponential_scale(sum / weight, kWidth), WithinRel(scale, 1e-6));
  }
  CHECK(std::isinf(cut_exponential_scale(1.0, kWidth)));
  CHECK(std::isinf(cut_exponential_scale(1.5, kWidth)));
}
