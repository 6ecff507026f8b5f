// The functions through which the other modules see a photo: linear light only.

#include "corefleck/clipping.hpp"
#include "corefleck/colorimetry.hpp"
#include "corefleck/photo.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

using Tables = std::array<std::vector<float>, 3>;
constexpr int kManyPixels = 5;

[[maybe_unused]] bool inside(const Photo& photo, const cv::Rect& area) {
  return area.x >= 0 && area.y >= 0 && area.width >= 0 && area.height >= 0 &&
         area.x <= photo.width_px() - area.width && area.y <= photo.height_px() - area.height;
}

bool is_identity(const std::array<float, 9>& matrix) {
  return matrix == std::array<float, 9>{1, 0, 0, 0, 1, 0, 0, 0, 1};
}

/// Each pixel is computed from its own samples only, so the bands that rows fall into never show in the
/// result.
template <class RowFunction>
void each_row(int rows, RowFunction function) {
  cv::parallel_for_(cv::Range(0, rows), [&](const cv::Range& band) {
    for (int y = band.start; y < band.end; ++y) function(y);
  });
}

/// Calls `function` with the type of the photo's samples.
template <class Function>
void with_sample_type(const Photo& photo, Function function) {
  if (photo.samples.depth() == CV_8U) {
    function(std::uint8_t{});
  } else {
    assert(photo.samples.depth() == CV_16U);
    function(std::uint16_t{});
  }
}

/// Weights, matrix and decoding in one: table[0][r] + table[1][g] + table[2][b].
Tables weighted_tables(const Photo& photo, const std::array<double, 3>& weights) {
  Tables tables;
  for (std::size_t channel = 0; channel < 3; ++channel) {
    double weight = 0.0;
    for (std::size_t row = 0; row < 3; ++row)
      weight += weights[row] * static_cast<double>(photo.to_srgb_linear[3 * row + channel]);
    tables[channel].reserve(photo.decode[channel].size());
    for (const float light : photo.decode[channel])
      tables[channel].push_back(static_cast<float>(weight * static_cast<double>(light)));
  }
  return tables;
}

inline void apply_matrix(const std::array<float, 9>& matrix, float* rgb) {
  const float r = rgb[0], g = rgb[1], b = rgb[2];
  for (std::size_t i = 0; i < 3; ++i)
    rgb[i] = matrix[3 * i] * r + matrix[3 * i + 1] * g + matrix[3 * i + 2] * b;
}

/// Which of the pixels along one side of a reduced pixel are averaged: all of few, and of many every other
/// one from both ends inwards, so that the mean stays centred.
std::vector<int> averaged_offsets(int factor) {
  std::vector<int> offsets;
  for (int i = 0; i < factor; ++i)
    if (factor < kManyPixels || std::min(i, factor - 1 - i) % 2 == 0) offsets.push_back(i);
  return offsets;
}

/// Adds the linear light of one photo row to the sums of the reduced pixels it belongs to; grey fills one
/// channel of three, colour all.
template <class Sample, std::size_t kChannels>
void add_row(const Photo& photo,
             int row,
             int factor,
             const std::vector<int>& offsets,
             cv::Vec3f* sums,
             int reduced_width) {
  const Sample* codes = photo.samples.ptr<Sample>(row);
  std::array<const float*, kChannels> light{};
  for (std::size_t c = 0; c < kChannels; ++c) light[c] = photo.decode[c].data();
  const auto step = static_cast<std::size_t>(factor) * kChannels;
  // Offset by offset, so that the additions of neighbouring reduced pixels do not wait for each other.
  for (const int offset : offsets) {
    const Sample* code = codes + static_cast<std::size_t>(offset) * kChannels;
    const int inside = std::min(reduced_width, (photo.width_px() - offset + factor - 1) / factor);
    for (int x = 0; x < inside; ++x, code += step)
      for (std::size_t c = 0; c < kChannels; ++c) sums[x][static_cast<int>(c)] += light[c][code[c]];
  }
}

/// Linear channels between the four pixels around a place, before the matrix; at the frame's edge its pixels
/// go on outwards. What all places have in common is looked up once.
template <class Sample, std::size_t kChannels>
class LightBetween {
 public:
  explicit LightBetween(const Photo& photo)
      : first_(photo.samples.ptr<Sample>()),
        row_(photo.samples.step1()),
        last_column_(photo.width_px() - 1),
        last_row_(photo.height_px() - 1) {
    for (std::size_t c = 0; c < kChannels; ++c) decode_[c] = photo.decode[c].data();
  }
  [[nodiscard]] cv::Vec3f at(const cv::Vec2f& place) const {
    // In this order a NaN becomes 0, which std::clamp would hand on.
    const float x = std::min(std::max(0.0F, place[0]), static_cast<float>(last_column_));
    const float y = std::min(std::max(0.0F, place[1]), static_cast<float>(last_row_));
    const int left = static_cast<int>(x), top = static_cast<int>(y);
    const float across = x - static_cast<float>(left), down = y - static_cast<float>(top);
    const Sample* upper =
        first_ + static_cast<std::size_t>(top) * row_ + static_cast<std::size_t>(left) * kChannels;
    const Sample* lower = top < last_row_ ? upper + row_ : upper;
    const std::size_t next = left < last_column_ ? kChannels : 0;
    cv::Vec3f light;
    for (std::size_t c = 0; c < kChannels; ++c) {
      const float* decode = decode_[c];
      const float above = decode[upper[c]] + across * (decode[upper[c + next]] - decode[upper[c]]);
      const float below = decode[lower[c]] + across * (decode[lower[c + next]] - decode[lower[c]]);
      light.val[c] = above + down * (below - above);
    }
    return kChannels == 1 ? cv::Vec3f::all(light[0]) : light;
  }

 private:
  const Sample* first_;
  std::size_t row_;
  int last_column_, last_row_;
  std::array<const float*, kChannels> decode_{};
};

int how_many_inside(const std::vector<int>& offsets, int inside) {
  return static_cast<int>(std::ranges::count_if(offsets, [&](int offset) { return offset < inside; }));
}

template <class Sample>
Clipping clipping_of(const Sample* code, int channels, Sample lowest) {
  if (code[channels / 2] >= lowest) return Clipping::luminance;  // green, or grey
  const bool any = std::any_of(code, code + channels, [&](Sample c) { return c >= lowest; });
  return any ? Clipping::colour : Clipping::none;
}

}  // namespace

cv::Mat linear_luminance(const Photo& photo, const cv::Rect& area) {
  return weighted_light(photo, area, kLuminanceOfSrgb);
}

cv::Mat weighted_light(const Photo& photo, const cv::Rect& area, const std::array<double, 3>& weights) {
  assert(inside(photo, area));
  cv::Mat light(area.size(), CV_32FC1);
  const bool grey = photo.is_grey();
  const auto sum = static_cast<float>(weights[0] + weights[1] + weights[2]);
  const Tables tables = grey ? Tables{} : weighted_tables(photo, weights);
  with_sample_type(photo, [&](auto sample) {
    using Sample = decltype(sample);
    each_row(area.height, [&](int y) {
      float* out = light.ptr<float>(y);
      const Sample* code = photo.samples.ptr<Sample>(area.y + y) + area.x * photo.samples.channels();
      if (grey) {
        for (int x = 0; x < area.width; ++x) out[x] = sum * photo.decode[0][code[x]];
        return;
      }
      const float *red = tables[0].data(), *green = tables[1].data(), *blue = tables[2].data();
      for (int x = 0; x < area.width; ++x, code += 3) out[x] = red[code[0]] + green[code[1]] + blue[code[2]];
    });
  });
  return light;
}

cv::Mat linear_rgb(const Photo& photo, const cv::Rect& area) {
  assert(inside(photo, area));
  cv::Mat rgb(area.size(), CV_32FC3);
  const bool grey = photo.is_grey();
  const bool needs_matrix = !grey && !is_identity(photo.to_srgb_linear);
  with_sample_type(photo, [&](auto sample) {
    using Sample = decltype(sample);
    each_row(area.height, [&](int y) {
      float* out = rgb.ptr<float>(y);
      const Sample* code = photo.samples.ptr<Sample>(area.y + y) + area.x * photo.samples.channels();
      for (int x = 0; x < area.width; ++x, out += 3, code += grey ? 1 : 3) {
        for (std::size_t c = 0; c < 3; ++c)
          out[c] = grey ? photo.decode[0][code[0]] : photo.decode[c][code[c]];
        if (needs_matrix) apply_matrix(photo.to_srgb_linear, out);
      }
    });
  });
  return rgb;
}

cv::Mat reduced_linear_rgb(const Photo& photo, int factor) {
  assert(factor >= 1);
  const int width = (photo.width_px() - 1) / factor + 1;
  const int height = (photo.height_px() - 1) / factor + 1;
  cv::Mat reduced(height, width, CV_32FC3);
  const bool grey = photo.is_grey();
  const bool needs_matrix = !grey && !is_identity(photo.to_srgb_linear);
  const std::vector<int> offsets = averaged_offsets(factor);
  each_row(height, [&](int y) {
    auto* out = reduced.ptr<cv::Vec3f>(y);
    std::fill_n(out, width, cv::Vec3f::all(0.0F));
    const int rows = how_many_inside(offsets, photo.height_px() - y * factor);
    for (int i = 0; i < rows; ++i)
      with_sample_type(photo, [&](auto sample) {
        using Sample = decltype(sample);
        const int row = y * factor + offsets[static_cast<std::size_t>(i)];
        if (grey) {
          add_row<Sample, 1>(photo, row, factor, offsets, out, width);
        } else {
          add_row<Sample, 3>(photo, row, factor, offsets, out, width);
        }
      });
    for (int x = 0; x < width; ++x) {
      const int columns = how_many_inside(offsets, photo.width_px() - x * factor);
      // Dividing afterwards and turning by the matrix last is exact, since both are linear, and cheaper.
      out[x] *= 1.0F / (static_cast<float>(rows) * static_cast<float>(columns));
      if (grey) out[x] = cv::Vec3f::all(out[x][0]);
      if (needs_matrix) apply_matrix(photo.to_srgb_linear, out[x].val);
    }
  });
  return reduced;
}

cv::Mat linear_rgb_at(const Photo& photo, const cv::Mat& places) {
  assert(places.type() == CV_32FC2);
  cv::Mat rgb(places.size(), CV_32FC3);
  const bool needs_matrix = !photo.is_grey() && !is_identity(photo.to_srgb_linear);
  const auto read = [&](const auto& light) {
    each_row(places.rows, [&](int y) {
      const auto* place = places.ptr<cv::Vec2f>(y);
      auto* out = rgb.ptr<cv::Vec3f>(y);
      for (int x = 0; x < places.cols; ++x) out[x] = light.at(place[x]);
      for (int x = 0; needs_matrix && x < places.cols; ++x) apply_matrix(photo.to_srgb_linear, out[x].val);
    });
  };
  with_sample_type(photo, [&](auto sample) {
    using Sample = decltype(sample);
    if (photo.is_grey()) {
      read(LightBetween<Sample, 1>(photo));
    } else {
      read(LightBetween<Sample, 3>(photo));
    }
  });
  return rgb;
}

cv::Mat clipped_pixels(const Photo& photo, const cv::Rect& area) {
  assert(inside(photo, area));
  cv::Mat clipped(area.size(), CV_8UC1);
  const int channels = photo.samples.channels();
  with_sample_type(photo, [&](auto sample) {
    using Sample = decltype(sample);
    const auto lowest = static_cast<Sample>(std::ceil(0.985 * std::numeric_limits<Sample>::max()));
    each_row(area.height, [&](int y) {
      auto* out = clipped.ptr<std::uint8_t>(y);
      const Sample* code = photo.samples.ptr<Sample>(area.y + y) + area.x * channels;
      // Most rows hold nothing that clips, and their largest sample, found many at a time, says so.
      Sample largest = 0;
      for (int i = 0; i < area.width * channels; ++i) largest = std::max(largest, code[i]);
      if (largest < lowest) {
        std::fill_n(out, area.width, std::uint8_t{0});
        return;
      }
      for (int x = 0; x < area.width; ++x, code += channels)
        out[x] = static_cast<std::uint8_t>(clipping_of(code, channels, lowest));
    });
  });
  return clipped;
}

}  // namespace corefleck
