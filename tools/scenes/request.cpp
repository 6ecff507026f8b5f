#include "request.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

namespace scenes {
namespace {

struct OverrideKey {
  const char* key;
  const char* meaning;
};

constexpr OverrideKey kOverrideKeys[] = {
    {"spots", "number of spots wanted (fewer if they do not fit)"},
    {"spot_median_mm", "median equivalent diameter"},
    {"contrast", "mean Weber contrast of the spots, dry"},
    {"edge_mm", "width of the spots' soft flank"},
    {"growth", "outlines moved out by this many mm, places and ids kept (at most 0.3)"},
    {"new_spots", "spots added after all others"},
    {"gone_spots", "this many of the first spots left out, ids of the others kept"},
    {"changes",
     "share of the spots that change by the later state; keep it the same in both photos of a pair"},
    {"later",
     "1: the face in its later state: spots grown, shrunk, gone, new, joined, parted by chance of the seed"},
    {"twins", "pairs of neighbouring spots, 0.35 to 0.6 mm apart, that may join or part where spots change"},
    {"mirror", "1: the face is mirrored"},
    {"broken_rim_deg", "this much of the rim is broken off, a few mm deep"},
    {"pencil", "1: a pencil line lies across the face"},
    {"pits", "number of pits"},
    {"chips", "number of rim chips"},
    {"matrix_Y", "dry reflectance of the matrix"},
    {"mottle_rms", "relative rms of the mottle, 0.05 = 5 %"},
    {"mottle_mm", "correlation length of the mottle"},
    {"diameter_mm", "nominal core diameter"},
    {"wet", "1: the face is wet"},
    {"glint_pct", "share of a wet face under glints"},
    {"tilt", "degrees"},
    {"turn", "degrees, counterclockwise turn of the core on the bench"},
    {"focal35", "focal length, 35-mm equivalent"},
    {"core_size", "core diameter as a share of the frame's height"},
    {"blur", "Gaussian sigma of the camera, px"},
    {"noise", "factor on the drawn noise, 0 = none"},
    {"quality", "JPEG quality"},
    {"orientation", "EXIF orientation to store the photo under: 1, 3, 6 or 8"},
    {"exif", "1 or 0: write EXIF date and focal length"},
    {"light_change", "percent over the face, linear gradient; vignette comes on top"},
    {"vignette", "light lost at the frame's corner, 0 to 0.5"},
    {"cast", "0 neutral to 1 uncorrected tungsten"},
    {"exposure", "share of full scale that Y = 0.9 reaches"},
    {"card", "none: no grey card"},
    {"card_reflectance", "of the grey card"},
    {"bar", "none: no scale bar"},
    {"bar_blocks", "number of blocks"},
    {"block_mm", "length of a block"},
    {"second_bar", "1: another bar lies in the frame"},
    {"core", "none: no core"},
    {"second_core", "1: another core lies in the frame"},
    {"clip_core", "1: the frame cuts the core"},
    {"perfect_objects", "1: rim, card, bar and tones are what they are called"},
    {"width", "photo width, px"},
    {"height", "photo height, px"},
    {"pose_seed", "seed of place, angle and camera alone"},
    {"light_seed", "seed of light, exposure and glints alone"},
    {"noise_seed", "seed of sensor noise, blur and JPEG quality alone"},
    {"bench_seed", "seed of the bench alone"},
};

template <class T>
T parsed(const std::string& text, const std::string& what) {
  T value{};
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size())
    throw BadRequest(fmt::format("{}: '{}' is not a number", what, text));
  return value;
}

std::vector<std::uint64_t> parsed_seeds(const std::string& text) {
  std::vector<std::uint64_t> seeds;
  for (std::size_t start = 0; start <= text.size();) {
    const std::size_t comma = std::min(text.find(',', start), text.size());
    const std::string part = text.substr(start, comma - start);
    const std::size_t dash = part.find('-');
    const auto first = parsed<std::uint64_t>(part.substr(0, dash), "--seeds");
    const auto last =
        dash == std::string::npos ? first : parsed<std::uint64_t>(part.substr(dash + 1), "--seeds");
    if (last < first || last - first > 1000000)
      throw BadRequest(fmt::format("--seeds: '{}' is not a range", part));
    for (auto seed = first; seed <= last; ++seed) seeds.push_back(seed);
    start = comma + 1;
  }
  return seeds;
}

void check(const Request& request) {
  if (request.out.empty()) throw BadRequest("--out DIR is missing");
  if (request.seeds.empty()) throw BadRequest("--seeds is missing, for example --seeds 1-10");
  const auto& names = family_names();
  if (request.family != "all" && std::find(names.begin(), names.end(), request.family) == names.end())
    throw BadRequest(
        fmt::format("--family: '{}' is none of all, {}", request.family, fmt::join(names, ", ")));
  if (request.format != "jpg" && request.format != "png" && request.format != "tif")
    throw BadRequest(fmt::format("--format: '{}' is none of jpg, png, tif", request.format));
  if (request.width < 200 || request.height < 200 || request.width > 20000 || request.height > 20000)
    throw BadRequest("--width and --height: 200 to 20000 px");
}

}  // namespace

void Overrides::set(const std::string& assignment) {
  const std::size_t equals = assignment.find('=');
  const std::string key = assignment.substr(0, equals);
  const bool known = std::any_of(std::begin(kOverrideKeys),
                                 std::end(kOverrideKeys),
                                 [&](const OverrideKey& entry) { return key == entry.key; });
  if (!known || equals == std::string::npos)
    throw BadRequest(fmt::format("--set {}: need key=value with a key from --help", assignment));
  const std::string value = assignment.substr(equals + 1);
  if (value != "none") (void)parsed<double>(value, "--set " + key);
  values_[key] = value;
}

std::optional<double> Overrides::number(const std::string& key) const {
  const auto found = values_.find(key);
  if (found == values_.end() || found->second == "none") return std::nullopt;
  return parsed<double>(found->second, key);
}

bool Overrides::is_none(const std::string& key) const {
  const auto found = values_.find(key);
  return found != values_.end() && found->second == "none";
}

const std::vector<std::string>& family_names() {
  static const std::vector<std::string> names{
      "plain", "bench", "light", "tilt", "wet", "small", "rim", "nospot", "clutter"};
  return names;
}

Request parse_request(int argc, char** argv) {
  Request request;
  bool in_set = false;
  for (int index = 1; index < argc; ++index) {
    const std::string argument = argv[index];
    if (in_set && argument.rfind("--", 0) != 0) {
      request.overrides.set(argument);
      continue;
    }
    in_set = argument == "--set";
    if (in_set) continue;
    if (argument == "--help" || argument == "-h") {
      request.help = true;
      return request;
    }
    if (index + 1 >= argc)
      throw BadRequest(fmt::format("{}: unknown option, or its value is missing", argument));
    const std::string value = argv[++index];
    if (argument == "--out")
      request.out = value;
    else if (argument == "--seeds")
      request.seeds = parsed_seeds(value);
    else if (argument == "--family")
      request.family = value;
    else if (argument == "--width")
      request.width = parsed<int>(value, argument);
    else if (argument == "--height")
      request.height = parsed<int>(value, argument);
    else if (argument == "--format")
      request.format = value;
    else
      throw BadRequest(fmt::format("{}: unknown option", argument));
  }
  request.width = static_cast<int>(request.overrides.number_or("width", request.width));
  request.height = static_cast<int>(request.overrides.number_or("height", request.height));
  check(request);
  return request;
}

std::string help_text() {
  std::string text = fmt::format(
      "corefleck_scenes: render photographs of invented plaster cores, with their truth (see TRUTH.md).\n\n"
      "  corefleck_scenes --out DIR --seeds LIST [--family NAME] [--width PX] [--height PX]\n"
      "                   [--format jpg|png|tif] [--set key=value ...]\n\n"
      "  --out DIR        folder for NAME.jpg, NAME.truth.json, NAME.mask.png\n"
      "  --seeds LIST     for example 1-60 or 3,7,20-25; same seed and options give the same bytes\n"
      "  --family NAME    all (default, in turn by seed), {}\n"
      "  --width, --height   4000 and 3000 unless given\n"
      "  --format F       jpg (default), png (8 bit) or tif (16 bit)\n"
      "  --set key=value  fix what the seed would choose:\n",
      fmt::join(family_names(), ", "));
  for (const auto& [key, meaning] : kOverrideKeys) text += fmt::format("      {:<18}{}\n", key, meaning);
  return text +
         "\nExamples\n"
         "  corefleck_scenes --out scenes --seeds 1-60 --width 2000 --height 1500\n"
         "  corefleck_scenes --out wet --seeds 5 --family plain --set wet=1 pose_seed=2 light_seed=2 "
         "noise_seed=2\n"
         "  corefleck_scenes --out fail --seeds 9 --set card=none\n";
}

}  // namespace scenes
