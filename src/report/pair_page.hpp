#pragma once

#include "face_frame.hpp"
#include "plate_style.hpp"
#include "size_histogram.hpp"

#include "corefleck/pair_report.hpp"

#include <functional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace corefleck {

/// What the two-photo plates have in common: page, title, foot.

inline constexpr double kPairRight = kPlateWidth - kMargin;
inline constexpr double kPairRuleY = 214.0;

/// Two photos' names and dates, one above the other, and what the plate shows.
void draw_pair_title(cairo_t* cairo,
                     std::string_view heading,
                     const std::pair<std::string_view, const MeasuredFace*>& first,
                     const std::pair<std::string_view, const MeasuredFace*>& second);
/// Gives back the lowest pixel.
[[nodiscard]] double draw_pair_foot(cairo_t* cairo,
                                    double y,
                                    std::string_view note,
                                    const std::string& version);

struct PairFigure {
  std::string label, value, unit, note;
};
/// Figures below each other, as beside the face of overlay.png. Gives back the lower edge.
double draw_pair_figures(cairo_t* cairo, const PageBox& box, const std::vector<PairFigure>& figures);

/// "scales disagree by +6.8 %", or nothing where they agree.
[[nodiscard]] std::string scale_words(const Registration& registration,
                                      const FaceMeasurement& first,
                                      const FaceMeasurement& second);

/// A page drawn by `draw`, which gives back its height, as PNG bytes; `name` for the error.
[[nodiscard]] Result<std::string> page_png(std::string_view name,
                                           const std::function<double(cairo_t*)>& draw);

}  // namespace corefleck
