#pragma once

#include "corefleck/registration.hpp"
#include "corefleck/report.hpp"

#include <string>

namespace corefleck {

/// Text of comparison.json and wetdry.json: which two photos, and how the first was laid onto the second. All
/// else stands in each photo's own record.json.
[[nodiscard]] std::string pair_record(const MeasuredFace& first,
                                      const MeasuredFace& second,
                                      const Registration& registration,
                                      const RecordContext& context);

}  // namespace corefleck
