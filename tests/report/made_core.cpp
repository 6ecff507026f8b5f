#include "report/made_core.hpp"

namespace corefleck::testing {

CoreReport made_core(const std::string& name, const std::vector<MadeVisit>& made) {
  CoreReport core{name, "growth-" + name + ".png", {}, {}, ""};
  std::vector<DatedFraction> fractions;
  CoreGrowth growth{};
  int number = 0;
  for (const MadeVisit& visit : made) {
    using Percent = Quantity<struct PercentUnit>;
    const Date date = *date_of(visit.date);
    core.visits.push_back({date,
                           name + "-" + visit.date + ".jpg",
                           "abc",
                           "",
                           FaceState::dry,
                           {Percent{visit.fraction_pct}, Percent{visit.u_pct}},
                           0.5 * visit.u_pct,
                           {}});
    fractions.push_back({date, visit.fraction_pct, 0.5 * visit.u_pct});
    growth.spots.push_back(
        {1, date, ++number, {SquareMillimetres{2.0 + number}, SquareMillimetres{0.05}}, 1.5, -2.25});
  }
  growth.rate = growth_rate(fractions);
  growth.new_spots = 3;
  growth.spots_growing = 7;
  core.growth = growth;
  return core;
}

}  // namespace corefleck::testing
