#pragma once

#include <tl/expected.hpp>

#include <string>
#include <utility>

namespace corefleck {

/// Why a photo could not be measured, or a file not be read or written. Closed set; tests compare these, not
/// texts.
enum class ErrorCode {
  unreadable_photo,  ///< missing, empty, truncated, not an image, or of a kind that is not read
  photo_too_large,   ///< more megapixels than the stated limit
  face_not_found,
  face_ambiguous,  ///< two candidates equally good
  grey_card_not_found,
  grey_card_ambiguous,
  scale_bar_not_found,
  scale_bar_ambiguous,
  face_not_measurable,  ///< found, but nothing of it is left to measure
  bad_edits,            ///< an edits file that cannot be read, or belongs to another photo or face
  faces_differ,         ///< two photos do not show the same face
  faces_mirrored,       ///< one of two photos is flipped
  bad_setting,          ///< an option or a set-up file says something impossible
  cannot_write,
  bad_list,  ///< a table that a person gave (visits, ...) is wrong somewhere
};

/// what: thing and place; hint: what the user can do about it. Both without a full stop, so that they join in
/// one line.
struct MeasureError {
  ErrorCode code;
  std::string what;
  std::string hint;
};

template <class T>
using Result = tl::expected<T, MeasureError>;

[[nodiscard]] inline tl::unexpected<MeasureError> failure(ErrorCode code,
                                                          std::string what,
                                                          std::string hint) {
  return tl::make_unexpected(MeasureError{code, std::move(what), std::move(hint)});
}

}  // namespace corefleck
