#include "corefleck/growth.hpp"

#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <random>
#include <vector>

using namespace corefleck;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

Date day(const char* text) { return *date_of(text); }

}  // namespace

// By hand: 2 to 3 % in 1461 days, 4 years: 0.25 % a year; u95 from the two alone, 1.959964 sqrt(0.1^2 +
// 0.2^2) / 4; the line gains its own 2 % in 8 years.
TEST_CASE("growth rate: two visits give their difference over the time between, with the interval of both",
          "[growth]") {
  const GrowthRate rate = growth_rate(
      std::array{DatedFraction{day("2023-01-01"), 2.0, 0.1}, DatedFraction{day("2027-01-01"), 3.0, 0.2}});
  CHECK_THAT(rate.line.slope, WithinRel(0.25, 1e-12));
  CHECK_THAT(rate.rate_u95, WithinRel(1.959964 * std::sqrt(0.05) / 4.0, 1e-9));
  CHECK(!rate.scatter);
  CHECK(rate.widening == 1.0);
  CHECK(rate.last_visit_years == 4.0);
  CHECK(rate.grows());
  REQUIRE(rate.doubling_time_years);
  CHECK_THAT(*rate.doubling_time_years, WithinRel(8.0, 1e-12));
  CHECK_THAT(rate.line_u95_at(0.0), WithinRel(1.959964 * 0.1, 1e-9));
  CHECK_THAT(rate.line_u95_at(4.0), WithinRel(1.959964 * 0.2, 1e-9));
}

TEST_CASE("growth rate: no doubling time where the interval holds 0, where it shrinks, or from nothing",
          "[growth]") {
  const auto of = [](double first, double last, double u) {
    return growth_rate(
        std::array{DatedFraction{day("2023-01-01"), first, u}, DatedFraction{day("2027-01-01"), last, u}});
  };
  CHECK(!of(2.0, 2.1, 0.1).grows());
  CHECK(!of(2.0, 2.1, 0.1).doubling_time_years);
  CHECK(of(3.0, 2.0, 0.1).shrinks());
  CHECK(!of(3.0, 2.0, 0.1).doubling_time_years);
  CHECK(of(0.0, 1.0, 0.1).grows());
  CHECK(!of(0.0, 1.0, 0.1).doubling_time_years);
}

// By hand: 1, 4, 1 at 0, 2, 4 years with u 1: level 2, slope 0, residuals -1, 2, -1, chi^2 6 on 1; u of the
// slope 1 / sqrt(8).
TEST_CASE("growth rate: visits that scatter more than their u explains widen the interval, never the reverse",
          "[growth]") {
  const auto of = [](double middle) {
    return growth_rate(std::array{DatedFraction{day("2023-01-01"), 1.0, 1.0},
                                  DatedFraction{day("2024-12-31"), middle, 1.0},
                                  DatedFraction{day("2026-12-31"), 1.0, 1.0}});
  };
  const GrowthRate wide = of(4.0);
  CHECK_THAT(wide.scatter.value(), WithinRel(std::sqrt(6.0), 1e-12));
  CHECK_THAT(wide.widening, WithinRel(std::sqrt(6.0), 1e-12));
  const double half_span = 730.0 / 365.25;
  CHECK_THAT(wide.rate_u95,
             WithinRel(1.959964 * std::sqrt(6.0) / std::sqrt(2.0 * half_span * half_span), 1e-9));
  const GrowthRate narrow = of(1.0);
  CHECK_THAT(narrow.scatter.value(), WithinAbs(0.0, 1e-12));
  CHECK_THAT(narrow.rate_u95, WithinRel(1.959964 / std::sqrt(2.0 * half_span * half_span), 1e-9));
}

// The seed is fixed, so it holds always or never. Widening alone takes the share to 95 % and above: by the
// same draw it is 95 % with two visits, where there is none.
TEST_CASE("growth rate: its interval holds the true rate in 93 to 98 % of made-up series", "[growth]") {
  std::mt19937_64 random(365);
  std::normal_distribution<double> normal;
  const std::array dates{
      day("2024-03-02"), day("2024-09-20"), day("2025-03-11"), day("2025-10-01"), day("2026-04-15")};
  for (std::size_t visits = 2; visits <= dates.size(); ++visits) {
    int held = 0;
    constexpr int kSeries = 3000;
    for (int series = 0; series < kSeries; ++series) {
      std::vector<DatedFraction> fractions;
      for (std::size_t i = 0; i < visits; ++i) {
        const double u = 0.05 + 0.05 * static_cast<double>(i % 3);
        fractions.push_back(
            {dates[i], 2.0 + 0.6 * years_between(dates[0], dates[i]) + u * normal(random), u});
      }
      const GrowthRate rate = growth_rate(fractions);
      held += std::abs(rate.line.slope - 0.6) <= rate.rate_u95 ? 1 : 0;
    }
    CAPTURE(visits);
    const double held_pct = 100.0 * held / kSeries;
    CHECK(held_pct >= 93.8);
    CHECK(held_pct <= (visits == 2 ? 96.2 : 98.0));
  }
}
