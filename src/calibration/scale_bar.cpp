#include "scale_bar.hpp"

#include "bar_candidates.hpp"
#include "bar_pattern.hpp"
#include "bar_profile.hpp"
#include "ruler_arms.hpp"
#include "strip_light.hpp"

#include "corefleck/beside.hpp"
#include "corefleck/statistics.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr std::size_t kMostCandidates = 1000;  // a printed page offers hundreds of rows of strokes
// Of fewer rows all are looked at whole: one seen along a bar's ticks has no blocks under it, and may be all
// that tells of the bar.
constexpr std::size_t kAllLookedAt = 250;
constexpr std::size_t kMostLocated = 8;    // of those, located on the photo itself
constexpr float kMostSpread = 0.5F;        // within a block, of the step to the next
constexpr double kLeastRoughScore = 0.15;  // the overview's pixels say less of the spacing
constexpr double kLeastScore = 0.6;        // 400 true bars of two renderers score 0.73 and more
// Scatter of the edges about equal spacing that makes a row of blocks no bar, in pitches and in pixels: 530
// true bars of two renderers reach a quarter of it, and one at the limit tells a scale some 0.3 % off.
constexpr double kMostUneven = 0.01, kMostUneven_px = 0.4;
constexpr double kDoubtful = 0.003, kDoubtful_px = 0.2;  // reached by none of them
constexpr double kAsGood = 0.85;                         // of the best score: then the user is asked

// Of the blocks' height: how far off the axis both parts of the middle half lie that `axis_profile` reads.
constexpr double kOffAxis = 0.12;
// A tilt of 6 degrees makes the edges of a bar lean so much that lies half the camera's distance off the
// frame's middle; an axis at more of a slant smears them.
constexpr double kLeastLean = 0.05;

cv::Mat face_mask(const Overview& overview, const FaceEllipse& face) {
  cv::Mat mask = cv::Mat::zeros(overview.tone.size(), CV_8UC1);
  const cv::Point2d centre = overview.from_photo({face.x, face.y});
  cv::ellipse(mask,
              cv::RotatedRect(cv::Point2f(centre),
                              cv::Size2f(static_cast<float>(2.0 * face.semi_major / overview.factor),
                                         static_cast<float>(2.0 * face.semi_minor / overview.factor)),
                              static_cast<float>(face.angle_rad * 180.0 / CV_PI)),
              cv::Scalar(255),
              cv::FILLED);
  return mask;
}

double axis_length(const ScaleBar& bar) {
  return std::hypot(bar.axis.x2 - bar.axis.x1, bar.axis.y2 - bar.axis.y1);
}

// As many edges as the bar has, or one or two less where end blocks merge with the strip.
bool has_bars_length(const FoundBar& found, int blocks) {
  if (found.points.size() < 3) return false;
  const int span = found.indices.back() - found.indices.front() + 1;
  return span <= blocks + 1 && span >= std::max(3, blocks - 1);
}

// Equally spaced, and as many edges as such a bar can show: of an even number of blocks the ends differ in
// tone, so that only one of them merges with the strip.
double regularity(const FoundBar& found, int blocks) {
  const double pitch = axis_length(found.bar) / blocks;
  const int least = blocks % 2 == 0 ? blocks : blocks - 1;
  const double complete = static_cast<double>(found.bar.used_edges()) / (blocks + 1);
  return std::exp(-std::pow(found.bar.residual_px / (kMostUneven * pitch + kMostUneven_px), 2.0)) *
         (0.5 + 0.5 * complete) * (found.bar.used_edges() < least ? 0.8 : 1.0);
}

// Blocks are flat, of two tones and end on both sides, as stripes do not; 1 where they are so wholly. In
// pixels of the overview, whose edges are a few pixels wide in any photo that can be measured.
double likeness(const FoundBar& found, const BarPattern& pattern, int blocks) {
  const int unseen = blocks - (found.indices.back() - found.indices.front());
  const int merged = static_cast<int>(std::count(pattern.goes_on.begin(), pattern.goes_on.end(), true));
  if (!pattern.bounded || merged < unseen) return 0.0;
  const double pitch = axis_length(found.bar) / blocks;
  const double two_toned = std::exp(-std::pow(pattern.tone_scatter / 0.2, 2.0));
  const double even = std::exp(-std::pow(pattern.raggedness / 0.2, 2.0));
  const double sharp = std::exp(-std::pow(found.bar.edge_width_px / (3.0 + 0.1 * pitch), 4.0));
  return two_toned * even * sharp;
}

std::string place(const FoundBar& found) {
  return fmt::format("({:.0f}, {:.0f})",
                     0.5 * (found.bar.axis.x1 + found.bar.axis.x2),
                     0.5 * (found.bar.axis.y1 + found.bar.axis.y2));
}

BarGuess guess_from(const BarCandidate& candidate) {
  const cv::Point2d span = candidate.last - candidate.first;
  const double reach = cv::norm(span);
  return {
      candidate.first, span / reach, reach / (candidate.edges - 1), candidate.edges, candidate.height, false};
}

// A bar located on the overview, as a guess for the photo: along the middle of what the pattern covers.
BarGuess guess_from(const FoundBar& rough, const BarPattern& pattern, const Overview& overview) {
  const cv::Point2d span = rough.points.back() - rough.points.front();
  const double reach = cv::norm(span);
  const int pitches = rough.indices.back() - rough.indices.front();
  const cv::Point2d direction = span / reach;
  const cv::Point2d aside = 0.5 * (pattern.low + pattern.high) * cv::Point2d(-direction.y, direction.x);
  return {overview.to_photo(rough.points.front() + aside),
          direction,
          reach * overview.factor / pitches,
          pitches + 1,
          (pattern.high - pattern.low) * overview.factor,
          false};
}

Result<FoundBar> bar_by_hand(const Photo& photo, const PixelSegment& ends, int blocks) {
  BarGuess guess{};
  guess.first = {ends.x1, ends.y1};
  const cv::Point2d span(ends.x2 - ends.x1, ends.y2 - ends.y1);
  guess.direction = span / cv::norm(span);
  guess.pitch = cv::norm(span) / blocks;
  guess.edges = blocks + 1;
  guess.height =
      std::min(0.5 * guess.pitch, 12.0);  // only the line that was given is known to lie on the blocks
  guess.ends_known = true;
  auto found = locate_bar(light_along(photo), guess, blocks);
  if (!found)
    return failure(ErrorCode::scale_bar_not_found,
                   "no block pattern lies between the ends given by --bar-ends",
                   "give the middles of the two end edges, and check --bar-blocks");
  found->bar.by_hand = true;
  found->bar.score = 1.0;
  return *std::move(found);
}

// Cores are drilled with bits of 25 to 200 mm (common practice, no source): blocks that would make another
// core of the face are strokes of print or planks of the bench.
BarKind bar_kind(const Overview& overview, const FaceEllipse& face, const CalibrationSettings& settings) {
  const double core_px = 2.0 * face.semi_major / overview.factor;
  const double block_mm = settings.bar_length.number() / settings.bar_blocks;
  return {settings.bar_blocks, core_px * block_mm / 200.0, core_px * block_mm / 25.0};
}

struct BlockLook {
  float level, spread;
};

// Three by three places inside a block from edge to edge.
BlockLook look_at(const cv::Mat& luminance, cv::Point2d middle, cv::Point2d along, cv::Point2d across) {
  float sum = 0.0F, least = 1e9F, most = 0.0F;
  for (int i = -1; i <= 1; ++i)
    for (int j = -1; j <= 1; ++j) {
      const cv::Point2d p = middle + 0.2 * i * along + 0.25 * j * across;
      const float here = bilinear(luminance, p.x, p.y);
      sum += here;
      least = std::min(least, here);
      most = std::max(most, here);
    }
  return {sum / 9.0F, most - least};
}

// Whether a few blocks in a row are flat against the steps between them, as strokes of print and grain are
// not: dozens of places say it before hundreds of lines are looked at.
bool may_be_blocks(const cv::Mat& luminance, const BarCandidate& candidate) {
  const cv::Point2d along = (candidate.last - candidate.first) / (candidate.edges - 1);
  const cv::Point2d across = candidate.height / cv::norm(along) * cv::Point2d(-along.y, along.x);
  int run = 0;
  BlockLook before{};
  for (int k = 0; k + 1 < candidate.edges; ++k) {
    const BlockLook block = look_at(luminance, candidate.first + (k + 0.5) * along, along, across);
    const float step = std::abs(block.level - before.level);
    const bool flat = std::max(block.spread, before.spread) < kMostSpread * step;
    run = k > 0 && flat ? run + 1 : 0;
    if (run >= 1) return true;
    before = block;
  }
  return false;
}

/// A row of edges that may be the bar; `trimmed` where its ends were taken for the strip's.
struct Row {
  BarCandidate edges;
  bool trimmed = false;
};

// Flat blocks first, since a page of print or a cutting mat offers more rows than can be looked at whole.
std::vector<BarCandidate> likely_rows(const Overview& overview,
                                      const FaceEllipse& face,
                                      const CalibrationSettings& settings) {
  auto rows = bar_candidates(overview, face_mask(overview, face), bar_kind(overview, face, settings));
  // However well some of its edges look, a row with more of them than the bar and a strip's ends have is
  // another thing.
  std::erase_if(rows, [&](const auto& row) { return row.seen > settings.bar_blocks + 3; });
  if (rows.size() <= kAllLookedAt) return rows;
  std::vector<unsigned char> flat(rows.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(rows.size())), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i)
      flat[i] = may_be_blocks(overview.luminance, rows[i]) ? 1 : 0;
  });
  std::vector<BarCandidate> likely;
  for (std::size_t i = 0; i < rows.size() && likely.size() < kMostCandidates; ++i)
    if (i < kAllLookedAt || flat[i] != 0) likely.push_back(rows[i]);
  return likely;
}

// A row without so many of its edges at its ends.
Row without_ends(const BarCandidate& row, int first, int last) {
  const cv::Point2d pitch = (row.last - row.first) / (row.edges - 1);
  const int edges = row.edges - first - last;
  return {{row.first + first * pitch, row.last - last * pitch, edges, std::min(row.seen, edges), row.height},
          true};
}

// Where the strip goes on for just the length of a block, its ends look like more blocks: of both ends, or of
// one.
std::vector<Row> rows_of(const std::vector<BarCandidate>& candidates, int blocks) {
  std::vector<Row> rows;
  for (const BarCandidate& row : candidates) {
    rows.push_back({row});
    const int too_many = row.edges - (blocks + 1);
    if (too_many == 2) rows.push_back(without_ends(row, 1, 1));
    if (too_many != 1) continue;
    rows.push_back(without_ends(row, 1, 0));
    rows.push_back(without_ends(row, 0, 1));
  }
  return rows;
}

struct RoughBar {
  BarGuess guess;
  double likeness, score;
  bool begins_before;  ///< of the ends only the first can have a block merged with the strip
};

bool same_place(const BarGuess& a, const BarGuess& b) {
  const auto middle = [](const BarGuess& g) { return g.first + 0.5 * (g.edges - 1) * g.pitch * g.direction; };
  return cv::norm(middle(a) - middle(b)) < 0.6 * a.pitch && std::abs(a.pitch / b.pitch - 1.0) < 0.04;
}

// Whether an end block that shows no outer edge lies before the first edge: the bench may be of a block's
// tone too, but the block is of the same print as the others.
bool block_is_before(const BarPattern& pattern) {
  if (!pattern.goes_on[0]) return false;
  return !pattern.goes_on[1] || pattern.tone_off[0] < pattern.tone_off[1];
}

// What looks most like the bar on the overview, best first.
std::vector<RoughBar> rough_bars(const Overview& overview,
                                 const FaceEllipse& face,
                                 const CalibrationSettings& settings) {
  const int blocks = settings.bar_blocks;
  const std::vector<Row> rows = rows_of(likely_rows(overview, face, settings), blocks);
  const StripLight light = light_along(overview);
  std::vector<RoughBar> all(rows.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(rows.size())), [&](const cv::Range& range) {
    for (auto k = static_cast<std::size_t>(range.start); k < static_cast<std::size_t>(range.end); ++k) {
      const auto found = locate_bar(light, guess_from(rows[k].edges), blocks);
      if (!found || !has_bars_length(*found, blocks)) continue;
      const BarPattern pattern = bar_pattern(light, *found);
      if (rows[k].trimmed && !pattern.on_strip) continue;
      const double alike = likeness(*found, pattern, blocks);
      all[k] = {guess_from(*found, pattern, overview),
                alike,
                alike * regularity(*found, blocks),
                block_is_before(pattern)};
    }
  });
  std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.score > b.score; });
  std::vector<RoughBar> bars;
  for (const RoughBar& bar : all) {
    if (bar.score < kLeastRoughScore || bars.size() >= kMostLocated) break;
    const bool known = std::any_of(
        bars.begin(), bars.end(), [&](const auto& other) { return same_place(bar.guess, other.guess); });
    if (!known) bars.push_back(bar);
  }
  return bars;
}

// The part of a guess to one side of its axis.
BarGuess half_of(const BarGuess& guess, double side) {
  BarGuess half = guess;
  half.first += side * kOffAxis * guess.height * cv::Point2d(-guess.direction.y, guess.direction.x);
  half.height *= 0.5;
  return half;
}

// Block edges on both sides of the axis; none where too few are seen there.
std::vector<EdgeSection> sections_of(const StripLight& light, const BarGuess& guess, int blocks) {
  auto beyond = beside([&] { return locate_bar(light, half_of(guess, -1.0), blocks); });
  const auto high = locate_bar(light, half_of(guess, 1.0), blocks);
  const auto low = beyond.get();
  std::vector<EdgeSection> sections;
  if (!low || !high) return sections;
  for (const cv::Point2d& a : low->points)
    for (const cv::Point2d& b : high->points)
      if (std::abs((b - a).dot(guess.direction)) < 0.3 * guess.pitch) sections.push_back({a, b});
  if (sections.size() < 3) sections.clear();
  return sections;
}

// Square to the block edges as the photo shows them, where perspective alone does not make them lean so.
BarGuess squared(const BarGuess& guess, const std::vector<EdgeSection>& sections) {
  if (sections.empty()) return guess;
  const cv::Point2d across(-guess.direction.y, guess.direction.x);
  std::vector<double> slopes;
  slopes.reserve(sections.size());
  for (const auto& [low, high] : sections)
    slopes.push_back((high - low).dot(guess.direction) / (high - low).dot(across));
  const double lean = median(slopes), half = 0.5 * (guess.edges - 1);
  if (std::abs(lean) < kLeastLean) return guess;
  BarGuess square = guess;
  square.direction = (guess.direction - lean * across) / std::hypot(1.0, lean);
  square.pitch /= std::hypot(1.0, lean);
  square.first += half * (guess.pitch * guess.direction - square.pitch * square.direction);
  return square;
}

// The bar on the photo, about where the overview shows it.
std::optional<FoundBar> located(const StripLight& light, const BarGuess& guess, int blocks) {
  auto sections = sections_of(light, guess, blocks);
  auto found = locate_bar(light, squared(guess, sections), blocks);
  if (found) found->sections = std::move(sections);
  return found;
}

// Of an even number of blocks one end merges with the strip: where it is the first, all edges are one
// further.
void move_to_last_blocks(FoundBar& found, int blocks) {
  if (found.indices.front() != 0 || found.indices.back() != blocks - 1) return;
  PixelSegment& axis = found.bar.axis;
  const double x = (axis.x2 - axis.x1) / blocks, y = (axis.y2 - axis.y1) / blocks;
  axis = {axis.x1 - x, axis.y1 - y, axis.x2 - x, axis.y2 - y};
  for (int& index : found.indices) ++index;
  for (BarEdge& edge : found.bar.edges) ++edge.index;
}

}  // namespace

BarSpacing bar_spacing(const ScaleBar& bar, double scatter_px, int blocks) {
  const double pitch_px = axis_length(bar) / blocks;
  const auto used = [](const BarEdge& edge) { return edge.used; };
  const auto first = std::find_if(bar.edges.begin(), bar.edges.end(), used);
  const auto last = std::find_if(bar.edges.rbegin(), bar.edges.rend(), used).base();
  // One edge under dirt or a scratch is left out where the others are as good as those of a clean bar; of
  // more, or of edges that scatter themselves, nobody knows which ones are wrong.
  const auto left_out = std::count_if(first, last, [](const BarEdge& edge) { return !edge.used; });
  if (left_out > 1) return BarSpacing::uneven;
  const bool doubtful = scatter_px > kDoubtful * pitch_px + kDoubtful_px;
  if (doubtful && left_out > 0) return BarSpacing::uneven;
  if (scatter_px > kMostUneven * pitch_px + kMostUneven_px) return BarSpacing::uneven;
  return doubtful ? BarSpacing::doubtful : BarSpacing::even;
}

MeasureError uneven_blocks(const ScaleBar& bar) {
  return {ErrorCode::scale_bar_not_found,
          fmt::format("the blocks about ({:.0f}, {:.0f}) pixels are not equally long",
                      0.5 * (bar.axis.x1 + bar.axis.x2),
                      0.5 * (bar.axis.y1 + bar.axis.y2)),
          "use a flat bar of equal blocks, check --bar-blocks, or give --bar-ends X1,Y1,X2,Y2"};
}

Result<std::vector<FoundBar>> find_scale_bars(const Photo& photo,
                                              const Overview& overview,
                                              const FaceEllipse& face,
                                              const CalibrationSettings& settings) {
  const int blocks = settings.bar_blocks;
  if (settings.bar_ends)
    return bar_by_hand(photo, *settings.bar_ends, blocks).map([](FoundBar bar) {
      return std::vector<FoundBar>{std::move(bar)};
    });
  const StripLight light = light_along(photo);
  std::vector<FoundBar> bars;
  std::optional<MeasureError> uneven;
  const std::vector<RoughBar> rows = rough_bars(overview, face, settings);
  std::vector<std::optional<FoundBar>> on_photo(rows.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(rows.size())), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i)
      on_photo[i] = located(light, rows[i].guess, blocks);
  });
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const RoughBar& rough = rows[i];
    std::optional<FoundBar>& found = on_photo[i];
    if (!found || !has_bars_length(*found, blocks)) continue;
    found->bar.score = rough.likeness * regularity(*found, blocks);
    if (rough.begins_before) move_to_last_blocks(*found, blocks);
    if (bar_spacing(found->bar, found->bar.residual_px, blocks) == BarSpacing::uneven) {
      if (!uneven) uneven = uneven_blocks(found->bar);  // the next row may be the bar
    } else if (found->bar.score > kLeastScore) {
      bars.push_back(*std::move(found));
    }
  }
  if (bars.empty() && uneven) return tl::make_unexpected(*std::move(uneven));
  if (bars.empty())
    return failure(ErrorCode::scale_bar_not_found,
                   fmt::format("no scale bar of {} blocks found in the photo", blocks),
                   "lay the bar flat beside the core, check --bar-blocks, or give --bar-ends X1,Y1,X2,Y2");
  std::stable_sort(
      bars.begin(), bars.end(), [](const auto& a, const auto& b) { return a.bar.score > b.bar.score; });
  return bars;
}

std::vector<std::size_t> rivals_of(const std::vector<FoundBar>& bars,
                                   std::size_t bar,
                                   const Overview& overview,
                                   int blocks) {
  std::vector<std::size_t> rivals;
  for (std::size_t i = bar + 1; i < bars.size(); ++i)
    if (bars[i].bar.score > kAsGood * bars[bar].bar.score &&
        !on_one_ruler(overview, bars[i].bar, bars[bar].bar, blocks))
      rivals.push_back(i);
  return rivals;
}

MeasureError two_bars(const FoundBar& a, const FoundBar& b) {
  return {ErrorCode::scale_bar_ambiguous,
          fmt::format("two scale bars found, at {} and at {} pixels", place(a), place(b)),
          "leave one bar in the frame, or say which with --bar-ends X1,Y1,X2,Y2"};
}

}  // namespace corefleck
