#include "corefleck/caution.hpp"

#include <catch2/catch.hpp>

#include <set>
#include <string>
#include <utility>
#include <vector>

using namespace corefleck;

namespace {

// Scripts filter the `cautions` column by these names: one that is written here stays.
const std::vector<std::pair<CautionKind, std::string>> kNames{
    {CautionKind::card_clipped, "card_clipped"},
    {CautionKind::card_too_dark, "card_too_dark"},
    {CautionKind::card_uneven, "card_uneven"},
    {CautionKind::card_small, "card_small"},
    {CautionKind::no_card, "no_card"},
    {CautionKind::face_clipped, "face_clipped"},
    {CautionKind::light_uneven, "light_uneven"},
    {CautionKind::strong_tilt, "strong_tilt"},
    {CautionKind::out_of_focus, "out_of_focus"},
    {CautionKind::spots_barely_resolved, "spots_barely_resolved"},
    {CautionKind::diameter_off_nominal, "diameter_off_nominal"},
    {CautionKind::few_bar_edges, "few_bar_edges"},
    {CautionKind::bar_irregular, "bar_irregular"},
    {CautionKind::much_glare, "much_glare"},
    {CautionKind::strong_cast, "strong_cast"},
    {CautionKind::face_cut_by_frame, "face_cut_by_frame"},
    {CautionKind::rim_incomplete, "rim_incomplete"},
    {CautionKind::faint_regions, "faint_regions"},
    {CautionKind::edited, "edited"},
    {CautionKind::card_unlike_bar, "card_unlike_bar"},
    {CautionKind::card_lit_otherwise, "card_lit_otherwise"},
    {CautionKind::reflections_possible, "reflections_possible"},
};

}  // namespace

TEST_CASE("caution: every kind has its own name, and the texts stand in the order of the kinds",
          "[foundation]") {
  for (std::size_t i = 0; i < kNames.size(); ++i) {
    CHECK(static_cast<std::size_t>(kNames[i].first) == i);
    CHECK(name(kNames[i].first) == kNames[i].second);
  }
}

TEST_CASE("caution: every kind has a meaning and a remedy of its own", "[foundation]") {
  std::set<std::string_view> meanings;
  for (const auto& [kind, text] : kNames) {
    INFO(text);
    CHECK(meaning(kind).size() > 10);
    CHECK(remedy(kind).size() > 10);
    CHECK(meaning(kind) != remedy(kind));
    CHECK(meanings.insert(meaning(kind)).second);
  }
}

TEST_CASE("caution: texts join into one line, so they neither end in a full stop nor break", "[foundation]") {
  for (const auto& [kind, text] : kNames) {
    INFO(text);
    for (const auto sentence : {meaning(kind), remedy(kind)}) {
      CHECK(sentence.back() != '.');
      CHECK(sentence.find('\n') == std::string_view::npos);
    }
    // The names are joined by ';' in a CSV cell.
    CHECK(name(kind).find_first_not_of("abcdefghijklmnopqrstuvwxyz_") == std::string_view::npos);
  }
}
