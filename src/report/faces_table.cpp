#include "csv_cells.hpp"

#include "corefleck/report.hpp"

#include <array>

namespace corefleck {
namespace {

constexpr std::array kColumns{
    Column<FacesMean>{"faces", [](const FacesMean& m) { return whole(m.faces); }},
    Column<FacesMean>{"area_fraction_mean_pct",
                      [](const FacesMean& m) { return plain(m.area_fraction_pct.mean); }},
    Column<FacesMean>{"area_fraction_sd_pct",
                      [](const FacesMean& m) { return plain(m.area_fraction_pct.standard_deviation); }},
    Column<FacesMean>{"area_fraction_u95_pct",
                      [](const FacesMean& m) { return plain(m.area_fraction_pct.interval_95); }},
    Column<FacesMean>{"relative_accuracy_pct",
                      [](const FacesMean& m) { return plain(m.area_fraction_pct.relative_accuracy_pct); }},
};

}  // namespace

std::optional<FacesMean> mean_over_faces(const std::vector<SummaryRow>& rows) {
  std::vector<double> fractions;
  for (const SummaryRow& row : rows)
    if (row.figures) fractions.push_back(row.figures->area_fraction.value.number());
  if (fractions.size() < 2) return std::nullopt;
  return FacesMean{static_cast<int>(fractions.size()), mean_over_fields(fractions)};
}

std::string faces_csv(const FacesMean& mean) { return csv_table<FacesMean>(kColumns, {mean}); }

}  // namespace corefleck
