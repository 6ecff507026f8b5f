#include "drawn_photo.hpp"

#include "corefleck/growth.hpp"

#include <catch2/catch.hpp>

#include <deque>
#include <numbers>
#include <vector>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

/// Faces drawn on their own grids and measured, as if they had been photographed at several visits.
class DrawnVisits {
 public:
  /// Spots as x, y and radius in mm; the face lies turned by so many quarter turns counterclockwise.
  struct Disc {
    double x_mm, y_mm, radius_mm;
  };
  void add(const std::vector<Disc>& discs, int quarter_turns = 0) {
    DrawnFace drawn;
    drawn.seed = static_cast<unsigned>(faces_.size()) + 1;
    const double centre = 0.5 * (drawn.size_px - 1);
    for (const Disc& disc : discs) {
      double x = disc.x_mm, y = disc.y_mm;
      for (int turn = 0; turn < quarter_turns; ++turn) {
        const double turned_x = -y;
        y = x;
        x = turned_x;
      }
      drawn.spots.push_back(
          {centre + x / drawn.pitch_mm, centre - y / drawn.pitch_mm, disc.radius_mm / drawn.pitch_mm, 0.5});
    }
    Face& face = faces_.emplace_back();
    face.calibrated = calibrated_face(drawn);
    face.map = *find_spots(face.calibrated, {});
    face.figures = measure(face.calibrated, face.map, {});
    FaceTransform turn;
    const double angle = 0.5 * std::numbers::pi * quarter_turns;
    turn.linear = {std::cos(angle), -std::sin(angle), std::sin(angle), std::cos(angle)};
    turns_.push_back(turn);
  }

  [[nodiscard]] std::vector<VisitFace> visits() const {
    std::vector<VisitFace> list;
    for (const Face& face : faces_) list.push_back({{face.calibrated, face.map, face.figures}, face.detail});
    return list;
  }

  /// As drawn, not as found: registration has its own tests.
  [[nodiscard]] VisitChain chain() const {
    VisitChain chain;
    for (std::size_t i = 0; i < turns_.size(); ++i) {
      chain.from_first.push_back(turns_[i]);
      if (i == 0) {
        chain.links.emplace_back();
        continue;
      }
      Registration registration{};
      const FaceTransform back = turns_[i - 1].inverse();
      registration.first_to_second.linear = turns_[i].linear * back.linear;
      chain.links.push_back(VisitLink{i - 1, registration});
    }
    return chain;
  }

  [[nodiscard]] std::vector<Track> tracks() const { return tracks_of(visits(), chain()); }

 private:
  struct Face {
    CalibratedFace calibrated;
    SpotMap map;
    FaceMeasurement figures{};
    FaceDetail detail{};
  };
  std::deque<Face> faces_;
  std::vector<FaceTransform> turns_;
};

/// Visit numbers of a track's spots, in order: "0 1 1 2".
std::string visits_of_track(const Track& track) {
  std::string text;
  for (const TrackSpot& spot : track.spots) {
    if (!text.empty()) text += ' ';
    text += std::to_string(spot.visit);
  }
  return text;
}

const std::vector<Date> kDates{*date_of("2025-01-10"), *date_of("2025-07-10"), *date_of("2026-01-10")};

}  // namespace

TEST_CASE("tracks: a spot keeps its track whatever its number and however the core lies", "[growth]") {
  DrawnVisits drawn;
  drawn.add({{-10.0, 4.0, 1.5}, {8.0, 9.0, 1.2}});
  drawn.add({{-10.0, 4.0, 1.5}, {8.0, 9.0, 1.8}}, 1);  // now the second is the largest, and number 1
  drawn.add({{-10.0, 4.0, 1.5}, {8.0, 9.0, 2.4}}, 3);
  const auto tracks = drawn.tracks();
  REQUIRE(tracks.size() == 2);
  CHECK(tracks[0].id == 1);
  CHECK(visits_of_track(tracks[0]) == "0 1 2");
  CHECK(tracks[0].spots[0].spot_id == 1);
  CHECK(tracks[0].spots[1].spot_id == 2);
  CHECK(tracks[1].spots[1].spot_id == 1);
  CHECK(growing_tracks(tracks, drawn.visits(), kDates) == 1);
}

TEST_CASE("tracks: spots that merge are one track from the start, and so are those of one that split",
          "[growth]") {
  DrawnVisits drawn;
  drawn.add({{-3.0, 0.0, 1.5}, {1.0, 0.0, 1.5}, {10.0, 10.0, 2.0}});
  drawn.add({{-3.0, 0.0, 1.5}, {1.0, 0.0, 1.5}, {10.0, 10.0, 2.0}});
  drawn.add({{-2.4, 0.0, 2.0}, {-1.0, 0.0, 2.0}, {0.4, 0.0, 2.0}, {10.0, 10.0, 2.0}});
  const auto tracks = drawn.tracks();
  REQUIRE(tracks.size() == 2);
  const Track& merged = tracks[0].spots.size() == 5 ? tracks[0] : tracks[1];
  CHECK(visits_of_track(merged) == "0 0 1 1 2");
  const auto areas = areas_of(merged, drawn.visits());
  REQUIRE(areas.size() == 3);
  // By hand: two discs of 1.5 mm, 14.14 mm2.
  CHECK(areas[0].area.value.number() == Approx(2.0 * std::numbers::pi * 1.5 * 1.5).epsilon(0.02));
  CHECK(areas[0].area.u.number() > 0.0);
}

TEST_CASE("tracks: what the visit before did not show begins a track and is new", "[growth]") {
  DrawnVisits drawn;
  drawn.add({{-10.0, 4.0, 1.5}});
  drawn.add({{-10.0, 4.0, 1.5}, {8.0, 9.0, 1.0}});
  drawn.add({{-10.0, 4.0, 1.5}, {8.0, 9.0, 1.0}, {0.0, -12.0, 1.0}});
  const auto tracks = drawn.tracks();
  REQUIRE(tracks.size() == 3);
  CHECK(!tracks[0].fresh);
  CHECK(tracks[1].fresh);
  CHECK(visits_of_track(tracks[1]) == "1 2");
  CHECK(tracks[2].fresh);
  CHECK(growing_tracks(tracks, drawn.visits(), kDates) == 0);
}

TEST_CASE("tracks: a spot that one visit does not show is the same spot when it is back, and not new",
          "[growth]") {
  DrawnVisits drawn;
  drawn.add({{-10.0, 4.0, 1.5}, {8.0, 9.0, 1.2}});
  drawn.add({{-10.0, 4.0, 1.5}});
  drawn.add({{-10.0, 4.0, 1.5}, {8.0, 9.0, 1.2}});
  const auto tracks = drawn.tracks();
  REQUIRE(tracks.size() == 2);
  CHECK(visits_of_track(tracks[1]) == "0 2");
  CHECK(!tracks[1].fresh);
}

TEST_CASE("composed: one transform after the other takes every place where both take it", "[growth]") {
  FaceTransform first, then;
  first.linear = {0.8, -0.6, 0.6, 0.8};
  first.shift_mm = {1.5, -0.7};
  first.nearness_per_mm = {2e-4, -1e-4};
  then.linear = {0.0, 1.01, -0.99, 0.0};
  then.shift_mm = {-0.3, 0.2};
  then.nearness_per_mm = {-1e-4, 3e-4};
  const FaceTransform both = composed(first, then);
  for (const cv::Point2d place :
       {cv::Point2d(0.0, 0.0), cv::Point2d(40.0, -11.0), cv::Point2d(-23.0, 31.0)}) {
    const cv::Point2d expected = then(first(place)), found = both(place);
    CHECK(found.x == Approx(expected.x));
    CHECK(found.y == Approx(expected.y));
  }
}

TEST_CASE("tracks: faces without spots have none", "[growth]") {
  DrawnVisits drawn;
  drawn.add({});
  drawn.add({});
  CHECK(drawn.tracks().empty());
  CHECK(growing_tracks(drawn.tracks(), drawn.visits(), kDates) == 0);
}
