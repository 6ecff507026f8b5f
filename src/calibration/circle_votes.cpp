#include "circle_votes.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kCell_px = 3.0;
constexpr double kOnePlace = 0.3;  // of a circle's radius, between centres
constexpr int kMostAtOnePlace = 6;
constexpr float kLeastVotes = 0.12F;  // by edge pixels of a circumference

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

/// Votes for circles of one radius, by cells of their centres.
struct Layer {
  double r;
  cv::Mat votes;  ///< CV_32FC1
};

/// Calls `function` for the number of every layer, on all processors.
template <class Function>
void each_of(const std::vector<Layer>& layers, Function function) {
  cv::parallel_for_(cv::Range(0, static_cast<int>(layers.size())), [&](const cv::Range& range) {
    for (auto k = static_cast<std::size_t>(range.start); k < static_cast<std::size_t>(range.end); ++k)
      function(k);
  });
}

cv::Mat votes_for(double r, const std::vector<EdgePixel>& edges, cv::Size cells) {
  cv::Mat votes = cv::Mat::zeros(cells, CV_32FC1);
  for (const EdgePixel& edge : edges)
    for (const double side : {-1.0, 1.0}) {
      const double x = (edge.x + side * r * edge.nx) / kCell_px;
      const double y = (edge.y + side * r * edge.ny) / kCell_px;
      if (x < 0 || y < 0 || x >= cells.width || y >= cells.height) continue;
      votes.at<float>(static_cast<int>(y), static_cast<int>(x)) += edge.weight;
    }
  return votes;
}

/// Votes in each cell and those beside it, from the least radius on.
std::vector<Layer> cast_votes(const std::vector<EdgePixel>& edges,
                              cv::Size size,
                              double min_r,
                              double max_r) {
  const cv::Size cells(static_cast<int>(size.width / kCell_px) + 1,
                       static_cast<int>(size.height / kCell_px) + 1);
  std::vector<Layer> layers(static_cast<std::size_t>((max_r - min_r) / kCell_px) + 1);
  each_of(layers, [&](std::size_t k) {
    layers[k].r = min_r + kCell_px * static_cast<double>(k);
    const cv::Mat votes = votes_for(layers[k].r, edges, cells);
    cv::boxFilter(votes, layers[k].votes, CV_32F, {3, 3}, {-1, -1}, false);
  });
  return layers;
}

// Each layer is summed over its neighbours, since tilt makes the circle an ellipse, and divided by the
// circumference, since a large circle has more edge pixels.
cv::Mat with_neighbours(const std::vector<Layer>& layers, std::size_t k) {
  cv::Mat sum = layers[k].votes.clone();
  if (k > 0) sum += layers[k - 1].votes;
  if (k + 1 < layers.size()) sum += layers[k + 1].votes;
  sum /= 2.0 * CV_PI * layers[k].r * 1.8;
  return sum;
}

/// Circles with enough votes, by radius, row and column.
std::vector<CircleCandidate> peaks_of(const std::vector<Layer>& layers) {
  std::vector<std::vector<CircleCandidate>> by_layer(layers.size());
  each_of(layers, [&](std::size_t k) {
    const cv::Mat votes = with_neighbours(layers, k);
    for (int y = 0; y < votes.rows; ++y) {
      const auto* row = votes.ptr<float>(y);
      for (int x = 0; x < votes.cols; ++x)
        if (row[x] > kLeastVotes)
          by_layer[k].push_back(
              {(x + 0.5) * kCell_px, (y + 0.5) * kCell_px, layers[k].r, static_cast<double>(row[x])});
    }
  });
  std::vector<CircleCandidate> peaks;
  for (const auto& some : by_layer) peaks.insert(peaks.end(), some.begin(), some.end());
  return peaks;
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
  std::vector<CircleCandidate> peaks = peaks_of(cast_votes(edge_pixels(tone), tone.size(), min_r, max_r));
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
