#include "svg_path.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <cstdlib>
#include <iterator>
#include <vector>

namespace corefleck {
namespace {

constexpr double kPathTolerance_px = 0.15;  // of the grid: below what a screen shows at any zoom
constexpr int kPerPx = 10;                  // coordinates are tenths of a pixel, for the same reason

cv::Point in_tenths(const cv::Point2f& p) {
  return {cvRound(kPerPx * (static_cast<double>(p.x) + 0.5)),
          cvRound(kPerPx * (static_cast<double>(p.y) + 0.5))};
}

/// As short as path data may say it: "-1.5", ".5", "12".
void append_number(std::string& path, int tenths) {
  if (tenths < 0) path += '-';
  const int whole = std::abs(tenths) / kPerPx, rest = std::abs(tenths) % kPerPx;
  if (whole != 0 || rest == 0) fmt::format_to(std::back_inserter(path), "{}", whole);
  if (rest != 0) fmt::format_to(std::back_inserter(path), ".{}", rest);
}

void append_pair(std::string& path, cv::Point tenths) {
  append_number(path, tenths.x);
  if (tenths.y >= 0) path += ' ';  // a minus parts them as well
  append_number(path, tenths.y);
}

// Steps from corner to corner are less than half as long as places: a page's outlines are most of what the
// browser has to read.
void append_path(std::string& path, const Contour& contour) {
  std::vector<cv::Point2f> points(contour.begin(), contour.end()), few;
  if (points.size() < 3) return;
  cv::approxPolyDP(points, few, kPathTolerance_px, true);
  cv::Point at = in_tenths(few.front());
  path += 'M';
  append_pair(path, at);
  char command = 'l';
  for (auto p = few.begin() + 1; p != few.end(); ++p) {
    const cv::Point next = in_tenths(*p), step = next - at;
    if (step == cv::Point()) continue;
    if (command != 0)
      path += command;
    else if (step.x >= 0)
      path += ' ';
    append_pair(path, step);
    command = 0;
    at = next;
  }
  path += 'Z';
}

}  // namespace

std::string svg_path(const Contour& contour) {
  std::string path;
  append_path(path, contour);
  return path;
}

std::string svg_path(const Region& region) {
  std::string path = svg_path(region.outline);
  for (const Contour& hole : region.holes) append_path(path, hole);
  return path;
}

std::string svg_path_of_mask(const cv::Mat& mask) {
  std::string path;
  if (mask.empty()) return path;
  cv::Mat half;
  cv::resize(mask, half, {(mask.cols + 1) / 2, (mask.rows + 1) / 2}, 0.0, 0.0, cv::INTER_NEAREST);
  if (cv::countNonZero(half) == 0) return path;
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(half, contours, cv::RETR_CCOMP, cv::CHAIN_APPROX_SIMPLE);
  for (const auto& contour : contours) {
    Contour outline;
    for (const cv::Point& p : contour) outline.emplace_back(2.0 * p.x + 0.5, 2.0 * p.y + 0.5);
    append_path(path, outline);
  }
  return path;
}

}  // namespace corefleck
