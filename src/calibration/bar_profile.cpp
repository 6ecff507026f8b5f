#include "bar_profile.hpp"

#include "bar_fit.hpp"

#include "corefleck/statistics.hpp"

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kStep_px = 0.5;
constexpr double kOddPitch = 0.12;  // of the neighbouring pitch: perspective changes it by 0.04 a block
constexpr double kLeastLastingStep = 0.4;  // close by an edge, of the step that it was found by
constexpr double kMostBlurred = 3.0;       // an edge's width, of the median width
constexpr int kMostLines = 40;             // across the blocks: more would say the same

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
// The frame cuts it where it cuts the axis.
Profile axis_profile(const StripLight& light, const BarGuess& guess, double from, double to) {
  const cv::Rect2d frame(0.0, 0.0, light.size.width - 1.0, light.size.height - 1.0);
  const auto inside = [&](double s) { return frame.contains(guess.first + s * guess.direction); };
  while (from < to && !inside(from)) from += kStep_px;
  while (to > from && !inside(to)) to -= kStep_px;
  Profile profile{from, {}};
  const int columns = static_cast<int>((to - from) / kStep_px) + 1;
  if (columns < 2) return profile;
  const double half = std::max(1.0, 0.22 * guess.height);
  const int lines = std::clamp(static_cast<int>(2.0 * half), 3, kMostLines);
  cv::Mat mean;
  cv::reduce(light.strip({guess.first, guess.direction, from, kStep_px, columns, 0.0, half, lines}),
             mean,
             0,
             cv::REDUCE_AVG);
  profile.values.assign(mean.begin<float>(), mean.end<float>());
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

// Levels on both sides of a place, from `near` to `far` pitches away from it.
struct Span {
  double near, far;
};

// The 50 % crossing between the plateaus on both sides, nearest to where the edge is expected.
std::optional<Crossing> crossing_between(
    const Profile& profile, int index, double expected, double pitch, const Span& span) {
  const double near = span.near * pitch, far = span.far * pitch;
  const double left = plateau(profile, expected - far, expected - near);
  const double right = plateau(profile, expected + near, expected + far);
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

// Beyond an end edge the strip may be narrow, so a nearer span counts where it sees clearly more.
std::optional<Crossing> crossing_near(const Profile& profile, int index, double expected, double pitch) {
  if (!profile.holds(expected)) return std::nullopt;
  std::optional<Crossing> best;
  for (const Span& span : {Span{0.25, 0.75}, Span{0.1, 0.35}, Span{0.06, 0.18}}) {
    const auto crossing = crossing_between(profile, index, expected, pitch, span);
    if (crossing && (!best || std::abs(crossing->step) > 1.25 * std::abs(best->step))) best = crossing;
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

// The crossing once more, between the levels just past the blur of these edges, `width`: farther out the
// strip may have ended or the shadow of a flush end have faded. A thin line, as of an outline around light
// blocks, has the same level on both sides and is no edge.
std::optional<Crossing> settled(const Profile& profile,
                                const Crossing& crossing,
                                double pitch,
                                double width) {
  const double past = std::clamp(2.0 * width, 1.0, std::max(1.0, 0.2 * pitch));
  const double reach = past + std::max(2.0, 0.12 * pitch);
  if (reach > 0.45 * pitch) return crossing;
  const double s = crossing.position;
  const double left = plateau(profile, s - reach, s - past), right = plateau(profile, s + past, s + reach);
  if (left < 0.0 || right < 0.0) return crossing;
  if ((right - left) * crossing.step < kLeastLastingStep * crossing.step * crossing.step) return std::nullopt;
  const double half = 0.5 * (left + right);
  Crossing nearest = crossing;
  double least = std::max(past, 0.1 * pitch);
  for (double at = s - least, to = s + least; at < to; at += kStep_px) {
    const double a = profile.at(at) - half, b = profile.at(at + kStep_px) - half;
    if ((a < 0.0) == (b < 0.0) || (b > a) != (right > left)) continue;
    const double place = at + kStep_px * a / (a - b);
    if (std::abs(place - s) >= least) continue;
    least = std::abs(place - s);
    nearest.position = place;
    nearest.step = right - left;
    nearest.width = quartile_width(profile, place, left, right - left, 0.4 * pitch);
  }
  return nearest;
}

double median_width(const std::vector<std::optional<Crossing>>& all) {
  std::vector<double> widths;
  for (const auto& c : all)
    if (c) widths.push_back(c->width);
  return widths.empty() ? 0.0 : median(widths);
}

// The edges of one print are equally sharp: a line or the bench's shading that passes for one is not.
void settle(const Profile& profile, std::vector<std::optional<Crossing>>& all, double pitch) {
  const double typical = median_width(all);
  for (auto& c : all)
    if (c) c = settled(profile, *c, pitch, typical);
  const double most = kMostBlurred * median_width(all);
  for (auto& c : all)
    if (c && c->width > most) c.reset();
}

// Edges of alternating sign and like contrast, as many as lie together; one between others may be missing.
std::vector<Crossing> alternating_run(const std::vector<std::optional<Crossing>>& all) {
  std::vector<double> steps;
  for (const auto& c : all)
    if (c) steps.push_back(std::abs(c->step));
  if (steps.size() < 2) return {};
  std::sort(steps.begin(), steps.end());
  const double least = 0.4 * steps[steps.size() / 2];
  std::vector<Crossing> best;
  for (const double sign : {1.0, -1.0}) {  // of the edges at even places
    std::vector<Crossing> run;
    int missed = 0;
    for (std::size_t i = 0; i < all.size(); ++i) {
      const auto& c = all[i];
      const double towards = i % 2 == 0 ? sign : -sign;
      if (c && c->step * towards > least) {
        run.push_back(*c);
        missed = 0;
      } else if (++missed > 1) {
        run.clear();
      }
      if (run.size() > best.size()) best = run;
    }
  }
  return best;
}

FoundBar describe(const BarGuess& guess,
                  const std::vector<Crossing>& edges,
                  const RobustFit& robust,
                  int blocks,
                  const Profile& profile) {
  FoundBar found{};
  const LineFit& fit = robust.line;
  const int first = edges.front().index;
  const int span = edges.back().index - first;
  const int lead =
      guess.ends_known ? first : std::max(0, (blocks - span) / 2);  // blocks merged with the strip
  std::vector<double> widths, lights;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const double off = fit.off(edges[i]);
    found.bar.edges.push_back({edges[i].position, edges[i].index - first + lead, off, robust.used[i]});
    if (!robust.used[i]) continue;
    widths.push_back(edges[i].width);
    const double side = edges[i].step > 0.0 ? 0.5 : -0.5;
    lights.push_back(profile.at(edges[i].position + side * guess.pitch));
    found.points.push_back(guess.first + (edges[i].position - fit.shift(edges[i])) * guess.direction);
    found.indices.push_back(edges[i].index - first + lead);
  }
  const cv::Point2d start = guess.first + fit.at(first - lead) * guess.direction;
  const cv::Point2d end = guess.first + fit.at(first - lead + blocks) * guess.direction;
  found.bar.axis = {start.x, start.y, end.x, end.y};
  found.bar.height_px = guess.height;
  found.bar.residual_px = robust.deviation;
  // The 10 to 90 % width of a Gaussian edge is 2.563 sigma, the 25 to 75 % width 1.349 sigma.
  found.bar.edge_width_px = 2.563 / 1.349 * median(widths);
  found.bar.white_level = median(lights);
  return found;
}

// An end edge whose distance to the next is not that between the others is the strip's.
void drop_odd_ends(std::vector<Crossing>& edges) {
  const auto pitch = [&](std::size_t i) {
    return (edges[i + 1].position - edges[i].position) / (edges[i + 1].index - edges[i].index);
  };
  while (edges.size() > 3) {
    std::vector<double> pitches;
    for (std::size_t i = 0; i + 1 < edges.size(); ++i) pitches.push_back(pitch(i));
    const double left = pitches.front() / pitches[1], right = pitches.back() / pitches[pitches.size() - 2];
    if (std::max(std::abs(left - 1.0), std::abs(right - 1.0)) < kOddPitch) return;
    if (std::abs(left - 1.0) > std::abs(right - 1.0))
      edges.erase(edges.begin());
    else
      edges.pop_back();
  }
}

// All edges from the first expected one on, less `margin`, by place; from the expected ones outwards the
// place follows the edges already found.
std::vector<std::optional<Crossing>> crossings(const Profile& profile, const BarGuess& guess, int margin) {
  std::vector<std::optional<Crossing>> all(static_cast<std::size_t>(guess.edges + 2 * margin));
  const auto place = [&](int k) -> std::optional<Crossing>& {
    return all[static_cast<std::size_t>(k + margin)];
  };
  for (int k = 0; k < guess.edges; ++k) place(k) = crossing_near(profile, k, k * guess.pitch, guess.pitch);
  const auto follow = [&](int k, int step) {
    const auto &last = place(k - step), &before = place(k - 2 * step);
    if (!last) return;
    const double pitch = before ? std::abs(last->position - before->position) : guess.pitch;
    place(k) = next_edge(profile, k, last->position + step * pitch, guess.pitch);
  };
  for (int k = guess.edges; k < guess.edges + margin; ++k) follow(k, 1);
  for (int k = -1; k >= -margin; --k) follow(k, -1);
  settle(profile, all, guess.pitch);
  return all;
}

}  // namespace

std::optional<FoundBar> locate_bar(const StripLight& light, const BarGuess& guess, int blocks) {
  const int margin = guess.ends_known ? 0 : std::max(2, blocks + 2 - guess.edges);
  const Profile profile =
      axis_profile(light, guess, -(margin + 1.0) * guess.pitch, (guess.edges + margin) * guess.pitch);
  if (profile.values.size() < 20) return std::nullopt;
  std::vector<Crossing> edges = alternating_run(crossings(profile, guess, margin));
  drop_odd_ends(edges);
  // Edges beyond those expected are welcome while the bar has room for them.
  const auto too_many = [&] { return edges.back().index - edges.front().index > blocks; };
  if (!edges.empty() && edges.back().index - edges.front().index > blocks + 2) return std::nullopt;
  while (!edges.empty() && too_many() && edges.back().index >= guess.edges) edges.pop_back();
  while (!edges.empty() && too_many() && edges.front().index < 0) edges.erase(edges.begin());
  if (static_cast<int>(edges.size()) < std::max(3, (blocks * 6 + 9) / 10)) return std::nullopt;
  return describe(guess, edges, robust_fit(edges), blocks, profile);
}

}  // namespace corefleck
