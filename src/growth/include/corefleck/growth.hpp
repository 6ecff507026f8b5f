#pragma once

#include "corefleck/comparison.hpp"
#include "corefleck/registration.hpp"
#include "corefleck/statistics.hpp"
#include "corefleck/visits.hpp"

#include <optional>
#include <span>
#include <vector>

namespace corefleck {

/// growth: one core over dated visits.
///   in     area fractions by date, or measured faces by date
///   out    GrowthRate; VisitChain and Tracks
///   fails  faces_differ, faces_mirrored: of a visit that lies on none of the earlier ones
///   Deterministic; reads no file, prints nothing. It says how fast, never why, and nothing of what comes
///   after.

struct DatedFraction {
  Date date;
  double fraction_pct;
  double u_pct;  ///< standard uncertainty as against the other visits (u_between_photos_pct, own area)
};

/// Straight line through the area fractions of one core, weighted by their u.
struct GrowthRate {
  FittedLine line;                ///< % over years since the first visit
  double rate_u95;                ///< half-width of the 95 % interval of line.slope, % per year
  std::optional<double> scatter;  ///< line.scatter(); empty with two visits
  double widening;  ///< by which the visits' own u was multiplied: scatter where it is above 1, else 1
  double last_visit_years;  ///< since the first
  /// Years in which the line gains its own value at the first visit. Only where the rate's interval lies
  /// above 0, and the line above 0 at the first visit. Longer than last_visit_years it goes beyond the data.
  std::optional<double> doubling_time_years;

  /// True where the rate's interval lies above 0.
  [[nodiscard]] bool grows() const { return line.slope > rate_u95; }
  [[nodiscard]] bool shrinks() const { return -line.slope > rate_u95; }
  /// Half-width of the 95 % interval of the line itself, %.
  [[nodiscard]] double line_u95_at(double years) const { return kCoverage95 * widening * line.u_at(years); }
};

/// Two visits or more, by date, every u above 0. The rate's u is that which follows from the visits' own u;
/// where they scatter about the line more than that explains, it is widened by the ratio (R. T. Birge, Phys.
/// Rev. 40 (1932) 207), and never narrowed, since two degrees of freedom say little.
[[nodiscard]] GrowthRate growth_rate(std::span<const DatedFraction> visits);

/// A visit's face. What it refers to outlives it.
struct VisitFace {
  FaceToCompare face;
  const FaceDetail& detail;
};

/// A visit laid onto an earlier one.
struct VisitLink {
  std::size_t earlier;
  Registration registration;  ///< of the earlier face onto this one
};

/// Each visit laid onto the latest one before it on which it lies; all coordinates lead back to the first.
struct VisitChain {
  std::vector<FaceTransform> from_first;        ///< one a visit
  std::vector<std::optional<VisitLink>> links;  ///< one a visit; empty: the first one
};

/// One transform after the other as one.
[[nodiscard]] FaceTransform composed(const FaceTransform& first, const FaceTransform& then);

/// A visit of a list that can be laid onto none before it.
struct LooseVisit {
  std::size_t visit;
  MeasureError error;  ///< of the attempt on the visit just before
};

/// The first visit that does not fit is the failure: whoever asks leaves it out and asks again.
[[nodiscard]] tl::expected<VisitChain, LooseVisit> chain_visits(std::span<const VisitFace> visits);

/// One spot at one visit.
struct TrackSpot {
  std::size_t visit;
  int spot_id;
};

/// Spots of all visits that belong together: one spot as it grows, or several that became one or came of one.
struct Track {
  int id;                        ///< 1, 2, ...: by first visit, then by that visit's smallest spot_id
  std::vector<TrackSpot> spots;  ///< by visit, then by id
  bool measurable;               ///< false: cut by rim band, chip or glare at some visit
  bool fresh;                    ///< began after the first visit, where the visit before showed nothing of it
};

[[nodiscard]] std::vector<Track> tracks_of(std::span<const VisitFace> visits, const VisitChain& chain);

/// Total area of a track at each visit that shows it, with u: of its spots, added up as if they erred
/// together.
struct TrackArea {
  std::size_t visit;
  Estimate<SquareMillimetres> area;
};
[[nodiscard]] std::vector<TrackArea> areas_of(const Track& track, std::span<const VisitFace> visits);

/// Number of measurable tracks, seen at two visits or more, whose area grows by more than chance explains:
/// the weighted slope against date lies above 0 by more than the factor at which all of them together are
/// right with 95 % (Sidak).
[[nodiscard]] int growing_tracks(std::span<const Track> tracks,
                                 std::span<const VisitFace> visits,
                                 std::span<const Date> dates);

/// One spot of one visit as a row of tracks.csv.
struct TrackedSpot {
  int track_id;
  Date date;
  int spot_id;
  Estimate<SquareMillimetres> area;  ///< as measured at that visit
  double x_mm, y_mm;                 ///< in the first visit's face coordinates
};

/// Everything about one core over its visits.
struct CoreGrowth {
  GrowthRate rate;
  std::vector<TrackedSpot> spots;  ///< by track, then by visit
  int new_spots;                   ///< tracks that are fresh
  int spots_growing;               ///< growing_tracks
};

/// `visits` and `dates` belong together, two or more, by date; `chain` is of the same visits.
[[nodiscard]] CoreGrowth core_growth(std::span<const VisitFace> visits,
                                     std::span<const Date> dates,
                                     const VisitChain& chain);

}  // namespace corefleck
