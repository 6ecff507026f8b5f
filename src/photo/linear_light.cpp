#include "linear_light.hpp"

#include "exif.hpp"

#include "corefleck/colorimetry.hpp"

#include <fmt/format.h>
#include <lcms2.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>

namespace corefleck {
namespace {

struct CloseProfile {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
using Profile = std::unique_ptr<void, CloseProfile>;
struct DeleteTransform {
  void operator()(void* transform) const { cmsDeleteTransform(transform); }
};
using Transform = std::unique_ptr<void, DeleteTransform>;

using Curves = std::vector<std::vector<float>>;
using Matrix = cv::Matx33d;

std::size_t code_count(const cv::Mat& samples) { return samples.depth() == CV_8U ? 256 : 65536; }

/// Table of light(code / full scale), kept in [0, 1].
template <class Light>
std::vector<float> table(std::size_t codes, Light light) {
  std::vector<float> values(codes);
  const double full_scale = static_cast<double>(codes - 1);
  for (std::size_t code = 0; code < codes; ++code)
    values[code] = static_cast<float>(
        std::clamp(static_cast<double>(light(static_cast<double>(code) / full_scale)), 0.0, 1.0));
  return values;
}

template <class Light>
Curves same_for_all(const cv::Mat& samples, Light light) {
  return Curves(static_cast<std::size_t>(samples.channels()), table(code_count(samples), light));
}

const cmsToneCurve* curve_tag(const Profile& profile, cmsTagSignature tag) {
  return static_cast<const cmsToneCurve*>(cmsReadTag(profile.get(), tag));
}

double light_of(const cmsToneCurve* curve, double encoded) {
  return static_cast<double>(cmsEvalToneCurveFloat(curve, static_cast<float>(encoded)));
}

/// Colorants as columns, XYZ adapted to D50 as profiles keep them; empty where one is missing.
std::optional<Matrix> colorants(const Profile& profile) {
  Matrix matrix;
  constexpr std::array kTags{cmsSigRedColorantTag, cmsSigGreenColorantTag, cmsSigBlueColorantTag};
  for (int column = 0; column < 3; ++column) {
    const auto* xyz =
        static_cast<const cmsCIEXYZ*>(cmsReadTag(profile.get(), kTags[static_cast<std::size_t>(column)]));
    if (xyz == nullptr) return std::nullopt;
    matrix(0, column) = xyz->X;
    matrix(1, column) = xyz->Y;
    matrix(2, column) = xyz->Z;
  }
  return matrix;
}

struct MatrixProfile {
  std::array<const cmsToneCurve*, 3> curves{};
  Matrix to_srgb = Matrix::eye();
};

std::optional<MatrixProfile> matrix_profile(const Profile& profile) {
  MatrixProfile found;
  found.curves = {curve_tag(profile, cmsSigRedTRCTag),
                  curve_tag(profile, cmsSigGreenTRCTag),
                  curve_tag(profile, cmsSigBlueTRCTag)};
  const auto from_file = colorants(profile);
  // Both sides adapted to D50 by the same library, so that white meets white.
  const auto from_srgb = colorants(Profile(cmsCreate_sRGBProfile()));
  if (std::ranges::find(found.curves, nullptr) != found.curves.end() || !from_file || !from_srgb)
    return std::nullopt;
  found.to_srgb = from_srgb->inv() * *from_file;
  for (const double element : found.to_srgb.val)
    if (!std::isfinite(element) || std::abs(element) > 20.0) return std::nullopt;
  // Profiles of sRGB itself differ from it by the rounding of their colorants only.
  if (cv::norm(found.to_srgb - Matrix::eye(), cv::NORM_INF) < 5e-4) found.to_srgb = Matrix::eye();
  return found;
}

void set_curves_and_matrix(const MatrixProfile& profile, Photo& photo) {
  photo.decode.clear();
  if (photo.is_grey()) {  // a grey file with an RGB profile: equal channels, seen as luminance
    photo.decode.push_back(table(code_count(photo.samples), [&](double encoded) {
      const cv::Vec3d linear = profile.to_srgb * cv::Vec3d(light_of(profile.curves[0], encoded),
                                                           light_of(profile.curves[1], encoded),
                                                           light_of(profile.curves[2], encoded));
      return 0.2126729 * linear[0] + 0.7151522 * linear[1] + 0.0721750 * linear[2];
    }));
    return;
  }
  for (const cmsToneCurve* curve : profile.curves)
    photo.decode.push_back(
        table(code_count(photo.samples), [&](double encoded) { return light_of(curve, encoded); }));
  std::ranges::transform(profile.to_srgb.val, photo.to_srgb_linear.begin(), [](double element) {
    return static_cast<float>(element);
  });
}

bool apply_grey_profile(const Profile& profile, Photo& photo) {
  const cmsToneCurve* curve = curve_tag(profile, cmsSigGrayTRCTag);
  if (curve == nullptr || !photo.is_grey()) return false;
  const bool gives_lightness = cmsGetPCS(profile.get()) == cmsSigLabData;
  photo.decode = same_for_all(photo.samples, [&](double encoded) {
    const double value = light_of(curve, encoded);
    if (!gives_lightness) return value;
    // Inverse of CIE 1976 L*, ISO/CIE 11664-4; value is L*/100.
    const double f = (100.0 * value + 16.0) / 116.0;
    return f > 6.0 / 29.0 ? f * f * f : 100.0 * value * 27.0 / 24389.0;
  });
  return true;
}

Profile linear_srgb() {
  const std::unique_ptr<cmsToneCurve, decltype(&cmsFreeToneCurve)> straight(cmsBuildGamma(nullptr, 1.0),
                                                                            &cmsFreeToneCurve);
  const cmsCIExyY d65{0.3127, 0.3290, 1.0};
  const cmsCIExyYTRIPLE bt709{{0.64, 0.33, 1.0}, {0.30, 0.60, 1.0}, {0.15, 0.06, 1.0}};
  const std::array curves{straight.get(), straight.get(), straight.get()};
  return Profile(cmsCreateRGBProfile(&d65, &bt709, curves.data()));
}

/// Profiles of look-up tables cannot be had as curves and a matrix; the samples themselves are converted,
/// once.
bool apply_table_profile(const Profile& profile, Photo& photo) {
  if (photo.is_grey()) return false;
  const Profile target = linear_srgb();
  // The pre-linearisation flag makes the library straighten the curves before it builds its grid: without it,
  // the grid alone has to follow an encoding of exponent 2.2, which is off by several tenths of a per cent in
  // the darks.
  const Transform transform(
      cmsCreateTransform(profile.get(),
                         photo.samples.depth() == CV_8U ? TYPE_RGB_8 : TYPE_RGB_16,
                         target.get(),
                         TYPE_RGB_16,
                         INTENT_RELATIVE_COLORIMETRIC,
                         cmsFLAGS_NOCACHE | cmsFLAGS_HIGHRESPRECALC | cmsFLAGS_CLUT_PRE_LINEARIZATION));
  if (!transform) return false;
  cv::Mat linear(photo.samples.size(), CV_16UC3);
  cv::parallel_for_(cv::Range(0, linear.rows), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y)
      cmsDoTransform(
          transform.get(), photo.samples.ptr(y), linear.ptr(y), static_cast<cmsUInt32Number>(linear.cols));
  });
  photo.samples = linear;
  photo.decode = same_for_all(photo.samples, [](double light) { return light; });
  return true;
}

bool apply_profile(const Profile& profile, Photo& photo) {
  const bool has_tables =
      cmsIsTag(profile.get(), cmsSigAToB0Tag) != 0 || cmsIsTag(profile.get(), cmsSigAToB1Tag) != 0;
  switch (cmsGetColorSpace(profile.get())) {
    case cmsSigGrayData:
      return apply_grey_profile(profile, photo);
    case cmsSigRgbData: {
      if (has_tables && apply_table_profile(profile, photo)) return true;
      const auto curves_and_matrix = matrix_profile(profile);
      if (curves_and_matrix) set_curves_and_matrix(*curves_and_matrix, photo);
      return curves_and_matrix.has_value();
    }
    default:
      return false;
  }
}

std::string description(const Profile& profile) {
  std::array<char, 200> text{};
  cmsGetProfileInfoASCII(profile.get(), cmsInfoDescription, "en", "US", text.data(), text.size() - 1);
  const std::string plain = plain_text(text.data());
  return plain.empty() ? "embedded ICC profile without a name" : plain;
}

}  // namespace

void give_linear_light(DecodedFile&& file, Photo& photo) {
  photo.samples = std::move(file.samples);
  file.samples.release();
  photo.to_srgb_linear = {1, 0, 0, 0, 1, 0, 0, 0, 1};
  const bool embedded = !file.icc_profile.empty();
  if (embedded) {
    const Profile profile(cmsOpenProfileFromMem(file.icc_profile.data(),
                                                static_cast<cmsUInt32Number>(file.icc_profile.size())));
    if (profile && apply_profile(profile, photo)) {
      photo.colour_space = description(profile);
      return;
    }
  }
  // A PNG's gAMA of 1/2.2 is how programs write "sRGB, more or less"; only another one is taken at its word.
  const double exponent = file.encoding_exponent.value_or(1.0 / 2.2);
  if (!embedded && !file.states_srgb && exponent > 0.1 && exponent < 2.0 &&
      std::abs(exponent * 2.2 - 1.0) > 0.03) {
    photo.decode =
        same_for_all(photo.samples, [&](double encoded) { return std::pow(encoded, 1.0 / exponent); });
    photo.colour_space = fmt::format("sRGB primaries (assumed), encoding exponent {:.4g}", exponent);
    return;
  }
  photo.decode = same_for_all(photo.samples, &srgb_to_linear);
  photo.colour_space = embedded           ? "sRGB (assumed; the embedded ICC profile is unusable)"
                       : file.states_srgb ? "sRGB"
                                          : "sRGB (assumed)";
}

}  // namespace corefleck
