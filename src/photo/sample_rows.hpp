#pragma once

#include <cstdint>
#include <cstring>
#include <limits>
#include <span>

namespace corefleck {

/// How a file's row of interleaved samples becomes a row of the photo.
struct RowForm {
  int width_px = 0;
  int sample_bytes = 1;    ///< 1 or 2
  int file_channels = 1;   ///< as they lie in the file's row, those that are dropped included
  int channels = 1;        ///< that are kept, the first ones: 1 or 3
  bool has_alpha = false;  ///< the first dropped channel is opacity
  bool white_is_zero = false;
};

/// Copies the kept channels. Gives back whether any pixel is at all opaque (true where there is no alpha).
template <class Sample>
bool keep_channels(const RowForm& form, const std::uint8_t* file_row, std::uint8_t* photo_row) noexcept {
  const auto* in = reinterpret_cast<const Sample*>(file_row);
  auto* out = reinterpret_cast<Sample*>(photo_row);
  constexpr Sample kFull = std::numeric_limits<Sample>::max();
  const Sample flip = form.white_is_zero ? kFull : Sample{0};  // code XOR full scale = full scale - code
  Sample opacity = form.has_alpha ? Sample{0} : kFull;
  for (int x = 0; x < form.width_px; ++x, in += form.file_channels, out += form.channels) {
    for (int c = 0; c < form.channels; ++c) out[c] = static_cast<Sample>(in[c] ^ flip);
    if (form.has_alpha) opacity = static_cast<Sample>(opacity | in[form.channels]);
  }
  return opacity != 0;
}

/// The same for either width of sample. Both rows must be aligned to the sample.
inline bool keep_channels(const RowForm& form,
                          const std::uint8_t* file_row,
                          std::uint8_t* photo_row) noexcept {
  if (form.file_channels == form.channels && !form.white_is_zero) {
    std::memcpy(photo_row,
                file_row,
                static_cast<std::size_t>(form.width_px) *
                    static_cast<std::size_t>(form.channels * form.sample_bytes));
    return true;
  }
  return form.sample_bytes == 1 ? keep_channels<std::uint8_t>(form, file_row, photo_row)
                                : keep_channels<std::uint16_t>(form, file_row, photo_row);
}

}  // namespace corefleck
