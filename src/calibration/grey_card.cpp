#include "grey_card.hpp"

#include "card_candidates.hpp"
#include "card_reading.hpp"

#include "corefleck/colorimetry.hpp"
#include "corefleck/statistics.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kLeastCard_mm = 12.0;
constexpr double kLeastScore = 0.2;
constexpr double kLeastAlone = 0.002;  // of the only flat neutral rectangle: the bar may lie in other light
constexpr double kInShadow_pct = 15.0;
constexpr double kInRow = 0.15;   // of a card's side: how far a patch printed with it may seem off it
constexpr double kShorter = 0.7;  // of the card's other side
constexpr double kClearScore = 0.75;
constexpr double kWhiteBlock =
    0.85;  // luminous reflectance of white print: common practice, no source; a rough guide only

// What white looks like beside the card: the brighter quarter of the overview pixels on the bar's axis.
std::array<double, 3> light_block_colour(const Overview& overview, const ScaleBar& bar) {
  std::vector<std::array<double, 3>> along;
  for (int i = 0; i <= 400; ++i) {
    const double t = i / 400.0;
    const cv::Point2d p = overview.from_photo(
        {bar.axis.x1 + t * (bar.axis.x2 - bar.axis.x1), bar.axis.y1 + t * (bar.axis.y2 - bar.axis.y1)});
    const int x = std::clamp(static_cast<int>(std::lround(p.x)), 0, overview.rgb.cols - 1);
    const int y = std::clamp(static_cast<int>(std::lround(p.y)), 0, overview.rgb.rows - 1);
    const cv::Vec3f v = overview.rgb.at<cv::Vec3f>(y, x);
    along.push_back({static_cast<double>(v[0]), static_cast<double>(v[1]), static_cast<double>(v[2])});
  }
  std::sort(
      along.begin(), along.end(), [](const auto& a, const auto& b) { return luminance(a) > luminance(b); });
  return along[along.size() / 8];
}

void hide_line(cv::Mat& hidden, const Overview& overview, const ScaleBar& bar) {
  const cv::Point2d a = overview.from_photo({bar.axis.x1, bar.axis.y1});
  const cv::Point2d b = overview.from_photo({bar.axis.x2, bar.axis.y2});
  const int width = std::max(3, static_cast<int>(bar.height_px / overview.factor));
  cv::line(hidden, cv::Point(a), cv::Point(b), cv::Scalar(255), width);
}

cv::Mat hidden_parts(const Overview& overview, const FaceEllipse& face, const ScaleBar& bar) {
  cv::Mat hidden = cv::Mat::zeros(overview.tone.size(), CV_8UC1);
  const cv::Point2d centre = overview.from_photo({face.x, face.y});
  cv::circle(hidden,
             cv::Point(centre),
             static_cast<int>(face.semi_major / overview.factor) + 2,
             cv::Scalar(255),
             cv::FILLED);
  hide_line(hidden, overview, bar);
  return hidden;
}

// How well a flat rectangle fits: the right luminance against white (light may fall off between them), no
// colour of its own beside white, straight sides.
double score(const CardCandidate& candidate, const std::array<double, 3>& white, double reflectance) {
  const double y = luminance(candidate.level), white_y = luminance(white);
  if (y <= 0.0 || white_y <= 0.0) return 0.0;
  const double off = std::log(y / white_y * kWhiteBlock / reflectance);
  double colour = 0.0;
  for (std::size_t c = 0; c < 3; ++c) {
    const double ratio = (candidate.level[c] / y) / std::max(white[c] / white_y, 1e-6);
    colour = std::max(colour, std::abs(std::log(std::max(ratio, 1e-6))));
  }
  return std::exp(-std::pow(off / 0.45, 2.0)) * std::exp(-std::pow(colour / 0.2, 2.0)) *
         std::min(1.0, candidate.fill / 0.93);
}

struct Scored {
  CardCandidate candidate;
  double score;
};

// Patches beside the card are smaller than the card.
void prefer_large(std::vector<Scored>& scored) {
  double largest = 0.0;
  for (const Scored& s : scored)
    largest = std::max(largest, static_cast<double>(s.candidate.box.size.area()));
  for (Scored& s : scored)
    s.score *= std::pow(static_cast<double>(s.candidate.box.size.area()) / largest, 0.15);
  std::stable_sort(
      scored.begin(), scored.end(), [](const auto& a, const auto& b) { return a.score > b.score; });
}

bool differ(const CardCandidate& a, const CardCandidate& b) {
  return std::abs(std::log(luminance(a.level) / luminance(b.level))) > 0.08;
}

std::string place(const Overview& overview, const CardCandidate& c) {
  const cv::Point2d p = overview.to_photo(cv::Point2d(c.box.center));
  return fmt::format("({:.0f}, {:.0f})", p.x, p.y);
}

// A flat block of the bar, or the strip beside it.
bool on_bar(const CardCandidate& candidate, const ScaleBar& bar, const Overview& overview, int blocks) {
  std::array<cv::Point2f, 4> corners;
  candidate.box.points(corners.data());
  const std::vector<cv::Point2f> outline(corners.begin(), corners.end());
  const PixelSegment& a = bar.axis;
  const double pitch_px = std::hypot(a.x2 - a.x1, a.y2 - a.y1) / blocks;
  const double beside = 0.5 * std::min(bar.height_px, pitch_px) / overview.factor;
  for (const double t : {0.1, 0.3, 0.5, 0.7, 0.9}) {
    const cv::Point2d p = overview.from_photo({a.x1 + t * (a.x2 - a.x1), a.y1 + t * (a.y2 - a.y1)});
    if (cv::pointPolygonTest(outline, cv::Point2f(p), true) > -beside) return true;
  }
  return false;
}

bool holds(const cv::RotatedRect& box, cv::Point2f point) {
  std::array<cv::Point2f, 4> corners;
  box.points(corners.data());
  return cv::pointPolygonTest(std::vector<cv::Point2f>(corners.begin(), corners.end()), point, false) >= 0.0;
}

/// A box's side along a direction and the one across it.
cv::Vec2d sides_along(const cv::RotatedRect& box, cv::Point2d along) {
  const double turn = static_cast<double>(box.angle) * CV_PI / 180.0;
  const cv::Size2d size(box.size);
  const bool with_width = std::abs(std::cos(turn) * along.x + std::sin(turn) * along.y) > std::sqrt(0.5);
  return with_width ? cv::Vec2d(size.width, size.height) : cv::Vec2d(size.height, size.width);
}

// The white and black patches that are printed with a grey card lie in a row with it, as wide as it and
// shorter.
bool patch_of(const cv::RotatedRect& card, const cv::RotatedRect& patch) {
  const cv::Point2d apart = cv::Point2d(patch.center) - cv::Point2d(card.center);
  const double distance = cv::norm(apart);
  if (distance <= 0.0) return false;
  for (const double quarter : {0.0, 90.0}) {
    const double turn = (static_cast<double>(card.angle) + quarter) * CV_PI / 180.0;
    const cv::Point2d along(std::cos(turn), std::sin(turn));
    const cv::Vec2d own = sides_along(card, along), other = sides_along(patch, along);
    if (std::abs(apart.cross(along)) < kInRow * own[1] && std::abs(other[1] / own[1] - 1.0) < kInRow &&
        other[0] < kShorter * own[0] && distance < 1.5 * own[0])
      return true;
  }
  return false;
}

/// Whether all of them are one rectangle, parts of it, and patches printed with it.
bool of_one_card(const std::vector<Scored>& scored) {
  return std::all_of(scored.begin(), scored.end(), [&](const Scored& other) {
    const cv::RotatedRect &first = scored[0].candidate.box, &box = other.candidate.box;
    return holds(first, box.center) || holds(box, first.center) || patch_of(first, box);
  });
}

// By tone alone first; what else might part a card from the bench is looked for only if that shows none
// clearly.
std::vector<Scored> scored_candidates(const Overview& overview,
                                      const FaceEllipse& face,
                                      const ScaleBar& bar,
                                      const CalibrationSettings& settings) {
  const std::array<double, 3> white = light_block_colour(overview, bar);
  const double px_per_mm = std::hypot(bar.axis.x2 - bar.axis.x1, bar.axis.y2 - bar.axis.y1) /
                           overview.factor / settings.bar_length.number();
  const double min_side = std::max(8.0, kLeastCard_mm * px_per_mm);
  const cv::Mat hidden = hidden_parts(overview, face, bar);
  std::vector<CardCandidate> candidates;
  std::vector<Scored> scored;
  for (const CardOutline parted_by : {CardOutline::tone,
                                      CardOutline::colour,
                                      CardOutline::faint,
                                      CardOutline::faint_colour,
                                      CardOutline::noisy}) {
    // What shows only when smoothed has vague sides: better the card that was found as it is.
    const bool vague = parted_by == CardOutline::faint_colour || parted_by == CardOutline::noisy;
    if (vague && !scored.empty() && scored[0].score > kLeastScore) break;
    add_candidates(candidates, card_candidates(overview, hidden, min_side, parted_by));
    scored.clear();
    for (const CardCandidate& candidate : candidates) {
      const double s = score(candidate, white, settings.card_reflectance);
      if (s > (candidate.ragged ? kLeastScore : kLeastAlone) &&
          !on_bar(candidate, bar, overview, settings.bar_blocks))
        scored.push_back({candidate, s});
    }
    prefer_large(scored);
    if (!scored.empty() && scored[0].score > kClearScore && !scored[0].candidate.ragged) break;
  }
  const auto weak =
      std::partition(scored.begin(), scored.end(), [](const Scored& s) { return s.score > kLeastScore; });
  if (weak != scored.begin() || !of_one_card(scored)) scored.erase(weak, scored.end());
  return scored;
}

Result<FoundCard> chosen_card(const Photo& photo,
                              const Overview& overview,
                              const FaceEllipse& face,
                              const FoundBar& bar,
                              const CalibrationSettings& settings) {
  if (settings.card_at) return read_card_in_box(photo, *settings.card_at);
  const std::vector<Scored> scored = scored_candidates(overview, face, bar.bar, settings);
  if (scored.empty())
    return failure(ErrorCode::grey_card_not_found,
                   "no grey card found in the photo",
                   "lay a neutral grey card flat beside the core, give --card-at X,Y,W,H, or measure without "
                   "by --no-card");
  for (std::size_t i = 1; i < scored.size(); ++i)
    if (scored[i].score > 0.92 * scored[0].score && differ(scored[i].candidate, scored[0].candidate))
      return failure(ErrorCode::grey_card_ambiguous,
                     fmt::format("two areas look like the grey card, at {} and at {} pixels",
                                 place(overview, scored[0].candidate),
                                 place(overview, scored[i].candidate)),
                     "leave one grey card in the frame, or say which with --card-at X,Y,W,H");
  auto found = read_card(photo, overview, scored[0].candidate.corners);
  if (found) found->card.score = scored[0].score;
  // Half in shadow, its sides may be the shadow's; and a hue that hardly differs shows where a card lies, but
  // not where on the photo's own pixels it ends.
  const bool in_shadow = scored[0].score <= kLeastScore && found && found->card.gradient_pct > kInShadow_pct;
  if (found && (in_shadow || scored[0].candidate.parted_by == CardOutline::faint_colour)) found->sides = {};
  return found;
}

}  // namespace

Result<FoundCard> find_grey_card(const Photo& photo,
                                 const Overview& overview,
                                 const FaceEllipse& face,
                                 const FoundBar& bar,
                                 const CalibrationSettings& settings) {
  auto found = chosen_card(photo, overview, face, bar, settings);
  if (found)
    found->card.white_reflectance = settings.card_reflectance *
                                    luminance(light_block_colour(overview, bar.bar)) /
                                    std::max(luminance(found->card.level), 1e-6);
  return found;
}

}  // namespace corefleck
