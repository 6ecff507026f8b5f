#pragma once

#include "drawn_page.hpp"

#include "corefleck/report.hpp"

#include <string>

namespace corefleck {

/// What the tests switch off to see what it covers.
struct PlateOptions {
  bool numbers = true;
};

/// overlay.png as it is drawn: a page with the rectified face, every spot outlined and numbered, key, scale
/// and figures. Letters: DejaVu Sans (Debian: fonts-dejavu-core), or what fontconfig gives for Sans.
[[nodiscard]] Result<DrawnPage> drawn_plate(const MeasuredFace& measured,
                                            const RecordContext& context,
                                            const PlateOptions& options = {});

/// Its bytes.
[[nodiscard]] Result<std::string> plate_png(const MeasuredFace& measured,
                                            const RecordContext& context,
                                            const PlateOptions& options = {});

}  // namespace corefleck
