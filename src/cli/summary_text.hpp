#pragma once

#include "terminal.hpp"

#include "corefleck/caution.hpp"
#include "corefleck/measurement.hpp"

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace corefleck {

struct ResultFile {
  std::string_view name, what;
};

/// A command's summary for reading, as it grows. What is added ends with a line end.
struct SummaryText {
  std::size_t label_width;  ///< enough for the longest label, so that what they say stands in one column
  std::string text{};

  void add_line(std::string_view label, std::string_view words);
  /// `photo` names the caution's photo where a summary is of several.
  void add_caution(const Caution& caution, std::string_view photo, const Terminal& terminal);
  void add_files(const std::filesystem::path& folder, std::span<const ResultFile> files);
};

/// A value and its half-width to the half-width's second significant digit: "4.31 +/- 0.12".
[[nodiscard]] std::string with_u95(double value, double u95);
/// The same of an estimate.
template <class Q>
[[nodiscard]] std::string with_u95(const Estimate<Q>& estimate) {
  return with_u95(estimate.value.number(), kCoverage95 * estimate.u.number());
}
template <class Q>
[[nodiscard]] std::string with_u95(const std::optional<Estimate<Q>>& estimate) {
  return estimate ? with_u95(*estimate) : "not measured";
}

[[nodiscard]] std::string lightness_words(const std::optional<Lightness>& value);

}  // namespace corefleck
