#include "render.hpp"

#include "noise.hpp"
#include "parallel.hpp"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

namespace scenes {
namespace {

constexpr float kGlintLevel = 3.0f;  // times full scale: a mirrored lamp clips whatever the exposure

/// Reads places of the plane under one photo row; a projective map is linear in numerator and denominator.
class RowOnPlane {
 public:
  RowOnPlane(const Camera& camera, int row) : h_(camera.px_to_mm), y_(row) {}
  [[nodiscard]] cv::Point2f at(double x, double dy = 0) const {
    const double y = y_ + dy;
    const double w = 1 / (h_(2, 0) * x + h_(2, 1) * y + h_(2, 2));
    return {static_cast<float>((h_(0, 0) * x + h_(0, 1) * y + h_(0, 2)) * w),
            static_cast<float>((h_(1, 0) * x + h_(1, 1) * y + h_(1, 2)) * w)};
  }

 private:
  cv::Matx33d h_;
  double y_;
};

struct FaceReading {
  Rgb albedo{0, 0, 0};
  float glint = 0;
};

class Painter {
 public:
  Painter(const Layout& layout,
          const Bench& bench,
          const Light& light,
          const Face& face,
          std::uint32_t tooth_seed)
      : layout_(layout),
        bench_(bench),
        light_(light),
        face_(face),
        sheets_(layout.sheets()),
        tooth_seed_(tooth_seed) {
    px_mm_ = static_cast<float>(layout.camera.mm_per_px());
    samples_ = std::clamp(static_cast<int>(std::ceil(px_mm_ * kFacePxPerMm / 1.6)), 1, 5);
    for (const Sheet* sheet : sheets_)
      reach_.push_back(std::hypot(sheet->half_width, sheet->half_height) + 1);
  }

  void paint_row(int row, cv::Mat3f& photo) const {
    const RowOnPlane plane(layout_.camera, row);
    for (int column = 0; column < photo.cols; ++column) {
      const cv::Point2f mm = plane.at(column);
      const float level = static_cast<float>(light_.exposure) *
                          light_.level({static_cast<float>(column), static_cast<float>(row)}, mm);
      photo(row, column) =
          colour_at(plane, column, row, mm).mul(light_.colour) * level + glint_at(plane, column, mm);
    }
  }

 private:
  // What lies on top decides; only pixels on an edge mix.
  [[nodiscard]] Rgb colour_at(const RowOnPlane& plane, int column, int row, cv::Point2f mm) const {
    for (const CorePlace& core : layout_.cores) {
      const float share = core_share(core, mm);
      if (share >= 1) return face_at(plane, column, core).albedo;
      if (share > 0)
        return face_at(plane, column, core).albedo * share + ground_at(column, row, mm) * (1 - share);
    }
    return ground_at(column, row, mm);
  }

  [[nodiscard]] Rgb ground_at(int column, int row, cv::Point2f mm) const {
    for (std::size_t index = 0; index < sheets_.size(); ++index) {
      const Sheet& sheet = *sheets_[index];
      const float dx = mm.x - static_cast<float>(sheet.centre.x),
                  dy = mm.y - static_cast<float>(sheet.centre.y);
      if (dx * dx + dy * dy > reach_[index] * reach_[index]) continue;
      const cv::Point2f uv = sheet.to_sheet(mm);
      const float share = sheet.coverage(uv, px_mm_);
      if (share <= 0) continue;
      const float tooth = 3.46f * sheet.tooth * (lattice_unit(tooth_seed_, column, row) - 0.5f);
      const Rgb colour = sheet.albedo(uv, px_mm_) * (1 + tooth);
      return share >= 1 ? colour : colour * share + bare_bench(mm) * (1 - share);
    }
    return bare_bench(mm);
  }

  [[nodiscard]] Rgb bare_bench(cv::Point2f mm) const {
    return bench_albedo(bench_, mm) * light_.bench_shadow(mm, layout_);
  }

  [[nodiscard]] float core_share(const CorePlace& core, cv::Point2f mm) const {
    const float dx = mm.x - static_cast<float>(core.centre_mm.x),
                dy = mm.y - static_cast<float>(core.centre_mm.y);
    const float radius = static_cast<float>(core.radius_mm), far = dx * dx + dy * dy;
    if (far > (radius + 1) * (radius + 1)) return 0;
    const cv::Point2f at = texel(core, mm);  // the rim turns with the core
    const auto rim = static_cast<float>(face_.rim.radius_at(at.x - face_.origin, face_.origin - at.y));
    return clamp_unit((rim - std::sqrt(far)) / px_mm_ + 0.5f);
  }

  [[nodiscard]] cv::Point2f texel(const CorePlace& core, cv::Point2f mm) const {
    const float c = std::cos(static_cast<float>(core.turn_rad)),
                s = std::sin(static_cast<float>(core.turn_rad));
    const float x = mm.x - static_cast<float>(core.centre_mm.x),
                y = mm.y - static_cast<float>(core.centre_mm.y);
    const float scale = static_cast<float>(kFacePxPerMm);
    return {face_.origin + scale * (c * x + s * y), face_.origin - scale * (c * y - s * x)};
  }

  [[nodiscard]] FaceReading face_at(const RowOnPlane& plane, int column, const CorePlace& core) const {
    FaceReading sum;
    for (int j = 0; j < samples_; ++j) {
      for (int i = 0; i < samples_; ++i) {
        const double dx = (i + 0.5) / samples_ - 0.5, dy = (j + 0.5) / samples_ - 0.5;
        const cv::Point2f at = texel(core, plane.at(column + dx, dy));
        sum.albedo += bilinear(face_.albedo, at.x, at.y);
      }
    }
    sum.albedo *= 1.0f / static_cast<float>(samples_ * samples_);
    return sum;
  }

  [[nodiscard]] Rgb glint_at(const RowOnPlane& plane, int column, cv::Point2f mm) const {
    if (face_.glint.empty() || layout_.cores.empty() || core_share(layout_.cores.front(), mm) <= 0)
      return {0, 0, 0};
    float sum = 0;
    for (int j = 0; j < samples_; ++j) {
      for (int i = 0; i < samples_; ++i) {
        const double dx = (i + 0.5) / samples_ - 0.5, dy = (j + 0.5) / samples_ - 0.5;
        const cv::Point2f at = texel(layout_.cores.front(), plane.at(column + dx, dy));
        sum += bilinear(face_.glint, at.x, at.y);
      }
    }
    return light_.colour * (kGlintLevel * sum / static_cast<float>(samples_ * samples_));
  }

  const Layout& layout_;
  const Bench& bench_;
  const Light& light_;
  const Face& face_;
  std::vector<const Sheet*> sheets_;
  std::vector<float> reach_;
  std::uint32_t tooth_seed_;
  float px_mm_;
  int samples_;
};

// Four 16-bit uniforms of one hash: normal enough within the 3.4 sigma that they can reach, and quick.
float quick_normal(std::uint64_t& state) {
  state += 0x9e3779b97f4a7c15ULL;
  std::uint64_t h = state;
  h = (h ^ (h >> 30)) * 0xbf58476d1ce4e5b9ULL;
  h = (h ^ (h >> 27)) * 0x94d049bb133111ebULL;
  h ^= h >> 31;
  const auto sum = static_cast<float>((h & 0xffff) + ((h >> 16) & 0xffff) + ((h >> 32) & 0xffff) + (h >> 48));
  return (sum / 65536.0f - 2.0f) * 1.7320508f;
}

constexpr int kCurveSteps = 1 << 14;

// sRGB, IEC 61966-2-1, of light to the power 1 + tone, which leaves mid-grey as it is.
std::vector<std::uint16_t> encoding_curve(double tone) {
  constexpr double kMidGrey = 0.18;
  std::vector<std::uint16_t> curve(kCurveSteps + 1);
  for (int step = 0; step <= kCurveSteps; ++step) {
    const double linear =
        std::min(1.0, kMidGrey * std::pow(static_cast<double>(step) / kCurveSteps / kMidGrey, 1 + tone));
    const double encoded = linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1 / 2.4) - 0.055;
    curve[static_cast<std::size_t>(step)] = static_cast<std::uint16_t>(std::lround(65535 * encoded));
  }
  return curve;
}

cv::Mat3w expose(const cv::Mat3f& light, const CameraStyle& camera, double tone, std::uint64_t seed) {
  const auto curve = encoding_curve(tone);
  const float shot = static_cast<float>(1 / camera.electrons),
              read = static_cast<float>(camera.read_noise / camera.electrons);
  cv::Mat3w photo(light.size());
  parallel_rows(light.rows, [&](int row) {
    std::uint64_t state =
        (seed + 1) * 0xd1342543de82ef95ULL + static_cast<std::uint64_t>(row) * 0x2545f4914f6cdd1dULL;
    for (int column = 0; column < light.cols; ++column) {
      for (int channel = 0; channel < 3; ++channel) {
        const float level = light(row, column)[channel];
        const float noisy = level + std::sqrt(level * shot + read * read) * quick_normal(state);
        const int step = static_cast<int>(clamp_unit(noisy) * kCurveSteps + 0.5f);
        photo(row, column)[channel] = curve[static_cast<std::size_t>(step)];
      }
    }
  });
  return photo;
}

}  // namespace

cv::Mat3w render_photo(
    const SceneStyle& style, const Layout& layout, const Bench& bench, const Light& light, const Face& face) {
  cv::Mat3f radiance(layout.camera.height, layout.camera.width);
  const Painter painter(layout, bench, light, face, static_cast<std::uint32_t>(style.seed * 2654435761u));
  parallel_rows(radiance.rows, [&](int row) { painter.paint_row(row, radiance); });
  if (style.camera.blur_px > 0)
    cv::GaussianBlur(radiance, radiance, {}, style.camera.blur_px, 0, cv::BORDER_REPLICATE);
  return expose(radiance, style.camera, style.deviations.tone, style.noise_seed);
}

}  // namespace scenes
