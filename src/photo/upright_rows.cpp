#include "upright_rows.hpp"

#include <algorithm>
#include <cassert>
#include <cstring>
#include <type_traits>

namespace corefleck {
namespace {

// 96 bytes of an 8-bit RGB photo: no cache line of the target is visited often in vain.
static_assert(UprightRows::kBandRows == 32);

template <std::size_t kBytes>
void mirror_row(std::uint8_t* row, int width_px) {
  std::uint8_t* left = row;
  std::uint8_t* right = row + static_cast<std::size_t>(width_px - 1) * kBytes;
  for (; left < right; left += kBytes, right -= kBytes) std::swap_ranges(left, left + kBytes, right);
}

constexpr std::size_t kOverrun = 2;  // bytes that lay_column reads beyond its pixel

/// A column of a band becomes a run of one upright row, always from left to right, whichever way the column
/// is read. Pixels of 3 and 6 bytes go as 4 and 8, the next pixel covering what is too much, and the last one
/// exactly: that is one store a pixel instead of two, and writing leftwards would take half as long again.
template <std::size_t kBytes>
void lay_column(const std::uint8_t* pixel, std::ptrdiff_t to_next, int rows, std::uint8_t* out) {
  constexpr std::size_t kAtOnce = kBytes == 3 ? 4 : kBytes == 6 ? 8 : kBytes;
  static_assert(kAtOnce - kBytes <= kOverrun);
  for (int i = 0; i + 1 < rows; ++i, pixel += to_next, out += kBytes) std::memcpy(out, pixel, kAtOnce);
  std::memcpy(out, pixel, kBytes);
}

/// Bytes of a pixel as a compile-time constant: a copy of unknown length would be a call for each pixel.
template <class Function>
void with_pixel_bytes(std::size_t pixel_bytes, Function function) {
  switch (pixel_bytes) {
    case 1:
      return function(std::integral_constant<std::size_t, 1>{});
    case 2:
      return function(std::integral_constant<std::size_t, 2>{});
    case 3:
      return function(std::integral_constant<std::size_t, 3>{});
    case 6:
      return function(std::integral_constant<std::size_t, 6>{});
    default:
      assert(false);
  }
}

}  // namespace

int valid_orientation(long tag_value) {
  return tag_value >= 1 && tag_value <= 8 ? static_cast<int>(tag_value) : 1;
}

UprightRows::UprightRows(int width_px, int height_px, int type, int orientation)
    : width_px_(width_px),
      height_px_(height_px),
      orientation_(valid_orientation(orientation)),
      pixel_bytes_(static_cast<std::size_t>(CV_ELEM_SIZE(type))) {
  if (!quarter_turn()) {
    upright_.create(height_px, width_px, type);
    return;
  }
  upright_.create(width_px, height_px, type);
  make_band();
}

UprightRows UprightRows::from_row(int first_row) const {
  assert(first_row % kBandRows == 0);
  UprightRows rows = *this;  // the copy shares the photo, whose rows nobody else writes
  rows.row_ = first_row;
  if (quarter_turn()) rows.make_band();
  return rows;
}

void UprightRows::make_band() {
  // An odd number of cache lines a row: with a power of two, a column would fall into few sets of the cache.
  const std::size_t lines = ((static_cast<std::size_t>(width_px_) * pixel_bytes_ + kOverrun) / 64 + 1) | 1U;
  band_ = cv::Mat(kBandRows, static_cast<int>(lines * 64), CV_8UC1);
}

int UprightRows::upright_row(int row) const {
  return orientation_ == 3 || orientation_ == 4 ? height_px_ - 1 - row : row;
}

std::uint8_t* UprightRows::next_row() noexcept {
  assert(row_ < height_px_);
  return quarter_turn() ? band_.ptr(row_ % kBandRows) : upright_.ptr(upright_row(row_));
}

void UprightRows::row_written() noexcept {
  if (orientation_ == 2 || orientation_ == 3) {
    std::uint8_t* row = upright_.ptr(upright_row(row_));
    with_pixel_bytes(pixel_bytes_, [&](auto bytes) { mirror_row<bytes()>(row, width_px_); });
  }
  ++row_;
  if (quarter_turn() && (row_ % kBandRows == 0 || row_ == height_px_)) lay_down_band();
}

// 5: transpose. 6: quarter turn clockwise. 7: transpose over the other diagonal. 8: quarter turn
// counter-clockwise.
void UprightRows::lay_down_band() noexcept {
  const int rows = (row_ - 1) % kBandRows + 1;
  const int first_row = row_ - rows;
  const bool from_right = orientation_ == 6 || orientation_ == 7;
  const bool from_bottom = orientation_ == 7 || orientation_ == 8;
  const int column = from_right ? height_px_ - row_ : first_row;
  const std::uint8_t* band = band_.ptr(from_right ? rows - 1 : 0);
  const auto step = static_cast<std::ptrdiff_t>(band_.step);
  with_pixel_bytes(pixel_bytes_, [&](auto bytes) {
    for (int x = 0; x < width_px_; ++x) {
      std::uint8_t* row = upright_.ptr(from_bottom ? width_px_ - 1 - x : x);
      lay_column<bytes()>(band + static_cast<std::size_t>(x) * bytes(),
                          from_right ? -step : step,
                          rows,
                          row + static_cast<std::size_t>(column) * bytes());
    }
  });
}

cv::Mat turned_upright(const cv::Mat& stored, int orientation) {
  if (valid_orientation(orientation) == 1) return stored;
  UprightRows rows(stored.cols, stored.rows, stored.type(), orientation);
  const std::size_t row_bytes = static_cast<std::size_t>(stored.cols) * stored.elemSize();
  for (int y = 0; y < stored.rows; ++y) {
    std::memcpy(rows.next_row(), stored.ptr(y), row_bytes);
    rows.row_written();
  }
  return rows.upright();
}

}  // namespace corefleck
