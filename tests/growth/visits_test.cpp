#include "corefleck/visits.hpp"

#include <catch2/catch.hpp>

#include <string>
#include <vector>

using namespace corefleck;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

std::vector<ListFault> faults(const std::string& rows, const std::string& header = "core,date,photo") {
  const auto visits = visits_of(header + "\n" + rows);
  REQUIRE(!visits);
  for (const ListFault& fault : visits.error()) CHECK(!fault.hint.empty());
  return visits.error();
}

void check_one_fault(const std::string& rows, int line, int column, const std::string& what) {
  CAPTURE(rows);
  const auto found = faults(rows);
  REQUIRE(found.size() == 1);
  CHECK(found[0].line == line);
  CHECK(found[0].column == column);
  CHECK_THAT(found[0].what, Contains(what));
}

}  // namespace

TEST_CASE("visits: cores in the order first named, each core's visits by date", "[growth]") {
  const auto cores = visits_of(
      "core,date,photo,state,note\r\n"
      "B,2026-03-14,b2.jpg,wet,\"after rain, early\"\r\n"
      "A,2025-12-01,a1.jpg,,\r\n"
      "B,2025-09-30,b1.jpg,dry,\r\n"
      "A,2026-06-02,../a2.jpg,dry,\r\n");
  REQUIRE(cores);
  REQUIRE(cores->size() == 2);
  CHECK((*cores)[0].core == "B");
  REQUIRE((*cores)[0].visits.size() == 2);
  CHECK((*cores)[0].visits[0].photo == "b1.jpg");
  CHECK((*cores)[0].visits[0].state == FaceState::dry);
  CHECK((*cores)[0].visits[1].note == "after rain, early");
  CHECK(text_of((*cores)[0].visits[1].date) == "2026-03-14");
  CHECK(!(*cores)[1].visits[0].state);
  CHECK((*cores)[1].visits[1].photo == "../a2.jpg");
  CHECK((*cores)[1].visits[1].photo_cell.line == 5);
  CHECK((*cores)[1].visits[1].photo_cell.column == 3);
}

TEST_CASE("visits: what is wrong is said with line and column", "[growth]") {
  const std::string good = "A,2025-12-01,a1.jpg\n";
  check_one_fault(good + "A,14.03.2026,a2.jpg\n", 3, 2, "\"14.03.2026\" is no date");
  check_one_fault(good + "A,2026-02-30,a2.jpg\n", 3, 2, "\"2026-02-30\" is no date");
  check_one_fault(good + "A,2026-2-3,a2.jpg\n", 3, 2, "no date");
  check_one_fault(good + "A,2025-12-01,a2.jpg\n", 3, 2, "has a visit of 2025-12-01 already, line 2");
  check_one_fault(good + "A,2026-01-05,./a1.jpg\n", 3, 3, "listed already, line 2");
  check_one_fault(good + "A,2026-01-05,\n", 3, 3, "no photo");
  check_one_fault(good + "A,,a2.jpg\n", 3, 2, "no date");
  check_one_fault(good + "A,2026-01-05,a2.jpg\na,2026-01-05,a3.jpg\n", 4, 1, "core \"a\" has one visit only");
  CHECK(faults(good, "core,date,picture")[0].column == 3);
  const auto state = faults("A,2025-12-01,a1.jpg,damp\nA,2026-12-01,a2.jpg,\n", "core,date,photo,state");
  REQUIRE(state.size() == 1);
  CHECK(state[0].column == 4);
}

TEST_CASE("visits: several faults are told at once, by line", "[growth]") {
  const auto found = faults("B,2026-01-01,b.jpg\nA,x,a1.jpg\nA,y,a1.jpg\n");
  REQUIRE(found.size() == 4);
  CHECK(found[0].line == 2);
  CHECK(found[1].line == 3);
  CHECK(found[3].line == 4);
}

TEST_CASE("dates: days of the calendar, and years of 365.25 days between them", "[growth]") {
  CHECK(date_of("2024-02-29"));
  for (const char* none : {"2025-02-29",
                           "2025-13-01",
                           "2025-00-10",
                           "2025-01-00",
                           "25-01-01",
                           "2025/01/01",
                           "2025-1-011",
                           "+025-01-01",
                           "2025-01-1 ",
                           ""})
    CHECK(!date_of(none));
  CHECK(text_of(*date_of("0999-01-02")) == "0999-01-02");
  // By hand: 2023-01-01 to 2027-01-01 has one 29 February, 1461 days.
  CHECK(years_between(*date_of("2023-01-01"), *date_of("2027-01-01")) == 4.0);
  CHECK_THAT(years_between(*date_of("2026-03-01"), *date_of("2026-02-28")), WithinAbs(-1.0 / 365.25, 1e-15));
}
