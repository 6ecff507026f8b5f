#include "corefleck/quantity.hpp"

#include "corefleck/estimate.hpp"

#include <catch2/catch.hpp>

#include <concepts>
#include <numbers>

using Catch::Matchers::WithinRel;
using namespace corefleck;

namespace {

template <class A, class B>
concept Addable = requires(A a, B b) {
  a + b;
};
template <class A, class B>
concept Comparable = requires(A a, B b) {
  a < b;
};

}  // namespace

TEST_CASE("quantity: lengths add, scale and divide like numbers", "[foundation]") {
  CHECK((Millimetres{2.0} + Millimetres{0.5}).number() == 2.5);
  CHECK((Millimetres{2.0} - Millimetres{0.5}).number() == 1.5);
  CHECK((3.0 * Millimetres{2.0}).number() == 6.0);
  CHECK((Millimetres{6.0} / 4.0).number() == 1.5);
  CHECK(Millimetres{6.0} / Millimetres{4.0} == 1.5);
  CHECK(Millimetres{}.number() == 0.0);
  CHECK(Millimetres{1.0} < Millimetres{2.0});
  CHECK(Millimetres{2.0} == Millimetres{2.0});
}

// By hand: 412 px at 0.05 mm per px are 20.6 mm; back again.
TEST_CASE("quantity: pixels become millimetres through the scale only", "[foundation]") {
  CHECK_THAT((Pixels{412.0} * MmPerPx{0.05}).number(), WithinRel(20.6, 1e-15));
  CHECK_THAT((Millimetres{20.6} / MmPerPx{0.05}).number(), WithinRel(412.0, 1e-15));
  CHECK((Millimetres{4.0} * Millimetres{2.5}).number() == 10.0);
}

TEST_CASE("quantity: what has no meaning does not compile", "[foundation]") {
  STATIC_REQUIRE(Addable<Millimetres, Millimetres>);
  STATIC_REQUIRE_FALSE(Addable<Millimetres, Pixels>);
  STATIC_REQUIRE_FALSE(Addable<Millimetres, SquareMillimetres>);
  STATIC_REQUIRE_FALSE(Addable<Millimetres, double>);
  STATIC_REQUIRE_FALSE(Comparable<Millimetres, Pixels>);
  STATIC_REQUIRE_FALSE(std::convertible_to<double, Millimetres>);
  STATIC_REQUIRE_FALSE(std::convertible_to<Millimetres, double>);
}

// ISO 9276-6, area-equivalent diameter. By hand: a disc of diameter D has pi D^2 / 4, so ECD = D; a square of
// side a has ECD = a sqrt(4 / pi) = 1.128379 a. A 3.5 in core, 88.9 mm, has 6207.2 mm2 (1 in = 25.4 mm
// exactly).
TEST_CASE("quantity: equivalent circular diameter of a disc, a square and a three and a half inch core",
          "[foundation]") {
  CHECK_THAT(equivalent_circular_diameter(SquareMillimetres{std::numbers::pi / 4.0 * 9.0}).number(),
             WithinRel(3.0, 1e-14));
  CHECK_THAT(equivalent_circular_diameter(SquareMillimetres{4.0}).number(), WithinRel(2.0 * 1.128379, 1e-6));
  CHECK_THAT(equivalent_circular_diameter(SquareMillimetres{6207.2}).number(), WithinRel(88.9, 1e-5));
  CHECK(equivalent_circular_diameter(SquareMillimetres{0.0}).number() == 0.0);
}

// JCGM 100:2008, table G.2, infinite degrees of freedom: 1.960.
TEST_CASE("estimate: the coverage factor of 95 % is that of the normal distribution", "[foundation]") {
  CHECK(std::abs(kCoverage95 - 1.960) < 0.0005);
}
