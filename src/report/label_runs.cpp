#include "label_runs.hpp"

#include <opencv2/core/utility.hpp>

#include <cstdint>
#include <vector>

namespace corefleck {
namespace {

void append(std::string& bytes, std::uint32_t value) {
  for (; value >= 0x80U; value >>= 7U) bytes += static_cast<char>(value | 0x80U);
  bytes += static_cast<char>(value);
}

std::string runs_of_row(const std::int32_t* label, const std::uint8_t* outside, int columns) {
  const auto value = [&](int x) {
    if (outside[x] != 0) return static_cast<std::uint32_t>(outside[x]);
    return label[x] == 0 ? 0U : kFirstSpotValue + static_cast<std::uint32_t>(label[x]);
  };
  std::string runs;
  std::uint32_t count = 0;
  int end = 0;
  for (int x = 0; x < columns;) {
    const std::uint32_t here = value(x);
    int next = x + 1;
    while (next < columns && value(next) == here) ++next;
    if (here != 0) {
      append(runs, static_cast<std::uint32_t>(x - end));
      append(runs, static_cast<std::uint32_t>(next - x));
      append(runs, here);
      ++count;
      end = next;
    }
    x = next;
  }
  std::string row;
  append(row, count);
  return row += runs;
}

}  // namespace

std::string label_runs(const SpotMap& spots) {
  if (spots.labels.empty() || spots.outside.size() != spots.labels.size()) return {};
  std::vector<std::string> rows(static_cast<std::size_t>(spots.labels.rows));
  cv::parallel_for_(cv::Range(0, spots.labels.rows), [&](const cv::Range& range) {
    for (int y = range.start; y < range.end; ++y)
      rows[static_cast<std::size_t>(y)] = runs_of_row(
          spots.labels.ptr<std::int32_t>(y), spots.outside.ptr<std::uint8_t>(y), spots.labels.cols);
  });
  std::string all;
  for (const std::string& row : rows) all += row;
  return all;
}

}  // namespace corefleck
