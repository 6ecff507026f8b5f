#pragma once

#include "overview.hpp"

#include "corefleck/calibration.hpp"

#include <opencv2/core.hpp>

#include <array>
#include <vector>

namespace corefleck {

/// What parts a card from the bench: a step of tone, or also one of colour, or a line that is hardly there,
/// or a hue that hardly differs, or a step of tone or colour that shows only when noise as in poor light is
/// smoothed away, and the card's corners with it.
enum class CardOutline { tone, colour, faint, faint_colour, noisy };

/// A flat rectangular area, overview pixels.
struct CardCandidate {
  cv::RotatedRect box;
  std::array<cv::Point2d, 4> corners;  ///< in order around it, where its sides meet: no box in perspective
  double fill;  ///< share of the box that the area fills, less where not all of it is of one tone
  bool ragged;  ///< its outline has bites that lettering or stones beside a card may take
  std::array<double, 3> level;  ///< median linear sRGB
  CardOutline parted_by = CardOutline::tone;
};

/// Flat rectangles outside `hidden` with sides of at least `min_side` overview pixels.
[[nodiscard]] std::vector<CardCandidate> card_candidates(const Overview& overview,
                                                         const cv::Mat& hidden,
                                                         double min_side,
                                                         CardOutline parted_by);

/// Adds those of `more` that lie elsewhere; of two at one place the fuller stays.
void add_candidates(std::vector<CardCandidate>& all, const std::vector<CardCandidate>& more);

}  // namespace corefleck
