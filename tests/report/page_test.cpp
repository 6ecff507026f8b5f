#include "ascii_text.hpp"
#include "base64.hpp"
#include "jpeg_file.hpp"
#include "label_runs.hpp"
#include "report/made_face.hpp"
#include "report/read_page.hpp"
#include "svg_path.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <regex>

using namespace corefleck;
using namespace corefleck::testing;
using Catch::Matchers::Contains;
using Json = nlohmann::json;

namespace {

MeasuredFace face_of(const std::string& photo) {
  MeasuredFace made = made_face(
      {.spots = 4, .pitch_mm = 0.2, .photo = photo, .cautions = {{CautionKind::strong_tilt, "9 <deg>"}}});
  made.spots.pit_mask = cv::Mat::zeros(made.spots.labels.size(), CV_8UC1);
  made.page = page_sources(made.face, made.spots);
  return made;
}

std::string page_of(const std::string& photo) { return report_html(face_of(photo), made_context()); }

/// Corners of path data of one closed outline: "M" and a place, then steps.
Contour corners_of(const std::string& path) {
  const std::regex number("-?[0-9]*\\.?[0-9]+");
  std::vector<double> numbers;
  for (std::sregex_iterator found(path.begin(), path.end(), number), end; found != end; ++found)
    numbers.push_back(std::stod(found->str()));
  Contour corners;
  cv::Point2d at(0.0, 0.0);
  for (std::size_t i = 0; i + 1 < numbers.size(); i += 2)
    corners.push_back(at += cv::Point2d(numbers[i], numbers[i + 1]));
  return corners;
}

double distance_to_line(const cv::Point2d& p, const cv::Point2d& a, const cv::Point2d& b) {
  const cv::Point2d along = b - a;
  const double share = std::clamp((p - a).dot(along) / std::max(along.dot(along), 1e-12), 0.0, 1.0);
  return cv::norm(p - a - share * along);
}

}  // namespace

// RFC 4648, section 10.
TEST_CASE("base64: the published vectors", "[report]") {
  CHECK(base64("").empty());
  CHECK(base64("f") == "Zg==");
  CHECK(base64("fo") == "Zm8=");
  CHECK(base64("foo") == "Zm9v");
  CHECK(base64("foob") == "Zm9vYg==");
  CHECK(base64("fooba") == "Zm9vYmE=");
  CHECK(base64("foobar") == "Zm9vYmFy");
}

TEST_CASE("label runs: rows of gap, length and value, by hand", "[report]") {
  SpotMap map{};
  map.labels = (cv::Mat_<int>(2, 5) << 0, 0, 7, 7, 0, 0, 0, 0, 0, 300);
  map.outside = (cv::Mat_<unsigned char>(2, 5) << 1, 0, 0, 0, 2, 0, 0, 0, 0, 0);
  // Row 1: three runs; row 2: one, whose value 308 takes two bytes.
  const std::string expected{
      3, 0, 1, 1, 1, 2, 15, 0, 1, 2, 1, 4, 1, static_cast<char>(0x80 | (308 & 127)), 308 >> 7};
  CHECK(label_runs(map) == expected);
}

TEST_CASE("JPEG: nothing of nothing, and a picture of a picture", "[report]") {
  CHECK(jpeg_of(cv::Mat(), 80).empty());
  const std::string file = jpeg_of(cv::Mat(16, 24, CV_8UC4, cv::Scalar(10, 200, 90, 0)), 80);
  REQUIRE(file.size() > 100);
  CHECK(static_cast<unsigned char>(file[0]) == 0xFF);
  CHECK(static_cast<unsigned char>(file[1]) == 0xD8);
}

TEST_CASE("ASCII text: other characters as markup, scripts and styles write them", "[report]") {
  const std::string text = "a² Δ–😀<";
  CHECK(ascii_markup(text) == "a&#178; &#916;&#8211;&#128512;<");
  CHECK(ascii_script(text) == "a\\u00b2 \\u0394\\u2013\\ud83d\\ude00<");
  CHECK(ascii_style(text) == "a\\b2  \\394 \\2013 \\1f600 <");
  CHECK(ascii_markup("plain & simple") == "plain & simple");
  CHECK(ascii_markup("") == "");  // NOLINT(readability-container-size-empty)
  CHECK(ascii_markup("cut \xC3") == "cut &#65533;");
  CHECK(ascii_markup("\x80 odd") == "&#65533; odd");
}

TEST_CASE("SVG path: an outline as a place and steps, by hand", "[report]") {
  // Pixel centres at whole numbers here, pixel edges there: half a pixel more.
  CHECK(svg_path(Contour{{0.0, 0.0}, {10.0, 0.0}, {10.0, 8.5}, {0.0, 8.5}}) == "M.5 .5l10 0 0 8.5-10 0Z");
  CHECK(svg_path(Contour{{3.0, 3.0}, {4.0, 4.0}}).empty());
}

TEST_CASE("SVG path: its corners follow the outline to a quarter of a pixel, all the way round", "[report]") {
  for (const Region& spot : made_face({.spots = 12}).spots.spots) {
    const Contour corners = corners_of(svg_path(spot.outline));
    REQUIRE(corners.size() > 6);
    for (const cv::Point2d& p : spot.outline) {
      double nearest = 1e9;
      for (std::size_t i = 0; i < corners.size(); ++i)
        nearest = std::min(
            nearest,
            distance_to_line(p + cv::Point2d(0.5, 0.5), corners[i], corners[(i + 1) % corners.size()]));
      CHECK(nearest < 0.25);  // 0.15 of leaving corners out, and the rounding to tenths
    }
  }
}

TEST_CASE("page: a photo's name and a caution's detail are text, never markup", "[report]") {
  const std::string name = "<script>alert(1)\"'&<!--.jpg";
  const std::string html = page_of(name);
  CHECK(html.find("<script>alert") == std::string::npos);
  CHECK(html.find("<!--") == std::string::npos);
  CHECK_THAT(html, Contains("<h1>&lt;script&gt;alert(1)&quot;"));
  CHECK_THAT(html, Contains("9 &lt;deg&gt;"));
  CHECK(island_of(html).at("photo") == name);
  // As many scripts as the page has of its own.
  CHECK(count_of(html, "<script") == count_of(page_of("core.jpg"), "<script"));
}

TEST_CASE("page: needs nothing from anywhere else", "[report]") {
  const std::string html = page_of("core.jpg");
  CHECK(!std::regex_search(html, std::regex("(src|href)=[\"']?(https?:|//|file:)")));
  CHECK(!std::regex_search(html, std::regex("url\\(\\s*[\"']?(https?:|//)")));
  CHECK(html.find("@import") == std::string::npos);
  CHECK_THAT(html, Contains("default-src 'none'"));
}

TEST_CASE("page: says what was measured, of which photo, and what it does not say", "[report]") {
  const std::string html = page_of("core 07 north.jpg");
  const MeasuredFace made = face_of("core 07 north.jpg");
  CHECK_THAT(html, Contains(made.photo.sha256) && Contains("It does not say why a spot is there"));
  CHECK_THAT(html, Contains("respirable crystalline silica") && Contains("hit steel or services"));
  CHECK_THAT(html, Contains("What to do:"));
  CHECK(count_of(html, "class=\"spot\"") == made.spots.spots.size());
  const Json island = island_of(html);
  CHECK(island.at("spots").at("rows").size() == made.figures.spots.size());
  CHECK(island.at("figures").at("area_fraction_pct") ==
        Json::parse(record_json(made, made_context())).at("figures").at("area_fraction_pct"));
}

TEST_CASE("page: is ASCII, as the browser reads it fastest, and says the same", "[report]") {
  const std::string html = page_of("Güte Δ.jpg");
  CHECK(std::none_of(html.begin(), html.end(), [](char c) { return static_cast<unsigned char>(c) > 127; }));
  CHECK_THAT(as_read(html), Contains("<h1>Güte Δ.jpg</h1>") && Contains(" mm², ECD "));
  CHECK(island_of(html).at("photo") == "Güte Δ.jpg");
}

TEST_CASE("page: among hundreds of spots only wide ones have a number from the start", "[report]") {
  const auto numbers = [](const std::string& html) { return count_of(html, "<text data-spot"); };
  CHECK(numbers(page_of("core.jpg")) == 4);
  const MeasuredFace many = made_face({.spots = 400, .pitch_mm = 0.1});
  REQUIRE(many.spots.spots.size() > 300);
  // 22 px of a picture of 800.
  const double least_mm = 22.0 / 800.0 * many.face.grid.size_px * many.face.grid.pitch.number();
  const auto wide = std::count_if(many.figures.spots.begin(),
                                  many.figures.spots.end(),
                                  [&](const SpotFigures& spot) { return spot.ecd.number() >= least_mm; });
  REQUIRE((wide > 0 && wide < 100));
  CHECK(numbers(report_html(many, made_context())) == static_cast<std::size_t>(wide));
}

TEST_CASE("page: a face without spots and a photo without a card have pages too", "[report]") {
  for (const MadeFace& wish : {MadeFace{.spots = 0, .pits = 0, .pitch_mm = 0.2, .glare = false},
                               MadeFace{.pitch_mm = 0.2, .card = false}}) {
    const std::string html = report_html(made_face(wish), made_context());
    CHECK_THAT(html, Contains("</html>"));
    CHECK(!std::regex_search(html.substr(0, html.find("id=\"island\"")),
                             std::regex("[ >\"]-?(nan|inf)[ <\"%]")));
    CHECK(island_of(html).at("absolute") == wish.card);
  }
}
