#include "photo/linear_light.hpp"

#include "photo/photo_files.hpp"

#include "corefleck/clipping.hpp"
#include "corefleck/colorimetry.hpp"
#include "corefleck/photo.hpp"

#include <catch2/catch.hpp>
#include <lcms2.h>

#include <cmath>
#include <fstream>
#include <memory>
#include <sstream>

using namespace corefleck;
namespace files = photo_files;

namespace {

using Profile = std::unique_ptr<void, decltype(&cmsCloseProfile)>;

/// Display primaries of SMPTE RP 431-2 with D65 as white and the curve of sRGB.
Profile wide_profile() {
  const cmsFloat64Number srgb[] = {2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045};
  cmsToneCurve* curve = cmsBuildParametricToneCurve(nullptr, 4, srgb);
  cmsToneCurve* curves[] = {curve, curve, curve};
  const cmsCIExyY d65{0.3127, 0.3290, 1.0};
  const cmsCIExyYTRIPLE primaries{{0.680, 0.320, 1.0}, {0.265, 0.690, 1.0}, {0.150, 0.060, 1.0}};
  Profile profile(cmsCreateRGBProfile(&d65, &primaries, curves), &cmsCloseProfile);
  cmsFreeToneCurve(curve);
  return profile;
}

/// sRGB to D50 Lab as a look-up table, the kind of profile that has neither curves nor matrix.
Profile table_profile() {
  const Profile srgb(cmsCreate_sRGBProfile(), &cmsCloseProfile);
  const Profile lab(cmsCreateLab4Profile(nullptr), &cmsCloseProfile);
  cmsHTRANSFORM transform = cmsCreateTransform(
      srgb.get(), TYPE_RGB_16, lab.get(), TYPE_Lab_16, INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOOPTIMIZE);
  cmsStage* grid = cmsStageAllocCLut16bit(nullptr, 33, 3, 3, nullptr);
  cmsStageSampleCLut16bit(
      grid,
      [](const cmsUInt16Number in[], cmsUInt16Number out[], void* cargo) -> cmsInt32Number {
        cmsDoTransform(cargo, in, out, 1);
        return 1;
      },
      transform,
      0);
  cmsDeleteTransform(transform);
  cmsPipeline* pipeline = cmsPipelineAlloc(nullptr, 3, 3);
  // The file format keeps a grid between two sets of curves only; without a table these are straight.
  cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(nullptr, 3, nullptr));
  cmsPipelineInsertStage(pipeline, cmsAT_END, grid);
  cmsPipelineInsertStage(pipeline, cmsAT_END, cmsStageAllocToneCurves(nullptr, 3, nullptr));
  Profile profile(cmsCreateProfilePlaceholder(nullptr), &cmsCloseProfile);
  cmsSetProfileVersion(profile.get(), 4.3);
  cmsSetDeviceClass(profile.get(), cmsSigInputClass);
  cmsSetColorSpace(profile.get(), cmsSigRgbData);
  cmsSetPCS(profile.get(), cmsSigLabData);
  cmsWriteTag(profile.get(), cmsSigAToB0Tag, pipeline);
  cmsWriteTag(profile.get(), cmsSigMediaWhitePointTag, cmsD50_XYZ());
  cmsPipelineFree(pipeline);
  return profile;
}

files::Bytes bytes_of(const Profile& profile) {
  cmsUInt32Number size = 0;
  REQUIRE(cmsSaveProfileToMem(profile.get(), nullptr, &size));
  files::Bytes bytes(size);
  cmsSaveProfileToMem(profile.get(), bytes.data(), &size);
  return bytes;
}

/// lcms2's own way from codes to linear sRGB, in floating point and unbounded.
cv::Vec3f by_library(const Profile& profile, const cv::Vec3f& encoded) {
  cmsToneCurve* straight = cmsBuildGamma(nullptr, 1.0);
  cmsToneCurve* curves[] = {straight, straight, straight};
  const cmsCIExyY d65{0.3127, 0.3290, 1.0};
  const cmsCIExyYTRIPLE bt709{{0.64, 0.33, 1.0}, {0.30, 0.60, 1.0}, {0.15, 0.06, 1.0}};
  const Profile target(cmsCreateRGBProfile(&d65, &bt709, curves), &cmsCloseProfile);
  cmsFreeToneCurve(straight);
  cmsHTRANSFORM transform = cmsCreateTransform(profile.get(),
                                               TYPE_RGB_FLT,
                                               target.get(),
                                               TYPE_RGB_FLT,
                                               INTENT_RELATIVE_COLORIMETRIC,
                                               cmsFLAGS_NOOPTIMIZE | cmsFLAGS_NOCACHE);
  cv::Vec3f linear;
  cmsDoTransform(transform, encoded.val, linear.val, 1);
  cmsDeleteTransform(transform);
  return linear;
}

Photo read(const files::Folder& folder, const std::string& name, const files::Bytes& bytes) {
  files::write_bytes(folder / name, bytes);
  auto photo = read_photo(folder / name, {});
  if (!photo) FAIL(photo.error().what);
  return *std::move(photo);
}

cv::Rect whole(const Photo& photo) { return {0, 0, photo.width_px(), photo.height_px()}; }

const std::vector<cv::Vec3b> kColours{{255, 255, 255},
                                      {128, 128, 128},
                                      {30, 30, 30},
                                      {200, 150, 120},
                                      {90, 110, 100},
                                      {240, 235, 225},
                                      {250, 20, 30}};

cv::Mat colours() { return cv::Mat(kColours, true).reshape(3, 1); }

}  // namespace

TEST_CASE("sRGB: decoding meets the values of IEC 61966-2-1", "[photo]") {
  std::ifstream file(TEST_DATA_DIR "/srgb_decoding.csv");
  int values = 0;
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line[0] < '0' || line[0] > '9') continue;
    int code = 0;
    char comma = 0;
    double linear = 0.0;
    std::istringstream(line) >> code >> comma >> linear;
    CHECK(srgb_to_linear(code / 255.0) == Approx(linear).margin(5e-9));
    ++values;
  }
  CHECK(values >= 15);
}

TEST_CASE("sRGB: luminance and channels come from decoded codes with the weights of BT.709", "[photo]") {
  const files::Folder folder;
  const Photo photo = read(folder, "a.png", files::png(colours(), {.icc = {}, .exif = {}, .srgb = true}));
  CHECK(photo.colour_space == "sRGB");
  const cv::Mat luminance = linear_luminance(photo, whole(photo));
  const cv::Mat rgb = linear_rgb(photo, whole(photo));
  for (int x = 0; x < photo.width_px(); ++x) {
    const cv::Vec3b code = kColours[static_cast<std::size_t>(x)];
    const double r = srgb_to_linear(code[0] / 255.0), g = srgb_to_linear(code[1] / 255.0),
                 b = srgb_to_linear(code[2] / 255.0);
    CHECK(static_cast<double>(luminance.at<float>(0, x)) ==
          Approx(0.2126729 * r + 0.7151522 * g + 0.0721750 * b).margin(1e-6));
    CHECK(static_cast<double>(rgb.at<cv::Vec3f>(0, x)[0]) == Approx(r).margin(1e-6));
    CHECK(static_cast<double>(rgb.at<cv::Vec3f>(0, x)[2]) == Approx(b).margin(1e-6));
  }
}

TEST_CASE("sRGB: files without a profile say that it was assumed", "[photo]") {
  const files::Folder folder;
  CHECK(read(folder, "a.png", files::png(colours())).colour_space == "sRGB (assumed)");
}

TEST_CASE("PNG: a stated exponent other than 1/2.2 is taken at its word", "[photo]") {
  const files::Folder folder;
  const Photo linear = read(folder, "l.png", files::png(colours(), {.icc = {}, .exif = {}, .gamma = 1.0}));
  CHECK(linear.decode[1][128] == Approx(128.0 / 255.0));
  const Photo usual = read(folder, "u.png", files::png(colours(), {.icc = {}, .exif = {}, .gamma = 0.45455}));
  CHECK(usual.decode[1][128] == Approx(0.21586050));
}

TEST_CASE("ICC: a matrix profile keeps neutrals neutral and gives the library's own colours", "[photo]") {
  const files::Folder folder;
  const Profile profile = wide_profile();
  const files::Bytes icc = bytes_of(profile);
  files::write_tiff(folder / "a.tif", colours(), {.icc = icc});
  const auto tiff = read_photo(folder / "a.tif", {});
  REQUIRE(tiff);
  const Photo png = read(folder, "a.png", files::png(colours(), {.icc = icc, .exif = {}}));
  for (const Photo* photo : {&png, &*tiff}) {
    CHECK_THAT(photo->colour_space, !Catch::Contains("assumed"));
    const cv::Mat rgb = linear_rgb(*photo, whole(*photo));
    const cv::Mat luminance = linear_luminance(*photo, whole(*photo));
    for (int x = 0; x < rgb.cols; ++x) {
      const cv::Vec3b code = kColours[static_cast<std::size_t>(x)];
      const auto linear = rgb.at<cv::Vec3f>(0, x);
      const auto expected = by_library(profile, cv::Vec3f(code) / 255.0F);
      for (int c = 0; c < 3; ++c) CHECK(linear[c] == Approx(expected[c]).margin(1e-3));
      if (code[0] == code[1] && code[1] == code[2]) {
        CHECK(linear[0] == Approx(linear[1]).margin(1e-4));
        CHECK(linear[2] == Approx(linear[1]).margin(1e-4));
      }
      CHECK(static_cast<double>(luminance.at<float>(0, x)) ==
            Approx(linear.dot(cv::Vec3f(0.2126729F, 0.7151522F, 0.0721750F))).margin(2e-6));
    }
  }
}

TEST_CASE("ICC: a JPEG's profile is found, and one of sRGB itself needs no matrix", "[photo]") {
  const files::Folder folder;
  const Profile srgb(cmsCreate_sRGBProfile(), &cmsCloseProfile);
  const Photo photo = read(
      folder, "a.jpg", files::jpeg(cv::Mat::zeros(16, 16, CV_8UC3), {.exif = {}, .icc = bytes_of(srgb)}));
  CHECK_THAT(photo.colour_space, Catch::Contains("sRGB"));
  CHECK(photo.to_srgb_linear == std::array<float, 9>{1, 0, 0, 0, 1, 0, 0, 0, 1});
  for (const int code : {0, 5, 64, 128, 200, 255})
    CHECK(static_cast<double>(photo.decode[2][static_cast<std::size_t>(code)]) ==
          Approx(srgb_to_linear(code / 255.0)).margin(2e-5));
}

TEST_CASE("ICC: a profile of look-up tables is converted once to linear light", "[photo]") {
  const files::Folder folder;
  const Profile profile = table_profile();
  for (const bool deep : {false, true}) {
    cv::Mat samples = colours();
    if (deep) colours().convertTo(samples, CV_16U, 257.0);
    const Photo photo = read(folder, "t.png", files::png(samples, {.icc = bytes_of(profile), .exif = {}}));
    INFO(photo.colour_space);
    CHECK(photo.samples.type() == CV_16UC3);
    const cv::Mat rgb = linear_rgb(photo, whole(photo));
    for (int x = 0; x < rgb.cols; ++x) {
      const cv::Vec3f encoded = cv::Vec3f(kColours[static_cast<std::size_t>(x)]) / 255.0F;
      const auto expected = by_library(profile, encoded);
      INFO(deep << ' ' << x << ' ' << rgb.at<cv::Vec3f>(0, x) << ' ' << expected);
      for (int c = 0; c < 3; ++c)
        CHECK(rgb.at<cv::Vec3f>(0, x)[c] == Approx(std::clamp(expected[c], 0.0F, 1.0F)).margin(2e-3));
    }
  }
}

TEST_CASE("ICC: a grey profile gives its curve", "[photo]") {
  const files::Folder folder;
  cmsToneCurve* gamma = cmsBuildGamma(nullptr, 1.8);
  const Profile profile(cmsCreateGrayProfile(cmsD50_xyY(), gamma), &cmsCloseProfile);
  cmsFreeToneCurve(gamma);
  files::write_tiff(folder / "g.tif",
                    files::random_samples(8, 8, CV_16UC1, 1),
                    {.photometric = 1, .icc = bytes_of(profile)});
  const auto photo = read_photo(folder / "g.tif", {});
  REQUIRE(photo);
  REQUIRE(photo->decode.size() == 1);
  CHECK(static_cast<double>(photo->decode[0][32768]) == Approx(std::pow(32768 / 65535.0, 1.8)).margin(1e-4));
}

TEST_CASE("ICC: a broken profile is not used, and the photo says so", "[photo]") {
  const files::Folder folder;
  const Photo photo =
      read(folder,
           "b.jpg",
           files::jpeg(cv::Mat::zeros(8, 8, CV_8UC3), {.exif = {}, .icc = files::Bytes(300, 0x5A)}));
  CHECK_THAT(photo.colour_space, Catch::Contains("sRGB (assumed") && Catch::Contains("unusable"));
  CHECK(photo.decode[0][128] == Approx(0.21586050));
}

TEST_CASE("reduction: the mean is that of light, not of codes, also in the last row and column", "[photo]") {
  const files::Folder folder;
  for (const int type : {CV_8UC1, CV_8UC3, CV_16UC1, CV_16UC3}) {
    const cv::Mat samples = files::random_samples(23, 18, type, 9);
    const Photo photo = read(folder, "r.png", files::png(samples));
    const cv::Mat full = linear_rgb(photo, whole(photo));
    const cv::Mat reduced = reduced_linear_rgb(photo, 4);
    REQUIRE(reduced.size() == cv::Size(6, 5));
    for (int y = 0; y < 5; ++y)
      for (int x = 0; x < 6; ++x) {
        const cv::Scalar mean = cv::mean(full(cv::Rect(4 * x, 4 * y, 4, 4) & whole(photo)));
        for (int c = 0; c < 3; ++c)
          CHECK(static_cast<double>(reduced.at<cv::Vec3f>(y, x)[c]) == Approx(mean[c]).margin(1e-6));
      }
  }
  // By hand: half black, half white is half the light; the mean code would give 0.21.
  cv::Mat half(2, 2, CV_8UC3, cv::Scalar::all(0));
  half.at<cv::Vec3b>(0, 1) = half.at<cv::Vec3b>(1, 0) = {255, 255, 255};
  const cv::Mat one = reduced_linear_rgb(read(folder, "h.png", files::png(half)), 2);
  CHECK(one.at<cv::Vec3f>(0, 0)[1] == Approx(0.5));
}

TEST_CASE("readers: light at a place is the pixel's own, the mean of two half-way, the edge's outside",
          "[photo]") {
  const files::Folder folder;
  const float nan = std::numeric_limits<float>::quiet_NaN();
  for (const int type : {CV_8UC1, CV_8UC3, CV_16UC1, CV_16UC3}) {
    const Photo photo = read(folder, "b.png", files::png(files::random_samples(7, 5, type, 21)));
    const cv::Mat rgb = linear_rgb(photo, whole(photo));
    const auto pixel = [&](int x, int y) { return rgb.at<cv::Vec3f>(y, x); };
    const std::vector<std::pair<cv::Vec2f, cv::Vec3f>> expected{
        {{3, 2}, pixel(3, 2)},
        {{6, 4}, pixel(6, 4)},
        {{2.5F, 1}, 0.5F * (pixel(2, 1) + pixel(3, 1))},
        {{2, 1.25F}, 0.75F * pixel(2, 1) + 0.25F * pixel(2, 2)},
        {{0.5F, 0.5F}, 0.25F * (pixel(0, 0) + pixel(1, 0) + pixel(0, 1) + pixel(1, 1))},
        {{-3, 2}, pixel(0, 2)},
        {{9, 99}, pixel(6, 4)},
        {{nan, 1e30F}, pixel(0, 4)}};
    cv::Mat places(1, static_cast<int>(expected.size()), CV_32FC2);
    for (int i = 0; i < places.cols; ++i)
      places.at<cv::Vec2f>(i) = expected[static_cast<std::size_t>(i)].first;
    const cv::Mat light = linear_rgb_at(photo, places);
    for (int i = 0; i < places.cols; ++i)
      CHECK(cv::norm(light.at<cv::Vec3f>(i), expected[static_cast<std::size_t>(i)].second, cv::NORM_INF) <
            1e-6);
  }
}

TEST_CASE("readers: a rectangle is the same as that part of the whole, on any number of threads", "[photo]") {
  const files::Folder folder;
  const Photo photo = read(folder, "p.png", files::png(files::random_samples(301, 203, CV_8UC3, 4)));
  const cv::Rect part(17, 33, 120, 101);
  const int threads = cv::getNumThreads();
  const cv::Mat luminance = linear_luminance(photo, whole(photo)), reduced = reduced_linear_rgb(photo, 3);
  cv::setNumThreads(1);
  CHECK(cv::norm(linear_luminance(photo, part), luminance(part), cv::NORM_INF) == 0.0);
  CHECK(cv::norm(linear_rgb(photo, part), linear_rgb(photo, whole(photo))(part), cv::NORM_INF) == 0.0);
  CHECK(cv::norm(reduced_linear_rgb(photo, 3), reduced, cv::NORM_INF) == 0.0);
  cv::setNumThreads(threads);
}

TEST_CASE("clipping: within 1.5 per cent of full scale, in green and in another channel", "[photo]") {
  const files::Folder folder;
  // By hand: 0.985 * 255 = 251.2, so 252 is clipped and 251 is not; 0.985 * 65535 = 64551.98.
  cv::Mat bytes(1, 4, CV_8UC3, cv::Scalar::all(10));
  bytes.at<cv::Vec3b>(0, 1) = {10, 251, 10};
  bytes.at<cv::Vec3b>(0, 2) = {10, 10, 252};
  bytes.at<cv::Vec3b>(0, 3) = {10, 252, 10};
  Photo photo = read(folder, "c.png", files::png(bytes));
  CHECK(clipped_pixels(photo, whole(photo)).at<std::uint8_t>(0, 0) == 0);
  CHECK(clipped_pixels(photo, whole(photo)).at<std::uint8_t>(0, 1) == 0);
  CHECK(clipped_pixels(photo, whole(photo)).at<std::uint8_t>(0, 2) ==
        static_cast<std::uint8_t>(Clipping::colour));
  CHECK(clipped_pixels(photo, whole(photo)).at<std::uint8_t>(0, 3) == 255);
  cv::Mat words(1, 2, CV_16UC1, cv::Scalar::all(64551));
  words.at<std::uint16_t>(0, 1) = 64552;
  photo = read(folder, "w.png", files::png(words));
  CHECK(clipped_pixels(photo, whole(photo)).at<std::uint8_t>(0, 0) == 0);
  CHECK(clipped_pixels(photo, whole(photo)).at<std::uint8_t>(0, 1) == 255);
}
