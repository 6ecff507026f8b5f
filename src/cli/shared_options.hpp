#pragma once

#include "corefleck/calibration.hpp"
#include "corefleck/edits.hpp"
#include "corefleck/measurement.hpp"
#include "corefleck/photo.hpp"
#include "corefleck/segmentation.hpp"

#include <array>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace corefleck {

/// What every photo command takes, with its defaults.
struct SharedOptions {
  CalibrationSettings calibration;  ///< its `flat_frame` is read later, from the path below
  std::filesystem::path flat_frame;
  std::vector<std::filesystem::path> edits_files;
  std::shared_ptr<const Edits> edits;  ///< read later: of those files, the one that was made for this photo
  FaceState state = FaceState::unknown;
  Millimetres min_spot{0.5};
  SizeClasses size_classes = SizeClasses::sqrt2;
  PhotoLimits limits;
  int jobs = 0;  ///< photos at a time; 0: all cores
  bool json = false;
  bool quiet = false;
  /// Neither figures for reading nor progress are to be shown.
  [[nodiscard]] bool silent() const { return quiet || json; }
};

/// A value as typed, before it is known to be possible.
using OptionValue = std::variant<bool, std::vector<double>, std::string>;

/// `paths` may be given again, and each adds one.
enum class OptionKind { flag, number, whole_number, numbers, text, path, paths };

struct Range {
  double low;
  bool low_allowed;
  double high;
};

/// One option, said once for the command line, the set-up file, --help and the record.
struct OptionSpec {
  std::string_view name;        ///< without dashes; the key in a set-up file
  std::string_view value_name;  ///< in --help; empty for a flag
  std::string_view group;
  std::string_view meaning;  ///< unit and default included
  OptionKind kind;
  Range range;        ///< of each number
  std::size_t count;  ///< of numbers
  /// What is wrong with the value, as "must be ..."; nothing when it was taken.
  std::optional<std::string> (*set)(SharedOptions&, const OptionValue&);
  /// Value in force as JSON; null: does not bear on the figures, and so is not recorded.
  std::string (*json)(const SharedOptions&);
};

[[nodiscard]] std::span<const OptionSpec> shared_option_specs();
[[nodiscard]] const OptionSpec* find_option(std::string_view name);

/// Sets an option from a value of its kind; what is wrong with it as "1.4; must be above 0 and at most 1".
[[nodiscard]] std::optional<std::string> set_option(SharedOptions& options,
                                                    const OptionSpec& spec,
                                                    const OptionValue& value);
/// The same from the words of the command line. '.' is the decimal point whatever the locale.
[[nodiscard]] std::optional<std::string> set_option_from_words(SharedOptions& options,
                                                               const OptionSpec& spec,
                                                               std::string_view words);

/// Options that do not go together; empty when all do.
[[nodiscard]] std::vector<std::string> faults(const SharedOptions& options);

/// Every option in force that bears on the figures, for the record.
[[nodiscard]] std::vector<std::pair<std::string, std::string>> recorded(const SharedOptions& options);

}  // namespace corefleck
