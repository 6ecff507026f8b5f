#include "corefleck/growth_report.hpp"

#include <fmt/format.h>

#include <set>

namespace corefleck {

std::vector<std::string> visit_doubts(const CoreReport& core) {
  std::vector<std::string> doubts;
  std::set<FaceState> states;
  for (const ReportedVisit& visit : core.visits) {
    states.insert(visit.state);
    const std::string listed = text_of(visit.date);
    if (visit.taken.size() >= listed.size() && visit.taken.substr(0, listed.size()) != listed)
      doubts.push_back(fmt::format("{} is listed as {}, but its camera says {}",
                                   visit.photo,
                                   listed,
                                   visit.taken.substr(0, listed.size())));
  }
  if (states.size() > 1)
    doubts.emplace_back("the visits differ in state; a dry and a wet face do not show their spots alike");
  return doubts;
}

}  // namespace corefleck
