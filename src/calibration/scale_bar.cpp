#include "scale_bar.hpp"

#include "bar_candidates.hpp"
#include "bar_profile.hpp"

#include "corefleck/statistics.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace corefleck {
namespace {

constexpr int kMostCandidates = 120;  // a printed page offers hundreds of rows of strokes
constexpr double kLeastScore =
    0.5;  // true bars of the tuning renders score 0.70 and more, print that was taken for one 0.28

constexpr double kLongBlock = 1.7, kDoubtOfLong = 0.65;  // height over length; factor on the score
constexpr int kTonesAlong = 150;
constexpr double kRunsOn = 0.6;  // correlation of the row with what lies beside it

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

// Complete, regular and strong patterns score near 1. A pattern with more edges than the bar has is another
// object.
double score(const FoundBar& found, int blocks) {
  const int span = found.indices.back() - found.indices.front() + 1;
  if (span > blocks + 1 || span < std::max(3, blocks - 1)) return 0.0;
  const double pitch = axis_length(found.bar) / blocks;
  const double regular = std::exp(-std::pow(found.bar.residual_px / (0.005 * pitch + 0.5), 2.0));
  const double two_toned = std::exp(-std::pow(found.tone_scatter / 0.35, 2.0));
  const double complete = static_cast<double>(found.bar.used_edges()) / (blocks + 1);
  // Stripes are long beside their pitch, blocks of a bar about square.
  const double square = found.bar.height_px > kLongBlock * pitch ? kDoubtOfLong : 1.0;
  const double sharp = std::exp(-std::pow(found.bar.edge_width_px / (0.5 * pitch), 2.0));
  return regular * two_toned * sharp * square * (0.5 + 0.5 * complete);
}

std::vector<double> tones_along(const Overview& overview, const PixelSegment& axis, double aside_px) {
  const cv::Point2d from = overview.from_photo({axis.x1, axis.y1}),
                    to = overview.from_photo({axis.x2, axis.y2});
  const cv::Point2d along = to - from, across = cv::Point2d(-along.y, along.x) / cv::norm(along);
  std::vector<double> tones;
  for (int i = 0; i <= kTonesAlong; ++i) {
    const cv::Point2d p =
        from + (static_cast<double>(i) / kTonesAlong) * along + aside_px / overview.factor * across;
    tones.push_back(static_cast<double>(bilinear(overview.tone, p.x, p.y)));
  }
  return tones;
}

double correlation(const std::vector<double>& a, const std::vector<double>& b) {
  const auto n = static_cast<double>(a.size());
  const double mean_a = std::accumulate(a.begin(), a.end(), 0.0) / n,
               mean_b = std::accumulate(b.begin(), b.end(), 0.0) / n;
  double ab = 0.0, aa = 0.0, bb = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    ab += (a[i] - mean_a) * (b[i] - mean_b);
    aa += (a[i] - mean_a) * (a[i] - mean_a);
    bb += (b[i] - mean_b) * (b[i] - mean_b);
  }
  return aa > 0.0 && bb > 0.0 ? ab / std::sqrt(aa * bb) : 0.0;
}

// Stripes of a cloth or planks run on beside the row; a bar's blocks end.
bool runs_on_beside(const Overview& overview, const FoundBar& found, int blocks) {
  const double height = std::max(found.bar.height_px, 0.5 * axis_length(found.bar) / blocks);
  const std::vector<double> own = tones_along(overview, found.bar.axis, 0.0);
  for (const double side : {-1.0, 1.0}) {
    double least = 1.0;
    for (const double away : {0.9, 1.4, 2.0})
      least = std::min(least, correlation(own, tones_along(overview, found.bar.axis, side * away * height)));
    if (least > kRunsOn) return true;
  }
  return false;
}

std::string place(const FoundBar& found) {
  return fmt::format("({:.0f}, {:.0f})",
                     0.5 * (found.bar.axis.x1 + found.bar.axis.x2),
                     0.5 * (found.bar.axis.y1 + found.bar.axis.y2));
}

BarGuess guess_from(const BarCandidate& candidate, const Overview& overview) {
  BarGuess guess{};
  guess.first = overview.to_photo(candidate.first);
  const cv::Point2d span = overview.to_photo(candidate.last) - guess.first;
  guess.direction = span / cv::norm(span);
  guess.pitch = cv::norm(span) / (candidate.edges - 1);
  guess.edges = candidate.edges;
  guess.height = candidate.height * overview.factor;
  guess.ends_known = false;
  return guess;
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
  auto found = locate_bar(photo, guess, blocks);
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
bool plausible_pitch(double pitch_px, const FaceEllipse& face, const CalibrationSettings& settings) {
  const double core_mm =
      2.0 * face.semi_major * settings.bar_length.number() / settings.bar_blocks / pitch_px;
  return core_mm > 25.0 && core_mm < 200.0;
}

double nearest_distance(const PixelSegment& a, const PixelSegment& b) {
  double nearest = 1e9;
  for (int i = 0; i <= 20; ++i)
    for (int j = 0; j <= 20; ++j) {
      const double s = i / 20.0, t = j / 20.0;
      nearest = std::min(nearest,
                         std::hypot(a.x1 + s * (a.x2 - a.x1) - b.x1 - t * (b.x2 - b.x1),
                                    a.y1 + s * (a.y2 - a.y1) - b.y1 - t * (b.y2 - b.y1)));
    }
  return nearest;
}

// Two rows of blocks on one carrier, or the arms of an L, tell the same scale: no question arises between
// them.
bool same_object(const FoundBar& a, const FoundBar& b, int blocks) {
  return std::abs(axis_length(a.bar) / axis_length(b.bar) - 1.0) < 0.04 &&
         nearest_distance(a.bar.axis, b.bar.axis) < 3.0 * axis_length(a.bar) / blocks;
}

}  // namespace

Result<FoundBar> find_scale_bar(const Photo& photo,
                                const Overview& overview,
                                const FaceEllipse& face,
                                const CalibrationSettings& settings) {
  const int blocks = settings.bar_blocks;
  if (settings.bar_ends) return bar_by_hand(photo, *settings.bar_ends, blocks);
  std::vector<FoundBar> bars;
  int tried = 0;
  for (const BarCandidate& candidate : bar_candidates(overview, face_mask(overview, face), blocks)) {
    const BarGuess guess = guess_from(candidate, overview);
    if (!plausible_pitch(guess.pitch, face, settings)) continue;
    if (++tried > kMostCandidates) break;
    auto found = locate_bar(photo, guess, blocks);
    if (!found) continue;
    found->bar.score = score(*found, blocks);
    if (found->bar.score > kLeastScore && runs_on_beside(overview, *found, blocks)) continue;
    if (found->bar.score > kLeastScore) bars.push_back(*std::move(found));
  }
  if (bars.empty())
    return failure(ErrorCode::scale_bar_not_found,
                   fmt::format("no scale bar of {} blocks found in the photo", blocks),
                   "lay the bar flat beside the core, check --bar-blocks, or give --bar-ends X1,Y1,X2,Y2");
  std::stable_sort(
      bars.begin(), bars.end(), [](const auto& a, const auto& b) { return a.bar.score > b.bar.score; });
  for (std::size_t i = 1; i < bars.size(); ++i)
    if (bars[i].bar.score > 0.9 * bars[0].bar.score && !same_object(bars[i], bars[0], blocks))
      return failure(
          ErrorCode::scale_bar_ambiguous,
          fmt::format("two scale bars found, at {} and at {} pixels", place(bars[0]), place(bars[i])),
          "leave one bar in the frame, or say which with --bar-ends X1,Y1,X2,Y2");
  return std::move(bars.front());
}

}  // namespace corefleck
