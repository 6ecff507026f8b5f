#pragma once

#include "corefleck/error.hpp"

#include <opencv2/core.hpp>

#include <functional>
#include <string>
#include <string_view>
#include <utility>

// So that asking for a page needs no Cairo; the name is Cairo's own.
using cairo_t = struct _cairo;  // NOLINT(bugprone-reserved-identifier)

namespace corefleck {

/// What a page is called in an error, what helps then, and how long the paper is: longer than any page needs.
struct Paper {
  std::string_view name, remedy;
  int longest_px;
};

/// A page that is drawn and not packed yet: pixels as Cairo keeps them, CV_8UC4.
class DrawnPage {
 public:
  /// A page as wide as every plate, drawn on white by `draw`, which gives back where it ends: there it is
  /// cut. Fails with cannot_write.
  [[nodiscard]] static Result<DrawnPage> drawn(const Paper& paper,
                                               const std::function<double(cairo_t*)>& draw);
  /// PNG bytes; fails with cannot_write.
  [[nodiscard]] Result<std::string> png() const;

 private:
  explicit DrawnPage(cv::Mat pixels) : pixels_(std::move(pixels)) {}
  cv::Mat pixels_;
};

/// Drawn and packed at once.
[[nodiscard]] Result<std::string> drawn_page(const Paper& paper, const std::function<double(cairo_t*)>& draw);

}  // namespace corefleck
