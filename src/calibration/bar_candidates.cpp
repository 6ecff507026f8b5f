#include "bar_candidates.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

struct Segment {
  cv::Point2d middle;
  cv::Point2d normal;  ///< unit, towards the lighter side
  double length;
};

std::vector<Segment> line_segments(const Overview& overview, const cv::Mat& hidden) {
  cv::Mat tone8;
  overview.tone.convertTo(tone8, CV_8U, 2.2);
  const auto detector = cv::createLineSegmentDetector(cv::LSD_REFINE_STD, 0.8, 0.6, 2.0, 22.5, 0.0, 0.7);
  std::vector<cv::Vec4f> lines;
  detector->detect(tone8, lines);
  std::vector<Segment> segments;
  for (const cv::Vec4f& line : lines) {
    const cv::Point2d a(static_cast<double>(line[0]), static_cast<double>(line[1]));
    const cv::Point2d b(static_cast<double>(line[2]), static_cast<double>(line[3]));
    const double length = cv::norm(b - a);
    if (length < 5.0) continue;
    const cv::Point2d middle = 0.5 * (a + b);
    if (hidden.at<unsigned char>(std::clamp(static_cast<int>(middle.y), 0, hidden.rows - 1),
                                 std::clamp(static_cast<int>(middle.x), 0, hidden.cols - 1)) != 0)
      continue;
    cv::Point2d normal(-(b.y - a.y) / length, (b.x - a.x) / length);
    const auto tone = [&](double offset) {
      return bilinear(overview.tone, middle.x + offset * normal.x, middle.y + offset * normal.y);
    };
    const float step = tone(2.5) - tone(-2.5);
    if (std::abs(step) < 6.0F) continue;
    if (step < 0.0F) normal = -normal;
    segments.push_back({middle, normal, length});
  }
  return segments;
}

// Opposite polarity, parallel, beside each other along the normal, of like length.
bool could_be_neighbours(const Segment& a, const Segment& b) {
  if (a.normal.dot(b.normal) > -0.996) return false;
  if (b.length < 0.55 * a.length || b.length > 1.8 * a.length) return false;
  const cv::Point2d d = b.middle - a.middle;
  const double along = std::abs(d.dot(a.normal));
  const double across = std::abs(d.cross(a.normal));
  return along > 5.0 && along > 0.2 * a.length && along < 8.0 * a.length &&
         across < 0.25 * a.length + 0.04 * along;
}

struct Chain {
  std::vector<const Segment*> found;  ///< nullptr where an edge was bridged
};

const Segment* at_place(
    const std::vector<Segment>& segments, const Segment& like, cv::Point2d place, double pitch, bool flip) {
  const Segment* best = nullptr;
  double best_off = 1.0;
  const cv::Point2d normal = flip ? -like.normal : like.normal;
  for (const Segment& s : segments) {
    const cv::Point2d d = s.middle - place;
    const double along = std::abs(d.dot(like.normal)) / (0.10 * pitch + 0.7);
    const double across = std::abs(d.cross(like.normal)) / (0.4 * like.length);
    if (along > 1.0 || across > 1.0 || s.normal.dot(normal) < 0.99) continue;
    if (s.length < 0.4 * like.length || s.length > 2.2 * like.length) continue;
    const double off = std::max(along, across);
    if (off < best_off) {
      best_off = off;
      best = &s;
    }
  }
  return best;
}

// From a pair of neighbours outwards, one pitch at a time, adapting the step to perspective; one edge may be
// missing.
void extend(const std::vector<Segment>& segments,
            std::vector<const Segment*>& chain,
            const Segment* previous,
            const Segment* last) {
  cv::Point2d step = last->middle - previous->middle;
  cv::Point2d place = last->middle;
  bool flip = true;
  int missed = 0;
  const Segment* like = last;
  while (missed < 2 && chain.size() < 64) {
    place += step;
    const Segment* next = at_place(segments, *like, place, cv::norm(step), flip);
    flip = !flip;
    chain.push_back(next);
    if (next == nullptr) {
      ++missed;
      continue;
    }
    missed = 0;
    step = 0.5 * step + 0.5 * (step + (next->middle - place));
    place = next->middle;
    like = next;
    flip = true;
  }
  while (!chain.empty() && chain.back() == nullptr) chain.pop_back();
}

BarCandidate summarise(const std::vector<const Segment*>& chain) {
  BarCandidate bar{chain.front()->middle, chain.back()->middle, static_cast<int>(chain.size()), 0, 0.0};
  std::vector<double> lengths;
  for (const Segment* s : chain)
    if (s != nullptr) lengths.push_back(s->length);
  bar.seen = static_cast<int>(lengths.size());
  std::nth_element(
      lengths.begin(), lengths.begin() + static_cast<std::ptrdiff_t>(lengths.size() / 2), lengths.end());
  bar.height = lengths[lengths.size() / 2];
  return bar;
}

// A ruler's ticks beside the blocks have the blocks' pitch, but not their line.
bool same_row(const BarCandidate& a, const BarCandidate& b) {
  const cv::Point2d span = a.last - a.first;
  const double reach = cv::norm(span);
  const cv::Point2d apart = 0.5 * (a.first + a.last) - 0.5 * (b.first + b.last);
  return std::abs(apart.dot(span)) < 0.3 * reach * reach &&
         std::abs(apart.cross(span)) < 0.3 * std::min(a.height, b.height) * reach &&
         std::abs(cv::norm(b.last - b.first) / b.edges - reach / a.edges) < 0.1 * reach / a.edges;
}

}  // namespace

std::vector<BarCandidate> bar_candidates(const Overview& overview, const cv::Mat& hidden, int blocks) {
  const std::vector<Segment> segments = line_segments(overview, hidden);
  std::vector<BarCandidate> bars;
  for (const Segment& a : segments) {
    for (const Segment& b : segments) {
      if (&a == &b || !could_be_neighbours(a, b)) continue;
      if ((b.middle - a.middle).dot(cv::Point2d(1.0, 0.01)) < 0.0) continue;  // each pair once
      std::vector<const Segment*> forward, backward;
      extend(segments, forward, &a, &b);
      extend(segments, backward, &b, &a);
      std::vector<const Segment*> chain(backward.rbegin(), backward.rend());
      chain.push_back(&a);
      chain.push_back(&b);
      chain.insert(chain.end(), forward.begin(), forward.end());
      const BarCandidate bar = summarise(chain);
      if (bar.seen < std::max(3, (blocks * 6 + 9) / 10) || bar.seen < (bar.edges * 6 + 9) / 10) continue;
      const auto twin =
          std::find_if(bars.begin(), bars.end(), [&](const auto& other) { return same_row(bar, other); });
      if (twin == bars.end())
        bars.push_back(bar);
      else if (bar.seen > twin->seen)
        *twin = bar;
    }
  }
  // A row with more edges than the bar has is another thing, however complete.
  const auto rank = [&](const BarCandidate& bar) { return bar.edges <= blocks + 2 ? bar.seen : 0; };
  std::stable_sort(bars.begin(), bars.end(), [&](const auto& a, const auto& b) { return rank(a) > rank(b); });
  return bars;
}

}  // namespace corefleck
