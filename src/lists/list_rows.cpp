#include "corefleck/lists.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

namespace corefleck {
namespace {

using Cells = std::vector<ListCell>;

bool is_empty(const Cells& cells) {
  return std::all_of(cells.begin(), cells.end(), [](const ListCell& cell) { return cell.text.empty(); });
}

std::string names_of(std::span<const ListColumn> columns) {
  std::string names;
  for (const ListColumn& column : columns)
    names += fmt::format("{}{}", names.empty() ? "" : ", ", column.name);
  return names;
}

/// Where each column of the header belongs; spreadsheets of half the world part cells by semicolons.
class Header {
 public:
  Header(const Cells& cells, std::span<const ListColumn> columns)
      : width_(cells.size()), places_(columns.size()) {
    for (const ListCell& cell : cells) take(cell, columns);
    for (std::size_t i = 0; i < columns.size(); ++i)
      if (columns[i].required && !places_[i])
        faults_.push_back({cells.front().line,
                           0,
                           fmt::format("no column \"{}\"", columns[i].name),
                           fmt::format("the first line names the columns: {}", names_of(columns))});
    const std::string& first = cells.front().text;
    if (cells.size() == 1 && first.find_first_of(";\t") != std::string::npos)
      faults_ = {
          {cells.front().line, 0, "the cells are not parted by commas", "save the table as CSV with commas"}};
  }

  [[nodiscard]] const std::vector<ListFault>& faults() const { return faults_; }

  /// Cells in the order of the columns asked for, or what is wrong with the row.
  [[nodiscard]] tl::expected<ListRow, ListFault> row_of(Cells cells) const {
    if (cells.size() != width_)
      return tl::make_unexpected(ListFault{
          cells.front().line,
          0,
          fmt::format(
              "{} cell{}, where the header has {}", cells.size(), cells.size() == 1 ? "" : "s", width_),
          cells.size() > width_ ? "put a cell with a comma in it in quotes" : "add the missing commas"});
    ListRow row;
    for (const auto& place : places_)
      row.push_back(place ? std::move(cells[*place]) : ListCell{"", cells.front().line, 0});
    return row;
  }

 private:
  void take(const ListCell& cell, std::span<const ListColumn> columns) {
    const auto found = std::find_if(
        columns.begin(), columns.end(), [&](const ListColumn& column) { return column.name == cell.text; });
    if (found == columns.end()) {
      faults_.push_back({cell.line,
                         cell.column,
                         fmt::format("unknown column \"{}\"", cell.text),
                         fmt::format("known are: {}", names_of(columns))});
      return;
    }
    auto& place = places_[static_cast<std::size_t>(found - columns.begin())];
    if (place)
      faults_.push_back({cell.line,
                         cell.column,
                         fmt::format("column \"{}\" stands there twice", cell.text),
                         "drop one of them"});
    place = static_cast<std::size_t>(cell.column - 1);
  }

  std::size_t width_;
  std::vector<std::optional<std::size_t>> places_;
  std::vector<ListFault> faults_;
};

void check_required(const ListRow& row, std::span<const ListColumn> columns, std::vector<ListFault>& faults) {
  for (std::size_t i = 0; i < columns.size(); ++i)
    if (columns[i].required && row[i].text.empty())
      faults.push_back({row[i].line,
                        row[i].column,
                        fmt::format("no {}", columns[i].name),
                        "fill the cell, or take the line out"});
}

}  // namespace

ListResult<std::vector<ListRow>> list_rows(std::string_view text, std::span<const ListColumn> columns) {
  auto cells = csv_cells(text);
  if (!cells) return tl::make_unexpected(std::move(cells.error()));
  std::erase_if(*cells, is_empty);
  if (cells->empty())
    return tl::make_unexpected(std::vector<ListFault>{
        {0, 0, "is empty", fmt::format("the first line names the columns: {}", names_of(columns))}});
  const Header header(cells->front(), columns);
  if (!header.faults().empty()) return tl::make_unexpected(header.faults());
  if (cells->size() == 1)
    return tl::make_unexpected(
        std::vector<ListFault>{{0, 0, "has no line below its header", "add the lines"}});
  std::vector<ListRow> rows;
  std::vector<ListFault> faults;
  for (auto row_cells = cells->begin() + 1; row_cells != cells->end(); ++row_cells) {
    auto row = header.row_of(std::move(*row_cells));
    if (row) {
      check_required(*row, columns, faults);
      rows.push_back(*std::move(row));
    } else {
      faults.push_back(std::move(row.error()));
    }
  }
  if (!faults.empty()) return tl::make_unexpected(std::move(faults));
  return rows;
}

MeasureError error_of(const ListFault& fault, const std::filesystem::path& list) {
  std::string place = list.string();
  if (fault.line > 0) place += fmt::format(": line {}", fault.line);
  if (fault.column > 0) place += fmt::format(", column {}", fault.column);
  return {ErrorCode::bad_list, fmt::format("{}: {}", place, fault.what), fault.hint};
}

}  // namespace corefleck
