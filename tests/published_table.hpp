#pragma once

#include <fstream>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

/// One row of a table of tests/data, by column name. Naming a column that is not there fails the test.
class PublishedRow {
 public:
  explicit PublishedRow(std::map<std::string, std::string> cells) : cells_(std::move(cells)) {}
  [[nodiscard]] const std::string& text(const std::string& column) const { return cells_.at(column); }
  /// Numbers, "inf" among them.
  [[nodiscard]] double operator[](const std::string& column) const { return std::stod(text(column)); }

 private:
  std::map<std::string, std::string> cells_;
};

/// Reads tests/data/NAME: CSV without quotes; lines that begin with # name the source; then the names of the
/// columns.
inline std::vector<PublishedRow> published_table(const std::string& name) {
  std::ifstream file(std::string(TEST_DATA_DIR) + "/" + name);
  if (!file) throw std::runtime_error("no test data " + name);
  std::vector<std::string> columns;
  std::vector<PublishedRow> rows;
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line[0] == '#') continue;
    std::vector<std::string> cells;
    std::istringstream stream(line);
    for (std::string cell; std::getline(stream, cell, ',');) cells.push_back(cell);
    if (columns.empty()) {
      columns = cells;
      continue;
    }
    std::map<std::string, std::string> named;
    for (std::size_t i = 0; i < columns.size(); ++i) named[columns[i]] = cells.at(i);
    rows.emplace_back(std::move(named));
  }
  if (rows.empty()) throw std::runtime_error("empty test data " + name);
  return rows;
}
