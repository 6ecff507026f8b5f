#pragma once

#include "corefleck/error.hpp"

#include <functional>
#include <string>
#include <string_view>

// So that asking for a page needs no Cairo; the name is Cairo's own.
using cairo_t = struct _cairo;  // NOLINT(bugprone-reserved-identifier)

namespace corefleck {

/// What a page is called in an error, what helps then, and how long the paper is: longer than any page needs.
struct Paper {
  std::string_view name, remedy;
  int longest_px;
};

/// A page as wide as every plate, drawn on white by `draw`, which gives back where it ends: there it is cut.
/// PNG bytes; fails with cannot_write.
[[nodiscard]] Result<std::string> drawn_page(const Paper& paper, const std::function<double(cairo_t*)>& draw);

}  // namespace corefleck
