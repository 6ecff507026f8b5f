#pragma once

#include <string>
#include <string_view>

namespace corefleck {

/// Base64 with padding (RFC 4648, section 4).
[[nodiscard]] std::string base64(std::string_view bytes);

}  // namespace corefleck
