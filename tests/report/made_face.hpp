#pragma once

#include "corefleck/report.hpp"

#include <string>

namespace corefleck::testing {

/// A face made up from plain geometry, in the place of everything that the earlier stages do.
struct MadeFace {
  int spots = 5;
  int pits = 3;
  double pitch_mm = 0.05;
  double radius_mm = 37.0;
  std::string photo = "core 07 north.jpg";
  bool card = true;
  bool glare = true;
  std::vector<Caution> cautions{};
};

/// Same input, same face. Every member that a file shows has a value of its own.
[[nodiscard]] MeasuredFace made_face(const MadeFace& wish);
[[nodiscard]] RecordContext made_context();
/// A measurement by hand, without any picture: three spots, two size classes, one budget.
[[nodiscard]] FaceMeasurement made_figures();

}  // namespace corefleck::testing
