#include "summary_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace corefleck {

void SummaryText::add_line(std::string_view label, std::string_view words) {
  text += fmt::format("  {:<{}}{}\n", label, label_width, words);
}

void SummaryText::add_caution(const Caution& caution, std::string_view photo, const Terminal& terminal) {
  text += fmt::format("\n{} ", terminal.toned("Caution:", Tone::doubtful));
  if (!photo.empty()) text += fmt::format("{}: ", printable(photo));
  text += meaning(caution.kind);
  if (!caution.detail.empty()) text += fmt::format(" ({})", caution.detail);
  text += fmt::format("\n  What to do: {}\n", remedy(caution.kind));
}

void SummaryText::add_files(const std::filesystem::path& folder, std::span<const ResultFile> files) {
  text += fmt::format("\nFiles in {}\n", printable(folder.string()));
  for (const ResultFile& file : files) add_line(file.name, file.what);
}

std::string with_u95(double value, double u95) {
  if (!(u95 > 0.0) || !std::isfinite(u95)) return fmt::format("{:.4g}", value);
  const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(u95))), 0, 6);
  return fmt::format("{:.{}f} +/- {:.{}f}", value, decimals, u95, decimals);
}

std::string lightness_words(const std::optional<Lightness>& value) {
  return value ? fmt::format("{:.1f}", value->number()) : "not measured";
}

}  // namespace corefleck
