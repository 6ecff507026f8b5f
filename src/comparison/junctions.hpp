#pragma once

#include "corefleck/comparison.hpp"

#include <optional>
#include <vector>

namespace corefleck {

/// Where a spot comes nearest to another of its group.
struct Junction {
  int one, other;  ///< ids
  cv::Point2d mm;  ///< on the photo's own face; along a neck its middle
  double gap_mm;   ///< between the two outlines
};
/// Of each of these spots of one photo, two or more, the one nearest junction; a pair's only once.
[[nodiscard]] std::vector<Junction> junctions_between(const FaceToCompare& photo,
                                                      const std::vector<int>& ids);

/// True if a pit or dark mark of the photo reaches into the gap's mouth: it may be what parts the two. Over a
/// light spot a pencil line is no darker than the matrix, so that it is known by its ends alone.
[[nodiscard]] bool pit_at(const Junction& junction, const FaceToCompare& photo);

/// How much lighter the other photo shows a junction where its spots are one, in parts of the spots' own
/// contrast, both photos seen as blurred as each other. 0 where only the outlines part what is there alike in
/// both, 1 where plain matrix became spot. Nothing where a photo does not measure the place.
///   junction  of two spots of `parted`;  id  the one spot of `joined`
[[nodiscard]] std::optional<double> filled_at(const Junction& junction,
                                              const FaceToCompare& parted,
                                              const FaceToCompare& joined,
                                              int id,
                                              const FaceTransform& parted_to_joined);

}  // namespace corefleck
