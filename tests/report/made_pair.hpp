#pragma once

#include "corefleck/pair_report.hpp"

#include <string>
#include <utility>
#include <vector>

namespace corefleck::testing {

/// A change of these spots from 4 to 6.5 mm2; the area is empty where there are none.
inline SpotChange change(ChangeKind kind, std::vector<int> before, std::vector<int> after) {
  SpotChange result{};
  result.kind = kind;
  result.before_ids = std::move(before);
  result.after_ids = std::move(after);
  if (!result.before_ids.empty()) result.area_before = SquareMillimetres{4.0};
  if (!result.after_ids.empty()) result.area_after = SquareMillimetres{6.5};
  result.area_change = Estimate<SquareMillimetres>{SquareMillimetres{2.5}, SquareMillimetres{0.1}};
  return result;
}

inline SummaryRow row_of(const MeasuredFace& face, std::string photo) {
  SummaryRow row;
  row.photo = std::move(photo);
  row.figures = face.figures;
  return row;
}

}  // namespace corefleck::testing
