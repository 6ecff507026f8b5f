#pragma once

#include "laid_pair.hpp"
#include "page_parts.hpp"

#include "corefleck/pair_report.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace corefleck {

/// report.html of two photos: what `compare` and `wetdry` have in common.

/// A class of spots. `name` is what scripts and style sheet call it; the sign stands beside outlines and in
/// the table, so that no class needs a colour to be told apart.
struct PairKind {
  std::string_view name, words, sign, meaning;
};

/// A row of the pair's table of spots as the picture shows it.
struct PairRow {
  PairKind kind;
  std::vector<int> first_ids, second_ids;
  std::string label;  ///< all that a screen reader says of it
};

/// A figure of the pair: its columns of the first photo, the second and their difference, each with that of
/// its u95; empty where there is none.
struct PairFigureRow {
  std::string_view label, unit;
  int decimals;
  struct Columns {
    std::string_view value = {}, u95 = {};
  };
  Columns first = {}, second = {}, difference = {};
};

struct PairPage {
  std::string_view command;                  ///< "compare"
  std::string_view first_word, second_word;  ///< "before", "after"
  std::string_view heading;                  ///< of the picture
  std::string_view light_note;               ///< how light the two pictures are against each other
  const LaidPair& laid;
  const PairedPhoto& first;
  const PairedPhoto& second;
  const Registration& registration;
  PairExposure exposure;
  std::vector<PairKind> kinds;  ///< in the order of the key
  std::vector<PairRow> rows;    ///< in the order of the table's file
  Json table;                   ///< that file, as `table_json`
  std::string_view table_file;  ///< "changes.csv"
  std::string_view record_file;
  Json figures;  ///< the row of the figures' file by its columns
  std::vector<PairFigureRow> figure_rows;
  std::string_view difference_word;  ///< head of the third column
  Json tiles;
  std::string_view budget;                   ///< figure whose budgets bear on the difference
  std::vector<std::string_view> statements;  ///< on uncertainty
  std::string_view plots_note;
};

[[nodiscard]] std::string pair_html(const PairPage& page);

/// A tile of the head. `note` stands below the figure.
[[nodiscard]] Json pair_tile(std::string_view label,
                             std::string_view column,
                             Json shown_value,
                             std::string_view note);
/// "3.03 → 3.13" of two figures that are read alike.
[[nodiscard]] Json shown_passage(const ShownFigure& first, const ShownFigure& second, const Json& figures);

/// report.html of `compare` and of `wetdry`.
[[nodiscard]] std::string changes_html(const ChangesReport& report,
                                       const LaidPair& laid,
                                       const PairedPhoto& before,
                                       const PairedPhoto& after);
[[nodiscard]] std::string states_html(const StatesReport& report,
                                      const LaidPair& laid,
                                      const PairedPhoto& dry,
                                      const PairedPhoto& wet);

}  // namespace corefleck
