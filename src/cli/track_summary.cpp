#include "track_summary.hpp"

#include "face_summary.hpp"
#include "summary_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

namespace corefleck {
namespace {

constexpr std::size_t kLabelWidth = 15;

std::string visit_line(const TrackedCore& tracked,
                       std::size_t visit,
                       std::size_t name_width,
                       const Terminal& terminal) {
  const SummaryRow& row = tracked.outcomes[visit].row;
  const std::string date = text_of(tracked.dates[visit]);
  if (row.figures) return fmt::format("  {}  {}\n", date, face_line(row, name_width, terminal));
  return fmt::format(
      "  {}  {:<{}}  {}\n", date, printable(row.photo), name_width, terminal.toned("failed", Tone::bad));
}

std::string_view verdict(const GrowthRate& rate) {
  if (rate.grows()) return "grows";
  return rate.shrinks() ? "shrinks" : "no change beyond the uncertainty";
}

void add_rate(SummaryText& summary, const GrowthRate& rate, const Terminal& terminal) {
  const std::string value = with_u95(rate.line.slope, rate.rate_u95);
  const std::string words =
      fmt::format("{}{} % of the face a year: {}", rate.line.slope > 0.0 ? "+" : "", value, verdict(rate));
  summary.add_line("rate", terminal.toned(words, Tone::bold));
  if (rate.widening > 1.0)
    summary.add_line(
        "",
        fmt::format("(visits scatter {:.1f} times more than their intervals explain; widened by that)",
                    rate.widening));
  if (!rate.doubling_time_years) return;
  const double years = *rate.doubling_time_years;
  summary.add_line("doubling time",
                   fmt::format("{:.2g} years at that rate{}",
                               years,
                               years > rate.last_visit_years
                                   ? fmt::format(", longer than the {:.2g} years seen", rate.last_visit_years)
                                   : ""));
}

void add_tracks(SummaryText& summary, const CoreGrowth& growth) {
  std::set<int> tracks;
  for (const TrackedSpot& spot : growth.spots) tracks.insert(spot.track_id);
  summary.add_line("spots",
                   fmt::format("{} tracks: {} growing beyond chance, {} new since the first visit",
                               tracks.size(),
                               growth.spots_growing,
                               growth.new_spots));
}

void add_notes(SummaryText& summary, const CoreReport& report, const Terminal& terminal) {
  for (const std::string& doubt : visit_doubts(report))
    summary.text += fmt::format("  {} {}\n", terminal.toned("Look twice:", Tone::doubtful), printable(doubt));
}

}  // namespace

std::string core_summary(const TrackedCore& tracked, const Terminal& terminal) {
  const CoreReport& report = tracked.report;
  SummaryText summary{
      kLabelWidth,
      terminal.toned(fmt::format("Core {}, {} visits", printable(report.core), tracked.outcomes.size()),
                     Tone::bold)};
  summary.text += '\n';
  std::size_t name_width = 0;
  for (const PhotoOutcome& outcome : tracked.outcomes)
    name_width = std::max(name_width, outcome.row.photo.size());
  for (std::size_t i = 0; i < tracked.outcomes.size(); ++i)
    summary.text += visit_line(tracked, i, name_width, terminal);
  if (report.growth) {
    add_rate(summary, report.growth->rate, terminal);
    add_tracks(summary, *report.growth);
  } else {
    summary.add_line("rate", fmt::format("none: {}", report.reason));
  }
  add_notes(summary, report, terminal);
  return summary.text + '\n';
}

std::string growth_files_summary(const std::vector<CoreReport>& cores, const std::filesystem::path& out) {
  SummaryText summary{
      kLabelWidth,
      fmt::format("(+/-: half-width of a 95 % interval)\n\nFiles in {}\n", printable(out.string()))};
  summary.add_line("report.html", "everything to read, in a browser; prints as a document");
  summary.add_line("growth.csv", "one row a core: rate, interval, doubling time");
  summary.add_line("tracks.csv", "one row a spot and visit, in the first visit's coordinates");
  summary.add_line("growth.json", "everything needed to repeat and defend the rates");
  std::vector<std::string> plots;
  for (const CoreReport& core : cores)
    if (core.growth) plots.push_back(core.plot_name);
  if (plots.size() == 1)
    summary.add_line(printable(plots.front()) + "  ", "area fraction against date, for print");
  if (plots.size() > 1) {
    summary.add_line("growth.png", "area fraction against date, all cores, for print");
    summary.add_line("growth-*.png", fmt::format("the same for each of {} cores", plots.size()));
  }
  summary.add_line("summary.csv", "one row a photo, and a folder for each");
  return summary.text;
}

}  // namespace corefleck
