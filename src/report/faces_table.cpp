#include "csv_cells.hpp"

#include "corefleck/report.hpp"

#include <array>
#include <set>
#include <string_view>

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
  std::set<std::string_view> counted;  // one file given twice is one face: it would narrow the interval
  for (const SummaryRow& row : rows)
    if (row.figures && counted.insert(row.photo_sha256).second)
      fractions.push_back(row.figures->area_fraction.value.number());
  if (fractions.size() < 2) return std::nullopt;
  return FacesMean{static_cast<int>(fractions.size()), mean_over_fields(fractions)};
}

std::string faces_csv(const FacesMean& mean) { return csv_table<FacesMean>(kColumns, {mean}); }

}  // namespace corefleck
