#include "corefleck/statistics.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>

namespace corefleck {

double mean(std::span<const double> values) {
  assert(!values.empty());
  const auto n = static_cast<double>(values.size());
  double sum = 0.0;
  for (const double value : values) sum += value;
  const double first_pass = sum / n;
  // What rounding left behind shows in the residuals, which are small and so sum up exactly enough.
  double residual = 0.0;
  for (const double value : values) residual += value - first_pass;
  return first_pass + residual / n;
}

double standard_deviation(std::span<const double> values) {
  assert(values.size() >= 2);
  // Two passes: the one-pass sum of squares loses all digits when values differ little from their mean
  // (SiRstv).
  const double centre = mean(values);
  double sum_of_squares = 0.0;
  for (const double value : values) sum_of_squares += (value - centre) * (value - centre);
  return std::sqrt(sum_of_squares / static_cast<double>(values.size() - 1));
}

double root_sum_of_squares(std::span<const double> contributions) {
  double sum = 0.0;
  for (const double contribution : contributions) sum += contribution * contribution;
  return std::sqrt(sum);
}

double cut_exponential_scale(double mean, double width) {
  constexpr double kEven = 0.495;  // of the width; beyond, the scale is tens of widths
  if (mean >= kEven * width) return std::numeric_limits<double>::infinity();
  const auto mean_of = [width](double scale) { return scale - width / std::expm1(width / scale); };
  double low = mean, high = 2.0 * mean;  // the cut takes the largest values away
  while (mean_of(high) < mean) high *= 2.0;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (mean_of(middle) < mean ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

double simultaneous_factor_95(int count) {
  const double each = std::pow(0.95, 1.0 / std::max(count, 1));
  double low = 1.9, high = 8.0;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (std::erf(middle / std::sqrt(2.0)) < each ? low : high) = middle;
  }
  return low;
}

FieldMean mean_over_fields(std::span<const double> fields) {
  assert(fields.size() >= 2);
  const auto n = static_cast<double>(fields.size());
  const double m = mean(fields);
  const double s = standard_deviation(fields);
  const double interval = student_t_95(n - 1.0) * s / std::sqrt(n);
  const double accuracy = m == 0.0 ? std::numeric_limits<double>::infinity() : 100.0 * interval / std::abs(m);
  return {m, s, interval, accuracy};
}

}  // namespace corefleck
