#include "svg_path.hpp"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>

#include <iterator>
#include <vector>

namespace corefleck {
namespace {

constexpr double kPathTolerance_px = 0.15;  // of the grid: below what a screen shows at any zoom

void append_path(std::string& path, const Contour& contour) {
  std::vector<cv::Point2f> points(contour.begin(), contour.end()), few;
  if (points.size() < 3) return;
  cv::approxPolyDP(points, few, kPathTolerance_px, true);
  char command = 'M';
  for (const cv::Point2f& p : few) {
    fmt::format_to(std::back_inserter(path),
                   "{}{:.1f} {:.1f}",
                   command,
                   static_cast<double>(p.x) + 0.5,
                   static_cast<double>(p.y) + 0.5);
    command = 'L';
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
