#include "face_features.hpp"
#include "noise.hpp"
#include "spot_shapes.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

namespace scenes {
namespace {

constexpr int kCoarse = 4;      // texels per occupancy cell
constexpr double kGapMm = 0.4;  // plain matrix between neighbours, so that they are two beyond argument
constexpr double kGrowthRoomMm = 0.3;
constexpr double kMostCovered = 0.25;

struct Candidate {
  SpotShape shape;
  double ecd_mm, edge_mm, contrast;
};

/// Places spots one by one. Occupancy is kept with its gap included, on a coarse grid, because most tries
/// fail.
class SpotPlacer {
 public:
  SpotPlacer(Face& face, FaceLayers& layers, const FaceStyle& style, std::uint64_t seed)
      : face_(face),
        layers_(layers),
        style_(style),
        occupied_(face.labels.rows / kCoarse + 1, face.labels.cols / kCoarse + 1, uchar{0}),
        fates_(seed, "fates") {}

  void place(int count, Random& random, int gone);
  void place_twins(Random& random);
  void place_fresh(Random& random);

 private:
  [[nodiscard]] Candidate draw_candidate(Random& random) const;
  [[nodiscard]] std::optional<cv::Point> free_place(const Candidate& candidate, Random& random) const;
  [[nodiscard]] std::optional<cv::Point> touching_place(const Candidate& candidate, Random& random) const;
  [[nodiscard]] cv::Point2d proposed_mm(double ecd_mm, Random& random) const;
  [[nodiscard]] bool is_free(const Candidate& candidate, cv::Point at) const;
  [[nodiscard]] double overlap_extent_mm(const Candidate& candidate,
                                         cv::Point at,
                                         int partner,
                                         bool& hits_other) const;
  void occupy(const Candidate& candidate, cv::Point at);
  void reserve(const Candidate& candidate, cv::Point at);
  void paint(const Candidate& candidate, cv::Point at, int id, std::uint32_t seed, double growth_mm);
  [[nodiscard]] Fate drawn_fate();

  Face& face_;
  FaceLayers& layers_;
  const FaceStyle& style_;
  cv::Mat1b occupied_;
  std::vector<cv::Point> centres_;
  std::vector<cv::Point2d> clusters_;
  double covered_mm2_ = 0;
  int next_id_ = 1;
  Random fates_;
};

Candidate SpotPlacer::draw_candidate(Random& random) const {
  const SpotStyle& style = style_.spots;
  Candidate candidate;
  const double drawn = style.median_mm * std::exp(std::log(style.geometric_sd) * random.normal());
  candidate.ecd_mm = std::clamp(drawn, 0.35, style_.diameter_mm / 5);
  const double edge = style.edge_mm * std::exp(style.edge_scatter * random.normal());
  candidate.edge_mm = std::clamp(edge, 0.04, std::min(0.7, 0.3 * candidate.ecd_mm));
  const double brightest = 0.88 / style_.plaster.matrix_Y - 1;
  candidate.contrast = std::clamp(
      style.contrast * std::exp(style.contrast_scatter * random.normal()), 0.22, std::max(brightest, 0.23));
  const double margin = kGapMm + kGrowthRoomMm + candidate.edge_mm;
  candidate.shape = draw_spot_shape(random, candidate.ecd_mm, style.roughness, margin, kFacePxPerMm);
  return candidate;
}

cv::Point2d SpotPlacer::proposed_mm(double ecd_mm, Random& random) const {
  const double angle = random.uniform(0, 2 * std::numbers::pi);
  const cv::Point2d direction(std::cos(angle), std::sin(angle));
  const double at_rim = random.uniform(), root = std::sqrt(random.uniform());
  const double near = random.normal(), clustered = random.uniform();
  if (at_rim < style_.spots.at_rim) return direction * (face_.radius_mm + 0.35 * ecd_mm * near);
  const double room = face_.radius_mm - kRimBandMm - 0.75 * ecd_mm - 0.3;
  if (clustered < style_.spots.clustering) {
    const auto which = static_cast<std::size_t>(random.integer(0, static_cast<int>(clusters_.size()) - 1));
    const cv::Point2d at = clusters_[which] + direction * (std::abs(near) * 6.0 + 0.2 * ecd_mm);
    return cv::norm(at) < room ? at : at * (room / cv::norm(at));
  }
  return direction * (room * root);
}

bool SpotPlacer::is_free(const Candidate& candidate, cv::Point at) const {
  const SpotShape& shape = candidate.shape;
  const float gap = static_cast<float>(-kGapMm - kGrowthRoomMm - candidate.edge_mm / 2);
  for (int j = 0; j < shape.inside_mm.rows; j += kCoarse) {
    const int row = (at.y - shape.half + j) / kCoarse;
    if (row < 0 || row >= occupied_.rows) continue;
    for (int i = 0; i < shape.inside_mm.cols; i += kCoarse) {
      const int column = (at.x - shape.half + i) / kCoarse;
      if (column < 0 || column >= occupied_.cols || shape.inside_mm(j, i) < gap) continue;
      if (occupied_(row, column) != 0) return false;
    }
  }
  return true;
}

std::optional<cv::Point> SpotPlacer::free_place(const Candidate& candidate, Random& random) const {
  for (int attempt = 0; attempt < 60; ++attempt) {
    const cv::Point2d mm = proposed_mm(candidate.ecd_mm, random);
    const cv::Point at(static_cast<int>(std::lround(mm.x * kFacePxPerMm + face_.origin)),
                       static_cast<int>(std::lround(mm.y * kFacePxPerMm + face_.origin)));
    if (is_free(candidate, at)) return at;
  }
  return std::nullopt;
}

// Extent of the common part: the neck's width, since two convex-ish outlines overlap in a lens across the
// neck.
double SpotPlacer::overlap_extent_mm(const Candidate& candidate,
                                     cv::Point at,
                                     int partner,
                                     bool& hits_other) const {
  cv::Point low(1 << 20, 1 << 20), high(-1, -1);
  const SpotShape& shape = candidate.shape;
  for (int j = 0; j < shape.inside_mm.rows; ++j) {
    for (int i = 0; i < shape.inside_mm.cols; ++i) {
      const cv::Point texel(at.x - shape.half + i, at.y - shape.half + j);
      if (shape.inside_mm(j, i) <= 0 || texel.x < 0 || texel.y < 0 || texel.x >= face_.labels.cols ||
          texel.y >= face_.labels.rows)
        continue;
      const int label = face_.labels(texel.y, texel.x);
      if (label == 0) continue;
      if (label != partner) hits_other = true;
      low = {std::min(low.x, texel.x), std::min(low.y, texel.y)};
      high = {std::max(high.x, texel.x), std::max(high.y, texel.y)};
    }
  }
  return high.x < 0 ? 0 : std::hypot(high.x - low.x + 1, high.y - low.y + 1) / kFacePxPerMm;
}

std::optional<cv::Point> SpotPlacer::touching_place(const Candidate& candidate, Random& random) const {
  if (face_.spots.empty()) return std::nullopt;
  const auto which = static_cast<std::size_t>(random.integer(0, static_cast<int>(face_.spots.size()) - 1));
  const int partner = face_.spots[which].id;
  const double angle = random.uniform(0, 2 * std::numbers::pi);
  const double partner_ecd =
      face_.spots[which].area_mm2;  // holds the wanted diameter until the face is measured
  const double wanted = random.uniform(0.18, 0.3) * std::min(candidate.ecd_mm, partner_ecd);
  for (double reach = 1.1 * (candidate.ecd_mm + partner_ecd); reach > 0; reach -= 2 / kFacePxPerMm) {
    const cv::Point at =
        centres_[which] + cv::Point(static_cast<int>(reach * std::cos(angle) * kFacePxPerMm),
                                    static_cast<int>(reach * std::sin(angle) * kFacePxPerMm));
    bool hits_other = false;
    const double neck = overlap_extent_mm(candidate, at, partner, hits_other);
    if (hits_other || neck > 1.6 * wanted) return std::nullopt;
    const double from_centre = std::hypot(at.x - face_.origin, at.y - face_.origin) / kFacePxPerMm;
    if (neck >= wanted)
      return from_centre < face_.radius_mm - 2 - 0.8 * candidate.ecd_mm ? std::optional(at) : std::nullopt;
  }
  return std::nullopt;
}

void SpotPlacer::occupy(const Candidate& candidate, cv::Point at) {
  const SpotShape& shape = candidate.shape;
  for (int j = 0; j < shape.inside_mm.rows; ++j) {
    for (int i = 0; i < shape.inside_mm.cols; ++i) {
      const int row = (at.y - shape.half + j) / kCoarse, column = (at.x - shape.half + i) / kCoarse;
      if (row < 0 || column < 0 || row >= occupied_.rows || column >= occupied_.cols) continue;
      if (shape.inside_mm(j, i) > -kGrowthRoomMm) occupied_(row, column) = 1;
    }
  }
}

void SpotPlacer::reserve(const Candidate& candidate, cv::Point at) {
  const SpotShape& shape = candidate.shape;
  const double room = style_.spots.changes > 0 ? kGrowthRoomMm : style_.spots.growth_mm;
  for (int j = 0; j < shape.inside_mm.rows; ++j) {
    for (int i = 0; i < shape.inside_mm.cols; ++i) {
      const int row = at.y - shape.half + j, column = at.x - shape.half + i;
      if (row < 0 || column < 0 || row >= layers_.reserved.rows || column >= layers_.reserved.cols) continue;
      if (shape.inside_mm(j, i) + room > 0) layers_.reserved(row, column) = 1;
    }
  }
}

void SpotPlacer::paint(
    const Candidate& candidate, cv::Point at, int id, std::uint32_t seed, double growth_mm) {
  const SpotShape& shape = candidate.shape;
  const float growth = static_cast<float>(growth_mm), edge = static_cast<float>(candidate.edge_mm);
  const float contrast = static_cast<float>(candidate.contrast),
              inner = static_cast<float>(style_.spots.inner_mottle);
  for (int j = 0; j < shape.inside_mm.rows; ++j) {
    for (int i = 0; i < shape.inside_mm.cols; ++i) {
      const int row = at.y - shape.half + j, column = at.x - shape.half + i;
      if (row < 0 || column < 0 || row >= face_.labels.rows || column >= face_.labels.cols) continue;
      const float inside = shape.inside_mm(j, i) + growth;
      const float level = smooth_step(-0.5f * edge, 0.5f * edge, inside);
      if (level <= 0) continue;
      const float mottle = inner * value_noise(seed, static_cast<float>(i) / 20, static_cast<float>(j) / 20);
      float& boost = layers_.boost(row, column);
      const float own = contrast * level * (1 + mottle);
      if (inside > 0 && (face_.labels(row, column) == 0 || own > boost))
        face_.labels(row, column) =
            static_cast<std::uint16_t>(shape.second.empty() ? id : id + shape.second(j, i));
      boost = std::max(boost, own);
    }
  }
}

void SpotPlacer::place(int count, Random& random, int gone) {
  for (int index = 0; index < 4; ++index) {
    const double angle = random.uniform(0, 2 * std::numbers::pi),
                 reach = random.uniform(0, 0.75) * face_.radius_mm;
    clusters_.emplace_back(reach * std::cos(angle), reach * std::sin(angle));
  }
  const double face_mm2 = std::numbers::pi * face_.radius_mm * face_.radius_mm;
  for (int index = 0; index < count; ++index) {
    const Candidate candidate = draw_candidate(random);
    const double mm2 = std::numbers::pi / 4 * candidate.ecd_mm * candidate.ecd_mm;
    if (covered_mm2_ + mm2 > kMostCovered * face_mm2) continue;
    const bool touches =
        random.chance(style_.spots.touching) && style_.spots.growth_mm == 0 && style_.spots.changes == 0;
    std::optional<cv::Point> at = touches ? touching_place(candidate, random) : std::nullopt;
    if (!at) at = free_place(candidate, random);
    if (!at) continue;
    const int id = next_id_++;
    const std::uint32_t seed = random.noise_seed();
    occupy(candidate, *at);
    covered_mm2_ += mm2;
    if (id <= gone) continue;
    reserve(candidate, *at);
    const Fate fate = drawn_fate();
    const double by = fates_.uniform(0.1, 0.28);
    face_.fates.push_back({id, fate});
    double growth = style_.spots.growth_mm;
    if (style_.spots.later && fate == Fate::gone) continue;
    if (style_.spots.later && fate == Fate::grown) growth += by;
    if (style_.spots.later && fate == Fate::shrunk) growth -= std::min(by, 0.18 * candidate.ecd_mm);
    paint(candidate, *at, id, seed, growth);
    face_.spots.push_back({id, 0, 0, candidate.ecd_mm, 0, candidate.edge_mm});
    centres_.push_back(*at);
  }
}

Fate SpotPlacer::drawn_fate() {
  const double draw = fates_.uniform(), share = style_.spots.changes;
  if (draw < 0.4 * share) return Fate::grown;
  if (draw < 0.7 * share) return Fate::shrunk;
  return draw < share ? Fate::gone : Fate::steady;
}

// Their outlines stay where they are; what changes is whether a bridge lies between them.
void SpotPlacer::place_twins(Random& random) {
  for (int pair = 0; pair < style_.spots.twins; ++pair) {
    Candidate candidate = draw_candidate(random);
    Twins twins{
        std::clamp(candidate.ecd_mm, 1.0, 4.0), 0, random.uniform(0.35, 0.6), random.uniform(0, 3.14), false};
    twins.second_ecd_mm = twins.first_ecd_mm * random.uniform(0.7, 1.0);
    const double draw = random.uniform();
    const Fate fate = style_.spots.changes <= 0 ? Fate::steady
                      : draw < 0.4              ? Fate::joining
                      : draw < 0.8              ? Fate::parting
                                                : Fate::steady;
    candidate.edge_mm = std::min(candidate.edge_mm, 0.15);  // or the flanks would close the gap
    candidate.ecd_mm = twins.first_ecd_mm + twins.second_ecd_mm;
    const double margin = kGapMm + kGrowthRoomMm + candidate.edge_mm;
    candidate.shape = twin_shape(twins, margin, kFacePxPerMm);
    const std::optional<cv::Point> at = free_place(candidate, random);
    const std::uint32_t seed = random.noise_seed();
    if (!at) continue;
    const int id = next_id_;
    next_id_ += 2;
    occupy(candidate, *at);
    twins.joined = fate == (style_.spots.later ? Fate::joining : Fate::parting);
    candidate.shape = twin_shape(twins, margin, kFacePxPerMm);
    reserve(candidate, *at);
    paint(candidate, *at, id, seed, 0.0);
    face_.fates.push_back({id, fate});
    for (int twin = 0; twin < (twins.joined ? 1 : 2); ++twin) {
      face_.spots.push_back({id + twin, 0, 0, twins.first_ecd_mm, 0, candidate.edge_mm});
      centres_.push_back(*at);
    }
  }
}

void SpotPlacer::place_fresh(Random& random) {
  const int count = static_cast<int>(std::lround(0.35 * style_.spots.changes * style_.spots.count));
  for (int index = 0; index < count; ++index) {
    const Candidate candidate = draw_candidate(random);
    const std::optional<cv::Point> at = free_place(candidate, random);
    const std::uint32_t seed = random.noise_seed();
    if (!at) continue;
    const int id = next_id_++;
    occupy(candidate, *at);
    reserve(candidate, *at);
    face_.fates.push_back({id, Fate::fresh});
    if (!style_.spots.later) continue;
    paint(candidate, *at, id, seed, 0.0);
    face_.spots.push_back({id, 0, 0, candidate.ecd_mm, 0, candidate.edge_mm});
    centres_.push_back(*at);
  }
}

}  // namespace

void draw_spots(Face& face, FaceLayers& layers, const FaceStyle& style, std::uint64_t seed) {
  SpotPlacer placer(face, layers, style, seed);
  Random random(seed, "spot shapes"), later(seed, "new spots"), twins(seed, "twins"),
      fresh(seed, "fresh spots");
  placer.place(style.spots.count, random, style.spots.gone_spots);
  placer.place(style.spots.new_spots, later, 0);
  placer.place_twins(twins);
  placer.place_fresh(fresh);
}

}  // namespace scenes
