#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace corefleck {

/// Why a measured figure deserves a second look. Measured with doubt: caution. Not measurable: MeasureError.
enum class CautionKind {
  card_clipped,
  card_too_dark,
  card_uneven,
  card_small,
  no_card,
  face_clipped,
  light_uneven,
  strong_tilt,
  out_of_focus,
  spots_barely_resolved,
  diameter_off_nominal,
  few_bar_edges,
  bar_irregular,
  much_glare,
  strong_cast,
  face_cut_by_frame,
  rim_incomplete,
  faint_regions,
  edited,
  card_unlike_bar,
  card_lit_otherwise,
  reflections_possible,
};

/// A caution as it was raised: the kind, and the figure that raised it in words ("tilt 7.2 deg").
struct Caution {
  CautionKind kind;
  std::string detail;
};

/// Short stable name, used in the `cautions` column: "light_uneven".
[[nodiscard]] std::string_view name(CautionKind kind);
/// One sentence saying what is doubtful, without the detail.
[[nodiscard]] std::string_view meaning(CautionKind kind);
/// One sentence saying what the user can do about it.
[[nodiscard]] std::string_view remedy(CautionKind kind);

}  // namespace corefleck
