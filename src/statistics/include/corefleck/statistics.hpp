#pragma once

#include <span>
#include <vector>

namespace corefleck {

/// statistics: robust and classical estimates on plain numbers. No image, no file. Each function copies what
/// it sorts.
///   Every function needs at least one value, where it does not say two; an empty span is a bug of the caller
///   (assert).

[[nodiscard]] double mean(std::span<const double> values);
/// Standard deviation with n - 1; at least two values.
[[nodiscard]] double standard_deviation(std::span<const double> values);
[[nodiscard]] double median(std::span<const double> values);
/// 1.4826 x median absolute deviation from the median: the standard deviation of a normal sample, deaf to
/// outliers.
[[nodiscard]] double robust_deviation(std::span<const double> values);

/// Two-sided 95 % factor of Student's t, any real degrees of freedom >= 1, infinity among them (JCGM
/// 100:2008, table G.2). Relative error below 1e-12.
[[nodiscard]] double student_t_95(double degrees_of_freedom);

/// Coverage factor at which `count` independent figures all stay inside their intervals with 95 % (Sidak
/// 1967); of one figure, that of a single one.
[[nodiscard]] double simultaneous_factor_95(int count);

/// Value below which `percent` of the number-weighted cumulative distribution lies (ISO 9276-1 undersize
/// curve): the k-th of n sorted values stands at 100 (k - 1/2) / n, straight lines between, constant outside.
[[nodiscard]] double number_percentile(std::span<const double> values, double percent);

/// Scale of an exponential distribution that is cut off at `width`, by the mean of a sample of it: the
/// maximum of its likelihood ([Deemer1955], from memory). Infinite where
/// the mean is that of an even spread, half the width, or beyond. Needs 0 < mean and 0 < width.
[[nodiscard]] double cut_exponential_scale(double mean, double width);

/// Root sum of squares of independent contributions (JCGM 100:2008 eq. 10). Of none it is 0.
[[nodiscard]] double root_sum_of_squares(std::span<const double> contributions);

/// Mean over fields with its 95 % interval and relative accuracy (ASTM E562).
struct FieldMean {
  double mean, standard_deviation;
  double interval_95;            ///< half-width: t s / sqrt n
  double relative_accuracy_pct;  ///< 100 interval_95 / |mean|; infinite where the mean is 0
};
/// At least two fields.
[[nodiscard]] FieldMean mean_over_fields(std::span<const double> fields);

/// A value y at x with the standard uncertainty of y; x is taken as exact.
struct LinePoint {
  double x, y, u;
};

/// Straight line through weighted points, kept about their centroid, where level and slope are uncorrelated.
struct FittedLine {
  double x_mean = 0.0, y_mean = 0.0;   ///< weighted centroid, through which the line runs
  double slope = 0.0;                  ///< y per x
  double u_mean = 0.0, u_slope = 0.0;  ///< standard uncertainties that follow from the points' own u alone
  double chi_squared = 0.0;            ///< sum of (residual / u)^2
  int degrees_of_freedom = 0;          ///< n - 2

  [[nodiscard]] double at(double x) const;
  /// Standard uncertainty of the line at x, from the points' own u.
  [[nodiscard]] double u_at(double x) const;
  /// sqrt(chi_squared / (n - 2)): how much wider than their u the points scatter about the line. With equal u
  /// of 1 it is the residual standard deviation, and u_slope times it the classical one of the slope. Needs
  /// three points.
  [[nodiscard]] double scatter() const;
};

/// Weighted least squares, weights 1 / u^2. At least two points, every u above 0, at least two different x.
[[nodiscard]] FittedLine fitted_line(std::span<const LinePoint> points);

}  // namespace corefleck
