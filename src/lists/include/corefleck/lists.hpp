#pragma once

#include "corefleck/error.hpp"

#include <filesystem>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace corefleck {

/// lists: the tables that a person gives to a command (visits, fields, weighings), read strictly.
///   in     text of a CSV file: RFC 4180, UTF-8 with or without byte order mark, lines ended by CRLF, LF or
///   CR out    rows of cells in the order of the columns that the command knows, each with its place in the
///   file fails  every fault that was found, each with line and column, so that a list is mended in one go
///   Reads no file, prints nothing.
///   Blanks round a cell are dropped, rows without any text are passed over, columns may stand in any order.

/// A cell and where it stands.
struct ListCell {
  std::string text;
  int line = 0;    ///< of the file, from 1; a line break inside quotes counts
  int column = 0;  ///< from 1; 0: the list does not have that column
};

/// What is wrong with a list, and how to mend it.
struct ListFault {
  int line = 0;      ///< 0: the list as a whole
  int column = 0;    ///< 0: the line as a whole
  std::string what;  ///< without a full stop, as in MeasureError
  std::string hint;
};

template <class T>
using ListResult = tl::expected<T, std::vector<ListFault>>;

/// Rows of cells as they stand, the header among them. Faults: a quote where none may stand, text after a
/// closing quote, a quote that is never closed, bytes that are no UTF-8, NUL.
[[nodiscard]] ListResult<std::vector<std::vector<ListCell>>> csv_cells(std::string_view text);

/// A column that a command knows.
struct ListColumn {
  std::string_view name;
  bool required = true;
};

/// One row below the header, cells in the order of the columns that were asked for.
using ListRow = std::vector<ListCell>;

/// Faults: those of csv_cells, no header, an unknown, missing or repeated column, a row with more or fewer
/// cells than the header, no row below the header, a required cell without text.
[[nodiscard]] ListResult<std::vector<ListRow>> list_rows(std::string_view text,
                                                         std::span<const ListColumn> columns);

/// The fault as an error of that file: "visits.csv: line 3, column 2: ...", code bad_list.
[[nodiscard]] MeasureError error_of(const ListFault& fault, const std::filesystem::path& list);

}  // namespace corefleck
