#include "label_tiff.hpp"
#include "plate.hpp"
#include "report/made_face.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include <chrono>

using namespace corefleck;
using namespace corefleck::testing;

// Hidden: `report_test "[sample]"` draws plates to look at, since no assertion tells whether a plate is
// legible.
TEST_CASE("plates to look at, in a folder of the temporary directory", "[.][sample]") {
  const auto folder = std::filesystem::temp_directory_path() / "corefleck-plates";
  const std::vector<Caution> cautions{{CautionKind::light_uneven, "31 % over the face"},
                                      {CautionKind::few_bar_edges, "4 of 6"}};
  const std::vector<std::pair<std::string, MadeFace>> wishes{
      {"spots0", {.spots = 0, .pits = 0, .pitch_mm = 0.025, .glare = false}},
      {"spots5", {.spots = 5, .pitch_mm = 0.025, .cautions = cautions}},
      {"spots40", {.spots = 40, .pits = 9, .pitch_mm = 0.025, .cautions = {cautions[0]}}},
      {"spots300", {.spots = 300, .pits = 30, .pitch_mm = 0.025}},
      {"spots900", {.spots = 900, .pits = 30, .pitch_mm = 0.025}},
      {"nocard",
       {.spots = 18,
        .pitch_mm = 0.04,
        .radius_mm = 25.0,
        .photo = "a very long name of a photo that some camera or some person gave, building 12, wall C, "
                 "height 1.40 m, after the rain, second try.jpeg",
        .card = false,
        .cautions = {{CautionKind::no_card, ""},
                     {CautionKind::strong_tilt, "tilt 9.1 deg"},
                     {CautionKind::rim_incomplete, "71 % of the rim found"},
                     {CautionKind::much_glare, "14 %"}}}},
  };
  std::filesystem::create_directories(folder);
  for (const auto& [name, wish] : wishes) {
    const MeasuredFace made = made_face(wish);
    const auto start = std::chrono::steady_clock::now();
    const auto png = plate_png(made, made_context());
    const auto middle = std::chrono::steady_clock::now();
    const auto tiff = label_tiff(made.spots.labels, made.face.grid.pitch);
    const auto end = std::chrono::steady_clock::now();
    REQUIRE(png);
    REQUIRE(write_whole(folder / (name + ".png"), *png));
    using Ms = std::chrono::duration<double, std::milli>;
    fmt::print("{}: plate {:.0f} ms, {:.2f} MB; labels {:.0f} ms, {:.2f} MB\n",
               name,
               Ms(middle - start).count(),
               1e-6 * static_cast<double>(png->size()),
               Ms(end - middle).count(),
               1e-6 * static_cast<double>(tiff->size()));
  }
}
