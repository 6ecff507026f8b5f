#include "corefleck/pair_report.hpp"

#include "pair_plates.hpp"
#include "report/made_face.hpp"
#include "report/made_pair.hpp"
#include "report/scratch_folder.hpp"

#include <catch2/catch.hpp>

#include <fstream>

using namespace corefleck;
using namespace corefleck::testing;

namespace {

ChangesReport report_of(const MeasuredFace& face) {
  ChangesReport report{row_of(face, "a.jpg"), row_of(face, "b, late.jpg"), {}};
  report.changes.registration.rotation_deg = -12.5;
  report.changes.registration.residual_mm = 0.02;
  report.changes.changes = {change(ChangeKind::fresh, {}, {1}),
                            change(ChangeKind::grown, {2}, {2}),
                            change(ChangeKind::gone, {3}, {}),
                            change(ChangeKind::merged, {4, 5}, {4}),
                            change(ChangeKind::unclear, {}, {5})};
  return report;
}

std::string first_line(const std::string& csv) { return csv.substr(0, csv.find("\r\n")); }

bool is_png(const std::string& bytes) { return bytes.compare(0, 8, "\x89PNG\r\n\x1a\n") == 0; }

}  // namespace

// Column names of the output contract, in its order; what was added stands after them.
TEST_CASE("pair tables: begin with the contract's columns", "[report]") {
  const MeasuredFace face = made_face({});
  const ChangesReport report = report_of(face);
  CHECK_THAT(first_line(comparison_csv(report)),
             Catch::Matchers::StartsWith("before_photo,after_photo,rotation_deg,registration_rms_mm,common_"
                                         "area_mm2,area_fraction_before_pct,"
                                         "area_fraction_after_pct,area_fraction_change_pct,area_fraction_"
                                         "change_u95_pct,count_before,count_after,"
                                         "new,grown,steady,shrunk,gone,merged,split"));
  CHECK(first_line(changes_csv(report.changes)) ==
        "change,before_ids,after_ids,x_mm,y_mm,area_before_mm2,area_after_mm2,area_change_mm2,area_change_"
        "u95_mm2");
  const StatesReport states{report.before, report.after, {}};
  CHECK_THAT(first_line(wetdry_csv(states)),
             Catch::Matchers::StartsWith(
                 "dry_photo,wet_photo,rotation_deg,registration_rms_mm,matrix_L_dry,matrix_L_wet,matrix_"
                 "darkening_dL,"
                 "spot_L_dry,spot_L_wet,contrast_dL_dry,contrast_dL_wet,contrast_gain_dL,contrast_gain_u95,"
                 "contrast_weber_dry,contrast_weber_wet,spots_both,spots_dry_only,spots_wet_only"));
}

TEST_CASE("pair tables: several ids are joined by semicolons, and what is not there is empty", "[report]") {
  const std::string csv = changes_csv(report_of(made_face({})).changes);
  CHECK_THAT(csv,
             Catch::Matchers::Contains("merged,4;5,4,0.0000,0.0000,4.00000,6.50000,2.50000,0.195996\r\n"));
  CHECK_THAT(csv, Catch::Matchers::Contains("new,,1,0.0000,0.0000,,6.50000,2.50000,0.195996\r\n"));
}

TEST_CASE("pair tables: a name with a comma is quoted, counts are those of the rows", "[report]") {
  const std::string csv = comparison_csv(report_of(made_face({})));
  CHECK_THAT(csv, Catch::Matchers::Contains("a.jpg,\"b, late.jpg\",-12.500,0.0200"));
  CHECK_THAT(csv, Catch::Matchers::Contains(",1,1,0,0,1,1,0,1,0,"));
}

TEST_CASE("pair plates: both are pictures no longer than A4 beside their width", "[report]") {
  const MeasuredFace face = made_face({.pitch_mm = 0.1});
  const LaidPair laid = laid_pair(face, face, {});
  const auto changes = changes_png(report_of(face), laid, made_context());
  const auto states = wetdry_png({row_of(face, "a.jpg"), row_of(face, "b.jpg"), {}}, laid, made_context());
  REQUIRE((changes && states));
  for (const std::string* png : {&*changes, &*states}) {
    REQUIRE(is_png(*png));
    // IHDR (PNG specification, 11.2.2): width and height, most significant byte first, from byte 16.
    const auto number = [&](std::size_t at) {
      int value = 0;
      for (std::size_t i = 0; i < 4; ++i) value = value << 8 | static_cast<unsigned char>((*png)[at + i]);
      return value;
    };
    CHECK(number(16) == 2000);
    CHECK(number(20) > 1500);
    CHECK(number(20) < 2830);
  }
}

TEST_CASE("pair files: a folder that cannot be written to is an error, and nothing lies there", "[report]") {
  const ScratchFolder folder;
  const auto place = folder.path() / "file";
  std::ofstream(place) << "not a folder";
  const MeasuredFace face = made_face({.pitch_mm = 0.2});
  const PairedPhoto photo{face, made_context(), "core"};
  const auto written = write_changes(report_of(face), photo, photo, place / "out");
  REQUIRE(!written);
  CHECK(written.error().code == ErrorCode::cannot_write);
}
