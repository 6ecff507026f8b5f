#pragma once

#include <cmath>
#include <compare>

namespace corefleck {

/// A number with a unit that the compiler knows. Made and read explicitly; only meaningful products exist, so
/// that `Pixels + Millimetres` does not compile.
template <class Unit>
class Quantity {
 public:
  constexpr Quantity() = default;
  constexpr explicit Quantity(double number) : number_(number) {}
  [[nodiscard]] constexpr double number() const { return number_; }

  friend constexpr auto operator<=>(Quantity, Quantity) = default;
  friend constexpr Quantity operator+(Quantity a, Quantity b) { return Quantity{a.number_ + b.number_}; }
  friend constexpr Quantity operator-(Quantity a, Quantity b) { return Quantity{a.number_ - b.number_}; }
  friend constexpr Quantity operator*(double factor, Quantity q) { return Quantity{factor * q.number_}; }
  friend constexpr Quantity operator/(Quantity q, double divisor) { return Quantity{q.number_ / divisor}; }
  friend constexpr double operator/(Quantity a, Quantity b) { return a.number_ / b.number_; }

 private:
  double number_ = 0.0;
};

using Millimetres = Quantity<struct MillimetreUnit>;
using SquareMillimetres = Quantity<struct SquareMillimetreUnit>;
using Pixels = Quantity<struct PixelUnit>;
using MmPerPx = Quantity<struct MmPerPxUnit>;
/// CIE 1976 L*, 0 to 100 and above; white = perfect reflecting diffuser.
using Lightness = Quantity<struct LightnessUnit>;

[[nodiscard]] constexpr Millimetres operator*(Pixels length, MmPerPx scale) {
  return Millimetres{length.number() * scale.number()};
}
[[nodiscard]] constexpr Pixels operator/(Millimetres length, MmPerPx scale) {
  return Pixels{length.number() / scale.number()};
}
[[nodiscard]] constexpr SquareMillimetres operator*(Millimetres a, Millimetres b) {
  return SquareMillimetres{a.number() * b.number()};
}

/// Diameter of the disc of that area: ECD = sqrt(4 A / pi) (ISO 9276-6, area-equivalent diameter).
[[nodiscard]] inline Millimetres equivalent_circular_diameter(SquareMillimetres area) {
  return Millimetres{std::sqrt(4.0 * area.number() / 3.14159265358979323846)};
}

}  // namespace corefleck
