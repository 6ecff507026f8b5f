#pragma once

#include "face_frame.hpp"
#include "plate_style.hpp"

#include "corefleck/comparison.hpp"

#include <array>
#include <string_view>

namespace corefleck {

/// The kinds in the order of the key.
inline constexpr std::array kKindsShown{ChangeKind::fresh,
                                        ChangeKind::grown,
                                        ChangeKind::steady,
                                        ChangeKind::shrunk,
                                        ChangeKind::gone,
                                        ChangeKind::merged,
                                        ChangeKind::split,
                                        ChangeKind::unclear,
                                        ChangeKind::unmeasured};

/// Words of the key.
[[nodiscard]] std::string_view kind_words(ChangeKind kind);

/// Outlines before and after, each kind by its own lines and sign, numbered by row of changes.csv where
/// something changed. Kinds differ in line, filling and sign, so that none needs a colour to be told apart.
void draw_changes(cairo_t* cairo,
                  const FaceFrame& frame,
                  const FaceChanges& changes,
                  const SpotMap& before,
                  const SpotMap& after_laid);

/// The kind's mark in a box of 100 x 40 pixels, for the key.
void draw_key_mark(cairo_t* cairo, ChangeKind kind, double x, double y);

}  // namespace corefleck
