#pragma once

#include <optional>
#include <string>

namespace corefleck {

/// Figures as text, with '.' whatever the locale and never "-0". Not finite = not measured = empty.

[[nodiscard]] std::string fixed(double value, int decimals);
/// So many significant digits, never in powers of ten, at most nine decimals; zero is "0".
[[nodiscard]] std::string significant(double value, int digits);

/// A figure and its u95 for reading: u95 to two digits, the figure to the same decimals (JCGM
/// 100:2008, 7.2.6).
struct ReadingText {
  std::string value, u95;
};
[[nodiscard]] ReadingText reading(double value, double u95);

/// The value rounded to ten significant digits: what differs beyond is rounding of one processor or another.
[[nodiscard]] std::optional<double> settled(double value);

}  // namespace corefleck
