#include "turn_search.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr int kTurns = 720;  // steps of half a degree: 0.4 mm at the rim, a third of the finest coarse detail
constexpr double kRadiusStep_mm = 0.6;
constexpr double kInnermost = 0.12;  // of the radius: further in, a ring has too few pixels to tell a turn
constexpr std::size_t kCandidates = 5;
constexpr int kApart = 8;          // steps between two candidates
constexpr int kShiftReach_px = 6;  // coarse pixels

/// The coarse detail round a centre: a row a radius, a column an angle, counterclockwise.
struct Unwrapped {
  cv::Mat detail, squared, seen;
};

Unwrapped unwrapped(const FaceDetail& face, const cv::Point2d& centre_mm, double radius_mm) {
  const FaceGrid& grid = face.coarse_grid;
  const double pitch = grid.pitch.number();
  const int rings = std::max(8, static_cast<int>((1.0 - kInnermost) * radius_mm / kRadiusStep_mm));
  cv::Mat map(rings, kTurns, CV_32FC2);
  for (int ring = 0; ring < rings; ++ring) {
    const double r = kInnermost * radius_mm + (ring + 0.5) * kRadiusStep_mm;
    auto* places = map.ptr<cv::Vec2f>(ring);
    for (int turn = 0; turn < kTurns; ++turn) {
      const double angle = 2.0 * CV_PI * turn / kTurns;
      const double x = centre_mm.x + r * std::cos(angle), y = centre_mm.y + r * std::sin(angle);
      places[turn] = cv::Vec2f(static_cast<float>(grid.centre_px + x / pitch),
                               static_cast<float>(grid.centre_px - y / pitch));
    }
  }
  Unwrapped result;
  cv::Mat seen;
  cv::remap(face.coarse, result.detail, map, {}, cv::INTER_LINEAR, cv::BORDER_CONSTANT);
  cv::remap(face.coarse_seen, seen, map, {}, cv::INTER_NEAREST, cv::BORDER_CONSTANT);
  seen.convertTo(result.seen, CV_32F, 1.0 / 255.0);
  result.detail = result.detail.mul(result.seen);
  // A ring counts by its length: as many independent pieces of detail lie on it.
  for (int ring = 0; ring < rings; ++ring)
    result.detail.row(ring) *= std::sqrt(kInnermost * radius_mm + (ring + 0.5) * kRadiusStep_mm);
  result.squared = result.detail.mul(result.detail);
  return result;
}

cv::Mat spectra(const cv::Mat& rings) {
  cv::Mat result;
  cv::dft(rings, result, cv::DFT_ROWS);
  return result;
}

/// Sum over the rings of the circular correlation: element k pairs angle a of `first` with angle a + k of
/// `second`.
cv::Mat circular_correlation(const cv::Mat& first_spectra, const cv::Mat& second_spectra) {
  cv::Mat product, sum, result;
  cv::mulSpectrums(second_spectra, first_spectra, product, cv::DFT_ROWS, /*conjB=*/true);
  cv::reduce(product, sum, 0, cv::REDUCE_SUM, CV_32F);
  cv::dft(sum, result, cv::DFT_INVERSE | cv::DFT_REAL_OUTPUT | cv::DFT_SCALE | cv::DFT_ROWS);
  return result;
}

/// Normalised correlation over what both photos show, for every turn.
std::vector<double> correlation_by_turn(const Unwrapped& first, const Unwrapped& second) {
  const cv::Mat d1 = spectra(first.detail), q1 = spectra(first.squared), s1 = spectra(first.seen);
  const cv::Mat d2 = spectra(second.detail), q2 = spectra(second.squared), s2 = spectra(second.seen);
  const cv::Mat common = circular_correlation(d1, d2), first_energy = circular_correlation(q1, s2),
                second_energy = circular_correlation(s1, q2);
  std::vector<double> result(kTurns);
  for (int k = 0; k < kTurns; ++k) {
    const double energy =
        static_cast<double>(first_energy.at<float>(k)) * static_cast<double>(second_energy.at<float>(k));
    result[static_cast<std::size_t>(k)] =
        energy > 1e-6 ? static_cast<double>(common.at<float>(k)) / std::sqrt(energy) : 0.0;
  }
  return result;
}

std::vector<int> best_turns(const std::vector<double>& by_turn) {
  std::vector<int> order(by_turn.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = static_cast<int>(i);
  std::sort(order.begin(), order.end(), [&](int a, int b) {
    const double va = by_turn[static_cast<std::size_t>(a)], vb = by_turn[static_cast<std::size_t>(b)];
    return va != vb ? va > vb : a < b;
  });
  std::vector<int> chosen;
  for (const int turn : order) {
    const bool apart = std::all_of(chosen.begin(), chosen.end(), [&](int other) {
      const int gap = std::abs(turn - other);
      return std::min(gap, kTurns - gap) >= kApart;
    });
    if (apart) chosen.push_back(turn);
    if (chosen.size() == kCandidates) break;
  }
  return chosen;
}

/// The second face's coarse detail as the first face's grid would show it.
cv::Mat turned_back(const FaceDetail& first, const FaceDetail& second, const FaceTransform& transform) {
  const cv::Matx33d map = grid_map(first.coarse_grid, second.coarse_grid, transform);
  cv::Mat result;
  cv::warpPerspective(
      second.coarse, result, map, first.coarse.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP);
  return result;
}

/// Adds the shift at which the coarse details agree best to a turn about the centres.
TurnCandidate with_shift(const FaceDetail& first, const FaceDetail& second, const FaceTransform& turn) {
  const cv::Mat there = turned_back(first, second, turn);
  const int side = first.coarse.cols - 2 * kShiftReach_px;
  const cv::Mat here = first.coarse(cv::Rect(kShiftReach_px, kShiftReach_px, side, side));
  cv::Mat agreement;
  cv::matchTemplate(there, here, agreement, cv::TM_CCORR);
  cv::Point peak;
  double most = 0.0;
  cv::minMaxLoc(agreement, nullptr, &most, nullptr, &peak);
  const double pitch = first.coarse_grid.pitch.number();
  const cv::Vec2d on_first((peak.x - kShiftReach_px) * pitch, -(peak.y - kShiftReach_px) * pitch);
  FaceTransform moved = turn;
  moved.shift_mm += turn.linear * on_first;
  const double energy = cv::norm(here) * cv::norm(there);
  return {moved, energy > 0.0 ? most / energy : 0.0};
}

}  // namespace

std::vector<TurnCandidate> turn_candidates(const FaceDetail& first,
                                           const FaceDetail& second,
                                           const cv::Point2d& centre_mm) {
  const double radius = std::min(first.radius, second.radius).number();
  const std::vector<double> by_turn =
      correlation_by_turn(unwrapped(first, {0.0, 0.0}, radius), unwrapped(second, centre_mm, radius));
  std::vector<TurnCandidate> candidates;
  for (const int turn : best_turns(by_turn)) {
    const double angle = 2.0 * CV_PI * turn / kTurns;
    const cv::Matx22d rotation(std::cos(angle), -std::sin(angle), std::sin(angle), std::cos(angle));
    candidates.push_back(with_shift(first, second, {rotation, {centre_mm.x, centre_mm.y}, {0.0, 0.0}}));
  }
  std::stable_sort(candidates.begin(), candidates.end(), [](const TurnCandidate& a, const TurnCandidate& b) {
    return a.correlation > b.correlation;
  });
  return candidates;
}

}  // namespace corefleck
