#include "candidates.hpp"

#include "rough_ground.hpp"

#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

namespace corefleck {
namespace {

constexpr int kRounds = 6;
constexpr std::size_t kAhead = 12;    // regions looked at side by side
constexpr double kSameSpot_mm = 4.0;  // peaks so close are often of one spot, which the first of them takes
constexpr int kPeakReach = 2;         // a peak is the highest of the cells so far about it: one smallest spot
constexpr std::size_t kWeakSample = 80;  // hopeless regions looked at, of perhaps thousands
constexpr double kHopeless = 0.7;      // of the least contrast, below which a seed only tells the population
constexpr double kGivenUp = 0.8;       // of that, below which a region is not followed to its end
constexpr double kNearlyEnough = 0.8;  // of the height that mottle's population asks
constexpr double kMayBeSpot = 0.6;     // of it, above which a place is no ground
constexpr double kStretch = 6.0;       // of the least area, from which a refused region may hide a spot
constexpr float kSettled = 0.02F;      // of the height: the outline is followed again on the full grid
constexpr float kFirstThreshold = 0.5F, kSteeperThreshold = 0.8F;  // of a seed's peak
constexpr double kPatch_mm = 10.0;  // ground that differs as a whole is no smaller
constexpr double kSeedSmoothing_mm = 0.1;
constexpr double kFlank_mm = 0.2;

struct Seed {
  cv::Point at;
  float peak;
};

// Highest of the cells about it that are not taken.
bool is_peak(const cv::Mat& smooth, const cv::Mat& taken, cv::Point at) {
  const float value = smooth.at<float>(at);
  const cv::Rect about =
      cv::Rect(at.x - kPeakReach, at.y - kPeakReach, 2 * kPeakReach + 1, 2 * kPeakReach + 1) &
      cv::Rect(0, 0, smooth.cols, smooth.rows);
  for (int y = about.y; y < about.br().y; ++y)
    for (int x = about.x; x < about.br().x; ++x)
      if (smooth.at<float>(y, x) > value && taken.at<unsigned char>(y, x) == 0) return false;
  return true;
}

// Every local maximum of the smoothed contrast inside the mask, highest first.
std::vector<Seed> seeds_of(const cv::Mat& smooth, const cv::Mat& taken, const cv::Mat& mask) {
  std::vector<Seed> seeds;
  for (int y = 0; y < mask.rows; ++y) {
    const unsigned char* inside = mask.ptr(y);
    for (int x = 0; x < mask.cols; ++x)
      if (inside[x] != 0 && is_peak(smooth, taken, {x, y})) seeds.push_back({{x, y}, smooth.at<float>(y, x)});
  }
  std::stable_sort(seeds.begin(), seeds.end(), [](const Seed& a, const Seed& b) { return a.peak > b.peak; });
  return seeds;
}

class Search {
 public:
  Search(const CoarseFace& face, const DetectionRule& rule) : face_(face), rule_(rule) {
    cv::GaussianBlur(face.contrast, smooth_, {}, std::clamp(kSeedSmoothing_mm / face.pitch_mm, 0.5, 4.0));
    const double least = least_detectable(rule.mottle_rel);
    hopeless_ = kHopeless * least;
    // Light mottle around a spot is its ground; only what may be another spot is not.
    found_.busy = (smooth_ > std::max(static_cast<double>(rule.low), kMayBeSpot * least)) | face.dark;
    found_.owner = cv::Mat::zeros(face.contrast.size(), CV_32SC1);
    taken_ = face.blocked.clone();
  }

  // Spots that share one light stretch of matrix, or the flank of a stronger one, appear one after the other
  // as those before them are taken away: hence rounds.
  CoarseSpots run() {
    for (int round = 0; round < kRounds; ++round)
      if (!one_round(round == 0)) break;
    rough_ = {mottle_, face_.blocked == 0, static_cast<double>(rule_.low), kPatch_mm / face_.pitch_mm};
    limits_ = mottle_limits();
    std::erase_if(found_.spots, [&](const Candidate& candidate) { return drowns_in_mottle(candidate, 1.0); });
    const double margin = lone_margin(found_.spots.size());
    if (margin > 1.0)
      std::erase_if(found_.spots,
                    [&](const Candidate& candidate) { return drowns_in_mottle(candidate, margin); });
    return std::move(found_);
  }

 private:
  static double height_of(const HalfContrastRegion& region) {
    return static_cast<double>(region.plateau - region.ground);
  }

  /// Those of the candidates that lie on rough ground, or on even; one with a colour of its own is no mottle.
  [[nodiscard]] std::vector<const Candidate*> candidates_on(bool rough) const {
    std::vector<const Candidate*> chosen;
    for (const Candidate& candidate : found_.spots)
      if (!own_colour_[static_cast<std::size_t>(candidate.owner)] && rough_.holds(candidate.seed) == rough)
        chosen.push_back(&candidate);
    return chosen;
  }

  /// By owner: the heights that mottle of a candidate's size reaches. Mottle of rough ground counts only
  /// there.
  [[nodiscard]] std::map<int, double> mottle_limits() const {
    MottlePopulation even, all;
    for (const PlacedRegion& one : mottle_) {
      all.add(one.region);
      if (!rough_.holds(one.at)) even.add(one.region);
    }
    std::map<int, double> limits;
    for (const bool rough : {false, true}) {
      const std::vector<const Candidate*> candidates = candidates_on(rough);
      std::vector<LightRegion> regions;
      for (const Candidate* candidate : candidates) regions.push_back(light_region_of(candidate->region));
      const std::vector<double> heights = (rough ? all : even).limits(regions);
      for (std::size_t i = 0; i < regions.size(); ++i) limits[candidates[i]->owner] = heights[i];
    }
    return limits;
  }

  static LightRegion light_region_of(const HalfContrastRegion& region) {
    return {static_cast<double>(cv::countNonZero(region.mask)), height_of(region)};
  }

  /// Whether a candidate is no higher than `margin` times what mottle of its size reaches. On rough ground
  /// that is no proof that it is none.
  bool drowns_in_mottle(const Candidate& candidate, double margin) {
    const auto known = limits_.find(candidate.owner);
    if (known == limits_.end()) return false;
    const LightRegion region = light_region_of(candidate.region);
    // No mottle of a region's size says nothing about what it reaches.
    const double limit = margin * std::max(known->second, least_detectable(rule_.mottle_rel));
    if (region.height > limit) return false;
    if (region.height > kNearlyEnough * limit || rough_.holds(candidate.seed)) {
      ++found_.faint;
      found_.faint_area += region.area_px;
    }
    return true;
  }

  /// False when no seed was left that might have been a spot.
  bool one_round(bool first) {
    cv::Mat mask = (smooth_ > rule_.low) & (taken_ == 0);
    cv::morphologyEx(mask, mask, cv::MORPH_OPEN, cv::Mat());
    const std::vector<Seed> seeds = seeds_of(smooth_, taken_, mask);
    const auto weak = static_cast<std::size_t>(std::count_if(
        seeds.begin(), seeds.end(), [&](const Seed& s) { return static_cast<double>(s.peak) < hopeless_; }));
    const std::size_t stride = weak / kWeakSample + 1;
    // Regions too weak to be spots only tell the mottle's population: a sample of them does, once.
    std::vector<Start> starts;
    for (std::size_t i = 0; i < seeds.size(); ++i) {
      const bool hopeful = static_cast<double>(seeds[i].peak) >= hopeless_;
      if (hopeful || (first && i % stride == 0))
        starts.push_back({seeds[i], hopeful, hopeful ? 1.0 : static_cast<double>(stride)});
    }
    return follow_all(starts);
  }

  struct Start {
    Seed seed;
    bool hopeful;
    double weight;  // of its region in the mottle's population
  };

  [[nodiscard]] bool is_free(const Seed& seed) const { return taken_.at<unsigned char>(seed.at) == 0; }

  struct Followed {
    HalfContrastRegion region;
    Evidence evidence;
    bool spot;
  };

  /// What a seed leads to, if anything, and the cells that this rests on.
  struct Look {
    std::optional<Followed> found;
    cv::Rect read;
  };

  /// One after the other, as each takes its cells from those after it. The next ones are looked at side by
  /// side beforehand; the few that read cells which one before them took are looked at again.
  bool follow_all(const std::vector<Start>& starts) {
    bool any = false;
    std::vector<std::optional<Look>> looks(starts.size());
    for (std::size_t next = 0; next < starts.size();) {
      const std::size_t end = std::min(next + kAhead, starts.size());
      look_at_each(starts, next, end, looks);
      for (; next < end; ++next) {
        const Start& start = starts[next];
        if (!is_free(start.seed)) continue;
        if (!looks[next]) break;
        any = any || (looks[next]->found && start.hopeful);
        const cv::Rect taken =
            looks[next]->found ? keep(*std::move(looks[next]->found), start) : give_up(start.seed);
        for (std::size_t later = next + 1; later < end; ++later)
          if (looks[later] && !(looks[later]->read & taken).empty()) looks[later].reset();
      }
    }
    return any;
  }

  /// The free ones among them that have not been looked at since their cells were taken.
  void look_at_each(const std::vector<Start>& starts,
                    std::size_t from,
                    std::size_t end,
                    std::vector<std::optional<Look>>& looks) const {
    std::vector<std::size_t> open;
    const auto near = [&](std::size_t one, std::size_t other) {
      return cv::norm(starts[one].seed.at - starts[other].seed.at) < kSameSpot_mm / face_.pitch_mm;
    };
    for (std::size_t i = from; i < end; ++i) {
      if (looks[i] || !is_free(starts[i].seed)) continue;
      bool alone = true;
      for (std::size_t before = from; before < i && alone; ++before)
        alone = !is_free(starts[before].seed) || !near(before, i);
      if (alone) open.push_back(i);
    }
    cv::parallel_for_(cv::Range(0, static_cast<int>(open.size())), [&](const cv::Range& range) {
      for (int i = range.start; i < range.end; ++i) {
        const std::size_t at = open[static_cast<std::size_t>(i)];
        looks[at] = look(starts[at].seed);
      }
    });
  }

  /// The region about a seed from a first threshold at this share of its peak.
  [[nodiscard]] std::optional<Followed> region_from(const Seed& seed, float share) const {
    const ContrastField field{face_.contrast,
                              taken_,
                              found_.busy,
                              face_.sigma_px,
                              face_.pitch_mm,
                              taken_.cols / 3,
                              static_cast<float>(kGivenUp * hopeless_),
                              kSettled};
    auto region = half_contrast_region(field, seed.at, std::max(rule_.low, share * seed.peak));
    if (!region) return std::nullopt;
    const Evidence evidence = evidence_of(*region);
    return Followed{*std::move(region), evidence, is_spot(evidence, rule_)};
  }

  [[nodiscard]] Look look(const Seed& seed) const {
    auto found = region_from(seed, kFirstThreshold);
    cv::Rect read = read_by(found);
    // A spot in a light stretch of matrix has two half contrasts: its own, and the stretch's, which runs
    // further.
    if (!found || (!found->spot && found->evidence.area_px > kStretch * rule_.least_area_px)) {
      auto steeper = region_from(seed, kSteeperThreshold);
      read |= read_by(steeper);
      if (steeper && (steeper->spot || !found || steeper->evidence.area_px < found->evidence.area_px))
        found = std::move(steeper);
    }
    return {std::move(found), read};
  }

  // One that ran away or vanished may have read anything.
  [[nodiscard]] cv::Rect read_by(const std::optional<Followed>& found) const {
    return found ? found->region.read : cv::Rect({0, 0}, taken_.size());
  }

  /// The cells that it takes.
  cv::Rect keep(Followed found, const Start& start) {
    const Evidence& evidence = found.evidence;
    own_colour_.push_back(evidence.own_colour);
    const auto owner = static_cast<int>(own_colour_.size()) - 1;
    const cv::Rect cells = take(found.region, owner);
    if (!found.spot && evidence.area_px >= rule_.least_area_px)
      mottle_.push_back({start.seed.at, {{evidence.area_px, evidence.height}, start.weight}});
    if (!found.spot && is_nearly_spot(evidence, rule_)) {
      ++found_.faint;
      found_.faint_area += evidence.area_px;
    }
    if (found.spot) found_.spots.push_back({std::move(found.region), start.seed.at, owner});
    return cells;
  }

  /// A seed that leads to no region is not looked at again.
  cv::Rect give_up(const Seed& seed) {
    taken_.at<unsigned char>(seed.at) = 255;
    return {seed.at, cv::Size(1, 1)};
  }

  Evidence evidence_of(const HalfContrastRegion& region) const {
    Evidence evidence{};
    evidence.height = height_of(region);
    evidence.plateau = static_cast<double>(region.plateau);
    evidence.area_px = cv::countNonZero(region.mask);
    const double slope = slope_at_edge(face_.contrast, region);
    const double flank_mm = evidence.height / std::max(slope, 1e-6) * face_.pitch_mm;
    evidence.soft_mm = std::max(0.0, flank_mm - 2.5 * face_.sigma_px * face_.pitch_mm);
    evidence.spread_inside = region.spread_inside;
    evidence.spread_ground = region.spread_ground;
    evidence.ground_px = region.ground_px;
    // Colour is looked at only where it can change the answer.
    evidence.own_colour = !face_.colour.half.empty() && evidence.area_px >= rule_.least_area_px &&
                          evidence.height > hopeless_ &&
                          has_own_colour(face_.colour, found_.busy, region, face_.sigma_px, face_.pitch_mm);
    return evidence;
  }

  cv::Rect take(const HalfContrastRegion& region, int owner) {
    const int reach = static_cast<int>(std::ceil(face_.sigma_px * 1.5 + kFlank_mm / face_.pitch_mm));
    const cv::Rect window = cv::Rect(region.box.x - reach,
                                     region.box.y - reach,
                                     region.box.width + 2 * reach,
                                     region.box.height + 2 * reach) &
                            cv::Rect(0, 0, taken_.cols, taken_.rows);
    cv::Mat flank = cv::Mat::zeros(window.size(), CV_8UC1);
    region.mask.copyTo(flank(region.box - window.tl()));
    cv::dilate(flank, flank, cv::getStructuringElement(cv::MORPH_RECT, {2 * reach + 1, 2 * reach + 1}));
    taken_(window).setTo(255, flank);
    found_.owner(window).setTo(owner, flank & (found_.owner(window) == 0));
    found_.owner(region.box).setTo(owner, region.mask);
    return window;
  }

  const CoarseFace& face_;
  const DetectionRule& rule_;
  cv::Mat smooth_, taken_;
  double hopeless_;
  std::vector<PlacedRegion> mottle_;
  RoughGround rough_;
  std::map<int, double> limits_;         // by owner
  std::vector<bool> own_colour_{false};  // by owner; owner 0 is nobody
  CoarseSpots found_;
};

}  // namespace

double slope_at_edge(const cv::Mat& contrast, const HalfContrastRegion& region) {
  const cv::Rect frame(0, 0, contrast.cols, contrast.rows);
  const cv::Rect window =
      cv::Rect(region.box.x - 3, region.box.y - 3, region.box.width + 6, region.box.height + 6) & frame;
  cv::Mat mask = cv::Mat::zeros(window.size(), CV_8UC1);
  region.mask.copyTo(mask(region.box - window.tl()));
  cv::Mat gx, gy, magnitude, inner, edge;
  cv::Sobel(contrast(window), gx, CV_32F, 1, 0, 3, 0.125);
  cv::Sobel(contrast(window), gy, CV_32F, 0, 1, 3, 0.125);
  cv::magnitude(gx, gy, magnitude);
  cv::erode(mask, inner, cv::Mat());
  cv::dilate(mask, edge, cv::Mat());
  edge &= ~inner;
  return cv::mean(magnitude, edge)[0];
}

CoarseSpots find_candidates(const CoarseFace& face, const DetectionRule& rule) {
  return Search(face, rule).run();
}

}  // namespace corefleck
