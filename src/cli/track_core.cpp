#include "track_core.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <exception>

namespace corefleck {
namespace {

std::vector<PhotoOutcome> measured_visits(std::span<const BatchPhoto> photos,
                                          int jobs,
                                          const std::function<void()>& measured) {
  std::vector<PhotoOutcome> outcomes(photos.size());
  measure_photos(photos, jobs, Keep::face, [&](std::size_t index, PhotoOutcome outcome) {
    outcomes[index] = std::move(outcome);
    measured();
  });
  return outcomes;
}

VisitFace visit_face(const PhotoOutcome& outcome) {
  const MeasuredFace& face = outcome.kept->measured;
  return {{face.face, face.spots, face.figures}, outcome.kept->detail};
}

/// Visits that can be used, by their place in the core's list, and how they lie on each other.
struct UsableVisits {
  std::vector<std::size_t> places;
  std::vector<VisitFace> faces;
  VisitChain chain;
};

std::vector<VisitFace> faces_at(const TrackedCore& tracked, const std::vector<std::size_t>& places) {
  std::vector<VisitFace> faces;
  faces.reserve(places.size());
  for (const std::size_t place : places) faces.push_back(visit_face(tracked.outcomes[place]));
  return faces;
}

void leave_out(TrackedCore& tracked, std::size_t place, std::string complaint, std::string reason) {
  tracked.complaints.push_back(std::move(complaint));
  tracked.report.listed[place].left_out = std::move(reason);
}

UsableVisits usable_visits(TrackedCore& tracked) {
  std::vector<std::size_t> places;
  for (std::size_t i = 0; i < tracked.outcomes.size(); ++i) {
    const PhotoOutcome& outcome = tracked.outcomes[i];
    if (outcome.kept)
      places.push_back(i);
    else
      leave_out(tracked, i, fmt::format("{}: {}", outcome.row.photo, outcome.row.reason), outcome.row.reason);
  }
  while (places.size() >= 2) {
    auto faces = faces_at(tracked, places);
    auto chain = chain_visits(faces);
    if (chain) return {std::move(places), std::move(faces), *std::move(chain)};
    const auto loose = places.begin() + static_cast<std::ptrdiff_t>(chain.error().visit);
    const std::string reason = line_of(chain.error().error);
    leave_out(
        tracked,
        *loose,
        fmt::format(
            "{}: left out of core {}: {}", tracked.outcomes[*loose].row.photo, tracked.report.core, reason),
        reason);
    places.erase(loose);
  }
  return {std::move(places), {}, {}};
}

ReportedVisit reported(const TrackedCore& tracked, const UsableVisits& usable, std::size_t visit) {
  const std::size_t place = usable.places[visit];
  const SummaryRow& row = tracked.outcomes[place].row;
  ReportedVisit result{tracked.dates[place],
                       row.photo,
                       row.photo_sha256,
                       row.taken,
                       row.state,
                       row.figures->area_fraction,
                       u_between_photos_pct(*row.figures, MeasuredArea::own),
                       {}};
  if (visit < usable.chain.links.size() && usable.chain.links[visit]) {
    const auto& [earlier, registration] = *usable.chain.links[visit];
    result.link = ReportedVisit::Link{tracked.dates[usable.places[earlier]],
                                      registration.rotation_deg,
                                      registration.residual_mm,
                                      registration.score};
  }
  return result;
}

void find_growth(TrackedCore& tracked) {
  const UsableVisits usable = usable_visits(tracked);
  std::vector<Date> dates;
  for (std::size_t visit = 0; visit < usable.places.size(); ++visit) {
    tracked.report.visits.push_back(reported(tracked, usable, visit));
    dates.push_back(tracked.report.visits.back().date);
  }
  if (usable.places.size() >= 2)
    tracked.report.growth = core_growth(usable.faces, dates, usable.chain);
  else
    tracked.report.reason = fmt::format(
        "{} of {} visits could be used; two are needed", usable.places.size(), tracked.outcomes.size());
}

}  // namespace

TrackedCore track_core(const CoreVisits& core,
                       const std::string& plot_name,
                       std::span<const BatchPhoto> photos,
                       int jobs,
                       const std::function<void()>& measured) {
  TrackedCore tracked{
      {core.core, plot_name, {}, {}, {}, {}}, {}, measured_visits(photos, jobs, measured), {}};
  for (std::size_t i = 0; i < core.visits.size(); ++i) {
    const PhotoOutcome& outcome = tracked.outcomes[i];
    tracked.dates.push_back(core.visits[i].date);
    tracked.report.listed.push_back(
        {core.visits[i].date, outcome.row, outcome.folder.filename().string(), ""});
  }
  try {
    find_growth(tracked);
  } catch (const std::exception& error) {  // a fault of the program in one core must not lose the others
    tracked.report.growth.reset();
    tracked.report.reason =
        fmt::format("internal error: {}; report these photos to the maintainers", error.what());
    tracked.complaints.push_back(fmt::format("core {}: {}", core.core, tracked.report.reason));
  }
  for (PhotoOutcome& outcome : tracked.outcomes) outcome.kept.reset();
  return tracked;
}

}  // namespace corefleck
