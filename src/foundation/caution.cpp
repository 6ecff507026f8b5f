#include "corefleck/caution.hpp"

#include <array>
#include <cassert>

namespace corefleck {
namespace {

struct CautionText {
  CautionKind kind;
  std::string_view name;
  std::string_view meaning;
  std::string_view remedy;
};

// Every text about a caution stands here once, in the order of the enum.
constexpr std::array kTexts{
    CautionText{CautionKind::card_clipped,
                "card_clipped",
                "the grey card is overexposed, so every lightness is too low",
                "photograph again with less exposure"},
    CautionText{CautionKind::card_too_dark,
                "card_too_dark",
                "the grey card is so dark in the photo that noise and rounding limit the lightness figures",
                "photograph again with more exposure"},
    CautionText{CautionKind::card_uneven,
                "card_uneven",
                "the light changes across the grey card",
                "lay the card flat, close to the core, out of shadow and reflection"},
    CautionText{CautionKind::card_small,
                "card_small",
                "few pixels of the grey card could be used",
                "move closer, or use a larger card"},
    CautionText{CautionKind::no_card,
                "no_card",
                "measured without a grey card, so there is no absolute lightness",
                "lay a grey card beside the core and drop --no-card"},
    CautionText{CautionKind::face_clipped,
                "face_clipped",
                "parts of the face are overexposed, so spots there are measured too dark and may merge",
                "photograph again with less exposure"},
    CautionText{CautionKind::light_uneven,
                "light_uneven",
                "the light changes strongly across the face",
                "light the core from two sides, or give --flat-frame with a photo of a uniform sheet"},
    CautionText{CautionKind::strong_tilt,
                "strong_tilt",
                "the camera looked at the face from a slant",
                "hold the camera square to the face, 5 degrees or less"},
    CautionText{CautionKind::out_of_focus,
                "out_of_focus",
                "edges are blurred over much of the smallest spot's width",
                "focus on the face, hold the camera still or rest it on a stand"},
    CautionText{CautionKind::spots_barely_resolved,
                "spots_barely_resolved",
                "the smallest reported spot is less than 6 pixels across",
                "move closer, or raise --min-spot-mm"},
    CautionText{CautionKind::diameter_off_nominal,
                "diameter_off_nominal",
                "the measured diameter differs from the nominal one by more than 2 %",
                "check --core-diameter-mm, --bar-length-mm and that the bar lies level with the face"},
    CautionText{CautionKind::few_bar_edges,
                "few_bar_edges",
                "few edges of the scale bar could be used",
                "lay the whole bar in the frame, flat, clean and out of reflection"},
    CautionText{CautionKind::bar_irregular,
                "bar_irregular",
                "the scale bar's blocks are not equally long in the photo",
                "use a flat, undamaged bar and check --bar-blocks"},
    CautionText{CautionKind::much_glare,
                "much_glare",
                "glare hides much of the face, or more of it than the spots cover",
                "move the lamp or the camera until the reflections leave the face"},
    CautionText{CautionKind::strong_cast,
                "strong_cast",
                "the light's colour is too far from white to be neutralised",
                "use daylight or a white lamp, or set the camera's white balance"},
    CautionText{CautionKind::face_cut_by_frame,
                "face_cut_by_frame",
                "part of the face lies outside the photo",
                "photograph again with the whole face in the frame"},
    CautionText{CautionKind::rim_incomplete,
                "rim_incomplete",
                "part of the core's rim is missing, hidden or in doubt, or light regions along it may be "
                "bench or fracture",
                "lay cards and bars clear of the rim; a broken rim is measured by what is left; exclude "
                "bench or fracture taken for spots by --edits"},
    CautionText{
        CautionKind::faint_regions,
        "faint_regions",
        "some light regions are hardly lighter than the matrix's own mottle and were left out",
        "look at them in the overlay; photograph the face wet, evenly lit and closer to part them from it"},
    CautionText{CautionKind::edited,
                "edited",
                "a person changed which spots and areas count",
                "look at each edit, its reason and the figures without edits in report.html or record.json"},
    CautionText{CautionKind::card_unlike_bar,
                "card_unlike_bar",
                "the bar's white is too dark or too light for a card of the stated reflectance, so every "
                "lightness is doubtful",
                "check --card-reflectance; lay card, bar and core in the same light"},
    CautionText{
        CautionKind::card_lit_otherwise,
        "card_lit_otherwise",
        "the face seems to lie in far more or far less light than the grey card, so every lightness leans "
        "on how the light was carried from one to the other",
        "lay the card right beside the core, both clear of shadows"},
    CautionText{CautionKind::reflections_possible,
                "reflections_possible",
                "ragged light regions that may be reflections of the lamp hold much of the spots' area",
                "move the lamp or the camera and photograph again: reflections move, spots stay; or exclude "
                "them by --edits"},
};

const CautionText& text(CautionKind kind) {
  const auto index = static_cast<std::size_t>(kind);
  assert(index < kTexts.size() && kTexts[index].kind == kind);
  return kTexts[index];
}

}  // namespace

std::string_view name(CautionKind kind) { return text(kind).name; }
std::string_view meaning(CautionKind kind) { return text(kind).meaning; }
std::string_view remedy(CautionKind kind) { return text(kind).remedy; }

}  // namespace corefleck
