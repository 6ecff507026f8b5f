#pragma once

#include <opencv2/core.hpp>

#include <cstddef>
#include <cstdint>

namespace corefleck {

/// Takes a photo's rows in the order in which the file stores them and lays them down upright at once, by the
/// orientation of TIFF 6.0 (tag 274) and Exif. Turning while decoding costs no second photo in memory, which
/// turning afterwards would; quarter turns go by bands of rows, so that both sides of the copy stay in the
/// cache.
class UprightRows {
 public:
  /// width, height: as stored; type: CV_8UC1, CV_8UC3, CV_16UC1 or CV_16UC3; orientation: 1 to 8.
  UprightRows(int width_px, int height_px, int type, int orientation);

  /// Rows of the same photo from `first_row` on, laid down by another thread meanwhile; `first_row` is a
  /// multiple of kBandRows.
  [[nodiscard]] UprightRows from_row(int first_row) const;

  static constexpr int kBandRows = 32;  ///< rows that a quarter turn takes at once

  /// Where the next stored row is to be written. Neither this nor `row_written` allocates or throws.
  [[nodiscard]] std::uint8_t* next_row() noexcept;
  void row_written() noexcept;
  /// The upright photo, after as many rows as its height was said to be.
  [[nodiscard]] cv::Mat upright() const { return upright_; }

 private:
  [[nodiscard]] bool quarter_turn() const { return orientation_ >= 5; }
  [[nodiscard]] int upright_row(int row) const;
  void make_band();
  void lay_down_band() noexcept;

  int width_px_, height_px_, orientation_;
  std::size_t pixel_bytes_;
  cv::Mat upright_;
  cv::Mat band_;  ///< rows that wait for their quarter turn
  int row_ = 0;   ///< stored rows written so far
};

/// The orientation if it is one of the eight, otherwise 1: what a garbled tag says is not applied.
[[nodiscard]] int valid_orientation(long tag_value);

/// A photo stored as a whole, turned upright. Where nothing is to be turned it shares its samples with the
/// argument.
[[nodiscard]] cv::Mat turned_upright(const cv::Mat& stored, int orientation);

}  // namespace corefleck
