#include "edge_pieces.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <optional>

namespace corefleck {
namespace {

constexpr float kSameDirection = 0.93F;  // cosine of the angle to a piece's mean direction, 21.6 degrees
constexpr double kMostBend_px = 0.7;     // standard deviation about a straight line

struct Gradient {
  cv::Mat x, y;   // CV_32FC1, change a pixel
  cv::Mat crest;  // CV_8UC1: 1 where the gradient is largest across its edge
};

void mark_crests(const cv::Mat& hidden, float least, Gradient& gradient, const cv::Range& rows) {
  const float least_square = least * least;
  for (int y = std::max(1, rows.start); y < std::min(gradient.x.rows - 1, rows.end); ++y) {
    const float* gx[3];  // NOLINT(modernize-avoid-c-arrays): its indices are signed
    const float* gy[3];  // NOLINT(modernize-avoid-c-arrays)
    for (int k = 0; k < 3; ++k) {
      gx[k] = gradient.x.ptr<float>(y + k - 1);
      gy[k] = gradient.y.ptr<float>(y + k - 1);
    }
    const unsigned char* out_of_sight = hidden.ptr(y);
    unsigned char* crest = gradient.crest.ptr(y);
    for (int x = 1; x + 1 < gradient.x.cols; ++x) {
      const float dx = gx[1][x], dy = gy[1][x], here = dx * dx + dy * dy;
      if (here < least_square || out_of_sight[x] != 0) continue;
      // The neighbours across the edge, to the nearest of eight directions (tan 22.5 degrees = 0.4142).
      const int i = std::abs(dx) > 0.4142F * std::abs(dy) ? 1 : 0;
      const int j = std::abs(dy) <= 0.4142F * std::abs(dx) ? 0 : (dx * dy < 0.0F && i != 0 ? -1 : 1);
      const float ax = gx[1 + j][x + i], ay = gy[1 + j][x + i];
      const float bx = gx[1 - j][x - i], by = gy[1 - j][x - i];
      crest[x] = here >= ax * ax + ay * ay && here > bx * bx + by * by ? 1 : 0;
    }
  }
}

Gradient gradient_of(const cv::Mat& image, const cv::Mat& hidden, float least) {
  Gradient gradient;
  gradient.x.create(image.size(), CV_32FC1);
  gradient.y.create(image.size(), CV_32FC1);
  gradient.crest = cv::Mat::zeros(image.size(), CV_8UC1);
  cv::parallel_for_(cv::Range(0, image.rows), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y) {  // Sobel's weights, as a slope
      const auto* above = image.ptr<float>(std::max(y - 1, 0));
      const auto* here = image.ptr<float>(y);
      const auto* below = image.ptr<float>(std::min(y + 1, image.rows - 1));
      auto* gx = gradient.x.ptr<float>(y);
      auto* gy = gradient.y.ptr<float>(y);
      gx[0] = gy[0] = gx[image.cols - 1] = gy[image.cols - 1] = 0.0F;
      for (int x = 1; x + 1 < image.cols; ++x) {
        gx[x] = 0.125F * (above[x + 1] - above[x - 1] + below[x + 1] - below[x - 1]) +
                0.25F * (here[x + 1] - here[x - 1]);
        gy[x] = 0.125F * (below[x - 1] - above[x - 1] + below[x + 1] - above[x + 1]) +
                0.25F * (below[x] - above[x]);
      }
    }
  });
  cv::parallel_for_(cv::Range(0, image.rows),
                    [&](const cv::Range& rows) { mark_crests(hidden, least, gradient, rows); });
  return gradient;
}

// Crest pixels that touch and point the same way, from one of them on; takes them off the map.
void grow(Gradient& gradient, cv::Point start, std::vector<cv::Point>& pixels, cv::Point2f& direction) {
  const auto at = [&](cv::Point p) { return cv::Point2f(gradient.x.at<float>(p), gradient.y.at<float>(p)); };
  pixels.assign(1, start);
  gradient.crest.at<unsigned char>(start) = 0;
  cv::Point2f sum = at(start) / std::sqrt(at(start).dot(at(start)));
  for (std::size_t next = 0; next < pixels.size(); ++next) {
    for (int k = 0; k < 9; ++k) {
      // A crest is one pixel wide and touches itself along the edge, so the border is never reached.
      const cv::Point p = pixels[next] + cv::Point(k % 3 - 1, k / 3 - 1);
      if (gradient.crest.at<unsigned char>(p) == 0) continue;
      const cv::Point2f g = at(p);
      const float size = std::sqrt(g.dot(g));
      if (g.dot(sum) < kSameDirection * size * std::sqrt(sum.dot(sum))) continue;
      gradient.crest.at<unsigned char>(p) = 0;
      sum += g / size;
      pixels.push_back(p);
    }
  }
  direction = sum / std::sqrt(sum.dot(sum));
}

// The crest between pixels: of the parabola through the gradients before, on and behind it.
cv::Point2d crest_place(const Gradient& gradient, cv::Point p, cv::Point2f direction) {
  const bool along_x = std::abs(direction.x) > std::abs(direction.y);
  const cv::Point step = along_x ? cv::Point(1, 0) : cv::Point(0, 1);
  const auto slope = [&](cv::Point q) {
    return gradient.x.at<float>(q) * direction.x + gradient.y.at<float>(q) * direction.y;
  };
  const float before = slope(p - step), here = slope(p), behind = slope(p + step);
  const float bend = before - 2.0F * here + behind;
  const double off =
      bend < 0.0F ? std::clamp(0.5 * static_cast<double>((before - behind) / bend), -0.5, 0.5) : 0.0;
  return cv::Point2d(p) + off * cv::Point2d(step);
}

std::optional<EdgePiece> straight_piece(const Gradient& gradient,
                                        const std::vector<cv::Point>& pixels,
                                        cv::Point2f direction,
                                        double least_length) {
  const auto n = static_cast<double>(pixels.size());
  cv::Point2d mean;
  double xx = 0.0, xy = 0.0, yy = 0.0;
  const cv::Point2d origin = pixels.front();
  for (const cv::Point& pixel : pixels) {
    const cv::Point2d p = crest_place(gradient, pixel, direction) - origin;
    mean += p;
    xx += p.x * p.x, xy += p.x * p.y, yy += p.y * p.y;
  }
  mean /= n;
  xx = xx / n - mean.x * mean.x, xy = xy / n - mean.x * mean.y, yy = yy / n - mean.y * mean.y;
  const double root = std::sqrt(0.25 * (xx - yy) * (xx - yy) + xy * xy);
  const double along = 0.5 * (xx + yy) + root, across = std::max(0.0, 0.5 * (xx + yy) - root);
  const double length = std::sqrt(12.0 * along);  // of an evenly covered line with this variance
  if (length < least_length || across > kMostBend_px * kMostBend_px) return std::nullopt;
  const double angle = 0.5 * std::atan2(2.0 * xy, xx - yy);
  cv::Point2d normal(-std::sin(angle), std::cos(angle));
  if (normal.dot(cv::Point2d(direction)) < 0.0) normal = -normal;
  return EdgePiece{origin + mean, normal, length};
}

}  // namespace

std::vector<EdgePiece> edge_pieces(const cv::Mat& image,
                                   const cv::Mat& hidden,
                                   float least_gradient,
                                   double least_length) {
  Gradient gradient = gradient_of(image, hidden, least_gradient);
  std::vector<EdgePiece> pieces;
  std::vector<cv::Point> pixels;
  for (int y = 1; y + 1 < image.rows; ++y) {
    for (int x = 1; x + 1 < image.cols; ++x) {
      if (gradient.crest.at<unsigned char>(y, x) == 0) continue;
      cv::Point2f direction;
      grow(gradient, {x, y}, pixels, direction);
      if (static_cast<double>(pixels.size()) < 0.7 * least_length) continue;
      if (auto piece = straight_piece(gradient, pixels, direction, least_length)) pieces.push_back(*piece);
    }
  }
  return pieces;
}

}  // namespace corefleck
