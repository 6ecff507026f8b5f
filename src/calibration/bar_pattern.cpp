#include "bar_pattern.hpp"

#include "corefleck/statistics.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <vector>

namespace corefleck {
namespace {

constexpr double kMiddle = 0.2;        // of a block, left out at both its ends: blur, outlines
constexpr Eigen::Index kPastBlur = 3;  // lines beyond the last that shows the blocks
constexpr double kSameTone =
    0.35;  // of the step between the tones: light falls off along a bar, and shadows end

// Distances of all edges along the axis, the bridged ones between their neighbours.
std::vector<double> edge_places(const FoundBar& found, cv::Point2d direction) {
  std::vector<double> places;
  for (std::size_t i = 0; i < found.points.size(); ++i) {
    const double s = (found.points[i] - found.points.front()).dot(direction);
    const int steps = i == 0 ? 1 : found.indices[i] - found.indices[i - 1];
    const double before = places.empty() ? 0.0 : places.back();
    for (int k = 1; k <= steps; ++k) places.push_back(before + (s - before) * k / steps);
  }
  return places;
}

struct BlockColumns {
  int first, last;
};

std::vector<BlockColumns> block_columns(const std::vector<double>& places, const StripFrame& frame) {
  std::vector<BlockColumns> blocks;
  for (std::size_t i = 0; i + 1 < places.size(); ++i) {
    const double length = places[i + 1] - places[i];
    const auto column = [&](double s) {
      return std::clamp(static_cast<int>(std::lround((s - frame.from) / frame.step)), 0, frame.columns - 1);
    };
    blocks.push_back({column(places[i] + kMiddle * length), column(places[i + 1] - kMiddle * length)});
  }
  return blocks;
}

// Mean level of each block (column) on each line across the axis (row).
Eigen::MatrixXd block_levels(const cv::Mat& strip, const std::vector<BlockColumns>& blocks) {
  Eigen::MatrixXd levels(strip.rows, static_cast<Eigen::Index>(blocks.size()));
  for (int j = 0; j < strip.rows; ++j) {
    const auto* row = strip.ptr<float>(j);
    for (std::size_t b = 0; b < blocks.size(); ++b) {
      double sum = 0.0;
      for (int i = blocks[b].first; i <= blocks[b].last; ++i) sum += static_cast<double>(row[i]);
      levels(j, static_cast<Eigen::Index>(b)) = sum / (blocks[b].last - blocks[b].first + 1);
    }
  }
  return levels;
}

// Steps between neighbouring blocks on each line, counted so that those of an alternating pattern share a
// sign.
Eigen::MatrixXd alternating_steps(const Eigen::MatrixXd& levels) {
  Eigen::MatrixXd steps = levels.rightCols(levels.cols() - 1) - levels.leftCols(levels.cols() - 1);
  for (Eigen::Index b = 1; b < steps.cols(); b += 2) steps.col(b) = -steps.col(b);
  return steps;
}

Eigen::RowVectorXd typical_steps(const Eigen::MatrixXd& steps, Eigen::Index middle, Eigen::Index near) {
  Eigen::RowVectorXd typical(steps.cols());
  const Eigen::Index rows = 2 * near + 1;
  for (Eigen::Index b = 0; b < steps.cols(); ++b) {
    const Eigen::VectorXd column = steps.block(middle - near, b, rows, 1);
    typical(b) = median(std::vector<double>(column.begin(), column.end()));
  }
  return typical;
}

// Whether a line shows all the steps that the lines in the middle show; of three and more one may be dirty.
bool shows_pattern(const Eigen::MatrixXd& steps, Eigen::Index row, const Eigen::RowVectorXd& typical) {
  Eigen::Index shown = 0;
  for (Eigen::Index b = 0; b < steps.cols(); ++b)
    if (steps(row, b) * typical(b) > 0.5 * typical(b) * typical(b)) ++shown;
  return shown >= (steps.cols() > 2 ? steps.cols() - 1 : steps.cols());
}

// Logarithm of the light along the middle of the blocks: two tones on a parabola, since light that falls off
// scales both tones alike.
double tone_scatter(const cv::Mat& rows, const std::vector<BlockColumns>& blocks) {
  cv::Mat profile;
  cv::reduce(rows, profile, 0, cv::REDUCE_AVG);
  double most = 0.0;
  cv::minMaxLoc(profile, nullptr, &most);
  const Eigen::Index terms = blocks.size() > 3 ? 4 : 3;
  Eigen::Index count = 0;
  for (const BlockColumns& block : blocks) count += block.last - block.first + 1;
  Eigen::MatrixXd model(count, terms);
  Eigen::VectorXd light(count);
  Eigen::Index k = 0;
  for (std::size_t b = 0; b < blocks.size(); ++b)
    for (int i = blocks[b].first; i <= blocks[b].last; ++i, ++k) {
      const double u = 2.0 * i / std::max(1, profile.cols - 1) - 1.0;
      model(k, 0) = 1.0, model(k, 1) = b % 2 == 0 ? 0.5 : -0.5, model(k, 2) = u;
      if (terms > 3) model(k, 3) = u * u;
      light(k) = std::log(static_cast<double>(profile.at<float>(i)) + 0.03 * most + 1e-9);
    }
  const Eigen::VectorXd fit = model.colPivHouseholderQr().solve(light);
  const double scatter = std::sqrt((model * fit - light).squaredNorm() / static_cast<double>(count));
  return scatter / std::max(std::abs(fit(1)), 1e-9);
}

// Along the axis from one distance to another, within `half` of it; negative where the frame has no such
// place.
double level_between(const StripLight& light, StripFrame frame, double from, double to) {
  const cv::Rect2d sight(0.0, 0.0, light.size.width, light.size.height);
  if (!sight.contains(frame.place(from, 0.0)) || !sight.contains(frame.place(to, 0.0))) return -1.0;
  frame.from = from;
  frame.columns = 12;
  frame.step = (to - from) / (frame.columns - 1);
  frame.rows = 5;
  return cv::mean(light.strip(frame))[0];
}

// The blocks' tones next to an end and beyond it, as logarithms.
struct EndTones {
  double end, next, beyond;
  bool seen;
  [[nodiscard]] double off_next(double tone) const {
    return std::abs(tone - next) / std::max(std::abs(end - next), 1e-9);
  }
  [[nodiscard]] bool like_next(double tone) const { return off_next(tone) < kSameTone; }
};

double log_tone(double level, double most) { return std::log(level + 0.03 * most + 1e-9); }

// `places`: of the edges, the end in question first.
EndTones end_tones(const StripLight& light,
                   const StripFrame& frame,
                   const std::vector<double>& places,
                   double most) {
  const auto level = [&](double a, double b) {  // of the block between two edges
    const double from = a + kMiddle * (b - a), to = b - kMiddle * (b - a);
    return level_between(light, frame, std::min(from, to), std::max(from, to));
  };
  const double beyond = level(2.0 * places[0] - places[1], places[0]);
  return {log_tone(level(places[0], places[1]), most),
          log_tone(level(places[1], places[2]), most),
          log_tone(std::max(beyond, 0.0), most),
          beyond >= 0.0};
}

// An end block that merges with the strip shows no edge, but its tone. Patches of two tones on a bench of a
// third are no bar that goes on unseen.
bool goes_on(const EndTones& tones) { return tones.seen && tones.like_next(tones.beyond); }

// Tone just past the blocks, across the axis: of the strip, where the blocks do not cover it.
double tone_beside(const cv::Mat& strip, const std::vector<BlockColumns>& blocks, int row, double most) {
  row = std::clamp(row, 0, strip.rows - 1);
  std::vector<double> values;
  for (int i = blocks.front().first; i <= blocks.back().last; ++i)
    values.push_back(static_cast<double>(strip.at<float>(row, i)));
  return log_tone(median(values), most);
}

double raggedness(const Eigen::MatrixXd& levels, const Eigen::RowVectorXd& typical) {
  const Eigen::MatrixXd off = levels.rowwise() - levels.colwise().mean();
  std::vector<double> spread;
  for (Eigen::Index b = 0; b < off.cols(); ++b)
    spread.push_back(std::sqrt(off.col(b).squaredNorm() / static_cast<double>(off.rows())));
  return median(spread) / std::max(typical.cwiseAbs().mean(), 1e-9);
}

}  // namespace

BarPattern bar_pattern(const StripLight& light, const FoundBar& found) {
  const cv::Point2d span = found.points.back() - found.points.front();
  const double length = cv::norm(span);
  StripFrame frame{found.points.front(), span / length, 0.0, 1.0, static_cast<int>(length) + 1, 0.0, 0.0, 0};
  const auto reach = static_cast<Eigen::Index>(
      std::max(1.6 * found.bar.height_px,
               0.7 * length / static_cast<double>(found.indices.back() - found.indices.front())));
  frame.half = static_cast<double>(reach);
  frame.rows = static_cast<int>(2 * reach + 1);
  const cv::Mat strip = light.strip(frame);
  const std::vector<double> places = edge_places(found, frame.direction);
  const std::vector<BlockColumns> blocks = block_columns(places, frame);
  const Eigen::MatrixXd levels = block_levels(strip, blocks);
  const Eigen::MatrixXd steps = alternating_steps(levels);
  const auto near = std::max<Eigen::Index>(1, static_cast<Eigen::Index>(0.2 * found.bar.height_px));
  const Eigen::RowVectorXd typical = typical_steps(steps, reach, near);
  const cv::Rect2d sight(0.0, 0.0, light.size.width, light.size.height);
  const auto end = [&](int way) {
    Eigen::Index t = 0;
    while (t < reach) {
      const auto across = static_cast<double>(way * (t + 1));
      if (!sight.contains(frame.place(0.0, across)) || !sight.contains(frame.place(length, across)) ||
          !shows_pattern(steps, reach + way * (t + 1), typical))
        break;
      ++t;
    }
    return t;
  };
  const Eigen::Index up = end(-1), down = end(1), height = up + down + 1;
  BarPattern pattern{-static_cast<double>(up) - 0.5,
                     static_cast<double>(down) + 0.5,
                     up < reach && down < reach,
                     {},
                     {},
                     false,
                     0.0,
                     0.0};
  const Eigen::Index trim = height / 6, first = reach - up + trim, inner = height - 2 * trim;
  frame.centre = 0.5 * (pattern.low + pattern.high);
  frame.half = 0.3 * static_cast<double>(height);
  const double most = levels.row(reach).maxCoeff();
  const std::array<EndTones, 2> ends{
      end_tones(light, frame, places, most),
      end_tones(light, frame, std::vector<double>(places.rbegin(), places.rend()), most)};
  pattern.goes_on = {goes_on(ends[0]), goes_on(ends[1])};
  pattern.tone_off = {ends[0].off_next(ends[0].beyond), ends[1].off_next(ends[1].beyond)};
  for (const Eigen::Index row : {reach - up - kPastBlur, reach + down + kPastBlur}) {
    const double beside = tone_beside(strip, blocks, static_cast<int>(row), most);
    pattern.on_strip = pattern.on_strip || (pattern.goes_on[0] && pattern.goes_on[1] &&
                                            ends[0].like_next(beside) && ends[1].like_next(beside));
  }
  pattern.tone_scatter =
      tone_scatter(strip.rowRange(static_cast<int>(first), static_cast<int>(first + inner)), blocks);
  pattern.raggedness = raggedness(levels.middleRows(first, inner), typical);
  return pattern;
}

}  // namespace corefleck
