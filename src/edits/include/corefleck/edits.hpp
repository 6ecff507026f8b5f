#pragma once

#include "corefleck/segmentation.hpp"

#include <opencv2/core.hpp>

#include <string>
#include <string_view>
#include <vector>

namespace corefleck {

/// edits: a person's corrections to a spot map, each with a reason and initials.
///   in     the text of an edits file; a SpotMap as segmentation gave it
///   out    the SpotMap after the edits, and what became of each
///   fails  bad_edits: not the format, a reason or initials missing, an edit that does not fit this face
///   Calibration, light, thresholds and every outline that is not touched stay as they were found. Nothing
///   here is estimated: which pixels an outline holds is decided in whole numbers, so that the report's page,
///   which does the same sums, comes to the same pixels. Reads no file.

enum class EditKind {
  strike,   ///< a spot is not counted; its pixels are matrix
  restore,  ///< takes an earlier strike back
  add,      ///< a spot by its drawn outline
  exclude,  ///< an area that is not measured
};

/// One correction. Coordinates are the face's: mm from its centre, x right, y up.
struct Edit {
  EditKind kind;
  std::string reason, initials;
  std::string at;                       ///< when, ISO 8601, as the file says; may be empty
  int spot_id = 0;                      ///< of strike and restore: as measured without edits
  cv::Point2d place_mm;                 ///< of that spot, as a check that it is the spot that was meant
  std::vector<cv::Point2d> outline_mm;  ///< of add and exclude
};

struct Edits {
  std::string file;          ///< where they were read, for messages
  std::string photo_sha256;  ///< the photo that they belong to
  /// Of the face that they were drawn on: other options of scale or place make other coordinates.
  double mm_per_px = 0.0;
  int grid_size_px = 0;
  std::vector<Edit> list;  ///< in the order in which they were made
};

/// What one edit did.
struct EditOutcome {
  std::vector<int> spot_ids;  ///< struck, restored, added; of an exclusion: cut or left out by it
  double area_px;             ///< of the spot, or newly left out of the measured area
};

/// Nobody follows an edge by hand better than this, all along in one sense: an assumption, no source.
inline constexpr Millimetres kDrawnEdge{0.05};
/// A drawn outline's corners are rounded to this part of a pixel, so that which pixels it holds is told in
/// whole numbers.
inline constexpr int kPartsOfPixel = 256;

struct EditedMap {
  SpotMap spots;
  std::vector<EditOutcome> outcomes;  ///< one an edit, in their order
};

/// The name that stands in the file: "strike".
[[nodiscard]] std::string_view name(EditKind kind);

/// Reads the text of an edits file; `file` names it in messages, which say place and remedy in one line.
[[nodiscard]] Result<Edits> parse_edits(std::string_view text, const std::string& file);

/// Whether the edits were made on this photo.
[[nodiscard]] Result<void> belongs_to(const Edits& edits, const std::string& photo_sha256);

/// Applies strikes and restores, then added spots, then exclusions, each kind in the order of the list.
///   A struck spot keeps its number, which goes to no other; added ones follow the largest number.
///   An added spot has those pixels inside its outline that are measured and belong to no other spot.
///   A spot that an exclusion cuts keeps the area left, by pixels; when that is smaller than `min_spot` it is
///   left out of the measured area as a whole. A pit whose middle is left out is not counted.
[[nodiscard]] Result<EditedMap> with_edits(const CalibratedFace& face,
                                           const SpotMap& found,
                                           const Edits& edits,
                                           Millimetres min_spot);

}  // namespace corefleck
