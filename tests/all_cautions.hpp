#pragma once

#include "corefleck/caution.hpp"

#include <string_view>
#include <vector>

namespace corefleck::testing {

/// Scripts filter the `cautions` column by these names: one that is written here stays. A kind that is
/// missing does not compile (-Wswitch), so that no test passes it over.
constexpr std::string_view stable_name(CautionKind kind) {
  switch (kind) {
    case CautionKind::card_clipped:
      return "card_clipped";
    case CautionKind::card_too_dark:
      return "card_too_dark";
    case CautionKind::card_uneven:
      return "card_uneven";
    case CautionKind::card_small:
      return "card_small";
    case CautionKind::no_card:
      return "no_card";
    case CautionKind::face_clipped:
      return "face_clipped";
    case CautionKind::light_uneven:
      return "light_uneven";
    case CautionKind::strong_tilt:
      return "strong_tilt";
    case CautionKind::out_of_focus:
      return "out_of_focus";
    case CautionKind::spots_barely_resolved:
      return "spots_barely_resolved";
    case CautionKind::diameter_off_nominal:
      return "diameter_off_nominal";
    case CautionKind::few_bar_edges:
      return "few_bar_edges";
    case CautionKind::bar_irregular:
      return "bar_irregular";
    case CautionKind::much_glare:
      return "much_glare";
    case CautionKind::strong_cast:
      return "strong_cast";
    case CautionKind::face_cut_by_frame:
      return "face_cut_by_frame";
    case CautionKind::rim_incomplete:
      return "rim_incomplete";
    case CautionKind::faint_regions:
      return "faint_regions";
    case CautionKind::edited:
      return "edited";
    case CautionKind::card_unlike_bar:
      return "card_unlike_bar";
    case CautionKind::card_lit_otherwise:
      return "card_lit_otherwise";
    case CautionKind::reflections_possible:
      return "reflections_possible";
  }
  return {};
}

[[nodiscard]] inline std::vector<CautionKind> all_cautions() {
  std::vector<CautionKind> kinds;
  for (int i = 0; !stable_name(static_cast<CautionKind>(i)).empty(); ++i)
    kinds.push_back(static_cast<CautionKind>(i));
  return kinds;
}

}  // namespace corefleck::testing
