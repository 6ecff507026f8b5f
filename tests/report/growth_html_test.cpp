#include "growth_html.hpp"

#include "report/made_core.hpp"
#include "report/made_face.hpp"
#include "report/read_page.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <regex>

using namespace corefleck;
using namespace corefleck::testing;
using Catch::Matchers::Contains;

namespace {

const RecordContext kContext{"9.9", FaceState::dry, {{"bar-length-mm", "50"}}};

/// A core whose last visit was left out, and whose first photo asks for a second look.
CoreReport listed_core(const std::string& name) {
  CoreReport core = made_core(name, kFourVisits);
  for (const ReportedVisit& visit : core.visits) {
    SummaryRow row;
    row.photo = visit.photo;
    row.photo_sha256 = "sha-" + text_of(visit.date);
    row.figures = made_figures();
    row.figures->cautions.clear();
    core.listed.push_back({visit.date, row, name + "-" + text_of(visit.date), ""});
  }
  core.listed.front().row.figures->cautions = {{CautionKind::strong_tilt, "9 <deg>"}};
  SummaryRow lost;
  lost.photo = "lost.jpg";
  core.listed.push_back({*date_of("2026-10-01"), lost, "lost", "no face found in the photo"});
  return core;
}

}  // namespace

TEST_CASE("growth page: names of cores and photos are text, and needs nothing from elsewhere", "[report]") {
  const std::string html = growth_html({listed_core("<script>alert(1)</script>")}, kContext);
  CHECK(html.find("<script>alert") == std::string::npos);
  CHECK_THAT(html, Contains("<h1>Core &lt;script&gt;alert(1)"));
  CHECK_THAT(html, Contains("9 &lt;deg&gt;"));
  CHECK_THAT(html, Contains("href=\"./%3Cscript%3Ealert%281%29%3C%2Fscript%3E-2025-03-04/report.html\""));
  CHECK(!std::regex_search(html, std::regex("(src|href)=[\"']?(https?:|//|file:|javascript:)")));
  CHECK_THAT(html, Contains("default-src 'none'"));
}

TEST_CASE("growth page: figures of growth.csv, rows of tracks.csv, a mark a visit", "[report]") {
  const CoreReport core = listed_core("A");
  const std::string html = as_read(growth_html({core}, kContext));
  const auto row = nlohmann::json::parse(growth_json({core})).at(0);
  const auto island = island_of(html);
  CHECK(island.at("tracks").at("rows").size() == 4);
  CHECK(island.at("tracks").at("columns").at(4) == "area_mm2");
  // The rate, by its interval to two digits of it: the digits of growth.csv rounded.
  const std::string figures = html.substr(html.find("id=\"core-1-figures-table\""), 900);
  const std::regex rate(
      "data-figure=\"rate_pct_per_year\"><span class=\"value\">\\+([0-9.]+)</span> <span class=\"u95\">± "
      "([0-9.]+)");
  std::smatch found;
  REQUIRE(std::regex_search(figures, found, rate));
  CHECK(std::stod(found[1]) == Approx(row.at("rate_pct_per_year").get<double>()).margin(0.0051));
  CHECK(std::stod(found[2]) == Approx(row.at("rate_u95_pct_per_year").get<double>()).margin(0.0051));
  CHECK(count_of(html, "class=\"visit\"") == 4);
  CHECK_THAT(html, Contains("<title>2025-03-04: 1.920 ± 0.059 %</title>"));  // by hand: 1.96 x 0.03
  CHECK_THAT(html, Contains("left out: no face found in the photo") && Contains("1 caution: look twice"));
  CHECK_THAT(html, Contains("sha-2026-09-02") && Contains("--bar-length-mm"));
}

TEST_CASE("growth page: cores without a rate say why, and several share a plot", "[report]") {
  CoreReport lost{"B <b>", "growth-B.png", {}, {}, "1 of 2 visits could be used; two are needed"};
  const std::string alone = growth_html({lost}, kContext);
  CHECK_THAT(alone, Contains("No rate: 1 of 2 visits could be used"));
  const std::string html = growth_html({listed_core("A"), lost, listed_core("C")}, kContext);
  CHECK_THAT(
      html,
      Contains("id=\"all-cores\"") && Contains("id=\"core-3\"") && Contains("3 cores over dated visits"));
  CHECK(count_of(html, "<figcaption class=\"series-key\">") == 1);
  CHECK(
      !std::regex_search(html.substr(0, html.find("id=\"island\"")), std::regex("[ >\"]-?(nan|inf)[ <\"%]")));
}
