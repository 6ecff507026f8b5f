#include "corefleck/lists.hpp"

#include <catch2/catch.hpp>

#include <string>
#include <vector>

using namespace corefleck;

namespace {

using Table = std::vector<std::vector<std::string>>;

Table texts(std::string_view csv) {
  const auto cells = csv_cells(csv);
  REQUIRE(cells);
  Table table;
  for (const auto& row : *cells) {
    table.emplace_back();
    for (const ListCell& cell : row) table.back().push_back(cell.text);
  }
  return table;
}

/// The only fault, as "line:column".
std::string place_of_fault(std::string_view csv) {
  const auto cells = csv_cells(csv);
  REQUIRE(!cells);
  REQUIRE(cells.error().size() == 1);
  CHECK(!cells.error()[0].hint.empty());
  return std::to_string(cells.error()[0].line) + ":" + std::to_string(cells.error()[0].column);
}

}  // namespace

// The examples of RFC 4180, section 2, rules 1 to 7, as printed.
TEST_CASE("csv: the examples of RFC 4180 are read as they are meant", "[lists]") {
  const Table two{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}};
  CHECK(texts("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n") == two);
  CHECK(texts("aaa,bbb,ccc\r\nzzz,yyy,xxx") == two);
  CHECK(texts("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx") == two);
  CHECK(texts("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx") ==
        Table{{"aaa", "b\r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}});
  CHECK(texts("\"aaa\",\"b\"\"bb\",\"ccc\"") == Table{{"aaa", "b\"bb", "ccc"}});
}

TEST_CASE("csv: line ends of every system, a byte order mark and empty cells do", "[lists]") {
  const Table two{{"a", "b"}, {"c", ""}};
  CHECK(texts("a,b\nc,\n") == two);
  CHECK(texts("a,b\rc,\r") == two);
  CHECK(texts("\xEF\xBB\xBF"
              "a,b\r\nc,") == two);
  CHECK(texts("\xEF\xBB\xBF\"a\",b\r\nc,\"\"") == two);
  CHECK(texts("") == Table{});
  CHECK(texts("a\n\nb") == Table{{"a"}, {""}, {"b"}});
  CHECK(texts("\"a,b\",\"\"\"\"") == Table{{"a,b", "\""}});
  CHECK(texts(" a ,\t b\n\" c \",d") == Table{{"a", "b"}, {"c", "d"}});
  CHECK(texts("caf\xC3\xA9,\xE6\xB0\xB4") == Table{{"caf\xC3\xA9", "\xE6\xB0\xB4"}});
}

TEST_CASE("csv: each cell knows its line and column, line breaks in quotes counted", "[lists]") {
  const auto cells = csv_cells("a,b\r\n\"c\r\nd\nd\",e\r\nf,g");
  REQUIRE(cells);
  REQUIRE(cells->size() == 3);
  CHECK((*cells)[1][0].line == 2);
  CHECK((*cells)[1][1].line == 4);
  CHECK((*cells)[1][1].column == 2);
  CHECK((*cells)[2][0].line == 5);
}

TEST_CASE("csv: what RFC 4180 does not allow is refused with its place", "[lists]") {
  CHECK(place_of_fault("a,b\nc,d\"e\n") == "2:2");
  CHECK(place_of_fault("a,b\n\"c\"d,e\n") == "2:1");
  CHECK(place_of_fault("a,\"b\nc,d\n") == "1:2");
  CHECK(place_of_fault("a,b\nc,caf\xE9\n") == "2:0");
  CHECK(place_of_fault(std::string("a\0,\0b\0", 6)) == "0:0");
}

TEST_CASE("csv: all faults are told at once", "[lists]") {
  const auto cells = csv_cells("a,b\nc\"c,d\ne,f\n\"g\"g,h\n");
  REQUIRE(!cells);
  REQUIRE(cells.error().size() == 2);
  CHECK(cells.error()[0].line == 2);
  CHECK(cells.error()[1].line == 4);
}
