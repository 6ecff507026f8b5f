#include "shared_options.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>

namespace corefleck {
namespace {

using Fault = std::optional<std::string>;
using Options = SharedOptions;
using Value = OptionValue;

constexpr Range kAny{-1e6, true, 1e6};
constexpr Range kPositive{0, false, 1e6};

double number(const Value& value) { return std::get<std::vector<double>>(value).front(); }
const std::vector<double>& numbers(const Value& value) { return std::get<std::vector<double>>(value); }

std::string json_number(double value) { return fmt::format("{}", value); }
std::string json_text(std::string_view text) {
  return nlohmann::json(std::string(text)).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

std::string json_paths(const std::vector<std::filesystem::path>& paths) {
  if (paths.empty()) return "null";
  std::vector<std::string> texts;
  for (const auto& path : paths) texts.push_back(json_text(path.string()));
  return fmt::format("[{}]", fmt::join(texts, ","));
}

constexpr std::array kStates{std::pair{"dry", FaceState::dry}, std::pair{"wet", FaceState::wet}};
constexpr std::array kSizeClasses{std::pair{"sqrt2", SizeClasses::sqrt2},
                                  std::pair{"R5", SizeClasses::r5},
                                  std::pair{"R10", SizeClasses::r10},
                                  std::pair{"R20", SizeClasses::r20}};

template <class Choices, class Choice>
Fault choose(const Choices& choices, const Value& value, Choice& chosen) {
  std::string names;
  for (const auto& [name, choice] : choices) {
    if (std::get<std::string>(value) == name) {
      chosen = choice;
      return std::nullopt;
    }
    names += fmt::format("{}{}", names.empty() ? "" : ", ", name);
  }
  return "must be one of " + names;
}

template <class Choices, class Choice>
std::string chosen_name(const Choices& choices, Choice chosen) {
  for (const auto& [name, choice] : choices)
    if (choice == chosen) return json_text(name);
  return "null";
}

Fault set_core_at(Options& o, const Value& v) {
  const auto& n = numbers(v);
  if (n[2] <= 0) return "R must be above 0";
  o.calibration.core_at = PixelCircle{n[0], n[1], n[2]};
  return std::nullopt;
}

Fault set_card_at(Options& o, const Value& v) {
  const auto& n = numbers(v);
  if (n[2] <= 0 || n[3] <= 0) return "W and H must be above 0";
  o.calibration.card_at = PixelBox{n[0], n[1], n[2], n[3]};
  return std::nullopt;
}

Fault set_bar_ends(Options& o, const Value& v) {
  const auto& n = numbers(v);
  if (n[0] == n[2] && n[1] == n[3]) return "the two ends must be different points";
  o.calibration.bar_ends = PixelSegment{n[0], n[1], n[2], n[3]};
  return std::nullopt;
}

template <class Part, class... Member>
std::string json_place(const std::optional<Part>& place, Member... member) {
  if (!place) return "null";
  const std::array values{(*place).*member...};
  return fmt::format("[{}]", fmt::join(values, ","));
}

constexpr std::string_view kScale = "Scale", kCard = "Grey card and light", kFace = "Face and spots",
                           kPlaces = "Places, in pixels of the upright photo; each replaces a finder",
                           kRun = "Run";

constexpr std::array kSpecs{
    OptionSpec{"bar-length-mm",
               "L",
               kScale,
               "whole length of the scale bar's block pattern, mm (default 50)",
               OptionKind::number,
               {0, false, 10000},
               1,
               [](Options& o, const Value& v) -> Fault {
                 return o.calibration.bar_length = Millimetres{number(v)}, std::nullopt;
               },
               [](const Options& o) { return json_number(o.calibration.bar_length.number()); }},
    OptionSpec{"bar-blocks",
               "N",
               kScale,
               "number of equal blocks in it (default 5)",
               OptionKind::whole_number,
               {2, true, 100},
               1,
               [](Options& o, const Value& v) -> Fault {
                 return o.calibration.bar_blocks = static_cast<int>(number(v)), std::nullopt;
               },
               [](const Options& o) { return json_number(o.calibration.bar_blocks); }},
    OptionSpec{"bar-tolerance-pct",
               "T",
               kScale,
               "stated tolerance of the bar's length, +/- % (default 0.05)",
               OptionKind::number,
               {0, true, 10},
               1,
               [](Options& o, const Value& v) -> Fault {
                 return o.calibration.bar_tolerance_pct = number(v), std::nullopt;
               },
               [](const Options& o) { return json_number(o.calibration.bar_tolerance_pct); }},
    OptionSpec{"bar-height-mm",
               "H",
               kScale,
               "bar level with the face to +/- H mm; widens u95 only (default 0)",
               OptionKind::number,
               {0, true, 1000},
               1,
               [](Options& o, const Value& v) -> Fault {
                 return o.calibration.bar_height = Millimetres{number(v)}, std::nullopt;
               },
               [](const Options& o) { return json_number(o.calibration.bar_height.number()); }},
    OptionSpec{"core-diameter-mm",
               "D",
               kScale,
               "nominal diameter, mm; a cross-check, never the scale (default none)",
               OptionKind::number,
               kPositive,
               1,
               [](Options& o, const Value& v) -> Fault {
                 return o.calibration.core_diameter = Millimetres{number(v)}, std::nullopt;
               },
               [](const Options& o) {
                 return o.calibration.core_diameter ? json_number(o.calibration.core_diameter->number())
                                                    : "null";
               }},
    OptionSpec{"card-reflectance",
               "R",
               kCard,
               "luminous reflectance of the grey card, 0 < R <= 1 (default 0.18)",
               OptionKind::number,
               {0, false, 1},
               1,
               [](Options& o, const Value& v) -> Fault {
                 return o.calibration.card_reflectance = number(v), std::nullopt;
               },
               [](const Options& o) { return json_number(o.calibration.card_reflectance); }},
    OptionSpec{"no-card",
               "",
               kCard,
               "measure without a grey card; figures that need it stay empty",
               OptionKind::flag,
               kAny,
               1,
               [](Options& o, const Value& v) -> Fault {
                 return o.calibration.no_card = std::get<bool>(v), std::nullopt;
               },
               [](const Options& o) -> std::string { return o.calibration.no_card ? "true" : "false"; }},
    OptionSpec{
        "flat-frame",
        "FILE",
        kCard,
        "photo of a uniform sheet, same light and camera: evens light out (default none)",
        OptionKind::path,
        kAny,
        1,
        [](Options& o, const Value& v) -> Fault {
          if (std::get<std::string>(v).empty()) return "must name a photo";
          return o.flat_frame = std::get<std::string>(v), std::nullopt;
        },
        [](const Options& o) { return o.flat_frame.empty() ? "null" : json_text(o.flat_frame.string()); }},
    OptionSpec{"state",
               "dry|wet",
               kFace,
               "recorded; wet also masks a water film's glare (default unknown)",
               OptionKind::text,
               kAny,
               1,
               [](Options& o, const Value& v) -> Fault { return choose(kStates, v, o.state); },
               [](const Options& o) { return chosen_name(kStates, o.state); }},
    OptionSpec{
        "min-spot-mm",
        "D",
        kFace,
        "smallest ECD that is reported as a spot, mm (default 0.5)",
        OptionKind::number,
        {0, false, 100},
        1,
        [](Options& o, const Value& v) -> Fault { return o.min_spot = Millimetres{number(v)}, std::nullopt; },
        [](const Options& o) { return json_number(o.min_spot.number()); }},
    OptionSpec{"rim-band-mm",
               "W",
               kFace,
               "width left out along the rim, mm (default 1)",
               OptionKind::number,
               {0, true, 100},
               1,
               [](Options& o, const Value& v) -> Fault {
                 return o.calibration.rim_band = Millimetres{number(v)}, std::nullopt;
               },
               [](const Options& o) { return json_number(o.calibration.rim_band.number()); }},
    OptionSpec{"size-classes",
               "S",
               kFace,
               "classes of sizes.csv: sqrt2, R5, R10 or R20 (default sqrt2)",
               OptionKind::text,
               kAny,
               1,
               [](Options& o, const Value& v) -> Fault { return choose(kSizeClasses, v, o.size_classes); },
               [](const Options& o) { return chosen_name(kSizeClasses, o.size_classes); }},
    OptionSpec{"edits",
               "FILE.json",
               kFace,
               "a person's corrections, as report.html saves them; once a photo (default none)",
               OptionKind::paths,
               kAny,
               1,
               [](Options& o, const Value& v) -> Fault {
                 if (std::get<std::string>(v).empty()) return "must name a file";
                 return o.edits_files.emplace_back(std::get<std::string>(v)), std::nullopt;
               },
               [](const Options& o) { return json_paths(o.edits_files); }},
    OptionSpec{"core-at",
               "X,Y,R",
               kPlaces,
               "the face: its centre and radius",
               OptionKind::numbers,
               kAny,
               3,
               &set_core_at,
               [](const Options& o) {
                 return json_place(o.calibration.core_at, &PixelCircle::x, &PixelCircle::y, &PixelCircle::r);
               }},
    OptionSpec{"card-at",
               "X,Y,W,H",
               kPlaces,
               "the grey card: its upper left corner, width and height",
               OptionKind::numbers,
               kAny,
               4,
               &set_card_at,
               [](const Options& o) {
                 return json_place(
                     o.calibration.card_at, &PixelBox::x, &PixelBox::y, &PixelBox::w, &PixelBox::h);
               }},
    OptionSpec{"bar-ends",
               "X1,Y1,X2,Y2",
               kPlaces,
               "the middles of the block pattern's two end edges",
               OptionKind::numbers,
               kAny,
               4,
               &set_bar_ends,
               [](const Options& o) {
                 return json_place(o.calibration.bar_ends,
                                   &PixelSegment::x1,
                                   &PixelSegment::y1,
                                   &PixelSegment::x2,
                                   &PixelSegment::y2);
               }},
    OptionSpec{
        "max-megapixels",
        "M",
        kRun,
        "refuse larger photos, megapixels (default 400)",
        OptionKind::number,
        kPositive,
        1,
        [](Options& o, const Value& v) -> Fault { return o.limits.max_megapixels = number(v), std::nullopt; },
        [](const Options& o) { return json_number(o.limits.max_megapixels); }},
    OptionSpec{"jobs",
               "N",
               kRun,
               "photos measured at a time (default: all cores)",
               OptionKind::whole_number,
               {1, true, 1024},
               1,
               [](Options& o, const Value& v) -> Fault {
                 return o.jobs = static_cast<int>(number(v)), std::nullopt;
               },
               nullptr},
    OptionSpec{"json",
               "",
               kRun,
               "print the rows of the main table as JSON on stdout, and nothing else",
               OptionKind::flag,
               kAny,
               1,
               [](Options& o, const Value& v) -> Fault { return o.json = std::get<bool>(v), std::nullopt; },
               nullptr},
    OptionSpec{"quiet",
               "",
               kRun,
               "print no figures and no progress; errors still go to stderr",
               OptionKind::flag,
               kAny,
               1,
               [](Options& o, const Value& v) -> Fault { return o.quiet = std::get<bool>(v), std::nullopt; },
               nullptr},
};

// The widest ranges only keep slips of the hand out: their upper end is told to whom it concerns.
std::string constraint(const Range& range, double value) {
  const std::string low = fmt::format("must be {} {}", range.low_allowed ? "at least" : "above", range.low);
  return range.high >= kPositive.high && value <= range.high
             ? low
             : fmt::format("{} and at most {}", low, range.high);
}

std::string wanted_numbers(const OptionSpec& spec) {
  if (spec.count == 1) return "must be one number, with '.' as decimal point";
  return fmt::format("must be {} numbers with commas between, {}", spec.count, spec.value_name);
}

bool allows(const Range& range, double value) {
  return (range.low_allowed ? value >= range.low : value > range.low) && value <= range.high;
}

Fault number_fault(const OptionSpec& spec, const std::vector<double>& values) {
  const std::string shown = fmt::format("{}", fmt::join(values, ","));
  if (values.size() != spec.count) return fmt::format("{}; {}", shown, wanted_numbers(spec));
  for (const double value : values) {
    if (!std::isfinite(value)) return fmt::format("{}; {}", shown, wanted_numbers(spec));
    if (!allows(spec.range, value)) return fmt::format("{}; {}", shown, constraint(spec.range, value));
    if (spec.kind == OptionKind::whole_number && value != std::floor(value))
      return fmt::format("{}; must be a whole number", shown);
  }
  return std::nullopt;
}

// std::from_chars knows no locale, no leading blanks and no plus sign; nan and inf are turned down by
// number_fault.
std::optional<std::vector<double>> numbers_of_words(std::string_view words) {
  std::vector<double> values;
  for (std::size_t start = 0; start <= words.size();) {
    const std::size_t end = std::min(words.find(',', start), words.size());
    std::string_view part = words.substr(start, end - start);
    while (!part.empty() && part.front() == ' ') part.remove_prefix(1);
    while (!part.empty() && part.back() == ' ') part.remove_suffix(1);
    double value = 0.0;
    const auto [rest, error] = std::from_chars(part.data(), part.data() + part.size(), value);
    if (error != std::errc{} || rest != part.data() + part.size()) return std::nullopt;
    values.push_back(value);
    start = end + 1;
  }
  return values;
}

}  // namespace

std::span<const OptionSpec> shared_option_specs() { return kSpecs; }

const OptionSpec* find_option(std::string_view name) {
  const auto found =
      std::find_if(kSpecs.begin(), kSpecs.end(), [&](const OptionSpec& spec) { return spec.name == name; });
  return found == kSpecs.end() ? nullptr : &*found;
}

Fault set_option(SharedOptions& options, const OptionSpec& spec, const OptionValue& value) {
  if (const auto* values = std::get_if<std::vector<double>>(&value)) {
    if (auto fault = number_fault(spec, *values)) return fault;
    auto fault = spec.set(options, value);
    return fault ? fmt::format("{}; {}", fmt::join(*values, ","), *fault) : Fault{};
  }
  auto fault = spec.set(options, value);
  if (!fault) return std::nullopt;
  const auto* text = std::get_if<std::string>(&value);
  return fmt::format("{}; {}", text != nullptr ? *text : "", *fault);
}

Fault set_option_from_words(SharedOptions& options, const OptionSpec& spec, std::string_view words) {
  switch (spec.kind) {
    case OptionKind::flag:
      return set_option(options, spec, words == "true");
    case OptionKind::text:
    case OptionKind::path:
    case OptionKind::paths:
      return set_option(options, spec, std::string(words));
    case OptionKind::number:
    case OptionKind::whole_number:
    case OptionKind::numbers:
      break;
  }
  auto values = numbers_of_words(words);
  if (values) return set_option(options, spec, *std::move(values));
  return fmt::format("{}; {}", words, wanted_numbers(spec));
}

std::vector<std::string> faults(const SharedOptions& options) {
  std::vector<std::string> found = options.calibration.faults();
  SegmentationSettings segmentation;
  segmentation.min_spot = options.min_spot;
  for (std::string& fault : segmentation.faults()) found.push_back(std::move(fault));
  if (options.calibration.no_card && options.calibration.card_at)
    found.emplace_back("--no-card and --card-at exclude each other");
  return found;
}

std::vector<std::pair<std::string, std::string>> recorded(const SharedOptions& options) {
  std::vector<std::pair<std::string, std::string>> list;
  for (const OptionSpec& spec : kSpecs)
    if (spec.json != nullptr) list.emplace_back(spec.name, spec.json(options));
  return list;
}

}  // namespace corefleck
