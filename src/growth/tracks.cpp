#include "corefleck/growth.hpp"

#include <algorithm>
#include <map>
#include <numeric>
#include <set>

namespace corefleck {
namespace {

/// All spots of all visits in one row, joined as they turn out to belong together.
class SpotJoiner {
 public:
  explicit SpotJoiner(std::span<const VisitFace> visits) {
    for (const VisitFace& visit : visits) {
      starts_.push_back(parents_.size());
      parents_.resize(parents_.size() + static_cast<std::size_t>(visit.face.map.largest_id()));
    }
    std::iota(parents_.begin(), parents_.end(), std::size_t{0});
  }
  [[nodiscard]] std::size_t place(std::size_t visit, int id) const {
    return starts_[visit] + static_cast<std::size_t>(id - 1);
  }
  [[nodiscard]] std::size_t root(std::size_t at) const {
    while (parents_[at] != at) at = parents_[at];
    return at;
  }
  /// The earlier one stays the root, so that a root is its track's first spot.
  void join(std::size_t a, std::size_t b) {
    const std::size_t ra = root(a), rb = root(b);
    parents_[std::max(ra, rb)] = std::min(ra, rb);
  }

 private:
  std::vector<std::size_t> starts_, parents_;
};

class Tracker {
 public:
  Tracker(std::span<const VisitFace> visits, const VisitChain& chain)
      : visits_(visits), chain_(chain), joiner_(visits) {}

  std::vector<Track> run() {
    for (std::size_t visit = 1; visit < visits_.size(); ++visit) {
      link(visit);
      look_further_back(visit);
    }
    return gathered();
  }

 private:
  void link(std::size_t visit) {
    const VisitLink& link = *chain_.links[visit];
    linked_.clear();
    const FaceChanges changes =
        compare_faces(visits_[link.earlier].face, visits_[visit].face, link.registration);
    for (const SpotChange& change : changes.changes) {
      join(link.earlier, change.before_ids, visit, change.after_ids);
      if (!change.area_change) {  // cut, or under a mark even where a merger or split is sure
        mark(unmeasured_, link.earlier, change.before_ids);
        mark(unmeasured_, visit, change.after_ids);
      }
      if (change.kind == ChangeKind::fresh) mark(fresh_, visit, change.after_ids);
    }
  }

  /// A spot that one visit does not show, for glare or for want of contrast, is the same spot when it is
  /// back.
  void look_further_back(std::size_t visit) {
    const std::size_t spots = visits_[visit].face.map.spots.size();
    for (std::size_t earlier = chain_.links[visit]->earlier; earlier-- > 0 && linked_.size() < spots;) {
      Registration registration = chain_.links[visit]->registration;
      registration.first_to_second = between(earlier, visit);
      const SpotMatches matches = match_spots(visits_[earlier].face, visits_[visit].face, registration);
      for (const SpotGroup& group : matches.groups)
        if (std::none_of(group.second_ids.begin(), group.second_ids.end(), [&](int id) {
              return linked_.contains(id);
            }))
          join(earlier, group.first_ids, visit, group.second_ids);
    }
  }

  [[nodiscard]] FaceTransform between(std::size_t from, std::size_t to) const {
    return composed(chain_.from_first[from].inverse(), chain_.from_first[to]);
  }

  void join(std::size_t earlier,
            const std::vector<int>& before,
            std::size_t visit,
            const std::vector<int>& after) {
    if (before.empty() || after.empty()) return;
    const std::size_t first = joiner_.place(earlier, before.front());
    for (const int id : before) joiner_.join(first, joiner_.place(earlier, id));
    for (const int id : after) {
      joiner_.join(first, joiner_.place(visit, id));
      linked_.insert(id);
    }
  }

  void mark(std::set<std::size_t>& places, std::size_t visit, const std::vector<int>& ids) {
    for (const int id : ids) places.insert(joiner_.place(visit, id));
  }

  std::vector<Track> gathered() {
    std::map<std::size_t, Track> by_root;  // roots are in the order of visit, then id
    for (std::size_t visit = 0; visit < visits_.size(); ++visit)
      for (const Region& spot : visits_[visit].face.map.spots) {
        const std::size_t place = joiner_.place(visit, spot.id);
        const std::size_t root = joiner_.root(place);
        Track& track = by_root.try_emplace(root, Track{0, {}, true, fresh_.contains(root)}).first->second;
        track.spots.push_back({visit, spot.id});
        if (unmeasured_.contains(place)) track.measurable = false;
      }
    std::vector<Track> tracks;
    for (auto& [root, track] : by_root) {
      track.id = static_cast<int>(tracks.size()) + 1;
      track.fresh = track.fresh && track.measurable;
      tracks.push_back(std::move(track));
    }
    return tracks;
  }

  std::span<const VisitFace> visits_;
  const VisitChain& chain_;
  SpotJoiner joiner_;
  std::set<int> linked_;  // spots of the visit at hand
  std::set<std::size_t> unmeasured_, fresh_;
};

}  // namespace

std::vector<Track> tracks_of(std::span<const VisitFace> visits, const VisitChain& chain) {
  return Tracker(visits, chain).run();
}

std::vector<TrackArea> areas_of(const Track& track, std::span<const VisitFace> visits) {
  std::vector<TrackArea> areas;
  for (const TrackSpot& spot : track.spots) {
    const SpotFigures& figures = visits[spot.visit].face.figures_of(spot.spot_id);
    if (areas.empty() || areas.back().visit != spot.visit) {
      areas.push_back({spot.visit, figures.area});
      continue;
    }
    areas.back().area.value = areas.back().area.value + figures.area.value;
    areas.back().area.u = areas.back().area.u + figures.area.u;
  }
  return areas;
}

int growing_tracks(std::span<const Track> tracks,
                   std::span<const VisitFace> visits,
                   std::span<const Date> dates) {
  std::vector<FittedLine> lines;
  for (const Track& track : tracks) {
    if (!track.measurable) continue;
    std::vector<LinePoint> points;
    for (const TrackArea& area : areas_of(track, visits))
      points.push_back(
          {years_between(dates.front(), dates[area.visit]), area.area.value.number(), area.area.u.number()});
    if (points.size() >= 2) lines.push_back(fitted_line(points));
  }
  const double factor = simultaneous_factor_95(static_cast<int>(lines.size()));
  return static_cast<int>(std::count_if(lines.begin(), lines.end(), [factor](const FittedLine& line) {
    const double widening = line.degrees_of_freedom > 0 ? std::max(1.0, line.scatter()) : 1.0;
    return line.slope > factor * widening * line.u_slope;
  }));
}

}  // namespace corefleck
