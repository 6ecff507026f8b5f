#include "all_cautions.hpp"

#include <catch2/catch.hpp>

#include <set>

using namespace corefleck;
using namespace corefleck::testing;

TEST_CASE("caution: every kind has its stable name, so the texts stand in the order of the kinds",
          "[foundation]") {
  CHECK(all_cautions().size() >= 21);
  for (const CautionKind kind : all_cautions()) CHECK(name(kind) == stable_name(kind));
}

TEST_CASE("caution: every kind has a meaning and a remedy of its own", "[foundation]") {
  std::set<std::string_view> meanings;
  for (const CautionKind kind : all_cautions()) {
    INFO(stable_name(kind));
    CHECK(meaning(kind).size() > 10);
    CHECK(remedy(kind).size() > 10);
    CHECK(meaning(kind) != remedy(kind));
    CHECK(meanings.insert(meaning(kind)).second);
  }
}

TEST_CASE("caution: texts join into one line, so they neither end in a full stop nor break", "[foundation]") {
  for (const CautionKind kind : all_cautions()) {
    INFO(stable_name(kind));
    for (const auto sentence : {meaning(kind), remedy(kind)}) {
      CHECK(sentence.back() != '.');
      CHECK(sentence.find('\n') == std::string_view::npos);
    }
    // The names are joined by ';' in a CSV cell.
    CHECK(name(kind).find_first_not_of("abcdefghijklmnopqrstuvwxyz_") == std::string_view::npos);
  }
}
