#include "corefleck/statistics.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace corefleck {
namespace {

double median_of_own(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  if (values.size() % 2 == 1) return *middle;
  const double below = *std::max_element(values.begin(), middle);
  return below + (*middle - below) / 2.0;
}

}  // namespace

double median(std::span<const double> values) {
  assert(!values.empty());
  return median_of_own({values.begin(), values.end()});
}

double robust_deviation(std::span<const double> values) {
  assert(!values.empty());
  // 1 / (0.75 quantile of the standard normal): half of a normal sample lies closer to its median than that.
  constexpr double kNormalConsistency = 1.4826;
  const double centre = median(values);
  std::vector<double> deviations;
  deviations.reserve(values.size());
  for (const double value : values) deviations.push_back(std::abs(value - centre));
  return kNormalConsistency * median_of_own(std::move(deviations));
}

double number_percentile(std::span<const double> values, double percent) {
  assert(!values.empty());
  assert(percent >= 0.0 && percent <= 100.0);
  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  // Rank k stands at 100 (k - 1/2) / n; counted from 0, that is k = n percent/100 - 1/2.
  const double rank = static_cast<double>(sorted.size()) * percent / 100.0 - 0.5;
  if (rank <= 0.0) return sorted.front();
  const auto below = static_cast<std::size_t>(rank);
  if (below + 1 >= sorted.size()) return sorted.back();
  return std::lerp(sorted[below], sorted[below + 1], rank - static_cast<double>(below));
}

}  // namespace corefleck
