#include "card_reading.hpp"

#include "corefleck/statistics.hpp"

#include <opencv2/imgproc.hpp>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kMiddle = 0.7;  // share of each side that is read: away from edges, labels and holders
constexpr int kSideRays = 48;

std::array<cv::Point2d, 4> corners_of(const cv::RotatedRect& box) {
  std::array<cv::Point2f, 4> raw;
  box.points(raw.data());
  return {cv::Point2d(raw[0]), cv::Point2d(raw[1]), cv::Point2d(raw[2]), cv::Point2d(raw[3])};
}

std::array<cv::Point2d, 4> shrunk(const std::array<cv::Point2d, 4>& corners, double share) {
  const cv::Point2d centre = 0.25 * (corners[0] + corners[1] + corners[2] + corners[3]);
  std::array<cv::Point2d, 4> inner;
  for (std::size_t i = 0; i < 4; ++i) inner[i] = centre + share * (corners[i] - centre);
  return inner;
}

struct Sample {
  double x, y, luminance;
};

// Trimmed means resist labels, scratches and dust: first the median, then what lies within four deviations of
// it.
GreyCard level_of(const cv::Mat& rgb, const cv::Mat& mask, const cv::Mat& clipped) {
  std::array<std::vector<double>, 3> values;
  std::vector<Sample> samples;
  std::size_t clips = 0;
  const int stride = std::max(1, static_cast<int>(std::sqrt(static_cast<double>(rgb.total()) / 60000.0)));
  for (int y = 0; y < rgb.rows; y += stride) {
    for (int x = 0; x < rgb.cols; x += stride) {
      if (mask.at<unsigned char>(y, x) == 0) continue;
      const cv::Vec3f v = rgb.at<cv::Vec3f>(y, x);
      for (std::size_t c = 0; c < 3; ++c) values[c].push_back(static_cast<double>(v[static_cast<int>(c)]));
      samples.push_back({static_cast<double>(x),
                         static_cast<double>(y),
                         0.2126729 * static_cast<double>(v[0]) + 0.7151522 * static_cast<double>(v[1]) +
                             0.0721750 * static_cast<double>(v[2])});
      clips += clipped.at<unsigned char>(y, x) != 0 ? 1U : 0U;
    }
  }
  GreyCard card{};
  for (std::size_t c = 0; c < 3; ++c) {
    const double mid = median(values[c]), reach = 4.0 * std::max(robust_deviation(values[c]), 1e-6);
    double sum = 0.0;
    std::size_t count = 0;
    for (const double v : values[c])
      if (std::abs(v - mid) <= reach) {
        sum += v;
        ++count;
      }
    card.level[c] = sum / static_cast<double>(std::max<std::size_t>(count, 1));
  }
  card.clipped_pct =
      100.0 * static_cast<double>(clips) / static_cast<double>(std::max<std::size_t>(samples.size(), 1));
  std::vector<double> luminances;
  for (const Sample& s : samples) luminances.push_back(s.luminance);
  const double mid = median(luminances), reach = 4.0 * std::max(robust_deviation(luminances), 1e-6);
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  for (const Sample& s : samples) {
    if (std::abs(s.luminance - mid) > reach) continue;
    const Eigen::Vector3d row(1.0, s.x / rgb.cols - 0.5, s.y / rgb.rows - 0.5);
    normal += row * row.transpose();
    right += row * s.luminance;
  }
  const Eigen::Vector3d plane = normal.ldlt().solve(right);
  std::vector<double> off;
  for (const Sample& s : samples)
    off.push_back(s.luminance - plane.dot(Eigen::Vector3d(1.0, s.x / rgb.cols - 0.5, s.y / rgb.rows - 0.5)));
  card.deviation_pct = 100.0 * robust_deviation(off) / std::max(mid, 1e-9);
  card.gradient_pct = 100.0 * std::hypot(plane[1], plane[2]) / std::max(mid, 1e-9);
  // Neighbouring pixels share demosaicing and compression: a twentieth of them counts as independent.
  const double independent = std::max(1.0, static_cast<double>(samples.size()) / 20.0);
  card.u_level_pct =
      std::hypot(card.deviation_pct / std::sqrt(independent), card.gradient_pct / std::sqrt(12.0) * 0.25);
  return card;
}

Result<FoundCard> read_quad(const Photo& photo, const std::array<cv::Point2d, 4>& quad) {
  std::vector<cv::Point> polygon;
  for (const cv::Point2d& p : quad) polygon.emplace_back(cv::Point(p));
  const cv::Rect area = cv::boundingRect(polygon) & cv::Rect(0, 0, photo.width_px(), photo.height_px());
  if (area.width < 4 || area.height < 4)
    return failure(ErrorCode::grey_card_not_found,
                   "the grey card covers too few pixels to be read",
                   "move closer, use a larger card, or correct --card-at X,Y,W,H");
  cv::Mat mask = cv::Mat::zeros(area.size(), CV_8UC1);
  for (cv::Point& p : polygon) p -= area.tl();
  cv::fillConvexPoly(mask, polygon, cv::Scalar(255));
  FoundCard found{};
  found.card = level_of(linear_rgb(photo, area), mask, clipped_pixels(photo, area));
  found.card.corners = quad;
  found.card.score = 1.0;
  return found;
}

// One side of the card: on rays across it the steepest place, then a line through those that agree.
std::optional<CardSide> straight_side(const Photo& photo, cv::Point2d a, cv::Point2d b, double reach) {
  const cv::Point2d along = (b - a) / cv::norm(b - a), across(-along.y, along.x);
  std::vector<double> place, offset;
  const cv::Rect frame(0, 0, photo.width_px(), photo.height_px());
  for (int i = 0; i < kSideRays; ++i) {
    const double t = (0.12 + 0.76 * i / (kSideRays - 1)) * cv::norm(b - a);
    const cv::Point2d middle = a + t * along;
    const cv::Point2d p = middle - reach * across, q = middle + reach * across;
    const cv::Rect area =
        cv::Rect(
            cv::Point(static_cast<int>(std::min(p.x, q.x)) - 3, static_cast<int>(std::min(p.y, q.y)) - 3),
            cv::Point(static_cast<int>(std::max(p.x, q.x)) + 4, static_cast<int>(std::max(p.y, q.y)) + 4)) &
        frame;
    if (area.width < 5 || area.height < 5) continue;
    const cv::Mat patch = linear_luminance(photo, area);
    const auto value = [&](double s) {
      double sum = 0.0;
      for (const double side : {-1.0, 0.0, 1.0}) {
        const cv::Point2d at = middle + s * across + side * along;
        sum += static_cast<double>(bilinear(patch, at.x - area.x, at.y - area.y));
      }
      return sum;
    };
    double best = 0.0, best_s = 0.0;
    for (double s = -reach; s <= reach; s += 0.5) {
      const double step = std::abs(value(s + 1.5) - value(s - 1.5));
      if (step > best) {
        best = step;
        best_s = s;
      }
    }
    const double l = std::abs(value(best_s + 1.0) - value(best_s - 2.0)),
                 r = std::abs(value(best_s + 2.0) - value(best_s - 1.0));
    const double bend = l - 2.0 * best + r;
    place.push_back(t);
    offset.push_back(best_s + (bend < 0.0 ? std::clamp(0.25 * (l - r) / bend, -0.25, 0.25) : 0.0));
  }
  if (place.size() < kSideRays / 2) return std::nullopt;
  double intercept = median(offset), slope = 0.0, deviation = 0.0;
  std::size_t held = 0;
  double tolerance = reach;
  double sxx = 0.0;
  for (int pass = 0; pass < 6; ++pass) {
    double n = 0, sx = 0, sy = 0, xx = 0, xy = 0, ss = 0;
    for (std::size_t i = 0; i < place.size(); ++i) {
      const double off = offset[i] - intercept - slope * place[i];
      if (std::abs(off) > tolerance) continue;
      n += 1, sx += place[i], sy += offset[i], xx += place[i] * place[i], xy += place[i] * offset[i],
          ss += off * off;
    }
    if (n < 8) return std::nullopt;
    sxx = xx - sx * sx / n;
    slope = (xy - sx * sy / n) / sxx;
    intercept = (sy - slope * sx) / n;
    deviation = std::sqrt(ss / (n - 2.0));
    held = static_cast<std::size_t>(n);
    tolerance = std::max(0.8, 2.5 * std::min(deviation, tolerance / 3.0));
  }
  if (static_cast<double>(held) < 0.6 * static_cast<double>(place.size()) || deviation > 1.0)
    return std::nullopt;
  const double last = cv::norm(b - a);
  return CardSide{a + intercept * across,
                  a + last * along + (intercept + slope * last) * across,
                  std::max(deviation, 0.05) / std::sqrt(sxx)};
}

}  // namespace

Result<FoundCard> read_card(const Photo& photo, const Overview& overview, const cv::RotatedRect& box) {
  std::array<cv::Point2d, 4> corners = corners_of(box);
  for (cv::Point2d& corner : corners) corner = overview.to_photo(corner);
  auto found = read_quad(photo, shrunk(corners, kMiddle));
  if (!found) return found;
  for (std::size_t i = 0; i < 4; ++i)
    found->sides[i] = straight_side(photo, corners[i], corners[(i + 1) % 4], 5.0 * overview.factor + 3.0);
  return found;
}

Result<FoundCard> read_card_in_box(const Photo& photo, const PixelBox& box) {
  const double mx = 0.1 * box.w, my = 0.1 * box.h;
  auto found = read_quad(photo,
                         {cv::Point2d(box.x + mx, box.y + my),
                          cv::Point2d(box.x + box.w - mx, box.y + my),
                          cv::Point2d(box.x + box.w - mx, box.y + box.h - my),
                          cv::Point2d(box.x + mx, box.y + box.h - my)});
  if (found) found->card.by_hand = true;
  return found;
}

}  // namespace corefleck
