#include "groups.hpp"
#include "junctions.hpp"
#include "light_of_change.hpp"

#include "corefleck/statistics.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <string_view>

namespace corefleck {
namespace {

// A new spot's place showed nothing before if less than this share of its contrast was there; else it was
// there and did not count: too faint or too small then, just not so now. One 0.6 times as wide leaves 0.36.
constexpr double kTrace = 0.35;
// What lay between two spots has become spot where it gained this much of their contrast, seen equally
// blurred in both photos. A gap of matrix as wide as the blur's own sigma gains 0.38 when it is filled, a
// wider one more; a neck that is the same in both gains nothing, however each photo's outline takes it.
constexpr double kFilled = 0.3;

// An area has changed if the light is nearer to what the outlines claim, 1, than to no change, 0. Outlines
// move without the spot where a photo resolves it poorly or where mottle as light as half a spot lies beside
// it: 0.02 and -0.1 on two unchanged cores whose outlines differed by half a spot, 0.84 to 1.8 for 122 spots
// of seven cores that had grown or shrunk.
constexpr double kShown = 0.5;

// Errors of an area have heavier tails than a normal distribution: a spot taken with a bit of its neighbour.
// In 95 of 100 repeated photos of unchanged cores the worst spot is off by less than this many standard
// uncertainties (47 rendered pairs), which Sidak's factor reaches only from 240 spots on.
constexpr double kBeyondDoubt = 3.7;

/// The two photos and where the first lies on the second.
struct Pair {
  const FaceToCompare& before;
  const FaceToCompare& after;
  const Registration& registration;
  const SpotMatches& matches;
};

/// True if the photo that does not list the spot shows a trace of it all the same.
bool leaves_trace(const FaceToCompare& shown,
                  const FaceToCompare& missing,
                  const FaceTransform& transform,
                  const std::vector<int>& ids) {
  return std::any_of(ids.begin(), ids.end(), [&](int id) {
    const Region& spot = shown.map.spot(id);
    const auto there = contrast_inside(shown, spot.outline);
    const auto elsewhere =
        contrast_inside(missing, laid_outline(spot, shown.face.grid, missing.face.grid, transform));
    return !there || !elsewhere || *elsewhere > kTrace * *there;
  });
}

/// False if the outlines differ but the light where they do is the same in both photos.
bool shown_by_light(const Pair& pair, const SpotGroup& group) {
  const auto shown = change_shown_by_light(
      pair.before, group.first_ids, pair.after, group.second_ids, pair.registration.first_to_second);
  return shown.value_or(1.0) >= kShown;
}

SpotChange change_of(const Pair& pair, const SpotGroup& group) {
  SpotChange change{};
  change.before_ids = group.first_ids;
  change.after_ids = group.second_ids;
  double u = 0.0, difference = 0.0;
  if (!group.second_ids.empty()) {
    const SpotSum after = sum_of(pair.after, group.second_ids);
    const cv::Point2d at = pair.registration.first_to_second.inverse()(after.centre_mm);
    const double ratio = std::max(pair.registration.first_to_second.area_ratio(at), 1e-9);
    change.area_after = SquareMillimetres{after.area_mm2 / ratio};
    change.x_mm = at.x;
    change.y_mm = at.y;
    difference += after.area_mm2 / ratio;
    u = std::hypot(u, after.boundary_u_mm2 / ratio);
  }
  if (!group.first_ids.empty()) {
    const SpotSum before = sum_of(pair.before, group.first_ids);
    change.area_before = SquareMillimetres{before.area_mm2};
    change.x_mm = before.centre_mm.x;
    change.y_mm = before.centre_mm.y;
    difference -= before.area_mm2;
    u = std::hypot(u, before.boundary_u_mm2);
  }
  if (group.measurable())
    change.area_change = Estimate<SquareMillimetres>{SquareMillimetres{difference},
                                                     SquareMillimetres{kOwnShareOfBoundary * u}};
  return change;
}

ChangeKind kind_in_one_photo(const Pair& pair, const SpotGroup& group) {
  const FaceTransform& forth = pair.registration.first_to_second;
  if (!group.measurable()) return ChangeKind::unmeasured;
  if (group.first_ids.empty())
    return leaves_trace(pair.after, pair.before, forth.inverse(), group.second_ids) ? ChangeKind::unclear
                                                                                    : ChangeKind::fresh;
  return leaves_trace(pair.before, pair.after, forth, group.first_ids) ? ChangeKind::unclear
                                                                       : ChangeKind::gone;
}

/// One of the two photos, whose spots are parted where the other's are one.
struct Parted {
  const FaceToCompare& photo;
  const FaceToCompare& other;
  const cv::Mat& dark;  ///< what the photo's marks may hide, on the before photo's grid
  FaceTransform to_other, to_before;
};

// A mark takes light away and never adds any: it can part what is one, and join nothing.
bool parted_by_mark(const Parted& parted, const FaceGrid& before, const Junction& junction) {
  const cv::Point2d mm = parted.to_before(junction.mm);
  const double pitch = before.pitch.number();
  const cv::Point at(cvRound(before.centre_px + mm.x / pitch), cvRound(before.centre_px - mm.y / pitch));
  const bool inside = cv::Rect({0, 0}, parted.dark.size()).contains(at);
  return !inside || parted.dark.at<unsigned char>(at) != 0 || pit_at(junction, parted.photo);
}

/// `became` if the other photo shows spot where matrix lies between these; unmeasured if only marks or pits
/// lie between them; nothing if the same lies there in both photos.
std::optional<ChangeKind> kind_by_light(
    const Parted& parted, const FaceGrid& before, const std::vector<int>& ids, int one, ChangeKind became) {
  std::optional<ChangeKind> kind;
  for (const Junction& junction : junctions_between(parted.photo, ids)) {
    const auto filled = filled_at(junction, parted.photo, parted.other, one, parted.to_other);
    if (filled.value_or(0.0) < kFilled) continue;
    if (!parted_by_mark(parted, before, junction)) return became;
    kind = ChangeKind::unmeasured;
  }
  return kind;
}

/// Merged or split, if what lies between the spots changed.
std::optional<ChangeKind> kind_by_junctions(const Pair& pair, const SpotGroup& group) {
  const FaceTransform& forth = pair.registration.first_to_second;
  const FaceGrid& grid = pair.before.face.grid;
  if (group.first_ids.size() > 1)
    return kind_by_light({pair.before, pair.after, pair.matches.dark_before, forth, {}},
                         grid,
                         group.first_ids,
                         group.second_ids.front(),
                         ChangeKind::merged);
  if (group.second_ids.size() > 1)
    return kind_by_light({pair.after, pair.before, pair.matches.dark_after, forth.inverse(), forth.inverse()},
                         grid,
                         group.second_ids,
                         group.first_ids.front(),
                         ChangeKind::split);
  return std::nullopt;
}

ChangeKind kind_by_area(const Pair& pair, const SpotGroup& group, const SpotChange& change, double factor) {
  const double difference = change.area_change->value.number(),
               limit = factor * change.area_change->u.number();
  if (std::abs(difference) <= limit) return ChangeKind::steady;
  const SquareMillimetres hidden = difference > 0.0 ? group.hidden_before : group.hidden_after;
  if (std::abs(difference) - hidden.number() <= limit) return ChangeKind::unmeasured;
  if (group.entangled || !shown_by_light(pair, group)) return ChangeKind::unclear;
  return difference > 0.0 ? ChangeKind::grown : ChangeKind::shrunk;
}

ChangeKind kind_of(const Pair& pair, const SpotGroup& group, const SpotChange& change, double factor) {
  if (group.cut) return ChangeKind::unmeasured;
  if (group.first_ids.empty() || group.second_ids.empty()) return kind_in_one_photo(pair, group);
  if (const auto kind = kind_by_junctions(pair, group)) return *kind;
  if (!group.measurable()) return ChangeKind::unmeasured;
  return kind_by_area(pair, group, change, factor);
}

double spot_area_mm2(const FaceToCompare& photo, const std::vector<double>& shares) {
  double area = 0.0;
  for (std::size_t i = 0; i < shares.size(); ++i) area += shares[i] * photo.map.spots[i].area_px;
  return area * std::pow(photo.face.grid.pitch.number(), 2.0);
}

int spots_inside(const std::vector<double>& shares) {
  return static_cast<int>(
      std::count_if(shares.begin(), shares.end(), [](double share) { return share >= 0.5; }));
}

void sum_up_fractions(const Pair& pair, const SpotMatches& matches, FaceChanges& result) {
  using Percent = Quantity<struct PercentUnit>;
  const double common = std::max(matches.common_area.number(), 1e-9);
  const double ratio = std::max(pair.registration.first_to_second.area_ratio(), 1e-9);
  result.fraction_before = Percent{100.0 * spot_area_mm2(pair.before, matches.first_shares) / common};
  result.fraction_after = Percent{100.0 * spot_area_mm2(pair.after, matches.second_shares) / ratio / common};
  result.fraction_change.value = result.fraction_after - result.fraction_before;
  result.fraction_change.u =
      Percent{std::hypot(u_between_photos_pct(pair.before.figures, MeasuredArea::common),
                         u_between_photos_pct(pair.after.figures, MeasuredArea::common))};
  result.count_before = spots_inside(matches.first_shares);
  result.count_after = spots_inside(matches.second_shares);
}

double size_of(const SpotChange& change) {
  if (change.area_change) return std::abs(change.area_change->value.number());
  return (change.area_before ? *change.area_before : *change.area_after).number();
}

}  // namespace

std::string_view name(ChangeKind kind) {
  constexpr std::array<std::string_view, 9> kNames{
      "new", "grown", "steady", "shrunk", "gone", "merged", "split", "unclear", "unmeasured"};
  return kNames[static_cast<std::size_t>(kind)];
}

int FaceChanges::count(ChangeKind kind) const {
  return static_cast<int>(std::count_if(
      changes.begin(), changes.end(), [kind](const SpotChange& change) { return change.kind == kind; }));
}

FaceChanges compare_faces(const FaceToCompare& before,
                          const FaceToCompare& after,
                          const Registration& registration) {
  const SpotMatches matches = match_spots(before, after, registration);
  const Pair pair{before, after, registration, matches};
  FaceChanges result{};
  result.registration = registration;
  result.common_area = matches.common_area;
  sum_up_fractions(pair, matches, result);
  const auto compared =
      std::count_if(matches.groups.begin(), matches.groups.end(), [](const SpotGroup& group) {
        return group.measurable() && !group.first_ids.empty() && !group.second_ids.empty();
      });
  const double factor = std::max(kBeyondDoubt, simultaneous_factor_95(static_cast<int>(compared)));
  for (const SpotGroup& group : matches.groups) {
    SpotChange change = change_of(pair, group);
    change.kind = kind_of(pair, group, change, factor);
    if (change.kind == ChangeKind::unmeasured) change.area_change.reset();
    result.changes.push_back(std::move(change));
  }
  std::stable_sort(
      result.changes.begin(), result.changes.end(), [](const SpotChange& a, const SpotChange& b) {
        return a.kind != b.kind ? a.kind < b.kind : size_of(a) > size_of(b);
      });
  return result;
}

}  // namespace corefleck
