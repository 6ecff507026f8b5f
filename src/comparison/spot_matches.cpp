#include "groups.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cstdint>
#include <functional>
#include <map>
#include <numeric>

namespace corefleck {
namespace {

// A fifth of the smaller spot: neighbours that grew do not reach so far into each other, and the same spot
// does even where its places differ by half its width.
constexpr double kOverlap = 0.2;
constexpr double kDark =
    0.05;  // of a spot, under what the other photo shows as a pit: a hollow, or a mark across it
constexpr double kMark_mm2 = 1.0, kMarkReach_mm = 0.4, kSamePit = 0.3;
// From a line's dark end to where it goes on over a spot: about a flank.
constexpr double kGoesOn_mm = 0.25;
constexpr double kWhole = 0.985;  // of a spot's pixels inside the common area: a stray pixel cuts no spot

/// The second photo's maps on the first photo's grid.
struct LaidMaps {
  cv::Mat labels;   // CV_32FC1: whole numbers
  cv::Mat outside;  // CV_8UC1
  // Where a photo is dark, and what its marks may hide of the other's spots beside that. CV_8UC1
  cv::Mat pits, first_pits;  // of the second photo; of the first
};

using PixelPolygon = std::vector<cv::Point>;

PixelPolygon rounded(const Contour& outline) {
  PixelPolygon polygon;
  for (const cv::Point2d& p : outline) polygon.emplace_back(cvRound(p.x), cvRound(p.y));
  return polygon;
}

cv::Mat filled(const std::vector<PixelPolygon>& pits, const cv::Size& size) {
  cv::Mat mask = cv::Mat::zeros(size, CV_8UC1);
  for (const PixelPolygon& pit : pits) cv::fillPoly(mask, std::vector<PixelPolygon>{pit}, cv::Scalar(255));
  return mask;
}

/// The marks, widened by a reach: pits of some size that the other photo does not show, a pencil line for
/// one. They are written over what lies beneath, and where they cross a spot they are no darker than the
/// matrix, so that their surroundings are doubtful, too.
cv::Mat marks_of(const std::vector<PixelPolygon>& pits,
                 const cv::Mat& other,
                 double pitch_mm,
                 double reach_mm) {
  cv::Mat mask = cv::Mat::zeros(other.size(), CV_8UC1);
  for (const PixelPolygon& pit : pits) {
    const cv::Rect box = cv::boundingRect(pit) & cv::Rect({0, 0}, mask.size());
    if (box.empty() || cv::contourArea(pit) * pitch_mm * pitch_mm < kMark_mm2) continue;
    cv::Mat own = cv::Mat::zeros(box.size(), CV_8UC1);
    cv::fillPoly(own, std::vector<PixelPolygon>{pit}, cv::Scalar(255), cv::LINE_8, 0, -box.tl());
    if (cv::countNonZero(own & other(box)) > kSamePit * cv::countNonZero(own)) continue;
    cv::polylines(mask, pit, true, cv::Scalar(255), std::max(1, cvRound(2.0 * reach_mm / pitch_mm)));
  }
  return mask;
}

/// What spots lack in the photo of the marks and what joins them: the line goes on there. Less than three
/// pixels wide it is no line, but outlines that differ.
cv::Mat hidden_beside(const cv::Mat& marks, const cv::Mat& lacking) {
  cv::Mat hidden = cv::Mat::zeros(marks.size(), CV_8UC1), broad, pieces;
  if (cv::countNonZero(marks) == 0) return hidden;
  cv::morphologyEx(lacking, broad, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_RECT, {3, 3}));
  std::vector<bool> joined(static_cast<std::size_t>(cv::connectedComponents(broad, pieces, 8, CV_32S)));
  const auto piece = [&](int y, int x) { return static_cast<std::size_t>(pieces.at<int>(y, x)); };
  for (int y = 0; y < marks.rows; ++y)
    for (int x = 0; x < marks.cols; ++x)
      if (marks.at<unsigned char>(y, x) != 0) joined[piece(y, x)] = true;
  joined[0] = false;
  for (int y = 0; y < marks.rows; ++y)
    for (int x = 0; x < marks.cols; ++x)
      if (joined[piece(y, x)]) hidden.at<unsigned char>(y, x) = 255;
  return hidden;
}

LaidMaps laid(const FaceToCompare& first, const FaceToCompare& second, const Registration& registration) {
  const cv::Matx33d map = grid_map(first.face.grid, second.face.grid, registration.first_to_second);
  const cv::Size size = first.map.labels.size();
  constexpr int kFlags = cv::INTER_NEAREST | cv::WARP_INVERSE_MAP;
  LaidMaps result;
  cv::Mat labels;
  second.map.labels.convertTo(labels, CV_32F);  // exact: no face holds 2^24 spots
  cv::warpPerspective(labels, result.labels, map, size, kFlags, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::warpPerspective(second.map.outside,
                      result.outside,
                      map,
                      size,
                      kFlags,
                      cv::BORDER_CONSTANT,
                      cv::Scalar(static_cast<double>(Outside::beyond_rim)));
  std::vector<PixelPolygon> here, there;
  for (const Region& pit : first.map.pits) here.push_back(rounded(pit.outline));
  for (const Region& pit : second.map.pits)
    there.push_back(rounded(
        laid_outline(pit, second.face.grid, first.face.grid, registration.first_to_second.inverse())));
  const cv::Mat here_shown = filled(here, size), there_shown = filled(there, size);
  const double pitch = first.face.grid.pitch.number();
  const cv::Mat common = (first.map.outside == 0) & (result.outside == 0);
  const cv::Mat first_alone = common & (first.map.labels != 0) & (result.labels == 0),
                second_alone = common & (first.map.labels == 0) & (result.labels != 0);
  const auto dark = [&](const std::vector<PixelPolygon>& pits,
                        const cv::Mat& shown,
                        const cv::Mat& shown_by_other,
                        const cv::Mat& lacking) -> cv::Mat {
    return shown | marks_of(pits, shown_by_other, pitch, kMarkReach_mm) |
           hidden_beside(marks_of(pits, shown_by_other, pitch, kGoesOn_mm), lacking);
  };
  result.first_pits = dark(here, here_shown, there_shown, second_alone);
  result.pits = dark(there, there_shown, here_shown, first_alone);
  return result;
}

/// A list that is looked up by spot numbers, of which some may be missing.
std::size_t places_for_ids(const SpotMap& map) { return static_cast<std::size_t>(map.largest_id()) + 1; }

struct Counts {
  std::map<std::pair<int, int>, double> overlaps;  // pixels by first and second id
  std::vector<double> first_all, first_common, first_dark, second_all, second_common, second_dark;  // by id
  double common = 0.0;
};

Counts counted(const FaceToCompare& first, const FaceToCompare& second, const LaidMaps& there) {
  Counts counts;
  counts.first_all.resize(places_for_ids(first.map));
  counts.first_common = counts.first_all;
  counts.second_all.resize(places_for_ids(second.map));
  counts.second_common = counts.second_all;
  counts.first_dark = counts.first_all;
  counts.second_dark = counts.second_all;
  for (int y = 0; y < first.map.labels.rows; ++y) {
    const auto* here = first.map.labels.ptr<int>(y);
    const auto* other = there.labels.ptr<float>(y);
    const unsigned char *out = first.map.outside.ptr(y), *other_out = there.outside.ptr(y);
    for (int x = 0; x < first.map.labels.cols; ++x) {
      const bool common = out[x] == 0 && other_out[x] == 0;
      counts.common += common ? 1.0 : 0.0;
      const int a = here[x], b = static_cast<int>(other[x]);
      if (a == 0 && b == 0) continue;
      const double in = common ? 1.0 : 0.0;
      counts.first_all[static_cast<std::size_t>(a)] += 1.0;
      counts.first_common[static_cast<std::size_t>(a)] += in;
      counts.second_all[static_cast<std::size_t>(b)] += 1.0;
      counts.second_common[static_cast<std::size_t>(b)] += in;
      if (there.pits.at<unsigned char>(y, x) != 0) counts.first_dark[static_cast<std::size_t>(a)] += 1.0;
      if (there.first_pits.at<unsigned char>(y, x) != 0)
        counts.second_dark[static_cast<std::size_t>(b)] += 1.0;
      if (a != 0 && b != 0) counts.overlaps[{a, b}] += 1.0;
    }
  }
  return counts;
}

struct Edge {
  int first, second;  // ids
  double strength;
};

std::vector<Edge> edges_of(const Counts& counts) {
  std::vector<Edge> edges;
  for (const auto& [ids, pixels] : counts.overlaps) {
    const double smaller = std::min(counts.first_all[static_cast<std::size_t>(ids.first)],
                                    counts.second_all[static_cast<std::size_t>(ids.second)]);
    const double strength = pixels / std::max(smaller, 1.0);
    if (strength >= kOverlap) edges.push_back({ids.first, ids.second, strength});
  }
  std::stable_sort(
      edges.begin(), edges.end(), [](const Edge& a, const Edge& b) { return a.strength > b.strength; });
  return edges;
}

struct Stars {
  std::vector<Edge> kept, cut;
};

/// Edges, strongest first, as long as no group comes to have several spots on both sides: such a chain is
/// several changes, not one.
Stars stars(const std::vector<Edge>& edges, const SpotMap& first, const SpotMap& second) {
  std::vector<int> first_degree(places_for_ids(first)), second_degree(places_for_ids(second));
  Stars result;
  std::vector<Edge>& kept = result.kept;
  const auto partner_degree = [&](const Edge& edge, bool of_first) {
    for (const Edge& other : kept) {
      if (of_first && other.first == edge.first) return second_degree[static_cast<std::size_t>(other.second)];
      if (!of_first && other.second == edge.second)
        return first_degree[static_cast<std::size_t>(other.first)];
    }
    return 0;
  };
  for (const Edge& edge : edges) {
    int& a = first_degree[static_cast<std::size_t>(edge.first)];
    int& b = second_degree[static_cast<std::size_t>(edge.second)];
    const bool chain = (a > 0 && b > 0) || (a == 1 && partner_degree(edge, true) > 1) ||
                       (b == 1 && partner_degree(edge, false) > 1);
    if (chain) {
      result.cut.push_back(edge);
      continue;
    }
    ++a;
    ++b;
    kept.push_back(edge);
  }
  return result;
}

/// In the order of the spots.
std::vector<double> shares(const std::vector<double>& part,
                           const std::vector<double>& all,
                           const SpotMap& map) {
  std::vector<double> result;
  for (const Region& spot : map.spots) {
    const auto id = static_cast<std::size_t>(spot.id);
    result.push_back(all[id] > 0.0 ? part[id] / all[id] : 0.0);
  }
  return result;
}

std::vector<SpotGroup> groups_of(const std::vector<Edge>& edges,
                                 const SpotMap& first,
                                 const SpotMap& second) {
  std::vector<SpotGroup> groups;
  std::vector<bool> first_done(places_for_ids(first)), second_done(places_for_ids(second));
  for (const Region& spot : first.spots) {
    if (first_done[static_cast<std::size_t>(spot.id)]) continue;
    SpotGroup group{};
    group.first_ids = {spot.id};
    for (const Edge& edge : edges)
      if (edge.first == spot.id) group.second_ids.push_back(edge.second);
    if (group.second_ids.size() == 1)
      for (const Edge& edge : edges)
        if (edge.second == group.second_ids.front() && edge.first != spot.id)
          group.first_ids.push_back(edge.first);
    std::sort(group.first_ids.begin(), group.first_ids.end());
    std::sort(group.second_ids.begin(), group.second_ids.end());
    for (const int one : group.first_ids) first_done[static_cast<std::size_t>(one)] = true;
    for (const int one : group.second_ids) second_done[static_cast<std::size_t>(one)] = true;
    groups.push_back(std::move(group));
  }
  for (const Region& spot : second.spots)
    if (!second_done[static_cast<std::size_t>(spot.id)]) groups.push_back({{}, {spot.id}});
  return groups;
}

bool any_of(const std::vector<int>& ids,
            const SpotMap& map,
            const std::function<bool(std::size_t)>& of_index) {
  return std::any_of(ids.begin(), ids.end(), [&](int id) { return of_index(map.index_of(id)); });
}

bool is_entangled(const SpotGroup& group, const std::vector<Edge>& cut) {
  const auto has = [](const std::vector<int>& ids, int id) {
    return std::find(ids.begin(), ids.end(), id) != ids.end();
  };
  return std::any_of(cut.begin(), cut.end(), [&](const Edge& edge) {
    return has(group.first_ids, edge.first) || has(group.second_ids, edge.second);
  });
}

bool is_cut(const std::vector<int>& ids, const std::vector<double>& common, const SpotMap& map) {
  return any_of(ids, map, [&](std::size_t i) { return common[i] < kWhole || map.spots[i].touches_rim; });
}

bool is_marked(const std::vector<int>& ids, const std::vector<double>& dark, const SpotMap& map) {
  return any_of(ids, map, [&](std::size_t i) { return dark[i] > kDark; });
}

double sum_over(const std::vector<int>& ids, const std::vector<double>& pixels) {
  double sum = 0.0;
  for (const int id : ids) sum += pixels[static_cast<std::size_t>(id)];
  return sum;
}

}  // namespace

SpotMatches match_spots(const FaceToCompare& first,
                        const FaceToCompare& second,
                        const Registration& registration) {
  const LaidMaps there = laid(first, second, registration);
  const Counts counts = counted(first, second, there);
  SpotMatches matches;
  matches.dark_before = there.first_pits;
  matches.dark_after = there.pits;
  const double pitch = first.face.grid.pitch.number();
  matches.common_area = SquareMillimetres{counts.common * pitch * pitch};
  matches.first_shares = shares(counts.first_common, counts.first_all, first.map);
  matches.second_shares = shares(counts.second_common, counts.second_all, second.map);
  const Stars edges = stars(edges_of(counts), first.map, second.map);
  matches.groups = groups_of(edges.kept, first.map, second.map);
  const std::vector<double> first_dark = shares(counts.first_dark, counts.first_all, first.map),
                            second_dark = shares(counts.second_dark, counts.second_all, second.map);
  for (SpotGroup& group : matches.groups) {
    group.entangled = is_entangled(group, edges.cut);
    group.cut = is_cut(group.first_ids, matches.first_shares, first.map) ||
                is_cut(group.second_ids, matches.second_shares, second.map);
    group.marked_after = is_marked(group.first_ids, first_dark, first.map);
    group.marked_before = is_marked(group.second_ids, second_dark, second.map);
    group.hidden_after = SquareMillimetres{sum_over(group.first_ids, counts.first_dark) * pitch * pitch};
    group.hidden_before = SquareMillimetres{sum_over(group.second_ids, counts.second_dark) * pitch * pitch};
  }
  return matches;
}

}  // namespace corefleck
