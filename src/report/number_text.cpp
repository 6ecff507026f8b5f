#include "number_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

namespace corefleck {
namespace {

constexpr int kMostDecimals = 9;

int decimals_for(double value, int digits) {
  return std::clamp(digits - 1 - static_cast<int>(std::floor(std::log10(std::abs(value)))), 0, kMostDecimals);
}

}  // namespace

std::string fixed(double value, int decimals) {
  if (!std::isfinite(value)) return {};
  std::string text = fmt::format("{:.{}f}", value, decimals);
  // A small negative rounds to "-0.00", which a reader takes for a sign that was measured.
  if (text.front() == '-' && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
  return text;
}

std::string significant(double value, int digits) {
  if (!std::isfinite(value)) return {};
  if (value == 0.0) return "0";
  return fixed(value, decimals_for(value, digits));
}

ReadingText reading(double value, double u95) {
  if (!(u95 > 0.0) || !std::isfinite(u95)) return {significant(value, 3), {}};
  const int decimals = decimals_for(u95, 2);
  return {fixed(value, decimals), fixed(u95, decimals)};
}

std::optional<double> settled(double value) {
  if (!std::isfinite(value)) return std::nullopt;
  const std::string text = fmt::format("{:.10g}", value);
  double rounded = 0.0;
  std::from_chars(text.data(), text.data() + text.size(), rounded);
  return rounded == 0.0 ? 0.0 : rounded;
}

}  // namespace corefleck
