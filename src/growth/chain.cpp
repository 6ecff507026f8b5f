#include "corefleck/growth.hpp"

namespace corefleck {
namespace {

/// Neighbours in time are the most alike, so the visit just before is tried first.
tl::expected<VisitLink, LooseVisit> link_of(std::span<const VisitFace> visits, std::size_t visit) {
  LooseVisit loose{visit, {}};
  for (std::size_t earlier = visit; earlier-- > 0;) {
    auto registration = register_faces(visits[earlier].detail, visits[visit].detail);
    if (registration) return VisitLink{earlier, *std::move(registration)};
    if (earlier + 1 == visit) loose.error = std::move(registration.error());
  }
  return tl::make_unexpected(std::move(loose));
}

}  // namespace

FaceTransform composed(const FaceTransform& first, const FaceTransform& then) {
  const cv::Matx33d m = then.matrix() * first.matrix();
  FaceTransform both;
  both.linear = {m(0, 0) / m(2, 2), m(0, 1) / m(2, 2), m(1, 0) / m(2, 2), m(1, 1) / m(2, 2)};
  both.shift_mm = {m(0, 2) / m(2, 2), m(1, 2) / m(2, 2)};
  both.nearness_per_mm = {m(2, 0) / m(2, 2), m(2, 1) / m(2, 2)};
  return both;
}

tl::expected<VisitChain, LooseVisit> chain_visits(std::span<const VisitFace> visits) {
  VisitChain chain;
  for (std::size_t visit = 0; visit < visits.size(); ++visit) {
    if (visit == 0) {
      chain.from_first.emplace_back();
      chain.links.emplace_back();
      continue;
    }
    auto link = link_of(visits, visit);
    if (!link) return tl::make_unexpected(std::move(link.error()));
    chain.from_first.push_back(composed(chain.from_first[link->earlier], link->registration.first_to_second));
    chain.links.emplace_back(*std::move(link));
  }
  return chain;
}

}  // namespace corefleck
