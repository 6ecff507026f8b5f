#include "published_table.hpp"

#include "corefleck/statistics.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <numbers>

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using corefleck::student_t_95;

// JCGM 100:2008, Table G.2, p = 95 %, printed to two decimals.
TEST_CASE("student t: the table of the GUM is met to the printed digits", "[statistics]") {
  for (const auto& row : published_table("t_jcgm100_table_g2.csv"))
    CHECK_THAT(student_t_95(row["nu"]), WithinAbs(row["p95"], 0.005 + 1e-9));
}

// ASTM E562, Table 1: by number of fields, to three decimals.
TEST_CASE("student t: the multipliers by number of fields are met to the printed digits", "[statistics]") {
  for (const auto& row : published_table("t_fields_e562.csv"))
    CHECK_THAT(student_t_95(row["n_fields"] - 1.0), WithinAbs(row["t"], 0.0005 + 1e-9));
}

TEST_CASE("student t: real degrees of freedom agree with a 30-digit computation to 1e-12", "[statistics]") {
  for (const auto& row : published_table("t_real_degrees.csv")) {
    INFO("nu " << row.text("nu"));
    CHECK_THAT(student_t_95(row["nu"]), WithinRel(row["t"], 1e-12));
  }
}

TEST_CASE("student t: closed forms for 1 and 2 degrees of freedom", "[statistics]") {
  // By hand: nu 1 is Cauchy, t = tan(0.95 pi / 2); nu 2 has P = t / sqrt(2 + t^2), t = 0.95 sqrt(2 / (1 -
  // 0.95^2)).
  CHECK_THAT(student_t_95(1.0), WithinRel(std::tan(0.475 * std::numbers::pi), 1e-12));
  CHECK_THAT(student_t_95(2.0), WithinRel(0.95 * std::sqrt(2.0 / (1.0 - 0.9025)), 1e-12));
}

TEST_CASE("student t: falls with every step of the degrees of freedom, to the normal's 1.96",
          "[statistics]") {
  double before = std::numeric_limits<double>::infinity();
  for (double nu = 1.0; nu < 1e9; nu *= 1.01) {
    const double t = student_t_95(nu);
    REQUIRE(t < before + 1e-13);
    before = t;
  }
  CHECK_THAT(student_t_95(std::numeric_limits<double>::infinity()), WithinAbs(1.959963984540054, 1e-15));
}
