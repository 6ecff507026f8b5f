#pragma once

#include "usual_looks.hpp"

namespace corefleck {

/// Reflections among the light regions. Glare knows what is brighter than any diffuse surface; what reflects
/// less is left to be told by how it lies to that glare and how it differs from the face's spots. None is
/// looked for on a face stated to be dry, but for what hugs glare.
class Reflections {
 public:
  /// glare    CV_8UC1 on the grid, nonzero under surely glare; empty where there is none
  /// blur_px  Gaussian width of the photo's blur on the face
  Reflections(const cv::Mat& glare, FaceState state, MmPerPx pitch, double blur_px);

  /// Takes them out of the spots, and adds them to the map's glare, but for glints too small for that.
  /// Returns the looks of the spots as far as no glare lies beside them.
  UsualLooks part_from(std::vector<Outlined>& spots, SpotMap& map) const;

  /// Marks those spots left that may as well be reflections: on a face that may well have some the ragged
  /// ones, on one of which nothing says so the ragged ones lighter than clear spots are; and what hugs these.
  void mark_doubtful(std::vector<Outlined>& spots, const UsualLooks& usual) const;

  /// Lit by the skirts of the glints around it: the glare bounds it, and it has no flank of its own.
  [[nodiscard]] bool is_between_glints(const Outlined& spot) const;

 private:
  [[nodiscard]] bool is_stray_glint(const Outlined& spot) const;
  [[nodiscard]] bool lies_beside_glare(const Outlined& spot) const;
  [[nodiscard]] bool may_be_one(const Outlined& spot, const UsualLooks& usual) const;
  [[nodiscard]] bool reflects() const;
  [[nodiscard]] bool is_ragged(const Outlined& spot) const;
  [[nodiscard]] bool outshines_clear_spots(const Outlined& spot, const UsualLooks& usual) const;
  [[nodiscard]] bool is_far_lighter(const Outlined& spot, const UsualLooks& usual) const;

  cv::Mat near_;    ///< the glare and the reach of stray glints; empty on a dry face
  cv::Mat beside_;  ///< the glare and what touches it
  FaceState state_;
  double reach_px_;  ///< from a reflection, within which its skirt and stray glints lie
  double point_px_;  ///< area of the largest stray glint
  double blur_px_;
};

}  // namespace corefleck
