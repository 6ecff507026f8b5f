#include "drawn_core.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

/// Lightness figures as a measurement would give them.
void give_lightness(DrawnPhoto& photo, double matrix_L, double spot_L, double card_u_rel) {
  photo.figures.matrix_L = Lightness{matrix_L};
  photo.figures.spot_L = Lightness{spot_L};
  photo.figures.contrast_dL = Estimate<Lightness>{Lightness{spot_L - matrix_L}, Lightness{0.5}};
  photo.figures.budgets.push_back({"contrast_dL",
                                   "L*",
                                   {{"card reflectance",
                                     0.02,
                                     "relative",
                                     (spot_L - matrix_L) / 3.0,
                                     0.02 * (spot_L - matrix_L) / 3.0,
                                     ""},
                                    {"card level",
                                     card_u_rel,
                                     "relative",
                                     (spot_L - matrix_L) / 3.0,
                                     card_u_rel * (spot_L - matrix_L) / 3.0,
                                     ""}},
                                   0.0});
  photo.figures.card_reflectance_u_rel = 0.02;
  photo.face.card = GreyCard{};
  photo.face.card->u_level_pct = 100.0 * card_u_rel;
  for (SpotFigures& spot : photo.figures.spots) {
    spot.mean_L = Lightness{spot_L};
    spot.contrast_dL = Lightness{spot_L - matrix_L};
  }
}

}  // namespace

TEST_CASE("wet against dry: darkening and gain with uncertainties by hand", "[comparison]") {
  const DrawnCore core{.spots = {{0, 0, 3}, {8, 3, 2}}};
  const auto dry = drawn_core(core), wet = drawn_core(core);
  give_lightness(*dry, 50.0, 74.0, 0.01);
  give_lightness(*wet, 38.0, 68.0, 0.02);
  const StateContrast contrast =
      compare_states(dry->to_compare(), wet->to_compare(), true_registration(core, core));
  // The card's reflectance is one and the same error in both photos: it enters by the difference of its
  // effects.
  REQUIRE(contrast.darkening);
  CHECK(contrast.darkening->value.number() == Approx(12.0));
  const double level = std::hypot(66.0 / 3.0 * 0.01, 54.0 / 3.0 * 0.02);
  CHECK(contrast.darkening->u.number() ==
        Approx(std::hypot(level, (66.0 - 54.0) / 3.0 * 0.02)).epsilon(1e-9));
  REQUIRE(contrast.gain);
  CHECK(contrast.gain->value.number() == Approx(6.0));
  const double own = std::hypot(24.0 / 3.0 * 0.01, 30.0 / 3.0 * 0.02);
  CHECK(contrast.gain->u.number() == Approx(std::hypot(own, (30.0 - 24.0) / 3.0 * 0.02)).epsilon(1e-9));
  CHECK(contrast.gain_of_both->value.number() == Approx(6.0));
  CHECK(contrast.both == 2);
}

TEST_CASE("wet against dry: what card and tones are off is in the darkening, spots or none", "[comparison]") {
  const DrawnCore core{};
  const auto dry = drawn_core(core), wet = drawn_core(core);
  for (auto* photo : {dry.get(), wet.get()}) {
    photo->figures.card_reflectance_u_rel = 0.03;
    photo->figures.tones_u_rel = 0.1;
  }
  dry->figures.matrix_L = Lightness{50.0};
  wet->figures.matrix_L = Lightness{38.0};
  const StateContrast contrast =
      compare_states(dry->to_compare(), wet->to_compare(), true_registration(core, core));
  REQUIRE(contrast.darkening);
  CHECK(contrast.darkening->u.number() == Approx(std::hypot(4.0 * 0.03, 12.0 * 0.1)).epsilon(1e-9));
}

TEST_CASE("wet against dry: outlines err alike in both states, all but three tenths", "[comparison]") {
  const DrawnCore core{.spots = {{0, 0, 3}, {8, 3, 2}}};
  const auto dry = drawn_core(core), wet = drawn_core(core);
  give_lightness(*dry, 50.0, 74.0, 0.0);
  give_lightness(*wet, 50.0, 74.0, 0.0);
  const auto gain_u = [&](double in_dry, double in_wet) {
    for (const auto& [photo, part] : {std::pair{dry.get(), in_dry}, std::pair{wet.get(), in_wet}}) {
      auto& components = photo->figures.budgets.back().components;
      components = {{"boundary", 0.04, "relative", part / 0.04, part, ""}};
    }
    return compare_states(dry->to_compare(), wet->to_compare(), true_registration(core, core))
        .gain->u.number();
  };
  // By hand: equal effects of 0.4 leave 0.3 x 0.4 of each; 0.3 and 0.5 leave 0.3 of each and, of the common
  // part, sqrt(1 - 0.09) x 0.2.
  CHECK(gain_u(0.4, 0.4) == Approx(0.3 * std::hypot(0.4, 0.4)).epsilon(1e-9));
  CHECK(gain_u(0.3, 0.5) ==
        Approx(std::hypot(0.3 * std::hypot(0.3, 0.5), std::sqrt(0.91) * 0.2)).epsilon(1e-9));
}

TEST_CASE("wet against dry: a spot seen in one state alone is listed as such", "[comparison]") {
  const DrawnCore dry_core{.spots = {{0, 0, 3}, {8, 3, 2}}},
      wet_core{.turn_deg = 20.0, .spots = {{0, 0, 3}, {-9, 4, 2}}};
  const auto dry = drawn_core(dry_core), wet = drawn_core(wet_core);
  const StateContrast contrast =
      compare_states(dry->to_compare(), wet->to_compare(), true_registration(dry_core, wet_core));
  CHECK(contrast.both == 1);
  CHECK(contrast.dry_only == 1);
  CHECK(contrast.wet_only == 1);
  CHECK(contrast.unmeasured == 0);
  CHECK(contrast.spots.back().dry_ids.empty());
  CHECK(contrast.spots.back().x_mm == Approx(-9.0).margin(0.01));
  CHECK(!contrast.spots.back().area_dry);
}

TEST_CASE("wet against dry: without a card there is no lightness, but Weber contrast stands",
          "[comparison]") {
  const DrawnCore core{.spots = {{0, 0, 3}}};
  const auto dry = drawn_core(core), wet = drawn_core(core);
  const StateContrast contrast =
      compare_states(dry->to_compare(), wet->to_compare(), true_registration(core, core));
  CHECK(!contrast.darkening);
  CHECK(!contrast.gain);
  CHECK(contrast.spots.front().weber_dry == 1.5);
}
