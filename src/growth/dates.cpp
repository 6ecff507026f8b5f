#include "corefleck/visits.hpp"

#include <fmt/format.h>

#include <charconv>

namespace corefleck {
namespace {

std::optional<int> digits(std::string_view text) {
  int value = 0;
  if (text.find_first_not_of("0123456789") != std::string_view::npos) return std::nullopt;
  const auto [rest, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || rest != text.data() + text.size()) return std::nullopt;
  return value;
}

}  // namespace

std::optional<Date> date_of(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
  const auto year = digits(text.substr(0, 4)), month = digits(text.substr(5, 2)),
             day = digits(text.substr(8, 2));
  if (!year || !month || !day) return std::nullopt;
  const Date date{std::chrono::year(*year),
                  std::chrono::month(static_cast<unsigned>(*month)),
                  std::chrono::day(static_cast<unsigned>(*day))};
  return date.ok() ? std::optional(date) : std::nullopt;
}

std::string text_of(Date date) {
  return fmt::format("{:04}-{:02}-{:02}",
                     static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()),
                     static_cast<unsigned>(date.day()));
}

double years_between(Date from, Date to) {
  constexpr double kDaysPerYear = 365.25;
  return static_cast<double>((std::chrono::sys_days(to) - std::chrono::sys_days(from)).count()) /
         kDaysPerYear;
}

}  // namespace corefleck
