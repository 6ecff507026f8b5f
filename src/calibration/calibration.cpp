#include "corefleck/calibration.hpp"

#include "card_light.hpp"
#include "face_finder.hpp"
#include "given_places.hpp"
#include "grey_card.hpp"
#include "light_field.hpp"
#include "overview.hpp"
#include "pose.hpp"
#include "rectify.hpp"
#include "rim_surroundings.hpp"
#include "scale_bar.hpp"

#include "corefleck/colorimetry.hpp"

#include <fmt/format.h>
#include <opencv2/core/utility.hpp>

#include <algorithm>
#include <cmath>

namespace corefleck {
namespace {

constexpr double kStrongTilt_deg = 5.0;
constexpr double kUnevenLight_pct = 25.0;
constexpr double kSmallCard_px2 = 900.0;
constexpr double kOutOfRound = 8.0;  // standard deviations of a core's roundness
constexpr double kStrongCast = 2.5;  // largest over smallest channel of the grey card
// White print reflects 0.7 to 0.9 (common practice, no source). Twice or half that takes a card of another
// reflectance than the stated one, or other light on the card than on the bar.
constexpr double kDarkestWhite = 0.4, kLightestWhite = 1.7;
// A wide lens leaves 2 to 3 % at the frame's corner, a fisheye ten times that (common practice, no source).
// More than this is asked only by blocks that grow along their row.
constexpr double kStrongestBend = 0.05;
// A bevel or shadow along the rim has two edges, and where no light steps noise may be followed: a rim that
// is seen whole is none of them. Set on 233 photos of three renderers, with all three whose rim lay more than
// 0.6 % of the radius off beyond the limits; few of the others are.
constexpr double kRimSeenWhole_pct = 95.0;
constexpr double kMuchRing = 0.25, kMuchWithoutStep = 0.5;
constexpr double kRimMayBeOff = 0.035;  // of the radius: as far as a rim is looked for again
constexpr double kPixelsAcrossDetail = 12.0;
constexpr double kOtherLight = 1.5;  // times more, or less, on the face than on the card

double card_area_px(const GreyCard& card) {
  double twice = 0.0;
  for (std::size_t i = 0; i < 4; ++i) twice += card.corners[i].cross(card.corners[(i + 1) % 4]);
  return 0.5 * std::abs(twice);
}

void caution_about_card(const std::optional<GreyCard>& card, std::vector<Caution>& cautions) {
  if (!card) {
    cautions.push_back({CautionKind::no_card, ""});
    return;
  }
  if (card->clipped_pct > 0.5)
    cautions.push_back(
        {CautionKind::card_clipped, fmt::format("{:.1f} % of the card clips", card->clipped_pct)});
  const double level = luminance(card->level);
  if (level < 0.02)
    cautions.push_back(
        {CautionKind::card_too_dark, fmt::format("card at {:.1f} % of full scale", 100.0 * level)});
  if (card_area_px(*card) < kSmallCard_px2)
    cautions.push_back({CautionKind::card_small, fmt::format("{:.0f} px read", card_area_px(*card))});
  if (card->gradient_pct > 15.0)
    cautions.push_back(
        {CautionKind::card_uneven, fmt::format("{:.0f} % across the card", card->gradient_pct)});
  if (card->white_reflectance < kDarkestWhite || card->white_reflectance > kLightestWhite)
    cautions.push_back(
        {CautionKind::card_unlike_bar,
         fmt::format("the bar's white would reflect {:.0f} %", 100.0 * card->white_reflectance)});
  const double least = *std::min_element(card->level.begin(), card->level.end());
  const double most = *std::max_element(card->level.begin(), card->level.end());
  if (most > kStrongCast * std::max(least, 1e-6))
    cautions.push_back(
        {CautionKind::strong_cast,
         fmt::format("card's channels differ by a factor of {:.1f}", most / std::max(least, 1e-6))});
}

void caution_about_card_light(const CardLight& light, std::vector<Caution>& cautions) {
  const double ratio = light.face_over_card;
  if (ratio > kOtherLight || ratio < 1.0 / kOtherLight)
    cautions.push_back(
        {CautionKind::card_lit_otherwise, fmt::format("{:.2f} times the light on the card", ratio)});
}

void caution_about_bar(const ScaleBar& bar, double scatter_px, int blocks, std::vector<Caution>& cautions) {
  if (bar.used_edges() < std::max(4, blocks - 1))
    cautions.push_back(
        {CautionKind::few_bar_edges, fmt::format("{} of {} edges", bar.used_edges(), blocks + 1)});
  if (bar_spacing(bar, scatter_px, blocks) != BarSpacing::even)
    cautions.push_back({CautionKind::bar_irregular, fmt::format("edges scatter by {:.2f} px", scatter_px)});
}

void caution_about_face(const CalibratedFace& face,
                        const Photo& photo,
                        const CalibrationSettings& settings,
                        std::vector<Caution>& cautions) {
  if (face.pose.tilt_deg > kStrongTilt_deg)
    cautions.push_back({CautionKind::strong_tilt, fmt::format("tilt {:.1f} deg", face.pose.tilt_deg)});
  if (face.light.change_pct > kUnevenLight_pct)
    cautions.push_back(
        {CautionKind::light_uneven, fmt::format("{:.0f} % over the face", face.light.change_pct)});
  const FaceEllipse& e = face.ellipse;
  if (e.x - e.semi_major < -1.0 || e.y - e.semi_major < -1.0 || e.x + e.semi_major > photo.width_px() ||
      e.y + e.semi_major > photo.height_px())
    cautions.push_back({CautionKind::face_cut_by_frame, ""});
  if (e.rim_found_pct < 70.0)
    cautions.push_back(
        {CautionKind::rim_incomplete, fmt::format("{:.0f} % of the rim seen", e.rim_found_pct)});
  if (settings.core_diameter) {
    const double off = 100.0 * (2.0 * face.radius.number() / settings.core_diameter->number() - 1.0);
    if (std::abs(off) > 2.0)
      cautions.push_back({CautionKind::diameter_off_nominal,
                          fmt::format("measured {:.2f} mm, {:+.1f} %", 2.0 * face.radius.number(), off)});
  }
}

// Where the curve may be another than the rim it may be off, over that share of the turn, by as far as it was
// looked for, with equal probability; and a word is said.
void doubt_rim(const Photo& photo, CalibratedFace& face) {
  if (face.ellipse.rim_found_pct >= kRimSeenWhole_pct || face.ellipse.by_hand) return;
  const RimSurroundings seen = look_along_rim(photo, face.pose, face.radius);
  double share = 0.0;
  if (seen.ring > kMuchRing) share = seen.ring;
  if (seen.no_step > kMuchWithoutStep) share = std::max(share, seen.no_step);
  if (share == 0.0) return;
  face.radius_u_mm =
      std::hypot(face.radius_u_mm, share * kRimMayBeOff * face.radius.number() / std::sqrt(3.0));
  face.cautions.push_back(
      {CautionKind::rim_incomplete,
       seen.no_step > kMuchWithoutStep
           ? fmt::format("no step of light along {:.0f} % of the curve taken for the rim",
                         100.0 * seen.no_step)
           : fmt::format("a bevel or shadow along {:.0f} % of the rim, either edge of which may be it",
                         100.0 * seen.ring)});
}

// The circles' chords, row by row.
void mark_outside(CalibratedFace& face) {
  const int size = face.grid.size_px;
  const double rim = (face.radius / face.grid.pitch).number();
  const double inner = ((face.radius - face.rim_band) / face.grid.pitch).number();
  face.outside.create(size, size, CV_8UC1);
  const auto fill = [&](unsigned char* row, double radius, double dy, Outside value) {
    if (radius <= std::abs(dy)) return;
    const double half = std::sqrt(radius * radius - dy * dy);
    const int from = std::max(0, static_cast<int>(std::ceil(face.grid.centre_px - half)));
    const int to = std::min(size - 1, static_cast<int>(std::floor(face.grid.centre_px + half)));
    std::fill(row + from, row + to + 1, static_cast<unsigned char>(value));
  };
  cv::parallel_for_(cv::Range(0, size), [&](const cv::Range& rows) {
    for (int y = rows.start; y < rows.end; ++y) {
      unsigned char* row = face.outside.ptr(y);
      std::fill(row, row + size, static_cast<unsigned char>(Outside::beyond_rim));
      fill(row, rim, y - face.grid.centre_px, Outside::rim_band);
      fill(row, inner, y - face.grid.centre_px, Outside::no);
    }
  });
}

std::array<double, 3> gains_of(const std::optional<GreyCard>& card, double reflectance) {
  if (!card) return {1.0, 1.0, 1.0};
  std::array<double, 3> gains{};
  for (std::size_t c = 0; c < 3; ++c) gains[c] = reflectance / std::max(card->level[c], 1e-6);
  return gains;
}

Result<LightField> light_of(const CalibratedFace& face,
                            const FittedPose& fitted,
                            const Photo& photo,
                            const CalibrationSettings& settings) {
  if (!settings.flat_frame) return matrix_light(face);
  const Photo& flat = *settings.flat_frame;
  if (flat.width_px() != photo.width_px() || flat.height_px() != photo.height_px())
    return failure(ErrorCode::bad_setting,
                   fmt::format("the flat frame has {} x {} pixels, the photo {} x {}",
                               flat.width_px(),
                               flat.height_px(),
                               photo.width_px(),
                               photo.height_px()),
                   "photograph the sheet with the same camera, lens and orientation as the core");
  CalibratedFace sheet{};
  rectify(flat, fitted.pose, face.radius, face.grid.pitch, {1.0, 1.0, 1.0}, sheet);
  return flat_frame_light(face, sheet.luminance);
}

/// The bar with the card and the pose that it gave.
struct PlacedBar {
  FoundBar bar;
  std::optional<FoundCard> card;
  FittedPose fitted;
};

// Rows that widen from block to block pass for a bar in perspective until the tilt is known; many edges of
// them can force a tilt that makes them even, and a core out of round.
bool blocks_are_even(const FoundBar& bar, const FittedPose& fitted, const CalibrationSettings& settings) {
  return bar.bar.by_hand ||
         (bar_spacing(bar.bar, fitted.bar_scatter_px, settings.bar_blocks) != BarSpacing::uneven &&
          fitted.off_round < kOutOfRound && std::abs(fitted.pose.lens.at_corner) < kStrongestBend);
}

MmPerPx grid_pitch(MmPerPx photo, const CalibrationSettings& settings) {
  if (!settings.smallest_detail) return photo;
  return std::max(photo, MmPerPx{settings.smallest_detail->number() / kPixelsAcrossDetail});
}

// The most likely of the rows whose blocks are equally long in the plane of the face.
Result<PlacedBar> place_bar(const Photo& photo,
                            const Overview& overview,
                            const FoundFace& face,
                            const std::vector<FoundBar>& bars,
                            const CalibrationSettings& settings) {
  for (std::size_t i = 0; i < bars.size(); ++i) {
    Result<FoundCard> card = failure(ErrorCode::grey_card_not_found, "", "");
    if (!settings.no_card) card = find_grey_card(photo, overview, face.ellipse, bars[i], settings);
    const FoundCard* seen = card ? &*card : nullptr;
    const FittedPose fitted = fit_pose(photo, face, bars[i], seen, settings);
    if (!blocks_are_even(bars[i], fitted, settings)) continue;
    if (!card && !settings.no_card) return tl::make_unexpected(card.error());
    for (const std::size_t rival : rivals_of(bars, i, overview, settings.bar_blocks))
      if (blocks_are_even(bars[rival], fit_pose(photo, face, bars[rival], seen, settings), settings))
        return tl::make_unexpected(two_bars(bars[i], bars[rival]));
    return PlacedBar{bars[i], card ? std::optional(*card) : std::nullopt, fitted};
  }
  return tl::make_unexpected(uneven_blocks(bars.front().bar));
}

}  // namespace

Result<CalibratedFace> calibrate(const Photo& photo, const CalibrationSettings& settings) {
  if (auto inside = given_places_lie_in(photo, settings); !inside) return tl::make_unexpected(inside.error());
  const Overview overview = make_overview(photo);
  auto found_face = find_face(photo, overview, settings.core_at);
  if (!found_face) return tl::make_unexpected(found_face.error());
  auto bars = find_scale_bars(photo, overview, found_face->ellipse, settings);
  if (!bars) return tl::make_unexpected(bars.error());
  auto placed = place_bar(photo, overview, *found_face, *bars, settings);
  if (!placed) return tl::make_unexpected(placed.error());
  const FittedPose& fitted = placed->fitted;

  CalibratedFace face{};
  face.overview = overview.rgb;
  face.ellipse = found_face->ellipse;
  face.bar = placed->bar.bar;
  if (placed->card) face.card = placed->card->card;
  face.pose = fitted.pose;
  face.radius = Millimetres{fitted.radius_mm};
  face.radius_u_mm = fitted.radius_u_mm;
  face.rim_band = settings.rim_band;
  face.absolute_luminance = placed->card.has_value();
  if (face.radius.number() <= 1.5 * face.rim_band.number())
    return failure(ErrorCode::face_not_measurable,
                   fmt::format("the face's radius comes out as {:.1f} mm, hardly more than the rim band",
                               face.radius.number()),
                   "check --bar-length-mm, --bar-blocks and --rim-band-mm");
  rectify(photo,
          fitted.pose,
          face.radius,
          grid_pitch(face.pose.scale, settings),
          gains_of(face.card, settings.card_reflectance),
          face);
  // The bar's profile is sampled between pixels just as the face is, so its edges show the blur of the grid.
  face.blur_sigma_px = face.bar.blur_sigma_px() * (face.pose.scale / face.grid.pitch);
  mark_outside(face);
  auto light = light_of(face, fitted, photo, settings);
  if (!light) return tl::make_unexpected(light.error());
  face.light = *std::move(light);
  if (face.card)
    face.card_light = settings.flat_frame
                          ? light_on_card_in_flat_frame(face, *face.card, *settings.flat_frame)
                          : light_on_card(face, *face.card, photo);
  even_out(face);
  caution_about_card(face.card, face.cautions);
  if (face.card) caution_about_card_light(face.card_light, face.cautions);
  caution_about_bar(face.bar, fitted.bar_scatter_px, settings.bar_blocks, face.cautions);
  caution_about_face(face, photo, settings, face.cautions);
  doubt_rim(photo, face);
  return face;
}

}  // namespace corefleck
