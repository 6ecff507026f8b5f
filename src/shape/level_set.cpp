#include "corefleck/shape.hpp"

#include <array>
#include <cassert>
#include <cmath>
#include <cstdint>
#include <limits>
#include <utility>

namespace corefleck {
namespace {

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
    cv::copyMakeBorder(field,
                       padded_,
                       1,
                       1,
                       1,
                       1,
                       cv::BORDER_CONSTANT | cv::BORDER_ISOLATED,
                       -std::numeric_limits<double>::infinity());
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

}  // namespace

std::vector<LevelContour> level_contours(const cv::Mat& field, float level) {
  if (field.empty()) return {};
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
    if (points.size() < 3) continue;
    const double area = polygon_area(points);
    contours.push_back({std::move(points), area});
  }
  return contours;
}

double level_area(const cv::Mat& field, float level) {
  if (field.empty()) return 0.0;
  const LevelSet level_set(field, level);
  const cv::Point2d centre{field.cols / 2.0, field.rows / 2.0};
  double twice_area = 0.0;
  level_set.for_each_piece([&](Edge from, Edge to) {
    twice_area += (level_set.crossing(from) - centre).cross(level_set.crossing(to) - centre);
  });
  return twice_area / 2.0;
}

}  // namespace corefleck
