#pragma once

#include "photo_batch.hpp"

#include "corefleck/growth_report.hpp"

#include <functional>
#include <string>
#include <vector>

namespace corefleck {

/// What became of one core: its report, the outcome of each listed visit in the order of their dates, and
/// what went wrong with some of them, in lines for the user.
struct TrackedCore {
  CoreReport report;
  std::vector<Date> dates;
  std::vector<PhotoOutcome> outcomes;  ///< their faces are released
  std::vector<std::string> complaints;
};

/// Measures the visits of one core, lays each onto an earlier one, and makes its growth of those that could
/// be used. `photos` belong to the visits; `measured` is called after each photo.
[[nodiscard]] TrackedCore track_core(const CoreVisits& core,
                                     const std::string& plot_name,
                                     std::span<const BatchPhoto> photos,
                                     int jobs,
                                     const std::function<void()>& measured);

}  // namespace corefleck
