#pragma once

#include "corefleck/calibration.hpp"
#include "corefleck/lists.hpp"

#include <chrono>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace corefleck {

using Date = std::chrono::year_month_day;

/// One dated photo of one core, as the list of visits names it.
struct Visit {
  Date date{};
  std::filesystem::path photo;  ///< as written; relative to the list
  std::optional<FaceState> state;
  std::string note;
  ListCell photo_cell;  ///< for what is found wrong with the photo later
};

/// The visits of one core, by date, two or more, no date twice.
struct CoreVisits {
  std::string core;
  std::vector<Visit> visits;
};

/// Reads a list of visits: columns core, date (YYYY-MM-DD), photo, and optionally state (dry, wet or empty)
/// and note. Cores come in the order in which they are first named. Faults: those of list_rows, a date that
/// is none, an unknown state, a date twice for one core, a photo twice in the list, a core with one visit.
[[nodiscard]] ListResult<std::vector<CoreVisits>> visits_of(std::string_view csv);

/// A day of the calendar written YYYY-MM-DD (ISO 8601); empty where it is none.
[[nodiscard]] std::optional<Date> date_of(std::string_view text);
/// "2026-03-14".
[[nodiscard]] std::string text_of(Date date);
/// Years of 365.25 days from one date to another.
[[nodiscard]] double years_between(Date from, Date to);

}  // namespace corefleck
