#pragma once

#include "measure_photo.hpp"

#include <functional>
#include <span>

namespace corefleck {

/// A photo of a run, with the options that hold for it.
struct BatchPhoto {
  PhotoTask task;
  const SharedOptions* options;
};

/// Measures photos several at a time: `jobs` of them, 0 = all cores. `take` gets each outcome with its index,
/// from any thread and in any order.
void measure_photos(std::span<const BatchPhoto> photos,
                    int jobs,
                    Keep keep,
                    const std::function<void(std::size_t, PhotoOutcome)>& take);

}  // namespace corefleck
