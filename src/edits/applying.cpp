#include "pixel_polygon.hpp"

#include "corefleck/edits.hpp"
#include "corefleck/shape.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>

namespace corefleck {
namespace {

constexpr double kSamePlace_mm = 0.05;
constexpr const char* kOtherFigures =
    "measure without --edits, with the same options, and make the edits again in the new report.html";

double disc_area(double diameter) { return 0.25 * CV_PI * diameter * diameter; }

/// The map on its way through the edits.
class Editing {
 public:
  Editing(const CalibratedFace& face, const SpotMap& found, const Edits& edits, Millimetres min_spot)
      : face_(face),
        edits_(edits),
        least_px_(disc_area((min_spot / face.grid.pitch).number())),
        min_spot_(min_spot) {
    map_ = found;  // shares pixels with what was found until they are cloned
    map_.labels = found.labels.clone();
    map_.outside = found.outside.clone();
    outcomes_.resize(edits.list.size());
  }

  Result<EditedMap> run() {
    if (auto done = check_face(); !done) return tl::make_unexpected(done.error());
    if (auto done = strike(); !done) return tl::make_unexpected(done.error());
    if (auto done = add(); !done) return tl::make_unexpected(done.error());
    exclude();
    if (count_measured() <= 0.0)
      return failure(ErrorCode::bad_edits,
                     edits_.file + ": the edits leave nothing of the face to measure",
                     "exclude less");
    if (map_.doubtful_area_px() == 0.0)
      std::erase_if(map_.cautions,
                    [](const Caution& caution) { return caution.kind == CautionKind::reflections_possible; });
    return EditedMap{std::move(map_), std::move(outcomes_)};
  }

 private:
  [[nodiscard]] tl::unexpected<MeasureError> wrong(std::size_t index,
                                                   std::string_view what,
                                                   std::string hint) const {
    return failure(
        ErrorCode::bad_edits, fmt::format("{}: edit {}: {}", edits_.file, index + 1, what), std::move(hint));
  }

  [[nodiscard]] Result<void> check_face() const {
    const double pitch = face_.grid.pitch.number();
    if (edits_.grid_size_px == face_.grid.size_px && std::abs(edits_.mm_per_px / pitch - 1.0) < 1e-6)
      return {};
    return failure(
        ErrorCode::bad_edits,
        fmt::format("{}: made on a face of {} px at {:.6f} mm/px, and this one has {} px at {:.6f} mm/px",
                    edits_.file,
                    edits_.grid_size_px,
                    edits_.mm_per_px,
                    face_.grid.size_px,
                    pitch),
        kOtherFigures);
  }

  Result<void> strike() {
    std::set<int> struck;
    for (std::size_t i = 0; i < edits_.list.size(); ++i) {
      const Edit& edit = edits_.list[i];
      if (edit.kind != EditKind::strike && edit.kind != EditKind::restore) continue;
      const auto spot = std::find_if(
          map_.spots.begin(), map_.spots.end(), [&](const Region& r) { return r.id == edit.spot_id; });
      if (spot == map_.spots.end())
        return wrong(i, fmt::format("there is no spot {}", edit.spot_id), kOtherFigures);
      const cv::Point2d centre = polygon_centroid(spot->outline);
      const cv::Point2d away =
          cv::Point2d(face_.grid.x_mm(centre.x), face_.grid.y_mm(centre.y)) - edit.place_mm;
      if (std::hypot(away.x, away.y) > kSamePlace_mm)
        return wrong(
            i,
            fmt::format(
                "spot {} lies {:.2f} mm away from the place given", edit.spot_id, std::hypot(away.x, away.y)),
            kOtherFigures);
      const bool strikes = edit.kind == EditKind::strike;
      const bool changes = strikes ? struck.insert(edit.spot_id).second : struck.erase(edit.spot_id) > 0;
      if (!changes)
        return wrong(i,
                     fmt::format("spot {} is {}", edit.spot_id, strikes ? "struck already" : "not struck"),
                     "take this edit out of the file");
      outcomes_[i] = {{edit.spot_id}, spot->area_px};
    }
    for (const Region& spot : map_.spots) {
      if (!struck.contains(spot.id)) continue;
      cv::Mat window = map_.labels(spot.box);
      window.setTo(0, window == spot.id);
    }
    std::erase_if(map_.spots, [&](const Region& spot) { return struck.contains(spot.id); });
    return {};
  }

  Result<void> add() {
    int id = 0;
    for (const Region& spot : map_.spots) id = std::max(id, spot.id);
    for (const Edit& edit : edits_.list) id = std::max(id, edit.spot_id);  // a struck number goes to no other
    for (std::size_t i = 0; i < edits_.list.size(); ++i) {
      if (edits_.list[i].kind != EditKind::add) continue;
      Region spot = drawn_region(edits_.list[i], id + 1);
      if (spot.area_px <= 0.0)
        return wrong(
            i, "nothing of the added spot lies in the measured area beside other spots", "draw it elsewhere");
      if (spot.area_px < least_px_)
        return wrong(i,
                     fmt::format("the added spot is smaller than {} mm", min_spot_.number()),
                     "draw it larger, or lower --min-spot-mm");
      outcomes_[i] = {{spot.id}, spot.area_px};
      map_.spots.push_back(std::move(spot));
      ++id;
    }
    return {};
  }

  Region drawn_region(const Edit& edit, int id) {
    Region spot{};
    spot.id = id;
    spot.origin = RegionOrigin::drawn;
    // Nothing was measured across its edge, so that there is nothing to report of it.
    spot.plateau = spot.ground = spot.threshold = spot.edge_gradient = spot.flank_sigma_px =
        std::numeric_limits<double>::quiet_NaN();
    for (const PixelSpan& span : pixel_spans(edit.outline_mm, face_.grid))
      for (int x = span.first; x < span.end; ++x) {
        int& label = map_.labels.at<int>(span.row, x);
        if (label != 0 || map_.outside.at<unsigned char>(span.row, x) != 0) continue;
        label = id;
        spot.area_px += 1.0;
        spot.box |= cv::Rect(x, span.row, 1, 1);
      }
    const double pitch = face_.grid.pitch.number();
    for (const cv::Point2d& p : edit.outline_mm)
      spot.outline.emplace_back(p.x / pitch + face_.grid.centre_px, face_.grid.centre_px - p.y / pitch);
    spot.u_area_px = polygon_perimeter(spot.outline) * (kDrawnEdge / face_.grid.pitch).number();
    return spot;
  }

  void exclude() {
    std::map<int, double> before;  // pixels of the spots that are cut, before the first cut
    for (std::size_t i = 0; i < edits_.list.size(); ++i) {
      if (edits_.list[i].kind != EditKind::exclude) continue;
      std::set<int> touched;
      for (const PixelSpan& span : pixel_spans(edits_.list[i].outline_mm, face_.grid))
        for (int x = span.first; x < span.end; ++x) leave_out(span.row, x, i, touched);
      for (const int id : touched) before.try_emplace(id, 0.0);
      outcomes_[i].spot_ids.assign(touched.begin(), touched.end());
    }
    std::erase_if(map_.spots, [&](Region& spot) { return before.contains(spot.id) && !keep_cut(spot); });
    std::erase_if(map_.pits, [&](const Region& pit) {
      const cv::Point2d middle = polygon_centroid(pit.outline);
      const cv::Point at(static_cast<int>(std::floor(middle.x + 0.5)),
                         static_cast<int>(std::floor(middle.y + 0.5)));
      return cv::Rect(0, 0, map_.outside.cols, map_.outside.rows).contains(at) &&
             map_.outside.at<unsigned char>(at) == static_cast<unsigned char>(Outside::edit);
    });
  }

  void leave_out(int row, int column, std::size_t index, std::set<int>& touched) {
    auto& outside = map_.outside.at<unsigned char>(row, column);
    if (outside != 0) return;
    outside = static_cast<unsigned char>(Outside::edit);
    outcomes_[index].area_px += 1.0;
    if (const int id = map_.labels.at<int>(row, column); id != 0) touched.insert(id);
  }

  /// A spot that exclusions cut: its area by the share of its pixels that is left. False: too little is.
  bool keep_cut(Region& spot) {
    double all = 0.0, left = 0.0;
    cv::Mat labels = map_.labels(spot.box), outside = map_.outside(spot.box);
    for (int y = 0; y < labels.rows; ++y)
      for (int x = 0; x < labels.cols; ++x) {
        int& label = labels.at<int>(y, x);
        if (label != spot.id) continue;
        all += 1.0;
        if (outside.at<unsigned char>(y, x) == 0)
          left += 1.0;
        else
          label = 0;
      }
    const double share = left / all;
    const bool keeps = share * spot.area_px >= least_px_;
    if (!keeps) {
      outside.setTo(static_cast<unsigned char>(Outside::edit), labels == spot.id);
      labels.setTo(0, labels == spot.id);
      return false;
    }
    spot.area_px *= share;
    spot.u_area_px *= share;
    if (spot.origin == RegionOrigin::found) spot.origin = RegionOrigin::cut;
    return true;
  }

  double count_measured() {
    return map_.measured_area_px = static_cast<double>(map_.outside.total()) - cv::countNonZero(map_.outside);
  }

  const CalibratedFace& face_;
  const Edits& edits_;
  double least_px_;
  Millimetres min_spot_;
  SpotMap map_;
  std::vector<EditOutcome> outcomes_;
};

}  // namespace

Result<EditedMap> with_edits(const CalibratedFace& face,
                             const SpotMap& found,
                             const Edits& edits,
                             Millimetres min_spot) {
  return Editing(face, found, edits, min_spot).run();
}

}  // namespace corefleck
