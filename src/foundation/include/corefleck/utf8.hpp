#pragma once

#include <string>
#include <string_view>

namespace corefleck {

/// The text with each byte that is not part of well-formed UTF-8 (Unicode 15, table 3-7), and each NUL,
/// replaced by U+FFFD. File names and EXIF texts are bytes of any encoding; the files that are written are
/// UTF-8.
[[nodiscard]] std::string valid_utf8(std::string_view bytes);

}  // namespace corefleck
