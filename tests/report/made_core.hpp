#pragma once

#include "corefleck/growth_report.hpp"

#include <string>
#include <vector>

namespace corefleck::testing {

struct MadeVisit {
  const char* date;
  double fraction_pct, u_pct;
};

/// A core with these visits and one track, without any face.
[[nodiscard]] CoreReport made_core(const std::string& name, const std::vector<MadeVisit>& made);

inline const std::vector<MadeVisit> kFourVisits{{"2025-03-04", 1.92, 0.03},
                                                {"2025-09-11", 2.05, 0.03},
                                                {"2026-02-20", 2.31, 0.04},
                                                {"2026-09-02", 2.44, 0.03}};

}  // namespace corefleck::testing
