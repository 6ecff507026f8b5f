#include "pair_html.hpp"

#include "report/made_face.hpp"
#include "report/made_pair.hpp"
#include "report/read_page.hpp"
#include "svg_path.hpp"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <regex>
#include <sstream>

using namespace corefleck;
using namespace corefleck::testing;
using Catch::Matchers::Contains;

namespace {

constexpr const char* kHarmful = "<script>alert(1)\"'&<!--.jpg";

/// A face against itself, with changes by hand.
struct MadePair {
  MeasuredFace before = made_face({.pitch_mm = 0.2, .photo = kHarmful});
  MeasuredFace after = made_face(
      {.pitch_mm = 0.2, .photo = "core later.jpg", .cautions = {{CautionKind::strong_tilt, "9 <deg>"}}});
  ChangesReport changes{
      row_of(before, before.photo.path.string()), row_of(after, after.photo.path.string()), {}};
  StatesReport states{
      row_of(before, before.photo.path.string()), row_of(after, after.photo.path.string()), {}};
  LaidPair laid = laid_pair(before, after, {});

  MadePair() {
    using Percent = Quantity<struct PercentUnit>;
    changes.changes.registration.rotation_deg = -12.5;
    changes.changes.fraction_before = Percent{3.03};
    changes.changes.fraction_after = Percent{3.13};
    changes.changes.fraction_change = {Percent{0.1}, Percent{0.05}};
    changes.changes.changes = {change(ChangeKind::fresh, {}, {1}),
                               change(ChangeKind::grown, {2}, {2}),
                               change(ChangeKind::gone, {3}, {}),
                               change(ChangeKind::merged, {4, 5}, {4})};
    SpotStates both{}, wet{};
    both.dry_ids = both.wet_ids = {1};
    wet.wet_ids = {2};
    both.measurable = wet.measurable = true;
    both.contrast_dry = Lightness{10.0};
    both.contrast_wet = wet.contrast_wet = Lightness{16.25};
    states.contrast.gain = Estimate<Lightness>{Lightness{6.25}, Lightness{0.5}};
    states.contrast.spots = {both, wet};
    states.contrast.both = states.contrast.wet_only = 1;
  }
  [[nodiscard]] std::string changes_page(const std::string& folder = "core 1") const {
    return changes_html(changes, laid, {before, made_context(), folder}, {after, made_context(), "later"});
  }
  [[nodiscard]] std::string states_page() const {
    return states_html(states, laid, {before, made_context(), "dry"}, {after, made_context(), "wet"});
  }
};

/// Every id of the page, to see that none stands twice.
std::vector<std::string> ids_of(const std::string& html) {
  std::vector<std::string> ids;
  const std::regex id(" id=\"([^\"]*)\"");
  for (std::sregex_iterator at(html.begin(), html.end(), id), end; at != end; ++at) ids.push_back((*at)[1]);
  std::sort(ids.begin(), ids.end());
  return ids;
}

/// Cells of a CSV's second line that hold no comma.
std::vector<std::string> second_line(const std::string& csv) {
  std::stringstream line(csv.substr(csv.find("\r\n") + 2));
  std::vector<std::string> cells;
  for (std::string cell; std::getline(line, cell, ',');) cells.push_back(cell);
  return cells;
}

}  // namespace

TEST_CASE("pair page: photos' names and cautions' details are text, never markup", "[report]") {
  const MadePair pair;
  for (const std::string& html : {pair.changes_page(), pair.states_page()}) {
    CHECK(html.find("<script>alert") == std::string::npos);
    CHECK(html.find("<!--") == std::string::npos);
    CHECK_THAT(html, Contains("<h1>&lt;script&gt;alert(1)&quot;"));
    CHECK_THAT(html, Contains("9 &lt;deg&gt;"));
    CHECK(!std::regex_search(html, std::regex("(src|href)=[\"']?(https?:|//|file:|javascript:)")));
    CHECK_THAT(html, Contains("default-src 'none'"));
  }
}

TEST_CASE("pair page: a folder's name is a link to that folder, whatever is in it", "[report]") {
  const MadePair pair;
  CHECK_THAT(pair.changes_page("a: <b>#?\"%"), Contains("href=\"./a%3A%20%3Cb%3E%23%3F%22%25/report.html\""));
  CHECK(link_to("\xC3\xA9-1.x_y~", "report.html") == "./%C3%A9-1.x_y~/report.html");
}

TEST_CASE("pair page: no id stands twice, and every part is there", "[report]") {
  const MadePair pair;
  for (const std::string& html : {pair.changes_page(), pair.states_page()}) {
    const auto ids = ids_of(html);
    CHECK(std::adjacent_find(ids.begin(), ids.end()) == ids.end());
    for (const char* id : {"face",
                           "figures",
                           "cautions-first",
                           "cautions-second",
                           "plots",
                           "spots",
                           "uncertainty-first",
                           "registration",
                           "identity-first",
                           "identity-second"}) {
      CAPTURE(id);
      CHECK(std::binary_search(ids.begin(), ids.end(), id));
    }
    CHECK(count_of(html, pair.before.photo.sha256) >= 1);
    CHECK_THAT(html, Contains("It does not say why a spot is there"));
    CHECK_THAT(html, Contains("respirable crystalline silica"));
  }
}

TEST_CASE("pair page: rows of changes.csv, each with its class, outlines and sign", "[report]") {
  const MadePair pair;
  const std::string html = as_read(pair.changes_page());
  const auto island = island_of(html);
  CHECK(island.at("row_kinds") == nlohmann::json({"new", "grown", "gone", "merged"}));
  CHECK(island.at("table").at("rows").size() == 4);
  CHECK(island.at("table").at("rows").at(3).at(1) == "4;5");
  CHECK(count_of(html, "<g class=\"spot kind-") == 4);
  CHECK_THAT(
      html,
      Contains("aria-label=\"Row 2, grown: before 4.00 mm², after 6.50 mm², change +2.50 ± 0.20 mm²\""));
  CHECK_THAT(html, Contains(">▲ 2</text>") && Contains(">→← 4</text>"));
  // The outlines of both spots that became one, as the face has them.
  const auto& spots = pair.before.spots.spots;
  CHECK_THAT(html, Contains("class=\"first\" d=\"" + svg_path(spots[3]) + svg_path(spots[4]) + "\""));
}

TEST_CASE("pair page: its figures are those of the CSV", "[report]") {
  const MadePair pair;
  const std::string html = as_read(pair.changes_page());
  const auto cells = second_line(comparison_csv(pair.changes));
  CHECK(cells.at(5) == "3.03000");  // by hand: 3.03 % before, 3.13 after, u 0.05, so u95 0.098
  CHECK_THAT(html, Contains("data-figure=\"area_fraction_before_pct\"><span class=\"value\">3.030</span>"));
  CHECK_THAT(html,
             Contains("data-figure=\"area_fraction_change_pct\"><span class=\"value\">+0.100</span> <span "
                      "class=\"u95\">± 0.098</span> %"));
  CHECK(island_of(html).at("figures").at("area_fraction_after_pct") == std::stod(cells.at(6)));
  const std::string states = as_read(pair.states_page());
  CHECK_THAT(states, Contains("<span class=\"value\">+6.25</span> <span class=\"u95\">± 0.98</span>"));
  CHECK(island_of(states).at("row_kinds") == nlohmann::json({"both", "wet"}));
}

TEST_CASE("pair page: a difference has its sign, but a rounded nothing has none", "[report]") {
  const ShownFigure figure{"change", "", "%", 2};
  CHECK(shown_difference(figure, {{"change", 0.126}}).at("value") == "+0.13");
  CHECK(shown_difference(figure, {{"change", -0.126}}).at("value") == "-0.13");
  CHECK(shown_difference(figure, {{"change", 0.001}}).at("value") == "0.00");
  CHECK(shown_difference(figure, {{"change", nullptr}}).at("value") == "–");
}

TEST_CASE("pair page: options of the second photo are listed where they differ", "[report]") {
  const MadePair pair;
  RecordContext other = made_context();
  REQUIRE(!other.options.empty());
  other.options[0].second = "\"of the second alone\"";
  const std::string html =
      changes_html(pair.changes, pair.laid, {pair.before, made_context(), "a"}, {pair.after, other, "b"});
  CHECK_THAT(html, Contains("Options in force: as of the before photo, but"));
  CHECK(count_of(html, "<dd>of the second alone</dd>") == 1);
  CHECK(count_of(html, "<dt>--" + other.options[0].first + "</dt>") == 2);
  CHECK(count_of(html, "<dt>--" + other.options[1].first + "</dt>") == 1);
}

TEST_CASE("pair page: faces without spots and without a card have pages too", "[report]") {
  MadePair pair;
  const MeasuredFace bare =
      made_face({.spots = 0, .pits = 0, .pitch_mm = 0.2, .card = false, .glare = false});
  const LaidPair laid = laid_pair(bare, bare, {});
  const SummaryRow row = row_of(bare, bare.photo.path.string());
  const std::string html =
      states_html({row, row, {}}, laid, {bare, made_context(), "a"}, {bare, made_context(), "b"});
  CHECK_THAT(html, Contains("</html>") && Contains("not on one scale of lightness"));
  CHECK(
      !std::regex_search(html.substr(0, html.find("id=\"island\"")), std::regex("[ >\"]-?(nan|inf)[ <\"%]")));
}
