#include "cli/program.hpp"

#include <catch2/catch.hpp>
#include <toml++/toml.h>

#include <set>

// Reference data that users copy must at least be whole and possible.

using namespace corefleck::testing;

namespace {

double number(const toml::table& item, std::string_view key) {
  INFO(key);
  const auto value = item[key].value<double>();
  REQUIRE(value.has_value());
  return *value;
}

void check_item(const toml::table& item) {
  REQUIRE(item["name"].is_string());
  REQUIRE(item["source"].is_string());
  CHECK(!item["source"].value_or(std::string()).empty());
  const std::string kind = item["kind"].value_or(std::string());
  if (kind == "grey_card") {
    CHECK(number(item, "reflectance") > 0.0);
    CHECK(number(item, "reflectance") <= 1.0);
    CHECK(number(item, "tolerance") > 0.0);
  } else {
    REQUIRE(kind == "scale_bar");
    CHECK(number(item, "length_mm") > 0.0);
    CHECK(number(item, "blocks") >= 2.0);
    CHECK(number(item, "tolerance_mm") > 0.0);
  }
}

}  // namespace

TEST_CASE("every file in calib/ is whole, possible, and says its source", "[calib]") {
  std::set<std::string> kinds;
  for (const auto& entry : fs::directory_iterator(COREFLECK_CALIB)) {
    INFO(entry.path().filename().string());
    const toml::table item = toml::parse_file(entry.path().string());
    check_item(item);
    kinds.insert(item["kind"].value_or(std::string()));
  }
  CHECK(kinds == std::set<std::string>{"grey_card", "scale_bar"});
}
