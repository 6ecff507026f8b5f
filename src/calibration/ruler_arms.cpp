#include "ruler_arms.hpp"

#include "strip_light.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace corefleck {
namespace {

constexpr double kSameLength = 0.04;
// Arms at right angles point different ways: a camera tilted by 15 degrees shortens one by 4 % and brings it
// nearer or farther by about as much.
constexpr double kSameLengthAcross = 0.08;
constexpr double kSquare = 0.2;      // cosine of the angle between the arms of an L, tilt included
constexpr double kSameTone = 0.25;   // of the step between the blocks' tones
constexpr double kCleanShare = 0.8;  // of the way between the arms: ticks and figures may take the rest

struct Arm {
  cv::Point2d from, to;  ///< overview pixels
  double height, block, white;
  [[nodiscard]] double length() const { return cv::norm(to - from); }
  [[nodiscard]] cv::Point2d direction() const { return (to - from) / length(); }
};

Arm arm_of(const Overview& overview, const ScaleBar& bar, int blocks) {
  Arm arm{overview.from_photo({bar.axis.x1, bar.axis.y1}),
          overview.from_photo({bar.axis.x2, bar.axis.y2}),
          bar.height_px / overview.factor,
          0.0,
          bar.white_level};
  arm.block = arm.length() / blocks;
  return arm;
}

double nearest_distance(const Arm& a, const Arm& b) {
  double nearest = 1e9;
  for (int i = 0; i <= 20; ++i)
    for (int j = 0; j <= 20; ++j)
      nearest = std::min(nearest,
                         cv::norm(a.from + i / 20.0 * (a.to - a.from) - b.from - j / 20.0 * (b.to - b.from)));
  return nearest;
}

// Logarithm of the light along a line in the arm's direction, in the middle of the blocks' height; sorted.
std::vector<double> tones(const Overview& overview, const Arm& arm, cv::Point2d from, cv::Point2d to) {
  const double length = std::max(1.0, cv::norm(to - from));
  const StripFrame frame{
      from, (to - from) / length, 0.0, 1.0, static_cast<int>(length) + 1, 0.0, 0.2 * arm.height, 5};
  cv::Mat mean;
  cv::reduce(light_along(overview).strip(frame), mean, 0, cv::REDUCE_AVG);
  std::vector<double> values;
  for (int i = 0; i < mean.cols; ++i)
    values.push_back(std::log(static_cast<double>(mean.at<float>(i)) + 0.03 * arm.white + 1e-9));
  std::sort(values.begin(), values.end());
  return values;
}

double at_share(const std::vector<double>& sorted, double share) {
  return sorted[static_cast<std::size_t>(share * static_cast<double>(sorted.size() - 1))];
}

// From the end of an arm's blocks to where the arms' axes cross lies nothing but the ruler, of the tone that
// it has next to the blocks: bench between two rulers is another. `beside`: the other arm's blocks begin so
// far from the crossing.
bool leads_to(const Overview& overview, const Arm& arm, cv::Point2d crossing, double beside) {
  const bool behind = cv::norm(crossing - arm.to) < cv::norm(crossing - arm.from);
  const cv::Point2d end = behind ? arm.to : arm.from;
  const cv::Point2d outwards = behind ? arm.direction() : -arm.direction();
  const double gap = (crossing - end).dot(outwards) - beside;
  if (gap > arm.length()) return false;
  if (gap < 0.5 * arm.block) return true;
  const std::vector<double> blocks = tones(overview, arm, arm.from, arm.to);
  const double step = at_share(blocks, 0.9) - at_share(blocks, 0.1);
  const double ruler =
      at_share(tones(overview, arm, end + 0.1 * arm.block * outwards, end + 0.3 * arm.block * outwards), 0.5);
  const std::vector<double> between = tones(overview, arm, end, end + gap * outwards);
  const auto clean = std::count_if(
      between.begin(), between.end(), [&](double tone) { return std::abs(tone - ruler) < kSameTone * step; });
  return static_cast<double>(clean) >= kCleanShare * static_cast<double>(between.size());
}

bool arms_of_an_l(const Overview& overview, const Arm& a, const Arm& b) {
  const cv::Point2d along_a = a.direction(), along_b = b.direction();
  if (std::abs(along_a.dot(along_b)) > kSquare) return false;
  const cv::Point2d crossing = a.from + (b.from - a.from).cross(along_b) / along_a.cross(along_b) * along_a;
  return leads_to(overview, a, crossing, 0.75 * b.height) && leads_to(overview, b, crossing, 0.75 * a.height);
}

}  // namespace

bool on_one_ruler(const Overview& overview, const ScaleBar& a, const ScaleBar& b, int blocks) {
  const Arm first = arm_of(overview, a, blocks), second = arm_of(overview, b, blocks);
  const double off = std::abs(first.length() / second.length() - 1.0);
  if (off < kSameLength && nearest_distance(first, second) < 3.0 * first.block) return true;
  return off < kSameLengthAcross && arms_of_an_l(overview, first, second);
}

}  // namespace corefleck
