#include "number_text.hpp"
#include "report/made_face.hpp"

#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <clocale>
#include <cmath>
#include <limits>
#include <locale>
#include <sstream>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

// Copied from the output contract, not from the code.
constexpr std::string_view kSummaryHeader =
    "photo,photo_sha256,taken,state,status,cautions,mm_per_px,scale_u95_pct,tilt_deg,core_diameter_mm,face_"
    "area_mm2,"
    "measured_area_mm2,glare_pct,spot_count,spot_density_per_cm2,spot_area_mm2,area_fraction_pct,area_"
    "fraction_u95_pct,"
    "ecd_d10_mm,ecd_d50_mm,ecd_d90_mm,ecd_max_mm,matrix_L,spot_L,contrast_dL,contrast_dL_u95,contrast_weber,"
    "contrast_dE00,pit_count,pit_area_fraction_pct,reason";
constexpr std::string_view kSpotsHeader =
    "spot_id,x_mm,y_mm,r_mm,clock_deg,area_mm2,area_u95_mm2,ecd_mm,feret_max_mm,feret_min_mm,perimeter_mm,"
    "form_factor,"
    "aspect_ratio,solidity,mean_L,peak_L,contrast_dL,contrast_weber,touches_rim";
constexpr std::string_view kSizesHeader = "ecd_from_mm,ecd_to_mm,count,count_pct,area_mm2,area_pct";

using Record = std::vector<std::string>;

/// A reader of RFC 4180 of its own, so that the writer is not tested by itself.
std::vector<Record> read_csv(const std::string& csv) {
  std::vector<Record> records(1, Record(1));
  bool quoted = false;
  for (std::size_t i = 0; i < csv.size(); ++i) {
    const char c = csv[i];
    std::string& field = records.back().back();
    if (quoted && c == '"' && i + 1 < csv.size() && csv[i + 1] == '"') {
      field += csv[++i];
    } else if (c == '"') {
      quoted = !quoted;
    } else if (quoted) {
      field += c;
    } else if (c == ',') {
      records.back().emplace_back();
    } else if (c == '\r') {
      REQUIRE(csv.at(++i) == '\n');
      records.emplace_back(1);
    } else {
      field += c;
    }
  }
  REQUIRE(records.back() == Record(1));  // the last line is ended too
  records.pop_back();
  return records;
}

std::string cell(const std::vector<Record>& records, std::size_t row, std::string_view column) {
  const auto at = std::find(records.at(0).begin(), records.at(0).end(), column);
  REQUIRE(at != records.at(0).end());
  return records.at(row).at(static_cast<std::size_t>(at - records.at(0).begin()));
}

SummaryRow measured_row() {
  SummaryRow row;
  row.photo = "a.jpg";
  row.photo_sha256 = "00ff";
  row.taken = "2026-03-14T10:22:05";
  row.state = FaceState::wet;
  row.figures = made_figures();
  return row;
}

SummaryRow failed_row() {
  SummaryRow row;
  row.photo = "b.jpg";
  row.reason = "b.jpg: no scale bar found in the photo; lay the bar flat beside the core";
  return row;
}

struct DecimalComma : std::numpunct<char> {
  [[nodiscard]] char do_decimal_point() const override { return ','; }
  [[nodiscard]] char do_thousands_sep() const override { return '.'; }
  [[nodiscard]] std::string do_grouping() const override { return "\3"; }
};

std::string first_line(const std::string& csv) { return csv.substr(0, csv.find("\r\n")); }

}  // namespace

TEST_CASE("tables: headers are the contract's columns, in its order", "[report]") {
  CHECK(first_line(summary_csv({})) == kSummaryHeader);
  CHECK(first_line(spots_csv(FaceMeasurement{})) == kSpotsHeader);
  CHECK(first_line(sizes_csv(FaceMeasurement{})) == kSizesHeader);
}

TEST_CASE("tables: each row has as many cells as the header", "[report]") {
  for (const auto& csv :
       {summary_csv({measured_row(), failed_row()}), spots_csv(made_figures()), sizes_csv(made_figures())})
    for (const Record& record : read_csv(csv)) CHECK(record.size() == read_csv(csv).at(0).size());
}

TEST_CASE("tables: figures of a measured photo stand in their columns", "[report]") {
  const auto records = read_csv(summary_csv({measured_row()}));
  CHECK(cell(records, 1, "state") == "wet");
  CHECK(cell(records, 1, "status") == "ok");
  CHECK(cell(records, 1, "mm_per_px") == "0.0500000");
  // By hand: 100 x 1.959964 x 0.00005 / 0.05.
  CHECK(cell(records, 1, "scale_u95_pct") == "0.195996");
  CHECK(cell(records, 1, "ecd_d50_mm") == "1.2346");
  CHECK(cell(records, 1, "spot_count") == "3");
  CHECK(cell(records, 1, "measured_area_mm2") == "4070.50");
  // By hand: 1.959964 x 0.45.
  CHECK(cell(records, 1, "contrast_dL_u95") == "0.881984");
  CHECK(cell(records, 1, "contrast_dL") == "17.400");
  CHECK(cell(records, 1, "reason").empty());
}

TEST_CASE("tables: a spot's figures stand in their columns", "[report]") {
  const auto records = read_csv(spots_csv(made_figures()));
  REQUIRE(records.size() == 4);
  CHECK(cell(records, 1, "spot_id") == "1");
  CHECK(cell(records, 1, "x_mm") == "-1.0000");
  CHECK(cell(records, 1, "area_mm2") == "3.00000");
  CHECK(cell(records, 1, "mean_L") == "70.000");
  CHECK(cell(records, 1, "touches_rim") == "false");
  CHECK(cell(records, 3, "touches_rim") == "true");
}

TEST_CASE("tables: what was not measured is an empty cell", "[report]") {
  SummaryRow row = measured_row();
  row.figures->spot_L.reset();
  row.figures->contrast_dL.reset();
  row.figures->contrast_weber.reset();
  row.figures->ecd_d50.reset();
  row.taken.clear();
  const auto records = read_csv(summary_csv({row}));
  for (const auto* column :
       {"spot_L", "contrast_dL", "contrast_dL_u95", "contrast_weber", "ecd_d50_mm", "taken"})
    CHECK(cell(records, 1, column).empty());
  CHECK(cell(read_csv(spots_csv(made_figures())), 1, "peak_L").empty());
}

TEST_CASE("tables: a failed photo keeps its row with its reason and no figure", "[report]") {
  const auto records = read_csv(summary_csv({measured_row(), failed_row()}));
  CHECK(cell(records, 2, "photo") == "b.jpg");
  CHECK(cell(records, 2, "status") == "failed");
  CHECK(cell(records, 2, "reason") == failed_row().reason);
  const auto first = std::find(records[0].begin(), records[0].end(), "mm_per_px") - records[0].begin();
  for (std::size_t i = static_cast<std::size_t>(first); i + 1 < records[2].size(); ++i)
    CHECK(records[2][i].empty());
}

TEST_CASE("tables: cautions are named, joined by semicolons", "[report]") {
  SummaryRow row = measured_row();
  row.figures->cautions = {{CautionKind::light_uneven, "31 %"}, {CautionKind::strong_tilt, "tilt 9 deg"}};
  const auto records = read_csv(summary_csv({row}));
  CHECK(cell(records, 1, "status") == "caution");
  CHECK(cell(records, 1, "cautions") == "light_uneven;strong_tilt");
}

TEST_CASE("tables: names with commas, quotes and line breaks come back as they were", "[report]") {
  SummaryRow row = failed_row();
  row.photo = "wall \"C\", left\r\nsecond line.jpg";
  const std::string csv = summary_csv({row});
  CHECK(csv.find("\"wall \"\"C\"\", left\r\nsecond line.jpg\"") != std::string::npos);
  CHECK(cell(read_csv(csv), 1, "photo") == row.photo);
}

TEST_CASE("tables: the decimal point is a point in a locale of decimal commas", "[report]") {
  const std::string before = summary_csv({measured_row()});
  const auto before_json = summary_json({measured_row()});
  const std::locale old = std::locale::global(std::locale(std::locale::classic(), new DecimalComma));
  const char* named = std::setlocale(LC_NUMERIC, "de_DE.UTF-8");  // absent on many machines; then C++'s alone
  INFO("C locale: " << (named != nullptr ? named : "unchanged"));
  const std::string during = summary_csv({measured_row()});
  const auto during_json = summary_json({measured_row()});
  std::locale::global(old);
  std::setlocale(LC_NUMERIC, "C");
  CHECK(during == before);
  CHECK(during_json == before_json);
}

TEST_CASE("tables: the JSON summary has the same columns, numbers as numbers, null for empty", "[report]") {
  const auto list = nlohmann::ordered_json::parse(summary_json({measured_row(), failed_row()}));
  REQUIRE(list.size() == 2);
  std::string keys;
  for (const auto& [key, value] : list[0].items()) keys += (keys.empty() ? "" : ",") + key;
  CHECK(keys == kSummaryHeader);
  CHECK(list[0]["area_fraction_pct"].is_number());
  CHECK(list[0]["area_fraction_pct"] == 5.0);
  CHECK(list[0]["spot_count"].is_number_integer());
  CHECK(list[0]["photo_sha256"] == "00ff");
  CHECK(list[0]["reason"].is_null());
  CHECK(list[1]["spot_count"].is_null());
  CHECK(list[1]["status"] == "failed");
}

TEST_CASE("number text: never a negative zero, a power of ten, or a number that is none", "[report]") {
  CHECK(fixed(-0.00001, 3) == "0.000");
  CHECK(fixed(-0.001, 3) == "-0.001");
  CHECK(significant(-0.0, 6) == "0");
  CHECK(significant(1234567.8, 6) == "1234568");
  CHECK(significant(0.000012345678, 6) == "0.000012346");
  CHECK(significant(123.456789, 6) == "123.457");
  CHECK(fixed(std::nan(""), 2).empty());
  CHECK(significant(std::numeric_limits<double>::infinity(), 2).empty());
}

TEST_CASE("number text: a reading has the digits that its u95 has", "[report]") {
  CHECK(reading(6.4234, 0.3123).value == "6.42");
  CHECK(reading(6.4234, 0.3123).u95 == "0.31");
  CHECK(reading(1234.4, 56.0).value == "1234");
  CHECK(reading(6.4234, 0.0).u95.empty());
}

// The worked example of mean_over_fields (tests/statistics), ten fields of 8 12 10 6 14 10 9 11 13 7 %,
// computed by a separate program for the formulas of ASTM E562: mean 10, s 2.58199, interval 1.84704,
// relative accuracy 18.4704 %.
TEST_CASE("faces.csv holds the mean over the measured faces as ASTM E562 has it for fields", "[report]") {
  std::vector<SummaryRow> rows;
  for (const double fraction_pct : {8.0, 12.0, 10.0, 6.0, 14.0, 10.0, 9.0, 11.0, 13.0, 7.0}) {
    SummaryRow row;
    row.photo_sha256 = fmt::format("{}", rows.size());
    row.figures = made_figures();
    row.figures->area_fraction.value = Quantity<struct PercentUnit>{fraction_pct};
    rows.push_back(row);
    rows.emplace_back();  // a failed photo
  }
  const auto mean = mean_over_faces(rows);
  REQUIRE(mean);
  CHECK(faces_csv(*mean) ==
        "faces,area_fraction_mean_pct,area_fraction_sd_pct,area_fraction_u95_pct,relative_accuracy_pct\r\n"
        "10,10.0000,2.58199,1.84704,18.4704\r\n");
}

TEST_CASE("faces.csv: one face is no mean, and a mean of nothing has no relative accuracy", "[report]") {
  SummaryRow face;
  face.figures = made_figures();
  CHECK(!mean_over_faces({face, SummaryRow{}}));
  face.figures->area_fraction.value = Quantity<struct PercentUnit>{0.0};
  SummaryRow another = face;
  another.photo_sha256 = "another";
  const auto mean = mean_over_faces({face, another});
  REQUIRE(mean);
  CHECK(faces_csv(*mean).find("\r\n2,0,0,0,\r\n") != std::string::npos);
}

TEST_CASE("faces.csv: a photo that is given twice counts once", "[report]") {
  SummaryRow face, another;
  face.photo_sha256 = "00ff";
  another.photo_sha256 = "11ff";
  face.figures = another.figures = made_figures();
  CHECK(!mean_over_faces({face, face}));
  CHECK(mean_over_faces({face, another, face}).value().faces == 2);
}
