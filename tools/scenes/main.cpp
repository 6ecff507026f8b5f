#include "image_files.hpp"
#include "random.hpp"
#include "render.hpp"
#include "request.hpp"
#include "truth.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstdio>
#include <exception>
#include <future>

namespace {

using namespace scenes;

std::string family_of(const Request& request, std::uint64_t seed) {
  if (request.family != "all") return request.family;
  return family_names()[(seed + family_names().size() - 1) % family_names().size()];
}

// Invented, but steady for a seed: the clock would change the bytes.
std::optional<ExifData> exif_of(const SceneStyle& style) {
  if (!style.camera.exif && style.camera.orientation == 1) return std::nullopt;
  ExifData exif;
  exif.orientation = style.camera.orientation;
  if (!style.camera.exif) return exif;
  Random random(style.pose_seed, "date");
  const int year = random.integer(2021, 2025), month = random.integer(1, 12), day = random.integer(1, 28);
  const int hour = random.integer(8, 17), minute = random.integer(0, 59), second = random.integer(0, 59);
  exif.taken = fmt::format("{:04}:{:02}:{:02} {:02}:{:02}:{:02}", year, month, day, hour, minute, second);
  exif.focal35_mm = static_cast<int>(std::lround(style.camera.focal35_mm));
  return exif;
}

void write_photo(const Request& request,
                 const std::filesystem::path& path,
                 const SceneStyle& style,
                 const cv::Mat3w& upright) {
  if (request.format == "png") return write_png(path, upright);
  if (request.format == "tif") return write_tiff(path, upright);
  write_jpeg(path,
             turned_for_orientation(upright, style.camera.orientation),
             style.camera.jpeg_quality,
             exif_of(style));
}

void render_scene(const Request& request, std::uint64_t seed) {
  const std::string family = family_of(request, seed);
  const SceneStyle style = choose_style(seed, family, request.overrides);
  const std::string name = fmt::format("{}-{:04}", family, seed);
  const std::string photo_name = name + "." + request.format;
  const Layout layout = make_layout(style, {request.width, request.height});
  const Face face = make_face(style.face, style.deviations.rim, seed, style.light_seed);
  const Light light = make_light(style, layout, face);
  const Bench bench = make_bench(style.bench, layout.camera, style.bench_seed);
  const cv::Mat3w photo = render_photo(style, layout, bench, light, face);
  auto truth = std::async(std::launch::async,
                          [&] { write_truth(request.out, name, photo_name, style, layout, light, face); });
  write_photo(request, request.out / photo_name, style, photo);
  truth.get();
}

}  // namespace

int main(int argc, char** argv) {
  Request request;
  try {
    request = parse_request(argc, argv);
  } catch (const BadRequest& bad) {
    fmt::print(stderr, "corefleck_scenes: {}; see --help\n", bad.what());
    return 2;
  }
  if (request.help) {
    fmt::print("{}", help_text());
    return 0;
  }
  int status = 0;
  std::error_code ignored;
  std::filesystem::create_directories(request.out, ignored);
  for (const std::uint64_t seed : request.seeds) {
    try {
      render_scene(request, seed);
    } catch (const std::exception& error) {
      fmt::print(stderr, "corefleck_scenes: seed {}: {}\n", seed, error.what());
      status = 1;
    }
  }
  return status;
}
