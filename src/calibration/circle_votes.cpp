#include "circle_votes.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kCell_px = 3.0;
constexpr double kOnePlace = 0.3;  // of a circle's radius, between centres
constexpr int kMostAtOnePlace = 6;

struct EdgePixel {
  double x, y, nx, ny;
  float weight;
};

// Edges are judged against their surroundings, so that a faint rim on a smooth bench counts like a strong
// one, and a busy texture does not outvote it.
std::vector<EdgePixel> edge_pixels(const cv::Mat& tone) {
  cv::Mat smooth, gx, gy, magnitude, around;
  cv::GaussianBlur(tone, smooth, {}, 1.4);
  cv::Scharr(smooth, gx, CV_32F, 1, 0, 1.0 / 32.0);
  cv::Scharr(smooth, gy, CV_32F, 0, 1, 1.0 / 32.0);
  cv::magnitude(gx, gy, magnitude);
  cv::boxFilter(magnitude, around, CV_32F, {25, 25});
  std::vector<EdgePixel> edges;
  for (int y = 1; y < tone.rows - 1; ++y) {
    for (int x = 1; x < tone.cols - 1; ++x) {
      const float m = magnitude.at<float>(y, x);
      const float relative = m / (around.at<float>(y, x) + 0.15F);
      if (m < 0.25F || relative < 1.2F) continue;
      const float nx = gx.at<float>(y, x) / m;
      const float ny = gy.at<float>(y, x) / m;
      const int dx = static_cast<int>(std::lround(nx));
      const int dy = static_cast<int>(std::lround(ny));
      if (m < magnitude.at<float>(y + dy, x + dx) || m < magnitude.at<float>(y - dy, x - dx)) continue;
      edges.push_back(
          {1.0 * x, 1.0 * y, static_cast<double>(nx), static_cast<double>(ny), std::min(relative, 2.5F)});
    }
  }
  return edges;
}

struct VoteSpace {
  int nx, ny, nr;
  double min_r;
  std::vector<float> votes;
  [[nodiscard]] std::size_t index(int x, int y, int r) const {
    return (static_cast<std::size_t>(r) * static_cast<std::size_t>(ny) + static_cast<std::size_t>(y)) *
               static_cast<std::size_t>(nx) +
           static_cast<std::size_t>(x);
  }
};

/// Calls `function` for every radius of the space, on all processors: no two of them share a layer.
template <class Function>
void each_radius(const VoteSpace& space, Function function) {
  cv::parallel_for_(cv::Range(0, space.nr), [&](const cv::Range& radii) { function(radii); });
}

VoteSpace cast_votes(const std::vector<EdgePixel>& edges, cv::Size size, double min_r, double max_r) {
  VoteSpace space{static_cast<int>(size.width / kCell_px) + 1,
                  static_cast<int>(size.height / kCell_px) + 1,
                  static_cast<int>((max_r - min_r) / kCell_px) + 1,
                  min_r,
                  {}};
  space.votes.assign(space.index(0, 0, space.nr), 0.0F);
  each_radius(space, [&](const cv::Range& radii) {
    for (const EdgePixel& edge : edges) {
      for (const double side : {-1.0, 1.0}) {
        for (int k = radii.start; k < radii.end; ++k) {
          const double r = min_r + kCell_px * k;
          const double x = (edge.x + side * r * edge.nx) / kCell_px;
          const double y = (edge.y + side * r * edge.ny) / kCell_px;
          if (x < 0 || y < 0 || x >= space.nx || y >= space.ny) break;
          space.votes[space.index(static_cast<int>(x), static_cast<int>(y), k)] += edge.weight;
        }
      }
    }
  });
  return space;
}

// Each radius layer is summed over its neighbours, since tilt makes the circle an ellipse, and divided by the
// circumference, since a large circle has more edge pixels.
std::vector<cv::Mat> smoothed_layers(VoteSpace& space) {
  std::vector<cv::Mat> planes(static_cast<std::size_t>(space.nr)), layers(planes.size());
  each_radius(space, [&](const cv::Range& radii) {
    for (int k = radii.start; k < radii.end; ++k) {
      const cv::Mat raw(space.ny, space.nx, CV_32FC1, &space.votes[space.index(0, 0, k)]);
      cv::boxFilter(raw, planes[static_cast<std::size_t>(k)], CV_32F, {3, 3}, {-1, -1}, false);
    }
  });
  each_radius(space, [&](const cv::Range& radii) {
    for (int k = radii.start; k < radii.end; ++k) {
      cv::Mat layer = planes[static_cast<std::size_t>(k)].clone();
      if (k > 0) layer += planes[static_cast<std::size_t>(k - 1)];
      if (k + 1 < space.nr) layer += planes[static_cast<std::size_t>(k + 1)];
      layer /= 2.0 * CV_PI * (space.min_r + kCell_px * k) * 1.8;
      layers[static_cast<std::size_t>(k)] = layer;
    }
  });
  return layers;
}

bool near_other(const std::vector<CircleCandidate>& taken, const CircleCandidate& candidate) {
  return std::any_of(taken.begin(), taken.end(), [&](const CircleCandidate& other) {
    return std::hypot(other.x - candidate.x, other.y - candidate.y) < 0.08 * other.r &&
           std::abs(other.r - candidate.r) < 0.06 * other.r;
  });
}

/// A rim as thick as a cup's makes circles enough to fill the list alone.
bool place_is_full(const std::vector<CircleCandidate>& taken, const CircleCandidate& candidate) {
  return std::count_if(taken.begin(), taken.end(), [&](const CircleCandidate& other) {
           return std::hypot(other.x - candidate.x, other.y - candidate.y) < kOnePlace * other.r;
         }) >= kMostAtOnePlace;
}

}  // namespace

std::vector<CircleCandidate> circle_candidates(const cv::Mat& tone, double min_r, double max_r, int count) {
  VoteSpace space = cast_votes(edge_pixels(tone), tone.size(), min_r, max_r);
  std::vector<CircleCandidate> peaks;
  const std::vector<cv::Mat> layers = smoothed_layers(space);
  for (int k = 0; k < space.nr; ++k) {
    const cv::Mat& layer = layers[static_cast<std::size_t>(k)];
    for (int y = 0; y < layer.rows; ++y)
      for (int x = 0; x < layer.cols; ++x)
        if (layer.at<float>(y, x) > 0.12F)
          peaks.push_back({(x + 0.5) * kCell_px,
                           (y + 0.5) * kCell_px,
                           min_r + kCell_px * k,
                           static_cast<double>(layer.at<float>(y, x))});
  }
  std::stable_sort(
      peaks.begin(), peaks.end(), [](const auto& a, const auto& b) { return a.votes > b.votes; });
  std::vector<CircleCandidate> best;
  for (const CircleCandidate& peak : peaks) {
    if (static_cast<int>(best.size()) >= count) break;
    if (!near_other(best, peak) && !place_is_full(best, peak)) best.push_back(peak);
  }
  return best;
}

}  // namespace corefleck
