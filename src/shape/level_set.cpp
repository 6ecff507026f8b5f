#include "corefleck/shape.hpp"

#include <array>
#include <cassert>
#include <cmath>
#include <cstdint>
#include <limits>
#include <utility>

namespace corefleck {
namespace {

// Value half way between b and c on a line a b c d: the cubic through the four, or the mean of the two where
// the line ends or leaves the values.
float half_way(float a, float b, float c, float d) {
  const float cubic = (9.0F * (b + c) - (a + d)) / 16.0F;
  return std::isfinite(cubic) ? cubic : (b + c) / 2.0F;
}

// The field with a column between any two.
cv::Mat with_columns_between(const cv::Mat& field) {
  constexpr float kNothing = std::numeric_limits<float>::quiet_NaN();
  cv::Mat finer(field.rows, 2 * field.cols - 1, CV_32FC1);
  for (int y = 0; y < field.rows; ++y) {
    const float* coarse = field.ptr<float>(y);
    float* fine = finer.ptr<float>(y);
    for (int x = 0; x < field.cols; ++x) fine[2 * x] = coarse[x];
    for (int x = 0; x + 1 < field.cols; ++x) {
      const float before = x > 0 ? coarse[x - 1] : kNothing;
      const float after = x + 2 < field.cols ? coarse[x + 2] : kNothing;
      fine[2 * x + 1] = half_way(before, coarse[x], coarse[x + 1], after);
    }
  }
  return finer;
}

cv::Mat at_half_pixels(const cv::Mat& field) {
  return with_columns_between(with_columns_between(field).t()).t();
}

// Nodes of the padded field are numbered row by row; a cell goes by its top left node. An edge goes by the
// node at its left or upper end: 2 node for the one to the right, 2 node + 1 for the one downwards.
using Edge = std::int32_t;

// Marching squares on a field framed by -infinity, so that no outline is open.
class LevelSet {
 public:
  LevelSet(const cv::Mat& field, float level) : level_(double{level}), stride_(field.cols + 2) {
    assert(field.type() == CV_32FC1);
    assert(field.total() < (std::size_t{1} << 29));
    // Isolated: a patch of a larger field must not see the pixels around it.
    constexpr int kFrame = cv::BORDER_CONSTANT | cv::BORDER_ISOLATED;
    constexpr double kOutside = -std::numeric_limits<double>::infinity();
    cv::copyMakeBorder(field, padded_, 1, 1, 1, 1, kFrame, kOutside);
    values_ = padded_.ptr<float>();
  }

  [[nodiscard]] std::size_t edge_count() const { return 2 * padded_.total(); }

  /// Where the outline crosses the edge. Each edge is asked by two cells, which get the same answer to the
  /// last bit.
  [[nodiscard]] cv::Point2d crossing(Edge edge) const {
    const Edge node = edge / 2;
    const bool downwards = edge % 2 == 1;
    const double near = double{values_[node]};
    const double far = double{values_[downwards ? node + stride_ : node + 1]};
    const bool near_inside = near >= level_;
    const double inside = near_inside ? near : far, outside = near_inside ? far : near;
    // The last pixel inside keeps its centre where nothing is known beyond it.
    const double step_out = std::isfinite(outside) ? (inside - level_) / (inside - outside) : 0.0;
    const double t = near_inside ? step_out : 1.0 - step_out;
    const double x = node % stride_ - 1, y = node / stride_ - 1;
    return downwards ? cv::Point2d{x, y + t} : cv::Point2d{x + t, y};
  }

  /// Calls visit(from, to) for each piece of the outline within a cell; what is inside lies to the right of
  /// the piece as a photo is seen, so that outer outlines have positive area.
  template <class Visit>
  void for_each_piece(const Visit& visit) const {
    for (Edge y = 0; y + 1 < padded_.rows; ++y) {
      const Edge row = y * stride_;
      int left = 0;  // the frame is outside
      for (Edge x = 0; x + 1 < stride_; ++x) {
        const Edge cell = row + x;
        // Bits: 1 top left, 2 top right, 4 bottom right, 8 bottom left.
        const int right = (inside(cell + 1) ? 2 : 0) | (inside(cell + 1 + stride_) ? 4 : 0);
        const int corners = left | right;
        left = (right & 2) >> 1 | (right & 4) << 1;
        if (corners != 0 && corners != 15) visit_pieces(cell, corners, visit);
      }
    }
  }

 private:
  [[nodiscard]] bool inside(Edge node) const { return double{values_[node]} >= level_; }

  [[nodiscard]] bool joined(Edge cell) const {
    double sum = 0.0;
    for (const Edge node : {cell, cell + 1, cell + stride_, cell + stride_ + 1}) sum += double{values_[node]};
    return sum / 4.0 >= level_;
  }

  template <class Visit>
  void visit_pieces(Edge cell, int corners, const Visit& visit) const {
    const Edge top = 2 * cell, left = top + 1, right = left + 2, bottom = top + 2 * stride_;
    switch (corners) {
      case 1:
        return visit(top, left);
      case 2:
        return visit(right, top);
      case 3:
        return visit(right, left);
      case 4:
        return visit(bottom, right);
      case 6:
        return visit(bottom, top);
      case 7:
        return visit(bottom, left);
      case 8:
        return visit(left, bottom);
      case 9:
        return visit(top, bottom);
      case 11:
        return visit(right, bottom);
      case 12:
        return visit(left, right);
      case 13:
        return visit(top, right);
      case 14:
        return visit(left, top);
      case 5: {
        const bool one = joined(cell);
        visit(top, one ? right : left);
        return visit(bottom, one ? left : right);
      }
      case 10: {
        const bool one = joined(cell);
        visit(left, one ? top : bottom);
        return visit(right, one ? bottom : top);
      }
      default:
        assert(false);
    }
  }

  double level_;
  Edge stride_;
  cv::Mat padded_;
  const float* values_ = nullptr;
};

std::vector<LevelContour> contours_on_grid(const cv::Mat& field, float level) {
  const LevelSet level_set(field, level);
  // Every crossed edge is the start of one piece and the end of one: the pieces link up by edge alone.
  constexpr Edge kNone = -1;
  std::vector<Edge> next(level_set.edge_count(), kNone), starts;
  level_set.for_each_piece([&](Edge from, Edge to) {
    next[static_cast<std::size_t>(from)] = to;
    starts.push_back(from);
  });

  std::vector<LevelContour> contours;
  for (const Edge start : starts) {
    Polygon points;
    for (Edge edge = start; next[static_cast<std::size_t>(edge)] != kNone;) {
      const cv::Point2d point = level_set.crossing(edge);
      if (points.empty() || points.back() != point) points.push_back(point);
      edge = std::exchange(next[static_cast<std::size_t>(edge)], kNone);
    }
    while (points.size() > 1 && points.back() == points.front()) points.pop_back();
    const double area = polygon_area(points);
    if (area == 0.0)
      continue;  // a pixel or a line of pixels at the very level, or one pixel wide at the border
    contours.push_back({std::move(points), area});
  }
  return contours;
}

double area_on_grid(const cv::Mat& field, float level) {
  const LevelSet level_set(field, level);
  const cv::Point2d centre{field.cols / 2.0, field.rows / 2.0};
  double twice_area = 0.0;
  level_set.for_each_piece([&](Edge from, Edge to) {
    twice_area += (level_set.crossing(from) - centre).cross(level_set.crossing(to) - centre);
  });
  return twice_area / 2.0;
}

}  // namespace

std::vector<LevelContour> level_contours(const cv::Mat& field, float level, LevelGrid grid) {
  if (field.empty()) return {};
  if (grid == LevelGrid::pixels) return contours_on_grid(field, level);
  std::vector<LevelContour> contours = contours_on_grid(at_half_pixels(field), level);
  for (LevelContour& contour : contours) {
    for (cv::Point2d& point : contour.points) point /= 2.0;
    contour.area /= 4.0;
  }
  return contours;
}

double level_area(const cv::Mat& field, float level, LevelGrid grid) {
  if (field.empty()) return 0.0;
  return grid == LevelGrid::pixels ? area_on_grid(field, level)
                                   : area_on_grid(at_half_pixels(field), level) / 4.0;
}

}  // namespace corefleck
