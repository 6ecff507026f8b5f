#include "corefleck/growth.hpp"

#include <algorithm>

namespace corefleck {
namespace {

std::vector<DatedFraction> dated_fractions(std::span<const VisitFace> visits, std::span<const Date> dates) {
  std::vector<DatedFraction> fractions;
  for (std::size_t i = 0; i < visits.size(); ++i) {
    const FaceMeasurement& figures = visits[i].face.figures;
    fractions.push_back(
        {dates[i], figures.area_fraction.value.number(), u_between_photos_pct(figures, MeasuredArea::own)});
  }
  return fractions;
}

TrackedSpot tracked(const Track& track,
                    const TrackSpot& at,
                    const VisitFace& visit,
                    Date date,
                    const FaceTransform& to_first) {
  const SpotFigures& spot = visit.face.figures_of(at.spot_id);
  const cv::Point2d place = to_first({spot.x_mm, spot.y_mm});
  return {track.id, date, at.spot_id, spot.area, place.x, place.y};
}

}  // namespace

CoreGrowth core_growth(std::span<const VisitFace> visits,
                       std::span<const Date> dates,
                       const VisitChain& chain) {
  const std::vector<Track> tracks = tracks_of(visits, chain);
  std::vector<FaceTransform> to_first;
  for (const FaceTransform& transform : chain.from_first) to_first.push_back(transform.inverse());
  CoreGrowth growth{
      growth_rate(dated_fractions(visits, dates)), {}, 0, growing_tracks(tracks, visits, dates)};
  for (const Track& track : tracks)
    for (const TrackSpot& at : track.spots)
      growth.spots.push_back(tracked(track, at, visits[at.visit], dates[at.visit], to_first[at.visit]));
  growth.new_spots = static_cast<int>(
      std::count_if(tracks.begin(), tracks.end(), [](const Track& track) { return track.fresh; }));
  return growth;
}

}  // namespace corefleck
