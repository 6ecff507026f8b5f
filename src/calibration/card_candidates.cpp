#include "card_candidates.hpp"

#include "corefleck/in_bands.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <span>

namespace corefleck {
namespace {

/// What counts as flat: the largest slope of tone, L* per overview pixel, and the width of the gaps in an
/// outline that are bridged, odd, pixels.
struct Flatness {
  float slope;
  int bridged;
};

// Several, since a card on a bench of its own tone is parted from it only by a faint line, and a card in
// uneven light or strong noise is itself not quite flat.
constexpr std::array kFlat{
    Flatness{0.35F, 5}, Flatness{0.6F, 5}, Flatness{1.0F, 5}, Flatness{1.7F, 5}, Flatness{3.0F, 5}};
// On a tone smoothed more, for outlines that are hardly there: noise breaks them, in places over a dozen
// pixels.
constexpr std::array kFaintlyFlat{
    Flatness{0.12F, 5}, Flatness{0.2F, 5}, Flatness{0.12F, 13}, Flatness{0.2F, 13}};
// A hue that differs by 1.5 % in a ratio of channels makes 0.05 on colour smoothed over three pixels; noise
// as in good light leaves half of that at the worst places.
constexpr std::array kFaintColourFlat{
    Flatness{0.06F, 5}, Flatness{0.09F, 5}, Flatness{0.06F, 9}, Flatness{0.09F, 9}};
constexpr double kFaintColourSmoothing = 3.0;
// Of steps of tone and colour in strong noise, in overview pixels; the flat part of a card is narrower than
// the card by as much on either side.
constexpr double kNoisySmoothing = 3.0;
constexpr float kOneTone = 7.0F;        // L*: light that falls off, and noise, within one card
constexpr double kLeastUniform = 0.75;  // less of one tone is two things
constexpr double kUniform = 0.92;       // a label or a scratch may take the rest
constexpr double kCorner = 0.15;        // share of a side that rounding or wear may take at each end
constexpr double kBeside = 0.2;     // of the card's other dimension: the outline so near belongs to a side
constexpr double kMostSkew = 0.12;  // sine of the angle between a side and the box around the card
// A disc that the frame cuts fills at most 0.843 of the box around it, a whole one 0.785. A card whose
// corners are rounded to a fifth of its shorter side and whose sides perspective turns by 3 degrees fills
// 0.92.
constexpr double kLeastHull = 0.88;
// Of the outline itself: lettering at a side of a card and stones of its own tone beside it take bites out of
// it. With less than the second it is a card only if its tone is one's too.
constexpr double kLeastFill = 0.78, kRagged = 0.82;

cv::Mat slope_of_tone(const cv::Mat& tone, double smoothing) {
  const int reach = static_cast<int>(std::ceil(4.0 * smoothing)) + 4;
  return in_bands(tone, CV_32FC1, reach, [&](const cv::Mat& band) {
    cv::Mat smooth, gx, gy, slope;
    cv::medianBlur(band, smooth, 5);
    cv::GaussianBlur(smooth, smooth, {}, smoothing);
    cv::Scharr(smooth, gx, CV_32F, 1, 0, 1.0 / 32.0);
    cv::Scharr(smooth, gy, CV_32F, 0, 1, 1.0 / 32.0);
    cv::magnitude(gx, gy, slope);
    return slope;
  });
}

// A neutral card on a coloured bench of its own tone differs by colour alone: slopes of log R/G and log B/G,
// weighed so that a clear difference of hue counts like a few L*.
cv::Mat with_slope_of_colour(const cv::Mat& rgb, const cv::Mat& tone_slope, double smoothing) {
  cv::Mat slope = tone_slope.clone();
  std::array<cv::Mat, 3> channels;
  cv::split(rgb, channels.data());
  for (cv::Mat& channel : channels) {
    cv::medianBlur(channel, channel, 5);
    channel = cv::max(channel, 2e-3);
    cv::log(channel, channel);
  }
  for (const std::size_t c : {std::size_t{0}, std::size_t{2}}) {
    cv::Mat ratio = channels[c] - channels[1], gx, gy, size;
    cv::GaussianBlur(ratio, ratio, {}, smoothing);
    cv::Scharr(ratio, gx, CV_32F, 1, 0, 1.0 / 32.0);
    cv::Scharr(ratio, gy, CV_32F, 0, 1, 1.0 / 32.0);
    cv::magnitude(gx, gy, size);
    slope = cv::max(slope, size * 25.0);
  }
  return slope;
}

// Some thousand pixels tell an area's level.
int sampling_stride(const cv::Rect& area) {
  return std::max(1, static_cast<int>(std::sqrt(static_cast<double>(area.area()) / 5000.0)));
}

std::array<double, 3> median_level(const cv::Mat& rgb, const cv::Mat& mask, const cv::Rect& area) {
  std::array<std::vector<float>, 3> values;
  const int stride = sampling_stride(area);
  for (int y = area.y; y < area.y + area.height; y += stride)
    for (int x = area.x; x < area.x + area.width; x += stride)
      if (mask.at<unsigned char>(y - area.y, x - area.x) != 0)
        for (std::size_t c = 0; c < 3; ++c) values[c].push_back(rgb.at<cv::Vec3f>(y, x)[static_cast<int>(c)]);
  std::array<double, 3> level{};
  for (std::size_t c = 0; c < 3 && !values[c].empty(); ++c) {
    const auto middle = values[c].begin() + static_cast<std::ptrdiff_t>(values[c].size() / 2);
    std::nth_element(values[c].begin(), middle, values[c].end());
    level[c] = static_cast<double>(*middle);
  }
  return level;
}

// Share of the area that has the tone of most of it. A holder, a white border or the patches printed beside
// the grey are parted from it by lines too thin to count, so that their common outline looks like one flat
// area.
double uniform_share(const cv::Mat& tone, const cv::Mat& mask, const cv::Rect& area) {
  std::vector<float> values;
  const int stride = sampling_stride(area);
  for (int y = 0; y < area.height; y += stride)
    for (int x = 0; x < area.width; x += stride)
      if (mask.at<unsigned char>(y, x) != 0) values.push_back(tone.at<float>(y + area.y, x + area.x));
  if (values.empty()) return 0.0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  const float mid = *middle;
  const auto near =
      std::count_if(values.begin(), values.end(), [&](float v) { return std::abs(v - mid) < kOneTone; });
  return static_cast<double>(near) / static_cast<double>(values.size());
}

struct Line {
  cv::Point2d point, direction;
};

cv::Point2d crossing(const Line& a, const Line& b) {
  return a.point + (b.point - a.point).cross(b.direction) / a.direction.cross(b.direction) * a.direction;
}

// The outline along one side of the box, without its rounded or worn corners; the box's side where the
// outline shows no straight line.
Line side_of(const std::vector<cv::Point>& outline, cv::Point2d a, cv::Point2d b, double depth) {
  const double length = cv::norm(b - a);
  const cv::Point2d along = (b - a) / length;
  std::vector<cv::Point> near;
  for (const cv::Point& p : outline) {
    const cv::Point2d d = cv::Point2d(p) - a;
    const double share = d.dot(along) / length;
    if (share > kCorner && share < 1.0 - kCorner && std::abs(d.cross(along)) < kBeside * depth)
      near.push_back(p);
  }
  if (static_cast<double>(near.size()) < 0.5 * (1.0 - 2.0 * kCorner) * length) return {a, along};
  cv::Vec4f line;
  cv::fitLine(near, line, cv::DIST_HUBER, 0.0, 0.01, 0.01);
  const cv::Point2d direction(static_cast<double>(line[0]), static_cast<double>(line[1]));
  if (std::abs(direction.cross(along)) > kMostSkew) return {a, along};
  return {{static_cast<double>(line[2]), static_cast<double>(line[3])}, direction};
}

// Perspective turns the sides of a card against each other, by up to a few degrees, so that the box around it
// touches it at corners only.
std::array<cv::Point2d, 4> corners_of(const std::vector<cv::Point>& outline, const cv::RotatedRect& box) {
  std::array<cv::Point2f, 4> raw;
  box.points(raw.data());
  std::array<Line, 4> sides;
  for (std::size_t i = 0; i < 4; ++i) {
    const cv::Point2d a = raw[i], b = raw[(i + 1) % 4], c = raw[(i + 2) % 4];
    sides[i] = side_of(outline, a, b, cv::norm(c - b));
  }
  std::array<cv::Point2d, 4> corners;
  for (std::size_t i = 0; i < 4; ++i) corners[i] = crossing(sides[(i + 3) % 4], sides[i]);
  return corners;
}

// The outline's hull, since lettering at a side takes a bite out of the outline itself.
double hull_fill(const std::vector<cv::Point>& outline, double box_area) {
  std::vector<cv::Point> hull;
  cv::convexHull(outline, hull);
  return cv::contourArea(hull) / box_area;
}

// A rectangle under perspective, its corners perhaps rounded: the outline against the smallest box around it.
void examine(const Overview& overview,
             const std::vector<cv::Point>& outline,
             double min_side,
             std::vector<CardCandidate>& found) {
  const double area = cv::contourArea(outline);
  if (area < min_side * min_side) return;
  const cv::RotatedRect box = cv::minAreaRect(outline);
  const auto w = static_cast<double>(box.size.width), h = static_cast<double>(box.size.height);
  if (std::min(w, h) < min_side || std::max(w, h) > 6.0 * std::min(w, h)) return;
  const double fill = area / ((w + 1.0) * (h + 1.0));
  if (fill < kLeastFill || hull_fill(outline, w * h) < kLeastHull) return;
  const cv::Rect bounds = cv::boundingRect(outline);
  const int borders = (bounds.x <= 3) + (bounds.y <= 3) + (bounds.br().x >= overview.tone.cols - 3) +
                      (bounds.br().y >= overview.tone.rows - 3);
  if (borders > 1) return;  // the bench
  cv::Mat mask = cv::Mat::zeros(bounds.size(), CV_8UC1);
  const std::vector<std::vector<cv::Point>> one{outline};
  cv::drawContours(mask, one, 0, cv::Scalar(255), cv::FILLED, cv::LINE_8, cv::noArray(), 0, -bounds.tl());
  const double uniform = uniform_share(overview.tone, mask, bounds);
  if (uniform < kLeastUniform) return;
  found.push_back({box,
                   corners_of(outline, box),
                   fill * std::min(1.0, uniform / kUniform),
                   fill < kRagged,
                   median_level(overview.rgb, mask, bounds),
                   CardOutline::tone});
}

bool same_place(const CardCandidate& a, const CardCandidate& b) {
  const double size = std::sqrt(static_cast<double>(a.box.size.area()));
  return cv::norm(a.box.center - b.box.center) < 0.2 * size &&
         std::abs(std::sqrt(static_cast<double>(b.box.size.area())) - size) < 0.25 * size;
}

std::vector<CardCandidate> flat_rectangles(const Overview& overview, const cv::Mat& flat, double min_side) {
  std::vector<std::vector<cv::Point>> outlines;
  cv::findContours(flat, outlines, cv::RETR_CCOMP, cv::CHAIN_APPROX_NONE);
  std::vector<CardCandidate> found;
  for (const auto& outline : outlines) examine(overview, outline, min_side, found);
  return found;
}

cv::Mat slope_for(const Overview& overview, CardOutline parted_by) {
  if (parted_by == CardOutline::faint) return slope_of_tone(overview.tone, 2.0);
  if (parted_by == CardOutline::faint_colour)
    return with_slope_of_colour(
        overview.rgb, slope_of_tone(overview.tone, kFaintColourSmoothing), kFaintColourSmoothing);
  if (parted_by == CardOutline::noisy)
    return with_slope_of_colour(overview.rgb, slope_of_tone(overview.tone, kNoisySmoothing), kNoisySmoothing);
  const cv::Mat by_tone = slope_of_tone(overview.tone, 1.0);
  return parted_by == CardOutline::tone ? by_tone : with_slope_of_colour(overview.rgb, by_tone, 2.0);
}

std::span<const Flatness> kinds_of(CardOutline parted_by) {
  if (parted_by == CardOutline::faint) return kFaintlyFlat;
  if (parted_by == CardOutline::faint_colour) return kFaintColourFlat;
  return kFlat;
}

}  // namespace

void add_candidates(std::vector<CardCandidate>& all, const std::vector<CardCandidate>& more) {
  for (const CardCandidate& candidate : more) {
    const auto twin =
        std::find_if(all.begin(), all.end(), [&](const auto& other) { return same_place(candidate, other); });
    if (twin == all.end())
      all.push_back(candidate);
    else if (candidate.fill > twin->fill + 0.02)
      *twin = candidate;
  }
}

std::vector<CardCandidate> card_candidates(const Overview& overview,
                                           const cv::Mat& hidden,
                                           double min_side,
                                           CardOutline parted_by) {
  const cv::Mat slope = slope_for(overview, parted_by);
  if (parted_by == CardOutline::noisy) min_side -= 2.0 * kNoisySmoothing;
  const std::span<const Flatness> kinds = kinds_of(parted_by);
  std::vector<std::vector<CardCandidate>> found(kinds.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(kinds.size())), [&](const cv::Range& range) {
    for (auto i = static_cast<std::size_t>(range.start); i < static_cast<std::size_t>(range.end); ++i) {
      const cv::Size bridge(kinds[i].bridged, kinds[i].bridged);
      cv::Mat flat = (slope < kinds[i].slope) & (hidden == 0);
      cv::morphologyEx(flat, flat, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, bridge));
      found[i] = flat_rectangles(overview, flat, min_side);
    }
  });
  std::vector<CardCandidate> all;
  for (const auto& some : found) add_candidates(all, some);
  for (CardCandidate& candidate : all) candidate.parted_by = parted_by;
  return all;
}

}  // namespace corefleck
