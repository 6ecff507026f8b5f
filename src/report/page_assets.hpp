#pragma once

#include <string_view>

namespace corefleck {

/// A file of src/report/page by its name, as it was when the program was built; empty if there is none.
[[nodiscard]] std::string_view page_asset(std::string_view name);

}  // namespace corefleck
