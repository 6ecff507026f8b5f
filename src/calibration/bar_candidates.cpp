#include "bar_candidates.hpp"

#include "edge_pieces.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace corefleck {
namespace {

constexpr float kLeastGradient = 2.5F;  // L* a pixel: a step of 10 between blocks, blurred by 1.6 px
constexpr double kLeastHeight_px = 6.0;
constexpr std::size_t kNearest = 3;  // neighbours tried on a side: dirt may lie between two edges
// Of the steps of light of two neighbouring edges, the lesser over the greater: blocks are of two tones, and
// light changes by far less from one to the next.
constexpr double kLikeStep = 0.5;

/// A piece and how much linear light changes across it.
struct LightStep {
  EdgePiece piece;
  double size;
};

// The piece moved across itself to where linear light changes: in L* a blurred edge lies too far on its dark
// side, which makes dark blocks narrow and light ones wide.
LightStep light_step(const EdgePiece& piece, const cv::Mat& luminance) {
  constexpr int kReach = 3, kLinesBeside = 2;
  const cv::Point2d along(-piece.normal.y, piece.normal.x);
  double weight = 0.0, sum = 0.0;
  for (int line = -kLinesBeside; line <= kLinesBeside; ++line) {
    const cv::Point2d middle = piece.middle + piece.length * (0.15 * line) * along;
    float before = 0.0F;
    for (int k = -kReach; k <= kReach; ++k) {
      const cv::Point2d p = middle + static_cast<double>(k) * piece.normal;
      const float here = bilinear(luminance, p.x, p.y);
      const double rise = k == -kReach ? 0.0 : std::max(0.0, static_cast<double>(here - before));
      weight += rise;
      sum += rise * (k - 0.5);
      before = here;
    }
  }
  EdgePiece moved = piece;
  if (weight > 0.0) moved.middle += sum / weight * piece.normal;
  return {moved, weight / (2 * kLinesBeside + 1)};
}

// Edge pieces by place: looked up by a bounding box.
class PieceMap {
 public:
  PieceMap(const std::vector<EdgePiece>& pieces, cv::Size size)
      : columns_(size.width / kCell + 1),
        rows_(size.height / kCell + 1),
        cells_(static_cast<std::size_t>(columns_ * rows_)) {
    for (std::size_t i = 0; i < pieces.size(); ++i)
      cells_[static_cast<std::size_t>(row(pieces[i].middle.y) * columns_ + column(pieces[i].middle.x))]
          .push_back(static_cast<int>(i));
  }

  template <class Visit>
  void within(cv::Point2d low, cv::Point2d high, Visit visit) const {
    for (int y = row(low.y); y <= row(high.y); ++y)
      for (int x = column(low.x); x <= column(high.x); ++x)
        for (const int i : cells_[static_cast<std::size_t>(y * columns_ + x)]) visit(i);
  }

 private:
  static constexpr int kCell = 16;
  [[nodiscard]] int column(double x) const {
    return std::clamp(static_cast<int>(x) / kCell, 0, columns_ - 1);
  }
  [[nodiscard]] int row(double y) const { return std::clamp(static_cast<int>(y) / kCell, 0, rows_ - 1); }

  int columns_, rows_;
  std::vector<std::vector<int>> cells_;
};

// Opposite polarity, parallel, beside each other along the normal, of like length.
bool could_be_neighbours(const EdgePiece& a, const EdgePiece& b, const BarKind& kind) {
  if (a.normal.dot(b.normal) > -0.99) return false;
  if (b.length < 0.5 * a.length || b.length > 2.0 * a.length) return false;
  const cv::Point2d d = b.middle - a.middle;
  const double along = std::abs(d.dot(a.normal));
  const double across = std::abs(d.cross(a.normal));
  return along > kind.least_pitch_px && along < kind.most_pitch_px && along > 0.2 * a.length &&
         along < 8.0 * a.length && across < 0.25 * a.length + 0.05 * along;
}

class ChainFinder {
 public:
  ChainFinder(const std::vector<EdgePiece>& pieces, cv::Size size, const BarKind& kind)
      : pieces_(pieces), map_(pieces, size), kind_(kind) {}

  // The nearest that may be the next edge in the direction of `side` times the normal.
  [[nodiscard]] std::vector<int> neighbours(int index, double side) const {
    const EdgePiece& a = piece(index);
    const double reach = std::min(kind_.most_pitch_px, 8.0 * a.length);
    const cv::Point2d far = a.middle + side * reach * a.normal;
    const double wide = 0.25 * a.length + 0.05 * reach;
    std::vector<std::pair<double, int>> found;
    map_.within({std::min(a.middle.x, far.x) - wide, std::min(a.middle.y, far.y) - wide},
                {std::max(a.middle.x, far.x) + wide, std::max(a.middle.y, far.y) + wide},
                [&](int i) {
                  const double along = side * (piece(i).middle - a.middle).dot(a.normal);
                  if (along > 0.0 && could_be_neighbours(a, piece(i), kind_)) found.emplace_back(along, i);
                });
    std::sort(found.begin(), found.end());
    std::vector<int> nearest;
    for (std::size_t k = 0; k < std::min(kNearest, found.size()); ++k) nearest.push_back(found[k].second);
    return nearest;
  }

  // From a pair of neighbours outwards, one pitch at a time, adapting the step to perspective; one edge may
  // be missing (-1).
  [[nodiscard]] std::vector<int> extended(int previous, int last) const {
    std::vector<int> chain;
    cv::Point2d step = piece(last).middle - piece(previous).middle, place = piece(last).middle;
    bool flip = true;
    int missed = 0, like = last;
    while (missed < 2 && chain.size() < 64) {
      place += step;
      const int next = at_place(piece(like), place, cv::norm(step), flip);
      flip = !flip;
      chain.push_back(next);
      if (next < 0) {
        ++missed;
        continue;
      }
      missed = 0;
      step += 0.5 * (piece(next).middle - place);
      place = piece(next).middle;
      like = next;
      flip = true;
    }
    while (!chain.empty() && chain.back() < 0) chain.pop_back();
    return chain;
  }

  [[nodiscard]] BarCandidate summary(const std::vector<int>& chain) const {
    BarCandidate bar{
        piece(chain.front()).middle, piece(chain.back()).middle, static_cast<int>(chain.size()), 0, 0.0};
    std::vector<double> lengths;
    for (const int i : chain)
      if (i >= 0) lengths.push_back(piece(i).length);
    bar.seen = static_cast<int>(lengths.size());
    const auto middle = lengths.begin() + static_cast<std::ptrdiff_t>(lengths.size() / 2);
    std::nth_element(lengths.begin(), middle, lengths.end());
    bar.height = *middle;
    return bar;
  }

 private:
  [[nodiscard]] const EdgePiece& piece(int i) const { return pieces_[static_cast<std::size_t>(i)]; }

  [[nodiscard]] int at_place(const EdgePiece& like, cv::Point2d place, double pitch, bool flip) const {
    const double off_along = 0.10 * pitch + 0.7, off_across = 0.4 * like.length;
    const cv::Point2d normal = flip ? -like.normal : like.normal;
    const cv::Point2d reach(off_along + off_across, off_along + off_across);
    int best = -1;
    double best_off = 1.0;
    map_.within(place - reach, place + reach, [&](int i) {
      const EdgePiece& s = piece(i);
      const cv::Point2d d = s.middle - place;
      const double along = std::abs(d.dot(like.normal)) / off_along;
      const double across = std::abs(d.cross(like.normal)) / off_across;
      if (along > 1.0 || across > 1.0 || s.normal.dot(normal) < 0.98) return;
      if (s.length < 0.5 * like.length || s.length > 2.0 * like.length) return;
      const double off = std::max(along, across);
      if (off < best_off || (off == best_off && i < best)) {
        best_off = off;
        best = i;
      }
    });
    return best;
  }

  const std::vector<EdgePiece>& pieces_;
  PieceMap map_;
  BarKind kind_;
};

// The same edges from another of their pairs; a row that goes on farther is tried beside it, since the bench
// may go on where the bar ends.
void add_new(std::vector<BarCandidate>& bars, const BarCandidate& bar) {
  const auto twin = std::find_if(bars.begin(), bars.end(), [&](const auto& other) {
    return other.edges == bar.edges && cv::norm(other.first - bar.first) < 2.0 &&
           cv::norm(other.last - bar.last) < 2.0;
  });
  if (twin == bars.end())
    bars.push_back(bar);
  else if (bar.seen > twin->seen)
    *twin = bar;
}

// A row that reaches a squared mat or print runs on where lines of it happen to lie at the next blocks'
// places: parted wherever an edge's step of light is another than its neighbour's.
std::vector<std::vector<int>> parts_of_like_steps(const std::vector<int>& chain,
                                                  const std::vector<double>& steps) {
  const auto step = [&](int piece) { return steps[static_cast<std::size_t>(piece)]; };
  std::vector<std::vector<int>> parts;
  int last = -1;
  for (const int piece : chain) {
    if (piece >= 0) {
      const bool like =
          last >= 0 && std::min(step(piece), step(last)) >= kLikeStep * std::max(step(piece), step(last));
      if (!like) parts.emplace_back();
      last = piece;
    }
    parts.back().push_back(piece);
  }
  for (auto& part : parts)
    while (part.back() < 0) part.pop_back();
  return parts;
}

// Up to the first edge that is missing.
std::vector<int> unbroken(const std::vector<int>& chain) {
  return {chain.begin(), std::find(chain.begin(), chain.end(), -1)};
}

std::vector<int> joined(const std::vector<int>& backward, int a, int b, const std::vector<int>& forward) {
  std::vector<int> chain(backward.rbegin(), backward.rend());
  chain.push_back(a);
  chain.push_back(b);
  chain.insert(chain.end(), forward.begin(), forward.end());
  return chain;
}

// The row that a chain of pieces makes, where enough of its edges are there.
void add_row(std::vector<BarCandidate>& bars,
             const ChainFinder& finder,
             const std::vector<int>& chain,
             int blocks) {
  const int least_seen = std::max(3, (blocks + 1) / 2);
  if (static_cast<int>(chain.size()) < least_seen) return;
  const BarCandidate bar = finder.summary(chain);
  if (bar.seen >= least_seen && bar.seen >= (bar.edges * 6 + 9) / 10) add_new(bars, bar);
}

}  // namespace

std::vector<BarCandidate> bar_candidates(const Overview& overview,
                                         const cv::Mat& hidden,
                                         const BarKind& kind) {
  std::vector<EdgePiece> pieces = edge_pieces(overview.tone, hidden, kLeastGradient, kLeastHeight_px);
  std::vector<double> steps;
  for (EdgePiece& piece : pieces) {
    const LightStep step = light_step(piece, overview.luminance);
    piece = step.piece;
    steps.push_back(step.size);
  }
  const ChainFinder finder(pieces, overview.tone.size(), kind);
  std::vector<BarCandidate> bars;
  // A pair inside an unbroken row that was followed already would only give that row again.
  std::vector<std::array<int, 2>> followed(pieces.size(), {-1, -1});
  for (int a = 0; a < static_cast<int>(pieces.size()); ++a) {
    for (const int b : finder.neighbours(a, 1.0)) {
      const auto& known = followed[static_cast<std::size_t>(a)];
      if (known[0] == b || known[1] == b) continue;
      const std::vector<int> forward = finder.extended(a, b), backward = finder.extended(b, a);
      const std::vector<int> core = joined(unbroken(backward), a, b, unbroken(forward));
      for (const auto& chain : {core, joined(backward, a, b, forward)}) {
        add_row(bars, finder, chain, kind.blocks);
        if (static_cast<int>(chain.size()) <= kind.blocks + 1) continue;
        for (const auto& part : parts_of_like_steps(chain, steps)) add_row(bars, finder, part, kind.blocks);
      }
      for (std::size_t k = 0; k + 1 < core.size(); ++k) {
        followed[static_cast<std::size_t>(core[k])][1] = core[k + 1];
        followed[static_cast<std::size_t>(core[k + 1])][0] = core[k];
      }
    }
  }
  // A row with more edges than the bar has is another thing, however complete.
  const auto rank = [&](const BarCandidate& bar) { return bar.edges <= kind.blocks + 3 ? bar.seen : 0; };
  std::stable_sort(bars.begin(), bars.end(), [&](const auto& a, const auto& b) { return rank(a) > rank(b); });
  return bars;
}

}  // namespace corefleck
