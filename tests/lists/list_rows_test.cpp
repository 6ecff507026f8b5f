#include "corefleck/lists.hpp"

#include <catch2/catch.hpp>

#include <array>
#include <string>
#include <vector>

using namespace corefleck;
using Catch::Matchers::Contains;

namespace {

constexpr std::array kColumns{ListColumn{"core"}, ListColumn{"mass_g"}, ListColumn{"note", false}};

std::vector<ListFault> faults(std::string_view csv) {
  const auto rows = list_rows(csv, kColumns);
  REQUIRE(!rows);
  for (const ListFault& fault : rows.error()) CHECK(!fault.hint.empty());
  return rows.error();
}

void check_one_fault(std::string_view csv, int line, int column, const std::string& what) {
  CAPTURE(csv);
  const auto found = faults(csv);
  REQUIRE(found.size() == 1);
  CHECK(found[0].line == line);
  CHECK(found[0].column == column);
  CHECK_THAT(found[0].what, Contains(what));
}

}  // namespace

TEST_CASE("list: cells come in the order asked for, whatever the order in the file", "[lists]") {
  const auto rows = list_rows("note,core,mass_g\nwet,A1,12.5\n\n,,\n,B2,7\n", kColumns);
  REQUIRE(rows);
  REQUIRE(rows->size() == 2);
  CHECK((*rows)[0][0].text == "A1");
  CHECK((*rows)[0][0].column == 2);
  CHECK((*rows)[0][1].text == "12.5");
  CHECK((*rows)[0][2].text == "wet");
  CHECK((*rows)[1][1].line == 5);
}

TEST_CASE("list: an optional column may be missing; its cells are empty and have no column", "[lists]") {
  const auto rows = list_rows("core,mass_g\nA1,12.5\n", kColumns);
  REQUIRE(rows);
  CHECK((*rows)[0][2].text.empty());
  CHECK((*rows)[0][2].column == 0);
}

TEST_CASE("list: what is wrong is said with line and column", "[lists]") {
  check_one_fault("core,mass_g,colour\nA1,12.5,grey\n", 1, 3, "unknown column \"colour\"");
  check_one_fault("core,note\nA1,x\n", 1, 0, "no column \"mass_g\"");
  check_one_fault("core,mass_g,core\nA1,12.5,A2\n", 1, 3, "twice");
  check_one_fault("core,mass_g\nA1,12.5\nB2\n", 3, 0, "1 cell, where the header has 2");
  check_one_fault("core,mass_g\nA1,12,5\n", 2, 0, "3 cells, where the header has 2");
  check_one_fault("core,mass_g\nA1,12\n,5\n", 3, 1, "no core");
  check_one_fault("core;mass_g\nA1;12,5\n", 1, 0, "not parted by commas");
  check_one_fault("core\tmass_g\nA1\t12\n", 1, 0, "not parted by commas");
  check_one_fault("core,mass_g\n", 0, 0, "no line below");
  check_one_fault("\n\n", 0, 0, "empty");
  check_one_fault("core,mass_g\nA1,1\"2\n", 2, 2, "quote");
}

TEST_CASE("list: faults of several rows are told at once", "[lists]") {
  const auto found = faults("core,mass_g\n,1\nB\nC,\n");
  REQUIRE(found.size() == 3);
  CHECK(found[0].line == 2);
  CHECK(found[1].line == 3);
  CHECK(found[2].line == 4);
  CHECK(found[2].column == 2);
}

TEST_CASE("list: a fault as an error names file, line and column", "[lists]") {
  const MeasureError error = error_of({3, 2, "no date", "fill the cell"}, "site/visits.csv");
  CHECK(error.code == ErrorCode::bad_list);
  CHECK(error.what == "site/visits.csv: line 3, column 2: no date");
  CHECK(error.hint == "fill the cell");
  CHECK(error_of({0, 0, "is empty", ""}, "v.csv").what == "v.csv: is empty");
}
