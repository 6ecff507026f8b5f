#include "report/made_face.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <limits>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

using Json = nlohmann::ordered_json;

const MeasuredFace& made() {
  static const MeasuredFace face =
      made_face({.spots = 4, .pitch_mm = 0.2, .cautions = {{CautionKind::strong_tilt, "tilt 9 deg"}}});
  return face;
}

Json record() { return Json::parse(record_json(made(), made_context())); }

}  // namespace

TEST_CASE("record: names the program, the photo and every option in force", "[report]") {
  const Json json = record();
  CHECK(json["program"]["version"] == "0.1.0");
  CHECK(json["input"]["photo"] == "core 07 north.jpg");
  CHECK(json["input"]["sha256"] == made().photo.sha256);
  CHECK(json["input"]["width_px"] == 4032);
  CHECK(json["camera"]["f_number"] == 5.6);
  CHECK(json["camera"]["iso_speed"].is_null());
  CHECK(json["options"]["card-reflectance"] == 0.18);
  CHECK(json["options"]["no-card"] == false);
  CHECK(json["options"]["edits"].is_null());
  CHECK(json["options"]["state"] == "dry");  // not JSON: kept as text
}

TEST_CASE("record: holds every budget with each component", "[report]") {
  const Json budgets = record()["uncertainty_budgets"];
  const auto& expected = made().figures.budgets;
  REQUIRE(budgets.size() == expected.size());
  for (std::size_t i = 0; i < expected.size(); ++i) {
    CHECK(budgets[i]["figure"] == expected[i].figure);
    REQUIRE(budgets[i]["components"].size() == expected[i].components.size());
    for (std::size_t j = 0; j < expected[i].components.size(); ++j) {
      CHECK(budgets[i]["components"][j]["name"] == expected[i].components[j].name);
      CHECK(budgets[i]["components"][j]["origin"] == expected[i].components[j].origin);
      CHECK(budgets[i]["components"][j]["contribution"] == Approx(expected[i].components[j].contribution));
    }
    CHECK(budgets[i]["u95"] == Approx(1.959964 * expected[i].combined));
  }
}

TEST_CASE("record: says what was found where and how the spots were told", "[report]") {
  const Json json = record();
  CHECK(json["calibration"]["scale_bar"]["edges"].size() == 6);
  CHECK(json["calibration"]["scale_bar"]["edges_used"] == 5);
  CHECK(json["calibration"]["pose"]["homography_mm_to_px"].size() == 3);
  CHECK(json["calibration"]["pose"]["lens_bend"]["at_corner_pct"] == -0.4);
  CHECK(json["calibration"]["pose"]["lens_bend"]["u_pct"] == 0.3);
  CHECK(json["calibration"]["grey_card"]["corners_px"].size() == 4);
  CHECK(json["calibration"]["light"]["source"] == "matrix");
  CHECK_FALSE(json["calibration"]["light"]["cannot_know"].get<std::string>().empty());
  CHECK(json["segmentation"]["spots"].size() == made().spots.spots.size());
  CHECK(json["segmentation"]["spots"][0]["threshold"] == 0.315);
}

TEST_CASE("record: figures are the digits of the table", "[report]") {
  SummaryRow row;
  row.figures = made().figures;
  const Json summary = Json::parse(summary_json({row}))[0];
  const Json figures = record()["figures"];
  for (const auto& [column, value] : figures.items()) CHECK(value == summary[column]);
}

TEST_CASE("record: each caution comes with its meaning and its remedy", "[report]") {
  const Json cautions = record()["cautions"];
  REQUIRE(cautions.size() == 1);
  CHECK(cautions[0]["name"] == "strong_tilt");
  CHECK(cautions[0]["detail"] == "tilt 9 deg");
  CHECK(cautions[0]["meaning"] == meaning(CautionKind::strong_tilt));
  CHECK(cautions[0]["remedy"] == remedy(CautionKind::strong_tilt));
}

TEST_CASE("record: is neutral and warns of the drilling", "[report]") {
  const std::string text = record_json(made(), made_context());
  for (const auto* phrase : {"measures appearance", "does not say why", "ASTM C856", "29 CFR 1926.1153"})
    CHECK(text.find(phrase) != std::string::npos);
}

TEST_CASE("record: without a card says so and stays valid", "[report]") {
  const MeasuredFace bare = made_face({.spots = 1, .pitch_mm = 0.2, .card = false});
  const Json json = Json::parse(record_json(bare, made_context()));
  CHECK(json["calibration"]["grey_card"].is_null());
  CHECK(json["figures"]["matrix_L"].is_null());
}

TEST_CASE("record: camera text and names of any bytes give valid JSON", "[report]") {
  MeasuredFace odd = made_face({.spots = 0, .pitch_mm = 0.2, .photo = "kern \xFC.jpg"});
  odd.photo.camera.model = std::string("\x01\xFF\x80", 3);
  odd.face.ellipse.score = std::numeric_limits<double>::quiet_NaN();
  const Json json = Json::parse(record_json(odd, made_context()));
  CHECK(json["input"]["photo"] == "kern \xEF\xBF\xBD.jpg");
  CHECK(json["calibration"]["face_ellipse"]["score"].is_null());
}

TEST_CASE("record: the same face gives the same bytes", "[report]") {
  CHECK(record_json(made(), made_context()) == record_json(made(), made_context()));
}
