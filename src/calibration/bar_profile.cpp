#include "bar_profile.hpp"

#include "corefleck/statistics.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kStep_px = 0.5;

struct Profile {
  double from;  ///< distance from the guess's first edge, photo pixels
  std::vector<double> values;
  [[nodiscard]] double at(double s) const {
    const double i = std::clamp((s - from) / kStep_px, 0.0, static_cast<double>(values.size() - 1) - 1e-9);
    const auto k = static_cast<std::size_t>(i);
    return values[k] +
           (i - static_cast<double>(k)) * (values[std::min(k + 1, values.size() - 1)] - values[k]);
  }
  [[nodiscard]] bool holds(double s) const {
    return s >= from && s <= from + kStep_px * static_cast<double>(values.size() - 1);
  }
};

// Mean across the middle half of the blocks: figures, ticks and outlines lie beside it, dirt averages out.
Profile axis_profile(const Photo& photo, const BarGuess& guess, double from, double to) {
  const cv::Point2d across(-guess.direction.y, guess.direction.x);
  const double half = std::max(1.0, 0.22 * guess.height);
  std::vector<cv::Point2f> corners;
  for (const double s : {from, to})
    for (const double t : {-half, half}) corners.emplace_back(guess.first + s * guess.direction + t * across);
  const cv::Rect frame(0, 0, photo.width_px(), photo.height_px());
  float x0 = 1e9F, y0 = 1e9F, x1 = -1e9F, y1 = -1e9F;
  for (const auto& c : corners) {
    x0 = std::min(x0, c.x), y0 = std::min(y0, c.y), x1 = std::max(x1, c.x), y1 = std::max(y1, c.y);
  }
  const cv::Rect area = cv::Rect(cv::Point(static_cast<int>(x0) - 2, static_cast<int>(y0) - 2),
                                 cv::Point(static_cast<int>(x1) + 3, static_cast<int>(y1) + 3)) &
                        frame;
  Profile profile{from, {}};
  if (area.width < 2 || area.height < 2) return profile;
  const cv::Mat patch = linear_luminance(photo, area);
  const int lines = std::max(3, static_cast<int>(2.0 * half));
  for (double s = from; s <= to; s += kStep_px) {
    const cv::Point2d middle = guess.first + s * guess.direction;
    if (!frame.contains(cv::Point(middle))) {
      if (profile.values.empty())
        profile.from = s + kStep_px;
      else
        break;
      continue;
    }
    double sum = 0.0;
    for (int i = 0; i < lines; ++i) {
      const cv::Point2d p = middle + half * (2.0 * i / (lines - 1) - 1.0) * across;
      sum += static_cast<double>(bilinear(patch, p.x - area.x, p.y - area.y));
    }
    profile.values.push_back(sum / lines);
  }
  return profile;
}

double plateau(const Profile& profile, double from, double to) {
  std::vector<double> values;
  for (double s = from; s <= to; s += kStep_px)
    if (profile.holds(s)) values.push_back(profile.at(s));
  return values.empty() ? -1.0 : median(values);
}

// Distance between the 25 and 75 % crossings on both sides of an edge, by the profile itself: a finite slope
// would overstate the width of a sharp edge.
double quartile_width(const Profile& profile, double place, double left, double step, double reach) {
  const auto distance_to = [&](double share, double direction) {
    const double level = left + share * step;
    double previous = profile.at(place);
    for (double d = 0.25; d < reach; d += 0.25) {
      const double value = profile.at(place + direction * d);
      if ((value - level) * (previous - level) <= 0.0 && value != previous)
        return d - 0.25 + 0.25 * (level - previous) / (value - previous);
      previous = value;
    }
    return reach;
  };
  return distance_to(0.25, -1.0) + distance_to(0.75, 1.0);
}

struct Crossing {
  int index;
  double position, step, width;
};

// The 50 % crossing between the plateaus on both sides, nearest to where the edge is expected.
std::optional<Crossing> crossing_near(const Profile& profile, int index, double expected, double pitch) {
  if (!profile.holds(expected)) return std::nullopt;
  const double left = plateau(profile, expected - 0.75 * pitch, expected - 0.25 * pitch);
  const double right = plateau(profile, expected + 0.25 * pitch, expected + 0.75 * pitch);
  if (left < 0.0 || right < 0.0) return std::nullopt;
  const double half = 0.5 * (left + right), step = right - left;
  if (std::abs(step) < 0.02 * std::max(left, right)) return std::nullopt;
  std::optional<Crossing> best;
  for (double s = expected - 0.3 * pitch; s < expected + 0.3 * pitch; s += kStep_px) {
    const double a = profile.at(s) - half, b = profile.at(s + kStep_px) - half;
    if ((a < 0.0) == (b < 0.0) || (b > a) != (step > 0.0)) continue;
    const double place = s + kStep_px * a / (a - b);
    if (!best || std::abs(place - expected) < std::abs(best->position - expected))
      best = Crossing{index, place, step, quartile_width(profile, place, left, step, 0.4 * pitch)};
  }
  return best;
}

// Beyond the edges that were expected only one at the right distance belongs to the blocks: the end of the
// strip does not.
std::optional<Crossing> next_edge(const Profile& profile, int index, double expected, double pitch) {
  auto crossing = crossing_near(profile, index, expected, pitch);
  if (crossing && std::abs(crossing->position - expected) > 0.06 * pitch) return std::nullopt;
  return crossing;
}

// Runs of neighbouring edges with alternating sign and like contrast; the pattern is the run that holds the
// guess.
std::vector<Crossing> alternating_run(const std::vector<std::optional<Crossing>>& all) {
  std::vector<double> steps;
  for (const auto& c : all)
    if (c) steps.push_back(std::abs(c->step));
  if (steps.size() < 2) return {};
  std::sort(steps.begin(), steps.end());
  const double typical = steps[steps.size() / 2];
  std::vector<Crossing> best, run;
  for (const auto& c : all) {
    const bool fits = c && std::abs(c->step) > 0.4 * typical &&
                      (run.empty() || ((c->step > 0.0) != (run.back().step > 0.0)));
    if (!fits) run.clear();
    if (c && std::abs(c->step) > 0.4 * typical) run.push_back(*c);
    if (run.size() > best.size()) best = run;
  }
  return best;
}

// Projective along a line: s = (a + b k) / (1 + c k), linear in a, b, c. A bar is short against the camera's
// distance, so c is small: without saying so, an edge that does not belong would be explained by it. A phone
// 120 mm above a bar of 60 mm in 4 blocks, tilted by 10 degrees, makes 0.02 a block.
constexpr double kPerspective = 0.01;                // standard deviation of c, per block
constexpr double kFarOff_px = 0.8, kFarOff = 0.012;  // in pixels, in pitches
constexpr double kEdge_px = 0.15;                    // of an edge's place, for the weight of that knowledge

struct LineFit {
  double a, b, c;
  [[nodiscard]] double at(int k) const { return (a + b * k) / (1.0 + c * k); }
};

LineFit fit_line(const std::vector<Crossing>& edges, const std::vector<bool>& used) {
  cv::Mat rows(0, 3, CV_64F), right(0, 1, CV_64F);
  for (std::size_t i = 0; i < edges.size(); ++i) {
    if (!used[i]) continue;
    rows.push_back(cv::Mat(cv::Matx13d(1.0, edges[i].index, -edges[i].index * edges[i].position)));
    right.push_back(cv::Mat(cv::Matx<double, 1, 1>(edges[i].position)));
  }
  rows.push_back(cv::Mat(cv::Matx13d(0.0, 0.0, kEdge_px / kPerspective)));
  right.push_back(cv::Mat(cv::Matx<double, 1, 1>(0.0)));
  cv::Mat solution;
  if (rows.rows < 5) {  // too few for a projective fit
    cv::solve(rows.colRange(0, 2), right, solution, cv::DECOMP_SVD);
    return {solution.at<double>(0), solution.at<double>(1), 0.0};
  }
  cv::solve(rows, right, solution, cv::DECOMP_SVD);
  return {solution.at<double>(0), solution.at<double>(1), solution.at<double>(2)};
}

double spread(const std::vector<Crossing>& edges, const std::vector<bool>& used, const LineFit& fit) {
  double sum = 0.0;
  int count = 0;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    if (!used[i]) continue;
    sum += std::pow(edges[i].position - fit.at(edges[i].index), 2.0);
    ++count;
  }
  return std::sqrt(sum / std::max(1, count - 3));
}

// An edge that lies far off where the others put it (the end of the strip, a scratch, a printed outline) is
// left out, as long as four remain. Nearer ones stay, however much better the rest would fit without: few
// edges fit anything.
LineFit robust_fit(const std::vector<Crossing>& edges, std::vector<bool>& used, double& deviation) {
  const double pitch = std::abs(edges.back().position - edges.front().position) /
                       std::max(1, edges.back().index - edges.front().index);
  const double far_px = std::max(kFarOff_px, kFarOff * pitch);
  LineFit fit = fit_line(edges, used);
  deviation = spread(edges, used, fit);
  for (auto left = edges.size(); left > 4 && deviation > 0.2; --left) {
    std::vector<bool> best_used;
    LineFit best_fit{};
    double best = 0.6 * deviation;
    for (std::size_t i = 0; i < edges.size(); ++i) {
      if (!used[i]) continue;
      std::vector<bool> without = used;
      without[i] = false;
      const LineFit trial = fit_line(edges, without);
      const double trial_deviation = spread(edges, without, trial);
      if (trial_deviation >= best || std::abs(edges[i].position - trial.at(edges[i].index)) < far_px)
        continue;
      best = trial_deviation;
      best_used = without;
      best_fit = trial;
    }
    if (best_used.empty()) break;
    used = best_used;
    fit = best_fit;
    deviation = best;
  }
  return fit;
}

// Blocks are of two tones, each flat: scatter of the block levels about their tone and within the blocks,
// over the step.
double tone_scatter(const Profile& profile, const std::vector<Crossing>& edges) {
  std::vector<double> light, dark, within;
  double step = 0.0;
  for (std::size_t i = 0; i + 1 < edges.size(); ++i) {
    const double length = edges[i + 1].position - edges[i].position;
    const double from = edges[i].position + 0.25 * length, to = edges[i + 1].position - 0.25 * length;
    const double level = plateau(profile, from, to);
    (edges[i].step > 0.0 ? light : dark).push_back(level);
    std::vector<double> off;
    for (double s = from; s <= to; s += kStep_px) off.push_back(std::abs(profile.at(s) - level));
    within.push_back(off.empty() ? 0.0 : median(off));
    step += std::abs(edges[i].step) / static_cast<double>(edges.size() - 1);
  }
  // Between neighbours of one tone, so that light that falls off along the bar is no scatter.
  const auto largest_step = [](const std::vector<double>& v) {
    double largest = 0.0;
    for (std::size_t i = 0; i + 1 < v.size(); ++i) largest = std::max(largest, std::abs(v[i + 1] - v[i]));
    return largest;
  };
  return (0.5 * std::max(largest_step(light), largest_step(dark)) + 2.0 * median(within)) /
         std::max(step, 1e-9);
}

FoundBar describe(const BarGuess& guess,
                  const std::vector<Crossing>& edges,
                  const std::vector<bool>& used,
                  const LineFit& fit,
                  double deviation,
                  int blocks,
                  const Profile& profile) {
  FoundBar found{};
  const int first = edges.front().index;
  const int span = edges.back().index - first;
  const int lead =
      guess.ends_known ? first : std::max(0, (blocks - span) / 2);  // blocks merged with the strip
  std::vector<double> widths, lights;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const double off = edges[i].position - fit.at(edges[i].index);
    found.bar.edges.push_back({edges[i].position, edges[i].index - first + lead, off, used[i]});
    if (!used[i]) continue;
    widths.push_back(edges[i].width);
    const double side = edges[i].step > 0.0 ? 0.5 : -0.5;
    lights.push_back(profile.at(edges[i].position + side * guess.pitch));
    found.points.push_back(guess.first + edges[i].position * guess.direction);
    found.indices.push_back(edges[i].index - first + lead);
  }
  const cv::Point2d start = guess.first + fit.at(first - lead) * guess.direction;
  const cv::Point2d end = guess.first + fit.at(first - lead + blocks) * guess.direction;
  found.bar.axis = {start.x, start.y, end.x, end.y};
  found.bar.height_px = guess.height;
  found.bar.residual_px = deviation;
  // The 10 to 90 % width of a Gaussian edge is 2.563 sigma, the 25 to 75 % width 1.349 sigma.
  found.bar.edge_width_px = 2.563 / 1.349 * median(widths);
  found.bar.white_level = median(lights);
  found.tone_scatter = tone_scatter(profile, edges);
  return found;
}

}  // namespace

std::optional<FoundBar> locate_bar(const Photo& photo, const BarGuess& guess, int blocks) {
  const int margin = guess.ends_known ? 0 : 2;
  const Profile profile =
      axis_profile(photo, guess, -(margin + 1.0) * guess.pitch, (guess.edges + margin) * guess.pitch);
  if (profile.values.size() < 20) return std::nullopt;
  // From the middle outwards the expected place follows the edges already found.
  std::vector<std::optional<Crossing>> all(static_cast<std::size_t>(guess.edges + 2 * margin));
  const auto place = [&](int k) -> std::optional<Crossing>& {
    return all[static_cast<std::size_t>(k + margin)];
  };
  for (int k = 0; k < guess.edges; ++k) place(k) = crossing_near(profile, k, k * guess.pitch, guess.pitch);
  for (int k = guess.edges; k < guess.edges + margin; ++k)
    if (place(k - 1)) place(k) = next_edge(profile, k, place(k - 1)->position + guess.pitch, guess.pitch);
  for (int k = -1; k >= -margin; --k)
    if (place(k + 1)) place(k) = next_edge(profile, k, place(k + 1)->position - guess.pitch, guess.pitch);

  std::vector<Crossing> edges = alternating_run(all);
  // Edges beyond those expected are welcome while the bar has room for them.
  while (static_cast<int>(edges.size()) > blocks + 1 && edges.back().index >= guess.edges) edges.pop_back();
  while (static_cast<int>(edges.size()) > blocks + 1 && edges.front().index < 0) edges.erase(edges.begin());
  if (static_cast<int>(edges.size()) < std::max(3, (blocks * 6 + 9) / 10)) return std::nullopt;
  std::vector<bool> used(edges.size(), true);
  double deviation = 0.0;
  const LineFit fit = robust_fit(edges, used, deviation);
  FoundBar found = describe(guess, edges, used, fit, deviation, blocks, profile);
  return found;
}

}  // namespace corefleck
